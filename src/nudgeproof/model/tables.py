"""Parts, timers, choices, and the model that joins them.

Theory of operation
-------------------
A *part* is one small machine: a contact, a reader, the chart of the device's states, a person. It has a *local state*
(any hashable value), it arms *timers*, it takes *signals*, it publishes named *values* and may read the values that other
parts publish. It is written once, as pure functions; a *row* of its table (what it arms, what it may do) is computed when
first met and kept. Every engine reads rows, and only rows.

A *situation* is the tuple of all parts' local states. What is not in it doesn't exist: there is no hidden memory.

A *timer* says: this happens at some time in `[lo, hi]` after it was armed. All bounds are closed whole microseconds;
`hi` may be `FOREVER`. Which time in the interval is drawn when it is armed and is not known to anyone before it comes.

A *choice* is one thing a part may do when its timer expires or a signal reaches it. Several choices mean that the world
decides; none is not allowed, so a part always covers every value it reads.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping
from dataclasses import dataclass, field
from graphlib import CycleError, TopologicalSorter
from typing import Literal

from nudgeproof.diagnostics import ToolFault
from nudgeproof.units import FOREVER, Bound, Span

Local = Hashable
Value = Hashable
Situation = tuple[Local, ...]
Reads = Mapping[str, Value]
Role = Literal["person", "disturbance", "supply", "device"]


class ModelFault(ToolFault):
    """A part broke the rules of the model; always a fault of the tool, never of a spec."""


@dataclass(frozen=True, slots=True, order=True)
class Timer:
    """Armed by a part: expires between `lo` and `hi` microseconds after arming, both ends included.

    `of`: the name of the one value that a specimen has for it, "" if there is none. No engine looks at it.
    """

    name: str
    lo: int
    hi: Bound
    of: str = ""


def lasting(name: str, span: Span) -> Timer:
    """A timer that takes a time in `span`."""
    return Timer(name, span.lo, span.hi, "" if span.of is None else str(span.of))


@dataclass(frozen=True, slots=True)
class Choice:
    """One thing a part may do.

    `to`: its next local state. `send`: signals, in order. `restart`: own timers that begin anew although they stay
    armed. `says`: the step in plain words. `line`: the spec line it comes from, 0 if none. `actions`: contact or supply
    edges made by person, disturbance or supply. `chatter`: edges of contact chatter.
    """

    to: Local
    send: tuple[str, ...] = ()
    restart: tuple[str, ...] = ()
    says: str = ""
    line: int = 0
    actions: int = 0
    chatter: int = 0


@dataclass(frozen=True, slots=True)
class Option:
    """A choice as it stands in a row, with what follows from it in every situation.

    `part`: whose it is. `cause`: upon what. `number`: which of the row's choices, from 0. `restarts`: part and name of each
    timer that begins anew. `letters`: receiver and signal of all that it sends, in the order of delivery.
    """

    part: int
    cause: str
    number: int
    choice: Choice
    restarts: tuple[tuple[int, str], ...]
    letters: tuple[tuple[int, str], ...]


Row = tuple[Option, ...]
_Armed = tuple[tuple[int, Timer], ...]
"""Timers, each with the position of the part that arms it."""


def _no_timers(local: Local, reads: Reads) -> tuple[Timer, ...]:
    return ()


def _never_expires(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
    return ()


def _hears_nothing(local: Local, signal: str, reads: Reads) -> tuple[Choice, ...]:
    return ()


def _shows_nothing(local: Local) -> tuple[Value, ...]:
    return ()


@dataclass(frozen=True, slots=True)
class Part:
    """One machine, as pure functions.

    `publishes`: names of its values, `shown` gives them in that order. `reads`: names of others' values its functions
    may look at; they get a mapping of exactly those. `takes`: for each signal it takes, the signals it may send in
    answer. `sends`: the signals it may send when a timer expires. `button`: the button it belongs to, if one.
    """

    name: str
    role: Role
    start: Local
    button: str | None = None
    publishes: tuple[str, ...] = ()
    shown: Callable[[Local], tuple[Value, ...]] = _shows_nothing
    reads: tuple[str, ...] = ()
    armed: Callable[[Local, Reads], tuple[Timer, ...]] = _no_timers
    expired: Callable[[Local, str, Reads], tuple[Choice, ...]] = _never_expires
    takes: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    heard: Callable[[Local, str, Reads], tuple[Choice, ...]] = _hears_nothing
    sends: tuple[str, ...] = ()


class Model:
    """Parts joined: who publishes what, who hears whom, and the rows met so far.

    Raises `ModelFault` if two parts share a name or publish the same value, if a value is read that nobody publishes, or
    if answering could go round in a circle.
    """

    def __init__(self, parts: tuple[Part, ...]) -> None:
        self.parts = parts
        self.start: Situation = tuple(part.start for part in parts)
        self._owner: dict[str, tuple[int, int]] = {}
        for index, part in enumerate(parts):
            for slot, name in enumerate(part.publishes):
                if name in self._owner:
                    raise ModelFault(f"`{name}` is published by two parts")
                self._owner[name] = (index, slot)
        if len({part.name for part in parts}) != len(parts):
            raise ModelFault("two parts have the same name")
        for part in parts:
            for name in part.reads:
                if name not in self._owner:
                    raise ModelFault(f"part `{part.name}` reads `{name}`, which nobody publishes")
        self.receivers: dict[str, tuple[int, ...]] = {}
        for signal in {s for part in parts for s in part.takes}:
            self.receivers[signal] = tuple(i for i, part in enumerate(parts) if signal in part.takes)
        self._check_acyclic()
        self._sources = tuple(tuple(self._owner[name] for name in part.reads) for part in parts)
        self._shown: tuple[dict[Local, tuple[Value, ...]], ...] = tuple({} for _ in parts)
        self._all_armed: dict[Situation, tuple[tuple[int, Timer], ...]] = {}
        self._armed_rows: dict[Situation, list[_Armed]] = {}
        # By part: those whose timers hang on its local state.
        self._minding = tuple(
            tuple(i for i, read in enumerate(self._sources) if i == index or index in [owner for owner, _ in read])
            for index in range(len(parts))
        )
        self._armed: tuple[dict[Hashable, _Armed], ...] = tuple({} for _ in parts)
        self._rows: tuple[dict[Hashable, Row], ...] = tuple({} for _ in parts)

    def index(self, name: str) -> int:
        """Position of the part called `name`; raises KeyError."""
        for i, part in enumerate(self.parts):
            if part.name == name:
                return i
        raise KeyError(name)

    def publishes(self, name: str) -> bool:
        """Whether some part publishes `name`."""
        return name in self._owner

    def value(self, situation: Situation, name: str) -> Value:
        """The published value `name` in this situation; raises KeyError."""
        part, slot = self._owner[name]
        try:
            return self._shown[part][situation[part]][slot]
        except KeyError:  # not shown before
            return self._show(part, situation[part])[slot]

    def armed(self, situation: Situation, before: Situation | None = None) -> _Armed:
        """All armed timers with their part's position, in the order of parts.

        `before`: a situation that differs little; it saves time to ask again only parts that mind the difference.
        """
        timers = self._all_armed.get(situation)
        if timers is None:
            rows = self._rows_after(before, situation)
            self._armed_rows[situation] = rows
            timers = self._all_armed[situation] = tuple([pair for row in rows for pair in row])
        return timers

    def _rows_after(self, before: Situation | None, situation: Situation) -> list[_Armed]:
        """By part the timers that it arms in this situation."""
        known = None if before is None else self._armed_rows.get(before)
        if before is None or known is None:
            return [self._armed_by(index, situation) for index in range(len(self.parts))]
        rows = known.copy()
        changed = [i for i, (was, now) in enumerate(zip(before, situation, strict=True)) if was is not now]
        for index in {minding for i in changed for minding in self._minding[i]}:
            rows[index] = self._armed_by(index, situation)
        return rows

    def _armed_by(self, index: int, situation: Situation) -> _Armed:
        """Row: the timers that one part arms in this situation, with its position."""
        values = self._read(index, situation)
        key = (situation[index], values)
        row = self._armed[index].get(key)
        if row is None:
            part = self.parts[index]
            timers = part.armed(situation[index], dict(zip(part.reads, values, strict=True)))
            _check_timers(part, timers)
            row = self._armed[index][key] = tuple([(index, timer) for timer in timers])
        return row

    def on_expiry(self, index: int, timer: str, situation: Situation) -> Row:
        """Row: what one part may do when its timer expires."""
        values = self._read(index, situation)
        key = (situation[index], "expires", timer, values)
        row = self._rows[index].get(key)
        if row is None:
            part = self.parts[index]
            choices = part.expired(situation[index], timer, dict(zip(part.reads, values, strict=True)))
            _check_choices(part, f"timer `{timer}`", choices, part.sends)
            row = self._rows[index][key] = self._write_row(index, f"timer {timer}", choices)
        return row

    def on_signal(self, index: int, signal: str, situation: Situation) -> Row:
        """Row: what one part may do when a signal reaches it."""
        values = self._read(index, situation)
        key = (situation[index], "hears", signal, values)
        row = self._rows[index].get(key)
        if row is None:
            part = self.parts[index]
            choices = part.heard(situation[index], signal, dict(zip(part.reads, values, strict=True)))
            _check_choices(part, f"signal `{signal}`", choices, part.takes[signal])
            row = self._rows[index][key] = self._write_row(index, f"signal {signal}", choices)
        return row

    def _write_row(self, index: int, cause: str, choices: tuple[Choice, ...]) -> Row:
        return tuple(
            Option(
                index,
                cause,
                number,
                choice,
                restarts=tuple((index, name) for name in choice.restart),
                letters=tuple(
                    (receiver, signal) for signal in choice.send for receiver in self.receivers.get(signal, ())
                ),
            )
            for number, choice in enumerate(choices)
        )

    def _show(self, index: int, local: Local) -> tuple[Value, ...]:
        shown = self._shown[index].get(local)
        if shown is None:
            part = self.parts[index]
            shown = part.shown(local)
            if len(shown) != len(part.publishes):
                raise ModelFault(f"part `{part.name}` publishes {len(part.publishes)} values but shows {len(shown)}")
            self._shown[index][local] = shown
        return shown

    def _read(self, index: int, situation: Situation) -> tuple[Value, ...]:
        if not self._sources[index]:
            return ()
        shown = self._shown
        try:
            return tuple([shown[part][situation[part]][slot] for part, slot in self._sources[index]])
        except KeyError:  # not shown before
            return tuple([self._show(part, situation[part])[slot] for part, slot in self._sources[index]])

    def _check_acyclic(self) -> None:
        """Signals run to completion, so answers must not be able to go round for ever."""
        graph: dict[tuple[int, str], set[tuple[int, str]]] = {}
        for index, part in enumerate(self.parts):
            for signal, answers in part.takes.items():
                after = graph.setdefault((index, signal), set())
                for answer in answers:
                    after.update((receiver, answer) for receiver in self.receivers.get(answer, ()))
        try:
            TopologicalSorter(graph).prepare()
        except CycleError as error:
            names = [f"{self.parts[i].name} on {signal}" for i, signal in error.args[1]]
            raise ModelFault("signals can go round in a circle: " + ", ".join(names)) from None


def _check_timers(part: Part, row: tuple[Timer, ...]) -> None:
    if len({timer.name for timer in row}) != len(row):
        raise ModelFault(f"part `{part.name}` arms two timers of one name")
    for timer in row:
        if timer.lo < 0 or timer.lo > timer.hi or timer.lo == FOREVER:
            raise ModelFault(f"part `{part.name}` arms `{timer.name}` with an empty interval")


def _check_choices(part: Part, cause: str, row: tuple[Choice, ...], allowed: tuple[str, ...]) -> None:
    if not row:
        raise ModelFault(f"part `{part.name}` has no choice on {cause}")
    for choice in row:
        for signal in choice.send:
            if signal not in allowed:
                raise ModelFault(f"part `{part.name}` sends `{signal}` on {cause} without saying so")
