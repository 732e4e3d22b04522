"""Taps whose pause goes on at waking with what was left of it in whole ticks, on a device whose times are exact.

A tap from 0 to 50 ms is let go, to the firmware, at 51 ms; it sleeps at 61 ms, and 1 ms after something woke it, it runs. A
press is accepted 1 ms after that; and with nothing going on it sleeps again after 10 ms.
"""

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
events: {poke: {wakes and counts: false}}
gestures:
  tap: {taps: 1, press: up to 100 ms}
  two taps: {taps: 2, press: up to 100 ms, between: BETWEEN}
clock: {off by: 0 %, tick: TICK}
initial: dark
states:
  dark:
    sleep:
      {woken by: [pad, poke], ready in: 1 ms, dozes again after: 10 ms, each step: up to 0 ms, pending taps: go on at waking}
    transitions: {two taps: two, tap: one}
  one: {}
  two: {}
surroundings: {pokes: {makes: poke, then none for at least: 1 s, meant: true}}
person: {tap: 20 to 80 ms, between: 80 to 220 ms}
"""


def shed(tick: str, between: str = "up to 30 ms") -> Device:
    return read_device(SHED.replace("TICK", tick).replace("BETWEEN", between), "shed.yaml")


def comes_to(device: Device, second_ms: int | None, pokes_ms: tuple[int, ...] = ()) -> set[str]:
    """The states after a tap, some waking and perhaps a second tap."""
    edges = [*presses((0, 50 * MS)), *(Edge(at * MS, "", False, event="poke") for at in pokes_ms)]
    edges += presses((second_ms * MS, (second_ms + 50) * MS)) if second_ms is not None else ()
    environment = Environment(script=tuple(sorted(edges)))
    return {state for state in ("one", "two") if can_enter(device, environment, state)}


def test_a_second_tap_after_days_is_one_of_two() -> None:
    assert comes_to(shed("4 ms"), 86_400_000) == {"two"}


@pytest.mark.parametrize(
    ("pokes", "alone", "with_second"), [(1, set(), {"two"}), (2, set(), {"two"}), (3, {"one"}, {"one"})]
)
def test_what_was_counted_awake_is_kept(pokes: int, alone: set[str], with_second: set[str]) -> None:
    """Each time awake counts two ticks of 4 ms, so 6 ms of the 30 are left after the second poke."""
    device, at = shed("4 ms"), tuple(1_000 * number for number in range(1, pokes + 1))
    assert comes_to(device, None, at) == alone
    assert comes_to(device, 9_000, at) == with_second


def test_a_tick_that_was_begun_is_lost() -> None:
    """In ticks of 11 ms nothing of 10 ms is kept, and the pause never ends; in ticks of 9 ms each time counts one."""
    at = (1_000, 2_000, 3_000, 4_000, 5_000, 6_000)
    assert comes_to(shed("11 ms"), 9_000, at) == {"two"}
    assert comes_to(shed("9 ms"), 9_000, at[:2]) == {"two"}
    assert comes_to(shed("9 ms"), 9_000, at[:3]) == {"one"}


@pytest.mark.parametrize(
    ("asleep_ms", "expected"), [(19, {"two"}), (21, {"one", "two"}), (39, {"one", "two"}), (41, {"one"})]
)
def test_a_slow_clock_that_counts_in_sleep_counts_whole_ticks(asleep_ms: int, expected: set[str]) -> None:
    """22 of the 30 ms are left at first, a tick asleep takes 20 of them, and the first may come at once."""
    assert comes_to(shed("4 ms, tick asleep: 20 ms"), 60 + asleep_ms) == expected


def test_a_limit_with_a_tolerance_keeps_it() -> None:
    """Of 15 to 30 ms, 8 are over after the first time and 16 after the second: then nothing to 14 ms are left."""
    device = shed("4 ms", "up to 22.5 ms ± 7.5 ms")
    assert comes_to(device, 9_000, (1_000,)) == {"one", "two"}
    assert comes_to(device, 9_000, (1_000, 2_000)) == {"one", "two"}
    assert comes_to(device, 9_000, (1_000, 2_000, 3_000)) == {"one"}


def test_the_device_is_at_rest_with_a_tap_that_waits() -> None:
    found = {one.hazard: one.verdict for one in check(shed("4 ms")).findings if one.subject == "tap in dark"}
    assert found["misread-gesture"] is Verdict.BROKEN
