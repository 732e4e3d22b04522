"""Conditions on variables: `beam is high or low`, `beam is not high`, `count is at least 3`, joined by `and`.

A condition is kept as the values that will do for each variable. So whether two of them can hold at once, and whether some
of them hold between them whatever the values are, is found by listing values.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import Final

from nudgeproof.spec.fields import Found, read_words
from nudgeproof.spec.names import Names
from nudgeproof.spec.nodes import Words
from nudgeproof.spec.notes import Notes, show, suggest
from nudgeproof.spec.types import Condition, Variable
from nudgeproof.spec.variables import refer_value

GRAMMAR: Final = """\
condition = clause, { " and ", clause } ;
clause    = variable, " is ", ( values | except | limit ) ;
values    = value, { " or ", value } ;
except    = "not ", value ;
limit     = ( "at least " | "at most " ), whole number ;
"""
"""Conditions, in EBNF (ISO/IEC 14977); a limit is for variables of whole numbers. All clauses hold at once."""

_WHY = "it says for which values of the variables the line counts"
_EXAMPLE = "if: beam is high"
_FORMS = "write such as `beam is high`, `beam is high or low`, `beam is not high` or, of numbers, `count is at least 3`"


def read_condition(found: Found, subject: str, names: Names, notes: Notes) -> Condition | None:
    """The condition after `if`; None after a problem."""
    words = read_words(found.value, found.key.place, f"`if` of {subject}", _WHY, _EXAMPLE, notes)
    if words is None:
        return None
    text = " ".join(words.text.split())
    allowed: dict[str, tuple[str, ...]] = {}
    for clause in text.split(" and "):
        read = _read_clause(clause, words, subject, names, notes)
        if read is None:
            return None
        variable, values = read
        allowed[variable.name] = tuple(v for v in allowed.get(variable.name, variable.values) if v in values)
    for variable_name, values in allowed.items():
        if not values:
            what = f"`if` of {subject} is never met: no value of `{show(variable_name)}` will do"
            notes.complain(words.place, what, "what stands after it would never happen", "change it, or take it out")
            return None
    return Condition(text, tuple(allowed.items()))


def _read_clause(
    clause: str, words: Words, subject: str, names: Names, notes: Notes
) -> tuple[Variable, tuple[str, ...]] | None:
    """One `V is ...`: the variable and the values that will do."""
    known = sorted(names.variables or (), key=len, reverse=True)
    begun = [name for name in known if clause.startswith(f"{name} is ")]
    if len(begun) > 1:
        what, why = (
            f"`{show(clause)}` begins with two variables",
            f"it may be about `{show(begun[0])}` or about `{show(begun[1])}`",
        )
        notes.complain(words.place, what, why, "give one of them another name")
        return None
    name = begun[0] if begun else None
    if name is None:
        left, joint, _ = clause.partition(" is ")
        if names.variables is not None and joint:
            cure = suggest(left, names.variables, "variables") if known else "name it under `variables`, or take it out"
            what = f"there is no variable `{show(left)}`"
            notes.complain(words.place, what, "each variable is named under `variables`", cure)
        elif not joint:
            what = f"`{show(clause)}` in `if` of {subject} isn't understood"
            notes.complain(words.place, what, _WHY, _FORMS)
        return None
    variable = names.domains.get(name)
    if variable is None:
        return None
    values = _read_values(clause.removeprefix(f"{name} is "), words, variable, notes)
    return None if values is None else (variable, values)


def _read_values(text: str, words: Words, variable: Variable, notes: Notes) -> tuple[str, ...] | None:
    """The values that will do, from what stands after `is`."""
    if text in variable.values:
        return (text,)
    first, _, rest = text.partition(" ")
    if first == "not":
        if " or " in rest and rest not in variable.values:
            one, other = rest.split(" or ")[:2]
            what, why = f"`is {show(text)}` can be read in two ways", "neither of them, or not both"
            cure = f"write `is not {show(one)} and {show(variable.name)} is not {show(other)}`, or name the others"
            notes.complain(words.place, what, why, cure)
            return None
        if not refer_value(Words(rest, words.place, words.plain), variable, notes):
            return None
        return tuple(value for value in variable.values if value != rest)
    for limit in ("at least ", "at most "):
        if text.startswith(limit):
            return _read_limit(limit, text.removeprefix(limit), words, variable, notes)
    wanted = tuple(text.split(" or "))
    known = [refer_value(Words(one, words.place, words.plain), variable, notes) for one in wanted]
    return wanted if all(known) else None


def _read_limit(limit: str, text: str, words: Words, variable: Variable, notes: Notes) -> tuple[str, ...] | None:
    if not variable.is_number:
        what = f"variable `{show(variable.name)}` is compared with `{limit}{show(text)}`"
        why, cure = "only a variable of whole numbers has more and less", "name the values, such as `is low or high`"
        notes.complain(words.place, what, why, cure)
        return None
    if not refer_value(Words(text, words.place, words.plain), variable, notes):
        return None
    return tuple(v for v in variable.values if (int(v) >= int(text) if limit == "at least " else int(v) <= int(text)))


def find_common(first: Condition | None, second: Condition | None) -> dict[str, str] | None:
    """Values for which both hold (None holds always), by variable; None if there are none."""
    both: dict[str, tuple[str, ...]] = dict(first.allowed) if first is not None else {}
    for name, values in second.allowed if second is not None else ():
        both[name] = tuple(value for value in both.get(name, values) if value in values)
    return {name: values[0] for name, values in both.items()} if all(both.values()) else None


def cover_all(conditions: Iterable[Condition | None], domains: Mapping[str, Variable]) -> bool:
    """Whether one of the conditions holds whatever the values are; no two of them may hold at once."""
    given = list(conditions)
    if None in given:
        return True
    names = {name for condition in given if condition is not None for name, _ in condition.allowed}
    whole = math.prod(len(domains[name].values) for name in names)
    # They exclude each other, so they leave nothing out just if what each of them lets through adds up to everything.
    let_through = sum(
        math.prod(len(dict(condition.allowed).get(name, domains[name].values)) for name in names)
        for condition in given
        if condition is not None
    )
    return bool(given) and let_through == whole
