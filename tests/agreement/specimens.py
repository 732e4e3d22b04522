"""`python -m tests.agreement.specimens [N]`: what is said of where a story happens, tried on specimens (default: 10,000).

Each story of a shipped failing spec is played as a script, as the report means it, on N specimens drawn at random. One that
is said to happen on every specimen must happen on each of them; one that is said to happen on some only must fail to happen
on at least one. Of two specimens in turn the first has one value of each of its times for the whole run, often an end of the
interval; the second draws each time anew. Chatter is drawn in both. The exit code is 1 if anything is contradicted.

The runs share the tables and the step relation with the tool, nothing of its engines: which timer comes first follows from
the times drawn.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from random import Random

from nudgeproof import where
from nudgeproof.answers import match
from nudgeproof.check import ask, check
from nudgeproof.model.step import Move, Test, expire
from nudgeproof.model.tables import Model, Situation, Timer
from nudgeproof.parts.compile import compile_model
from nudgeproof.questions.ask import Derived
from nudgeproof.spec.read import read_device
from nudgeproof.units import FOREVER

ROOT = Path(__file__).resolve().parents[2]
FOLDERS = ("failures/*", "failures/field/*")
MOST_STEPS = 5_000
AT_AN_END = 0.4
CHATTER_US = 1_500


@dataclass(frozen=True, slots=True)
class Claim:
    """What is said of a story, the model in which its actions are a script, and the step that it ends with."""

    name: str
    every: bool
    model: Model
    harms: Test


def claims(folder: str) -> Iterator[Claim]:
    """All that is said of stories of the failing specs in a folder."""
    for path in sorted((ROOT / "specs").glob(f"{folder}/broken.yaml")):
        device = read_device(path.read_text(encoding="utf-8"), path.name)
        cases = {
            (question.hazard, question.subject): match(device, question)
            for entry in ask(device)[0]
            for question in (entry.questions if isinstance(entry, Derived) else (entry,))
        }
        for finding in check(device, "quick").findings:
            if finding.story is None or not finding.where:
                continue
            assert finding.where in (where.EVERY, where.SOME), finding.where
            case = cases[finding.hazard, finding.subject]
            environment = case.question.environment
            played = where.as_script(compile_model(device, environment), environment, finding.story)
            assert played is not None
            name = f"{path.parent.relative_to(ROOT / 'specs')}, {finding.hazard}, {finding.subject}"
            yield Claim(name, finding.where == where.EVERY, compile_model(device, played), case.looked_for)


class Specimen:
    """How long each time takes on one specimen. `anew`: it is drawn each time."""

    def __init__(self, seed: int, anew: bool) -> None:
        self.rng, self.anew = Random(f"specimen {seed}"), anew
        self.values: dict[tuple[int, Timer], int] = {}

    def lasts(self, part: int, timer: Timer) -> int:
        """How long a timer that begins now lasts on this specimen."""
        if timer.hi == FOREVER:
            return timer.lo + int(self.rng.expovariate(1 / CHATTER_US))
        if self.anew:
            return self._draw(timer.lo, int(timer.hi))
        key = part, timer
        if key not in self.values:
            self.values[key] = self._draw(timer.lo, int(timer.hi))
        return self.values[key]

    def _draw(self, low: int, high: int) -> int:
        if self.rng.random() < AT_AN_END:
            return self.rng.choice((low, high))
        return self.rng.randint(low, high)


def is_harmed(claim: Claim, specimen: Specimen) -> bool:
    """Whether the step comes before the script is over, on this specimen."""
    model, rng = claim.model, specimen.rng
    now, situation = 0, model.start
    ends = [specimen.lasts(part, timer) for part, timer in model.armed(situation)]
    for _ in range(MOST_STEPS):
        soonest = min(ends)
        position = rng.choice([i for i, end in enumerate(ends) if end == soonest])
        before, move, now = situation, _outcome(model, situation, position, rng), soonest
        situation = move.situation
        if claim.harms(model, before, move):
            return True
        if where.is_over(model, before, move):
            return False
        ends = [
            ends[k] if k >= 0 else now + specimen.lasts(part, timer)
            for (part, timer), k in zip(move.timers, move.kept, strict=True)
        ]
    raise AssertionError(f"{claim.name}: the script isn't over after {MOST_STEPS} steps")


def _outcome(model: Model, situation: Situation, position: int, rng: Random) -> Move:
    return rng.choice(expire(model, situation, position))


def spared(claim: Claim, specimens: int) -> int:
    """On how many of so many specimens the story doesn't happen."""
    return sum(not is_harmed(claim, Specimen(seed, anew=seed % 2 == 1)) for seed in range(specimens))


def is_contradicted(claim: Claim, spared_ones: int) -> bool:
    """Whether what was seen contradicts what is said."""
    return claim.every if spared_ones else not claim.every


def main(specimens: int) -> int:
    """Try all claims, print what was seen, and return the exit code."""
    against = 0
    for claim in (claim for folder in FOLDERS for claim in claims(folder)):
        escaped = spared(claim, specimens)
        said = where.EVERY if claim.every else where.SOME
        bad = is_contradicted(claim, escaped)
        against += bad
        print(f"{claim.name}: said of {said}; spared {escaped} of {specimens}{', CONTRADICTED' * bad}", flush=True)
    return 1 if against else 0


if __name__ == "__main__":
    sys.exit(main(*([int(word) for word in sys.argv[1:]] or [10_000])))
