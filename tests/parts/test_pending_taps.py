"""Taps that wait for more while the processor sleeps, on a device whose times are exact."""

from __future__ import annotations

import pytest

from nudgeproof.check import check
from nudgeproof.parts.compile import Environment
from nudgeproof.parts.script import Edge
from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import Device
from nudgeproof.verdict import Verdict
from tests.devices import can_enter, presses

MS = 1_000

SHED = """spec: 1
device: shed light
buttons: {pad: {bounce: up to 0 ms, debounce: 1 ms}}
gestures:
  tap: {taps: 1, press: up to 100 ms}
  two taps: {taps: 2, press: up to 100 ms, between: up to 300 ms}
clock: {off by: 0 %CLOCK}
initial: dark
states:
  dark:
    sleep: {ready in: 1 ms, dozes again after: 10 ms, each step: up to 0 ms, pending taps: PENDING}
    transitions: {two taps: two, tap: one}
  one: {}
  two: {}
person: {tap: 20 to 80 ms, between: 80 to 220 ms}
"""
AWAKE, RUNS, STANDS = "keep it awake", "outlast sleep", "begin anew at waking"


def shed(pending: str, clock: str = "", transitions: str = "") -> Device:
    text = SHED.replace("PENDING", pending).replace("CLOCK", clock)
    return read_device(
        text.replace("{two taps: two, tap: one}", transitions or "{two taps: two, tap: one}"), "shed.yaml"
    )


def two(gap_ms: int) -> tuple[Edge, ...]:
    return presses((0, 50 * MS), ((50 + gap_ms) * MS, (100 + gap_ms) * MS))


def comes_to(device: Device, edges: tuple[Edge, ...]) -> set[str]:
    return {state for state in ("one", "two") if can_enter(device, Environment(script=edges), state)}


def test_one_tap_is_seen_without_another_wake_only_if_it_keeps_the_processor_awake() -> None:
    one = presses((0, 50 * MS))
    assert [comes_to(shed(pending), one) for pending in (AWAKE, RUNS, STANDS)] == [{"one"}, set(), set()]


@pytest.mark.parametrize(
    ("pending", "gap_ms", "expected"),
    [
        (AWAKE, 250, {"two"}),
        (AWAKE, 400, {"one"}),
        (RUNS, 250, {"two"}),
        (RUNS, 400, {"one"}),  # seen at the second waking
        (STANDS, 250, {"two"}),
        (STANDS, 400, {"two"}),
        (STANDS, 60_000, {"two"}),
    ],
)
def test_a_second_tap_after_a_pause_in_sleep(pending: str, gap_ms: int, expected: set[str]) -> None:
    assert comes_to(shed(pending), two(gap_ms)) == expected


@pytest.mark.parametrize(("gap_ms", "expected"), [(250, {"two"}), (400, {"one"})])
def test_a_pause_goes_on_beside_presses_that_count_from_waking_in_another_state(
    gap_ms: int, expected: set[str]
) -> None:
    """There the edge of a contact is a matter of the recogniser too, and it must not end what waits in sleep."""
    early = "sleep: {ready in: 1 ms, dozes again after: 10 ms, each step: up to 0 ms, press counts from: waking}"
    device = read_device(
        SHED.replace("PENDING", RUNS).replace("CLOCK", "").replace("one: {}", f"one: {{{early}}}"), "shed.yaml"
    )
    assert comes_to(device, two(gap_ms)) == expected


@pytest.mark.parametrize(("gap_ms", "expected"), [(900, {"one"}), (1_100, {"two"}), (1_250, {"two"}), (1_400, {"one"})])
def test_a_pause_passes_for_what_it_is_longer_than_elapsed_time_can_tell(gap_ms: int, expected: set[str]) -> None:
    assert comes_to(shed(RUNS, ", elapsed up to: 1 s"), two(gap_ms)) == expected


@pytest.mark.parametrize("key", ["press counts from: waking, ", ""])
def test_what_is_over_in_sleep_stays_over_though_an_edge_wakes_that_counts_early(key: str) -> None:
    """The limit of 300 ms is over when the second tap wakes it, so the first is seen alone, and then the second."""
    text = SHED.replace("PENDING", RUNS).replace("CLOCK", "").replace("{ready in: 1 ms", "{" + key + "ready in: 1 ms")
    assert comes_to(read_device(text, "shed.yaml"), two(400)) == {"one"}


def test_a_tap_that_is_over_is_seen_when_a_press_wakes_that_is_no_tap() -> None:
    """The press at 0 wakes and is no tap; the one at 55 ms is, and waits; the one at 600 ms wakes once more."""
    text = SHED.replace("PENDING", RUNS).replace("CLOCK", "").replace("1 ms}}", "1 ms, waking press: no tap}}")
    device, pairs = read_device(text, "shed.yaml"), ((0, 50 * MS), (55 * MS, 105 * MS), (600 * MS, 650 * MS))
    assert comes_to(device, presses(*pairs[:2])) == set()
    assert comes_to(device, presses(*pairs)) == {"one"}


def test_where_the_clock_stands_still_the_device_is_at_rest_with_a_tap_that_waits() -> None:
    """So a single tap done on purpose is taken for the second of two; where it runs on there is no such rest."""
    found = {
        (pending, finding.hazard): finding.verdict
        for pending in (AWAKE, RUNS, STANDS)
        for finding in check(shed(pending)).findings
        if finding.subject == "tap in dark"
    }
    assert found[AWAKE, "misread-gesture"] is Verdict.HOLDS
    assert found[RUNS, "misread-gesture"] is Verdict.HOLDS
    assert found[STANDS, "misread-gesture"] is Verdict.BROKEN
