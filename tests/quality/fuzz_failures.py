"""`python -m tests.quality.fuzz_failures [STEPS] [KIND...]`: the kinds of field failure by random runs alone.

Of each broken spec the failure that is told first is hunted without the explorer: with at most so many steps (default:
2,000,000), seed 1, in the environment of its question. What is found must be the unwanted step, replayed. Of the others the
share of reachable situations is told that were met. The exit code is 1 if fewer than 60 of 100 are found.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from multiprocessing import Pool

from nudgeproof.answers import Case, match
from nudgeproof.boxes import at_point, middle
from nudgeproof.check import BUDGETS, ask, check
from nudgeproof.engines.fuzz import fuzz, share
from nudgeproof.engines.story import replay
from nudgeproof.parts.compile import compile_model
from nudgeproof.questions.ask import Derived
from nudgeproof.spec.fixed import fixed_times
from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import Device
from nudgeproof.verdict import Verdict
from tests.snapshots.failures import folder, rows, shown

MOST_STEPS = 2_000_000
LEAST_SHARE = 0.6
WORKERS = 2


@dataclass(frozen=True, slots=True)
class Hunt:
    """What random runs came to. `found` is None where a proof tells the failure, and no run can."""

    kind: str
    found: bool | None
    steps: int
    met: str = ""

    def __str__(self) -> str:
        name = rows()[self.kind]["name"]
        if self.found is None:
            return f"{self.kind} {name}: told by a proof, not by a run"
        return f"{self.kind} {name}: {'found' if self.found else 'not found'} in {self.steps:,} steps; {self.met}"


def first_case(device: Device) -> Case | None:
    """The question of the failure that is told first; None where that has no story."""
    findings = check(device).findings
    first = min(findings, key=lambda finding: finding.verdict)
    if first.verdict is not Verdict.BROKEN or first.story is None:
        return None
    for entry in ask(device)[0]:
        for question in entry.questions if isinstance(entry, Derived) else (entry,):
            if (question.hazard, question.subject) == (first.hazard, first.subject):
                return match(device, question)
    return None


def hunt(kind: str, steps: int) -> Hunt:
    """Random runs of the broken spec of one kind, `steps` of them in all at most."""
    text = (folder(kind) / "broken.yaml").read_text(encoding="utf-8")
    device = read_device(text, f"{kind}.yaml")
    case = first_case(device)
    if case is None:
        return Hunt(kind, None, 0)
    if fixed_times(device):
        device = at_point(device, middle(device))
    model = compile_model(device, case.question.environment)
    result = fuzz(model, (case.looked_for,), steps, seed=1)
    failure = result.failures[0]
    if failure is not None:
        last = replay(model, failure.path, failure.times_us).beats[-1]
        assert case.looked_for(model, last.before, last.move)
    return Hunt(kind, failure is not None, result.steps, str(share(model, result.situations, BUDGETS["quick"])))


def _hunt(job: tuple[str, int]) -> Hunt:
    return hunt(*job)


def main(steps: int, kinds: list[str]) -> int:
    """Hunt them all, print each, and return the exit code."""
    found = asked = 0
    with Pool(WORKERS) as pool:
        for one in pool.imap(_hunt, [(kind, steps) for kind in kinds]):
            print(one, flush=True)
            asked += one.found is not None
            found += bool(one.found)
    print(f"{found} of {asked} found, each with at most {steps:,} steps")
    return 0 if found >= LEAST_SHARE * asked else 1


if __name__ == "__main__":
    words = sys.argv[1:]
    sys.exit(main(int(words[0]) if words else MOST_STEPS, words[1:] or shown()))
