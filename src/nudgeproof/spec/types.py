"""A device as its maker describes it: typed, complete, each piece with the place it was written at.

These types hold what the spec *says*, with defaults filled in; what it *means* is in `parts`. Times are microseconds.
A default that was filled in is listed in `Device.assumptions`, so that no verdict hangs on something nobody saw.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeVar

from nudgeproof.diagnostics import Place
from nudgeproof.units import Span

TOGETHER = Span(0, 60_000)
"""How far apart the two fingers of a chord are, unless the person's habits say otherwise. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class Samples:
    """A reading changes after `count` samples in a row that differ from it, one taken each time in `every`."""

    count: int
    every: Span


@dataclass(frozen=True, slots=True)
class Button:
    """A contact and how the firmware reads it, in one of three ways: just one of `debounce`, `lockout`, `samples` is given.

    `bounce_us`: chatter lasts at most this long from its edge. `edges_apart_us`: least time between two edges of one chatter
    burst. `debounce`: a level must be steady for a time in this span to be accepted. `lockout`: an edge is accepted at once,
    and then the firmware is deaf for a time in this span. `samples`: the level is looked at now and then.
    """

    name: str
    bounce_us: int
    debounce: Span | None
    edges_apart_us: int
    at: Place
    lockout: Span | None = None
    samples: Samples | None = None


@dataclass(frozen=True, slots=True)
class Chord:
    """Two buttons pressed together: the second goes down at most a time in `within` after the first."""

    buttons: tuple[str, str]
    within: Span


@dataclass(frozen=True, slots=True)
class Gesture:
    """`taps` short presses, then, if `held` is given, one press held for a time in that span.

    With a `chord` it is made of that alone: no taps, no `button`; `held` is then how long both stay down, None if the chord
    counts at once.

    `press`: the span in which the firmware's limit for a tap lies (`up to 400 ms` gives 400..400 ms).
    `between`: likewise the limit of the gap between two presses, counted from the accepted release to the next accepted
    press, or from press to press if `between_presses`.
    """

    name: str
    button: str
    taps: int
    press: Span | None
    between: Span | None
    between_presses: bool
    held: Span | None
    at: Place
    chord: Chord | None = None

    @property
    def presses(self) -> int:
        """How many presses make the whole gesture."""
        return self.taps + (1 if self.held is not None else 0)

    @property
    def buttons(self) -> tuple[str, ...]:
        """The buttons that are pressed: one, or those of the chord."""
        return self.chord.buttons if self.chord is not None else (self.button,)


@dataclass(frozen=True, slots=True)
class Variable:
    """A value the device keeps in mind, one of `values`; the first is its value at the start."""

    name: str
    values: tuple[str, ...]
    at: Place


@dataclass(frozen=True, slots=True)
class Transition:
    """What a gesture does in a state.

    `target` None: the state is not left (internal). `next`: variables stepped to their next value, round and round.
    `restarts`: an internal transition also restarts the state's timeouts.
    """

    gesture: str
    target: str | None
    next: tuple[str, ...]
    restarts: bool
    at: Place


@dataclass(frozen=True, slots=True)
class Timeout:
    """The state is left for `target` after a time in `after`.

    `with_open`: counts only while this button reads open, and anew after each release. `text` is the key as written.
    """

    after: Span
    with_open: str | None
    target: str
    text: str
    at: Place


@dataclass(frozen=True, slots=True)
class Sleep:
    """In this state the processor sleeps.

    `woken_by`: buttons that wake it. `on`: `edge` (either edge) or `level` (closed). `ready`: from the wake event until
    the firmware runs. `doze`: from the last moment at which something was going on (a button read closed, a gesture
    pending) until it starts going to sleep. `step`: how long each step of going to sleep takes.
    """

    woken_by: tuple[str, ...]
    on: str
    ready: Span
    doze: Span
    step: Span
    at: Place


@dataclass(frozen=True, slots=True)
class State:
    """One state of the device. `waiting`: it only waits for the rest of the way on and leaves by itself.

    `shows`: what a person sees, hears or feels; `shows_variable` says that it is the name of a variable whose value is
    shown.
    """

    name: str
    sleep: Sleep | None
    waiting: bool
    shows: str | None
    shows_variable: bool
    transitions: tuple[Transition, ...]
    timeouts: tuple[Timeout, ...]
    at: Place

    @property
    def is_on(self) -> bool:
        """Neither asleep nor only waiting: in such a state the device has come on."""
        return self.sleep is None and not self.waiting


@dataclass(frozen=True, slots=True)
class Person:
    """How the person presses: the spans of a tap, of the gap between taps, of a hold; `answers` after a sign.

    `fingers`: 1 presses one button at a time (a chord is one act), 2 presses two buttons independently of each other.
    `together`: from the first contact of a chord to the second, and from the first to open to the second.
    """

    tap: Span
    between: Span
    hold: Span | None
    answers: Span | None
    at: Place
    fingers: int = 1
    together: Span = TOGETHER


@dataclass(frozen=True, slots=True)
class Disturbance:
    """Something that closes a button's contact without meaning it: a knock, a squeeze.

    `closes`: how long, first edge to first edge. `apart_us`: the contact then stays open at least this long as far as this
    source is concerned. `for_good`: a stuck button, closed at some moment and never let go; `closes` then means nothing.
    """

    name: str
    button: str
    closes: Span
    apart_us: int
    at: Place
    for_good: bool = False


@dataclass(frozen=True, slots=True)
class Outage:
    """Something that makes the cell lose contact: a rattle, a drop.

    `gone`: how long the contact is lost. `apart_us`: the cell is then steady at least this long as far as this source is
    concerned.
    """

    name: str
    gone: Span
    apart_us: int
    at: Place


@dataclass(frozen=True, slots=True)
class Memory:
    """What outlives a loss of power.

    `keeps`: `state` and names of variables, in the order in which they are written. `quiet`: None if written at once, else
    written once nothing changed for a time in this span. `write`: how long one write takes. `guard`: `none` (each kept
    thing is a cell of its own), `checksum` (one record, recognised when damaged) or `two copies` (written in turn, the
    newest whole one is read). `may_lose_us`: what changed this shortly before a loss of power needn't be kept.
    """

    keeps: tuple[str, ...]
    quiet: Span | None
    write: Span
    guard: str
    may_lose_us: int
    at: Place


@dataclass(frozen=True, slots=True)
class PowerUp:
    """What happens when power comes back after a reset.

    `takes`: from power to running firmware. `if_blank`, `if_damaged`: the state when memory holds nothing yet, or nothing
    readable. `held_ignored`: a button that is down then counts only after it was let go; else its level is read as usual.
    """

    takes: Span
    if_blank: str
    if_damaged: str
    held_ignored: bool
    at: Place


@dataclass(frozen=True, slots=True)
class Supply:
    """`hold_up`: a loss of contact shorter than a time in this span goes unnoticed; a longer one is a reset."""

    hold_up: Span
    at: Place


@dataclass(frozen=True, slots=True)
class Accepted:
    """A failure that the maker knows and accepts.

    Matches the question `hazard` about one of the sources `by`, where the device was in state `within` before the step.
    `why`, `who` and `granted` (a date as written) are for people; nothing is computed from them.
    """

    hazard: str
    by: tuple[str, ...]
    within: str
    why: str
    who: str
    granted: str
    at: Place


@dataclass(frozen=True, slots=True)
class PromiseText:
    """A promise as written: a sentence, or the keys of its machine form; parsed by `questions`.

    `keys` maps each key to its words and place; empty when the promise is a sentence.
    """

    sentence: str
    keys: tuple[tuple[str, tuple[str, ...], Place], ...]
    at: Place


@dataclass(frozen=True, slots=True)
class Assumption:
    """A default that the spec didn't state, in words that could be written into it."""

    text: str
    at: Place


@dataclass(frozen=True, slots=True)
class Device:
    """A whole spec. Every name that is referred to exists; orders are those of the file.

    `digest` is the SHA-256 of the text, `lines` the text itself for messages that quote it.
    """

    file: str
    name: str
    buttons: tuple[Button, ...]
    gestures: tuple[Gesture, ...]
    variables: tuple[Variable, ...]
    initial: str
    states: tuple[State, ...]
    person: Person | None
    surroundings: tuple[Disturbance | Outage, ...]
    promises: tuple[PromiseText, ...]
    assumptions: tuple[Assumption, ...]
    digest: str
    lines: tuple[str, ...]
    at: Place
    memory: Memory | None = None
    power_up: PowerUp | None = None
    supply: Supply | None = None
    accepts: tuple[Accepted, ...] = ()

    def state(self, name: str) -> State:
        """The state called `name`; raises KeyError."""
        return next_named(self.states, name)

    def button(self, name: str) -> Button:
        """The button called `name`; raises KeyError."""
        return next_named(self.buttons, name)

    def gesture(self, name: str) -> Gesture:
        """The gesture called `name`; raises KeyError."""
        return next_named(self.gestures, name)

    def variable(self, name: str) -> Variable:
        """The variable called `name`; raises KeyError."""
        return next_named(self.variables, name)


_Named = TypeVar("_Named", State, Button, Gesture, Variable)


def next_named(things: tuple[_Named, ...], name: str) -> _Named:
    """The first of `things` with this name; raises KeyError."""
    for thing in things:
        if thing.name == name:
            return thing
    raise KeyError(name)
