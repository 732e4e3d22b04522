"""What a device has to do with besides its buttons: events, the level of its cell, what wakes it, what it switches.

Like the other types of a spec (see `types`) these hold what was written, with defaults filled in; times are microseconds.
"""

from __future__ import annotations

from dataclasses import dataclass

from nudgeproof.diagnostics import Place
from nudgeproof.units import Span

EDGE, LEVEL = "edge", "level"


@dataclass(frozen=True, slots=True)
class Depth:
    """How deep a processor sleeps. `woken_by`: what wakes it from there, `edge`, `level` or both."""

    name: str
    woken_by: tuple[str, ...]
    at: Place


@dataclass(frozen=True, slots=True)
class Event:
    """Something outside that the firmware is told of: a footfall, a charger put in.

    `counts`: an event that wakes the processor is also seen once the firmware runs; else it only wakes.
    """

    name: str
    counts: bool
    at: Place


@dataclass(frozen=True, slots=True)
class Maker:
    """Something in the surroundings that makes events: walkers, a cable.

    `events`: made in turn, over and over. `apart_us`: two of them are at least this long apart. `meant`: they are what the
    device is for, so they belong to its use and aren't asked about as a disturbance.
    """

    name: str
    events: tuple[str, ...]
    apart_us: int
    meant: bool
    at: Place


@dataclass(frozen=True, slots=True)
class Sag:
    """A weak cell, whose voltage goes down and up at will.

    `apart_us`: it is steady at least this long. `meant`: as of `Maker`.
    """

    name: str
    apart_us: int
    meant: bool
    at: Place


@dataclass(frozen=True, slots=True)
class CellRules:
    """How the firmware reads the voltage of the cell, in millivolts.

    Read `every` so often; below `low_mv` the event `CELL_LOW` is seen, then above `fine_mv` the event `CELL_FINE`.
    """

    low_mv: int
    fine_mv: int
    every: Span
    at: Place


CELL_LOW, CELL_FINE = "cell low", "cell fine"


@dataclass(frozen=True, slots=True)
class Output:
    """A pin that switches something. `on_in`: the states in which it is on. `in_reset`: `off`, `on` or `floating`."""

    name: str
    on_in: tuple[str, ...]
    in_reset: str
    at: Place


@dataclass(frozen=True, slots=True)
class Harm:
    """What a state or an output can do to somebody or something.

    `name`: the state or output. `second_means`: what else keeps it from doing harm, "" if nothing. `restored`: coming back
    to it after a power cut is wanted.
    """

    name: str
    what: str
    second_means: str
    restored: bool
    why: str
    at: Place
