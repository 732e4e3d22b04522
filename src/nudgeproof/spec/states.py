"""States and groups of them: sleep, waiting, what they show, what entering them does, and what they share."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

from nudgeproof.spec.asleep import STEPS_KEYS, read_steps, spread_unarmed
from nudgeproof.spec.conditions import cover_all
from nudgeproof.spec.depths import read_depth, split_wakers
from nudgeproof.spec.fields import (
    Found,
    Keys,
    TimeWanted,
    describe,
    read_list,
    read_mapping,
    read_name,
    read_span,
    read_text,
    read_words,
    read_yes,
    sort_keys,
)
from nudgeproof.spec.names import Names
from nudgeproof.spec.nodes import Mapping, Node, Words
from nudgeproof.spec.notes import Notes, show, suggest
from nudgeproof.spec.outcomes import read_set
from nudgeproof.spec.outside import WAKING
from nudgeproof.spec.transitions import has_time, read_transitions
from nudgeproof.spec.types import Group, Sleep, State, Timeout, Transition
from nudgeproof.units import Form, Span

MOST_STATES: Final = 64

_VARYING: Final = (Form.EXACT, Form.RANGE, Form.PLUS_MINUS)
_READY: Final = TimeWanted(
    (*_VARYING, Form.UP_TO), "it is how long the processor takes to wake", "2 ms ± 1 ms", unit="ready in"
)
_DOZE: Final = TimeWanted(
    _VARYING, "it is how long all must be quiet before it goes to sleep", "50 ms", least_us=1, unit="dozes again after"
)
_BUSY: Final = TimeWanted(
    (*_VARYING, Form.UP_TO),
    "it is how long the firmware is deaf after the state is entered",
    "up to 300 ms",
    reaches_us=1,
)
_STEP: Final = TimeWanted((Form.UP_TO,), "it is how long each step of going to sleep takes", "up to 20 us")
_AT_MOST: Final = TimeWanted((Form.EXACT,), "it is the longest time that the device may stay here", "4 h", least_us=1)
_GIVES_UP: Final = TimeWanted(
    _VARYING,
    "it is the time after which a button that stays down no longer keeps it awake",
    "30 s",
    least_us=1,
    unit="ignores a held button after",
)
_IGNORES: Final = "ignores a held button after"
_STEP_US: Final = 20


@dataclass(frozen=True, slots=True)
class _Shared:
    """What a group gives to each of its states."""

    group: str = ""
    shows: str | None = None
    transitions: tuple[Transition, ...] = ()
    timeouts: tuple[Timeout, ...] = ()


def find_states(found: Found | None) -> tuple[Words, ...]:
    """The names of all states and groups, sound or not, in the order of the file."""
    words = []
    for key, value in _entries(found):
        inner = _find_inner(value)
        words += [key, *(child for child, _ in _entries(inner))]
    return tuple(words)


def find_starts(found: Found | None) -> dict[str, str]:
    """For each group the state that a line leading to it enters: the one it names, else its first."""
    starts = {}
    for key, value in _entries(found):
        children = [child.text for child, _ in _entries(_find_inner(value))]
        named = next(
            (v.text for k, v in _entries(Found(key, value)) if k.text == "starts in" and isinstance(v, Words)), ""
        )
        if children:
            starts[key.text] = named if named in children else children[0]
    return starts


def _entries(found: Found | None) -> tuple[tuple[Words, Node], ...]:
    return found.value.entries if found is not None and isinstance(found.value, Mapping) else ()


def _find_inner(value: Node) -> Found | None:
    """The key `states` of a group; None for a state."""
    entries = value.entries if isinstance(value, Mapping) else ()
    return next((Found(key, inner) for key, inner in entries if key.text == "states"), None)


def read_states(found: Found, names: Names, notes: Notes) -> tuple[tuple[State, ...], tuple[Group, ...]]:
    """The section `states`: all states, those of groups among them, and the groups."""
    mapping = read_mapping(found, "`states`", "stowed: {transitions: {hold: glowing}}", notes)
    if mapping is None:
        return (), ()
    words = find_states(found)
    single = len(words) - len(names.starts)
    if single > MOST_STATES:
        what = f"{single} states"
        notes.complain(
            words[MOST_STATES].place, what, f"more than {MOST_STATES} can't be explored", "describe the device in fewer"
        )
    _check_names(words, notes)
    states: list[State] = []
    groups: list[Group] = []
    for key, value in mapping.entries:
        if _find_inner(value) is not None:
            group, members = _read_group(Found(key, value), names, notes)
            groups += [] if group is None else [group]
            states += members
        else:
            state = _read_state(Found(key, value), _Shared(), names, notes)
            states += [] if state is None else [state]
    _check_entering(states, notes)
    return spread_unarmed(tuple(states)), tuple(groups)


def _check_names(words: tuple[Words, ...], notes: Notes) -> None:
    """Note names that a group or its states have once more."""
    first: dict[str, Words] = {}
    for word in words:
        if (earlier := first.setdefault(word.text, word)) is not word:
            what = f"`{show(word.text)}` is named a second time in `states`"
            why, cure = "a line that leads there couldn't tell which is meant", "give one of them another name"
            notes.complain(word.place, what, why, cure, also=earlier.place)


def _check_entering(states: list[State], notes: Notes) -> None:
    """Note a `keep` of what entering wouldn't change, and a change that entering replaces."""
    entered = {state.name: {name for name, _ in state.on_entering} for state in states}
    noted = set()
    for state in states:
        lines: tuple[Transition | Timeout, ...] = (*state.transitions, *state.timeouts)
        for line in lines:
            changed = (*line.next, *line.previous, *(name for name, _ in line.set))
            if line.target not in entered or line.at in noted:
                continue
            for name in (name for name in line.keep if name not in entered[line.target]):
                noted.add(line.at)
                what = f"`keep` names `{show(name)}`, and entering `{show(line.target)}` doesn't change it"
                why = "only what stands under `on entering` of the state could be kept from happening"
                notes.complain(line.at, what, why, "take `keep` out, or correct the name")
            for name in (name for name in changed if name in entered[line.target] and name not in line.keep):
                noted.add(line.at)
                what = f"`{show(name)}` is changed here, and entering `{show(line.target)}` sets it again"
                why, cure = "the change would never be seen", f"take it out, or add `keep: {show(name)}`"
                notes.complain(line.at, what, why, cure)


def _read_group(found: Found, names: Names, notes: Notes) -> tuple[Group | None, list[State]]:
    """A group and its states, each with the lines that they share."""
    name, at = read_name(found.key, "group", notes), found.key.place
    owner = f"group `{show(found.key.text)}`"
    assert isinstance(found.value, Mapping)
    keys = sort_keys(found.value, at, owner, ("states", "starts in", "shows", "transitions"), (), notes)
    starts_in = keys.found.get("starts in")
    inner = read_mapping(keys.found["states"], f"`states` of {owner}", "states: {low: {}, high: {}}", notes)
    if inner is None:
        return None, []
    children = tuple(key.text for key, _ in inner.entries)
    if starts_in is not None:
        why, example = "it is the state that a line leading to the group enters", f"starts in: {children[0]}"
        words = read_words(starts_in.value, starts_in.key.place, f"`starts in` of {owner}", why, example, notes)
        if words is not None and words.text not in children:
            what = f"`{show(words.text)}` is no state of {owner}"
            notes.complain(words.place, what, why, suggest(words.text, children, "its states"))
    transitions, timeouts = read_transitions(keys.found.get("transitions"), owner, names, notes)
    _check_waking(transitions, owner, "each state that sleeps says for itself what its waking does", notes)
    shared = _Shared(
        found.key.text,
        _read_shows(keys.found.get("shows"), owner, notes),
        tuple(replace(transition, group=found.key.text) for transition in transitions),
        tuple(replace(timeout, group=found.key.text) for timeout in timeouts),
    )
    states = [_read_state(Found(key, value), shared, names, notes) for key, value in inner.entries]
    group = None if name is None else Group(name, children, names.entered(name), at)
    return group, [state for state in states if state is not None]


def _read_state(found: Found, shared: _Shared, names: Names, notes: Notes) -> State | None:
    name, at = read_name(found.key, "state", notes), found.key.place
    owner = f"state `{show(found.key.text)}`"
    value = found.value
    if not isinstance(value, Mapping):
        why, cure = "keys such as `shows` belong here", "indent them under it, or write `{}` if nothing happens in it"
        place = at if isinstance(value, Words) and value.is_missing else value.place
        notes.complain(place, f"{owner} is {describe(value)}", why, cure)
        return None
    if (deeper := _find_inner(value)) is not None:
        what, why = (
            f"{owner} has `states` of its own",
            f"it is in group `{show(shared.group)}`; groups hold only states",
        )
        notes.complain(deeper.key.place, what, why, "write them beside it, in the same group or in one of their own")
        return None
    known = ("sleep", "waiting", "shows", "on entering", "transitions", "at most", "repeats", "unpowered", "busy")
    later = ("entry", "output")
    keys = sort_keys(value, at, owner, known, later, notes)
    before = len(notes.problems)
    sleep = _read_sleep(keys.found["sleep"], found.key.text, names, notes) if "sleep" in keys.found else None
    why = "it says whether the state only waits for the rest of the way on"
    waiting = "waiting" in keys.found and read_yes(keys.found["waiting"], f"`waiting` of {owner}", why, notes)
    shows = _read_shows(keys.found.get("shows"), owner, notes) if "shows" in keys.found else shared.shows
    busy = read_span(keys.found.get("busy"), owner, _BUSY, notes)
    on_entering = _read_on_entering(keys.found.get("on entering"), owner, names, notes)
    transitions, timeouts = read_transitions(keys.found.get("transitions"), owner, names, notes)
    if "sleep" not in keys.found:
        _check_waking(transitions, owner, "the state doesn't sleep", notes)
    own = {transition.gesture for transition in transitions}
    transitions += tuple(transition for transition in shared.transitions if transition.gesture not in own)
    timeouts += shared.timeouts
    if waiting:
        _check_waiting(keys, owner, timeouts, len(notes.problems) == before, names, notes)
    for timeout in _first_cases(timeouts) if "sleep" in keys.found and not waiting else ():
        what = f"`{show(timeout.text)}` in {owner}: a clock that runs in sleep isn't built yet"
        why, cure = "the state sleeps", "take the line out for now, or take `sleep` out of the state"
        notes.complain(timeout.at, what, why, cure)
    why = "it says whether the device has no power here"
    unpowered = "unpowered" in keys.found and read_yes(keys.found["unpowered"], f"`unpowered` of {owner}", why, notes)
    if unpowered:
        _check_unpowered(keys, owner, timeouts, notes)
    if name is None:
        return None
    is_variable = shows is not None and shows in (names.variables or ())
    at_most = read_span(keys.found.get("at most"), owner, _AT_MOST, notes)
    at_most_us = None if at_most is None else at_most.lo
    why = "it says whether the device is meant to come back here by itself"
    repeats = "repeats" in keys.found and read_yes(keys.found["repeats"], f"`repeats` of {owner}", why, notes)
    return State(
        name,
        sleep,
        bool(waiting),
        shows,
        is_variable,
        transitions,
        timeouts,
        at,
        group=shared.group,
        on_entering=on_entering,
        at_most_us=at_most_us,
        repeats=bool(repeats),
        unpowered=bool(unpowered),
        busy=busy,
    )


def _read_on_entering(found: Found | None, owner: str, names: Names, notes: Notes) -> tuple[tuple[str, str], ...]:
    """What entering the state sets: the key `set` below `on entering`."""
    if found is None:
        return ()
    subject = f"`on entering` of {owner}"
    mapping = read_mapping(found, subject, "on entering: {set: {beam: low}}", notes)
    if mapping is None:
        return ()
    keys = sort_keys(mapping, found.key.place, subject, ("set",), (), notes)
    needed = keys.require("set", subject, "it says what entering does", "write `set: {beam: low}`", notes)
    return read_set(needed, subject, names, notes)


def _first_cases(timeouts: tuple[Timeout, ...]) -> tuple[Timeout, ...]:
    """One timeout for each line, whatever cases it has."""
    return tuple({(timeout.group, timeout.text): timeout for timeout in reversed(timeouts)}.values())[::-1]


def _read_shows(found: Found | None, owner: str, notes: Notes) -> str | None:
    if found is None:
        return None
    why = "it is what a person sees, hears or feels"
    words = read_text(found.value, found.key.place, f"`shows` of {owner}", why, "shows: a faint glow", notes)
    return None if words is None else words.text


def _check_waiting(
    keys: Keys, owner: str, timeouts: tuple[Timeout, ...], is_sound: bool, names: Names, notes: Notes
) -> None:
    """Note a waiting state that is asleep, or that may stay. `is_sound`: all its own lines could be read."""
    at = keys.found["waiting"].key.place
    if "sleep" in keys.found:
        why, cure = "a state that waits is awake", "take one of the two out"
        what = f"{owner} has both `sleep` and `waiting`"
        notes.complain(at, what, why, cure, also=keys.found["sleep"].key.place)
        return
    why = "a state that only waits must leave by itself"
    if not has_time(keys.found.get("transitions")) and not timeouts:
        cure = f"add a line such as `after 3 s: {show(names.states[0]) if names.states else 'stowed'}` to `transitions`"
        notes.complain(at, f"{owner} is `waiting` and has no time after which it is left", why, cure)
    elif is_sound and not any(_leaves(first, timeouts, names) for first in timeouts):
        what = f"{owner} is `waiting` and for some values no time leads out of it"
        notes.complain(at, what, why, "give it an `after` without `if`, or with cases that leave no value out")


def _check_waking(transitions: tuple[Transition, ...], owner: str, why: str, notes: Notes) -> None:
    """Note a line for waking where there can't be one."""
    line = next((transition for transition in transitions if transition.gesture == WAKING), None)
    if line is not None:
        notes.complain(line.at, f"`{WAKING}` in {owner}", why, "write it in a state with `sleep`")


def _check_unpowered(keys: Keys, owner: str, timeouts: tuple[Timeout, ...], notes: Notes) -> None:
    at = keys.found["unpowered"].key.place
    for key in ("sleep", "waiting", "shows"):
        if key in keys.found:
            what, why = f"{owner} has both `{key}` and `unpowered`", "a device without power does nothing"
            notes.complain(at, what, why, "take one of the two out", also=keys.found[key].key.place)
    for timeout in timeouts:
        what, why = f"`{show(timeout.text)}` in {owner}", "no clock runs without power"
        notes.complain(timeout.at, what, why, "take the line out", also=at)


def _leaves(first: Timeout, timeouts: tuple[Timeout, ...], names: Names) -> bool:
    """Whether the line of a timeout leads to a state whatever the values are."""
    cases = [timeout for timeout in timeouts if (timeout.group, timeout.text) == (first.group, first.text)]
    return cover_all((case.condition for case in cases if case.target is not None), names.domains)


def _read_sleep(found: Found, state: str, names: Names, notes: Notes) -> Sleep | None:
    owner, at = f"`sleep` of state `{show(state)}`", found.key.place
    mapping = read_mapping(found, owner, "{ready in: 2 ms, dozes again after: 50 ms}", notes)
    if mapping is None:
        return None
    known = ("woken by", "on", "ready in", "dozes again after", "each step", _IGNORES, "depth", *STEPS_KEYS)
    keys = sort_keys(mapping, at, owner, known, ("wake press counts", "clock"), notes)
    woken_by, events = _read_woken_by(keys, owner, state, names, notes)
    depth = read_depth(keys, owner, state, names.sound_depths, names.depths, notes)
    spans: dict[str, Span | None] = {}
    for key, wanted in (("ready in", _READY), ("dozes again after", _DOZE), ("each step", _STEP)):
        if key != "each step":
            keys.require(key, owner, wanted.meaning, f"write `{key}: {wanted.example}`", notes)
        spans[key] = read_span(keys.found.get(key), owner, wanted, notes)
    if "each step" not in keys.found:
        notes.assume(f"each step: up to {_STEP_US} us (sleep of state {state})", at)
    on = _read_on(keys.found.get("on"), owner, notes)
    if "on" not in keys.found:
        notes.assume(f"on: edge (sleep of state {state})", at)
    ready, doze = spans["ready in"], spans["dozes again after"]
    if ready is None or doze is None:
        return None
    gives_up = read_span(keys.found.get(_IGNORES), owner, _GIVES_UP, notes)
    step = spans["each step"] or Span(0, _STEP_US)
    return read_steps(keys, owner, Sleep(woken_by, on, ready, doze, step, at, gives_up, events, depth), notes)


def _read_woken_by(
    keys: Keys, owner: str, state: str, names: Names, notes: Notes
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The buttons and the events that wake it: all buttons unless said otherwise."""
    found, buttons = keys.found.get("woken by"), names.buttons
    if found is None:
        if buttons:
            notes.assume(f"woken by: [{', '.join(buttons)}] (sleep of state {state})", keys.at)
        return buttons or (), ()
    example = f"woken by: [{buttons[0] if buttons else 'pad'}]"
    why = "it says which buttons wake the device" if not names.events else "it says what wakes the device"
    words = read_list(found.value, found.key.place, f"`woken by` of {owner}", why, example, notes)
    return split_wakers(words, buttons, names.events, notes)


def _read_on(found: Found | None, owner: str, notes: Notes) -> str:
    if found is None:
        return "edge"
    if isinstance(found.value, Words) and found.value.text in ("edge", "level"):
        return found.value.text
    at = found.key.place if isinstance(found.value, Words) and found.value.is_missing else found.value.place
    what, why = f"`on` of {owner} is {describe(found.value)}", "it says what of the button wakes the device"
    notes.complain(at, what, why, "write `edge` (it closes or opens) or `level` (it is closed)")
    return "edge"
