"""The auditor: checks a certificate of absence without the explorer.

It is written to be read: it uses what a model arms and what a step does (`model`), and nothing of the search or of its
matrices. All it knows of time is: instants, upper bounds on their differences, and shortest paths (R. Floyd, "Algorithm 97:
Shortest path", CACM 5(6), 1962; from memory).

What it checks: the members form a set that no run leaves. A run begins in one; whichever of its timers may expire first,
and whatever comes of that, isn't the step in question and ends in one again. So by induction no run has such a step. Time
must also be able to go on: situations that must go round without any time passing would hide whatever comes later.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TypeVar

from nudgeproof import __version__
from nudgeproof.engines.encoding import Claim, encode, heading
from nudgeproof.model.step import Test, expire
from nudgeproof.model.tables import Model, Situation, Timer
from nudgeproof.units import FOREVER, Bound

Bounds = list[list[Bound]]
"""Entry [i][j]: how much later instant i may be than instant j, at most. Instant 0 is now, the others are expiries."""
LARGEST = 2**53
"""Of a finite bound; centuries, and still exact wherever a reader of JSON keeps numbers as floats."""
_T = TypeVar("_T")


@dataclass(frozen=True, slots=True)
class Audit:
    """Whether a certificate proves what it claims; if not, `reason` says why. `classes`: how many members it has."""

    ok: bool
    reason: str
    classes: int


class _Refused(Exception):
    """The certificate proves nothing; the message says why."""


def audit(model: Model, test: Test, document: str | bytes, claim: Claim) -> Audit:
    """Check that `document` proves that no run of `model` has a step that meets `test`.

    `model`, `test` and `claim` are what the caller rebuilt from the spec; the document must be about the same. Whatever it
    holds, the answer is an `Audit`, never an exception.
    """
    try:
        members = _read(document, claim)
        _check(model, test, members)
    except _Refused as refused:
        return Audit(False, str(refused), 0)
    except RecursionError:
        return Audit(False, "the certificate is nested too deeply", 0)
    return Audit(True, "", sum(map(len, members.values())))


def _read(document: str | bytes, claim: Claim) -> dict[str, list[Bounds]]:
    """The members by situation, each a square of bounds; what they are worth isn't known yet."""
    try:
        text = document.decode("utf-8") if isinstance(document, bytes) else document
        found = json.loads(text, parse_float=_no_float, parse_constant=_no_float, object_pairs_hook=_once)
    except ValueError as error:
        raise _Refused(f"the certificate is no JSON that can be read: {error}") from None
    expected = heading(claim, __version__)
    if not isinstance(found, dict) or set(found) != {*expected, "classes"}:
        raise _Refused("the certificate must have exactly the keys " + ", ".join((*expected, "classes")))
    for key, value in expected.items():
        # As texts, since 1 and True are equal to Python.
        if json.dumps(found[key], sort_keys=True) != json.dumps(value, sort_keys=True):
            raise _Refused(f"the certificate is about another `{key}`")
    members: dict[str, list[Bounds]] = {}
    if not isinstance(found["classes"], list):
        raise _Refused("`classes` must be a list")
    for entry in found["classes"]:
        if not isinstance(entry, dict) or set(entry) != {"situation", "matrices"}:
            raise _Refused("each of `classes` must have exactly the keys situation, matrices")
        situation, matrices = entry["situation"], entry["matrices"]
        if not isinstance(situation, str) or situation in members:
            raise _Refused("each `situation` must be a text of its own")
        if not isinstance(matrices, list) or not matrices:
            raise _Refused("`matrices` must be a list that isn't empty")
        members[situation] = [_square(matrix) for matrix in matrices]
    return members


def _no_float(text: str) -> object:
    raise ValueError(f"{text} is no whole number")


def _once(pairs: list[tuple[str, object]]) -> dict[str, object]:
    if len(dict(pairs)) != len(pairs):
        raise ValueError("a key is given twice")
    return dict(pairs)


def _square(matrix: object) -> Bounds:
    flat = [_bound(entry) for entry in matrix] if isinstance(matrix, list) else []
    width = int(len(flat) ** 0.5)
    if not flat or width * width != len(flat):
        raise _Refused("a matrix isn't square")
    return [flat[start : start + width] for start in range(0, len(flat), width)]


def _bound(entry: object) -> Bound:
    if entry == "inf":
        return FOREVER
    if type(entry) is not int or abs(entry) > LARGEST:
        raise _Refused('a bound must be a whole number of microseconds or "inf"')
    return entry


def _check(model: Model, test: Test, members: Mapping[str, Sequence[Bounds]]) -> None:
    """Follow the situations from the start, and in each whatever any of its members allows."""
    known: dict[str, Situation] = {}
    closed: dict[str, list[Bounds]] = {}
    timeless: dict[str, set[str]] = {}
    waiting: list[str] = []

    def meet(situation: Situation, bounds: Bounds, after: str) -> str:
        key = _ask(encode, situation)
        if key not in members:
            raise _Refused(f"{after} leads to a situation that isn't in the certificate: {key}")
        if key not in known:
            known[key] = situation
            closed[key] = [_member(member, len(bounds), key) for member in members[key]]
            waiting.append(key)
        if known[key] != situation:
            raise _Refused(f"two situations have the same text: {key}")
        if not any(_within(bounds, member) for member in closed[key]):
            raise _Refused(f"{after} leads to timings that no class includes: {key}")
        return key

    armed = model.armed(model.start)
    meet(model.start, _after([[0]], 0, armed, [-1] * len(armed)), "the start")
    while waiting:
        key = waiting.pop()
        situation = known[key]
        for position, (_, timer) in enumerate(model.armed(situation)):
            possible = [_expiring_first(member, position + 1) for member in closed[key]]
            if not any(possible):
                continue
            for move in _ask(expire, model, situation, position):
                if _ask(test, model, situation, move):
                    raise _Refused(f"the step can happen, when `{timer.name}` expires in {key}")
                for first in filter(None, possible):
                    later = _after(first, position + 1, move.timers, move.kept)
                    target = meet(move.situation, later, f"`{timer.name}` in {key}")
                    if timer.hi == 0:
                        timeless.setdefault(key, set()).add(target)
    if len(known) != len(members):
        raise _Refused("nothing leads to " + json.dumps(min(members.keys() - known.keys())))
    while timeless:
        # A situation whose timeless steps all lead out of those left is on no cycle of such steps.
        ends = [key for key, targets in timeless.items() if not targets & timeless.keys()]
        if not ends:
            raise _Refused(f"time can stop, so the absence proves nothing: {min(timeless)}")
        for key in ends:
            del timeless[key]


def _ask(call: Callable[..., _T], *arguments: object) -> _T:
    """What the model says. A false certificate can allow what no run does, for which parts need have no answer."""
    try:
        return call(*arguments)
    except Exception as error:
        raise _Refused(f"the model can't follow: {type(error).__name__}: {error}") from None


def _member(bounds: Bounds, width: int, key: str) -> Bounds:
    """A member, closed, if it is one at all."""
    if len(bounds) != width:
        raise _Refused(f"a matrix must have {width} rows, not {len(bounds)}: {key}")
    shortest = _shortest(bounds)
    if shortest is None:
        raise _Refused(f"a matrix allows no timing at all: {key}")
    return shortest


def _expiring_first(member: Bounds, first: int) -> Bounds | None:
    """What is known if the expiry `first` comes no later than any other; None if it can't."""
    bounds = list(member)
    bounds[first] = [member[first][0], *(min(bound, 0) for bound in member[first][1:])]
    return _shortest(bounds)


def _after(before: Bounds, first: int, armed: Sequence[tuple[int, Timer]], kept: Sequence[int]) -> Bounds:
    """What is known once the expiry `first` has come: about it, which is now, and the expiries of those armed after it.

    `kept`: positions of the timers that run on, -1 for one armed at that instant.
    """
    places = [first, *(k + 1 if k >= 0 else -1 for k in kept)]
    bounds: Bounds = [[before[p][q] if p >= 0 <= q else FOREVER for q in places] for p in places]
    for i, (_, timer) in enumerate(armed, start=1):
        bounds[i][i] = 0
        if places[i] < 0:
            bounds[i][0], bounds[0][i] = timer.hi, -timer.lo
    return _shortest(bounds) or bounds


def _shortest(bounds: Bounds) -> Bounds | None:
    """All bounds that follow from these, by shortest paths; None if they contradict each other."""
    bounds = [list(row) for row in bounds]
    for k in range(len(bounds)):
        via = list(bounds[k])
        for row in bounds:
            if (start := row[k]) != FOREVER:
                row[:] = [min(bound, start + onward) for bound, onward in zip(row, via, strict=True)]
        if any(row[i] < 0 for i, row in enumerate(bounds)):
            return None
    return bounds


def _within(small: Bounds, big: Bounds) -> bool:
    """Whether all timings of `small` (closed) are timings of `big`."""
    return all(a <= b for one, other in zip(small, big, strict=True) for a, b in zip(one, other, strict=True))
