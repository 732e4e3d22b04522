"""What a shipped firmware shows on the rig, moved: accepted as far as the spec explains it, and no microsecond beyond.

What is explained is what a refusal says was allowed, so the ends are the monitor's own; `tests/firmware/test_sharp.py` adds
them up by hand for each kind of time.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from nudgeproof.firmware.acts import BUTTON, EVENT, Act
from nudgeproof.firmware.monitor import BUDGET
from nudgeproof.firmware.outcome import Outcome, Result, follow
from nudgeproof.firmware.recording import Change, Recording
from tests.firmware.soak import Soaked

USE = {
    "rain-cover-light": (("pad", 700, 1500), ("pad", 2500, 100), ("pad", 2700, 100), ("pad", 4500, 100)),
    "moisture-meter": (("key", 700, 900), ("key", 3000, 100), ("key", 5000, 900)),
    "seed-tray-timer": (("plus", 500, 100), ("go", 1500, 1300), ("go", 5000, 100)),
    "trail-counter": (("footfall", 700, 5), ("key", 1500, 1400), ("footfall", 4000, 5), ("key", 6000, 1400)),
}


def cut(recording: Recording, before: int, *more: Change, end_us: int) -> Recording:
    """Up to one change, and on with others."""
    return replace(recording, changes=(*recording.changes[:before], *more), end_us=end_us)


@pytest.mark.parametrize("name", USE)
def test_a_change_is_accepted_as_far_as_it_is_explained_and_no_microsecond_beyond(name: str) -> None:
    one = Soaked(name, 0)
    acts = tuple(
        Act(EVENT if what == "footfall" else BUTTON, what, at * 1000, lasts * 1000) for what, at, lasts in USE[name]
    )
    whole = one.perform(acts, 8_000_000).recording
    lights = {channel.name: channel for channel in one.what.of("light")}

    def judge(recording: Recording) -> Outcome:
        return follow(one.device, one.what, recording, BUDGET, grounds=one.grounds)

    moved = 0
    for number, change in enumerate(whole.changes):
        light = lights.get(change.channel)
        # What shows sleep or saves may come early or late by more than is told.
        if light is None or light.pulses_us or light.shows:
            continue
        silent = judge(cut(whole, number, end_us=change.at_us + 60_000_000))
        is_on = change.level is light.high
        own = [allowed for allowed in silent.allowed if (allowed.light, allowed.on) == (light.name, is_on)]
        if silent.result is not Result.REFUSED or len(own) != 1:
            continue
        low, high = own[0].earliest_us, own[0].latest_us + one.what.period_us
        if number and low - 1 <= whole.changes[number - 1].at_us:
            continue
        assert low <= change.at_us <= high
        moved += 1
        for at, wanted in ((low - 1, False), (low, True), (high, True), (high + 1, False)):
            outcome = judge(cut(whole, number, replace(change, at_us=at), end_us=at))
            assert outcome.result is (Result.CONFORMS if wanted else Result.REFUSED), (change, at)
    assert moved >= 2
