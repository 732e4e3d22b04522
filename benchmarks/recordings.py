"""`python -m benchmarks.recordings`: how many recorded changes a second are followed, for each device in `specs`.

Two minutes of somebody pressing at random, as the naive simulator shows them on a pin for each state, followed at three
sample periods. Then trials of the firmwares in `firmware`: how many edges a second are followed if each recording stands
alone, and if all share what is known of the device, as trials do; and the ratio. Processor time of one run on this machine.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path
from random import Random

from nudgeproof.firmware.acts import edges_of
from nudgeproof.firmware.ground import Grounds
from nudgeproof.firmware.outcome import follow
from nudgeproof.firmware.trials import begun_as
from nudgeproof.parts.script import Edge
from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import Device
from tests.firmware.observed import Observed, gather, read, sampled
from tests.firmware.soak import DEVICES, Soaked
from tests.reference.clock import Tie
from tests.reference.simulator import simulate
from tests.reference.specimen import play

ROOT = Path(__file__).resolve().parents[1]
PERIODS_US = (0, 1, 10)
END_US = 120_000_000
STIMULI = 200


def press(device: Device, seed: int) -> Observed | None:
    """Taps and holds with pauses of all kinds; None if two things came at the same microsecond, which says nothing."""
    rng = Random(seed)
    names = [button.name for button in device.buttons]
    edges: list[Edge] = []
    at = 300_000
    while at < END_US - 5_000_000:
        button = rng.choice(names)
        for _ in range(rng.choice((1, 1, 2))):
            lasts = rng.randint(60_000, 350_000) if rng.random() < 0.7 else rng.randint(1_400_000, 2_500_000)
            edges += [Edge(at, button, True), Edge(at + lasts, button, False)]
            at += lasts + rng.randint(80_000, 220_000)
        at += rng.randint(200_000, 2_500_000)
    tool = play(device, tuple(sorted(edges)), (), END_US, seed)
    try:
        seen = simulate(
            device, tool.levels, tool.cell, tool.end_us, tool.draw, tool.happened, tool.voltage, tool.rounds
        )
    except Tie:
        return None
    whole = gather(device, seen, tool.levels, tool.cell, tool.happened, tool.end_us)
    return whole if whole.end_us == END_US else None


def _say(line: str) -> None:
    sys.stdout.write(line + "\n")
    sys.stdout.flush()


def main() -> None:
    """Print a row for each device and sample period."""
    _say(f"{'device':<20}{'sample':>8}{'changes':>9}{'a second':>10}{'x real time':>13}  result")
    for path in sorted((ROOT / "specs").glob("*.yaml")):
        device = read_device(path.read_text(encoding="utf-8"), path.name)
        whole = next((found for seed in range(50) if (found := press(device, seed)) is not None), None)
        for period in PERIODS_US:
            seen = sampled(whole, period) if whole is not None else None
            if seen is None:
                continue
            what, recording = read(device, seen, period)
            begin = time.process_time()
            outcome = follow(device, what, recording)
            took = time.process_time() - begin
            changes = outcome.edges + outcome.turns
            _say(
                f"{path.stem:<20}{f'{period} us':>8}{changes:>9}{changes / took:>10.0f}{END_US / 1e6 / took:>13.0f}  "
                f"{outcome.result.value}"
            )
    follow_trials()


def follow_trials() -> None:
    """Print a row for each firmware."""
    _say("")
    _say(f"{'firmware':<20}{'edges':>8}{'alone':>9}{'shared':>10}{'ratio':>8}")
    for name in DEVICES:
        one = Soaked(name, 0)
        recordings, edges = [], 0
        for _ in range(STIMULI):
            acts, end_us, setup = one.next_acts()
            edges += len(edges_of(acts))
            recordings.append((begun_as(one.what, setup), one.perform(acts, end_us, setup).recording))
        took = []
        for grounds in (None, Grounds(one.device)):
            begin = time.process_time()
            for what, recording in recordings:
                follow(one.device, what, recording, grounds=grounds)
            took.append(time.process_time() - begin)
        alone, shared = (edges / seconds for seconds in took)
        _say(f"{name:<20}{edges:>8}{alone:>9.0f}{shared:>10.0f}{shared / alone:>8.1f}")


if __name__ == "__main__":
    main()
