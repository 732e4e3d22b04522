"""Variables: what the device keeps in mind, as a list of values or as whole numbers."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Final

from nudgeproof.spec.fields import (
    Found,
    describe,
    place_value,
    read_choice,
    read_list,
    read_mapping,
    read_name,
    read_words,
    sort_keys,
)
from nudgeproof.spec.nodes import Listing, Mapping, Node, Words
from nudgeproof.spec.notes import Notes, show, suggest
from nudgeproof.spec.types import Variable
from nudgeproof.units import Form, NotAQuantity, Span, read_quantity

MOST_VALUES: Final = 32
MOST_NUMBERS: Final = 101

_WHY: Final = "it has one of several values at any time"
_NUMBERS: Final = re.compile(r"(?P<low>[0-9]{1,6}) to (?P<high>[0-9]{1,6})")
_ENDS: Final = ("wrap", "stop")


def read_variables(found: Found, notes: Notes) -> tuple[Variable, ...]:
    """The section `variables`: names with their values."""
    mapping = read_mapping(found, "`variables`", "beam: [low, high]", notes)
    variables = []
    for key, value in mapping.entries if mapping is not None else ():
        name, owner = read_name(key, "variable", notes), f"variable `{show(key.text)}`"
        if isinstance(value, Mapping) and value.entries:
            variable = _read_long(Found(key, value), value, owner, notes)
        else:
            variable = _read_short(Found(key, value), owner, notes)
        if name is not None and variable is not None:
            variables.append(variable)
    return tuple(variables)


def read_value_time(value: str) -> Span | None:
    """The time that a value is, None if it isn't a single one."""
    try:
        quantity = read_quantity(value)
    except NotAQuantity:
        return None
    return quantity.span if quantity.form is Form.EXACT else None


def _read_short(found: Found, owner: str, notes: Notes) -> Variable | None:
    """A list of values, which goes round and round, or `0 to 20`, which stops at its ends."""
    values = _read_values(found.key.text, found.value, found.key, owner, notes)
    if values is None:
        return None
    is_number = not isinstance(found.value, Listing)
    if is_number:
        notes.assume(f"at the ends: stop (variable {found.key.text})", found.key.place)
    return Variable(found.key.text, values, found.key.place, wraps=not is_number, is_number=is_number)


def _read_long(found: Found, mapping: Mapping, owner: str, notes: Notes) -> Variable | None:
    """The keys `values`, `at the ends` and `starts as`."""
    name, at = found.key.text, found.key.place
    keys = sort_keys(mapping, at, owner, ("values", "at the ends", "starts as"), (), notes)
    needed = keys.require("values", owner, _WHY, "write `values: [low, high]` or `values: 0 to 20`", notes)
    values = None if needed is None else _read_values("values", needed.value, needed.key, f"`values` of {owner}", notes)
    is_number = needed is not None and not isinstance(needed.value, Listing)
    ends = keys.found.get("at the ends")
    wraps = not is_number
    if ends is not None:
        why = "it says what comes after the last value and before the first"
        wraps = read_choice(ends, owner, _ENDS, (), why, notes) == "wrap"
    elif "at the ends" not in keys.guessed and values is not None:
        notes.assume(f"at the ends: {'wrap' if wraps else 'stop'} (variable {name})", at)
    start = keys.found.get("starts as")
    if values is None:
        return None
    variable = Variable(name, values, at, wraps, is_number=is_number)
    return variable if start is None else replace(variable, starts_as=_read_start(start, variable, owner, notes))


def _read_start(found: Found, variable: Variable, owner: str, notes: Notes) -> str:
    why, example = "it is the value at the start", f"starts as: {variable.values[0]}"
    words = read_words(found.value, found.key.place, f"`starts as` of {owner}", why, example, notes)
    if words is None or not refer_value(words, variable, notes):
        return ""
    return words.text


def _read_values(key: str, value: Node, at: Words, owner: str, notes: Notes) -> tuple[str, ...] | None:
    """The values in their order; None after a problem with all of them."""
    if isinstance(value, Words) and (match := _NUMBERS.fullmatch(value.text)):
        return _read_numbers(value, match, owner, notes)
    example = "[low, high]"
    if not isinstance(value, Listing):
        cure = f"write its values as a list: `{example}`"
        if isinstance(value, Words) and any(c.isdigit() for c in value.text):
            cure += f", or as whole numbers: `{show(key)}: 0 to 20`"
        notes.complain(place_value(Found(at, value)), f"{owner} is {describe(value)}", _WHY, cure)
        return None
    words = read_list(value, at.place, owner, _WHY, example, notes)
    if number := next((word for word in words if word.text.isdecimal()), None):
        what, why = f"{owner} lists the number `{show(number.text)}`", "values in a list are names or times"
        notes.complain(number.place, what, why, f"write whole numbers without a list, such as `{show(key)}: 0 to 20`")
        return None
    values = tuple(name for word in words if (name := _read_value(word, notes)) is not None)
    if words and not 2 <= len(words) <= MOST_VALUES:
        what = f"{owner} has {len(words)} value{'' if len(words) == 1 else 's'}"
        notes.complain(value.place, what, _WHY, f"give it 2 to {MOST_VALUES}, or take it out")
    return values or None


def _read_value(word: Words, notes: Notes) -> str | None:
    """One value: a name or a time."""
    if read_value_time(word.text) is not None and not word.block:
        return word.text
    return read_name(word, "value", notes)


def _read_numbers(words: Words, match: re.Match[str], owner: str, notes: Notes) -> tuple[str, ...] | None:
    low, high = int(match["low"]), int(match["high"])
    if low >= high:
        what, cure = f"{owner} is `{show(words.text)}`", "write the smaller number first"
        notes.complain(words.place, what, _WHY, cure)
        return None
    if high - low >= MOST_NUMBERS:
        what = f"{owner} has {high - low + 1} values"
        why, cure = "each of them is explored by itself", f"give it at most {MOST_NUMBERS}, counting in larger units"
        notes.complain(words.place, what, why, cure)
        return None
    return tuple(str(number) for number in range(low, high + 1))


def refer_value(words: Words, variable: Variable, notes: Notes) -> bool:
    """Whether a variable has the value that is named; noted if not."""
    if words.text in variable.values:
        return True
    what = f"variable `{show(variable.name)}` has no value `{show(words.text)}`"
    why = "it is always one of those it was given"
    values = variable.values
    cure = suggest(words.text, values, "values")
    if variable.is_number:
        cure = f"it has the whole numbers from {values[0]} to {values[-1]}"
    notes.complain(words.place, what, why, cure)
    return False
