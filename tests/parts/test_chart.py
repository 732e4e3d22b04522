"""The chart by itself: which case applies, what it changes, which times begin anew."""

from __future__ import annotations

import pytest

from nudgeproof.model.tables import Choice, Local
from nudgeproof.parts.changes import start_values
from nudgeproof.parts.chart import CHANGED, LAPSED, STARTED, STEPPED, chart
from nudgeproof.parts.ledger import ledger
from nudgeproof.parts.memory import settled_state
from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import Device

READS = {"reading pad": False, "powered": True, "restored": None}
SPEC = """spec: 1
device: oil lamp
buttons:
  pad: {bounce: up to 0 ms, debounce: 20 ms, edges apart: at least 1 ms}
gestures:
  tap: {taps: 1, press: up to 400 ms}
  two taps: {taps: 2, press: up to 400 ms, between: up to 260 ms}
  hold: {held: 1.2 s}
variables:
  beam: [low, mid, high]
  left: 0 to 3
  minutes: {values: [1 min, 5 min], at the ends: stop, starts as: 5 min}
initial: off
states:
  off: {transitions: {hold: lit, tap: dim}}
  lit:
    starts in: dim
    states:
      bright:
        transitions:
          tap: [{if: beam is high and left is at least 2, to: dim}, {if: beam is low, next: beam}]
          after 10 s: bright
      dim:
        on entering: {set: {left: 3}}
        transitions:
          tap: {to: dim, keep: left}
          two taps: {to: bright, previous: [minutes, beam]}
          hold: {set: {beam: high}, restarts: true}
          every 1 s: [{if: left is at least 1, previous: left}, {if: left is 0, to: bright}]
      ember:
        waiting: true
        transitions: {every 2 s: {next: beam}, after 3 s: [{if: beam is low, to: off}, {if: beam is not low, to: dim}]}
    transitions:
      hold: off
      two taps: {next: [left, minutes]}
      after minutes: off
      every 7 s with pad open: {if: left is 2, next: beam}
supply: {hold-up: 5 ms}
power up: {takes: 20 ms, if blank: lit, if damaged: off, button held: counts as a press}
memory: {keeps: [state, beam], written: at once, write takes: 1 ms, guard: two copies, may lose: nothing}
surroundings:
  rattle: {cell gone: up to 40 ms, then steady at least: 2 s}
"""
LAMP = read_device(SPEC, "lamp.yaml")


def at(state: str, beam: str = "low", left: str = "3", minutes: str = "5 min") -> Local:
    return (state, (beam, left, minutes))


def do(local: Local, signal: str, device: Device = LAMP) -> Choice:
    (choice,) = chart(device, can_lose_power=True).heard(local, signal, READS)
    return choice


def pass_time(local: Local, timer: str) -> Choice:
    (choice,) = chart(LAMP).expired(local, timer, READS)
    return choice


def armed(local: Local, pressed: bool = False) -> set[str]:
    return {timer.name for timer in chart(LAMP).armed(local, {**READS, "reading pad": pressed})}


def test_to_lead_to_a_group_is_to_lead_to_the_state_it_starts_in() -> None:
    assert do(at("off"), "gesture hold").to == at("dim")
    assert LAMP.power_up is not None
    assert (LAMP.power_up.if_blank, LAMP.states_of("lit")) == ("dim", ("bright", "dim", "ember"))


def test_the_case_that_holds_is_taken() -> None:
    left = do(at("bright", "high", "2"), "gesture tap")
    stayed = do(at("bright", "low", "2"), "gesture tap")
    assert (left.to, left.send) == (at("dim", "high", "3"), (CHANGED,))
    assert (stayed.to, stayed.send) == (at("bright", "mid", "2"), (STEPPED,))


@pytest.mark.parametrize("now", [at("bright", "mid"), at("bright", "high", "1")])
def test_where_no_case_holds_nothing_happens(now: Local) -> None:
    choice = do(now, "gesture tap")
    assert (choice.to, choice.send, choice.restart) == (now, (), ())
    assert choice.says == "tap does nothing in bright now"


def test_own_lines_replace_shared_ones() -> None:
    assert do(at("dim"), "gesture hold").to == at("dim", "high")
    assert do(at("bright"), "gesture hold").to == at("off")
    assert do(at("off"), "gesture two taps").to == at("off")


def test_a_list_wraps_and_numbers_stop_unless_said_otherwise() -> None:
    assert do(at("dim", "low", minutes="1 min"), "gesture two taps").to == at("bright", "high", minutes="1 min")
    unchanged = do(at("bright"), "gesture two taps")
    assert (unchanged.to, unchanged.send) == (at("bright"), ())
    assert do(at("bright", left="1"), "gesture two taps").to == at("bright", left="2")


def test_what_a_line_keeps_entering_leaves_as_it_is() -> None:
    assert do(at("dim", left="1"), "gesture tap").to == at("dim", left="1")
    assert do(at("off", left="1"), "gesture tap").to == at("dim", left="3")


def test_own_lines_let_shared_times_go_on_and_shared_lines_begin_them_anew() -> None:
    minutes, every = "lit: after minutes, 5 min", "lit: every 7 s with pad open"
    assert set(do(at("dim"), "gesture tap").restart) == {"dim: every 1 s"}
    assert set(do(at("dim"), "gesture hold").restart) == {"dim: every 1 s"}
    assert set(pass_time(at("bright"), "bright: after 10 s").restart) == {"bright: after 10 s"}
    assert do(at("bright", left="1"), "gesture two taps").restart == (), "nothing is left and nothing said"
    again = read_device(SPEC.replace("      hold: off\n      two", "      hold: bright\n      two"), "lamp.yaml")
    assert set(do(at("ember"), "gesture hold", again).restart) == {"bright: after 10 s", minutes, every}
    anew = read_device(SPEC.replace("minutes]}\n      after", "minutes], restarts: true}\n      after"), "lamp.yaml")
    assert set(do(at("bright"), "gesture two taps", anew).restart) == {"bright: after 10 s", minutes, every}


def test_a_time_that_a_variable_says_has_its_length_and_is_another_timer_for_each_value() -> None:
    shared = {"lit: after minutes, 5 min", "lit: every 7 s with pad open"}
    assert armed(at("dim")) == {"dim: every 1 s", *shared}
    assert armed(at("bright"), pressed=True) == {"bright: after 10 s", "lit: after minutes, 5 min"}
    short = {timer.name: timer.lo for timer in chart(LAMP).armed(at("bright", minutes="1 min"), READS)}
    assert short["lit: after minutes, 1 min"] == 60_000_000


def test_every_steps_without_leaving_and_tells_of_no_lapse() -> None:
    step = pass_time(at("dim", left="2"), "dim: every 1 s")
    assert (step.to, step.send, step.restart) == (at("dim", left="1"), (STEPPED,), ())
    last = pass_time(at("dim", left="0"), "dim: every 1 s")
    assert (last.to, last.send) == (at("bright", left="0"), (CHANGED, LAPSED))
    nothing = pass_time(at("dim", left="1"), "lit: every 7 s with pad open")
    assert (nothing.to, nothing.send) == (at("dim", left="1"), ())


@pytest.mark.parametrize("state", ["bright", "dim", "ember"])
def test_no_time_passes_without_power(state: str) -> None:
    part = chart(LAMP, can_lose_power=True)
    assert armed(at(state))
    assert part.armed(at(state), {**READS, "powered": False}) == ()


def test_a_start_sets_what_memory_did_not_keep() -> None:
    (kept,) = chart(LAMP, can_lose_power=True).heard(at("off"), "start", {**READS, "restored": ("dim", "mid")})
    assert (kept.to, kept.send) == (at("dim", "mid"), (CHANGED, STARTED))
    (other,) = chart(LAMP, can_lose_power=True).heard(at("off"), "start", {**READS, "restored": ("bright", "mid")})
    assert other.to == at("bright", "mid", left="0")
    text = SPEC.replace("keeps: [state, beam]", "keeps: [left]")
    (found,) = chart(read_device(text, "lamp.yaml"), True).heard(at("off"), "start", {**READS, "restored": ("1",)})
    assert found.to == at("dim", left="1")


def test_a_run_begins_as_if_its_first_state_was_entered() -> None:
    device = read_device(SPEC.replace("initial: off", "initial: lit"), "lamp.yaml")
    assert chart(device).start == at("dim")
    assert start_values(LAMP) == {"beam": "low", "left": "0", "minutes": "5 min"}
    assert ledger(device).start == (("dim", "low", "3", "5 min"), (), None)


def test_a_waiting_state_is_kept_as_where_its_first_leading_time_leads() -> None:
    assert settled_state(LAMP, "ember") == "off"
    assert [state.gives_way_to for state in LAMP.states] == [None, "bright", "bright", "off"]
