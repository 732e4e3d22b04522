"""What a line of the chart does: where it leads, what it does to variables, and in which case."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Final

from nudgeproof.diagnostics import Place
from nudgeproof.spec.conditions import find_common, read_condition
from nudgeproof.spec.fields import (
    Found,
    Keys,
    describe,
    read_list,
    read_mapping,
    read_words,
    read_yes,
    refer,
    sort_keys,
)
from nudgeproof.spec.names import Names
from nudgeproof.spec.nodes import Listing, Mapping
from nudgeproof.spec.notes import Notes, show
from nudgeproof.spec.types import Condition
from nudgeproof.spec.variables import refer_value

MOST_CASES: Final = 32

_KEYS: Final = ("to", "next", "previous", "set", "keep", "restarts", "if")
_DOING: Final = frozenset({"to", "next", "previous", "set"})


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a line does, or one of its cases; see `types.Transition` for the fields."""

    target: str | None
    at: Place
    next: tuple[str, ...] = ()
    previous: tuple[str, ...] = ()
    set: tuple[tuple[str, str], ...] = ()
    keep: tuple[str, ...] = ()
    restarts: bool = False
    condition: Condition | None = None


def read_outcomes(found: Found, subject: str, names: Names, notes: Notes) -> tuple[Outcome, ...]:
    """A state, or keys, or a list of cases that exclude each other; nothing after a problem with all of it."""
    value = found.value
    if isinstance(value, Listing) and any(isinstance(item, Mapping) for item in value.items):
        return _read_cases(found, value, subject, names, notes)
    if isinstance(value, Mapping):
        outcome = _read_outcome(value, found.key.place, subject, names, notes)
        return () if outcome is None else (outcome,)
    target = _read_target(found, subject, names, notes)
    return () if target is None else (Outcome(target, found.key.place),)


def _read_cases(found: Found, listing: Listing, subject: str, names: Names, notes: Notes) -> tuple[Outcome, ...]:
    cases: list[Outcome] = []
    if len(listing.items) > MOST_CASES:
        what, why = f"{subject} has {len(listing.items)} cases", "each pair of them is compared"
        notes.complain(listing.place, what, why, f"write at most {MOST_CASES}")
        return ()
    for item in listing.items:
        one = f"a case of {subject}"
        if not isinstance(item, Mapping):
            what, why = f"{one} is {describe(item)}", "each case has an `if`, and what is done then"
            notes.complain(item.place, what, why, "write such as `{if: beam is high, to: stowed}`")
            continue
        if len(listing.items) > 1 and not any(key.text == "if" for key, _ in item.entries):
            what, why = f"{one} has no `if`", "it couldn't be told from the others"
            notes.complain(item.place, what, why, "write its condition, such as `if: beam is not high`")
            continue
        outcome = _read_outcome(item, item.place, one, names, notes)
        cases.extend([outcome] if outcome is not None else [])
    _check_apart(cases, subject, notes)
    return tuple(cases)


def _check_apart(cases: Sequence[Outcome], subject: str, notes: Notes) -> None:
    """Note each case that may hold together with an earlier one."""
    noted = set()
    for (_, first), (place, second) in combinations(enumerate(cases), 2):
        common = find_common(first.condition, second.condition)
        if common is None or place in noted:
            continue
        noted.add(place)
        values = " and ".join(f"{name} {value}" for name, value in common.items())
        texts = [f"`{show(case.condition.text)}`" for case in (first, second) if case.condition is not None]
        what = f"two cases of {subject} meet: with {values} both {' and '.join(texts)} hold"
        why, cure = "the device couldn't do both", "narrow one of them until no values meet both"
        notes.complain(second.at, what, why, cure, also=first.at)


def _read_outcome(mapping: Mapping, at: Place, subject: str, names: Names, notes: Notes) -> Outcome | None:
    keys = sort_keys(mapping, at, subject, _KEYS, (), notes)
    found = keys.found
    condition = read_condition(found["if"], subject, names, notes) if "if" in found else None
    target = _read_target(found["to"], f"`to` of {subject}", names, notes) if "to" in found else None
    why = "it says whether the times of the state start anew"
    restarts = "restarts" in found and bool(read_yes(found["restarts"], f"`restarts` of {subject}", why, notes))
    outcome = Outcome(
        target,
        at,
        next=_read_variables(
            found.get("next"), subject, "it names the variables that step to their next value", names, notes
        ),
        previous=_read_variables(
            found.get("previous"), subject, "it names the variables that step to their previous value", names, notes
        ),
        set=read_set(found.get("set"), subject, names, notes),
        keep=_read_variables(found.get("keep"), subject, "it names what entering leaves as it is", names, notes),
        restarts=restarts,
        condition=condition,
    )
    _check_keys(keys, subject, outcome, notes)
    if ("to" in found and target is None) or ("if" in found and condition is None):
        return None
    return outcome


def _check_keys(keys: Keys, subject: str, outcome: Outcome, notes: Notes) -> None:
    """Note keys that don't go together, and their absence."""
    found = keys.found
    to, restarts, keep = (found.get(key) for key in ("to", "restarts", "keep"))
    if not _DOING & (set(found) | keys.guessed):
        cure = "write `to: ` and a state, `next: ` or `previous: ` and a variable, or `set: ` and a value for one"
        cure = "to start its times anew, lead to the state itself" if outcome.restarts else cure
        what = f"{subject} has neither `to` nor `next`, `previous` or `set`"
        notes.complain(keys.at, what, "it would do nothing that a person sees", cure)
    if to is not None and restarts is not None and outcome.restarts:
        why, cure = "a state that is entered starts its times anew by itself", "take `restarts` out"
        notes.complain(restarts.key.place, f"{subject} has `restarts` beside `to`", why, cure, also=to.key.place)
    if keep is not None and to is None and "to" not in keys.guessed:
        why, cure = "only what is entered could change it", "take it out, or add `to: ` and a state"
        notes.complain(keep.key.place, f"{subject} has `keep` without `to`", why, cure)
    changed = [*outcome.next, *outcome.previous, *(name for name, _ in outcome.set)]
    for name in dict.fromkeys(name for name in changed if changed.count(name) > 1):
        what, why = f"{subject} changes `{show(name)}` twice", "only one change of a variable can count"
        notes.complain(keys.at, what, why, "keep one of `next`, `previous` and `set` for it")


def _read_variables(found: Found | None, subject: str, why: str, names: Names, notes: Notes) -> tuple[str, ...]:
    """Names of variables after `next`, `previous` or `keep`."""
    if found is None:
        return ()
    key = found.key.text
    words = read_list(found.value, found.key.place, f"`{key}` of {subject}", why, f"{key}: beam", notes)
    return tuple(refer(word, names.variables, "variable", notes) for word in words)


def read_set(found: Found | None, subject: str, names: Names, notes: Notes) -> tuple[tuple[str, str], ...]:
    """Variables with the value they get, after `set`."""
    if found is None:
        return ()
    mapping = read_mapping(found, f"`set` of {subject}", "set: {beam: low}", notes)
    values = []
    for key, value in mapping.entries if mapping is not None else ():
        name = refer(key, names.variables, "variable", notes)
        why, example = "it is the value that the variable gets", f"{show(name)}: low"
        words = read_words(value, key.place, f"`{show(name)}` in `set` of {subject}", why, example, notes)
        variable = names.domains.get(name)
        if words is not None and variable is not None and refer_value(words, variable, notes):
            values.append((name, words.text))
    return tuple(values)


def _read_target(found: Found, subject: str, names: Names, notes: Notes) -> str | None:
    """The state something leads to; of a group the one it starts in."""
    example = f"{found.key.text}: {names.states[0] if names.states else 'stowed'}"
    words = read_words(found.value, found.key.place, subject, "the state it leads to belongs here", example, notes)
    return None if words is None else names.entered(refer(words, names.states, "state", notes))
