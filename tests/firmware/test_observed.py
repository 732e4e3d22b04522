"""Recordings made by the naive simulator, which shares nothing with the monitor but the parsed spec: what it does is never
refused, whatever the sample period and however little is seen of it; what it can't have done is."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from functools import cache
from random import Random

import pytest

from nudgeproof.firmware.outcome import Result
from nudgeproof.spec.outside import Sag
from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import Device, Outage
from tests.agreement.randomspecs import sketch
from tests.amount import amount, each
from tests.firmware.observed import Changes, Observed, judge, observe, sampled
from tests.reference.clock import Tie
from tests.reference.devices import ALL

END_US = 3_000_000
UNSEEN_END_US = 1_000_000
"""Where a voltage isn't seen, a recording has many explanations; in the suite it ends here."""
PERIODS = (0, 1, 10)
RANDOM_SEEDS = range(amount(12, 24))
LARGEST = 700
"""Recordings of random devices with more changes are left out, for time."""


@cache
def observed(name: str) -> Observed | None:
    try:
        return observe(ALL[name], name, 1, END_US)
    except Tie:
        return None


@cache
def random_device(seed: int) -> Device:
    return read_device(sketch(seed).text, f"random {seed}")


@pytest.mark.parametrize("name", each(4, list(ALL), ["samples, two copies"]))
def test_what_a_device_of_the_spec_does_is_never_refused(name: str) -> None:
    whole = observed(name)
    if whole is None:
        return
    period = PERIODS[list(ALL).index(name) % 3]
    seen = sampled(cut(whole, amount(UNSEEN_END_US, END_US)) if whole.unseen else whole, period)
    if seen is not None:
        assert judge(ALL[name], seen, period).result is Result.CONFORMS, period


def test_nor_is_what_a_random_device_does() -> None:
    done: Counter[str] = Counter()
    for seed in RANDOM_SEEDS:
        device = random_device(seed)
        try:
            whole = observe(device, "random", seed, END_US)
        except Tie:
            done["tie"] += 1
            continue
        if sum(map(len, whole.changes.values())) > LARGEST:
            continue
        period = (0, 7)[seed % 2]
        seen = sampled(whole, period)
        if seen is not None:
            outcome = judge(device, seen, period)
            assert outcome.result in (Result.CONFORMS, Result.NOTHING, Result.UNDECIDED), (seed, period, outcome)
            done[outcome.result.value] += 1
    assert done["conforms"] >= amount(7, 15), done
    assert done["undecided"] <= 2, done


@pytest.mark.parametrize("name", list(ALL)[:: amount(8, 4)])
def test_however_little_is_seen_it_is_never_refused(name: str) -> None:
    whole = observed(name)
    if whole is None:
        return
    rng = Random(name)
    for _ in range(3):
        hidden = rng.sample(whole.lights, rng.randint(1, len(whole.lights) - 1))
        assert judge(ALL[name], whole, 0, hidden).result in (Result.CONFORMS, Result.NOTHING), hidden


def without(seen: Observed, at: int) -> Observed:
    """Without the changes of pins at one instant: each then keeps its level until the next change."""
    changes: dict[str, Changes] = {}
    for name, own in seen.changes.items():
        level, kept = seen.first[name], []
        for when, new in own:
            if (when == at and name in seen.lights) or new == level:
                continue
            kept.append((when, new))
            level = new
        changes[name] = kept
    return replace(seen, changes=changes)


def with_change(seen: Observed, at: int, lasts: int, rng: Random) -> Observed:
    """The pins of two states change places for a while."""
    states = [name for name in seen.lights if name.startswith("LS")]
    changes = {name: list(own) for name, own in seen.changes.items()}
    levels = {name: level_at(seen, name, at) for name in states}
    on = [name for name in states if levels[name]]
    other = rng.choice([name for name in states if not levels[name]])
    for name in (*on, other):
        changes[name] = sorted([*changes[name], (at, not levels[name]), (at + lasts, levels[name])])
    return replace(seen, changes=changes)


def level_at(seen: Observed, name: str, at: int) -> bool:
    return next((level for when, level in reversed(seen.changes[name]) if when <= at), seen.first[name])


def is_still(seen: Observed, start: int, end: int) -> bool:
    return not any(start - 1 <= at <= end + 1 for own in seen.changes.values() for at, _ in own)


def is_powered(name: str) -> bool:
    """Without power a pin may show anything, and an unseen voltage may take a device to and fro."""
    device = ALL[name]
    return not device.resets and not any(isinstance(what, (Outage, Sag)) for what in device.surroundings)


STEADY = [name for name in ALL if is_powered(name)]


@pytest.mark.parametrize("name", STEADY[:: amount(6, 3)])
def test_a_change_that_is_missing_is_refused(name: str) -> None:
    whole = observed(name)
    assert whole is not None
    for at in change_times(whole)[:-1:2]:
        assert judge(ALL[name], without(whole, at), 0).result is Result.REFUSED, at


def change_times(seen: Observed) -> list[int]:
    """When the state changes, as is seen."""
    return sorted({at for pin in seen.lights if pin.startswith("LS") for at, _ in seen.changes[pin]})


@pytest.mark.parametrize("name", STEADY[1 :: amount(6, 3)])
def test_a_change_too_many_is_refused(name: str) -> None:
    whole = observed(name)
    assert whole is not None
    rng, tried = Random(name), 0
    while tried < 3:
        at, lasts = rng.randint(1, whole.end_us - 40_000), rng.randint(1, 30_000)
        if is_still(whole, at, at + lasts):
            tried += 1
            assert judge(ALL[name], with_change(whole, at, lasts, rng), 0).result is Result.REFUSED, (at, lasts)


@pytest.mark.parametrize("name", STEADY[2 :: amount(6, 3)])
@pytest.mark.parametrize("period", [0, 10])
def test_a_change_is_accepted_as_far_as_it_is_said_to_be_allowed_and_no_microsecond_beyond(
    name: str, period: int
) -> None:
    """What a refusal says was allowed is tried: the change is moved to both ends, and beyond."""
    whole = observed(name)
    assert whole is not None
    seen = sampled(whole, period)
    if seen is None:
        return
    for at in change_times(seen)[:3]:
        first = cut(seen, at)
        on = next(pin for pin in seen.lights if pin.startswith("LS") and (at, True) in seen.changes[pin])
        silent = judge(ALL[name], without(replace(first, end_us=at + 60_000_000), at), period)
        own = [one for one in silent.allowed if one.light == on and one.on]
        if silent.result is not Result.REFUSED or not own:
            continue
        low, high = min(a.earliest_us for a in own), max(a.latest_us for a in own) + period
        edges = [e for pin in first.changes if pin not in seen.lights for e, _ in first.changes[pin]]
        others = [e for pin in seen.lights for e, _ in first.changes[pin] if e != at]
        if any(e > low for e in others):
            continue  # lights that turn close together: what was allowed is told of a moment before the last of them
        for to, wanted in (
            (low - 1, Result.REFUSED),
            (low, Result.CONFORMS),
            (high, Result.CONFORMS),
            (high + 1, Result.REFUSED),
        ):
            if all(e < to for e in (*edges, *others)) and (wanted is Result.REFUSED or len(own) == 1):
                moved = replace(move(first, at, to), end_us=to + 1)
                assert judge(ALL[name], moved, period).result is wanted, (at, to)


def cut(seen: Observed, end: int) -> Observed:
    """The recording up to this change."""
    return replace(
        seen,
        changes={n: [(at, level) for at, level in own if at <= end] for n, own in seen.changes.items()},
        end_us=end,
    )


def move(seen: Observed, at: int, to: int) -> Observed:
    changes = {
        name: sorted((to if when == at and name in seen.lights else when, level) for when, level in own)
        for name, own in seen.changes.items()
    }
    return replace(seen, changes=changes)
