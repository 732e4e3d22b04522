"""What `check` says of all specimens of a random device, against what it says of single ones and of times drawn anew.

The single ones are tried in the middle, at ends and at random, in whole microseconds rounded outward: what happens on none
must not be found on any of them but by that rounding, and what is wanted on all must be possible on each. Stories are played
again on the specimen that they name.

`python -m tests.agreement.test_specimens [DEVICES] [FIRST]` does so with more devices (default: 40, from seed 100).
"""

from __future__ import annotations

import re
import sys
from fractions import Fraction
from itertools import count, islice
from random import Random

import pytest

from nudgeproof.answers import Answers, match
from nudgeproof.boxes import Point, at_point, whole_box
from nudgeproof.check import BUDGETS, ask, check
from nudgeproof.diagnostics import SpecErrors
from nudgeproof.engines.matrix import Timings
from nudgeproof.fitting import Fitting
from nudgeproof.parts.compile import compile_model
from nudgeproof.questions.ask import Question
from nudgeproof.spec.fixed import fixed_times
from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import Device
from nudgeproof.specimens import path_of
from nudgeproof.verdict import Finding, Verdict
from tests.agreement.randomspecs import sketch
from tests.amount import amount

SEEDS = (2, 4, 5, *range(7, 12), *range(13, 60))
"""Without some that take half a minute each."""
WANTED = amount(2, 7)
TRIED = 2
HAZARDS = ("accidental-wake", "accidental-off", "accidental-change", "unreachable-mode", "promise")


def with_clock(text: str) -> str:
    """The spec with a clock that is off."""
    return text if "clock:" in text else f"{text}clock: {{off by: 4 %}}\n"


def with_one_value(text: str, rng: Random) -> str:
    """The spec with one clock, and most tolerances of its device per unit."""
    text = re.sub(r"off by: [^}]*", r"\g<0>, drift: one clock", text)
    key = "press|between|held|debounce|ready in|hold-up|write takes"
    varying = r"(?:up to )?[0-9.]+ m?s ± [0-9.]+ m?s|[0-9.]+ (?:m?s )?to [0-9.]+ m?s"
    # Of the person's own `between` a unit has no value.
    return "\n".join(
        line
        if line.startswith("person")
        else re.sub(
            rf"(?<![a-z])({key}): ({varying})(?=[,}}])",
            lambda m: f"{m[0]} per unit" if rng.random() < 0.8 else m[0],
            line,
        )
        for line in text.split("\n")
    )


def family(seed: int) -> tuple[Device, Device] | None:
    """A random device with times of which a specimen has one value, and the same with all times drawn anew."""
    text = with_clock(sketch(seed).text)
    try:
        device, anew = (read_device(t, f"{seed}.yaml") for t in (with_one_value(text, Random(seed)), text))
    except SpecErrors:
        return None
    return (device, anew) if fixed_times(device) else None


def some_points(device: Device, rng: Random) -> list[Point]:
    sides = whole_box(device).sides
    ends: Point = {name: rng.choice((low, high)) for name, low, high in sides}
    inside = [
        {name: low + (high - low) * Fraction(rng.randrange(1001), 1000) for name, low, high in sides}
        for _ in range(TRIED)
    ]
    return [ends, *inside]


def by_key(findings: tuple[Finding, ...]) -> dict[tuple[str, str], Finding]:
    return {(finding.hazard, finding.subject): finding for finding in findings}


FAMILIES = amount([4, 10], [*islice((seed for seed in SEEDS if family(seed)), WANTED)])


def test_enough_of_them_have_one_value_of_something() -> None:
    fixed = [one for found in map(family, FAMILIES) if found is not None for one in fixed_times(found[0])]
    assert len(FAMILIES) == WANTED
    assert {one.key for one in fixed} >= {"press", "held", "debounce of pad", ""}


def on_one(device: Device, point: Point) -> dict[tuple[str, str], Finding]:
    """What is found on one specimen alone."""
    cases = [match(device, question) for question in questions_of(device)]
    answers = Answers(at_point(device, point), BUDGETS["quick"], None, False, Timings(), briefly=True)
    answers.find(cases)
    return by_key(tuple(answers.findings.values()))


def questions_of(device: Device) -> list[Question]:
    return [question for question in ask(device, HAZARDS)[0] if isinstance(question, Question)]


@pytest.mark.usefixtures("few_random_steps")
@pytest.mark.parametrize("seed", FAMILIES)
def test_what_is_said_of_all_specimens_is_so_on_each(seed: int) -> None:
    say_the_same(seed)


def say_the_same(seed: int) -> None:
    """Raises AssertionError if what is said of all specimens isn't so on one of them."""
    found = family(seed)
    assert found is not None
    device, anew = found
    said, loose = by_key(check(device, "quick", HAZARDS).findings), by_key(check(anew, "quick", HAZARDS).findings)
    questions = {(question.hazard, question.subject): question for question in questions_of(device)}
    for key, question in questions.items():
        if question.unwanted:
            assert (loose[key].verdict, said[key].verdict) != (Verdict.HOLDS, Verdict.BROKEN), key
        elif loose[key].verdict is Verdict.BROKEN:
            assert said[key].verdict is Verdict.BROKEN, key
    for point in some_points(device, Random(seed)):
        single = on_one(device, point)
        for key, question in questions.items():
            if said[key].verdict is Verdict.HOLDS and single[key].verdict is Verdict.BROKEN:
                story = single[key].story
                assert question.unwanted, (key, point)
                assert story is not None
                # Only the rounding to whole microseconds may make a story of it.
                model = compile_model(device, question.environment)
                assert not isinstance(Fitting(model, path_of(model, story), fixed_times(device)).times_at(point), tuple)


def main(devices: int, first: int) -> int:
    """Try so many devices that have one value of something; the exit code is 1 if anything is contradicted."""
    against = []
    for seed in islice((seed for seed in count(first) if family(seed)), devices):
        try:
            say_the_same(seed)
        except AssertionError as error:
            against.append(f"seed {seed}: {error}")
    print(f"{devices} devices, {len(against)} contradictions", *against, sep="\n")
    return 1 if against else 0


if __name__ == "__main__":
    words = [int(word) for word in sys.argv[1:]]
    sys.exit(main(*(words + [40, 100][len(words) :])))
