"""The pieces all sections of a spec are made of: keys, names, words, times, references.

Each function reads one piece and returns None after noting a problem, so that a section reads on and all problems of
the stage come out at once. `owner` says in words whose piece it is, e.g. "button `pad`".
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Collection
from dataclasses import dataclass
from typing import Final

from nudgeproof.diagnostics import Place
from nudgeproof.spec.nodes import Listing, Mapping, Node, Words
from nudgeproof.spec.notes import Notes, find_nearest, list_names, show, suggest
from nudgeproof.units import Fixed, Form, NotAQuantity, Quantity, Span, read_limit, read_quantity, show_us

LONGEST_NAME: Final = 40
LONGEST_TEXT: Final = 200

_SENTENCE_WORDS: Final = ("and", "never", "together", "reach", "with")
_SENTENCE_JOINTS: Final = (" and ", " never ", " with ")
_PER_UNIT: Final = re.compile(r"\s*(?P<time>.+?)\s+per\s+unit\s*")
_FORM_NAMES: Final = {
    Form.EXACT: "a single time",
    Form.RANGE: "a range",
    Form.UP_TO: "an upper limit",
    Form.AT_LEAST: "a lower limit",
    Form.PLUS_MINUS: "a time with a tolerance",
}


@dataclass(frozen=True, slots=True)
class Found:
    """One key that was found: the key as written and its value."""

    key: Words
    value: Node


@dataclass(frozen=True, slots=True)
class Keys:
    """The keys of one mapping that are understood; `guessed` are those that a misspelt key was probably meant for."""

    found: dict[str, Found]
    guessed: frozenset[str]
    at: Place

    def require(self, key: str, owner: str, why: str, cure: str, notes: Notes) -> Found | None:
        """The key, or None after noting that it is missing (unless a misspelt one was noted already)."""
        if key not in self.found and key not in self.guessed:
            notes.complain(self.at, f"{owner} has no `{key}`", why, cure)
        return self.found.get(key)


@dataclass(frozen=True, slots=True)
class TimeWanted:
    """What a key wants for a time: which forms, what it is, an example, the least value in microseconds.

    `reaches_us`: the least value of the upper end alone, for a time that may be nothing but not always.
    `is_limit`: after `up to` or `at least` comes a limit that may itself have a tolerance, and the span is where the
    limit lies: `up to 400 ms ± 20 ms` gives 380 to 420 ms.
    `unit`: how the one value of a specimen is called, for a time that takes `per unit`; "" for one that doesn't.
    """

    forms: tuple[Form, ...]
    meaning: str
    example: str
    least_us: int = 0
    reaches_us: int = 0
    is_limit: bool = False
    unit: str = ""


def sort_keys(
    mapping: Mapping, at: Place, owner: str, known: tuple[str, ...], later: tuple[str, ...], notes: Notes
) -> Keys:
    """The keys of a mapping that are `known`; unknown ones and those of a `later` version are noted.

    `at` is where a missing key will be reported: the name of the thing rather than its brackets.
    """
    found: dict[str, Found] = {}
    guessed = set()
    for key, value in mapping.entries:
        if key.text in known:
            found[key.text] = Found(key, value)
        elif key.text in later:
            refuse_later(f"`{key.text}`", key.place, notes)
        else:
            if nearest := find_nearest(key.text, known):
                guessed.add(nearest)
            what = f"`{show(key.text)}` is no key of {owner}" if key.text else f"a key without a name in {owner}"
            notes.complain(key.place, what, "what isn't understood can't be checked", suggest(key.text, known, "keys"))
    return Keys(found, frozenset(guessed), at)


def refuse_later(what: str, at: Place, notes: Notes) -> None:
    """Note something that a later version will understand."""
    notes.complain(
        at,
        f"{what} isn't built yet",
        "a verdict that left it out would be about another device",
        "take it out for now",
    )


def read_mapping(found: Found, owner: str, example: str, notes: Notes) -> Mapping | None:
    """A value that must be a mapping with at least one key."""
    value = found.value
    if isinstance(value, Mapping) and value.entries:
        return value
    notes.complain(
        value.place if isinstance(value, Words) and not value.is_missing else found.key.place,
        f"{owner} is {describe(value)}",
        "keys with values belong here",
        f"write {example}" if example.startswith("each") else f"write `{example}`",
    )
    return None


def describe(node: Node) -> str:
    """What a node is, in words."""
    if isinstance(node, Mapping):
        return "a group of keys" if node.entries else "empty"
    if isinstance(node, Listing):
        return "a list" if node.items else "an empty list"
    return f"`{show(node.text)}`" if node.text else "empty"


def read_words(node: Node, at: Place, owner: str, why: str, example: str, notes: Notes) -> Words | None:
    """A value that must be words, not nothing; `at` is where to point when there is nothing."""
    if isinstance(node, Words) and node.text.strip():
        return node
    where = at if isinstance(node, Words) and node.is_missing else node.place
    notes.complain(where, f"{owner} is {describe(node)}", why, f"write `{example}`")
    return None


def read_text(node: Node, at: Place, owner: str, why: str, example: str, notes: Notes) -> Words | None:
    """Words for people to read, without blanks around them, and not too long to stand in a report or a picture."""
    words = read_words(node, at, owner, why, example, notes)
    if words is None:
        return None
    text = words.text.strip()
    if len(text) > LONGEST_TEXT:
        what = f"{owner} is {len(text)} characters long"
        notes.complain(words.place, what, "it stands in each report", f"use at most {LONGEST_TEXT}")
        return None
    return Words(text, words.place, words.plain, words.block)


def read_list(
    node: Node, at: Place, owner: str, why: str, example: str, notes: Notes, may_repeat: bool = False
) -> tuple[Words, ...]:
    """A list of words, or one word in its place; empty after a problem. The words are distinct unless they `may_repeat`."""
    nodes = node.items if isinstance(node, Listing) else (node,)
    if not nodes:
        notes.complain(node.place, f"{owner} is an empty list", why, f"write `{example}`")
    found: list[Words] = []
    first: dict[str, Words] = {}
    is_whole = True
    for item in nodes:
        subject = f"an entry of {owner}" if isinstance(node, Listing) else owner
        word = read_words(item, at, subject, why, example, notes)
        if word is None:
            is_whole = False
            continue
        found.append(word)
        earlier = first.setdefault(word.text, word)
        if earlier is not word and not may_repeat:
            is_whole = False
            what = f"`{show(word.text)}` is here a second time in {owner}"
            notes.complain(word.place, what, "each counts once", "take one out", also=earlier.place)
    return tuple(found) if is_whole else ()


def read_yes(found: Found, owner: str, why: str, notes: Notes) -> bool | None:
    """A value that is true or false, in YAML's words or the everyday ones."""
    word = found.value.text if isinstance(found.value, Words) else None
    if word in ("true", "yes"):
        return True
    if word in ("false", "no"):
        return False
    key = found.key.text
    notes.complain(
        place_value(found), f"{owner} is {describe(found.value)}", why, f"write `{key}: true` or `{key}: false`"
    )
    return None


def read_choice(
    found: Found, owner: str, options: tuple[str, ...], later: tuple[str, ...], why: str, notes: Notes
) -> str | None:
    """A value that is one of a few words; those of a `later` version are noted as such."""
    key, value = found.key.text, found.value
    word = value.text if isinstance(value, Words) and not value.block else ""
    if word in options:
        return word
    if word in later:
        refuse_later(f"`{key}: {word}`", value.place, notes)
        return None
    nearest = find_nearest(word, options)
    start = f"did you mean `{nearest}`? " if nearest else ""
    cure = f"{start}`{key}` is one of {list_names(options)}"
    notes.complain(place_value(found), f"`{key}` of {owner} is {describe(value)}", why, cure)
    return None


def read_name(words: Words, kind: str, notes: Notes) -> str | None:
    """A name that is given to something; `kind` says to what, e.g. "button"."""
    name = words.text
    why, cure = "names stand as words in sentences", "start with a letter; then letters, digits, blanks, `-` or `_`"
    reserved = next((joint.strip() for joint in _SENTENCE_JOINTS if joint in name), None)
    if words.block or not name:
        what = f"the name of a {kind} is a block of text" if words.block else f"a {kind} without a name"
    elif bad := next((c for i, c in enumerate(name) if not _fits_name(c, i)), None):
        # A mark alone shows nothing, or sits on what stands before it.
        shown = f"the mark U+{ord(bad):04X}" if unicodedata.category(bad)[0] == "M" else f"`{show(bad)}`"
        what = f"the {kind} name `{show(name)}` {'starts with' if name.startswith(bad) else 'holds'} {shown}"
    elif name != " ".join(name.split()):
        what, cure = f"the {kind} name `{show(name)}` has blanks too many", "leave one blank between two words"
    elif len(name) > LONGEST_NAME:
        what, cure = f"the {kind} name `{show(name)}` is {len(name)} characters long", f"use at most {LONGEST_NAME}"
    elif name in _SENTENCE_WORDS:
        what, why = f"a {kind} named `{name}`", "that word has a meaning of its own in promises"
        cure = f"use another name; taken are {list_names(_SENTENCE_WORDS)}"
    elif reserved:
        what = f"the {kind} name `{show(name)}` holds the word `{reserved}`"
        why, cure = "that word joins names in promises", "leave it out, or write `-` between the words"
    else:
        return name
    notes.complain(words.place, what, why, cure)
    return None


def _fits_name(character: str, index: int) -> bool:
    """Letters of any script; marks that can be seen, digits, blanks, `-` and `_` after the first."""
    if "\ufe00" <= character <= "\ufe0f":
        return False
    kind = unicodedata.category(character)
    return kind[0] == "L" or (index > 0 and (kind[0] == "M" or kind == "Nd" or character in " -_"))


def read_time(found: Found, owner: str, wanted: TimeWanted, notes: Notes) -> Quantity | None:
    """A quantity of time in one of the forms a key wants."""
    subject = f"`{show(found.key.text)}` of {owner}"
    cure = f"write `{show(found.key.text)}: {wanted.example}`"
    value = found.value
    if not isinstance(value, Words) or not value.text.strip():
        notes.complain(place_value(found), f"{subject} is {describe(value)}", wanted.meaning, cure)
    elif value.block:
        why = "YAML takes `>` or `|` for the start of a block of text"
        cure = f"write `{show(f'{found.key.text}: {value.text}')}` on one line"
        notes.complain(value.place, f"{subject} is a block of text", why, cure)
    else:
        return read_time_words(value.text, value.place, subject, wanted, cure, notes)
    return None


def read_time_words(text: str, at: Place, subject: str, wanted: TimeWanted, cure: str, notes: Notes) -> Quantity | None:
    """Like `read_time`, for the words of a time alone; `cure` is said when their form doesn't fit."""
    if match := _PER_UNIT.fullmatch(text):
        return _read_per_unit(match["time"], text, at, subject, wanted, cure, notes)
    try:
        quantity = read_quantity(text)
        if wanted.is_limit:
            quantity = Quantity(quantity.form, read_limit(text))
    except NotAQuantity as error:
        # Of the general advice only the forms that this key takes would help.
        is_general = str(error).endswith("is not a time")
        what = f"{subject}: {show(str(error), 120)}"
        notes.complain(at, what, wanted.meaning, cure if is_general else show(error.cure, 120))
        return None
    if quantity.form not in wanted.forms:
        what = f"{subject}: `{show(text)}` is {_FORM_NAMES[quantity.form]}"
        notes.complain(at, what, wanted.meaning, cure)
        return None
    is_reach = quantity.form is Form.UP_TO and not wanted.is_limit
    if (quantity.span.hi if is_reach else quantity.span.lo) < wanted.least_us:
        is_wide = quantity.form in (Form.RANGE, Form.PLUS_MINUS)
        problem = f"starts at {show_us(quantity.span.lo)}" if is_wide else "is too short"
        what = f"{subject}: `{show(text)}` {problem}"
        notes.complain(at, what, wanted.meaning, f"write {show_us(wanted.least_us)} or more")
        return None
    if quantity.span.hi < wanted.reaches_us:
        what = f"{subject}: `{show(text)}` is no time at all"
        notes.complain(at, what, wanted.meaning, f"write {show_us(wanted.reaches_us)} or more")
        return None
    return quantity


def _read_per_unit(
    time: str, text: str, at: Place, subject: str, wanted: TimeWanted, cure: str, notes: Notes
) -> Quantity | None:
    """A time with a tolerance of which each specimen has one value; `text` is the whole of it."""
    if not wanted.unit:
        why = "it isn't a time of which each specimen has one value for good"
        notes.complain(at, f"{subject} takes no `per unit`", why, f"write `{show(time)}`")
        return None
    quantity = read_time_words(time, at, subject, wanted, cure, notes)
    if quantity is None:
        return None
    low, high = quantity.span.lo, int(quantity.span.hi)
    # A microsecond is what rounding makes of a time between two.
    if high - low <= 1:
        why = "`per unit` says that each specimen has one value of its own within the tolerance"
        fit = f"write `{show(time)} ± 5 % per unit`, or take `per unit` out"
        notes.complain(at, f"{subject}: `{show(text)}` has no tolerance", why, fit)
        return None
    return Quantity(quantity.form, Span(low, high, Fixed(wanted.unit, low, high)))


def read_span(found: Found | None, owner: str, wanted: TimeWanted, notes: Notes) -> Span | None:
    """The span of a time; None without a problem when there is no such key."""
    quantity = read_time(found, owner, wanted, notes) if found is not None else None
    return quantity.span if quantity is not None else None


def refer(words: Words, names: Collection[str] | None, kind: str, notes: Notes) -> str:
    """A reference to something by name; `names` None means that they are not known, then nothing is noted."""
    if names is not None and words.text not in names:
        plural = f"{kind}s"
        cure = suggest(words.text, names, plural) if names else f"name it under `{plural}`, or take it out here"
        notes.complain(
            words.place, f"there is no {kind} `{show(words.text)}`", f"each {kind} is named under `{kind}s`", cure
        )
    return words.text


def get_names(found: Found | None) -> tuple[str, ...] | None:
    """The names a section gives, sound or not, for references to them; None when there is no mapping of them."""
    if found is None or not isinstance(found.value, Mapping):
        return None
    return tuple(key.text for key, _ in found.value.entries) or None


def place_value(found: Found) -> Place:
    """Where to point for the value of a key: at the key when there is no value."""
    value = found.value
    return found.key.place if isinstance(value, Words) and value.is_missing else value.place
