"""All readings of a promise's sentence.

Names are free to hold words of the grammar, so a sentence may be cut into names in several ways. Each way whose names are
those of the spec is a reading; a sentence with two is no promise, since nobody can tell which one was meant. No name holds
a comma, and no time holds `within` or `for`, so only the last of those can stand before a time.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from itertools import islice

from nudgeproof.parts.people import ANYTHING, PERSON
from nudgeproof.questions.lasting import START, read_hours
from nudgeproof.questions.promises import FIRST_STARTS, IN_USE
from nudgeproof.spec.types import Device
from nudgeproof.units import Form, NotAQuantity, read_quantity

_ENOUGH = 2
"""How many readings are looked for."""

_Way = tuple[str, "_Way"] | None
"""A list of names: the first, and the others."""


@dataclass(frozen=True, slots=True)
class Reading:
    """One reading, as the keys of a promise; those without words are left out."""

    keys: tuple[tuple[str, tuple[str, ...]], ...]

    def __str__(self) -> str:
        told = [(key, words[0] if len(words) == 1 else f"[{', '.join(words)}]") for key, words in self.keys]
        return "{" + ", ".join(f"{key}: {words}" for key, words in told) + "}"

    @property
    def words(self) -> set[str]:
        """All its names and times."""
        return {word for _, words in self.keys for word in words}


def _reading(*keys: tuple[str, str | tuple[str, ...]]) -> Reading:
    return Reading(tuple((key, (words,) if isinstance(words, str) else words) for key, words in keys if words))


def find_readings(device: Device, sentence: str) -> list[Reading]:
    """Different readings of a sentence, two at most."""
    text = " ".join(sentence.split())
    return list(islice(dict.fromkeys(_Readings(device).read(text)), _ENOUGH))


def find_modes(device: Device, text: str) -> list[tuple[str, str, str]]:
    """All readings of a mode: place, variable, value; the last two "" for a place alone."""
    places = dict.fromkeys((*(state.name for state in device.states), *(group.name for group in device.groups)))
    found = [(text, "", "")] if text in places else []
    for place in places:
        if text.startswith(f"{place} with "):
            rest = text[len(f"{place} with ") :]
            found += [
                (place, variable.name, value)
                for variable in device.variables
                if rest.startswith(variable.name + " ") and (value := rest[len(variable.name) + 1 :]) in variable.values
            ]
    return found


class _Readings:
    """The readings of sentences about one device."""

    def __init__(self, device: Device) -> None:
        self.device = device
        self.places = {state.name for state in device.states} | {group.name for group in device.groups}
        self.gestures = {gesture.name for gesture in device.gestures}
        self.sources = {*(source.name for source in device.surroundings), PERSON, ANYTHING, *FIRST_STARTS}
        self.shown = {state.shows for state in device.states if state.shows is not None}

    def read(self, text: str) -> Iterator[Reading]:
        """All readings; some may come twice."""
        if text.startswith("from "):
            place, _, rest = text.removeprefix("from ").partition(", ")
            yield from self._answers(place, rest)
            yield from self._takes(place, rest)
            yield from self._stays(place, rest)
            yield from self._reaches(place, rest)
        if text.startswith(START):
            yield from self._lasts(text.removeprefix(START))
        if text.startswith("left alone, "):
            yield from self._settles(text.removeprefix("left alone, "))
        for mode, words in _cuts(text, " always shows "):
            if words in self.shown and self._is_mode(mode):
                yield _reading(("in", mode), ("always shows", words))
        yield from self._never(text)

    def _lasts(self, rest: str) -> Iterator[Reading]:
        for time, use in _cuts(rest, " in "):
            if read_hours(time) is not None and use in {day.name for day in self.device.use}:
                yield _reading(("cells last", time), ("use", use))

    def _reaches(self, start: str, rest: str) -> Iterator[Reading]:
        for doing, right in _cuts(rest, " reaches "):
            for target, within in _timed(right, " within "):
                if self._is_mode(target) and self._is_mode(start):
                    for gestures in self._doings(doing):
                        yield _reading(("from", start), ("gestures", gestures), ("reaches", target), ("within", within))

    def _stays(self, start: str, rest: str) -> Iterator[Reading]:
        for doing, right in _cuts(rest, " stays in "):
            for target, lasting in _timed(right, " for "):
                if lasting and self._is_mode(target) and self._is_mode(start):
                    for gestures in self._doings(doing):
                        yield _reading(("from", start), ("gestures", gestures), ("stays in", target), ("for", lasting))

    def _takes(self, place: str, rest: str) -> Iterator[Reading]:
        if place not in self.places:
            return
        for doing, right in _cuts(rest, " takes "):
            for variable in self.device.variables:
                if not right.startswith(f"{variable.name} from "):
                    continue
                for steps, within in _timed(right.removeprefix(f"{variable.name} from "), " within "):
                    for values in _lists(steps, variable.values, (" to ",)):
                        if len(values) > 1:
                            for gestures in self._doings(doing):
                                doing_so = (("from", place), ("gestures", gestures), ("takes", variable.name))
                                yield _reading(*doing_so, ("through", values), ("within", within))

    def _answers(self, place: str, rest: str) -> Iterator[Reading]:
        doing, _, within = rest.rpartition(" answers within ")
        if place in self.places and _is_time(within):
            for gestures in _lists(doing, self.gestures, (", ",)):
                yield _reading(("from", place), ("gestures", gestures), ("answers within", within))

    def _settles(self, rest: str) -> Iterator[Reading]:
        for start, right in _cuts(rest, " reaches "):
            for target, within in _timed(right, " within "):
                if within and self._is_mode(start) and self._is_mode(target):
                    yield _reading(("left alone", start), ("reaches", target), ("within", within))

    def _never(self, text: str) -> Iterator[Reading]:
        in_use = "yes" if text.endswith(IN_USE) else ""
        for who, what in _cuts(text.removesuffix(IN_USE), " never "):
            verb, _, rest = what.partition(" ")
            alone = re.sub(r", together,?$", "", who)
            together = "yes" if alone != who else ""
            names = re.sub(r" ?, ?", ", ", alone)
            if verb in ("reach", "reaches") and self._is_mode(rest):
                for by in _lists(names, self.sources, (" and ", ", ")):
                    yield _reading(("by", by), ("together", together), ("never reaches", rest), ("in use", in_use))
            if verb in ("change", "changes"):
                for kept in _lists(rest, ("state", *(variable.name for variable in self.device.variables)), (" or ",)):
                    for by in _lists(names, self.sources, (" and ", ", ")):
                        yield _reading(("by", by), ("together", together), ("never changes", kept), ("in use", in_use))

    def _doings(self, text: str) -> list[tuple[str, ...]]:
        return _lists(text, self.gestures | set(self.device.event_names), (", ",))

    def _is_mode(self, text: str) -> bool:
        return bool(find_modes(self.device, text))


def _cuts(text: str, joint: str) -> Iterator[tuple[str, str]]:
    """What stands before and after each place where `joint` stands."""
    at = text.find(joint)
    while at >= 0:
        yield text[:at], text[at + len(joint) :]
        at = text.find(joint, at + 1)


def _timed(text: str, joint: str) -> Iterator[tuple[str, str]]:
    """The text without a time, and, if one stands at its end, what stands before it with the time."""
    yield text, ""
    before, _, time = text.rpartition(joint)
    if _is_time(time):
        yield before, time


def _is_time(text: str) -> bool:
    try:
        quantity = read_quantity(text)
    except NotAQuantity:
        return False
    return quantity.form is Form.EXACT


def _lists(text: str, known: Collection[str], joints: Sequence[str]) -> list[tuple[str, ...]]:
    """The ways to cut a text into known names with joints between them, two at most."""
    reached: dict[int, list[_Way]] = {0: [None]}
    found: list[tuple[str, ...]] = []
    names = sorted(known)
    # A name and a joint have some length, so what is reached lies further on.
    for at in range(len(text)):
        for name in names if at in reached else ():
            if not text.startswith(name, at):
                continue
            ways: list[_Way] = [(name, way) for way in reached[at]]
            end = at + len(name)
            if end == len(text):
                found += [_names(way) for way in ways]
            for joint in joints:
                if text.startswith(joint, end):
                    before = reached.get(end + len(joint), [])
                    reached[end + len(joint)] = [*before, *ways][:_ENOUGH]
    return sorted(found)[:_ENOUGH]


def _names(way: _Way) -> tuple[str, ...]:
    names = []
    while way is not None:
        name, way = way
        names.append(name)
    return tuple(reversed(names))
