"""`python -m tests.firmware.campaign [RUNS [SEED [EDGES]]]`: recordings that must not be refused, on a larger scale.

Each run takes a device (one of the reference's, or a random one), lets the naive simulator play a specimen of it, samples
what could be seen, hides some lights, and follows the rest. The exit code is 1 if a recording is refused, unless the naive
simulator and the tool's parts show different things of that specimen, which is told and is a matter of `tests.agreement`.

With EDGES, say 600, the simulator stands for the firmware in trials instead: each device goes through walks, limits, lost
contact and random use until so many edges were made.
"""

from __future__ import annotations

import sys
from collections import Counter
from random import Random

from nudgeproof.firmware.acts import tell_acts
from nudgeproof.firmware.outcome import Result, follow
from nudgeproof.firmware.trials import KINDS, Trial, run_trials
from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import Device
from tests.agreement.randomspecs import sketch
from tests.firmware.conforming import simulated
from tests.firmware.observed import observe, read, sampled, simulators_differ
from tests.reference.clock import Tie
from tests.reference.devices import ALL

PERIODS_US = (0, 0, 1, 3, 10, 25)
LENGTHS_US = (1_500_000, 3_000_000, 6_000_000)
LARGEST = 700
BUDGET = 3_000
MOST = 150
DIFFER = "of a specimen that the two simulators don't agree on"


def attempt(seed: int) -> tuple[str, str]:
    """What came of one run, and of which recording in words."""
    rng = Random(seed)
    name = rng.choice(list(ALL)) if seed % 2 else "random"
    device = ALL[name] if seed % 2 else read_device(sketch(seed).text, f"random {seed}")
    length = rng.choice(LENGTHS_US)
    try:
        whole = observe(device, name, seed, length)
    except Tie:
        return "tie", ""
    if sum(map(len, whole.changes.values())) > LARGEST:
        return "too long", ""
    period = rng.choice(PERIODS_US)
    seen = sampled(whole, period)
    if seen is None:
        return "an edge is lost", ""
    hides = rng.random() < 0.4 and len(seen.lights) > 1
    hidden = rng.sample(seen.lights, rng.randint(1, len(seen.lights) - 1)) if hides else []
    outcome = follow(device, *read(device, seen, period, hidden), BUDGET)
    if outcome.result is Result.REFUSED and simulators_differ(device, name, seed, length):
        return DIFFER, f"{name}, seed {seed}: the naive simulator and the parts differ"
    return (
        outcome.result.value,
        f"{name}, seed {seed}, {period} us, without {hidden}: {outcome.seen} at {outcome.at_us}",
    )


def drawn(seed: int) -> tuple[str, Device]:
    """One of the reference's devices, or a random one."""
    if seed % 4 == 3:
        name = Random(seed).choice(list(ALL))
        return name, ALL[name]
    return "random", read_device(sketch(seed).text, f"random {seed}")


WITHOUT_SETUP = tuple(kind for kind in KINDS if kind not in ("memory", "clock"))
"""What needs no other memory and no other clock: the naive simulator begins blank, and has no clock that comes round."""


def try_device(seed: int, edges: int) -> tuple[Trial, str]:
    """Trials of one device, and what failed, in words."""
    rng = Random(f"{seed}/trial")
    name, device = drawn(seed)
    period, hides = rng.choice(PERIODS_US), rng.choice((0, 0, 1, 2))
    what, perform, writes = simulated(device, seed, period, hides)
    trial = run_trials(device, what, perform, edges, seed, writes, BUDGET, most=MOST, kinds=WITHOUT_SETUP)
    if trial.failed is None:
        return trial, ""
    failed, outcome = trial.failed, trial.failed.outcome
    assert outcome is not None
    told = tell_acts(failed.shrunk.acts, failed.shrunk.end_us)
    return trial, (
        f"{name}, seed {seed}, {period} us, without {hides}: {outcome.seen} at {outcome.at_us}, by {failed.kind}: {told}"
    )


def try_devices(runs: int, first: int, edges: int) -> int:
    """Trials of many devices, and what came of all of them."""
    done, stimuli, met, refused = 0, 0, Counter[str](), 0
    for seed in range(first, first + runs):
        trial, told = try_device(seed, edges)
        stimuli += trial.stimuli
        done += trial.edges
        met.update(conform=trial.conforming, undecided=trial.undecided)
        if told:
            refused += 1
            print(told, flush=True)
        if (seed - first) % 10 == 9:
            print(f"{seed - first + 1} devices, {done} edges, {refused} refused", flush=True)
    print(
        f"{runs} devices, {stimuli} stimuli, {done} edges: {met['conform']} conform, {met['undecided']} undecided; "
        f"{refused} devices refused"
    )
    return 1 if refused else 0


def main() -> int:
    """Run, and print what came of it."""
    runs, first, edges = [int(word) for word in (*sys.argv[1:], *("200", "0", "0")[len(sys.argv) - 1 :])][:3]
    if edges:
        return try_devices(runs, first, edges)
    met: Counter[str] = Counter()
    for seed in range(first, first + runs):
        result, told = attempt(seed)
        met[result] += 1
        if result in (Result.REFUSED.value, DIFFER):
            print(told, flush=True)
    print(", ".join(f"{number} {result}" for result, number in met.most_common()))
    return 1 if met[Result.REFUSED.value] else 0


if __name__ == "__main__":
    sys.exit(main())
