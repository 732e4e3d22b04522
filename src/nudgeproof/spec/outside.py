"""What a device has to do with besides its buttons: events, the level of its cell, what wakes it, what it switches.

Like the other types of a spec (see `types`) these hold what was written, with defaults filled in; times are microseconds.
"""

from __future__ import annotations

from dataclasses import dataclass

from nudgeproof.diagnostics import Place
from nudgeproof.units import Span

EDGE, LEVEL = "edge", "level"
CLEAR, ARM, CHECK, SLEEP = "clear", "arm", "check", "sleep"
SLEEP_STEPS = (CLEAR, ARM, CHECK, SLEEP)
"""What going to sleep is made of, in the order in which no wake is lost."""
WAKING = "waking"
"""What stands before a transition that waking makes by itself."""


@dataclass(frozen=True, slots=True)
class Depth:
    """How deep a processor sleeps. `woken_by`: what wakes it from there, `edge`, `level` or both."""

    name: str
    woken_by: tuple[str, ...]
    at: Place


@dataclass(frozen=True, slots=True)
class Sleep:
    """In this state the processor sleeps.

    `woken_by`: buttons that wake it. `on`: `edge` (either edge) or `level` (closed). `ready`: from the wake event until
    the firmware runs. `doze`: from the last moment at which something was going on (a button read closed, a gesture
    pending) until it starts going to sleep. `step`: how long each step of going to sleep takes. `gives_up`: after this time
    a button that stays down is ignored, and the processor goes to sleep all the same; None: it never does.
    `woken_by_events`: outside events that wake it. `depth`: how deep it sleeps; None: anything named wakes it.
    `steps`: what going to sleep is made of, in this order; the last is `sleep`. `late_unseen`: an edge after the last look
    is taken by a handler and the processor sleeps all the same. `counts_from_wake`: the firmware takes the press that woke
    it to have begun at the edge that did. `outlasts`: taps that wait for more don't keep it awake, and their pause goes on
    in sleep; `begins_anew`: with all its time before it again, since the clock stands still; `goes_on`: at waking, with what
    was left of it in whole ticks. `drops_unarmed`: the chip drops edges until the wake source is armed; so in all states.
    """

    woken_by: tuple[str, ...]
    on: str
    ready: Span
    doze: Span
    step: Span
    at: Place
    gives_up: Span | None = None
    woken_by_events: tuple[str, ...] = ()
    depth: Depth | None = None
    steps: tuple[str, ...] = SLEEP_STEPS
    late_unseen: bool = False
    counts_from_wake: bool = False
    outlasts: bool = False
    begins_anew: bool = False
    goes_on: bool = False
    drops_unarmed: bool = False

    @property
    def loses_edges(self) -> bool:
        """Whether an edge may come behind the last look and yet be forgotten before sleep; one whose level lasts isn't."""
        later = self.steps[self.steps.index(CHECK) + 1 if CHECK in self.steps else 0 :]
        return self.on == EDGE and (self.late_unseen or CLEAR in later or (self.drops_unarmed and ARM in later))

    @property
    def waking_buttons(self) -> tuple[str, ...]:
        """The buttons that do wake it: those of `woken_by`, unless nothing such as `on` wakes from this depth."""
        return self.woken_by if self.depth is None or self.on in self.depth.woken_by else ()

    @property
    def waking_events(self) -> tuple[str, ...]:
        """The events that do wake it. An event wakes as an edge does."""
        return self.woken_by_events if self.depth is None or EDGE in self.depth.woken_by else ()


@dataclass(frozen=True, slots=True)
class Ticks:
    """In what steps a firmware counts a pause that sleep interrupts.

    `awake`: how long a tick takes. `asleep`: how long one of the clock takes that counts in sleep, None if none does; it
    counts as `worth` of the others.
    """

    awake: Span
    asleep: Span | None = None
    worth: int = 0


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
