"""A day of use as charge, reckoned by hand: states, presses, wakes, cells that lose by lying, and when cells are done."""

from __future__ import annotations

from fractions import Fraction

import pytest

from nudgeproof.parts.budget import Budget, budget, cell_current, press_charge, stuck_charge, wake_charge
from nudgeproof.parts.draws import Config
from nudgeproof.quantities import Band, exact
from nudgeproof.spec.types import Device
from tests.weak import CELLS, weak

LOADS = "standby: {draws: 10 uA}, processor: {draws: 1 mA, while: running}, lamp: {draws: 9 mA, in: glowing}"
SLEEPS = "sleep: {woken by: [pad], on: edge, ready in: 2 ms, dozes again after: 50 ms}, transitions: {hold: glowing}"
MORE = """surroundings:
  knocks: {closes pad: up to 40 ms, then open at least: 300 ms}
  jam: {closes pad: for good}
  rattle: {cell gone: up to 40 ms}
use: {days: USE}"""


def device(
    use: str = "{}", loads: str = LOADS, cells: str = CELLS, supply: str = "hold-up: 5 ms", stowed: str = SLEEPS
) -> Device:
    return weak(loads=loads, cells=cells, supply=supply, stowed=stowed, more=MORE.replace("USE", use))


def day(text: str = "{}", **changes: str) -> Budget:
    made = device(text, **changes)
    return budget(made, made.use[0])


Ends = tuple[Fraction | int, Fraction | int]


def uah(band: Band) -> Ends:
    return exact(band.lo, "A*h") * 10**6, exact(band.hi, "A*h") * 10**6


def shares(text: str = "{}", **changes: str) -> dict[str, Ends]:
    return {share.name: uah(share.a_day) for share in day(text, **changes).shares}


def test_a_state_takes_its_current_for_its_time_and_the_rest_of_the_day_is_the_first_one() -> None:
    """Glowing: 10 uA + 1 mA + 9 mA for 2 h; stowed asleep: 10 uA for 22 h."""
    assert shares("{glowing: 2 h}") == {"glowing": (20_020, 20_020), "the rest of the day in stowed": (220, 220)}
    assert shares("{glowing: 24 h}") == {"glowing": (240_240, 240_240)}
    assert exact(day("{glowing: 2 h}").current.hi, "A") * 24 * 10**6 == 20_240


def test_a_button_that_is_pressed_and_a_write_are_not_drawn_all_day() -> None:
    more = f"{LOADS}, pull: {{draws: 5 mA, while: pad pressed}}, store: {{draws: 5 mA, while: writing}}"
    assert shares("{glowing: 2 h}", loads=more) == shares("{glowing: 2 h}")


def test_each_press_runs_the_processor_until_it_sleeps_again() -> None:
    """Longest: a hold of 2 s, 2 ms to wake, 50 ms to doze, twice 10 ms of debounce: 2.072 s at 1 mA; shortest 52 ms."""
    low, high = (value * 3600 for value in uah(press_charge(device(), device().state("stowed"), Fraction(0))))
    assert (low, high) == (52, 2072)
    assert shares("{presses: 36}")["presses"] == (Fraction(52, 100), Fraction(2072, 100))


def test_a_press_also_takes_a_write_and_the_pull_resistor() -> None:
    """A write of 1 ms at 3 mA makes 3 uAs more, and 0.1 mA for the 2 s of a hold 200 uAs."""
    more = f"{LOADS}, pull: {{draws: 100 uA, while: pad pressed}}, store: {{draws: 3 mA, while: writing}}"
    one = device(loads=more)
    assert uah(press_charge(one, one.state("stowed"), Fraction(0)))[1] * 3600 == 2072 + 3 + 200


@pytest.mark.parametrize(("source", "longest"), [("knocks", 112), ("jam", 86_400_072), ("rattle", None)])
def test_what_wakes_it_for_nothing(source: str, longest: int | None) -> None:
    """At most 40 ms closed + 2 + 50 + 20 ms; a button that is stuck keeps it awake all day; an outage wakes nobody."""
    found = wake_charge(device(), device().state("stowed"), source, Fraction(0))
    assert (None if found is None else uah(found)[1] * 3600) == longest


def test_a_state_that_does_not_sleep_is_not_woken() -> None:
    awake = device(stowed="transitions: {hold: glowing}")
    assert wake_charge(awake, awake.state("stowed"), "knocks", Fraction(0)) is None


def test_the_surroundings_count_as_often_as_stated_and_can_be_left_out() -> None:
    text = "{times: {knocks: 3600}}"
    assert shares(text)["knocks"] == (52, 112)
    made = device(text)
    assert "knocks" not in [share.name for share in budget(made, made.use[0], disturbed=False).shares]


def test_cells_lose_by_lying() -> None:
    """36.525 % of 100 mAh in 365.25 days is 100 uAh a day."""
    lost = shares(cells=f"{CELLS}, charge: 100 mAh, loses a year: 36.525 %")["the cells by themselves"]
    assert lost == (100, 100)


def test_cells_are_done_where_a_state_of_the_day_no_longer_works() -> None:
    """10.01 mA in glowing: 3.0 - 0.4 u - 0.1001 - 0.5005 u is 2.7 V at u = 0.1999 / 0.9005. Asleep it stays above."""
    supply = "brown-out: {level: 2.7 V}"
    assert day("{glowing: 2 h}", supply=supply).ends == (Fraction(1999, 9005), Fraction(1999, 9005))
    assert day(supply="hold-up: 5 ms").ends == (Fraction(1), Fraction(1))
    assert day("{glowing: 2 h}", cells=f"{CELLS}, used until: 10 %", supply=supply).ends == (
        Fraction(1, 10),
        Fraction(1, 10),
    )
    works = day("{glowing: 2 h}", supply="hold-up: 5 ms, works from: 2.7 V")
    assert works.ends == (Fraction(1999, 9005), Fraction(1999, 9005))


def test_how_long_cells_last_is_their_charge_over_the_mean_current() -> None:
    """220 mAh / 10 uA; until half is used, half of that."""
    whole = day(loads="standby: {draws: 10 uA}", cells=f"{CELLS}, charge: 220 mAh").hours
    half = day(loads="standby: {draws: 10 uA}", cells=f"{CELLS}, charge: 220 mAh, used until: 50 %").hours
    assert whole is not None
    assert half is not None
    assert exact(whole.lo, "h") == exact(whole.hi, "h") == 22_000
    assert exact(half.lo, "h") == 11_000
    assert day(loads="standby: {draws: 10 uA}").hours is None, "nobody said what they hold"


def test_a_boost_regulator_takes_more_current_than_it_gives() -> None:
    """3.3 V * 9 mA / 90 % = 33 mW: 11 mA at 3 V at least; more since the cells give less under load."""
    regulator = (
        "hold-up: 5 ms, regulator: {kind: boost, makes: 3.3 V, takes: 20 uA, efficiency: 90 %, works from: 0.9 V}"
    )
    one = device(loads="lamp: {draws: 9 mA, in: glowing}", supply=regulator)
    current = cell_current(one, Config("running", "glowing"), Fraction(0))
    assert exact(current.lo, "A") == Fraction("0.01102")
    assert exact(current.lo, "A") < exact(current.hi, "A") < Fraction("0.0130")


def test_a_button_that_is_stuck_takes_what_its_resistor_draws() -> None:
    one = device(loads=f"{LOADS}, pull: {{resistor: 30 kohm, while: pad pressed}}")
    ((button, current),) = stuck_charge(one, Fraction(0))
    assert button == "pad"
    assert abs(exact(current.hi, "A") - Fraction(3, 30_000)) < Fraction(1, 10**8), "3.0 V / 30 kohm"
