"""Changes of what leads where: another gesture for a transition, a way off, a second step before the device is on."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from nudgeproof.spec.edit import Edit, Places, Spot
from nudgeproof.spec.types import Device, Disturbance, State
from nudgeproof.units import show_us

_REST, _SWAP, _WAY_OFF, _WAY_IN, _SECOND_STEP, _NEW_GESTURE = 3, 4, 4, 5, 7, 2
_TIMEOUT = "after 10 min"
_CONFIRMING = ("confirming", "confirming on", "second step")
_WAIT_US = (3_000_000, 1_000_000)
_HELD_US, _PRESS_US, _BETWEEN_US = 1_000_000, 400_000, 300_000


@dataclass(frozen=True, slots=True)
class Scope:
    """What a failure is about: the states it goes through, and the transitions its story takes, where they stand.

    `proof`: there is no story, since something wanted can't happen.
    """

    states: frozenset[str]
    taken: tuple[Spot, ...]
    proof: bool


@dataclass(frozen=True, slots=True)
class Change:
    """Edits that make one change together; see `remedies.Remedy`."""

    edits: tuple[Edit, ...]
    size: int
    replaced: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class _Means:
    """A gesture to use somewhere, with the edit that adds it if the spec has none such."""

    name: str
    presses: int
    edits: tuple[Edit, ...]


def restructure(device: Device, places: Places, scope: Scope) -> Iterator[Change]:
    """All changes of this kind that may cure a failure."""
    means = [*(_Means(g.name, len(g.presses), ()) for g in device.gestures), *_new_gestures(device, places)]
    yield from _rests(device, places, scope)
    gestures = {gesture.name for gesture in device.gestures}
    scope = replace(scope, taken=tuple(spot for spot in scope.taken if spot.path[-1] in gestures))
    yield from _swaps(places, scope, means)
    yield from _second_steps(device, places, scope, means)
    if scope.proof:
        yield from _ways_off(device, places, scope, means)
        yield from _ways_in(device, places, scope, means)


def _size(base: int, means: _Means) -> int:
    return base + (_NEW_GESTURE if means.edits else 0)


def _state_of(spot: Spot) -> str:
    """The state that a transition belongs to."""
    return spot.path[-3]


def _swaps(places: Places, scope: Scope, means: list[_Means]) -> Iterator[Change]:
    """Another gesture, not yet in use there, for a transition that the story takes."""
    for spot in scope.taken:
        siblings = places.get(*spot.path[:-1])
        for one in means:
            if siblings is not None and one.name not in (siblings.keys or ()):
                replaced = ((_state_of(spot), spot.path[-1]),)
                yield Change((*one.edits, places.rename(spot, one.name)), _size(_SWAP, one), replaced)


def _rests(device: Device, places: Places, scope: Scope) -> Iterator[Change]:
    """A timeout that the story takes leads to a state that sleeps instead."""
    asleep = [state.name for state in device.states if state.sleep is not None]
    for spot in scope.taken:
        if spot.path[-1].startswith("after ") and spot.words and spot.words not in asleep:
            yield from (Change((places.put(spot, name),), _REST) for name in asleep)


def _second_steps(device: Device, places: Places, scope: Scope, means: list[_Means]) -> Iterator[Change]:
    """A state that waits for a second, different gesture, between one that sleeps and one that is on."""
    states = {state.name: state for state in device.states}
    section = places.get("states")
    name = next((name for name in _CONFIRMING if name not in states), None)
    if section is None or name is None:
        return
    for spot in scope.taken:
        before, after = states.get(_state_of(spot)), states.get(spot.words)
        if before is None or before.sleep is None or after is None or not after.is_on:
            continue
        # Of a chord, the button that comes last in the file's words: either may be let go last.
        button = device.gesture(spot.path[-1]).buttons[-1]
        for one in means:
            if one.name == spot.path[-1]:
                continue
            for wait in _waits(device):
                leads = f"{{{one.name}: {after.name}, after {show_us(wait)} with {button} open: {before.name}}}"
                state = places.add(section, name, f"{{waiting: true, transitions: {leads}}}")
                edits = (*one.edits, places.put(spot, name), state)
                yield Change(edits, _size(_SECOND_STEP, one) + one.presses)


def _waits(device: Device) -> list[int]:
    """How long to wait for the second step: what the person needs, else usual times."""
    person = device.person
    if person is None or person.answers is None:
        return list(_WAIT_US)
    needed = int(person.answers.hi) + 2 * int(person.tap.hi) + int(person.between.hi)
    return [-(-needed // 500_000) * 500_000, *_WAIT_US]


def _ways_off(device: Device, places: Places, scope: Scope, means: list[_Means]) -> Iterator[Change]:
    """A gesture, or a time, that leads to a state that sleeps."""
    asleep = [state.name for state in device.states if state.sleep is not None]
    for state in device.states:
        if state.name not in scope.states or not state.is_on:
            continue
        for target in asleep:
            yield from _ways(places, state, target, means, _WAY_OFF)
            edit = _add(places, state, _TIMEOUT, target)
            if edit is not None and not state.timeouts:
                yield Change((edit,), _WAY_OFF)


def _ways_in(device: Device, places: Places, scope: Scope, means: list[_Means]) -> Iterator[Change]:
    """A gesture that leads to a state that the failure is about, from one that neither sleeps nor waits."""
    for target in device.states:
        if target.name in scope.states and len(scope.states) == 1 and not target.waiting:
            for state in device.states:
                if state.is_on and state.name != target.name:
                    yield from _ways(places, state, target.name, means, _WAY_IN)


def _ways(places: Places, state: State, target: str, means: list[_Means], base: int) -> Iterator[Change]:
    used = {transition.gesture for transition in state.transitions}
    for one in means:
        edit = _add(places, state, one.name, target) if one.name not in used else None
        if edit is not None:
            yield Change((*one.edits, edit), _size(base, one))


def _add(places: Places, state: State, key: str, target: str) -> Edit | None:
    there = next(places.find("states", "**", state.name), None)
    if there is None or there.keys is None:
        return None
    leads = places.get(*there.path, "transitions")
    return places.add(there, "transitions", f"{{{key}: {target}}}") if leads is None else places.add(leads, key, target)


def _new_gestures(device: Device, places: Places) -> Iterator[_Means]:
    """Gestures of kinds that the spec has none of, as this person would do them."""
    section = places.get("gestures")
    if section is None or len(device.buttons) != 1:
        return
    names = {gesture.name for gesture in device.gestures}
    person = device.person
    press = f"press: up to {show_us(_PRESS_US)}"
    pause = _BETWEEN_US
    if person is not None:
        press = f"press: up to {show_us(_up(int(person.tap.hi)))}"
        pause = _up(int(person.between.hi))
    # Below the pauses of what presses without meaning it, where this person's are.
    least = 100_000 if person is None else int(person.between.hi)
    apart = min((w.apart_us for w in device.surroundings if isinstance(w, Disturbance)), default=0) * 4 // 5
    pause = min(pause, apart) if apart > least else pause
    held = _HELD_US if person is None or person.hold is None else min(_HELD_US, int(person.hold.lo) * 4 // 5)
    known = {gesture.presses for gesture in device.gestures}
    kinds = (
        ("tap", ("tap",) in known, f"{{taps: 1, {press}}}", 1),
        ("two taps", ("tap", "tap") in known, f"{{taps: 2, {press}, between: up to {show_us(pause)}}}", 2),
        ("hold", ("hold",) in known, f"{{held: {show_us(held)}}}", 1),
    )
    for name, there, keys, presses in kinds:
        if not there and name not in names:
            yield _Means(name, presses, (places.add(section, name, keys),))


def _up(us: int) -> int:
    """A tenth more, on a grid of 50 ms."""
    return -(-us * 11 // 10 // 50_000) * 50_000
