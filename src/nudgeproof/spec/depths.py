"""How deep a processor sleeps, and what of the names in `woken by` is a button and what an event."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from nudgeproof.spec.fields import Found, Keys, read_list, read_mapping, read_name, read_words, refer, sort_keys
from nudgeproof.spec.nodes import Words
from nudgeproof.spec.notes import Notes, show, suggest
from nudgeproof.spec.outside import CELL_FINE, CELL_LOW, EDGE, LEVEL, Depth

_WAKES: Final = "it says what wakes the processor from this depth"


def read_depths(found: Found, notes: Notes) -> tuple[Depth, ...]:
    """The section `depths`: names of depths, each with what wakes the processor from there."""
    mapping = read_mapping(found, "`depths`", "depths: {deep: {woken by: [level]}}", notes)
    depths = (_read_depth(Found(*entry), notes) for entry in (mapping.entries if mapping is not None else ()))
    return tuple(depth for depth in depths if depth is not None)


def _read_depth(found: Found, notes: Notes) -> Depth | None:
    name, at = read_name(found.key, "depth", notes), found.key.place
    owner = f"depth `{show(found.key.text)}`"
    mapping = read_mapping(found, owner, "{woken by: [level]}", notes)
    if mapping is None:
        return None
    keys = sort_keys(mapping, at, owner, ("woken by",), (), notes)
    woken = keys.require("woken by", owner, _WAKES, "write `woken by: [level]` or `woken by: [edge, level]`", notes)
    if woken is None:
        return None
    words = read_list(woken.value, woken.key.place, f"`woken by` of {owner}", _WAKES, "woken by: [level]", notes)
    for word in words:
        if word.text not in (EDGE, LEVEL):
            what, why = f"`{show(word.text)}` in `woken by` of {owner}", "a chip is woken by an edge or by a level"
            notes.complain(word.place, what, why, "write `edge`, `level` or both; buttons are named in the states")
    return None if name is None or not words else Depth(name, tuple(word.text for word in words), at)


def read_depth(
    keys: Keys, owner: str, state: str, depths: Sequence[Depth], names: Sequence[str] | None, notes: Notes
) -> Depth | None:
    """The depth that a sleeping state names; `names` are all that were written, None when they are not known."""
    found = keys.found.get("depth")
    if found is None:
        if depths and "depth" not in keys.guessed:
            notes.assume(f"depth: one from which everything in `woken by` wakes (sleep of state {state})", keys.at)
        return None
    example = f"depth: {names[0] if names else 'deep'}"
    words = read_words(found.value, found.key.place, f"`depth` of {owner}", "it is a name of `depths`", example, notes)
    if words is None:
        return None
    refer(words, names, "depth", notes)
    return next((depth for depth in depths if depth.name == words.text), None)


def split_wakers(
    words: Sequence[Words], buttons: Sequence[str] | None, events: Sequence[str] | None, notes: Notes
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The buttons and the events among the names in `woken by`; None when the names of one kind are not known.

    `events` may hold those of the cell, which wake nothing.
    """
    outside = None if events is None else tuple(name for name in events if name not in (CELL_LOW, CELL_FINE))
    found_events = tuple(word.text for word in words if word.text in (outside or ()))
    rest = [word for word in words if word.text not in found_events]
    for word in rest:
        if word.text in (CELL_LOW, CELL_FINE):
            what, why = f"`{word.text}` wakes the device", "only a firmware that runs looks at the cell"
            notes.complain(word.place, what, why, "take it out here")
        elif not outside:
            refer(word, buttons if outside is not None else None, "button", notes)
        elif buttons is not None and word.text not in buttons:
            what, why = f"there is no button or event `{show(word.text)}`", "each is named under `buttons` or `events`"
            notes.complain(word.place, what, why, suggest(word.text, (*buttons, *outside), "known"))
    return tuple(word.text for word in rest), found_events
