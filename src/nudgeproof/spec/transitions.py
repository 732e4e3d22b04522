"""What leads out of a state or changes its variables: gestures, and times that run out."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Final

from nudgeproof.diagnostics import Place
from nudgeproof.spec.fields import Found, TimeWanted, read_mapping, read_time_words, refer
from nudgeproof.spec.names import Names
from nudgeproof.spec.nodes import Mapping, Words
from nudgeproof.spec.notes import Notes, find_nearest, show, suggest
from nudgeproof.spec.outcomes import Outcome, read_outcomes
from nudgeproof.spec.outside import WAKING
from nudgeproof.spec.types import Timeout, Transition, Variable
from nudgeproof.spec.variables import read_value_time
from nudgeproof.units import FOREVER, Form, Span

_VARYING: Final = (Form.EXACT, Form.RANGE, Form.PLUS_MINUS)
_AFTER: Final = TimeWanted(
    _VARYING, "it is the time after which the state is left", "after 3 s", least_us=1, unit="after"
)
_EVERY: Final = TimeWanted(
    _VARYING, "it is the time from one step to the next", "every 1 min", least_us=1, unit="every"
)
_TIME_KEY: Final = re.compile(r"(?:after|every)\s+(?P<time>.+?)(?:\s+with\s+(?P<button>.+?)\s+open)?")
_WORDS: Final = ("after", "every")


def read_transitions(
    found: Found | None, owner: str, names: Names, notes: Notes
) -> tuple[tuple[Transition, ...], tuple[Timeout, ...]]:
    """The mapping `transitions`: gestures and times, with what they do."""
    transitions: list[Transition] = []
    timeouts: list[Timeout] = []
    if found is None or (isinstance(found.value, Mapping) and not found.value.entries):
        return (), ()
    mapping = read_mapping(found, f"`transitions` of {owner}", "{hold: glowing}", notes)
    for key, value in mapping.entries if mapping is not None else ():
        if is_time(key.text):
            timeouts += _read_timeouts(Found(key, value), owner, names, notes)
            continue
        outcomes = read_outcomes(Found(key, value), f"`{show(key.text)}` in {owner}", names, notes)
        _check_trigger(key, names, notes)
        transitions += [_as_transition(key.text, outcome) for outcome in outcomes]
    return tuple(transitions), tuple(timeouts)


def _check_trigger(key: Words, names: Names, notes: Notes) -> None:
    """Note a key that is neither a gesture nor an event nor waking; nothing where the events couldn't be read."""
    if names.events is None or key.text == WAKING:
        return
    if not names.events:
        refer(key, names.gestures, "gesture", notes)
    elif names.triggers is not None and key.text not in names.triggers:
        what, why = f"there is no gesture or event `{show(key.text)}`", "each is named under `gestures` or `events`"
        notes.complain(key.place, what, why, suggest(key.text, names.triggers, "known"))


def has_time(found: Found | None) -> bool:
    """Whether a time was written, sound or not."""
    value = found.value if found is not None else None
    return isinstance(value, Mapping) and any(is_time(key.text) for key, _ in value.entries)


def is_time(key: str) -> bool:
    """Whether a key of `transitions` is a time rather than a gesture."""
    return key.partition(" ")[0] in _WORDS


def _as_transition(gesture: str, outcome: Outcome) -> Transition:
    return Transition(
        gesture,
        outcome.target,
        outcome.next,
        outcome.restarts,
        outcome.at,
        previous=outcome.previous,
        set=outcome.set,
        keep=outcome.keep,
        condition=outcome.condition,
    )


def _read_timeouts(found: Found, owner: str, names: Names, notes: Notes) -> list[Timeout]:
    """A line such as `after 3 s with pad open: stowed` or `every 1 min: {previous: left}`: one timeout for each case."""
    key, at = found.key, found.key.place
    subject = f"`{show(key.text)}` in {owner}"
    wanted = _EVERY if key.text.startswith("every") else _AFTER
    match = _TIME_KEY.fullmatch(key.text)
    if match is None:
        does = "a state" if wanted is _AFTER else "what it does, such as `{next: beam}`"
        notes.complain(at, f"{subject} has no time", wanted.meaning, f"write `{wanted.example}: ` and {does}")
        return []
    variable = names.domains.get(match["time"])
    times: tuple[tuple[str, Span], ...] = ()
    span = None
    if match["time"] not in (names.variables or ()):
        span = _read_span(match, at, subject, wanted, names, notes)
    elif variable is not None:
        times = _read_times(variable, at, subject, notes)
        span = Span(min(t.lo for _, t in times), max(t.hi for _, t in times)) if times else None
    if match["button"] is not None:
        column = at.column + match.start("button") + (0 if key.plain else 1)
        refer(Words(match["button"], Place(at.file, at.line, column), key.plain), names.buttons, "button", notes)
    outcomes = read_outcomes(found, subject, names, notes)
    _check_repeating(found, outcomes, subject, notes)
    if span is None:
        return []
    return [
        Timeout(
            span,
            match["button"],
            outcome.target,
            key.text,
            outcome.at,
            next=outcome.next,
            previous=outcome.previous,
            set=outcome.set,
            keep=outcome.keep,
            condition=outcome.condition,
            by=variable.name if times and variable is not None else "",
            times=times,
        )
        for outcome in outcomes
    ]


def _read_span(
    match: re.Match[str], at: Place, subject: str, wanted: TimeWanted, names: Names, notes: Notes
) -> Span | None:
    button = names.buttons[0] if names.buttons else "pad"
    example = f"write `{wanted.example}`, or `{wanted.example} with {button} open`"
    if match["button"] is None and re.search(r"\bwith\b", match["time"]):
        why = "only an open button can be waited for"
        notes.complain(at, f"{subject} has a `with` that isn't understood", why, example)
        return None
    if near := find_nearest(match["time"], names.variables or ()):
        example = f"{example}; or did you mean the variable `{show(near)}`?"
    quantity = read_time_words(match["time"], at, subject, wanted, example, notes)
    return None if quantity is None else quantity.span


def _read_times(variable: Variable, at: Place, subject: str, notes: Notes) -> tuple[tuple[str, Span], ...]:
    """How long the time is for each value of the variable that names it."""
    times = []
    for value in variable.values:
        span = read_value_time(value)
        if span is None or span.lo < 1 or span.hi == FOREVER:
            what = f"{subject} takes its time from `{show(variable.name)}`, whose value `{show(value)}` is no time"
            why, cure = "each value must be one time", "give it values such as `[1 min, 5 min]`"
            notes.complain(at, what, why, cure, also=variable.at)
            return ()
        times.append((value, span))
    return tuple(times)


def _check_repeating(found: Found, outcomes: Sequence[Outcome], subject: str, notes: Notes) -> None:
    """Note what leaves open whether it happens once or again and again."""
    word, _, time = found.key.text.partition(" ")
    inside = [outcome for outcome in outcomes if outcome.target is None]
    if word == "every" and outcomes and not inside:
        why = "it would happen once only"
        notes.complain(found.key.place, f"{subject} always leaves the state", why, f"write `after {show(time)}`")
    for outcome in inside:
        if word == "after" and not outcome.restarts:
            what, why = f"{subject} doesn't leave the state", "it must be said that the time then begins anew"
            notes.complain(outcome.at, what, why, f"write `every {show(time)}`, or `to: ` and a state")
        if word == "every" and outcome.restarts:
            what, why = f"{subject} has `restarts`", "`every` begins anew by itself"
            notes.complain(outcome.at, what, why, "take `restarts` out")
