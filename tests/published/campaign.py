"""`python -m tests.published.campaign`: published systems that are too large for the suite.

Fischer's protocol with two to six processes, each pair of strict and closed limits and two scales; and the line with
collisions at its full size by brute force over whole microseconds. Prints what was done; the exit code is 1 if a verdict
isn't the published one. Takes a few minutes.
"""

from __future__ import annotations

import sys
from collections import Counter

from tests.oracle.brute import search
from tests.published import test_collisions as line
from tests.published import test_fischer as fischer

MOST_STATES = 200_000


def run() -> tuple[Counter[str], list[str]]:
    """What was done how often, and what isn't as published."""
    did: Counter[str] = Counter()
    against = []
    for n in range(2, 7):
        for (write, check), safe in fischer.SAFE.items():
            for k1, k2 in fischer.GRID:
                for scale in (16, 32):
                    found = fischer.is_safe(fischer.protocol(n, write, k1, check, k2, scale))
                    did[f"Fischer, {n} processes, {'safe' if found else 'unsafe'}"] += 1
                    if found != safe(k1, k2):
                        against.append(f"Fischer, {n} processes: write {write} {k1}, check {check} {k2}, scale {scale}")
        print(f"{n} processes, {len(against)} contradictions", flush=True)
    # In whole microseconds a strict limit below 26 is a closed one at 25, so both add up to 50.
    for strict, longest in ((False, 52), (True, 50)):
        for age in (longest, longest + 1):
            parts = line.parts(line.Line(k=1, strict=strict), age)
            answer = search(parts, [line.both_for_long], MOST_STATES)
            did["collisions at full size, by whole microseconds"] += 1
            if (answer.costs[0] is not None) != (age <= longest):
                against.append(f"collisions: strict {strict}, age {age}")
    return did, against


def main() -> int:
    """Run, print the table, and return the exit code."""
    did, against = run()
    for what, count in sorted(did.items()):
        print(f"{count:6} {what}")
    for found in against:
        print(found)
    return 1 if against else 0


if __name__ == "__main__":
    sys.exit(main())
