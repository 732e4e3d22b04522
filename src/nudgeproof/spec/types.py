"""A device as its maker describes it: typed, complete, each piece with the place it was written at.

These types hold what the spec *says*, with defaults filled in; what it *means* is in `parts`. Times are microseconds.
A default that was filled in is listed in `Device.assumptions`, so that no verdict hangs on something nobody saw.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import TypeVar

from nudgeproof.diagnostics import Place
from nudgeproof.quantities import Amount
from nudgeproof.spec.electrical import Day, Drain, Electricity
from nudgeproof.spec.lines import Condition as Condition
from nudgeproof.spec.lines import Group as Group
from nudgeproof.spec.lines import Timeout as Timeout
from nudgeproof.spec.lines import Transition as Transition
from nudgeproof.spec.lines import Variable as Variable
from nudgeproof.spec.outside import CELL_FINE, CELL_LOW, WAKING, CellRules, Event, Harm, Maker, Output, Sag, Ticks
from nudgeproof.spec.outside import Sleep as Sleep
from nudgeproof.spec.powered import CutOff, Latch, Ram, StaysOff, Supervisor
from nudgeproof.spec.pressed import Button as Button
from nudgeproof.spec.pressed import Claims as Claims
from nudgeproof.spec.pressed import Samples as Samples
from nudgeproof.units import Span

TOGETHER = Span(0, 60_000)
"""How far apart the two fingers of a chord are, unless the person's habits say otherwise. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class Chord:
    """Two buttons pressed together: the second goes down at most a time in `within` after the first.

    `gives_back`: once it was seen, the release of each counts as that of a tap of this button.
    """

    buttons: tuple[str, str]
    within: Span
    gives_back: bool = False


@dataclass(frozen=True, slots=True)
class Gesture:
    """A row of `presses`, each of them `tap` (short) or `hold` (lasting a time in `held`).

    With a `chord` it is made of that alone: no taps, no `button`; `held` is then how long both stay down, None if the chord
    counts at once.

    `press`: the span in which the firmware's limit for a tap lies (`up to 400 ms` gives 400..400 ms).
    `between`: likewise the limit of the gap between two presses, counted from the accepted release to the next accepted
    press, or from press to press if `between_presses`. `answer_us`: the longest time from the end of what the person does
    (for a hold at the end: from its press, unless `at_release`) until the firmware has seen it; None if none is stated.
    `acts_at`: when a gesture is seen that ends with a hold: as soon as it has lasted (`threshold`), or when the button is
    let go (`release`); one that ends with a tap: when no longer one may come (`pause`), when it is let go (`release`), or
    when its last press begins (`press`). "": as where the spec says nothing.
    `repeats`: it is seen again and again while it is held on, each time after a time in this span.
    """

    name: str
    button: str
    presses: tuple[str, ...]
    press: Span | None
    between: Span | None
    between_presses: bool
    held: Span | None
    at: Place
    answer_us: int | None = None
    acts_at: str = ""
    repeats: Span | None = None
    chord: Chord | None = None

    @property
    def taps(self) -> int:
        """How many taps make the whole gesture; 0 if there is a hold in it."""
        return len(self.presses) if self.held is None else 0

    @property
    def at_release(self) -> bool:
        """Whether it ends with a hold, and is seen only when that is let go."""
        return self.acts_at == "release" and self.presses[-1] == "hold"

    @property
    def acts_early(self) -> str:
        """Where it ends with a tap and doesn't wait whether more presses come: `press` or `release`; else ""."""
        return self.acts_at if self.presses[-1:] == ("tap",) and self.acts_at in ("press", "release") else ""

    @property
    def buttons(self) -> tuple[str, ...]:
        """The buttons that are pressed: one, or those of the chord."""
        return self.chord.buttons if self.chord is not None else (self.button,)


@dataclass(frozen=True, slots=True)
class State:
    """One state of the device. `waiting`: it only waits for the rest of the way on and leaves by itself.

    `shows`: what a person sees, hears or feels; `shows_variable` says that it is the name of a variable whose value is
    shown. `at_most_us`: the longest that the device may stay here with nobody using it; None if none is stated.
    `repeats`: that the device comes back here by itself is meant. `unpowered`: the device has no power here.
    `transitions`, `timeouts`: its own lines, then those that it shares with its `group` ("" for none). `on_entering`:
    variables with the value they get when it is entered. `busy`: after it is entered
    the firmware may be deaf for a time in this span.
    """

    name: str
    sleep: Sleep | None
    waiting: bool
    shows: str | None
    shows_variable: bool
    transitions: tuple[Transition, ...]
    timeouts: tuple[Timeout, ...]
    at: Place
    at_most_us: int | None = None
    repeats: bool = False
    unpowered: bool = False
    busy: Span | None = None
    group: str = ""
    on_entering: tuple[tuple[str, str], ...] = ()

    @property
    def gestures(self) -> tuple[str, ...]:
        """The gestures in use: those with a transition here, whatever its conditions; each once."""
        return tuple(dict.fromkeys(transition.gesture for transition in self.transitions))

    def after(self, gesture: str) -> tuple[str, ...]:
        """The states in which a gesture may end that is done here, itself if one of its cases doesn't leave it."""
        targets = (transition.target or self.name for transition in self.transitions if transition.gesture == gesture)
        return tuple(dict.fromkeys(targets))

    @property
    def gives_way_to(self) -> str | None:
        """The state that its first time to lead anywhere leads to; None if no time does."""
        return next((timeout.target for timeout in self.timeouts if timeout.target is not None), None)

    @property
    def is_on(self) -> bool:
        """Neither off nor only waiting: in such a state the device has come on."""
        return not self.is_off and not self.waiting

    @property
    def is_off(self) -> bool:
        """The processor sleeps here, or has no power."""
        return self.sleep is not None or self.unpowered


@dataclass(frozen=True, slots=True)
class Person:
    """How the person presses: the spans of a tap, of the gap between taps, of a hold; `answers` after a sign.

    `holds`: names of gestures that are held for a time of their own, and these times.
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
    holds: tuple[tuple[str, Span], ...] = ()


@dataclass(frozen=True, slots=True)
class Disturbance:
    """Something that closes a button's contact without meaning it: a knock, a squeeze.

    `closes`: how long, first edge to first edge. `apart_us`: the contact then stays open at least this long as far as this
    source is concerned. `for_good`: a stuck button, closed at some moment and never let go; `closes` then means nothing.
    `asleep_us`: how soon the processor must sleep all the same; None if no limit is stated.
    """

    name: str
    button: str
    closes: Span
    apart_us: int
    at: Place
    for_good: bool = False
    asleep_us: int | None = None


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


Source = Disturbance | Outage | Maker | Sag


@dataclass(frozen=True, slots=True)
class Memory:
    """What outlives a loss of power.

    `keeps`: `state` and names of variables, in the order in which they are written. `quiet`: None if written at once, else
    written once nothing changed for a time in this span. `write`: how long one write takes. `guard`: `none` (each kept
    thing is a cell of its own), `checksum` (one record, recognised when damaged) or `two copies` (written in turn, the
    newest whole one is read). `may_lose_us`: what changed this shortly before a loss of power needn't be kept. `old_layout`:
    what this firmware makes of a memory that an older one wrote: `recognised` (then it counts as blank), `read as it is`,
    or "" if the spec says nothing. `deaf`: while it is written the firmware doesn't listen. `endures`: how many writes a
    cell bears, `write_needs`: the lowest voltage at which it is written; None if not stated. `erases_first`: a
    write of the one record begins with an erase, so one that was cut may also read as blank.
    """

    keeps: tuple[str, ...]
    quiet: Span | None
    write: Span
    guard: str
    may_lose_us: int
    at: Place
    old_layout: str = ""
    deaf: bool = False
    endures: int | None = None
    write_needs: Amount | None = None
    erases_first: bool = False


@dataclass(frozen=True, slots=True)
class PowerUp:
    """What happens when power comes back after a reset.

    `takes`: from power to running firmware. `if_blank`, `if_damaged`: the state when memory holds nothing yet, or nothing
    readable. `held_ignored`: a button that is down then counts only after it was let go; else its level is read as usual.
    `starts_in`: causes of resets with the state in place of `if_blank`; of several that are set the first one counts.
    `causes_left`: a start doesn't clear them. `counts_from_power`: a button that is closed at the start counts as down since
    power came.
    """

    takes: Span
    if_blank: str
    if_damaged: str
    held_ignored: bool
    at: Place
    starts_in: tuple[tuple[str, str], ...] = ()
    causes_left: bool = False
    counts_from_power: bool = False

    def state_after(self, cause: str) -> str:
        """The state where memory brings none back, after a reset of this cause, or "" for none that is looked at."""
        return dict(self.starts_in).get(cause, self.if_blank)

    @property
    def afresh(self) -> tuple[str, ...]:
        """All states in which a start may be where memory holds nothing, or doesn't keep the state."""
        return tuple(dict.fromkeys((self.if_blank, *(state for _, state in self.starts_in))))


@dataclass(frozen=True, slots=True)
class Supply:
    """`hold_up`: a loss of contact shorter than a time in this span goes unnoticed; a longer one is a reset.

    `latch`: the switch that lets the device switch itself off altogether, if there is one; `cut_off` likewise.
    `electricity`: what is stated of cells and what hangs on them. `is_computed`: the hold-up follows from that, and
    `hold_up` means nothing.
    """

    hold_up: Span
    at: Place
    latch: Latch | None = None
    cut_off: CutOff | None = None
    electricity: Electricity | None = None
    is_computed: bool = False


@dataclass(frozen=True, slots=True)
class Accepted:
    """A failure that the maker knows and accepts.

    Matches the question `hazard` about one of the sources `by`, where the device was in `within` before the step: a state,
    or a group with these `states`. `why`, `who` and `granted` (a date as written) are for people; nothing is computed from
    them.
    """

    hazard: str
    by: tuple[str, ...]
    within: str
    why: str
    who: str
    granted: str
    at: Place
    states: tuple[str, ...] = ()

    @property
    def covers(self) -> tuple[str, ...]:
        """The states that `within` means."""
        return self.states or (self.within,)


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

    `digest`: the SHA-256 of the text; `lines`: the text, to quote. `off_by`: the share by which the clock of a specimen may
    be off for a whole story; 0 if each counted time is off by itself, or none. `elapsed`: when elapsed time is nothing again
    if nobody looks. `ticks`: in what steps pauses after sleep are counted. `queue`: how many gestures may wait.
    """

    file: str
    name: str
    buttons: tuple[Button, ...]
    gestures: tuple[Gesture, ...]
    variables: tuple[Variable, ...]
    initial: str
    states: tuple[State, ...]
    person: Person | None
    surroundings: tuple[Source, ...]
    promises: tuple[PromiseText, ...]
    assumptions: tuple[Assumption, ...]
    digest: str
    lines: tuple[str, ...]
    at: Place
    memory: Memory | None = None
    power_up: PowerUp | None = None
    supply: Supply | None = None
    supervisor: Supervisor | None = None
    ram: Ram | None = None
    accepts: tuple[Accepted, ...] = ()
    events: tuple[Event, ...] = ()
    cell: CellRules | None = None
    outputs: tuple[Output, ...] = ()
    harm: tuple[Harm, ...] = ()
    groups: tuple[Group, ...] = ()
    off_by: Fraction = Fraction(0)
    elapsed: Span | None = None
    ticks: Ticks | None = None
    loads: tuple[Drain, ...] = ()
    use: tuple[Day, ...] = ()
    queue: int = 4

    @property
    def electricity(self) -> Electricity | None:
        """What is stated of the cells; None if nothing is."""
        return self.supply.electricity if self.supply is not None else None

    def states_of(self, name: str) -> tuple[str, ...]:
        """The states of the group called `name`, or the state `name` itself."""
        return next((group.states for group in self.groups if group.name == name), (name,))

    @property
    def is_latched(self) -> bool:
        """Whether a key switches its power on, and the firmware holds it."""
        return self.supply is not None and self.supply.latch is not None

    @property
    def stays_off(self) -> StaysOff | None:
        """What the power chip does that leaves it without power, if it has one."""
        cut_off = self.supply.cut_off if self.supply is not None else None
        return cut_off.off if cut_off is not None else None

    @property
    def resets(self) -> tuple[str, ...]:
        """What resets the device although its cell is there, in words."""
        cut_off = self.supply.cut_off if self.supply is not None else None
        found = (f"the cut-off by {cut_off.button}",) if cut_off is not None else ()
        return (*found, "the supervisor") if self.supervisor is not None else found

    @property
    def meant(self) -> tuple[str, ...]:
        """The surroundings that the device is for: their events belong to its use."""
        return tuple(what.name for what in self.surroundings if isinstance(what, Maker | Sag) and what.meant)

    @property
    def unmeant(self) -> tuple[Source, ...]:
        """The surroundings that are asked about as disturbances."""
        return tuple(what for what in self.surroundings if what.name not in self.meant)

    @property
    def event_names(self) -> tuple[str, ...]:
        """All events that the chart may be told of: those outside and those of the cell."""
        return (*(event.name for event in self.events), *((CELL_LOW, CELL_FINE) if self.cell is not None else ()))

    @property
    def wakes_into(self) -> tuple[str, ...]:
        """The states in which waking alone does something."""
        return tuple(state.name for state in self.states if WAKING in state.gestures)

    @property
    def unmade(self) -> tuple[str, ...]:
        """All that may stand before a transition and is no gesture: the events, and waking."""
        return (*self.event_names, *((WAKING,) if self.wakes_into else ()))

    def state(self, name: str) -> State:
        """The state called `name`; raises KeyError."""
        return next_named(self.states, name)

    def button(self, name: str) -> Button:
        """The button called `name`; raises KeyError."""
        return next_named(self.buttons, name)

    def gesture(self, name: str) -> Gesture:
        """The gesture called `name`; raises KeyError."""
        return next_named(self.gestures, name)

    def gestures_in(self, state: State) -> tuple[Gesture, ...]:
        """The gestures that lead somewhere in `state`, in the order of its transitions; events are none."""
        known = {gesture.name: gesture for gesture in self.gestures}
        return tuple(known[name] for name in state.gestures if name in known)

    def variable(self, name: str) -> Variable:
        """The variable called `name`; raises KeyError."""
        return next_named(self.variables, name)


RECOGNISED, READ_AS_IS = "recognised", "read as it is"
"""What a firmware may do with a memory that an older one wrote: treat it as blank, or take it for its own."""

CELL_CAUSE, CUT_OFF_CAUSE, SUPERVISOR_CAUSE = CAUSES = ("cell", "cut-off", "supervisor")
"""What a reset may come from: a loss of power, the power chip, the supervisor."""

_Named = TypeVar("_Named", State, Button, Gesture, Variable)


def next_named(things: tuple[_Named, ...], name: str) -> _Named:
    """The first of `things` with this name; raises KeyError."""
    for thing in things:
        if thing.name == name:
            return thing
    raise KeyError(name)
