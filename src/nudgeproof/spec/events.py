"""Outside events: the sections `events` and `cell`, and the surroundings that make them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from nudgeproof.spec.asleep import WAKING_IS_TAKEN
from nudgeproof.spec.fields import (
    Found,
    Keys,
    TimeWanted,
    describe,
    place_value,
    read_list,
    read_mapping,
    read_name,
    read_span,
    read_yes,
    refer,
    sort_keys,
)
from nudgeproof.spec.nodes import Mapping, Words
from nudgeproof.spec.notes import Notes, show
from nudgeproof.spec.outside import CELL_FINE, CELL_LOW, WAKING, CellRules, Event, Maker, Sag
from nudgeproof.spec.types import Source, State
from nudgeproof.units import Form, NotAQuantity, read_volts, show_mv

MAKES: Final = "makes"
CELL: Final = "cell"
NONE_FOR: Final = "then none for at least"
STEADY: Final = "then steady at least"
SAGS: Final = "sags and recovers"

_MEANT: Final = "meant"
_COUNTS: Final = "wakes and counts"
_APART: Final = TimeWanted((Form.EXACT,), "the key says `at least` already", "300 ms")
_EVERY: Final = TimeWanted(
    (Form.EXACT, Form.RANGE, Form.PLUS_MINUS), "it is the time between two looks at the cell", "10 s", least_us=1
)
_OF_THE_CELL: Final = (CELL_LOW, CELL_FINE)
_LEVELS: Final = {
    "low below": ("it is the voltage below which the cell counts as low", "2.2 V"),
    "fine above": ("it is the voltage above which a low cell counts as fine again", "2.4 V"),
}


def read_events(found: Found, gestures: Sequence[str], buttons: Sequence[str], notes: Notes) -> tuple[Event, ...]:
    """The section `events`: names, each with what is said of it; `gestures` and `buttons` are names that are taken."""
    mapping = read_mapping(found, "`events`", "events: {footfall: {}}", notes)
    events = (_read_event(Found(*entry), gestures, buttons, notes) for entry in (mapping.entries if mapping else ()))
    return tuple(event for event in events if event is not None)


def _read_event(found: Found, gestures: Sequence[str], buttons: Sequence[str], notes: Notes) -> Event | None:
    name, at = read_name(found.key, "event", notes), found.key.place
    owner = f"event `{show(found.key.text)}`"
    if name is not None and (why := _why_not(name, gestures, buttons)):
        notes.complain(at, f"an event named `{show(name)}`", why, "use another name")
        return None
    if not isinstance(found.value, Mapping):
        what, why = (
            f"{owner} is {describe(found.value)}",
            "keys belong here, or empty braces if nothing is to be said of it",
        )
        notes.complain(place_value(found), what, why, f"write `{show(found.key.text)}: {{}}`")
        return None
    keys = sort_keys(found.value, at, owner, (_COUNTS,), (), notes)
    counts = keys.found.get(_COUNTS)
    why = "it says whether the firmware also sees the event that woke it"
    is_counted = counts is None or read_yes(counts, f"`{_COUNTS}` of {owner}", why, notes)
    return None if name is None else Event(name, bool(is_counted), at)


def _why_not(name: str, gestures: Sequence[str], buttons: Sequence[str]) -> str:
    """Why an event can't have this name; nothing if it can."""
    for start in ("after ", "every "):
        if name.startswith(start):
            return f"a line in `transitions` that starts with `{start.strip()}` is a time"
    if name in _OF_THE_CELL:
        return "the section `cell` makes the event of this name"
    if name == WAKING:
        return WAKING_IS_TAKEN
    if name in gestures:
        return "there is a gesture of this name, and a line in `transitions` couldn't tell the two"
    return "there is a button of this name, and `woken by` couldn't tell the two" if name in buttons else ""


def read_cell(found: Found, notes: Notes) -> CellRules | None:
    """The section `cell`: between which voltages it counts as low, and how often the firmware looks."""
    owner, at = "`cell`", found.key.place
    example = "cell: {low below: 2.2 V, fine above: 2.4 V, read every: 10 s}"
    mapping = read_mapping(found, owner, example, notes)
    if mapping is None:
        return None
    keys = sort_keys(mapping, at, owner, (*_LEVELS, "read every"), (), notes)
    low, fine = (_read_level(keys, key, notes) for key in _LEVELS)
    needed = keys.require("read every", owner, _EVERY.meaning, f"write `read every: {_EVERY.example}`", notes)
    every = read_span(needed, owner, _EVERY, notes)
    if low is not None and fine is not None and low >= fine:
        what = f"the cell counts as low below {show_mv(low)}, and as fine above {show_mv(fine)}"
        why = "between the two nothing is to change, else the device would go to and fro"
        notes.complain(keys.found["fine above"].value.place, what, why, f"write more than {show_mv(low)} here")
    if low is None or fine is None or every is None:
        return None
    return CellRules(low, fine, every, at)


def _read_level(keys: Keys, key: str, notes: Notes) -> int | None:
    """A voltage in millivolts."""
    why, example = _LEVELS[key]
    found = keys.require(key, "`cell`", why, f"write `{key}: {example}`", notes)
    if found is None:
        return None
    subject, at = f"`{key}` of `cell`", place_value(found)
    if not isinstance(found.value, Words) or not found.value.text.strip() or found.value.block:
        notes.complain(at, f"{subject} is {describe(found.value)}", why, f"write `{key}: {example}`")
        return None
    try:
        return read_volts(found.value.text)
    except NotAQuantity as error:
        notes.complain(at, f"{subject}: {show(str(error), 120)}", why, show(error.cure, 120))
        return None


def is_maker(value: Mapping) -> bool:
    """Whether a source is written as one that makes events."""
    return any(key.text in (MAKES, NONE_FOR) for key, _ in value.entries)


def is_sag(value: Mapping) -> bool:
    """Whether a source is written as a weak cell."""
    return any(key.text == CELL for key, _ in value.entries)


def read_maker(found: Found, mapping: Mapping, events: Sequence[str] | None, notes: Notes) -> Maker | None:
    """A source such as `{makes: footfall, then none for at least: 300 ms}`; `events` None when they are not known."""
    owner, at = f"`{show(found.key.text)}` in `surroundings`", found.key.place
    keys = sort_keys(mapping, at, owner, (MAKES, NONE_FOR, _MEANT), (), notes)
    example = f"makes: {events[0] if events else 'footfall'}"
    why = "it names the events, which come in this order, over and over"
    makes = keys.require(MAKES, owner, why, f"write `{example}`", notes)
    words = (
        () if makes is None else read_list(makes.value, makes.key.place, f"`{MAKES}` of {owner}", why, example, notes)
    )
    for word in words:
        if word.text in _OF_THE_CELL:
            cure = f"write a source such as `weak cell: {{{CELL}: {SAGS}}}`"
            notes.complain(word.place, f"{owner} makes `{word.text}`", "only the cell can", cure)
        else:
            refer(word, events, "event", notes)
    apart_us = _read_apart(keys, NONE_FOR, found.key.text, owner, notes)
    meant = _read_meant(keys, found.key.text, owner, notes)
    return Maker(found.key.text, tuple(word.text for word in words), apart_us, meant, at) if words else None


def read_sag(found: Found, mapping: Mapping, notes: Notes) -> Sag | None:
    """A source such as `{cell: sags and recovers, then steady at least: 1 s}`."""
    owner, at = f"`{show(found.key.text)}` in `surroundings`", found.key.place
    keys = sort_keys(mapping, at, owner, (CELL, STEADY, _MEANT), (), notes)
    cell = keys.found[CELL]
    if not isinstance(cell.value, Words) or cell.value.text != SAGS:
        what, why = f"`{CELL}` of {owner} is {describe(cell.value)}", "a weak cell does one thing"
        cure = f"write `{CELL}: {SAGS}`; a cell that loses contact is `cell gone: up to 40 ms`"
        notes.complain(place_value(cell), what, why, cure)
    apart_us = _read_apart(keys, STEADY, found.key.text, owner, notes)
    return Sag(found.key.text, apart_us, _read_meant(keys, found.key.text, owner, notes), at)


def _read_apart(keys: Keys, key: str, name: str, owner: str, notes: Notes) -> int:
    if key not in keys.found and key not in keys.guessed:
        notes.assume(f"{key}: 0 ms ({name} in surroundings)", keys.at)
    apart = read_span(keys.found.get(key), owner, _APART, notes)
    return 0 if apart is None else apart.lo


def _read_meant(keys: Keys, name: str, owner: str, notes: Notes) -> bool:
    found = keys.found.get(_MEANT)
    if found is None:
        if _MEANT not in keys.guessed:
            notes.assume(f"meant: false ({name} in surroundings)", keys.at)
        return False
    why = "it says whether this is what the device is for; if not, it is asked about as a disturbance"
    return bool(read_yes(found, f"`{_MEANT}` of {owner}", why, notes))


def check_events(
    events: Sequence[Event],
    cell: CellRules | None,
    sources: Sequence[Source],
    states: Sequence[State],
    has_all: bool,
    notes: Notes,
) -> None:
    """Note events that nothing makes, and what is said of the cell by one section alone; list what wakes and counts.

    `has_all`: all that was written in `surroundings` could be read, so that what isn't among `sources` isn't there.
    """
    made = {event for what in sources if isinstance(what, Maker) for event in what.events}
    for event in events if has_all else ():
        if event.name not in made:
            what, why = f"nothing makes the event `{show(event.name)}`", "what never happens is never tried"
            cure = f"add a source to `surroundings`, such as `walkers: {{{MAKES}: {show(event.name)}, {_MEANT}: true}}`"
            notes.complain(event.at, what, why, cure)
    sags = [what for what in sources if isinstance(what, Sag)]
    if cell is not None and not sags and has_all:
        why = "what never happens is never tried"
        cure = f"add a source to `surroundings`, such as `weak cell: {{{CELL}: {SAGS}, {_MEANT}: true}}`"
        notes.complain(cell.at, "nothing makes the cell go low", why, cure)
    waking = {name for state in states if state.sleep is not None for name in state.sleep.woken_by_events}
    for event in events:
        if event.counts and event.name in waking:
            notes.assume(f"{_COUNTS}: true (event {event.name})", event.at)


def check_weak_cells(has_cell: bool, sources: Sequence[Source], notes: Notes) -> None:
    """Note a weak cell of a device that never looks at its cell."""
    for what in sources if not has_cell else ():
        if isinstance(what, Sag):
            cure = "add a line such as `cell: {low below: 2.2 V, fine above: 2.4 V, read every: 10 s}`"
            text = f"`{show(what.name)}` makes the cell weak, and the spec has no `cell`"
            notes.complain(what.at, text, "only it says which voltages the firmware tells apart", cure)
