"""Trials of what does as its spec says: none is refused; of what doesn't quite, some is."""

from __future__ import annotations

import pytest

from nudgeproof.firmware.trials import run_trials
from tests.firmware.campaign import BUDGET, try_device
from tests.firmware.conforming import simulated
from tests.reference.devices import ALL
from tests.reference.faults import FAULTS, plant

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
    trial = run_trials(ALL[fault.device], what, perform, 900, 0, writes, BUDGET, most=0)
    assert trial.failed is not None
