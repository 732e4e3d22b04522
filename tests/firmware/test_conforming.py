"""Trials of what does as its spec says: none is refused; of what doesn't quite, some is."""

from __future__ import annotations

import pytest

from nudgeproof.firmware.acts import BUTTON, Act
from nudgeproof.firmware.outcome import Result, follow
from nudgeproof.firmware.trials import run_trials
from nudgeproof.spec.read import read_device
from tests.firmware.campaign import BUDGET, WITHOUT_SETUP, try_device
from tests.firmware.conforming import simulated
from tests.reference.devices import ALL
from tests.reference.faults import FAULTS, Fault, plant
from tests.reference.simulator import simulate

SEEDS = (1, 4, 6)
MISREAD = (
    "a chord that is held counts at once",
    "a button that was let go may be joined",
)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_device_of_the_naive_simulator_is_not_refused(seed: int) -> None:
    trial, told = try_device(seed, 80)
    assert not told
    assert trial.conforming > 2


@pytest.mark.parametrize("misread", MISREAD)
def test_one_that_misreads_a_rule_is_refused(misread: str) -> None:
    fault = next(fault for fault in FAULTS if fault.name == misread)
    what, perform, writes = simulated(ALL[fault.device], 0, 1, simulator=plant(fault))
    trial = run_trials(ALL[fault.device], what, perform, 900, 0, writes, BUDGET, most=0, kinds=WITHOUT_SETUP)
    assert trial.failed is not None


TWO = """\
spec: 1
device: two pads
buttons:
  pad: {debounce: 10 ms, waking press: no tap, hold counts from: any press}
  rim: {debounce: 10 ms, waking press: no tap, hold counts from: any press}
gestures: {tap: {on: pad, taps: 1, press: up to 300 ms}, rim hold: {on: rim, held: 500 ms}}
initial: dark
states:
  dark:
    sleep: {woken by: [pad], on: edge, ready in: 2 ms, dozes again after: 50 ms}
    transitions: {tap: dark, rim hold: lit}
  lit: {transitions: {rim hold: dark}}
"""


def test_a_hold_that_was_reached_before_the_first_press_after_waking_counts_for_nothing_there() -> None:
    """The pad wakes it and begins the hold of the rim; when the rim goes down, what would be seen is passed over."""
    device = read_device(TWO, "two.yaml")
    acts = (Act(BUTTON, "pad", 100_000, 900_000), Act(BUTTON, "rim", 800_000, 150_000))
    misread = Fault("", "presses", "if self.is_marked and self.counts_now() is not None:", "if False:", "")
    for simulator, wanted in ((simulate, Result.CONFORMS), (plant(misread), Result.REFUSED)):
        what, perform, _ = simulated(device, 0, 0, simulator=simulator)
        assert follow(device, what, perform(acts, 2_000_000).recording).result is wanted
