"""`python -m tests.agreement.storytimes [DEVICES] [MODELS]`: the times of many stories against a linear programme.

All shipped specs, with the failing ones; then random devices (default: 20) and random small models (default: 1,000). Each
story is told anew from its path and set beside what the programme of `tests.agreement.programmes` finds best: the room that
all actions have, the grid, the sum of all times; and the earliest times. The exit code is 1 if any differ.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

from nudgeproof.check import ask, check
from nudgeproof.engines.explore import explore
from nudgeproof.engines.story import NOTHING_MORE, Also, Story, confirm, tell
from nudgeproof.model.tables import Model
from nudgeproof.parts.compile import compile_model
from nudgeproof.questions.ask import Derived
from nudgeproof.rhythm import find_rhythm
from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import Device
from nudgeproof.specimens import path_of
from tests.agreement.programmes import Bound, bounds_of, least_total, solve
from tests.agreement.randomspecs import sketch as sketch_spec
from tests.agreement.test_explorer_and_oracle import as_test
from tests.oracle.randomly import sketch

ROOT = Path(__file__).resolve().parents[2]
SCALES = (1, 7, 1_000, 37_003, 100_000)
BUDGET = 3_000
Told = tuple[str, Model, Story, Also]
"""A story of this model, what it is, and what more its times obey."""


def compare(told: Told, did: Counter[str]) -> Iterator[str]:
    """In what the times of a story, told anew, are not the best ones."""
    name, model, story, also = told
    path = path_of(model, story)
    again, soon = tell(model, path, also), confirm(model, path, also)
    bounds = [*bounds_of(model.parts, again.beats), *(Bound(*edge) for edge in also.edges)]
    steps = len(path) + 1
    actions = [number for number, beat in enumerate(again.beats, start=1) if beat.actions]
    best = solve(bounds, steps + also.marks, actions, steps)
    did["stories"] += 1
    did["with less room than a hand can use"] += 0 < best.room_us < max(best.rooms.values(), default=0)
    did["with the times that `check` told"] += times(story) in (times(again), times(soon))
    did["in a rhythm"] += also.marks > 0
    if again.room_us != best.room_us:
        yield f"{name}: {again.room_us} us of room, best are {best.room_us}"
    if off := [beat.at_us for beat in again.beats if beat.actions and beat.at_us % best.grid_us]:
        yield f"{name}: actions at {off} us, but a grid of {best.grid_us} us is possible"
    for which, found, total in (
        ("roomiest", again, best.total_us),
        ("earliest", soon, least_total(bounds, steps + also.marks, steps)),
    ):
        if sum(times(found)) != total:
            yield f"{name}, {which}: {times(found)}, their least sum is {total}"


def times(story: Story) -> list[int]:
    """When the steps of a story come."""
    return [beat.at_us for beat in story.beats]


def stories_of(device: Device, name: str) -> Iterator[Told]:
    """All stories that `check` tells of a device, in the models that they were looked for in."""
    questions = {
        (question.hazard, question.subject): question
        for entry in ask(device)[0]
        for question in (entry.questions if isinstance(entry, Derived) else (entry,))
    }
    for finding in check(device, "quick").findings:
        if finding.story is None:
            continue
        model = compile_model(device, questions[finding.hazard, finding.subject].environment)
        also = find_rhythm(device, model, path_of(model, finding.story))
        if also is not None:
            yield f"{name}, {finding.hazard}, {finding.subject}", model, finding.story, also


def shipped(pattern: str) -> Iterator[tuple[str, Device]]:
    """The shipped specs whose paths match."""
    for path in sorted((ROOT / "specs").glob(pattern)):
        name = str(path.relative_to(ROOT))
        yield name, read_device(path.read_text(encoding="utf-8"), name)


def of_small_model(seed: int) -> Iterator[Told]:
    """Stories of a random small model, its times short or long."""
    drawn = sketch(seed, SCALES[seed % len(SCALES)])
    model = Model(drawn.parts)
    for path in explore(model, [as_test(goal) for goal in drawn.goals], BUDGET).paths:
        if path:
            yield f"model {seed}", model, confirm(model, path), NOTHING_MORE


def _all(devices: int, models: int) -> Iterator[Told]:
    for pattern in ("failures/*/broken.yaml", "failures/field/*/broken.yaml", "*.yaml"):
        for name, device in shipped(pattern):
            yield from stories_of(device, name)
    for seed in range(devices):
        yield from stories_of(read_device(sketch_spec(seed).text, f"{seed}.yaml"), f"device {seed}")
    for seed in range(models):
        yield from of_small_model(seed)


def main(devices: int, models: int) -> int:
    """Run, print each difference and the figures, and return the exit code."""
    did: Counter[str] = Counter()
    against = 0
    for told in _all(devices, models):
        for line in compare(told, did):
            print(line, flush=True)
            against += 1
        if did["stories"] % 100 == 0:
            print(f"{did['stories']} stories, {against} differences", flush=True)
    for what, count in did.items():
        print(f"{count:6} {what}")
    print(f"{against:6} differences")
    return 1 if against else 0


if __name__ == "__main__":
    words = [int(word) for word in sys.argv[1:]]
    sys.exit(main(*(words + [20, 1_000][len(words) :])))
