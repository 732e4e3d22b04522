"""`python -m tests.firmware.soak [EDGES [SEED [DEVICE...]]]`: the sound firmwares in `firmware`, on a larger scale.

Each is tried as by `nudgeproof trial`: every walk over its chart at the middle and at both ends of the habits, its limits,
lost contact, falling asleep, and random use beside all that and on after it, until so many edges were made by each; one
stimulus of each in turn. None may be refused, nor misbehave: that would be a false alarm, or a fault that nobody planted.
The exit code is 1 then. With the same seed the same is done.
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

from nudgeproof.firmware.acts import CELL, Acts, edges_of, tell_acts
from nudgeproof.firmware.ground import Grounds
from nudgeproof.firmware.mapping import read_map
from nudgeproof.firmware.monitor import BUDGET
from nudgeproof.firmware.outcome import Result, follow
from nudgeproof.firmware.performed import Setup
from nudgeproof.firmware.shrinking import Shrunk
from nudgeproof.firmware.trials import Failed, begun_as, shorten, stimuli
from nudgeproof.performing import chip_of, performer
from nudgeproof.rig.prepare import prepare
from nudgeproof.spec.read import read_device
from tests.rig.devices import FIRMWARE, ROOT, settings_of

EDGES = 10_000
DEVICES = ("rain-cover-light", "moisture-meter", "seed-tray-timer", "trail-counter")
TELL_EVERY_S = 60
SHORTENS = 300


@dataclass
class Soaked:
    """One firmware, and what came of it so far.

    `cuts`: how often the cell was taken away; `systematic_until`: the number of the last stimulus that was no random use;
    `folder`: where its sources are, if they aren't the shipped ones.
    """

    name: str
    seed: int
    edges: int = 0
    cuts: int = 0
    stimuli: int = 0
    systematic_until: int = 0
    length_us: int = 0
    came: Counter[str] = field(default_factory=Counter)
    failed: bool = False
    follow_s: float = 0.0
    kind: str = ""
    folder: Path | None = None

    def __post_init__(self) -> None:
        self.device = read_device((ROOT / "specs" / f"{self.name}.yaml").read_text(encoding="utf-8"), self.name)
        folder = self.folder or FIRMWARE / self.name
        settings = settings_of(self.name)
        self.what, notes = read_map(
            (FIRMWARE / self.name / "map.yaml").read_text(encoding="utf-8"), "map.yaml", self.device
        )
        self.perform = performer(prepare(settings, folder), settings, self.what, notes, self.seed)
        self.left = stimuli(self.device, self.what, self.seed, chip_of(settings), self.perform)
        self.wired = {channel.made for channel in self.what.channels}
        self.grounds = Grounds(self.device)

    def next_acts(self) -> tuple[Acts, int, Setup]:
        """What is done next, when the recording ends, and how it begins."""
        self.kind, planned, end_us, setup = next(self.left)
        return tuple(act for act in planned if (act.kind, act.what) in self.wired), end_us, setup

    def step(self) -> None:
        """One stimulus more."""
        acts, end_us, setup = self.next_acts()
        kind = self.kind
        performed = self.perform(acts, end_us, setup)
        self.stimuli += 1
        self.edges += len(edges_of(acts))
        self.cuts += sum(act.kind == CELL for act in acts)
        self.length_us += performed.recording.end_us
        if not kind.startswith("random use"):
            self.systematic_until = self.stimuli
        outcome = None
        if not performed.finding:
            begin = time.process_time()
            outcome = follow(self.device, begun_as(self.what, setup), performed.recording, BUDGET, grounds=self.grounds)
            self.follow_s += time.process_time() - begin
        result = performed.finding if outcome is None else outcome.result.value
        self.came[result] += 1
        if outcome is None or outcome.result is Result.REFUSED:
            self.failed = True
            at = performed.recording.end_us if outcome is None else outcome.at_us
            failed = Failed(Shrunk(acts, end_us, at, False), performed, outcome, kind, setup)
            short = shorten(self.grounds, self.what, self.perform, failed, BUDGET, SHORTENS).shrunk
            say(
                f"{self.name}, seed {self.seed}, {kind}: {result} at {short.at_us}: {tell_acts(short.acts, short.end_us)}"
            )

    def tell(self) -> str:
        """What came of it so far, in one line."""
        came = ", ".join(f"{number} {result}" for result, number in self.came.most_common())
        return (
            f"{self.name:<17} {self.edges:>8} edges, the cell lost {self.cuts} times, in {self.stimuli} stimuli of "
            f"{self.length_us / 3.6e9:.1f} h, the last {self.stimuli - self.systematic_until} random; {came}; "
            f"{self.edges / max(self.follow_s, 1e-6):.0f} edges a second"
        )


def say(line: str) -> None:
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()


def soak(edges: int, seed: int, names: tuple[str, ...], tell_every_s: float = TELL_EVERY_S) -> list[Soaked]:
    """Each of these firmwares, until so many edges were made by each or it failed."""
    all_of_them = [Soaked(name, seed) for name in names]
    told = time.monotonic()
    while left := [one for one in all_of_them if one.edges < edges and not one.failed]:
        for one in left:
            one.step()
        if time.monotonic() - told > tell_every_s:
            told = time.monotonic()
            for one in all_of_them:
                say(one.tell())
    return all_of_them


def main() -> int:
    """Run, and print what came of it."""
    words = sys.argv[1:]
    edges = int(words[0]) if words else EDGES
    seed = int(words[1]) if len(words) > 1 else 0
    done = soak(edges, seed, tuple(words[2:]) or DEVICES)
    for one in done:
        say(one.tell())
    return 1 if any(one.failed for one in done) else 0


if __name__ == "__main__":
    sys.exit(main())
