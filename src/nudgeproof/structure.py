"""Changes of what leads where: another gesture for a transition, a way off, a second step before the device is on."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from nudgeproof.spec.edit import Edit, Path, Places, Spot
from nudgeproof.spec.types import Device, Disturbance, State, Timeout, Transition
from nudgeproof.units import show_us

_REST, _SWAP, _WAY_OFF, _WAY_IN, _SECOND_STEP, _NEW_GESTURE = 3, 4, 4, 5, 7, 2
_TIMEOUT = "after 10 min"
_CONFIRMING = ("confirming", "confirming on", "second step")
_WAIT_US = (3_000_000, 1_000_000)
_HELD_US, _PRESS_US, _BETWEEN_US = 1_000_000, 400_000, 300_000


@dataclass(frozen=True, slots=True)
class Line:
    """A line of the chart, or one of its cases, in the text.

    `state`: where it was taken; `states`: all in which it counts. `key`: what stands after its gesture or time. `goal`:
    where its target stands, None if it has none. `case`: the whole case, None if there is no list of them.
    """

    piece: Transition | Timeout
    state: str
    states: tuple[str, ...]
    key: Spot
    goal: Spot | None
    case: Spot | None

    @property
    def name(self) -> str:
        """The gesture or the time, as written."""
        return self.key.path[-1]


def find_line(device: Device, places: Places, state: State, piece: Transition | Timeout) -> Line | None:
    """Where a line that counts in `state` stands; None if the text has it in no place that can be changed."""
    name = _name(piece)
    owner = ("states", piece.group) if piece.group else path_of(state)
    key = places.get(*owner, "transitions", name)
    if key is None:
        return None
    states = device.states_of(piece.group) if piece.group else (state.name,)
    if isinstance(piece, Transition) and piece.group:
        states = tuple(one for one in states if piece in device.state(one).transitions)
    if key.words:
        return Line(piece, state.name, states, key, key, None)
    lines: tuple[Transition | Timeout, ...] = state.timeouts if isinstance(piece, Timeout) else state.transitions
    cases = [one for one in lines if (one.group, _name(one)) == (piece.group, name)]
    case = None if key.keys is not None else places.get(*key.path, str(cases.index(piece)))
    return Line(piece, state.name, states, key, places.get(*(case or key).path, "to"), case)


def _name(piece: Transition | Timeout) -> str:
    return piece.text if isinstance(piece, Timeout) else piece.gesture


def path_of(state: State) -> Path:
    """Where a state stands."""
    return ("states", state.group, "states", state.name) if state.group else ("states", state.name)


@dataclass(frozen=True, slots=True)
class Scope:
    """What a failure is about: the states it goes through, and the lines of the chart that its story takes.

    `proof`: there is no story, since something wanted can't happen.
    """

    states: frozenset[str]
    taken: tuple[Line, ...]
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
    yield from _swaps(places, scope, means)
    yield from _second_steps(device, places, scope, means)
    if scope.proof:
        yield from _ways_off(device, places, scope, means)
        yield from _ways_in(device, places, scope, means)


def _size(base: int, means: _Means) -> int:
    return base + (_NEW_GESTURE if means.edits else 0)


def _swaps(places: Places, scope: Scope, means: list[_Means]) -> Iterator[Change]:
    """Another gesture, not yet in use there, for a transition that the story takes, with all its cases."""
    for line in scope.taken:
        siblings = places.get(*line.key.path[:-1])
        if isinstance(line.piece, Timeout) or siblings is None:
            continue
        replaced = tuple((state, line.name) for state in line.states)
        for one in means:
            if one.name not in (siblings.keys or ()):
                yield Change((*one.edits, places.rename(line.key, one.name)), _size(_SWAP, one), replaced)


def _lead(places: Places, line: Line, target: str) -> Edit | None:
    """The line leads there instead; None if it leads nowhere now."""
    if line.goal is None:
        return None
    return places.put(line.goal, target) if line.case is None else places.put_in(line.case, "to", target)


def _rests(device: Device, places: Places, scope: Scope) -> Iterator[Change]:
    """A timeout that the story takes leads to a state that sleeps instead."""
    asleep = [state.name for state in device.states if state.sleep is not None]
    for line in scope.taken:
        if isinstance(line.piece, Timeout) and line.piece.target not in asleep:
            edits = [_lead(places, line, name) for name in asleep]
            yield from (Change((edit,), _REST) for edit in edits if edit is not None)


def _second_steps(device: Device, places: Places, scope: Scope, means: list[_Means]) -> Iterator[Change]:
    """A state that waits for a second, different gesture, between one that sleeps and one that is on."""
    taken_names = {state.name for state in device.states} | {group.name for group in device.groups}
    section = places.get("states")
    name = next((name for name in _CONFIRMING if name not in taken_names), None)
    if section is None or name is None:
        return
    for line in scope.taken:
        first = _lead(places, line, name)
        if first is None or isinstance(line.piece, Timeout) or line.piece.target is None:
            continue
        before, after = device.state(line.state), device.state(line.piece.target)
        if before.sleep is None or not after.is_on:
            continue
        # Of a chord, the button that comes last in the file's words: either may be let go last.
        button = device.gesture(line.name).buttons[-1]
        for one in means:
            if one.name == line.name:
                continue
            for wait in _waits(device):
                leads = f"{{{one.name}: {after.name}, after {show_us(wait)} with {button} open: {before.name}}}"
                state = places.add(section, name, f"{{waiting: true, transitions: {leads}}}")
                yield Change((*one.edits, first, state), _size(_SECOND_STEP, one) + one.presses)


def _waits(device: Device) -> list[int]:
    """How long to wait for the second step: what the person needs, else usual times."""
    person = device.person
    if person is None or person.answers is None:
        return list(_WAIT_US)
    needed = int(person.answers.hi) + 2 * int(person.tap.hi) + int(person.between.hi)
    return [-(-needed // 500_000) * 500_000, *_WAIT_US]


def _ways_off(device: Device, places: Places, scope: Scope, means: list[_Means]) -> Iterator[Change]:
    """A gesture, or a time, that leads to a state that sleeps; of a group also one that all its states share."""
    asleep = [state.name for state in device.states if state.sleep is not None]
    for state in device.states:
        if state.name not in scope.states or not state.is_on:
            continue
        for target in asleep:
            for owner, alike in _owners(device, state):
                yield from _ways(places, owner, alike, target, means, _WAY_OFF)
                edit = _add(places, owner, _TIMEOUT, target)
                if edit is not None and not any(one.timeouts for one in alike):
                    yield Change((edit,), _WAY_OFF)


def _owners(device: Device, state: State) -> Iterator[tuple[Path, tuple[State, ...]]]:
    """The state, and the group that it is in, each with the states that a line there counts in."""
    yield path_of(state), (state,)
    if state.group:
        yield ("states", state.group), tuple(device.state(name) for name in device.states_of(state.group))


def _ways_in(device: Device, places: Places, scope: Scope, means: list[_Means]) -> Iterator[Change]:
    """A gesture that leads to a state that the failure is about, from one that neither sleeps nor waits."""
    for target in device.states:
        if target.name in scope.states and len(scope.states) == 1 and not target.waiting:
            for state in device.states:
                if state.is_on and state.name != target.name:
                    yield from _ways(places, path_of(state), (state,), target.name, means, _WAY_IN)


def _ways(
    places: Places, owner: Path, alike: tuple[State, ...], target: str, means: list[_Means], base: int
) -> Iterator[Change]:
    used = {gesture for state in alike for gesture in state.gestures}
    for one in means:
        edit = _add(places, owner, one.name, target) if one.name not in used else None
        if edit is not None:
            yield Change((*one.edits, edit), _size(base, one))


def _add(places: Places, owner: Path, key: str, target: str) -> Edit | None:
    there = places.get(*owner)
    if there is None or there.keys is None:
        return None
    leads = places.get(*owner, "transitions")
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
