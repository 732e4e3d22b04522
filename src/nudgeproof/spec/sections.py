"""The short sections of a spec: person, promises."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from nudgeproof.spec.fields import (
    Found,
    TimeWanted,
    describe,
    read_choice,
    read_list,
    read_mapping,
    read_span,
    read_words,
    sort_keys,
)
from nudgeproof.spec.nodes import Listing, Mapping, Node, Words
from nudgeproof.spec.notes import Notes, put_in_quotes, show
from nudgeproof.spec.types import TOGETHER, Gesture, Person, PromiseText, State
from nudgeproof.units import Form, Span, show_us

_TAP: Final = TimeWanted((Form.RANGE,), "it is how long a tap of this person may last", "60 to 350 ms", least_us=1)
_GAP: Final = TimeWanted((Form.RANGE,), "it is how long this person waits between taps", "80 to 220 ms", least_us=1)
_HOLD: Final = TimeWanted((Form.RANGE,), "it is how long this person holds a button", "1.4 to 2.5 s", least_us=1)
_TOGETHER: Final = TimeWanted(
    (Form.UP_TO, Form.RANGE, Form.EXACT),
    "it is how far apart this person's two fingers touch and let go",
    "up to 60 ms",
)
_ANSWERS: Final = TimeWanted(
    (Form.EXACT, Form.UP_TO), "it is how long this person takes at most to answer a sign", "1.5 s", least_us=1
)


def read_person(found: Found, buttons: Sequence[str], gestures: Sequence[Gesture], notes: Notes) -> Person | None:
    """The section `person`; the names of gestures with a hold are keys too, for a time of their own.

    How many `buttons` there are, and whether there are chords, says which habits matter.
    """
    mapping = read_mapping(found, "`person`", "{tap: 60 to 350 ms, between: 80 to 220 ms}", notes)
    if mapping is None:
        return None
    known = ("tap", "between", "hold", "answers within", "fingers", "together")
    has_chords = any(gesture.chord is not None for gesture in gestures)
    own = tuple(g.name for g in gestures if g.held is not None and g.name not in known)
    keys = sort_keys(mapping, found.key.place, "`person`", (*known, *own), (), notes)
    spans: dict[str, Span | None] = {}
    timed = (("tap", _TAP), ("between", _GAP), ("hold", _HOLD), ("answers within", _ANSWERS), ("together", _TOGETHER))
    for key, wanted in timed:
        if key in ("tap", "between"):
            keys.require(key, "`person`", wanted.meaning, f"write `{key}: {wanted.example}`", notes)
        spans[key] = read_span(keys.found.get(key), "`person`", wanted, notes)
    fingers = _read_fingers(keys.found.get("fingers"), notes)
    if "fingers" not in keys.found and len(buttons) > 1:
        notes.assume("fingers: 1 (person)", found.key.place)
    if "together" not in keys.found and has_chords:
        notes.assume(f"together: up to {show_us(int(TOGETHER.hi))} (person)", found.key.place)
    read = [(name, read_span(keys.found.get(name), "`person`", _HOLD, notes)) for name in own]
    holds = tuple((name, span) for name, span in read if span is not None)
    tap, between, answers = spans["tap"], spans["between"], spans["answers within"]
    if tap is None or between is None:
        return None
    together = spans["together"] or TOGETHER
    answered = None if answers is None else Span(0, answers.hi)
    return Person(tap, between, spans["hold"], answered, found.key.place, fingers, together, holds)


def _read_fingers(found: Found | None, notes: Notes) -> int:
    if found is None:
        return 1
    why = "it says whether this person presses two buttons independently of each other"
    return int(read_choice(found, "`person`", ("1", "2"), (), why, notes) or 1)


def fill_holds(person: Person, gestures: dict[str, Gesture], states: Sequence[State], notes: Notes) -> Person:
    """The person with a time of its own for each hold that is the longer one of a state, where none is stated.

    It is longer than `hold` by as much as the gesture is longer than the shortest one beside it.
    """
    if person.hold is None:
        return person
    stated = dict(person.holds)
    added: list[tuple[str, Span]] = []
    for gesture in gestures.values():
        shorter = [
            _middle(other.held) for other in _shorter_beside(gesture, gestures, states) if other.held is not None
        ]
        if gesture.held is None or gesture.name in stated or not shorter:
            continue
        more = _middle(gesture.held) - min(shorter)
        span = Span(person.hold.lo + more, person.hold.hi + more)
        added.append((gesture.name, span))
        notes.assume(f"person: {{{gesture.name}: {span}}}, longer than `hold` by as much as the gesture is", person.at)
    return replace(person, holds=(*person.holds, *added))


def _middle(span: Span) -> int:
    return (span.lo + int(span.hi)) // 2


def _shorter_beside(gesture: Gesture, gestures: dict[str, Gesture], states: Sequence[State]) -> list[Gesture]:
    """The gestures used in one state with this one that begin with the same presses and then are held less."""
    used = [[gestures[t.gesture] for t in state.transitions if t.gesture in gestures] for state in states]
    beside = [other for together in used if gesture in together for other in together]
    return [other for other in beside if other.button == gesture.button and _is_held_less(other, gesture)]


def _is_held_less(one: Gesture, other: Gesture) -> bool:
    for kinds in zip(one.presses, other.presses, strict=False):
        if kinds == ("hold", "hold"):
            assert one.held is not None
            assert other.held is not None
            return one.held.hi < other.held.lo
        if kinds != ("tap", "tap"):
            return False
    return False


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
        owner, repeats = f"`{show(key.text)}` of a promise", key.text in ("gestures", "through")
        words = read_list(value, key.place, owner, "words belong here", "[one, two]", notes, repeats)
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
