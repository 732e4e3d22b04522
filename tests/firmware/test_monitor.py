"""The monitor against times that are added up by hand: nothing later, nothing earlier, nothing missing, nothing more."""

from __future__ import annotations

import pytest

from nudgeproof.diagnostics import SpecErrors
from nudgeproof.firmware.mapping import read_map
from nudgeproof.firmware.outcome import Allowed, Result, follow
from nudgeproof.firmware.performed import PLAIN, Setup
from nudgeproof.firmware.recording import read_csv
from nudgeproof.firmware.trials import begun_as
from tests.firmware.lamp import LEAST_US, MAP, MOST_US, TEXT, judge, lamp, press, rows, table
from tests.published.test_bounce import LOG_NS

PRESSED = 100_000
PERIODS = (0, 1, 10, 1_000)


@pytest.mark.parametrize("period", PERIODS)
def test_a_light_may_come_within_its_window_and_a_sample_and_no_microsecond_beyond(period: int) -> None:
    first, last = PRESSED - period + LEAST_US, PRESSED + MOST_US + period
    for at in (first, first + 1, (first + last) // 2, last - 1, last):
        assert judge(press(at), period).result is Result.CONFORMS, at
    for at in (first - 1, last + 1):
        assert judge(press(at), period).result is Result.REFUSED, at


@pytest.mark.parametrize("period", PERIODS)
def test_a_light_that_is_too_early_is_refused_when_it_comes_and_the_window_is_told(period: int) -> None:
    at = PRESSED + LEAST_US - period - 1
    outcome = judge(press(at), period)
    assert (outcome.result, outcome.at_us, outcome.light) == (Result.REFUSED, at, "LAMP")
    assert outcome.seen == "LAMP is seen on"
    window = (PRESSED - period + LEAST_US, PRESSED + MOST_US)
    assert outcome.allowed == (Allowed("LAMP", True, *window, "hold: dark -> lit"),)
    assert not outcome.may_stay
    assert outcome.states == ("dark",)


@pytest.mark.parametrize("period", PERIODS)
def test_silence_is_refused_as_soon_as_it_has_lasted_too_long(period: int) -> None:
    outcome = judge(press(None), period)
    assert (outcome.result, outcome.light) == (Result.REFUSED, "LAMP")
    assert outcome.at_us == PRESSED + MOST_US + period
    assert outcome.seen == "LAMP is still off"


def test_a_light_that_is_due_when_the_key_is_let_go_was_due_within_its_window() -> None:
    """What was allowed is told also where the device had changed before the last recorded edge."""
    period = 1_000
    opens = PRESSED + MOST_US - 100
    outcome = judge(press(None, released=opens + period), period)
    assert (outcome.result, outcome.at_us) == (Result.REFUSED, PRESSED + MOST_US + period)
    assert min(a.earliest_us for a in outcome.allowed) == opens - period
    assert max(a.latest_us for a in outcome.allowed) == PRESSED + MOST_US


def test_a_time_between_two_microseconds_is_never_refused_for_its_rounding() -> None:
    """What is off by less than a microsecond may pass, but not wherever it lies."""
    header = "time_ns,KEY,LAMP\n0,0,0\n"
    for lasts, wanted in (
        (LEAST_US * 1_000 - 1, Result.REFUSED),
        (LEAST_US * 1_000, Result.CONFORMS),
        (MOST_US * 1_000, Result.CONFORMS),
        (MOST_US * 1_000 + 1, Result.REFUSED),
    ):
        results = set()
        for part in (0, 1, *range(37, 1_000, 74), 999):
            at = PRESSED * 1_000 + part
            results.add(judge(f"{header}{at},1,0\n{at + lasts},1,1\n{at + lasts + 900},1,1\n").result)
        assert results == ({wanted} if wanted is Result.CONFORMS else set(Result) & {Result.CONFORMS, Result.REFUSED})


def test_a_recording_that_ends_before_the_light_must_come_is_no_silence() -> None:
    end = PRESSED + MOST_US
    assert judge(press(None, end=end, released=end - 1)).result is Result.CONFORMS
    assert judge(press(None, end=end + 1, released=end - 1)).result is Result.REFUSED


def test_one_change_too_many_is_refused_and_so_is_one_without_a_press() -> None:
    on = PRESSED + LEAST_US + 3
    twice = table([(PRESSED, "KEY", 1), (2_000_000, "KEY", 0), (on, "LAMP", 1), (on + 50_000, "LAMP", 0)], 3_000_000)
    outcome = judge(twice)
    assert (outcome.result, outcome.at_us) == (Result.REFUSED, on + 50_000)
    assert outcome.may_stay
    alone = table([(400_000, "LAMP", 1)], 3_000_000)
    assert judge(alone).result is Result.REFUSED


def test_a_pulse_shorter_than_a_sample_need_not_be_seen_but_a_longer_one_must() -> None:
    text = TEXT.replace("lit: {transitions: {hold: dark}}", "lit: {transitions: {hold: dark, after 3 ms: dark}}")
    assert judge(press(None), 3_000, text).result is Result.CONFORMS
    assert judge(press(None), 2_999, text).result is Result.REFUSED


def test_chatter_is_taken_as_it_is_and_begins_the_debounce_anew() -> None:
    edges = [(100_000 + i * 900, "KEY", (i + 1) % 2) for i in range(5)]
    last = edges[-1][0]
    for extra, wanted in ((0, Result.CONFORMS), (-1, Result.REFUSED)):
        changes = [*edges, (2_000_000, "KEY", 0), (last + LEAST_US + extra, "LAMP", 1)]
        assert judge(table(changes, 3_000_000)).result is wanted


def test_a_published_burst_of_a_real_switch_is_a_press() -> None:
    """The log of `tests/published/test_bounce.py`.

    Equal levels that follow each other are one level, so its 22 entries are 15 edges.
    """
    what = MAP.replace("pressed when: high", "pressed when: low")
    told = ["time_ns,KEY,LAMP", "0,1,0", *(f"{at},{level},0" for at, level in LOG_NS)]
    end_us = LOG_NS[-1][0] / 1_000
    assert end_us - LOG_NS[0][0] / 1_000 == 638.375
    for on_us, wanted in ((end_us + LEAST_US + 10, Result.CONFORMS), (end_us + MOST_US - 10, Result.CONFORMS),
                          (end_us + LEAST_US - 10, Result.REFUSED), (end_us + MOST_US + 10, Result.REFUSED)):  # fmt: skip
        light = round(on_us * 1_000)
        text = "\n".join([*told, f"{light},0,1", f"{light + 10_000_000},0,1"]) + "\n"
        outcome = judge(text, 1, what=what)
        assert outcome.result is wanted, on_us
        if wanted is Result.CONFORMS:
            assert (outcome.edges, outcome.turns) == (15, 1)


BLINKER = """\
spec: 1
device: blinker
buttons: {key: {debounce: 20 ms}}
gestures: {hold: {held: 1 s}}
initial: dark
states:
  dark: {transitions: {after 500 ms: lit}}
  lit: {transitions: {after 500 ms: dark}}
"""


def blinks(half_us: int, number: int) -> str:
    changes = [(half_us * i, "LAMP", i % 2) for i in range(1, number + 1)]
    return table(changes, half_us * number + 1)


def test_a_period_that_is_a_little_wrong_is_caught_in_the_long_run() -> None:
    """Windows from one change to the next would let it pass for ever."""
    assert judge(blinks(500_000, 200), 10_000, BLINKER).result is Result.CONFORMS
    slow = judge(blinks(500_200, 200), 10_000, BLINKER)
    assert (slow.result, slow.at_us) == (Result.REFUSED, 51 * 500_000 + 10_000)
    fast = judge(blinks(499_999, 200), 0, BLINKER)
    assert (fast.result, fast.at_us) == (Result.REFUSED, 499_999)


def test_a_tolerance_is_drawn_anew_each_time_and_adds_up() -> None:
    text = BLINKER.replace("500 ms", "500 ms ± 1 ms")
    assert judge(blinks(500_900, 100), 100, text).result is Result.CONFORMS
    assert judge(blinks(501_200, 100), 100, text).result is Result.REFUSED


def test_where_nothing_is_said_of_a_light_it_may_have_either_level() -> None:
    unsaid = MAP.replace("off in: dark", "pulses up to: 0 ms")
    on = PRESSED + LEAST_US + 3
    changes = [(PRESSED, "KEY", 1), (2_000_000, "KEY", 0), (50_000, "LAMP", 1), (60_000, "LAMP", 0), (on, "LAMP", 1)]
    assert judge(table(changes, 3_000_000)).result is Result.REFUSED
    assert judge(table(changes, 3_000_000), what=unsaid).result is Result.CONFORMS
    assert judge(press(None), what=unsaid).result is Result.REFUSED


def test_pulses_with_short_gaps_are_a_light_that_is_on() -> None:
    what = MAP.replace("off in: dark", "off in: dark, pulses up to: 10 ms")
    on = PRESSED + LEAST_US + 3
    keys = [(PRESSED, "KEY", 1), (2_000_000, "KEY", 0), (3_000_000, "KEY", 1), (5_000_000, "KEY", 0)]
    off = 3_000_000 + LEAST_US + 7

    def train(gap: int) -> list[tuple[int, str, int]]:
        pulses = []
        for at in range(on, off, gap + 2_000):
            pulses += [(at, "LAMP", 1), (min(at + 2_000, off), "LAMP", 0)]
        return pulses

    assert judge(table([*keys, *train(10_000)], 6_000_000), what=what).result is Result.CONFORMS
    assert judge(table([*keys, *train(10_001)], 6_000_000), what=what).result is Result.REFUSED
    assert judge(table([*keys, *train(10_000)], 6_000_000)).result is Result.REFUSED


def test_where_more_can_be_than_is_looked_at_nothing_is_said() -> None:
    assert judge(press(PRESSED + LEAST_US), budget=1).result is Result.UNDECIDED


def test_a_recording_of_nothing_is_no_evidence() -> None:
    assert judge(rows((0, 0, 0), (9_000_000, 0, 0))).result is Result.NOTHING


CELL = MAP + "  CELL: {{cell there when: high}}\n"


def test_a_lost_cell_leaves_the_surroundings_where_the_spec_says_nothing_of_it() -> None:
    header = "time_us,KEY,LAMP,CELL"
    lost = f"{header}\n0,0,0,1\n100000,1,0,1\n200000,1,0,0\n300000,1,1,0\n9000000,0,0,1\n"
    outcome = judge(lost, 10, what=CELL)
    assert (outcome.result, outcome.at_us) == (Result.LEFT, 200_000)
    wrong = f"{header}\n0,0,0,1\n100000,1,1,1\n200000,1,1,0\n9000000,0,0,1\n"
    assert judge(wrong, 10, what=CELL).result is Result.REFUSED


POWERED = TEXT + (
    "power up: {takes: 70 ms ± 10 ms, if blank: dark, if damaged: dark, button held: ignored until released}\n"
    "supply: {hold-up: 5 ms}\n"
)


def cell(gone_us: int, dark: bool, period: int = 0) -> Result:
    """Lit, then the cell is gone for so long; whether the lamp is dark from then on."""
    on, gone = PRESSED + LEAST_US + 5, 2_500_000
    told = [(0, 0, 0, 1), (PRESSED, 1, 0, 1), (on, 1, 1, 1), (2_000_000, 0, 1, 1), (gone, 0, 1, 0)]
    told += [(gone + gone_us, 0, 1, 1), *([(gone + gone_us + 40_000, 0, 0, 1)] if dark else [])]
    last = told[-1]
    text = rows(*told, (9_000_000, *last[1:]), header="time_us,KEY,LAMP,CELL")  # type: ignore[arg-type]
    return judge(text, period, POWERED, CELL).result


def test_a_short_loss_of_the_cell_goes_unnoticed_and_a_long_one_is_a_reset() -> None:
    assert cell(4_999, dark=False) is Result.CONFORMS
    assert cell(4_999, dark=True) is Result.REFUSED
    assert cell(5_001, dark=True) is Result.CONFORMS
    assert cell(5_001, dark=False) is Result.REFUSED
    # Within a sample of the limit either may have been.
    assert {cell(5_001, dark, period=1) for dark in (True, False)} == {Result.CONFORMS}


KEPT = """\
spec: 1
device: kept lamp
buttons: {key: {debounce: 20 ms}}
gestures: {hold: {held: 1 s}}
variables: {colour: [white, red]}
initial: dark
states:
  dark: {transitions: {hold: lit}}
  lit: {transitions: {hold: dark}}
memory: {keeps: [state, colour], written: at once, write takes: 3 ms, guard: two copies}
power up: {takes: 70 ms, if blank: dark, if damaged: lit}
supply: {hold-up: 5 ms}
"""
AFTER_USE = CELL.replace("channels:", "begins: with power up after use\nchannels:")


UP = "time_us,KEY,LAMP,CELL\n0,0,0,1\n70000,0,1,1\n9000000,0,1,1\n"


@pytest.mark.parametrize(("colour", "if_damaged"), [("white", Result.CONFORMS), ("red", Result.REFUSED)])
def test_after_use_whatever_the_lights_tell_of_may_have_been_kept(colour: str, if_damaged: Result) -> None:
    """Also a value on which nothing else hangs; what is damaged holds none but the first."""
    what = AFTER_USE.replace("on in: lit, off in: dark", f"on in: [lit with colour {colour}], off in: all others")
    assert judge(UP, 0, KEPT, what).result is Result.CONFORMS
    damaged = what.replace(" after use", "\nmemory: damaged")
    assert judge(UP, 0, KEPT, damaged).result is if_damaged


def test_memory_that_a_trial_spoils_is_not_that_of_use() -> None:
    device = lamp(KEPT)
    what, notes = read_map(AFTER_USE.format(period=0), "map.yaml", device)
    assert what.used
    assert begun_as(what, PLAIN) is what
    spoilt = begun_as(what, Setup(memory=b"\x55"))
    assert (spoilt.used, spoilt.damaged) == (False, True)
    # Use never damages both copies; this does, so the lamp starts lit.
    assert follow(device, spoilt, read_csv(UP, "lamp.csv", spoilt.wanted, notes)).result is Result.CONFORMS


@pytest.mark.parametrize(("pin", "allowed"), [("off", (False,)), ("on", (True,)), ("floating", (False, True))])
def test_an_output_is_followed_through_a_reset(pin: str, allowed: tuple[bool, ...]) -> None:
    text = POWERED + f"outputs: {{pump: {{on in: lit, in reset: {pin}}}}}\n"
    what = CELL.replace("on in: lit, off in: dark", "output: pump")
    header = "time_us,KEY,LAMP,CELL\n"
    on, gone, back = PRESSED + LEAST_US + 5, 2_500_000, 2_600_000
    begin = f"0,0,0,1\n{PRESSED},1,0,1\n{on},1,1,1\n2000000,0,1,1\n{gone},0,1,0\n"
    for is_on in (False, True):
        reset = f"{gone + 5_000},0,0,0\n{back},0,{int(is_on)},1\n{back + 70_000},0,0,1\n9000000,0,0,1\n"
        wanted = Result.CONFORMS if is_on in allowed else Result.REFUSED
        assert judge(header + begin + reset, 0, text, what).result is wanted, is_on
    late = f"{gone + 5_001},0,0,0\n9000000,0,0,0\n"
    assert judge(header + begin + late, 0, text, what).result is Result.REFUSED


def test_a_recording_that_begins_otherwise_than_its_map_says_is_bad_input() -> None:
    with pytest.raises(SpecErrors, match="begins with `key` pressed"):
        judge(rows((0, 1, 0), (100, 0, 0)))
    with pytest.raises(SpecErrors, match="begins without the cell"):
        judge("time_us,KEY,LAMP,CELL\n0,0,0,0\n100,0,0,1\n", text=POWERED, what=CELL)


def test_a_recording_may_begin_with_power_up_and_a_button_held() -> None:
    what = CELL + "begins: with power up\n"
    header = "time_us,KEY,LAMP,CELL\n"
    held = header + "0,1,0,0\n500000,1,0,1\n"
    again = f"3000000,0,0,1\n3200000,1,0,1\n{3_200_000 + LEAST_US},1,1,1\n9000000,1,1,1\n"
    assert judge(held + again, text=POWERED, what=what).result is Result.CONFORMS
    # The press that was held while power came up counts for nothing.
    outcome = judge(held + "2000000,1,1,1\n9000000,1,1,1\n", text=POWERED, what=what)
    assert (outcome.result, outcome.at_us) == (Result.REFUSED, 2_000_000)
    # Nothing is said of what was recorded before the cell was there.
    odd = header + "0,0,1,0\n400000,0,0,0\n500000,0,0,1\n900000,1,0,1\n3000000,1,0,1\n"
    assert judge(odd, text=POWERED, what=what).at_us == 900_000 + MOST_US


def test_a_device_that_was_used_may_come_back_as_it_was() -> None:
    text = POWERED + (
        "memory: {keeps: [state], written: at once, write takes: 3 ms, guard: checksum, may lose: the last 10 ms}\n"
    )
    header = "time_us,KEY,LAMP,CELL\n"
    lit = header + "0,0,0,0\n500000,0,0,1\n570000,0,1,1\n3000000,0,1,1\n"
    assert judge(lit, text=text, what=CELL + "begins: with power up after use\n").result is Result.CONFORMS
    assert judge(lit, text=text, what=CELL + "begins: with power up\n").result is Result.REFUSED
    # From then on it is followed as usual.
    off = header + "0,0,0,0\n500000,0,0,1\n570000,0,1,1\n900000,0,0,1\n3000000,0,0,1\n"
    outcome = judge(off, text=text, what=CELL + "begins: with power up after use\n")
    assert (outcome.result, outcome.at_us) == (Result.REFUSED, 900_000)
