"""`python -m tests.agreement.reference_campaign [DEVICES] [FIRST] [SCRIPTS]`: the parts against the naive simulator.

Random devices of each generator there is, each played with random scripts (default: 300 devices, 4 scripts): what the
tool's parts show must be what the simulator shows that was written from `docs/rules.md` alone. A difference is printed as
soon as it is met, with what draws it again; the end is a table of what was compared. The exit code is 1 if any differs.

A run is so many steps at most, not so many seconds, so that the same numbers always give the same figures.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from multiprocessing import Pool
from random import Random

from nudgeproof.parts.script import Edge
from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import Device, Outage
from tests.agreement import random_supply, smalldevices, supplied
from tests.agreement.mixed import mixed
from tests.agreement.randomspecs import sketch
from tests.reference.clock import Seen, Tie
from tests.reference.electric import Unlike
from tests.reference.scripts import END_US, can_be_interrupted, random_script
from tests.reference.simulator import TooLong, simulate
from tests.reference.specimen import Played, play

WORKERS = 2
TOLD_EVERY = 100
MOST_STEPS = 4_000
"""Of one run. Most take some hundred; chatter of a microsecond's spacing takes far more."""
MOST_OF_SUPPLY = 1_000
"""The same, of a specimen with weak cells: one that resets again and again does so every some ten microseconds."""


Told = tuple[frozenset[str], Counter[str], list[str]]
"""Of one device: its features, what was done, and the differences."""


@dataclass(frozen=True, slots=True)
class Compared:
    """One run on both sides, up to where both are sure; `why` it wasn't compared, if it wasn't."""

    parts: list[Seen]
    naive: list[Seen]
    why: str = ""
    met: frozenset[str] = frozenset()


def drawn(seed: int) -> tuple[Device, frozenset[str]]:
    """A random device of the kind with all settings, and its features."""
    found = sketch(seed)
    return read_device(found.text, f"random {seed}.yaml"), found.features


def compare(device: Device, seed: int, number: int) -> Compared:
    """One random script for this device, by both."""
    script, sources = random_script(device, Random(f"{seed}/{number}"))
    return compare_script(device, script, sources, number)


def compare_script(device: Device, script: tuple[Edge, ...], sources: tuple[str, ...], number: int) -> Compared:
    """What both show of a specimen, whose times hang on `number`."""
    played = play(device, script, sources, END_US, number, MOST_STEPS)
    naive, tie = by_the_rules(device, played)
    if tie:
        return Compared(shown(device, played.seen, played.end_us), [], tie)
    return Compared(
        shown(device, played.seen, played.end_us), shown(device, naive, played.end_us), met=frozenset(played.met)
    )


def by_the_rules(device: Device, played: Played) -> tuple[list[Seen], str]:
    """What the naive simulator shows of the same, or the tie that it met where the parts met none."""
    try:
        return (
            simulate(
                device,
                played.levels,
                played.cell,
                played.end_us,
                played.draw,
                played.happened,
                played.voltage,
                played.rounds,
            ),
            "",
        )
    except Tie as tie:
        return [], str(tie)


def shown(device: Device, seen: Iterable[Seen], end_us: int) -> list[Seen]:
    """What is seen at one instant has no order. Where power can't be lost, the parts do without memory."""
    outages = any(isinstance(what, Outage) for what in device.surroundings) and can_be_interrupted(device)
    writes = device.is_latched or outages
    return sorted(one for one in seen if one[0] <= end_us and (writes or not one[1].startswith(("wrote ", "torn "))))


def first_difference(one: Compared) -> str:
    """In words where they part; empty where they don't."""
    if one.why:
        return f"a tie that the parts don't have: {one.why}"
    if one.parts == one.naive:
        return ""
    parts, naive = Counter(one.parts), Counter(one.naive)
    at = min((*(parts - naive), *(naive - parts)))[0]
    told = [", ".join(what for when, what in side if when == at) or "nothing" for side in (one.parts, one.naive)]
    return f"at {at} us the parts show {told[0]}; the simulator {told[1]}"


def by_scripts(device: Device, what: str, seed: int, scripts: int) -> tuple[Counter[str], list[str]]:
    """So many random scripts for a device: what was done, and the differences."""
    did: Counter[str] = Counter()
    against = []
    for number in range(scripts):
        one = compare(device, seed, number)
        did[f"scripts, {what}"] += 1
        did[f"things seen by both, {what}"] += len(one.naive)
        did.update({f"scripts with: {name}" for name in one.met})
        told = first_difference(one)
        if told:
            against.append(f"{what}, seed {seed}, script {number}: {told}")
    return did, against


def by_settings(seed: int, scripts: int) -> Told:
    """Random devices with all settings, but for what is reckoned of the supply."""
    device, features = drawn(seed)
    return features, *by_scripts(device, "drawn", seed, scripts)


def by_mixing(seed: int, scripts: int) -> Told:
    """The devices of the reference with other settings, on which much of them hangs."""
    device, features = mixed(seed)
    return features, *by_scripts(device, "mixed", seed, scripts)


def by_short_times(seed: int, scripts: int) -> Told:
    """Devices with times of some microseconds, where much falls on one instant: a run ends there."""
    return frozenset(), *by_scripts(smalldevices.drawn(seed), "short times", seed, scripts)


def by_supply(seed: int, scripts: int) -> Told:
    """Devices whose loads pull at weak cells, on specimens drawn at random."""
    device = read_device(random_supply.sketch(seed), f"supply {seed}.yaml")
    did: Counter[str] = Counter()
    against = []
    for number in range(scripts):
        _, specimen = supplied.weak_unit(device, number)
        found = supplied.behaviour_of(device, supplied.resetting(device, specimen, True))
        edges = random_supply.script(100 * seed + number, number % 2 == 1)
        try:
            both = None
            if found is not None:
                both = supplied.both(device, specimen, found, edges, random_supply.END_US, number, MOST_OF_SUPPLY)
        except (Tie, Unlike, TooLong):
            both = None
        did["specimens with weak cells" if both else "specimens with weak cells that the rules leave open"] += 1
        told = first_difference(Compared(both.model, both.naive)) if both else ""
        if told:
            against.append(f"weak cells, seed {seed}, specimen {number}: {told}")
    return frozenset(), did, against


KINDS: tuple[Callable[[int, int], Told], ...] = (by_settings, by_mixing, by_short_times, by_supply)
SHARES = (1, 1, 4, 4)
"""Of how many devices one is of each kind."""


def compare_one(job: tuple[int, int, int]) -> tuple[int, frozenset[str], Counter[str], list[str]]:
    """One device of one kind: its features, what was done, and the differences; an exception is one as well."""
    kind, seed, scripts = job
    try:
        features, did, against = KINDS[kind](seed, scripts)
    except Exception as error:
        return kind, frozenset(), Counter(), [f"{KINDS[kind].__name__}, seed {seed}: {type(error).__name__}: {error}"]
    return kind, features, did, against


def run(jobs: Iterable[tuple[int, int, int]]) -> tuple[Counter[str], Counter[str], list[str]]:
    """Compare all: what was done, the features there were, and every difference."""
    did: Counter[str] = Counter()
    features: Counter[str] = Counter()
    against: list[str] = []
    with Pool(WORKERS) as pool:
        for number, (kind, own, done, found) in enumerate(pool.imap(compare_one, jobs), start=1):
            did += done
            did[f"devices: {KINDS[kind].__name__.replace('_', ' ')}"] += 1
            features.update(own)
            against += found
            for line in found:
                print(line, flush=True)
            if number % TOLD_EVERY == 0:
                print(f"{number} devices, {len(against)} differences", flush=True)
    return did, features, against


def main(devices: int, first: int, scripts: int) -> int:
    """Run, print the table, and return the exit code."""
    jobs = [
        (kind, seed, scripts)
        for seed in range(first, first + devices)
        for kind, share in enumerate(SHARES)
        if seed % share == 0
    ]
    did, features, against = run(jobs)
    print(f"\n{len(jobs)} devices, seeds {first} to {first + devices - 1}, {len(against)} differences")
    for what, count in sorted(did.items()):
        print(f"{count:8} {what}")
    for feature, count in sorted(features.items(), key=lambda pair: (-pair[1], pair[0])):
        print(f"{100 * count / devices:7.1f}% {feature}")
    return 1 if against else 0


if __name__ == "__main__":
    words = [int(word) for word in sys.argv[1:]]
    sys.exit(main(*(words + [300, 0, 4][len(words) :])))
