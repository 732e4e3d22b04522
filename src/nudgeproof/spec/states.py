"""States: sleep, waiting, what they show, and what leads out of them."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

from nudgeproof.diagnostics import Place
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
    read_time_words,
    read_words,
    read_yes,
    refer,
    refuse_later,
    sort_keys,
)
from nudgeproof.spec.nodes import Mapping, Words
from nudgeproof.spec.notes import Notes, show, suggest
from nudgeproof.spec.outside import Depth
from nudgeproof.spec.types import Sleep, State, Timeout, Transition
from nudgeproof.units import Form, Span

MOST_STATES: Final = 64

_VARYING: Final = (Form.EXACT, Form.RANGE, Form.PLUS_MINUS)
_READY: Final = TimeWanted((*_VARYING, Form.UP_TO), "it is how long the processor takes to wake", "2 ms ± 1 ms")
_DOZE: Final = TimeWanted(_VARYING, "it is how long all must be quiet before it goes to sleep", "50 ms", least_us=1)
_BUSY: Final = TimeWanted(
    (*_VARYING, Form.UP_TO),
    "it is how long the firmware is deaf after the state is entered",
    "up to 300 ms",
    reaches_us=1,
)
_STEP: Final = TimeWanted((Form.UP_TO,), "it is how long each step of going to sleep takes", "up to 20 us")
_AFTER: Final = TimeWanted(_VARYING, "it is the time after which the state is left", "after 3 s", least_us=1)
_AT_MOST: Final = TimeWanted((Form.EXACT,), "it is the longest time that the device may stay here", "4 h", least_us=1)
_GIVES_UP: Final = TimeWanted(
    _VARYING, "it is the time after which a button that stays down no longer keeps it awake", "30 s", least_us=1
)
_IGNORES: Final = "ignores a held button after"
_STEP_US: Final = 20

_LATER_TRANSITION: Final = ("previous", "set", "keep", "if")
_AFTER_KEY: Final = re.compile(r"after\s+(?P<time>.+?)(?:\s+with\s+(?P<button>.+?)\s+open)?")


@dataclass(frozen=True, slots=True)
class Names:
    """The names a state may refer to; None for those that are not known because their section is broken."""

    buttons: tuple[str, ...] | None
    gestures: tuple[str, ...] | None
    variables: tuple[str, ...] | None
    states: tuple[str, ...] | None
    events: tuple[str, ...] | None = ()
    depths: tuple[str, ...] | None = ()
    sound_depths: tuple[Depth, ...] = ()

    @property
    def triggers(self) -> tuple[str, ...] | None:
        """What may stand before a transition: gestures and events."""
        return None if self.gestures is None or self.events is None else (*self.gestures, *self.events)


def read_states(found: Found, names: Names, notes: Notes) -> tuple[State, ...]:
    """The section `states`."""
    mapping = read_mapping(found, "`states`", "stowed: {transitions: {hold: glowing}}", notes)
    if mapping is None:
        return ()
    if len(mapping.entries) > MOST_STATES:
        what = f"{len(mapping.entries)} states"
        at = mapping.entries[MOST_STATES][0].place
        notes.complain(at, what, f"more than {MOST_STATES} can't be explored", "describe the device in fewer")
    states = [_read_state(Found(key, value), names, notes) for key, value in mapping.entries]
    return tuple(state for state in states if state is not None)


def _read_state(found: Found, names: Names, notes: Notes) -> State | None:
    name, at = read_name(found.key, "state", notes), found.key.place
    owner = f"state `{show(found.key.text)}`"
    value = found.value
    if not isinstance(value, Mapping):
        why, cure = "keys such as `shows` belong here", "indent them under it, or write `{}` if nothing happens in it"
        place = at if isinstance(value, Words) and value.is_missing else value.place
        notes.complain(place, f"{owner} is {describe(value)}", why, cure)
        return None
    known, later = (
        ("sleep", "waiting", "shows", "transitions", "at most", "repeats", "unpowered", "busy"),
        ("states", "entry", "if"),
    )
    keys = sort_keys(value, at, owner, known, later, notes)
    sleep = _read_sleep(keys.found["sleep"], found.key.text, names, notes) if "sleep" in keys.found else None
    why = "it says whether the state only waits for the rest of the way on"
    waiting = "waiting" in keys.found and read_yes(keys.found["waiting"], f"`waiting` of {owner}", why, notes)
    shows = _read_shows(keys.found.get("shows"), owner, notes)
    busy = read_span(keys.found.get("busy"), owner, _BUSY, notes)
    transitions, timeouts = _read_transitions(keys.found.get("transitions"), owner, names, notes)
    if waiting:
        _check_waiting(keys, owner, names, notes)
    for timeout in timeouts if "sleep" in keys.found and not waiting else ():
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
        at_most_us,
        bool(repeats),
        bool(unpowered),
        busy,
    )


def _read_shows(found: Found | None, owner: str, notes: Notes) -> str | None:
    if found is None:
        return None
    why = "it is what a person sees, hears or feels"
    words = read_words(found.value, found.key.place, f"`shows` of {owner}", why, "shows: a faint glow", notes)
    return None if words is None else words.text.strip()


def _check_waiting(keys: Keys, owner: str, names: Names, notes: Notes) -> None:
    at = keys.found["waiting"].key.place
    if "sleep" in keys.found:
        why, cure = "a state that waits is awake", "take one of the two out"
        what = f"{owner} has both `sleep` and `waiting`"
        notes.complain(at, what, why, cure, also=keys.found["sleep"].key.place)
    elif not _has_after(keys.found.get("transitions")):
        why = "a state that only waits must leave by itself"
        cure = f"add a line such as `after 3 s: {show(names.states[0]) if names.states else 'stowed'}` to `transitions`"
        notes.complain(at, f"{owner} is `waiting` and has no time after which it is left", why, cure)


def _check_unpowered(keys: Keys, owner: str, timeouts: tuple[Timeout, ...], notes: Notes) -> None:
    at = keys.found["unpowered"].key.place
    for key in ("sleep", "waiting", "shows"):
        if key in keys.found:
            what, why = f"{owner} has both `{key}` and `unpowered`", "a device without power does nothing"
            notes.complain(at, what, why, "take one of the two out", also=keys.found[key].key.place)
    for timeout in timeouts:
        what, why = f"`{show(timeout.text)}` in {owner}", "no clock runs without power"
        notes.complain(timeout.at, what, why, "take the line out", also=at)


def _has_after(found: Found | None) -> bool:
    """Whether a timeout was written, sound or not."""
    value = found.value if found is not None else None
    return isinstance(value, Mapping) and any(_is_after(key.text) for key, _ in value.entries)


def _is_after(key: str) -> bool:
    return key == "after" or key.startswith("after ")


def _read_sleep(found: Found, state: str, names: Names, notes: Notes) -> Sleep | None:
    owner, at = f"`sleep` of state `{show(state)}`", found.key.place
    mapping = read_mapping(found, owner, "{ready in: 2 ms, dozes again after: 50 ms}", notes)
    if mapping is None:
        return None
    known = ("woken by", "on", "ready in", "dozes again after", "each step", _IGNORES, "depth")
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
    return Sleep(woken_by, on, ready, doze, spans["each step"] or Span(0, _STEP_US), at, gives_up, events, depth)


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


def _read_transitions(
    found: Found | None, owner: str, names: Names, notes: Notes
) -> tuple[tuple[Transition, ...], tuple[Timeout, ...]]:
    """The mapping `transitions`: gestures and `after` times with what they lead to."""
    transitions: list[Transition] = []
    timeouts: list[Timeout] = []
    if found is None:
        return (), ()
    subject = f"`transitions` of {owner}"
    if isinstance(found.value, Mapping) and not found.value.entries:
        return (), ()
    mapping = read_mapping(found, subject, "{hold: glowing}", notes)
    for key, value in mapping.entries if mapping is not None else ():
        if _is_after(key.text):
            timeout = _read_timeout(Found(key, value), owner, names, notes)
            timeouts.extend([timeout] if timeout is not None else [])
            continue
        transition = _read_transition(Found(key, value), owner, names, notes)
        if names.triggers is None or key.text in names.triggers:
            transitions.extend([transition] if transition is not None else [])
        else:
            _complain_of_trigger(key, names, notes)
    return tuple(transitions), tuple(timeouts)


def _complain_of_trigger(key: Words, names: Names, notes: Notes) -> None:
    if key.text in _LATER_TRANSITION:
        refuse_later(f"`{key.text}`", key.place, notes)
    elif not names.events:
        refer(key, names.gestures, "gesture", notes)
    else:
        what, why = f"there is no gesture or event `{show(key.text)}`", "each is named under `gestures` or `events`"
        notes.complain(key.place, what, why, suggest(key.text, names.triggers or (), "known"))


def _read_transition(found: Found, owner: str, names: Names, notes: Notes) -> Transition | None:
    name, at = found.key.text, found.key.place
    subject = f"`{show(name)}` in {owner}"
    if not isinstance(found.value, Mapping):
        target = _read_target(found, subject, names.states, notes)
        return None if target is None else Transition(name, target, (), False, at)
    keys = sort_keys(found.value, at, subject, ("to", "next", "restarts"), _LATER_TRANSITION, notes)
    to, steps, restarts = (keys.found.get(key) for key in ("to", "next", "restarts"))
    target = _read_target(to, f"`to` of {subject}", names.states, notes) if to is not None else None
    why = "it says whether the times of the state start anew"
    is_restart = restarts is not None and read_yes(restarts, f"`restarts` of {subject}", why, notes)
    words: tuple[Words, ...] = ()
    if steps is not None:
        why = "it names the variables that step to their next value"
        words = read_list(steps.value, steps.key.place, f"`next` of {subject}", why, "next: beam", notes)
        for word in words:
            refer(word, names.variables, "variable", notes)
    if to is None and steps is None and not keys.guessed & {"to", "next"}:
        cure = "write `to: ` and a state, or `next: ` and a variable"
        cure = "to start its times anew, lead to the state itself" if is_restart else cure
        notes.complain(at, f"{subject} has neither `to` nor `next`", "it would do nothing that a person sees", cure)
    if to is not None and restarts is not None and is_restart:
        why, cure = "a state that is entered starts its times anew by itself", "take `restarts` out"
        notes.complain(restarts.key.place, f"{subject} has `restarts` beside `to`", why, cure, also=to.key.place)
    if to is not None and target is None:
        return None
    return Transition(name, target, tuple(word.text for word in words), bool(is_restart), at)


def _read_target(found: Found, subject: str, states: tuple[str, ...] | None, notes: Notes) -> str | None:
    """The state something leads to."""
    example = f"{found.key.text}: {states[0] if states else 'stowed'}"
    words = read_words(found.value, found.key.place, subject, "the state it leads to belongs here", example, notes)
    return None if words is None else refer(words, states, "state", notes)


def _read_timeout(found: Found, owner: str, names: Names, notes: Notes) -> Timeout | None:
    """A line `after 3 s: stowed` or `after 3 s with pad open: stowed`."""
    key, at = found.key, found.key.place
    subject = f"`{show(key.text)}` in {owner}"
    match = _AFTER_KEY.fullmatch(key.text)
    if match is None:
        why = "it is the time after which the state is left"
        notes.complain(at, f"{subject} has no time", why, "write `after 3 s: ` and a state")
        return None
    example = f"write `{_AFTER.example}`, or `after 3 s with {names.buttons[0] if names.buttons else 'pad'} open`"
    span = None
    if match["button"] is None and re.search(r"\bwith\b", match["time"]):
        why = "only an open button can be waited for"
        notes.complain(at, f"{subject} has a `with` that isn't understood", why, example)
    else:
        quantity = read_time_words(match["time"], at, subject, _AFTER, example, notes)
        span = None if quantity is None else quantity.span
    if match["button"] is not None:
        column = at.column + match.start("button") + (0 if key.plain else 1)
        refer(Words(match["button"], Place(at.file, at.line, column), key.plain), names.buttons, "button", notes)
    target = None
    if isinstance(found.value, Mapping):
        keys = sort_keys(found.value, at, subject, ("to",), _LATER_TRANSITION, notes)
        to = keys.require("to", subject, "a time leads to a state", "write `to: ` and a state", notes)
        target = _read_target(to, f"`to` of {subject}", names.states, notes) if to is not None else None
    else:
        target = _read_target(found, subject, names.states, notes)
    if span is None or target is None:
        return None
    return Timeout(span, match["button"], target, key.text, at)
