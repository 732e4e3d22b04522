"""`python -m tests.agreement.campaign [SPECS] [FIRST]`: many more random devices than the suite attacks (default: 1,000).

Each is checked, and what is said of it attacked from other sides, as in `test_random_devices`. A contradiction is printed
as soon as it is met, with the seed that draws the device again; the end is a table of what was done and how mixed the
devices were. The exit code is 1 if anything was contradicted.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Callable, Iterable
from multiprocessing import Pool

from tests.agreement.randomspecs import sketch
from tests.agreement.test_random_devices import FEATURES, attack

WORKERS = 2
STEPS, BUDGET, AUDITS = 1_500, 6_000, 1
TOLD_EVERY = 100

Attacked = tuple[int, frozenset[str], Counter[str], list[str]]
"""Of one device: its seed, its features, what was done, and what contradicts it."""


def attack_one(seed: int) -> Attacked:
    """The device of one seed: its features, what was done, and what contradicts it; an exception does as well."""
    drawn = sketch(seed)
    try:
        did, against = attack(seed, STEPS, BUDGET, AUDITS)
    except Exception as error:
        return seed, drawn.features, Counter(), [f"seed {seed}: {type(error).__name__}: {error}"]
    return seed, drawn.features, did, against


def run(
    seeds: Iterable[int], attacks: Callable[[int], Attacked] = attack_one, every: int = TOLD_EVERY
) -> tuple[Counter[str], Counter[str], list[str]]:
    """Attack the devices of all seeds: what was done, the features they had, and every contradiction."""
    did: Counter[str] = Counter()
    features: Counter[str] = Counter()
    against: list[str] = []
    with Pool(WORKERS) as pool:
        for number, (_, own, done, found) in enumerate(pool.imap_unordered(attacks, seeds, chunksize=4), start=1):
            did += done
            features.update(own)
            against += found
            for line in found:
                print(line, flush=True)
            if number % every == 0:
                print(f"{number} devices, {len(against)} contradictions", flush=True)
    return did, features, against


def main(specs: int, first: int) -> int:
    """Run, print the table, and return the exit code."""
    return tell(specs, first, *run(range(first, first + specs)))


def tell(specs: int, first: int, did: Counter[str], features: Counter[str], against: list[str]) -> int:
    """Print the table of a run, and return the exit code."""
    print(f"\n{specs} devices, seeds {first} to {first + specs - 1}, {len(against)} contradictions")
    for what, count in sorted(did.items()):
        print(f"{count:8} {what}")
    rare = min(FEATURES, key=lambda name: features[name])
    print(f"each of {len(FEATURES)} features in at least {100 * features[rare] / specs:.1f} % of them (rarest: {rare})")
    return 1 if against else 0


if __name__ == "__main__":
    words = [int(word) for word in sys.argv[1:]]
    sys.exit(main(*(words + [1_000, 1_000][len(words) :])))
