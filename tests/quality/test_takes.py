"""What the tool says it would take is what comes out on paper, and each bound is met to the microsecond on both sides.

The paper is `docs/boundaries.md`; its table of numbers is read here, and the same numbers are reckoned from its formulas,
so that neither can change alone. On random small devices nothing is derived: there the bounds are tried on both sides by
the explorer and, since their times are a few microseconds, by the brute-force engine too.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from fractions import Fraction
from math import ceil, floor
from pathlib import Path
from random import Random

import pytest

from nudgeproof.needs import find
from nudgeproof.parts.compile import Environment, compile_model
from nudgeproof.parts.train import ANY, Train
from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import Device
from nudgeproof.units import FOREVER, Bound, Span
from tests.amount import amount
from tests.devices import bench, can_enter, enters
from tests.oracle.brute import Locals, search

PAPER = Path(__file__).resolve().parents[2] / "docs" / "boundaries.md"
MS = 1_000
DMIN, DMAX, B, G, P, H, Q = 15 * MS, 25 * MS, 8 * MS, 260 * MS, 400 * MS, 1_200 * MS, 300 * MS
READY = 1 * MS
OFF = Fraction(5, 100)
TWENTY = 20 * MS
STATE = {"hold, asleep": "stowed"}
"""Where a case begins, if not in `idle`."""


def device(gesture: str, debounce: str = "15 to 25 ms", more: str = "", reader: str = "") -> Device:
    return bench(
        f"wanted: {{{gesture}}}",
        "wanted: hit",
        bounce="up to 8 ms",
        debounce=debounce,
        reader=reader,
        extra="hit: {shows: hit}",
        more=more,
    )


def sleeper() -> Device:
    return read_device(
        """spec: 1
device: sleeper
buttons:
  pad: {bounce: up to 8 ms, debounce: 15 to 25 ms, edges apart: at least 10 us}
gestures:
  hold: {held: 1.2 s}
initial: stowed
states:
  stowed:
    sleep: {woken by: [pad], on: edge, ready in: 1 to 3 ms, dozes again after: 50 ms, each step: up to 20 us}
    transitions: {hold: hit}
  hit: {shows: hit}
""",
        "sleeper.yaml",
    )


CLOCK = "clock: {off by: 5 %}"
THREE_TAPS = "taps: 3, press: up to 400 ms, between: up to 260 ms"
TAP_THEN_HOLD = "taps: 1, then held: 1.2 s, press: up to 400 ms, between: up to 260 ms"
PRESS_TO_PRESS = "taps: 2, press: up to 400 ms, between: up to 300 ms from press to press"
SHORT_PRESS_TO_PRESS = PRESS_TO_PRESS.replace("400", "200")
DEVICES = {
    "three taps": device(THREE_TAPS),
    "three taps, tolerant": device("taps: 3, press: up to 400 ms ± 20 ms, between: up to 260 ms ± 10 ms"),
    "three taps, clock": device(THREE_TAPS, "20 ms", CLOCK),
    "hold": device("held: 1.2 s"),
    "hold, tolerant": device("held: 1.15 to 1.25 s"),
    "hold, asleep": sleeper(),
    "hold, clock": device("held: 1.2 s", "20 ms", CLOCK),
    "tap then hold": device(TAP_THEN_HOLD),
    "tap then hold, clock": device(TAP_THEN_HOLD, "20 ms", CLOCK),
    "three taps, samples": device(THREE_TAPS, reader="samples: 4 every 5 ms"),
    "three taps, sampled unevenly": device(THREE_TAPS, reader="samples: 4 every 4.8 to 5 ms"),
    "three taps, lockout": device(THREE_TAPS, reader="lockout: 20 to 30 ms"),
    "press to press": device(PRESS_TO_PRESS),
    "press to press, short": device(SHORT_PRESS_TO_PRESS),
    "press to press, clock": device(PRESS_TO_PRESS, "20 ms", CLOCK),
}


def earliest(us: int) -> int:
    """The shortest that a counted time may really be."""
    return floor(us / (1 + OFF))


def latest(us: int) -> int:
    """The longest that a counted time may really be."""
    return ceil(us / (1 - OFF))


def reckon_taps(dmin: int, dmax: int, p: int, g: int, count: int = 3) -> tuple[Span, ...]:
    """T and P of the page, alternately."""
    blur = dmax - dmin + B
    press, pause = Span(dmin, p + blur), Span(dmin, g + blur)
    return (press, pause) * (count - 1) + (press,)


def reckon_hold(dmin: int, dmax: int, h: int, ready: int = 0) -> Span:
    """H and S of the page."""
    return Span(max(ready + dmin, ready + h - (dmax - dmin) - B), FOREVER)


def reckon_press_to_press(dmin: int, dmax: int, p: int, q: int) -> tuple[Span, ...]:
    """Q of the page."""
    blur = dmax - dmin + B
    return Span(dmin, min(p, q - dmin) + blur), Span(dmin, q - dmin), Span(dmin, p + blur)


def reckon_sampled(low: int, high: int, p: int, g: int) -> tuple[Span, ...]:
    """T and P of the page for four samples."""
    shortest, blur = 3 * low - B, 4 * high - 3 * low + B
    press, pause = Span(shortest, p + blur), Span(shortest, g + blur)
    return (press, pause) * 2 + (press,)


def reckon_locked_out(kmax: int, p: int, g: int) -> tuple[Span, ...]:
    """T and P of the page for a lockout."""
    later = Span(0, p + kmax + B)
    return Span(0, p), Span(0, g + kmax), later, Span(0, g + kmax + B), later


E_TWENTY, L_TWENTY = earliest(TWENTY), latest(TWENTY)
RECKONED: dict[str, tuple[Span, ...]] = {
    "three taps": reckon_taps(DMIN, DMAX, P, G),
    "three taps, tolerant": reckon_taps(DMIN, DMAX, P + 20 * MS, G + 10 * MS),
    "three taps, clock": reckon_taps(E_TWENTY, L_TWENTY, latest(P), latest(G)),
    "hold": (reckon_hold(DMIN, DMAX, H),),
    "hold, tolerant": (reckon_hold(DMIN, DMAX, H - 50 * MS),),
    "hold, asleep": (reckon_hold(DMIN, DMAX, H, READY),),
    "hold, clock": (reckon_hold(E_TWENTY, L_TWENTY, earliest(H)),),
    "tap then hold": (*reckon_taps(DMIN, DMAX, P, G, 2)[:2], reckon_hold(DMIN, DMAX, H)),
    "tap then hold, clock": (
        *reckon_taps(E_TWENTY, L_TWENTY, latest(P), latest(G), 2)[:2],
        reckon_hold(E_TWENTY, L_TWENTY, earliest(H)),
    ),
    "three taps, samples": reckon_sampled(5 * MS, 5 * MS, P, G),
    "three taps, sampled unevenly": reckon_sampled(4_800, 5 * MS, P, G),
    "three taps, lockout": reckon_locked_out(30 * MS, P, G),
    "press to press": reckon_press_to_press(DMIN, DMAX, P, Q),
    "press to press, short": reckon_press_to_press(DMIN, DMAX, 200 * MS, Q),
    "press to press, clock": reckon_press_to_press(E_TWENTY, L_TWENTY, latest(P), latest(Q)),
}


def read_paper() -> dict[str, tuple[Span, ...]]:
    """The table of numbers: a case, then what it takes in ms (press 1, pause, and so on), then a remark."""
    found = {}
    for line in PAPER.read_text(encoding="utf-8").splitlines():
        cells = [cell.strip() for cell in line.strip("|").split("|")]
        if cells[0] in DEVICES:
            found[cells[0]] = tuple(Span(_us(low), _us(high)) for low, high in re.findall(_SPAN, " ".join(cells[1:-1])))
    return found


_SPAN = r"([\d.]+) to ([\d.]+|any)"


def _us(number: str) -> int:
    return FOREVER if number == "any" else int(Fraction(number) * MS)  # type: ignore[return-value]


def tried(spans: tuple[Span, ...]) -> Iterator[tuple[tuple[Span, ...], bool]]:
    """Trains at each bound and beyond it, all other lengths and pauses free; whether they can do it."""
    for place, span in enumerate(spans):

        def only(low: int, high: Bound, place: int = place) -> tuple[Span, ...]:
            return (*(ANY,) * place, Span(low, high), *(ANY,) * (len(spans) - place - 1))

        yield only(span.lo, span.lo), True
        if span.lo > 0:
            yield only(span.lo - 1, span.lo - 1), False
            yield only(0, span.lo - 1), False
        if span.hi == FOREVER:
            yield only(10**9, 10**9), True
        else:
            high = int(span.hi)
            yield only(high, high), True
            yield only(high + 1, high + 1), False
            yield only(high + 1, FOREVER), False


def test_the_page_and_the_formulas_have_the_same_numbers() -> None:
    assert read_paper() == RECKONED


@pytest.mark.parametrize("case", DEVICES)
def test_what_the_tool_says_is_what_the_page_says(case: str) -> None:
    takes = find(DEVICES[case], "pad", STATE.get(case, "idle"), enters("hit"))
    assert takes.known
    assert takes.spans == read_paper()[case]


@pytest.mark.parametrize("case", [case for case in DEVICES if case not in amount(("three taps, samples",), ())])
def test_each_bound_is_met_and_not_a_microsecond_beyond(case: str) -> None:
    for train, possible in tried(RECKONED[case]):
        assert can_enter(DEVICES[case], Environment(train=Train("pad", train)), "hit") == possible, train


@pytest.mark.parametrize(
    "train_ms",
    [((20, 100), (100, 100), (20, 100), (100, 100), (20, 100)), ((600, 600), (1, 1), (610, 610))],
    ids=["another way in", "a hold with a gap that isn't read"],
)
def test_the_bounds_are_about_the_fewest_presses_only(train_ms: tuple[tuple[int, int], ...]) -> None:
    """More presses than the fewest may do it although none of them keeps to the bounds of the fewest."""
    two_ways = bench(
        f"hold: {{held: 1.2 s}}\nthree taps: {{{THREE_TAPS}}}",
        "hold: hit, three taps: hit",
        bounce="up to 8 ms",
        debounce="15 to 25 ms",
        extra="hit: {shows: hit}",
    )
    takes = find(two_ways, "pad", "idle", enters("hit"))
    assert takes.spans == RECKONED["hold"]
    train = tuple(Span(low * MS, high * MS) for low, high in train_ms)
    assert all(span.hi < takes.spans[0].lo for span in train[::2])
    assert can_enter(two_ways, Environment(train=Train("pad", train)), "hit")


def drawn(seed: int) -> Device:
    """A small device with times of a few microseconds; some chatter for longer than their debounce, some sleep."""
    rng = Random(seed)
    taps = rng.choice((1, 2, 2, 3))
    limit, pause, held = rng.randint(2, 6), rng.randint(2, 5), rng.randint(4, 8)
    tolerance = rng.choice(("", "", " ± 1 us"))
    press_to_press = " from press to press" if rng.random() < 0.3 else ""
    gesture = f"press: up to {limit} us{tolerance}"
    if taps > 1:
        gesture += f", between: up to {pause + 3 * bool(press_to_press)} us{press_to_press}"
    kind = rng.choice(("taps", "taps", "hold", "then hold"))
    if kind == "hold":
        gesture = f"held: {held} us{tolerance}"
    elif kind == "then hold":
        gesture = f"taps: 1, then held: {held} us, press: up to {limit} us, between: up to {pause} us"
    else:
        gesture = f"taps: {taps}, {gesture}"
    low = rng.randint(0, 2)
    sleep = "sleep: {woken by: [pad], on: edge, ready in: 1 to 2 us, dozes again after: 3 us, each step: up to 1 us}"
    return read_device(
        f"""spec: 1
device: small one
buttons:
  pad: {{bounce: up to {rng.choice((0, 1, 1, 2))} us, debounce: {low} to {low + rng.randint(0, 1)} us,
        edges apart: at least 1 us}}
gestures:
  wanted: {{{gesture}}}
initial: idle
states:
  idle:
    {sleep if rng.random() < 0.3 else "shows: nothing"}
    transitions: {{wanted: hit}}
  hit: {{shows: hit}}
""",
        "small.yaml",
    )


def can_enter_by_brute_force(small: Device, train: tuple[Span, ...]) -> bool:
    model = compile_model(small, Environment(train=Train("pad", train)))
    chart = next(i for i, part in enumerate(model.parts) if part.name == "device")

    def hits(before: Locals, after: Locals) -> bool:
        where = after[chart]
        assert isinstance(where, tuple)
        return bool(where[0] == "hit")

    return search(model.parts, (hits,), 200_000).costs[0] is not None


@pytest.mark.parametrize("seed", amount((0, 6, 11), range(15)))
def test_on_random_small_devices_each_bound_is_met_and_not_a_microsecond_beyond(seed: int) -> None:
    small = drawn(seed)
    takes = find(small, "pad", "idle", enters("hit"))
    assert takes.known
    assert takes.spans
    for train, possible in tried(takes.spans):
        assert can_enter(small, Environment(train=Train("pad", train)), "hit") == possible, train
        if all(span.hi == FOREVER or span.hi < 10**6 for span in train):
            assert can_enter_by_brute_force(small, train) == possible, train
