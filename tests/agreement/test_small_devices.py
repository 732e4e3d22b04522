"""Whole devices with times of a few microseconds, by brute force: a sample of `python -m tests.agreement.smalldevices`.

Integer time is enough for closed bounds (T. Henzinger, Z. Manna, A. Pnueli, "What good are digital clocks?", ICALP 1992;
from memory), so the least costs of all stories are the same.
"""

from collections import Counter

from tests.agreement.smalldevices import compare

SEEDS = (2, 7, 9, 12, 14, 15)
MOST_STATES = 4_000


def test_stories_of_whole_devices_cost_what_brute_force_finds() -> None:
    did: Counter[str] = Counter()
    assert [line for seed in SEEDS for line in compare(seed, MOST_STATES, did)] == []
    assert did["compared with a loss of power"] >= 1
    assert min(did["changes that can happen"], did["changes that can't"], did["with chatter in their story"]) >= 5
