"""The trail: where the device last rested, and how it left."""

from __future__ import annotations

from collections.abc import Iterable

import pytest

from nudgeproof.model.tables import Value
from nudgeproof.parts.chart import CHANGED, LAPSED, STARTED
from nudgeproof.parts.compile import Environment
from nudgeproof.parts.script import Edge
from nudgeproof.parts.trail import trail
from nudgeproof.questions.steps import passing
from nudgeproof.spec.types import Device
from tests.devices import bench, look, presses

STATES = """
other: {transitions: {tap: wait}}
wait: {waiting: true, transitions: {tap: more, after 3 s: idle}}
more: {waiting: true, transitions: {tap: goal, after 3 s: goal}}
goal: {transitions: {after 10 s: doze}}
doze: {waiting: true, transitions: {tap: other, after 1 s: idle}}
"""
TAP = (100_000, 200_000)


@pytest.fixture(scope="module")
def device() -> Device:
    return bench("tap: {taps: 1, press: up to 400 ms}", "tap: wait", extra=STATES)


def can(device: Device, edges: Iterable[Edge], before: str, after: str, how: str, cause: str = "") -> bool:
    seen = look(device, Environment(script=tuple(edges), trailed=True), passing(before, after, how, cause))
    assert seen.complete or seen.paths[0] is not None
    return seen.paths[0] is not None


def taps(count: int, apart_us: int = 1_000_000) -> tuple[Edge, ...]:
    return presses(*((TAP[0] + i * apart_us, TAP[1] + i * apart_us) for i in range(count)))


def test_waiting_states_lie_between(device: Device) -> None:
    assert can(device, taps(3), "idle", "goal", "gesture")
    assert can(device, taps(2), "idle", "goal", "gesture"), "the last step may be a time"
    assert not can(device, taps(1), "idle", "goal", "gesture")
    assert not can(device, taps(3), "idle", "goal", "time")
    assert not can(device, taps(3), "other", "goal", "gesture")


def test_it_counts_from_the_last_state_where_the_device_stays(device: Device) -> None:
    """Out of `goal` by its time, one tap leads to `other`, and from there two more and a time to `goal`."""
    edges = [*taps(3), *presses((12_500_000, 12_600_000), (14_000_000, 14_100_000), (15_000_000, 15_100_000))]
    assert can(device, edges, "goal", "other", "time")
    assert not can(device, edges, "goal", "other", "gesture")
    assert can(device, edges, "other", "goal", "gesture")


def test_a_step_between_two_states_names_its_cause(device: Device) -> None:
    assert can(device, taps(1), "idle", "wait", "gesture", "tap")
    assert not can(device, taps(1), "idle", "wait", "gesture")
    assert not can(device, taps(1), "idle", "wait", "time", "tap")
    assert can(device, taps(1), "wait", "idle", "time", "wait: after 3 s")
    assert not can(device, taps(1), "wait", "idle", "time", "wait: after 4 s")


def test_a_start_and_the_first_cause_are_remembered(device: Device) -> None:
    part = trail(device, can_lose_power=True)

    def after(*told: tuple[str, str]) -> tuple[Value, ...]:
        local = part.start
        for signal, state in told:
            (choice,) = part.heard(local, signal, {"state": state})
            local = choice.to
        return part.shown(local)

    by_hand, then_time = ((CHANGED, "wait"),), ((CHANGED, "more"), (LAPSED, "more"))
    assert after(*by_hand) == after(*by_hand, *then_time) == ("idle", "gesture")
    assert after(*by_hand, (LAPSED, "wait")) == ("idle", "time")
    assert after(*by_hand, (CHANGED, "more"), (STARTED, "more")) == ("idle", "start")
    assert after(*by_hand, (CHANGED, "goal")) == ("goal", "")
