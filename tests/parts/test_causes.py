"""The causes of resets: which of them are set, and what a start makes of them; on a device whose times are exact."""

from __future__ import annotations

import pytest

from nudgeproof.check import check
from nudgeproof.parts.causes import UNKNOWN, causes
from nudgeproof.parts.chart import STARTED
from nudgeproof.parts.compile import Environment, compile_model
from nudgeproof.parts.resets import BY_CUT_OFF, BY_SUPERVISOR
from nudgeproof.parts.script import Edge
from nudgeproof.parts.supply import DRAINED, RESTORE
from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import Device
from nudgeproof.verdict import Verdict
from tests.devices import can_enter, presses

MS = 1_000

RELAY = """spec: 1
device: barn relay
buttons: {pad: {bounce: up to 0 ms, debounce: 1 ms}}
gestures: {tap: {taps: 1, press: up to 100 ms}}
initial: none
states:
  none: {transitions: {tap: busy}}
  busy: {BUSYtransitions: {tap: none}}
  fresh: {transitions: {tap: busy}}
  cut: {transitions: {tap: busy}}
  unfed: {transitions: {tap: busy}}
supply: {hold-up: 1 ms, cut-off: {held: pad, for: 1 s}}
supervisor: {after: 300 ms, in sleep: stops}
power up: {takes: 10 ms, if blank: none, starts in: {STARTS}, causes: CAUSES}
surroundings: {cell rattle: {cell gone: up to 50 ms}}
"""
CLEARED, LEFT = "read and cleared", "left set"
ORDER = "supervisor: unfed, cut-off: cut, cell: fresh"
LONG = presses((1000 * MS, 2500 * MS))
TAP = presses((4000 * MS, 4050 * MS))
OUTAGE = (Edge(6000 * MS, "", False), Edge(6100 * MS, "", True))


def relay(kept: str = CLEARED, starts: str = ORDER, busy: str = "") -> Device:
    return read_device(RELAY.replace("STARTS", starts).replace("CAUSES", kept).replace("BUSY", busy), "relay.yaml")


def starts_in(device: Device, edges: tuple[Edge, ...]) -> set[str]:
    return {name for name in ("fresh", "cut", "unfed") if can_enter(device, Environment(script=edges), name)}


def test_each_cause_has_its_state() -> None:
    assert starts_in(relay(), OUTAGE) == {"fresh"}
    assert starts_in(relay(), LONG) == {"cut"}
    assert starts_in(relay(busy="busy: 400 ms, "), TAP) == {"unfed"}


def test_a_cause_that_was_cleared_is_found_no_more_and_one_that_is_left_is() -> None:
    edges = (*LONG, *OUTAGE)
    assert starts_in(relay(), edges) == {"cut", "fresh"}
    assert starts_in(relay(LEFT), edges) == {"cut"}


def test_of_several_the_first_in_the_order_counts() -> None:
    turned = "cell: fresh, cut-off: cut, supervisor: unfed"
    assert starts_in(relay(LEFT, turned), LONG) == {"fresh"}  # power came once, before the run
    assert starts_in(relay(CLEARED, turned), LONG) == {"cut"}


def test_two_resets_before_one_start_set_both() -> None:
    """The cell is lost while the button is down, and back only when the power chip's time is nearly over."""
    both = (
        Edge(1000 * MS, "pad", True),
        Edge(2003 * MS, "", False),
        Edge(2100 * MS, "", True),
        Edge(2500 * MS, "pad", False),
    )
    assert starts_in(relay(), both) == {"cut"}
    assert starts_in(relay(starts="cell: fresh, cut-off: cut"), both) == {"fresh"}


def test_what_is_not_named_is_no_cause_to_the_start() -> None:
    device = relay(starts="supervisor: unfed")
    assert starts_in(device, (*LONG, *OUTAGE)) == set()


def test_memory_that_brings_the_state_back_goes_first() -> None:
    text = RELAY.replace("STARTS", ORDER).replace("CAUSES", LEFT).replace("BUSY", "")
    device = read_device(text + "memory: {keeps: [state], write takes: 1 ms, guard: checksum}\n", "relay.yaml")
    assert starts_in(device, (*TAP, *OUTAGE)) == set()
    assert starts_in(device, OUTAGE) == {"fresh"}  # nothing was written


@pytest.mark.parametrize("kept", [CLEARED, LEFT])
def test_what_is_set_when_power_comes(kept: str) -> None:
    rules = relay(kept).power_up
    assert rules is not None
    assert causes(rules, is_first=True).start == ("cell",)
    assert causes(rules, is_first=False).start == (("cell",) if kept == LEFT else ())


def test_an_earlier_life_may_have_left_causes() -> None:
    left, cleared = relay(LEFT).power_up, relay().power_up
    assert left is not None
    assert cleared is not None
    part = causes(left, is_first=True, unknown=True)
    assert part.start == UNKNOWN
    found = {choice.to for choice in part.heard(UNKNOWN, RESTORE, {})}
    assert found == {("cell",), ("cut-off", "cell"), ("supervisor", "cell"), ("supervisor", "cut-off", "cell")}
    assert causes(cleared, is_first=True, unknown=True).start == ("cell",)


def test_marks_stand_in_the_order_of_the_start() -> None:
    rules = relay().power_up
    assert rules is not None
    part = causes(rules, is_first=False)
    local = part.start
    for signal, shown in ((DRAINED, "cell"), (BY_CUT_OFF, "cut-off"), (BY_SUPERVISOR, "supervisor"), (STARTED, "")):
        (choice,) = part.heard(local, signal, {})
        local = choice.to
        assert part.shown(local) == (shown,)


def test_a_device_that_asks_for_no_cause_has_no_marks() -> None:
    plain = read_device(RELAY.replace(", starts in: {STARTS}, causes: CAUSES", "").replace("BUSY", ""), "relay.yaml")
    model = compile_model(plain, Environment(script=OUTAGE))
    assert "causes of resets" not in [part.name for part in model.parts]


def test_what_can_do_harm_may_not_be_where_a_start_by_cause_leads() -> None:
    harm = "harm: {cut: {what: floods the barn}}\n"
    text = RELAY.replace("STARTS", ORDER).replace("CAUSES", CLEARED).replace("BUSY", "")
    with pytest.raises(Exception, match="may start in `cut`"):
        read_device(text + harm, "relay.yaml")


def test_a_button_held_while_power_comes_up_meets_every_state_that_old_causes_lead_to() -> None:
    held = [finding for finding in check(relay(LEFT)).findings if finding.hazard == "held-at-power-up"]
    assert [finding.verdict for finding in held] == [Verdict.HOLDS]
    environment = Environment(held="pad")
    assert {name for name in ("fresh", "cut", "unfed") if can_enter(relay(LEFT), environment, name)} == {
        "fresh",
        "cut",
        "unfed",
    }
    assert {name for name in ("fresh", "cut", "unfed") if can_enter(relay(), environment, name)} == {"fresh"}
