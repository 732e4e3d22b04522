"""The tool's parts and a naive simulator, written from the reference page alone, must show the same.

`python -m tests.agreement.test_reference [RUNS]` plays more of each device (default: 100).
"""

from __future__ import annotations

import sys
from collections import Counter
from functools import cache
from random import Random

import pytest

from tests.amount import amount, each
from tests.reference.clock import Seen, Tie
from tests.reference.devices import ALL
from tests.reference.faults import FAULTS, Fault, Simulate, plant
from tests.reference.scripts import END_US, random_script
from tests.reference.simulator import simulate
from tests.reference.specimen import Played, play

RUNS = amount(6, 12)
RARE = {
    "sleeps on edge": (40, 63),
    "two buttons": (14,),
    "taps swallowed": (26,),
    "several holds": (10, 22),
    "taps that count": (55,),
    "an idle button, slow steps": (23,),
    "sleeps on level, slow steps": (17, 42),
    "a chord in sleep, slow steps": (13,),
    "groups, cells": (12,),
    "a slow chord": (207,),
    "cells": (16, 37),
    "events, deaf writes": (15,),
    "sleeps on level, press to press": (9,),
    "checksum": (7,),
    "checksum, never sleeps": (9,),
    "holds at release": (6,),
    "the clock comes round": (7,),
    "a chord held": (9,),
    "cut off, latch": (9,),
    "switched off, on by either button": (7,),
    "never sleeps": (11,),
    "cells of values, quiet": (6,),
    "slow steps": (11,),
    "holds of any press": (11, 22),
    "in an interrupt": (9,),
    "in an interrupt, never asleep": (9,),
    "in an interrupt, taps outlast sleep": (7,),
    "in an interrupt, counts from waking, no check": (13,),
    "cut off, press counts": (6,),
}
"""Runs beside the first ones, in which something rare comes up, or that tell a planted fault."""
TRIED = 180
"""Among so many runs, or those in which something rare comes up, one must tell a misreading."""


def seeds(name: str) -> tuple[int, ...]:
    """The runs of a device that are compared."""
    return tuple(dict.fromkeys((*range(RUNS), *RARE.get(name, ()))))


@cache
def played(name: str, seed: int) -> Played:
    script, sources = random_script(ALL[name], Random(f"{name}/{seed}"))
    return play(ALL[name], script, sources, END_US, seed)


def is_same(name: str, seed: int, simulator: Simulate = simulate) -> bool:
    tool = played(name, seed)
    try:
        naive = again(name, tool, simulator)
    except (Tie, AssertionError):  # a misreading may also lead where it can't go on
        return False
    return in_order(tool.seen) == in_order(naive)


def again(name: str, tool: Played, simulator: Simulate = simulate) -> list[Seen]:
    return simulator(
        ALL[name], tool.levels, tool.cell, tool.end_us, tool.draw, tool.happened, tool.voltage, tool.rounds
    )


def in_order(seen: list[Seen]) -> list[Seen]:
    """What is seen at one instant has no order."""
    return sorted(seen)


@pytest.mark.parametrize("name", ALL)
def test_both_show_the_same(name: str) -> None:
    for seed in seeds(name):
        tool = played(name, seed)
        naive = again(name, tool)
        assert in_order(tool.seen) == in_order(naive), f"{name}, seed {seed}"


WANTED = {
    "sleeps on edge": {
        "asleep": 50,
        "awake": 90,
        "entered glowing": 10,
        "fired three taps": 1,
        "fired tap then hold": 1,
    },
    "sleeps on level, press to press": {
        "a pause is too long": 25,
        "fired tap then hold": 5,
        "stays awake at dropping": 3,
    },
    "quick reader": {"chatter": 90, "stays awake at checking": 40, "stays awake at dropping": 10, "nobody's press": 50},
    "never sleeps": {"entered settling": 40, "fired tap then hold": 20, "fired hold": 50, "fired tap": 80},
    "two buttons": {"fired side two taps": 10, "fired side hold": 5, "fired side tap": 25, "fired two taps": 15},
    "cells": {"torn write": 10, "garbage read": 10, "started from (damaged)": 3, "restored": 80, "loss unnoticed": 50},
    "cells of values, quiet": {"torn write": 5, "started from (blank)": 20, "started with a button down": 50},
    "checksum": {"torn write": 4, "started from (damaged)": 4, "reset": 90, "start-up ended": 10},
    "checksum, never sleeps": {"torn write": 10, "started from (damaged)": 10, "entered settling": 10},
    "two copies": {"torn write": 15, "restored": 80, "start-up ended": 10, "fired side two taps": 10},
    "events": {"an event kept": 50, "an event lost": 80, "saw footfall": 80, "saw cell fine": 50, "entered dim": 10},
    "events, deep sleep": {"an event lost": 50, "asleep": 20, "entered dim": 1},
    "events, deaf writes": {"an event kept": 30, "gets deaf": 90, "saw cell low": 50, "restored": 80, "asleep": 80},
    "events, deaf writes of cells": {"an event kept": 30, "gets deaf": 90, "garbage read": 50, "torn write": 50},
    "in an interrupt": {"a gesture waits": 15, "asleep": 80},
    "in an interrupt, never asleep": {"a gesture waits": 75, "a gesture is lost": 20},
    "in an interrupt, never asleep, room for three": {"a gesture waits": 75},
    "in an interrupt, one of two buttons": {"a gesture waits": 25, "asleep": 50},
    "in an interrupt, two buttons, lockout, deaf writes": {"a gesture waits": 25, "reset": 80},
    "in an interrupt, samples, press begins anew": {"a gesture waits": 50},
    "in an interrupt, taps outlast sleep": {"a gesture waits": 15, "asleep": 80},
    "in an interrupt, counts from waking, no check": {"a gesture waits": 10, "asleep": 60},
    "in an interrupt, supervised": {"a gesture waits": 80, "not fed": 50},
    "several holds": {"fired hold then tap": 10, "fired dim": 10, "fired long hold": 30, "fired late hold": 20},
    "holds at release": {"fired knock knock": 5, "fired late hold": 30, "fired dim": 5, "fired hold then tap": 10},
    "taps swallowed": {"fired two taps": 60, "fired three taps": 15, "fired two then hold": 1, "nobody's press": 50},
    "taps that count": {"fired two taps": 50, "fired three taps": 5, "fired two then hold": 1, "asleep": 60},
    "groups": {
        "entered glowing": 80,
        "entered timed": 60,
        "entered waning": 40,
        "left = 0": 80,
        "left = 4": 20,
        "pace = 300 ms": 25,
        "fired three taps": 20,
    },
    "groups, cells": {"garbage read": 50, "torn write": 50, "entered timed": 40, "left = 4": 5},
    "lockout": {"chatter": 90, "fired tap": 80, "fired two taps": 30, "fired hold": 60},
    "lockout shorter than the chatter": {"fired three taps": 20, "fired two taps": 40},
    "the clock comes round": {"deaf for good": 60, "fired tap": 40, "entered glowing": 5},
    "the clock comes round, checksum": {"deaf for good": 30, "reset": 80},
    "samples": {"chatter": 90, "fired tap": 70, "fired two taps": 25, "asleep": 70},
    "one sample": {"fired hold": 80, "fired tap": 80, "fired tap then hold": 25},
    "a chord": {"fired pad and side": 60, "fired side tap": 30, "fired tap": 60, "nobody's press": 60},
    "a chord held": {"fired pad and side": 60, "fired hold": 15, "nobody's press": 80},
    "a slow chord": {"fired pad and side": 60, "fired hold": 40},
    "two chords of three buttons": {"fired side and rim": 50, "fired pad and rim": 60},
    "a chord, two copies": {"restored": 80, "fired pad and side": 70},
    "old flags": {"stays awake at dropping": 80, "saw waking": 80, "entered night": 80},
    "old flags, unseen": {"asleep": 80, "saw waking": 80},
    "late edges unseen": {"stays awake at checking": 80, "asleep": 80, "saw waking": 80},
    "never armed anew": {"stays awake at dropping": 60, "asleep": 80, "saw waking": 80},
    "events, old flags": {"stays awake at dropping": 80, "asleep": 80},
    "events, waking": {"saw waking": 80, "gets deaf": 80, "an event kept": 30},
    "events, unseen": {"stays awake at checking": 50, "asleep": 80},
    "counts from waking": {"fired long hold": 70, "fired short hold": 80, "fired hold then tap": 30, "saw waking": 70},
    "counts from waking, lockout": {"fired long hold": 70, "fired tap": 70, "saw waking": 80},
    "counts from waking, cells": {"fired long hold": 50, "restored": 1, "fired short hold": 60},
    "cut off": {"cut off": 80, "torn write": 50, "garbage read": 50, "start-up ended": 20},
    "cut off, press counts": {"cut off": 60, "started with a button down": 80, "fired side two taps": 10},
    "cut off, latch": {"cut off": 80, "fired tap": 10},
    "cut off by another key than the latch's": {"cut off": 20, "start-up ended": 50, "fired side tap": 20},
    "checksum, erases first": {"torn write": 20, "started from (damaged)": 20, "started from (blank)": 40},
    "switched off": {"cut off": 80, "switched off": 80, "switched on": 80, "entered stowed": 80},
    "switched off, cells, press counts": {"cut off": 80, "switched on": 20, "garbage read": 20, "switched off": 3},
    "switched off, on by either button": {"cut off": 80, "switched on": 25, "torn write": 10, "fired side tap": 5},
    "switched off, causes, RAM, two buttons": {"switched on": 12, "entered armed": 80, "values from decayed RAM": 80},
    "supervised in sleep": {"not fed": 60, "asleep": 60, "garbage read": 50},
    "supervised, busy": {"not fed": 60, "asleep": 60, "gets deaf": 90, "entered dim": 20},
    "supervised in sleep, busy": {"not fed": 80, "cut off": 80, "entered resting": 50},
    "RAM with a marker": {"values from whole RAM": 80, "values from decayed RAM": 40, "nothing from decayed RAM": 20},
    "RAM with a checksum": {"values from whole RAM": 80, "nothing from decayed RAM": 40, "not fed": 60},
    "RAM, latch": {"values from whole RAM": 40, "values from decayed RAM": 60, "nothing from empty RAM": 80},
    "RAM and no memory": {"values from whole RAM": 80, "nothing from decayed RAM": 40},
    "no memory": {"started from nothing": 80, "loss unnoticed": 50, "start-up ended": 10},
}
"""In how many of a hundred runs a thing must happen at least. Of few runs it must come up once, and in two fewer at most."""


@pytest.mark.parametrize("name", WANTED)
def test_the_runs_are_rich(name: str) -> None:
    met: Counter[str] = Counter()
    for seed in seeds(name):
        met.update(played(name, seed).met | {what for _, what in played(name, seed).seen})
    for what, share in WANTED[name].items():
        assert met[what] >= max(1, share * RUNS / 100 - 2), f"{what}: {met[what]} of {RUNS} runs"


def test_each_gesture_fires_somewhere_and_ties_are_met_but_rare() -> None:
    runs = [(name, played(name, seed)) for name in ALL for seed in seeds(name)]
    fired = {what.removeprefix("fired ") for _, run in runs for _, what in run.seen if what.startswith("fired ")}
    assert fired >= {gesture.name for device in ALL.values() for gesture in device.gestures}
    ties = sum(run.is_tie for _, run in runs)
    assert 0.002 * len(runs) <= ties <= 0.05 * len(runs)


@pytest.mark.parametrize("fault", each(6, FAULTS), ids=lambda fault: fault.name)
def test_a_misreading_is_found(fault: Fault) -> None:
    broken = plant(fault)
    rare = RARE.get(fault.device, ())
    assert any(not is_same(fault.device, seed, broken) for seed in (*rare, *range(TRIED)))


def main(runs: int) -> int:
    """Play so many runs of each device; the exit code is 1 if any differs. One with a tie isn't played to its end."""
    pairs = ((name, seed) for name in ALL for seed in range(runs))
    differing = []
    for name, seed in pairs:
        tool = played.__wrapped__(name, seed)
        if in_order(tool.seen) != in_order(again(name, tool)):
            differing.append((name, seed))
    print(f"{len(ALL)} devices, {runs} runs each: {len(differing)} differ", *differing, sep="\n")
    return 1 if differing else 0


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 100))
