"""From where sure steps lead to a state that sleeps, with the values that conditions hang on.

A *place* is a state with the values of those variables that any condition names; nothing else decides where a line leads.
A step counts only if it comes out well for every value that the variables may have got by time alone meanwhile, and, for
times, whichever of them runs out first.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from nudgeproof.parts.changes import change, first_values, pick, start_values
from nudgeproof.parts.memory import settled_state
from nudgeproof.parts.performer import Act
from nudgeproof.spec.types import Device, Timeout, Transition

MOST_PLACES = 2_000
"""More than these aren't looked at."""

Place = tuple[str, tuple[str, ...]]
_Line = tuple[str, str]
"""A time by the group and the text of its line."""


class TooMany(Exception):
    """There are more places than can be looked at."""


@dataclass(frozen=True, slots=True)
class Ways:
    """All places that the lines of the chart can lead to, whatever the times, and those from which sure steps end asleep."""

    places: tuple[Place, ...]
    sure: frozenset[Place]


def find_ways(device: Device, acts: Iterable[Act]) -> Ways:
    """The ways made of `acts`, which are never missed, and of times; raises `TooMany`."""
    chart = _Chart(device)
    places = chart.reach()
    asleep = {state.name for state in device.states if state.is_off}
    by_state: dict[str, list[Act]] = {}
    for act in acts:
        by_state.setdefault(act.state, []).append(act)
    ways = {
        place: [frozenset(ends) for ends in chart.ways(place, by_state.get(place[0], ()))]
        for place in places
        if place[0] not in asleep
    }
    sure = {place for place in places if place[0] in asleep}
    while found := {place for place, steps in ways.items() if place not in sure and any(s <= sure for s in steps)}:
        sure |= found
    return Ways(places, frozenset(sure))


def tell(device: Device, place: Place) -> str:
    """A place in words."""
    values = " and ".join(f"{name} {value}" for name, value in zip(_deciding(device), place[1], strict=True))
    return f"{place[0]} with {values}" if values else place[0]


def _deciding(device: Device) -> tuple[str, ...]:
    """The variables that a condition names, in their order."""
    named: set[str] = set()
    for state in device.states:
        lines: tuple[Transition | Timeout, ...] = (*state.transitions, *state.timeouts)
        named.update(name for line in lines if line.condition is not None for name, _ in line.condition.allowed)
    return tuple(variable.name for variable in device.variables if variable.name in named)


class _Chart:
    """The chart without its times."""

    def __init__(self, device: Device) -> None:
        self.device = device
        self.deciding = _deciding(device)
        self._others = first_values(device)

    def reach(self) -> tuple[Place, ...]:
        """All places that lines lead to from the start, and the first values in each state that none leads to."""
        device = self.device
        seen: dict[Place, None] = {}
        self._follow(self._place(device.initial, start_values(device)), seen)
        for state in device.states:
            if all(place[0] != state.name for place in seen):
                self._follow(self._place(state.name, first_values(device) | dict(state.on_entering)), seen)
        return tuple(seen)

    def _follow(self, first: Place, seen: dict[Place, None]) -> None:
        waiting = [first]
        while waiting:
            place = waiting.pop()
            if place in seen:
                continue
            if len(seen) >= MOST_PLACES:
                raise TooMany
            seen[place] = None
            waiting += [self.after(place, gesture) for gesture in self.device.state(place[0]).gestures]
            waiting += [self._take(place, timeout) for timeout in self._due(place).values()]
            waiting += [*self._restarts(place), *self._switched_off(place)]

    def ways(self, place: Place, acts: Iterable[Act]) -> Iterator[list[Place]]:
        """For each sure step from here all places in which it may end."""
        drifts = self._drift(place)
        if self._switched_off(place):
            yield [end for now in drifts for end in self._switched_off(now)]
        for act in acts:
            if act.condition is None or act.condition.holds(self._values(place)):
                yield [end for now in drifts for end in self._perform(now, act)]
        due = [self._due(now) for now in drifts]
        leaving = {line for line in due[0] if all(line in d and d[line].target is not None for d in due)}
        soonest = min((due[0][line].after.hi for line in leaving if self._runs_on(due[0][line])), default=None)
        if leaving:
            yield [
                self._take(now, timeout)
                for now, lines in zip(drifts, due, strict=True)
                for timeout in lines.values()
                if timeout.target is not None and not (soonest is not None and self._is_later(timeout, soonest))
            ]
        if due[0]:
            yield [self._take(place, timeout) for timeout in due[0].values()]

    def _perform(self, place: Place, act: Act) -> Iterator[Place]:
        """Where an act may end that begins here, its condition perhaps overtaken by time."""
        first, *further = act.gestures
        ends = [self.after(place, first)]
        if act.condition is not None and not act.condition.holds(self._values(place)):
            yield from ends
        for gesture in further:
            ends = [self.after(now, gesture) for end in ends for now in self._drift(end)]
        yield from ends

    def after(self, place: Place, gesture: str) -> Place:
        """Where a gesture leads; here again if no case applies."""
        cases = (t for t in self.device.state(place[0]).transitions if t.gesture == gesture)
        case = pick(cases, self._values(place))
        return place if case is None else self._take(place, case)

    def _drift(self, place: Place) -> list[Place]:
        """This place and all that time alone may make of it without leaving the state."""
        found = {place: None}
        waiting = [place]
        while waiting:
            now = waiting.pop()
            steps = (timeout for timeout in self._due(now).values() if timeout.target is None)
            further = [after for after in (self._take(now, timeout) for timeout in steps) if after not in found]
            found.update(dict.fromkeys(further))
            waiting += further
        return list(found)

    def _due(self, place: Place) -> dict[_Line, Timeout]:
        """For each time that does something here, the case that applies."""
        lines: dict[_Line, list[Timeout]] = {}
        for timeout in self.device.state(place[0]).timeouts:
            lines.setdefault((timeout.group, timeout.text), []).append(timeout)
        cases = {line: pick(timeouts, self._values(place)) for line, timeouts in lines.items()}
        return {line: case for line, case in cases.items() if case is not None}

    @staticmethod
    def _runs_on(timeout: Timeout) -> bool:
        """Whether a time runs from when the state is entered at the latest, whatever else happens."""
        return timeout.with_open is None and not timeout.by

    @staticmethod
    def _is_later(timeout: Timeout, soonest: float) -> bool:
        """Whether a time can't run out before `soonest`; one of a group may have run for long already."""
        return not timeout.group and timeout.after.lo > soonest

    def _restarts(self, place: Place) -> list[Place]:
        """Where a reset leads; what a torn memory may give is left to the hazard about that."""
        device = self.device
        if device.power_up is None:
            return []
        keeps = device.memory.keeps if device.memory is not None else ()
        states = {*device.power_up.afresh, device.power_up.if_damaged}
        starts = [(state, first_values(device) | dict(device.state(state).on_entering)) for state in sorted(states)]
        values = {name: value for name, value in self._values(place).items() if name in keeps}
        backs = (settled_state(device, place[0]),) if "state" in keeps else device.power_up.afresh
        starts += [(back, first_values(device) | dict(device.state(back).on_entering) | values) for back in backs]
        return [self._place(state, whole) for state, whole in starts]

    def _switched_off(self, place: Place) -> list[Place]:
        """Where a power chip that stays off leads from here, whatever the firmware does: it needs only a long press."""
        if self.device.stays_off is None or self.device.state(place[0]).unpowered:
            return []
        return [(state.name, place[1]) for state in self.device.states if state.unpowered][:1]

    def _take(self, place: Place, line: Transition | Timeout) -> Place:
        target = line.target if line.target is not None else place[0]
        return self._place(target, change(self.device, line, self._values(place)))

    def _values(self, place: Place) -> dict[str, str]:
        return self._others | dict(zip(self.deciding, place[1], strict=True))

    def _place(self, state: str, values: dict[str, str]) -> Place:
        return state, tuple(values[name] for name in self.deciding)
