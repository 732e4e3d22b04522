"""The short sections of a spec: buttons, person, promises."""

from __future__ import annotations

from typing import Final

from nudgeproof.spec.fields import (
    Found,
    TimeWanted,
    describe,
    read_list,
    read_mapping,
    read_name,
    read_span,
    read_words,
    refuse_later,
    sort_keys,
)
from nudgeproof.spec.nodes import Listing, Mapping, Node, Words
from nudgeproof.spec.notes import Notes, put_in_quotes, show
from nudgeproof.spec.types import Button, Person, PromiseText
from nudgeproof.units import Form, Span

_VARYING: Final = (Form.EXACT, Form.RANGE, Form.PLUS_MINUS)
_BOUNCE: Final = TimeWanted((Form.UP_TO, Form.EXACT), "it is how long the contact chatters at most", "up to 10 ms")
_DEBOUNCE: Final = TimeWanted(
    _VARYING, "it is how long a level must be steady until the firmware believes it", "20 ms ± 5 ms"
)
_EDGES_APART: Final = TimeWanted(
    (Form.AT_LEAST,), "it is the least time between two edges of chatter", "at least 10 us", least_us=1
)
_TAP: Final = TimeWanted((Form.RANGE,), "it is how long a tap of this person may last", "60 to 350 ms", least_us=1)
_GAP: Final = TimeWanted((Form.RANGE,), "it is how long this person waits between taps", "80 to 220 ms", least_us=1)
_HOLD: Final = TimeWanted((Form.RANGE,), "it is how long this person holds a button", "1.4 to 2.5 s", least_us=1)
_ANSWERS: Final = TimeWanted(
    (Form.EXACT, Form.UP_TO), "it is how long this person takes at most to answer a sign", "1.5 s", least_us=1
)

_BOUNCE_US: Final = 10_000
_EDGES_APART_US: Final = 10


def read_buttons(found: Found, notes: Notes) -> tuple[Button, ...]:
    """The section `buttons`; this version takes one."""
    mapping = read_mapping(found, "`buttons`", "pad: {debounce: 20 ms}", notes)
    if mapping is None:
        return ()
    if len(mapping.entries) > 1:
        refuse_later("more than one button", mapping.entries[1][0].place, notes)
    button = _read_button(Found(*mapping.entries[0]), notes)
    return () if button is None else (button,)


def _read_button(found: Found, notes: Notes) -> Button | None:
    name, at = read_name(found.key, "button", notes), found.key.place
    owner = f"button `{show(found.key.text)}`"
    mapping = read_mapping(found, owner, "{debounce: 20 ms}", notes)
    if mapping is None:
        return None
    known, later = ("bounce", "debounce", "edges apart"), ("lockout", "samples", "stuck", "pull")
    keys = sort_keys(mapping, at, owner, known, later, notes)
    bounce = read_span(keys.found.get("bounce"), owner, _BOUNCE, notes)
    apart = read_span(keys.found.get("edges apart"), owner, _EDGES_APART, notes)
    needed = keys.require("debounce", owner, _DEBOUNCE.meaning, f"write `debounce: {_DEBOUNCE.example}`", notes)
    debounce = read_span(needed, owner, _DEBOUNCE, notes)
    if "bounce" not in keys.found:
        notes.assume(f"bounce: up to 10 ms (button {found.key.text})", at)
    if "edges apart" not in keys.found:
        notes.assume(f"edges apart: at least 10 us (button {found.key.text})", at)
    if name is None or debounce is None:
        return None
    bounce_us = _BOUNCE_US if bounce is None else int(bounce.hi)
    return Button(name, bounce_us, debounce, _EDGES_APART_US if apart is None else apart.lo, at)


def read_person(found: Found, notes: Notes) -> Person | None:
    """The section `person`."""
    mapping = read_mapping(found, "`person`", "{tap: 60 to 350 ms, between: 80 to 220 ms}", notes)
    if mapping is None:
        return None
    known, later = ("tap", "between", "hold", "answers within"), ("habit", "finger")
    keys = sort_keys(mapping, found.key.place, "`person`", known, later, notes)
    spans: dict[str, Span | None] = {}
    for key, wanted in (("tap", _TAP), ("between", _GAP), ("hold", _HOLD), ("answers within", _ANSWERS)):
        if key in ("tap", "between"):
            keys.require(key, "`person`", wanted.meaning, f"write `{key}: {wanted.example}`", notes)
        spans[key] = read_span(keys.found.get(key), "`person`", wanted, notes)
    tap, between, answers = spans["tap"], spans["between"], spans["answers within"]
    if tap is None or between is None:
        return None
    return Person(tap, between, spans["hold"], None if answers is None else Span(0, answers.hi), found.key.place)


def read_promises(found: Found, notes: Notes) -> tuple[PromiseText, ...]:
    """The section `promises`: sentences, or mappings whose values are words or lists of words."""
    if not isinstance(found.value, Listing):
        at = found.key.place if isinstance(found.value, Words) and found.value.is_missing else found.value.place
        cure = "write each promise on a line of its own after `- `, or take `promises` out"
        notes.complain(at, f"`promises` is {describe(found.value)}", "a list of sentences belongs here", cure)
        return ()
    promises = [_read_promise(item, notes) for item in found.value.items]
    return tuple(promise for promise in promises if promise is not None)


def _read_promise(item: Node, notes: Notes) -> PromiseText | None:
    if isinstance(item, Listing):
        cure = "write one sentence after each `- `"
        notes.complain(item.place, "a list in place of a promise", "a promise is one sentence", cure)
        return None
    if isinstance(item, Words):
        why, example = "a promise says what must hold", "knocks never reach glowing"
        sentence = read_words(item, item.place, "a promise", why, example, notes)
        return None if sentence is None else PromiseText(sentence.text.strip(), (), item.place)
    if split := _find_split_sentence(item):
        why, cure = "YAML takes `: ` for the end of a key", f"put it in quotes: `{show(put_in_quotes(split), 90)}`"
        notes.complain(item.place, f"the promise `{show(split)}` holds a `: `", why, cure)
        return None
    keys = []
    for key, value in item.entries:
        words = read_list(
            value, key.place, f"`{show(key.text)}` of a promise", "words belong here", "[one, two]", notes
        )
        if not key.text:
            notes.complain(key.place, "a key without a name in a promise", "it says nothing", "take it out")
        keys.append((key.text, tuple(word.text for word in words), key.place))
    if not keys:
        notes.complain(item.place, "an empty promise", "a promise says what must hold", "take it out")
    return PromiseText("", tuple(keys), item.place)


def _find_split_sentence(item: Mapping) -> str:
    """The sentence that a `: ` in its middle made a mapping of, or nothing.

    No name may hold ` never `, so a key with it is the start of a sentence, and so is a lone value with it.
    """
    for key, value in item.entries:
        rest = value.text if isinstance(value, Words) else ""
        if " never " in key.text or len(key.text.split()) > 4 or (len(item.entries) == 1 and " never " in rest):
            return f"{key.text}: {rest}"
    return ""
