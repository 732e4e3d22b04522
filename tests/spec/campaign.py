"""`python -m tests.spec.campaign [TEXTS] [SEED]`: many more mutated specs than the suite tries (default: 10,000).

Each is read, and if it can be read its promises are, too; anything but a device or located problems ends the campaign.
"""

from __future__ import annotations

import sys
from random import Random

from nudgeproof.check import ask
from nudgeproof.diagnostics import SpecErrors
from nudgeproof.reckoned import reckon
from tests.spec.good import FED, GOOD, GROUPED
from tests.spec.test_mutations import ODD, check, mutate

BASES = (
    GOOD.replace('{reach: [glowing, armed], why: "first: light"}', "from glowing, tap reaches glowing"),
    GROUPED,
    FED,
)
"""The good specs, with promises that mean something."""
TOLD_EVERY = 10_000
KINDS = ("delete", "double", "swap", "insert", "delete line", "double line", "swap lines")


def mutated(random: Random) -> str:
    """A good spec after one to three changes."""
    text = random.choice(BASES)
    for _ in range(random.randint(1, 3)):
        kind = random.choice(KINDS)
        size = random.randrange(len(ODD)) if kind == "insert" else random.randint(1, 20)
        text = mutate(text, kind, random.randrange(len(text) + 1), size)
    return text


def run(texts: int, seed: int) -> tuple[int, int]:
    """How many texts were read as a device, and how many of these had questions that could be asked."""
    random = Random(seed)
    read = asked = 0
    for number in range(texts):
        if number and number % TOLD_EVERY == 0:
            print(f"{number} texts: {read} read as a device, {asked} asked about", flush=True)
        device = check(mutated(random))
        if device is None:
            continue
        read += 1
        try:
            ask(device)
            if device.electricity is not None:
                reckon(device)
            asked += 1
        except SpecErrors:
            pass
    return read, asked


if __name__ == "__main__":
    words = sys.argv[1:]
    texts = int(words[0]) if words else 10_000
    read, asked = run(texts, int(words[1]) if len(words) > 1 else 0)
    print(f"{texts} texts: {read} read as a device, {asked} of them could be asked about; no other exception")
