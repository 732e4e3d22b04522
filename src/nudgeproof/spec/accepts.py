"""The section `accepts`: failures that the maker knows and accepts, with the reasons for people to read."""

from __future__ import annotations

import datetime
import re
from typing import Final

from nudgeproof.diagnostics import Place
from nudgeproof.spec.fields import Found, Keys, describe, place_value, read_list, read_text, refer, sort_keys
from nudgeproof.spec.nodes import Listing, Mapping, Node, Words
from nudgeproof.spec.notes import Notes, show, suggest
from nudgeproof.spec.types import Accepted

_OWNER: Final = "an entry of `accepts`"
_KEYS: Final = {
    "hazard": ("it names the kind of failure", "hazard: accidental-change"),
    "by": ("it names the surroundings that may do it", "by: [knocks]"),
    "in": ("it is the state in which it may happen", "in: glowing"),
    "why": ("who reads the report must see the reason", "why: a knock over 15 ms looks like a tap"),
    "who": ("who reads the report must see whose decision it is", "who: maker"),
    "granted": ("who reads the report must see how old the decision is", "granted: 2026-11-20"),
}
_HAZARD: Final = re.compile(r"[A-Za-z][A-Za-z0-9-]*")
_DATE: Final = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")


def read_accepts(
    found: Found, surroundings: tuple[str, ...] | None, states: tuple[str, ...] | None, notes: Notes
) -> tuple[Accepted, ...]:
    """The section `accepts`; the names of surroundings and of states are None when they are not known."""
    if not isinstance(found.value, Listing):
        cure = "write each entry after `- `, such as `- {hazard: accidental-change, ...}`, or take `accepts` out"
        what, why = f"`accepts` is {describe(found.value)}", "a list of what is accepted belongs here"
        notes.complain(place_value(found), what, why, cure)
        return ()
    accepted = [_read_accepted(item, surroundings, states, notes) for item in found.value.items]
    return tuple(one for one in accepted if one is not None)


def _read_accepted(
    item: Node, surroundings: tuple[str, ...] | None, states: tuple[str, ...] | None, notes: Notes
) -> Accepted | None:
    if not isinstance(item, Mapping) or not item.entries:
        names = "`hazard`, `by`, `in`, `why`, `who` and `granted`"
        what = f"{_OWNER} is {'empty' if isinstance(item, Mapping) else describe(item)}"
        notes.complain(item.place, what, f"it is made of the keys {names}", "write all six, each with its value")
        return None
    keys = sort_keys(item, item.place, _OWNER, tuple(_KEYS), (), notes)
    texts = {key: _read_text(keys, key, notes) for key in _KEYS if key != "by"}
    by = _read_by(keys, surroundings, notes)
    hazard, within, granted = texts["hazard"], texts["in"], texts["granted"]
    if hazard is not None and _HAZARD.fullmatch(hazard.text) is None:
        why, cure = "such a name is made of letters, digits and `-`", f"write such as `{_KEYS['hazard'][1]}`"
        notes.complain(hazard.place, f"`{show(hazard.text)}` is no name of a hazard", why, cure)
    if within is not None:
        refer(within, states, "state", notes)
    if granted is not None:
        _check_date(granted, notes)
    words = {key: "" if text is None else text.text for key, text in texts.items()}
    return Accepted(
        hazard=words["hazard"],
        by=by,
        within=words["in"],
        why=words["why"],
        who=words["who"],
        granted=words["granted"],
        at=item.place,
    )


def _read_text(keys: Keys, key: str, notes: Notes) -> Words | None:
    """The words of one key, without blanks around them; None after a problem."""
    why, example = _KEYS[key]
    found = keys.require(key, _OWNER, why, f"write such as `{example}`", notes)
    if found is None:
        return None
    return read_text(found.value, found.key.place, f"`{key}` of {_OWNER}", why, example, notes)


def _read_by(keys: Keys, surroundings: tuple[str, ...] | None, notes: Notes) -> tuple[str, ...]:
    why, example = _KEYS["by"]
    found = keys.require("by", _OWNER, why, f"write such as `{example}`", notes)
    if found is None:
        return ()
    words = read_list(found.value, found.key.place, f"`by` of {_OWNER}", why, example, notes)
    for word in words if surroundings is not None else ():
        _check_source(word.text, word.place, surroundings or (), notes)
    return tuple(word.text for word in words)


def _check_source(name: str, at: Place, surroundings: tuple[str, ...], notes: Notes) -> None:
    if name not in surroundings:
        cure = suggest(name, surroundings, "surroundings") if surroundings else "name it there, or take the entry out"
        notes.complain(at, f"there is no `{show(name)}` in `surroundings`", "only what is named there can do it", cure)


def _check_date(granted: Words, notes: Notes) -> None:
    """Note a text that is no day of the calendar; how long ago it was is nobody's business here."""
    shown, cure = f"`{show(granted.text)}`", "write year, month and day, such as `granted: 2026-11-20`"
    if _DATE.fullmatch(granted.text) is None:
        notes.complain(granted.place, f"{shown} is no date", "it is the day on which it was accepted", cure)
        return
    try:
        datetime.date.fromisoformat(granted.text)
    except ValueError:
        why = "the calendar has no such day"
        notes.complain(granted.place, f"there is no day {shown}", why, cure)
