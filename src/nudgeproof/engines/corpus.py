"""The corpus: failures found before, as text, to be tried first the next time.

An entry names its question in words and holds decisions, which are legal for every spec (see `play`), so a corpus outlives
changes of the spec. The text is JSON: versioned, sorted, one entry a line, without dates, so that two people's corpora
can be compared and joined line by line. Reading and writing files is left to the caller.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import NoReturn

from nudgeproof.diagnostics import Place, Problem, SpecErrors
from nudgeproof.engines.play import LARGEST, Decision

VERSION = 1
KEY = "nudgeproof corpus"
MOST_DECISIONS = 1_000
"""Far longer than any run that the fuzz keeps."""

_NUMBERS = 4
_WORDS = ("hazard", "subject", "environment")
_WHY = "what can't be read can't be tried again"
_CURE = "mend it, or take the file away: a new one is then begun"


@dataclass(frozen=True, slots=True, order=True)
class Entry:
    """A failure: which question (`environment` as printed beside a verdict), and the decisions that led to it."""

    hazard: str
    subject: str
    environment: str
    decisions: tuple[Decision, ...]


def write(entries: Iterable[Entry]) -> str:
    """The text of a corpus; the same entries give the same text, however they are ordered."""
    lines = [
        json.dumps(
            {
                "hazard": entry.hazard,
                "subject": entry.subject,
                "environment": entry.environment,
                "decisions": entry.decisions,
            }
        )
        for entry in sorted(set(entries))
    ]
    body = ",\n".join(lines)
    return f'{{"{KEY}": {VERSION}, "entries": [\n{body}{chr(10) if lines else ""}]}}\n'


def read(text: str, file: str) -> tuple[Entry, ...]:
    """The entries of a corpus, sorted. Raises `SpecErrors` with the place of the first thing that can't be read."""
    try:
        whole = json.loads(text, object_pairs_hook=_join)
    except json.JSONDecodeError as error:
        what = f"no JSON: {error.msg[:1].lower()}{error.msg[1:]}"
        raise SpecErrors([Problem(Place(file, error.lineno, error.colno), what, _WHY, _CURE)]) from None
    except _Twice as error:
        raise SpecErrors([Problem(Place(file), f"a key is there twice: {str(error)!r}", _WHY, _CURE)]) from None
    except (RecursionError, ValueError):
        raise SpecErrors([Problem(Place(file), "a list too deep or a number too long", _WHY, _CURE)]) from None
    start = Place(file, 1, 1)
    if not isinstance(whole, dict) or KEY not in whole:
        _fail(start, f"this is no corpus: `{KEY}` is missing")
    if type(whole[KEY]) is not int or whole[KEY] != VERSION:
        _fail(start, f"the corpus has another version than {VERSION}")
    if set(whole) != {KEY, "entries"} or not isinstance(whole["entries"], list):
        _fail(start, f"a corpus has `{KEY}` and a list `entries`, and nothing else")
    places = _find_entries(text, file, len(whole["entries"]))
    return tuple(sorted({_read_entry(entry, at) for entry, at in zip(whole["entries"], places, strict=True)}))


def recalled(entries: Iterable[Entry], hazard: str, subject: str, environment: str) -> tuple[tuple[Decision, ...], ...]:
    """The decisions kept for one question, for `fuzz` to try first."""
    wanted = (hazard, subject, environment)
    return tuple(e.decisions for e in sorted(entries) if (e.hazard, e.subject, e.environment) == wanted)


class _Twice(Exception):
    """A key stands twice in one object."""


def _join(pairs: list[tuple[str, object]]) -> dict[str, object]:
    joined: dict[str, object] = {}
    for key, value in pairs:
        if key in joined:
            raise _Twice(key)
        joined[key] = value
    return joined


def _read_entry(entry: object, at: Place) -> Entry:
    if not isinstance(entry, dict) or set(entry) != {*_WORDS, "decisions"}:
        _fail(at, "an entry has `hazard`, `subject`, `environment` and `decisions`, and nothing else")
    for name in _WORDS:
        if not isinstance(entry[name], str):
            _fail(at, f"`{name}` of this entry is no text")
    decisions = entry["decisions"]
    if not isinstance(decisions, list) or not 0 < len(decisions) <= MOST_DECISIONS:
        _fail(at, f"`decisions` of this entry is no list of 1 to {MOST_DECISIONS}")
    return Entry(
        entry["hazard"],
        entry["subject"],
        entry["environment"],
        tuple(_read_decision(decision, number, at) for number, decision in enumerate(decisions, start=1)),
    )


def _read_decision(decision: object, number: int, at: Place) -> Decision:
    numbers = decision if isinstance(decision, list) else []
    if len(numbers) != _NUMBERS or not all(type(n) is int and 0 <= n <= LARGEST for n in numbers):
        _fail(at, f"decision {number} of this entry is not {_NUMBERS} whole numbers from 0 to {LARGEST}")
    return numbers[0], numbers[1], numbers[2], numbers[3]


def _find_entries(text: str, file: str, count: int) -> list[Place]:
    """Where each entry begins: the values of a text that is known to be a corpus are stepped over one by one."""
    decoder = json.JSONDecoder()
    opening = re.search(r'"entries"\s*:\s*\[\s*', text)
    if opening is None:
        return [Place(file)] * count
    places, at = [], opening.end()
    for _ in range(count):
        line = text.count("\n", 0, at) + 1
        places.append(Place(file, line, at - (text.rfind("\n", 0, at) + 1) + 1))
        _, end = decoder.raw_decode(text, at)
        at = end + len(text[end:]) - len(text[end:].lstrip(", \t\r\n"))
    return places


def _fail(at: Place, what: str) -> NoReturn:
    raise SpecErrors([Problem(at, what, _WHY, _CURE)])
