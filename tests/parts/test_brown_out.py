"""The brown-out reset and the readings of weak cells by themselves: when they come, what they count, what they send."""

from __future__ import annotations

import pytest

from nudgeproof.model.tables import Choice, Local, Part
from nudgeproof.parts.behaviours import brown_outs, readings
from nudgeproof.parts.brown_out import BY_BROWN_OUT, LOOPS, brown_out, weakening
from nudgeproof.parts.chart import STARTED, STARTS_AFRESH
from nudgeproof.parts.limits import IN_A_ROW
from nudgeproof.parts.supply import CUT, DRAINED
from nudgeproof.units import FOREVER
from tests.weak import weak

WEAKENS = "the cells get weak"


def part(
    supply: str = "brown-out: {level: 2.7 V, responds in: 2 us}", loads: str = "lamp: {draws: 15 mA, in: glowing}"
) -> Part:
    device = weak(supply=supply, loads=loads)
    return brown_out(device, brown_outs(device)[0])


def given(state: str = "glowing", powered: bool = True, fed: bool = True, **values: str) -> dict[str, object]:
    return {"fed": fed, "powered": powered, "state": state, "running": True, **values}


def timers(part: Part, local: Local, **reads: object) -> list[tuple[str, int, object]]:
    return [(timer.name, timer.lo, timer.hi) for timer in part.armed(local, given(**reads))]  # type: ignore[arg-type]


def step(part: Part, local: Local, timer: str = "sags", **reads: object) -> Choice:
    (choice,) = part.expired(local, timer, given(**reads))  # type: ignore[arg-type]
    return choice


def shown(part: Part, local: Local) -> dict[str, object]:
    return dict(zip(part.publishes, part.shown(local), strict=True))


WEAK: tuple[object, ...] = (0, False, False, True)


def test_cells_get_weak_at_any_moment_of_a_use() -> None:
    fresh = part().start
    assert timers(part(), fresh) == [(WEAKENS, 0, FOREVER)]
    assert step(part(), fresh, WEAKENS).to == WEAK
    assert step(part(), fresh, WEAKENS).says == "the cells are used further, to more than 13 %"


def test_what_resets_every_unit_with_fresh_cells_does_so_from_the_beginning() -> None:
    """Fresh cells give 2.85 V. With a level from 2.8 to 2.9 V some units bear the lamp at first."""
    assert part("brown-out: {level: 2.9 V}").start == WEAK
    assert part("brown-out: {level: 2.8 to 2.9 V}").start == (0, False, False, False)


def test_what_every_unit_resets_in_does_so_before_the_cells_get_weak_too() -> None:
    """5 mA leave 2.95 - 0.65 u, so below 2.9 V from 1/13 on; 15 mA always do."""
    device = weak(
        supply="brown-out: {level: 2.9 V}",
        loads="faint: {draws: 5 mA, in: glowing, if: beam is low}, bright: {draws: 15 mA, in: glowing, if: beam is high}",
    )
    first, both = brown_outs(device)
    assert len(both.always) == len(first.what) == 1
    two = brown_out(device, both)
    assert timers(two, two.start, **{"value beam": "low"}) == [(WEAKENS, 0, FOREVER)]
    assert timers(two, two.start, **{"value beam": "high"}) == [(WEAKENS, 0, FOREVER), ("sags", 0, 0)]
    assert step(two, two.start, **{"value beam": "high"}).to == (1, False, False, False)


def test_it_comes_where_a_configuration_is_too_weak_and_there_is_power() -> None:
    assert timers(part(), WEAK) == [("sags", 2, 2)]
    assert timers(part(), WEAK, state="stowed") == []
    assert timers(part(), WEAK, fed=False) == []
    assert timers(part(), WEAK, powered=False) == [], "nothing draws while it starts"


def test_a_capacitor_delays_it_without_end() -> None:
    slow = part("brown-out: {level: 2.7 V, responds in: 1 to 3 us}, capacitor: {size: 1 mF}")
    assert timers(slow, WEAK) == [("sags", 1, FOREVER)]


def test_it_says_what_pulls_how_far_and_resets() -> None:
    choice = step(part(), WEAK)
    assert choice.send == (BY_BROWN_OUT, CUT)
    assert choice.says == (
        "lamp pulls the supply below its brown-out level (to 2.7 V; it resets below 2.7 V): everything is reset"
    )
    two = part(loads="processor: {draws: 5 mA}, lamp: {draws: 10 mA, in: glowing}")
    assert step(two, WEAK).says.startswith("processor and lamp pull the supply")
    assert " between its peaks; " in step(part(loads="lamp: {draws: 5 mA, peak: 15 mA, in: glowing}"), WEAK).says


@pytest.mark.parametrize(
    ("rules", "afresh"),
    [
        ("", [False, False, False]),
        (", starts in: stowed", [True, True, True]),
        (", starts in: stowed, tries: 2", [False, False, True]),
    ],
)
def test_brown_outs_in_a_row_are_counted(rules: str, afresh: list[bool]) -> None:
    rules_part = part(f"brown-out: {{level: 2.7 V{rules}}}")
    local: Local = WEAK
    told = []
    for _ in range(3):
        local = step(rules_part, local).to
        told.append(shown(rules_part, local)[STARTS_AFRESH])
        (started,) = rules_part.heard(local, STARTED, given())
        local = started.to
    assert told == afresh
    most = 3 if "tries" in rules else 1
    assert shown(rules_part, local)[IN_A_ROW] == most, "no more is counted than matters"


@pytest.mark.parametrize("signal", ["gesture hold", DRAINED])
def test_a_gesture_or_a_loss_of_power_begins_the_count_anew(signal: str) -> None:
    counted = part("brown-out: {level: 2.7 V, starts in: stowed, tries: 2}")
    (choice,) = counted.heard((2, False, False, True), signal, given())
    assert choice.to == WEAK
    (choice,) = counted.heard((2, False, False, True), STARTED, given())
    assert choice.to == (2, False, False, True), "a start doesn't"


def test_two_starts_in_a_row_that_are_cut_short_are_a_loop() -> None:
    starts = part(loads="start: {draws: 15 mA, while: starting}")
    first = step(starts, WEAK, powered=False).to
    assert shown(starts, first)[LOOPS] is False
    assert shown(starts, step(starts, first, powered=False).to)[LOOPS] is True


READS = """cell: {low below: 2.5 V, fine above: 2.55 V, read every: 1 s}
surroundings: {weak cell: {cell: sags and recovers, meant: true}}"""


def weak_reader() -> Part:
    device = weak(
        more=READS,
        supply="hold-up: 5 ms",
        glowing="transitions: {hold: stowed, cell low: stowed}",
        stowed="transitions: {hold: glowing, cell fine: stowed}",
    )
    return weakening(device, readings(device)[0])


def test_the_level_read_is_that_of_the_configuration_once_the_cells_are_weak() -> None:
    reader = weak_reader()
    assert reader.shown(reader.start) == ("above", False)
    assert [(timer.name, timer.hi) for timer in reader.armed(reader.start, {"state": "glowing"})] == [
        (WEAKENS, FOREVER)
    ]
    (choice,) = reader.heard(reader.start, "changed", {"state": "glowing"})
    assert (choice.to, choice.send) == (reader.start, ()), "fresh cells are never read low"
    (choice,) = reader.expired(reader.start, WEAKENS, {"state": "glowing"})
    assert (reader.shown(choice.to), choice.send) == (("below", True), ("the level of the cell changes",))
    assert reader.armed(choice.to, {"state": "glowing"}) == ()
    (choice,) = reader.heard(choice.to, "changed", {"state": "stowed"})
    assert (reader.shown(choice.to), choice.send) == (("above", True), ("the level of the cell changes",))
