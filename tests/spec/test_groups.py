"""A spec with groups, conditions, numbers and times that begin anew, read into what it says."""

from __future__ import annotations

from nudgeproof.diagnostics import Place
from nudgeproof.spec.conditions import cover_all, find_common
from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import Condition, Group, Timeout, Transition, Variable
from nudgeproof.units import Span
from tests.spec.good import GROUPED

LAMP = read_device(GROUPED, "lamp.yaml")
S = 1_000_000


def at(line: int, column: int) -> Place:
    return Place("lamp.yaml", line, column)


def widened(us: int) -> Span:
    """A time that a clock off by 5 % counts."""
    return Span(us * 100 // 105, -(-us * 100 // 95))


def test_variables() -> None:
    assert LAMP.variables == (
        Variable("beam", ("low", "high"), at(10, 3)),
        Variable("left", ("0", "1", "2", "3"), at(11, 3), wraps=False, is_number=True),
        Variable("minutes", ("1 min", "5 min"), at(12, 3), wraps=False, starts_as="5 min"),
    )
    assert [variable.first for variable in LAMP.variables] == ["low", "0", "5 min"]


def test_the_states_of_a_group_stand_among_the_others() -> None:
    assert [(state.name, state.group, state.shows) for state in LAMP.states] == [
        ("stowed", "", None),
        ("steady", "lit", "beam"),
        ("timed", "lit", "left"),
    ]
    assert LAMP.groups == (Group("lit", ("steady", "timed"), "steady", at(18, 3)),)
    assert LAMP.initial == "steady"


def test_shared_lines_come_after_own_ones_and_give_way_to_them() -> None:
    steady, timed = LAMP.state("steady"), LAMP.state("timed")
    high = Condition("beam is high and left is at least 1", (("beam", ("high",)), ("left", ("1", "2", "3"))))
    hold = Transition("hold", "stowed", (), False, at(30, 19), group="lit")
    shared_tap = Transition("tap", None, ("beam", "minutes"), True, at(30, 33), group="lit")
    assert steady.transitions == (
        Transition("tap", "timed", (), False, at(23, 17), condition=high),
        Transition(
            "tap", None, ("beam",), False, at(23, 71), condition=Condition("beam is not high", (("beam", ("low",)),))
        ),
        hold,
    )
    assert timed.transitions == (hold, shared_tap)
    assert steady.gestures == ("tap", "hold")
    assert timed.on_entering == (("left", "3"),)


def test_times_have_cases_and_lengths_that_the_clock_widens() -> None:
    minute, five = widened(60 * S), widened(300 * S)
    shared = Timeout(
        Span(minute.lo, five.hi),
        "pad",
        "stowed",
        "after minutes with pad open",
        at(30, 79),
        group="lit",
        by="minutes",
        times=(("1 min", minute), ("5 min", five)),
    )
    step, last, *rest = LAMP.state("timed").timeouts
    assert (step.target, step.previous, step.after) == (None, ("left",), minute)
    assert (last.target, last.set, last.text) == ("steady", (("beam", "low"),), "every 1 min")
    assert rest == [shared]
    assert LAMP.state("steady").timeouts == (shared,)
    assert shared.lasts({"minutes": "1 min"}) == minute


def test_what_is_accepted_in_a_group_is_accepted_in_its_states() -> None:
    (entry,) = LAMP.accepts
    assert (entry.within, entry.covers) == ("lit", ("steady", "timed"))


def test_only_what_nobody_could_know_is_assumed() -> None:
    texts = [assumption.text for assumption in LAMP.assumptions]
    assert "at the ends: stop (variable left)" in texts
    assert [text for text in texts if "at the ends" in text] == ["at the ends: stop (variable left)"]
    long = GROUPED.replace("beam: [low, high]", "beam: {values: [low, high]}")
    assert "at the ends: wrap (variable beam)" in {a.text for a in read_device(long, "lamp.yaml").assumptions}


def condition(**allowed: tuple[str, ...]) -> Condition:
    return Condition("", tuple(allowed.items()))


def test_values_that_meet_two_conditions_are_found() -> None:
    low, first = condition(beam=("low",)), condition(left=("0", "1"))
    assert find_common(low, condition(beam=("high",))) is None
    assert find_common(low, first) == {"beam": "low", "left": "0"}
    assert find_common(None, first) == {"left": "0"}
    assert find_common(None, None) == {}


def test_conditions_that_leave_no_value_out() -> None:
    domains = {variable.name: variable for variable in LAMP.variables}
    low, high = condition(beam=("low",)), condition(beam=("high",))
    rest = [condition(beam=("high",), left=("0",)), condition(beam=("high",), left=("1", "2", "3"))]
    assert cover_all([None], domains)
    assert cover_all([low, high], domains)
    assert cover_all([low, *rest], domains)
    assert not cover_all([low, rest[0]], domains)
    assert not cover_all([], domains)
