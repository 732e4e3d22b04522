"""The pairs of failures met in the field, played by the tool's parts and by the naive simulator: both must show the same.

`python -m tests.agreement.test_reference_of_failures [RUNS]` plays more of each (default: 100).
"""

from __future__ import annotations

import sys
from pathlib import Path
from random import Random

import pytest

from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import Device, Outage
from tests.reference.clock import Seen, Tie
from tests.reference.scripts import END_US, can_be_interrupted, random_script
from tests.reference.simulator import simulate
from tests.reference.specimen import play
from tests.snapshots.screens import ROOT

FOLDER = ROOT / "specs" / "failures"
SPECS = sorted((*FOLDER.glob("classes/*/*.yaml"), *FOLDER.glob("variants/*/*.yaml")))
RUNS = 2


def name_of(path: Path) -> str:
    return path.relative_to(FOLDER).with_suffix("").as_posix()


def is_same(path: Path, seed: int) -> bool | None:
    """Whether one run of random presses, surroundings and interruptions shows the same in both; None at a tie."""
    device = read_device(path.read_text(encoding="utf-8"), path.name)
    script, sources = random_script(device, Random(f"{name_of(path)}/{seed}"))
    tool = play(device, script, sources, END_US, seed)
    try:
        naive = simulate(
            device, tool.levels, tool.cell, tool.end_us, tool.draw, tool.happened, tool.voltage, tool.rounds
        )
    except Tie:  # two things at one instant, of which the rules leave the order open
        return None
    return _shown(device, tool.seen) == _shown(device, naive)


def _shown(device: Device, seen: list[Seen]) -> list[Seen]:
    """What is seen at one instant has no order. Where power can't be lost, the parts do without memory."""
    outages = any(isinstance(what, Outage) for what in device.surroundings) and can_be_interrupted(device)
    writes = device.is_latched or outages
    return sorted(one for one in seen if writes or not one[1].startswith(("wrote ", "torn ")))


@pytest.mark.parametrize("path", SPECS, ids=name_of)
def test_both_show_the_same(path: Path) -> None:
    told = [is_same(path, seed) for seed in range(RUNS)]
    assert False not in told
    assert True in told


def main(runs: int) -> int:
    """Play so many runs of each spec; the exit code is 1 if any differs."""
    told = {(name_of(path), seed): is_same(path, seed) for path in SPECS for seed in range(runs)}
    differing = [which for which, same in told.items() if same is False]
    ties = sum(same is None for same in told.values())
    print(f"{len(SPECS)} specs, {runs} runs each, {ties} with a tie: {len(differing)} differ", *differing, sep="\n")
    return 1 if differing else 0


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 100))
