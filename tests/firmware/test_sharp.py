"""Each kind of time in a spec against times added up by hand: what a recording shows may come as early and as late as that,
and a sample, and a microsecond beyond either end is refused; what is late by no more than a sample never is."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from nudgeproof.firmware.outcome import Result
from tests.firmware.lamp import MAP, judge

Span = tuple[int, int]
Change = tuple[int, str, int]

CELL = MAP + "  CELL: {{cell there when: high}}\n"
POWERED = CELL.replace("on in: lit, off in: dark", "output: lamp") + "begins: with power up\n"


@dataclass(frozen=True)
class Part:
    """A device, and what is done to it; the lamp follows the last of that within `lasts`.

    `done`: what is recorded before. The time counts from `from_us`. `shows`: whether the lamp goes on or off. `first`: the
    levels at the beginning. `what`: the map.
    """

    text: str
    done: tuple[Change, ...]
    from_us: int
    lasts: Span
    shows: int = 1
    first: tuple[tuple[str, int], ...] = (("KEY", 0), ("LAMP", 0))
    what: str = MAP


def told(span: Span) -> str:
    return f"{span[0]} to {span[1]} us"


def around(span: Span) -> str:
    """The same as a limit with a tolerance."""
    middle, off = (span[0] + span[1]) // 2, (span[1] - span[0]) // 2
    return f"{middle} us ± {off} us" if off else f"{middle} us"


def both(one: Span, other: Span) -> Span:
    return one[0] + other[0], one[1] + other[1]


def device(gestures: str, dark: str, lit: str, reader: str, more: str = "") -> str:
    return (
        f"spec: 1\ndevice: lamp\nbuttons: {{key: {{{reader}}}}}\ngestures: {gestures}\ninitial: dark\n"
        f"states:\n  dark: {dark}\n  lit: {lit}\n{more}"
    )


AT_PRESS = "{tap: {taps: 1, press: up to 900 ms, acts at: press}}"
ON_TAP, OFF_TAP = "{transitions: {tap: lit}}", "{transitions: {tap: dark}}"


def hold(reader: Span, own: Span) -> Part:
    gestures = f"{{hold: {{held: {told(own)}}}}}"
    text = device(gestures, "{transitions: {hold: lit}}", "{transitions: {hold: dark}}", f"debounce: {told(reader)}")
    return Part(text, ((200_000, "KEY", 1),), 200_000, both(reader, own))


def window(reader: Span, own: Span) -> Part:
    """A tap that another one may follow is seen once none came; from its release on."""
    two = f"two taps: {{taps: 2, press: up to 900 ms, between: up to {around(own)}}}"
    gestures = f"{{tap: {{taps: 1, press: up to 900 ms}}, {two}}}"
    text = device(gestures, "{transitions: {tap: lit, two taps: dark}}", OFF_TAP, f"debounce: {told(reader)}")
    return Part(text, ((200_000, "KEY", 1), (500_000, "KEY", 0)), 500_000, both(reader, own))


def debounce(reader: Span, own: Span) -> Part:
    return Part(device(AT_PRESS, ON_TAP, OFF_TAP, f"debounce: {told(own)}"), ((200_000, "KEY", 1),), 200_000, own)


def lockout(reader: Span, own: Span) -> Part:
    """A release within the lockout is seen at its end, which is counted from the press."""
    text = device("{tap: {taps: 1, press: up to 900 ms}}", ON_TAP, OFF_TAP, f"lockout: {told(own)}")
    return Part(text, ((200_000, "KEY", 1), (200_000 + own[0] // 2, "KEY", 0)), 200_000, own)


def samples(reader: Span, own: Span) -> Part:
    """The first of three comes within a period."""
    text = device(AT_PRESS, ON_TAP, OFF_TAP, f"samples: 3 every {told(own)}")
    return Part(text, ((200_000, "KEY", 1),), 200_000, (2 * own[0], 3 * own[1]))


def boot(reader: Span, own: Span) -> Part:
    """The lamp is off in reset for sure; of a light that isn't said to be so nothing is asked by then."""
    more = f"power up: {{takes: {told(own)}, if blank: lit, if damaged: lit, button held: ignored until released}}\n"
    more += "supply: {hold-up: 5 ms}\noutputs: {lamp: {on in: lit, in reset: off}}\n"
    text = device(AT_PRESS, ON_TAP, OFF_TAP, f"debounce: {told(reader)}", more)
    first = (("KEY", 0), ("LAMP", 0), ("CELL", 0))
    return Part(text, ((200_000, "CELL", 1),), 200_000, own, first=first, what=POWERED)


def waking(reader: Span, own: Span) -> Part:
    sleep = f"sleep: {{woken by: [key], on: edge, ready in: {told(own)}, dozes again after: 90 ms}}"
    text = device(AT_PRESS, f"{{{sleep}, transitions: {{tap: lit}}}}", OFF_TAP, f"debounce: {told(reader)}")
    return Part(text, ((200_000, "KEY", 1),), 200_000, both(reader, own))


def auto_off(reader: Span, own: Span) -> Part:
    """Counted from the beginning, which is known to the microsecond, so only what is late can be late by a sample."""
    text = device(
        AT_PRESS, ON_TAP, f"{{transitions: {{tap: dark, after {told(own)}: dark}}}}", f"debounce: {told(reader)}"
    )
    return Part(text.replace("initial: dark", "initial: lit"), (), 0, own, 0, (("KEY", 0), ("LAMP", 1)))


PARTS: tuple[Callable[[Span, Span], Part], ...] = (hold, window, debounce, lockout, samples, boot, waking, auto_off)
SPANS = st.tuples(st.integers(5_000, 40_000), st.integers(0, 4_500)).map(lambda pair: (pair[0], pair[0] + 2 * pair[1]))
PERIODS = st.sampled_from((0, 1, 7, 100))
quick = settings(
    max_examples=5, deadline=None, derandomize=True, database=None, phases=(Phase.explicit, Phase.generate)
)


def table(changes: list[Change], end_us: int, first: tuple[tuple[str, int], ...]) -> str:
    now = dict(first)
    lines = [",".join(["time_us", *now]), ",".join(map(str, (0, *now.values())))]
    for at, channel, level in sorted(changes):
        now[channel] = level
        lines.append(",".join(map(str, (at, *now.values()))))
    return "\n".join([*lines, ",".join(map(str, (end_us, *now.values())))]) + "\n"


def shown(part: Part, at: int | None, period: int, done: tuple[Change, ...] | None = None) -> Result:
    """What is said if the lamp follows at this moment, or not at all."""
    changes = [*(part.done if done is None else done), *([(at, "LAMP", part.shows)] if at is not None else [])]
    end = max(part.from_us + part.lasts[1] + 2 * period + 2, at or 0, *(c[0] for c in changes)) + 1
    return judge(table(changes, end, part.first), period, part.text, part.what).result


@pytest.mark.parametrize("make", PARTS, ids=[make.__name__ for make in PARTS])
@given(reader=SPANS, own=SPANS, period=PERIODS)
@quick
def test_a_moment_beyond_a_sample_is_refused_at_both_ends(
    make: Callable[[Span, Span], Part], reader: Span, own: Span, period: int
) -> None:
    part = make(reader, own)
    early = period if part.done else 0
    low, high = part.from_us + part.lasts[0] - early, part.from_us + part.lasts[1] + period
    for at, wanted in (
        (low - 1, Result.REFUSED),
        (low, Result.CONFORMS),
        (high, Result.CONFORMS),
        (high + 1, Result.REFUSED),
    ):
        assert shown(part, at, period) is wanted, (at - part.from_us, part.lasts)
    assert shown(part, None, period) is Result.REFUSED


@pytest.mark.parametrize("make", PARTS, ids=[make.__name__ for make in PARTS])
@given(reader=SPANS, own=SPANS, period=PERIODS, draw=st.data())
@quick
def test_what_is_late_by_no_more_than_a_sample_is_never_refused(
    make: Callable[[Span, Span], Part], reader: Span, own: Span, period: int, draw: st.DataObject
) -> None:
    part = make(reader, own)
    late = st.integers(0, period)
    done = tuple((at + draw.draw(late), channel, level) for at, channel, level in part.done)
    at = part.from_us + draw.draw(st.integers(*part.lasts)) + draw.draw(late)
    assert shown(part, at, period, done) is Result.CONFORMS


def pressed_again(gap: int, awake: bool, reader: Span, ready: Span, doze: Span, period: int) -> Result:
    """A press that wakes; and one `gap` after its release, answered as by a firmware that is awake, or asleep again."""
    times = f"ready in: {told(ready)}, dozes again after: {told(doze)}, each step: up to 50 us"
    sleep = f"sleep: {{woken by: [key], on: edge, {times}}}"
    text = device(AT_PRESS, f"{{{sleep}, transitions: {{tap: lit}}}}", f"{{{sleep}, transitions: {{tap: dark}}}}",
                  f"debounce: {told(reader)}")  # fmt: skip
    on, released = 200_000 + ready[0] + reader[0], 500_000
    again = released + gap
    off = again + reader[0] + (0 if awake else ready[0])
    changes = [(200_000, "KEY", 1), (on, "LAMP", 1), (released, "KEY", 0), (again, "KEY", 1), (off, "LAMP", 0)]
    return judge(table(changes, off + 1, (("KEY", 0), ("LAMP", 0))), period, text).result


@given(own=SPANS, doze=SPANS, period=PERIODS)
@quick
def test_dozing_off_is_met_to_the_microsecond(own: Span, doze: Span, period: int) -> None:
    reader, ready = (3_000, 4_000), (own[0] + 5_000, own[1] + 5_000)
    least, most = reader[0] + doze[0], reader[1] + doze[1] + 4 * 50
    assert pressed_again(most + period, True, reader, ready, doze, period) is Result.CONFORMS
    assert pressed_again(most + period + 1, True, reader, ready, doze, period) is Result.REFUSED
    assert pressed_again(least - period, False, reader, ready, doze, period) is Result.CONFORMS
    assert pressed_again(least - period - 1, False, reader, ready, doze, period) is Result.REFUSED


@given(own=SPANS, period=PERIODS)
@quick
def test_the_hold_up_is_met_to_the_microsecond(own: Span, period: int) -> None:
    """Lit, then the cell is gone: the lamp stays as it is, or it is dark once the device has started anew."""
    more = "power up: {takes: 50 ms, if blank: dark, if damaged: dark, button held: ignored until released}\n"
    text = device(AT_PRESS, ON_TAP, OFF_TAP, "debounce: 20 ms", f"{more}supply: {{hold-up: {told(own)}}}\n")
    on = 220_000
    begin = [(200_000, "KEY", 1), (on, "LAMP", 1), (300_000, "KEY", 0), (600_000, "CELL", 0)]

    def gone(lasts: int, dark: bool) -> Result:
        changes = [*begin, (600_000 + lasts, "CELL", 1), *([(640_000 + lasts, "LAMP", 0)] if dark else [])]
        return judge(table(changes, 1_500_000, (("KEY", 0), ("LAMP", 0), ("CELL", 1))), period, text, CELL).result

    assert gone(own[1] + period, dark=False) is Result.CONFORMS
    assert gone(own[1] + period + 1, dark=False) is Result.REFUSED
    assert gone(max(1, own[0] - period), dark=True) is Result.CONFORMS
    assert gone(own[0] - period - 1, dark=True) is Result.REFUSED
