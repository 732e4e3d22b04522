"""The bound on writes to memory, against runs of the model: no run writes more often than it says."""

from __future__ import annotations

from random import Random

import pytest

from nudgeproof.cli.files import read_spec
from nudgeproof.engines.play import play
from nudgeproof.hazards.worn_memory import most_starts, most_writes
from nudgeproof.parts.compile import Environment, compile_model
from nudgeproof.parts.supply import RESTORE
from nudgeproof.spec.types import Outage
from tests.snapshots.screens import ROOT

DEVICES = ("rain-cover-light", "seed-tray-timer", "trail-counter", "failures/torn-memory/broken")


@pytest.mark.parametrize("name", DEVICES)
def test_no_run_writes_more_often_than_the_bound(name: str) -> None:
    device = read_spec(str(ROOT / "specs" / f"{name}.yaml"))
    assert device.memory is not None
    outages = tuple(what.name for what in device.surroundings if isinstance(what, Outage))
    who = ("person",) if device.person is not None else ("anything",)
    makers = tuple(what.name for what in device.surroundings if what.name in device.meant)
    model = compile_model(device, Environment(sources=(*who, *makers, *outages)))
    chance, most = Random(3), 0.0
    for _ in range(12):
        played = play(model, lambda number, what, bits: chance.getrandbits(bits), 250, lambda before, move: False, {})
        writes = closings = starts = 0
        for step in played.path:
            part, timer = model.armed(step.situation)[step.position]
            writes += model.parts[part].name == "memory" and timer.name == "writes"
            starts += any(option.cause == f"signal {RESTORE}" for option in step.move.taken)
            for button in device.buttons:
                level = f"level {button.name}"
                closings += bool(model.value(step.move.situation, level)) and not model.value(step.situation, level)
            closings += any(signal.startswith("outside ") for o in step.move.taken for signal in o.choice.send)
        bound = most_writes(device, device.memory, closings, starts, played.times[-1])
        assert bound is not None
        # One record, or two copies in turn, or a cell of its own for each kept thing.
        slots = {"two copies": 2, "none": len(device.memory.keeps)}.get(device.memory.guard, 1)
        assert writes <= slots * bound + 1
        most = max(most, writes / float(slots * bound or 1))
    # It isn't a bound that says nothing.
    assert most > 0.03


RESETS = (
    "moisture-meter",
    "failures/classes/cut-off-first/broken",
    "failures/classes/supervisor-in-sleep/broken",
    "failures/variants/on-again-at-the-release/broken",
)


@pytest.mark.parametrize("name", RESETS)
def test_no_run_starts_more_often_than_the_bound(name: str) -> None:
    device = read_spec(str(ROOT / "specs" / f"{name}.yaml"))
    model = compile_model(device, Environment(sources=("anything",)))
    chance, most = Random(5), 0
    for _ in range(12):
        played = play(model, lambda number, what, bits: chance.getrandbits(bits), 400, lambda before, move: False, {})
        starts = closings = 0
        for step in played.path:
            starts += any(option.cause == f"signal {RESTORE}" for option in step.move.taken)
            for button in device.buttons:
                level = f"level {button.name}"
                closings += bool(model.value(step.move.situation, level)) and not model.value(step.situation, level)
        assert starts <= most_starts(device, closings, 0, played.times[-1])
        most = max(most, starts)
    # Power comes only once from outside, if at all.
    assert most > 1
