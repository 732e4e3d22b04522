"""`python -m tests.agreement.wide [DEVICES] [FIRST]`: very many random devices, each asked a little (default: 1,000).

Where `campaign` asks everything of each device, which takes seconds, this takes one environment of each, drawn by the seed,
and answers its questions with a small effort; then what is said is attacked in the same ways: random runs for what is ruled
out, the question's own environment where a wider one settled it, stories played again, one certificate audited. So a hundred
devices are met in the time of one, and what needs a rare meeting of settings comes up sooner. What goes beyond the effort
is undecided here, and not attacked.

A contradiction is printed as soon as it is met, with the seed that draws the device again; then the exit code is 1.
"""

from __future__ import annotations

import sys
from collections import Counter
from random import Random

from nudgeproof import answers as answering
from nudgeproof.answers import Proof, match
from nudgeproof.check import ask
from nudgeproof.engines.matrix import Timings
from nudgeproof.questions.ask import Derived
from nudgeproof.spec.read import read_device
from nudgeproof.specimens import open_answers
from tests.agreement.campaign import Attacked, run, tell
from tests.agreement.randomspecs import sketch
from tests.agreement.test_random_devices import audit_some, explore_own, hunt, play_again

EFFORT = 800
"""Classes in all; a pass of one exploration gets a quarter."""
STEPS = 60
RANDOM_STEPS = 30
"""Of those that `check` makes by itself where its effort runs out."""
TOLD_EVERY = 1_000


def attack_one(seed: int) -> Attacked:
    """One environment of the device of `seed`: its features, what was done, and what contradicts it; an exception does."""
    answering.RANDOM_STEPS = answering.LEAST_RANDOM_STEPS = RANDOM_STEPS
    did: Counter[str] = Counter()
    features: frozenset[str] = frozenset()
    try:
        drawn = sketch(seed)
        features = drawn.features
        return seed, features, did, [f"seed {seed}: {what}" for what in _attack(seed, drawn.text, did)]
    except Exception as error:
        return seed, features, did, [f"seed {seed}: {type(error).__name__}: {error}"]


def _attack(seed: int, text: str, did: Counter[str]) -> list[str]:
    device = read_device(text, f"seed {seed}.yaml")
    asked = [q for entry in ask(device)[0] for q in (entry.questions if isinstance(entry, Derived) else (entry,))]
    if not asked:
        return []
    environment = Random(f"{seed}/wide").choice(list(dict.fromkeys(question.environment for question in asked)))
    cases = [match(device, question) for question in asked if question.environment == environment]
    answers = open_answers(device, EFFORT, None, True, Timings(), briefly=False)
    answers.find(cases)
    pairs = [(case, finding) for case in cases for finding in answers.collect(case.question)]
    did.update(finding.verdict.word for _, finding in pairs)
    proofs: list[Proof] = answers.proofs
    return [
        *hunt(device, pairs, STEPS, did),
        *explore_own(device, pairs, EFFORT // 4, did),
        *(what for case, finding in pairs for what in play_again(device, case, finding, did)),
        *audit_some(device, proofs[:1], did),
    ]


def main(devices: int, first: int) -> int:
    """Run, print the table, and return the exit code."""
    return tell(devices, first, *run(range(first, first + devices), attack_one, TOLD_EVERY))


if __name__ == "__main__":
    words = [int(word) for word in sys.argv[1:]]
    sys.exit(main(*(words + [1_000, 100_000][len(words) :])))
