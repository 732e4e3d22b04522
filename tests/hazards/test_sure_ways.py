"""Ways off through conditions and countdowns, and the acts that begin where a condition holds."""

from __future__ import annotations

import pytest

from nudgeproof.check import check
from nudgeproof.hazards import missed_gesture, unreachable_mode
from nudgeproof.hazards.sure_ways import TooMany, find_ways, tell
from nudgeproof.parts.performer import Act
from nudgeproof.questions.ask import Question
from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import Device
from nudgeproof.verdict import Finding, Verdict

TAP, HOLD = ("tap",), ("hold",)


def lamp(lit: str, variables: str = "beam: [low, high]", more: str = "") -> Device:
    return read_device(
        f"""spec: 1
device: lamp
buttons:
  pad: {{bounce: up to 0 ms, debounce: 20 ms, edges apart: at least 1 ms}}
gestures:
  tap: {{taps: 1, press: up to 400 ms}}
  hold: {{held: 1.2 s}}
variables:
  {variables}
initial: off
states:
  off:
    sleep: {{woken by: [pad], on: edge, ready in: 2 ms, dozes again after: 50 ms, each step: up to 20 us}}
    transitions: {{hold: lit}}
  lit: {{{lit}}}
{more}
person: {{tap: 60 to 350 ms, between: 80 to 220 ms, hold: 1.4 to 2.5 s, answers within: 1 s}}
""",
        "lamp.yaml",
    )


def unsure(device: Device, *acts: tuple[str, ...], state: str = "lit") -> list[str]:
    """The places of `state` from which these acts in it, and times, aren't sure to end asleep."""
    ways = find_ways(device, [Act(state, gestures) for gestures in acts])
    return [tell(device, place) for place in ways.places if place[0] == state and place not in ways.sure]


TWO = "transitions: {tap: [{if: beam is high, to: off}, {if: beam is low, next: beam}]}"
ONE = "transitions: {tap: {if: beam is high, to: off}, hold: {next: beam}}"


def test_a_gesture_is_sure_if_it_leads_on_whatever_the_value() -> None:
    assert unsure(lamp(TWO), TAP) == []
    assert unsure(lamp(ONE), TAP) == ["lit with beam low"]
    assert unsure(lamp(ONE), TAP, HOLD) == []
    assert unsure(lamp(TWO)) == ["lit with beam low", "lit with beam high"]


def test_a_value_that_no_line_ever_brings_about_is_not_counted() -> None:
    never = "transitions: {tap: {if: beam is low, to: off}}"
    assert unsure(lamp(never), TAP) == []
    assert unsure(lamp(never, "beam: {values: [low, high], starts as: high}"), TAP) == ["lit with beam high"]


COUNTDOWN = "transitions: {every 1 min: [{if: left is at least 1, previous: left}, {if: left is 0, to: off}]}"
ROUND = COUNTDOWN.replace("if: left is 0, to: off", "if: left is 0, set: {left: 3}")


def test_a_countdown_that_ends_is_sure_and_one_that_goes_round_is_not() -> None:
    assert unsure(lamp(COUNTDOWN, "left: {values: 0 to 3, starts as: 3}")) == []
    assert len(unsure(lamp(ROUND, "left: {values: 0 to 3, starts as: 3}"))) == 4


def test_a_time_that_runs_on_is_sure_beside_steps_that_go_round() -> None:
    both = ROUND.replace("]}", "], after 4 h: off}")
    assert unsure(lamp(both, "left: {values: 0 to 3, starts as: 3}")) == []


def test_time_must_not_have_overtaken_the_value_that_a_gesture_needs() -> None:
    """The tap switches off only while something is left, and time takes it away before the tap is seen."""
    text = "transitions: {tap: {if: left is at least 1, to: off}, every 1 min: {previous: left}}"
    assert unsure(lamp(text, "left: {values: 0 to 1, starts as: 1}"), TAP) == ["lit with left 1", "lit with left 0"]


@pytest.mark.parametrize(("times", "sure"), [("3 s", False), ("5 s", False), ("2 s", False), ("6 s", True)])
def test_whichever_time_runs_out_first_must_lead_on(times: str, sure: bool) -> None:
    """`stuck` is reached by a time that may come before the one that leads off; what surely comes later is no matter."""
    stuck = "  stuck: {transitions: {tap: lit}}"
    device = lamp(f"transitions: {{after {times}: stuck, after 3 to 5 s: off, tap: stuck}}", more=stuck)
    assert (unsure(device) == []) == sure


def test_a_value_that_only_memory_brings_into_a_state_counts_too() -> None:
    """Entering `lit` makes the beam low, but not at a start that finds a high one in memory."""
    lit = "on entering: {set: {beam: low}}, transitions: {tap: {if: beam is low, to: off}, hold: glow}"
    glow = "  glow: {on entering: {set: {beam: high}}, transitions: {tap: off}}\n"
    power = "supply: {hold-up: 5 ms}\npower up: {takes: 20 ms, if blank: lit, if damaged: off}"
    memory = "\nmemory: {keeps: [KEPT], written: at once, write takes: 1 ms, guard: two copies, may lose: nothing}"
    assert unsure(lamp(lit, more=glow), TAP) == []
    assert unsure(lamp(lit, more=glow + power), TAP) == []
    assert unsure(lamp(lit, more=glow + power + memory.replace("KEPT", "state")), TAP) == []
    assert unsure(lamp(lit, more=glow + power + memory.replace("KEPT", "beam")), TAP) == ["lit with beam high"]
    assert unsure(lamp(lit, more=glow + power + memory.replace("KEPT", "state, beam")), TAP) == []


def test_more_places_than_can_be_looked_at_are_said_to_be_too_many() -> None:
    steps = "transitions: {tap: {if: a is 0 and b is 0, to: off}, hold: {next: a}, every 1 min: {next: b}}"
    device = lamp(steps, "a: 0 to 100\n  b: 0 to 100")
    with pytest.raises(TooMany):
        find_ways(device, [])


def finding(device: Device, hazard: str, subject: str) -> Finding:
    (found,) = [f for f in check(device, "quick", only=[hazard]).findings if f.subject == subject]
    return found


def test_the_verdict_names_the_value_from_which_there_is_no_way() -> None:
    device = lamp("transitions: {tap: {if: beam is high, to: off}, hold: [{if: beam is high, next: beam}]}", more="")
    stuck = finding(device, "no-way-off", "lit")
    assert stuck.verdict is Verdict.BROKEN
    assert stuck.sentence == "from lit no sure way leads to a state that sleeps"
    device = lamp("transitions: {tap: {if: beam is high, to: off}, hold: {if: beam is high, next: beam}}",
                  "beam: {values: [low, high], starts as: high}")  # fmt: skip
    assert (
        finding(device, "no-way-off", "lit").sentence
        == "from lit with beam low no sure way leads to a state that sleeps"
    )
    assert finding(lamp(TWO), "no-way-off", "lit").verdict is Verdict.HOLDS


ARMED = "  armed: {waiting: true, transitions: {tap: lit, after 3 s: off}}"
SOMETIMES = "transitions: {hold: [{if: beam is high, to: armed}, {if: beam is low, to: off}], tap: {next: beam}}"


def test_an_act_into_a_waiting_state_begins_where_the_gesture_leads_there() -> None:
    device = lamp(SOMETIMES, more=ARMED)
    acts = [str(act) for act in missed_gesture.acts(device)]
    assert acts == ["hold in off", "hold in lit", "hold, tap in lit while beam is high", "tap in lit"]
    assert finding(device, "missed-gesture", "hold, tap in lit while beam is high").verdict is Verdict.HOLDS


def test_an_act_that_time_overtakes_is_excused() -> None:
    """While somebody holds, the beam may step, and the hold leads elsewhere; that isn't missing the gesture."""
    device = lamp(SOMETIMES.replace("tap: {next: beam}", "every 10 s: {next: beam}"), more=ARMED)
    assert finding(device, "missed-gesture", "hold, tap in lit while beam is high").verdict is Verdict.HOLDS


def test_a_step_that_time_makes_is_no_accident() -> None:
    more = "surroundings:\n  knocks: {closes pad: 2 to 10 ms, then open at least: 300 ms}"
    device = lamp("shows: left, transitions: {every 1 s: {next: left}, hold: off}", "left: [one, two]", more)
    assert {f.verdict for f in check(device, "quick", only=["accidental-change"]).findings} == {Verdict.HOLDS}


def test_where_a_whole_group_shows_a_variable_each_value_is_asked_about_once() -> None:
    group = "states: {dim: {transitions: {tap: bright}}, bright: {}}, shows: beam, transitions: {hold: off}"
    asked = unreachable_mode.ask(lamp(group))
    assert isinstance(asked, tuple)
    assert all(isinstance(question, Question) for question in asked)
    assert [question.subject for question in asked] == ["dim", "bright", "lit with beam low", "lit with beam high"]
    own = group.replace("bright: {}", "bright: {shows: a faint glow}")
    asked = unreachable_mode.ask(lamp(own))
    assert isinstance(asked, tuple)
    assert [question.subject for question in asked][2:] == ["dim with beam low", "dim with beam high"]


@pytest.mark.parametrize(("then", "is_sure"), [("stays off", True), ("starts again", False)])
def test_a_power_chip_that_stays_off_is_a_way_off_from_everywhere(then: str, is_sure: bool) -> None:
    closed = ", closed for: 30 ms, lets go: 5 ms" if is_sure else ""
    asleep = "sleep: {woken by: [pad], on: edge, ready in: 2 ms, dozes again after: 50 ms}"
    text = f"""spec: 1
device: torch
buttons: {{pad: {{bounce: up to 5 ms, debounce: 20 ms}}}}
gestures: {{tap: {{taps: 1, press: up to 400 ms}}}}
initial: {"dark" if is_sure else "low"}
states:
  dark: {{{"unpowered: true" if is_sure else asleep}}}
  low: {{transitions: {{tap: high}}}}
  high: {{transitions: {{tap: low}}}}
power up: {{takes: 70 ms, if blank: low}}
supply: {{hold-up: 5 ms, cut-off: {{held: pad, for: 3 s, then: {then}{closed}}}}}
person: {{tap: 60 to 350 ms, between: 80 to 220 ms, hold: 1.4 to 2.5 s}}
"""
    found = {one.subject: one.verdict for one in check(read_device(text, "torch.yaml"), only=["no-way-off"]).findings}
    assert found == dict.fromkeys(("low", "high"), Verdict.HOLDS if is_sure else Verdict.BROKEN)
