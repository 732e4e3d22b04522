"""The short sections of a spec: variables, person, promises."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from nudgeproof.spec.fields import (
    Found,
    TimeWanted,
    describe,
    read_choice,
    read_list,
    read_mapping,
    read_name,
    read_span,
    read_words,
    sort_keys,
)
from nudgeproof.spec.nodes import Listing, Mapping, Node, Words
from nudgeproof.spec.notes import Notes, put_in_quotes, show
from nudgeproof.spec.types import TOGETHER, Person, PromiseText, Variable
from nudgeproof.units import Form, Span, show_us

MOST_VALUES: Final = 32

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


def read_variables(found: Found, notes: Notes) -> tuple[Variable, ...]:
    """The section `variables`: names with lists of values."""
    mapping = read_mapping(found, "`variables`", "beam: [low, high]", notes)
    variables = []
    for key, value in mapping.entries if mapping is not None else ():
        name, owner = read_name(key, "variable", notes), f"variable `{show(key.text)}`"
        why, example = "it has one of several values at any time", "[low, high]"
        if not isinstance(value, Listing):
            at = key.place if isinstance(value, Words) and value.is_missing else value.place
            notes.complain(at, f"{owner} is {describe(value)}", why, f"write its values as a list: `{example}`")
            continue
        words = read_list(value, key.place, owner, why, example, notes)
        values = [read_name(word, "value", notes) for word in words]
        if words and not 2 <= len(words) <= MOST_VALUES:
            what = f"{owner} has {len(words)} value{'' if len(words) == 1 else 's'}"
            notes.complain(value.place, what, why, f"give it 2 to {MOST_VALUES}, or take it out")
        if name is not None:
            variables.append(Variable(name, tuple(v for v in values if v is not None), key.place))
    return tuple(variables)


def read_person(found: Found, buttons: Sequence[str], has_chords: bool, notes: Notes) -> Person | None:
    """The section `person`. How many `buttons` there are, and whether there are chords, says which habits matter."""
    mapping = read_mapping(found, "`person`", "{tap: 60 to 350 ms, between: 80 to 220 ms}", notes)
    if mapping is None:
        return None
    known, later = ("tap", "between", "hold", "answers within", "fingers", "together"), ("habit",)
    keys = sort_keys(mapping, found.key.place, "`person`", known, later, notes)
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
    tap, between, answers = spans["tap"], spans["between"], spans["answers within"]
    if tap is None or between is None:
        return None
    together = spans["together"] or TOGETHER
    answered = None if answers is None else Span(0, answers.hi)
    return Person(tap, between, spans["hold"], answered, found.key.place, fingers, together)


def _read_fingers(found: Found | None, notes: Notes) -> int:
    if found is None:
        return 1
    why = "it says whether this person presses two buttons independently of each other"
    return int(read_choice(found, "`person`", ("1", "2"), (), why, notes) or 1)


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
