"""How the work of each way grows with what a device has. Each series gives points: how much of it, and what was seen."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from benchmarks.cases import MS, STATES, WAYS, Seen, climbed, look
from benchmarks.devices import make_dial, make_lantern, make_pads, make_small, make_timer
from nudgeproof.engines.explore import explore
from nudgeproof.model.step import Move
from nudgeproof.model.tables import Model, Situation
from nudgeproof.parts.compile import Environment, compile_model
from nudgeproof.spec.types import Device
from tests.oracle.brute import TooBig, search

ANY_PRESSES = Environment(("anything",))
MODES = (2, 3, 4, 6, 8, 16, 32, 60)
CLASSES = 60_000
LONG_SECONDS = 5.0
"""A way that took so long at one point isn't asked at the next one."""


@dataclass(frozen=True, slots=True)
class Point:
    """One point: its `group` (one picture each), what grows and how much of it there is, which way, what was seen."""

    group: str
    what: str
    amount: float
    way: str
    seen: Seen


def never(model: Model, before: Situation, move: Move) -> bool:
    """A test that no step meets, so that everything is looked at."""
    return False


def explored(device: Device, environment: Environment) -> Seen:
    """All classes there are."""
    begin = time.process_time()
    found = explore(compile_model(device, environment), (never,), CLASSES)
    answer = "all" if found.complete else "too big"
    return Seen(answer, time.process_time() - begin, found.classes, "classes")


def searched(device: Device, environment: Environment) -> Seen:
    """All states there are, by brute force."""
    begin = time.process_time()
    try:
        answer, work = "all", search(compile_model(device, environment).parts, (lambda b, a: False,), STATES).states
    except TooBig:
        answer, work = "too big", STATES
    return Seen(answer, time.process_time() - begin, work, "states")


def grow_modes() -> Iterator[Point]:
    """The last of so many modes is looked for by all ways; each until it doesn't find it, or takes long."""
    for way in WAYS:
        for modes in MODES:
            seen = look(way, climbed("", 60_000 * MS, True, 5 * MS, modes))
            yield Point("modes", "modes in a row, until the last is found", modes, way, seen)
            if seen.answer != "found" or seen.seconds > LONG_SECONDS:
                break


def grow_times() -> Iterator[Point]:
    """All times of a small device so many times as long against its unit; and a timeout of up to a week."""
    for scale in (1, 2, 4, 8, 16):
        yield Point(
            "times", "all times so many times as long", scale, "explorer", explored(make_small(scale), ANY_PRESSES)
        )
    for scale in (1, 2, 4, 8, 16):
        seen = searched(make_small(scale), ANY_PRESSES)
        yield Point("times", "all times so many times as long", scale, "brute force", seen)
        if seen.answer != "all":
            break
    for seconds, length in ((1, "1 s"), (60, "1 min"), (3_600, "1 h"), (28_800, "8 h"), (604_800, "7 d")):
        seen = explored(make_dial(timeout=length), ANY_PRESSES)
        yield Point("timeout", "timeout in s", seconds, "explorer", seen)


def grow_buttons() -> Iterator[Point]:
    """Buttons; pressed by one who presses one, by a person, or at will and all independently of each other."""
    one, person = Environment(("anything",), only="pad 1"), Environment(("person",))
    calm = Environment(("person",), calm=True)
    for way, environment, most in (
        ("one of them pressed", one, 3),
        ("a person, no chatter", calm, 3),
        ("any presses", ANY_PRESSES, 3),
        ("a person", person, 2),
    ):
        for buttons in range(1, most + 1):
            yield Point("buttons", "buttons", buttons, way, explored(make_pads(buttons), environment))


def grow_sources() -> Iterator[Point]:
    """Sources at once, free of each other; and how long an interruption may be."""
    sources = ("knocks", "rattle", "squeeze")
    for count in range(1, 4):
        environment = Environment(sources[:count], watched=True)
        yield Point("sources", "sources at once", count, "explorer", explored(make_lantern(), environment))
    for ms in (1, 10, 100, 1_000, 10_000, 100_000):
        device = make_timer(gone=f"up to {ms} ms")
        environment = Environment(("person", "rattle"), watched=True)
        yield Point("interruptions", "interruptions of up to so many ms", ms, "explorer", explored(device, environment))


GROWTH: tuple[Callable[[], Iterator[Point]], ...] = (grow_modes, grow_times, grow_buttons, grow_sources)
