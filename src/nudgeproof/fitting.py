"""Is there one specimen that can take a path? All arithmetic is exact.

The times of a path's steps obey difference constraints (see `engines.story`), and a bound of one is a number or a multiple
of one of a specimen's values. So the times and values that suit a path form a polyhedron, and the specimens that can take it
are its shadow. A specimen is tried; where it can't take the path, some constraints go round in a circle with a negative sum,
and that this sum mustn't be negative is a condition on the values alone, which no specimen that can take the path violates.
The next specimen is chosen among those that meet all conditions so far, until one fits or none is left (the cutting planes
of J. F. Benders, "Partitioning procedures for solving mixed-variables programming problems", Numerische Mathematik 4, 1962;
the choice, by elimination of one value after another, is Fourier's and Motzkin's; both from memory).

A shadow of a polyhedron is convex. So if all corners of a box can take a path, every specimen of the box can.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from nudgeproof.boxes import CLOCK, Box, Point, name_of
from nudgeproof.engines.space import Retime, Step
from nudgeproof.engines.story import constraints
from nudgeproof.model.tables import Local, Model, Part, Reads, Timer
from nudgeproof.parts.compile import Environment, compile_model
from nudgeproof.spec.types import Device
from nudgeproof.units import FOREVER, Fixed

FINER = 1000
"""Into how many parts a microsecond is divided where only the rounding of a specimen's times would tell two apart."""

MOST_TRIES = 100
MOST_CONDITIONS = 400
MOST_CORNERS = 1024

Form = tuple[int, tuple[tuple[str, int], ...]]
"""A number plus multiples of values of a specimen."""


@dataclass(frozen=True, slots=True)
class Condition:
    """`form` must not be negative. `slack`: how often each value stands in the bounds that it came from."""

    form: Form
    slack: tuple[tuple[str, int], ...]


@dataclass(frozen=True, slots=True)
class Fit:
    """Whether a specimen can take a path.

    `point`, `times`: a specimen that can, and when its steps come; None and () if there is none, for sure if `known`.
    `names`: the values that the path hangs on at all. `conditions`: what was found out about them.
    """

    point: Point | None
    times: tuple[Fraction, ...]
    known: bool
    conditions: tuple[Condition, ...]


def compile_finer(device: Device, environment: Environment, box: Box, fixed: Sequence[Fixed]) -> Model:
    """The model of a box with all times in units of 1/`FINER` microsecond, its own times rounded outward to these."""
    named = {str(one): one for one in fixed}

    def finer(timer: Timer) -> Timer:
        if timer.of not in named:
            return Timer(timer.name, timer.lo * FINER, timer.hi * FINER, timer.of)
        one = named[timer.of]
        low, high = box.side(name_of(one))
        least, most = (low * one.lo, high * one.hi) if one.counted else (low, high)
        return Timer(timer.name, math.floor(least * FINER), math.ceil(most * FINER), timer.of)

    def armed_finer(part: Part) -> Callable[[Local, Reads], tuple[Timer, ...]]:
        return lambda local, reads: tuple([finer(timer) for timer in part.armed(local, reads)])

    parts = compile_model(device, environment).parts
    return Model(tuple(replace(part, armed=armed_finer(part)) for part in parts))


class Fitting:
    """The constraints of one path, found in the model of any box, with the values of specimens in them."""

    def __init__(self, model: Model, path: Sequence[Step], fixed: Sequence[Fixed]) -> None:
        named = {str(one): one for one in fixed}
        bounds = [constraints(model, path, _only(named, None))]
        names = tuple(dict.fromkeys(name_of(one) for one in fixed))
        bounds += [constraints(model, path, _only(named, name)) for name in names]
        edges: list[tuple[int, int, Form]] = []
        for together in zip(*bounds, strict=True):
            (i, j, number), *multiples = together
            parts = tuple((name, c) for name, (_, _, c) in zip(names, multiples, strict=True) if c)
            edges.append((i, j, (number, parts)))
        self.edges, self.count = edges, len(path) + 1
        self.names = frozenset(name for _, _, (_, parts) in edges for name, _ in parts)

    def times_at(self, point: Point) -> tuple[Fraction, ...] | Condition:
        """The earliest times of the path's steps on one specimen, or a condition that it violates."""
        bounds = [(i, j, _value(form, point)) for i, j, form in self.edges]
        times, came = [Fraction(0)] * self.count, [-1] * self.count
        changed = -1
        for _ in range(self.count + 1):
            changed = -1
            for number, (i, j, bound) in enumerate(bounds):
                if times[i] < times[j] - bound:
                    times[i], came[i], changed = times[j] - bound, number, i
            if changed < 0:
                return tuple(times[1:])
        return self._circle(came, changed)

    def _circle(self, came: Sequence[int], at: int) -> Condition:
        """The condition of a circle of constraints; `came`: by which one each time was put off last."""
        for _ in range(self.count):
            at = self.edges[came[at]][1]
        circle: list[int] = []
        start = at
        while not circle or at != start:
            circle.append(came[at])
            at = self.edges[came[at]][1]
        number, sums, slack = 0, dict.fromkeys(sorted(self.names), 0), dict.fromkeys(sorted(self.names), 0)
        for edge in circle:
            c, parts = self.edges[edge][2]
            number += c
            for name, multiple in parts:
                sums[name] += multiple
                slack[name] += abs(multiple)
        form = (number, tuple((name, c) for name, c in sums.items() if c))
        return Condition(form, tuple((name, c) for name, c in slack.items() if c))

    def find(self, box: Box, near: Point) -> Fit:
        """A specimen of the box that can take the path, as near to `near` and with as round values as may be."""
        conditions: list[Condition] = []
        for _ in range(MOST_TRIES):
            try:
                point = _choose(box, [condition.form for condition in conditions], near)
            except _TooMany:
                break
            if point is None:
                return Fit(None, (), True, tuple(conditions))
            found = self.times_at(point)
            if isinstance(found, tuple):
                return Fit(point, found, True, tuple(conditions))
            conditions.append(found)
        return Fit(None, (), False, tuple(conditions))

    def everywhere(self, box: Box, near: Point) -> tuple[Point, Condition] | None:
        """A corner of the box that can't take the path, and why; None if there is none, so every specimen of the box can."""
        for corner in box.corners(self.names, near):
            found = self.times_at(corner)
            if isinstance(found, Condition):
                return corner, found
        return None


def _only(fixed: dict[str, Fixed], name: str | None) -> Retime:
    """Bounds as multiples of one value of a specimen; for None what is left of them without any."""

    def change(part: int, timer: Timer) -> Timer:
        one = fixed.get(timer.of)
        if one is None:
            return timer if name is None else Timer(timer.name, 0, timer.hi if timer.hi == FOREVER else 0)
        if name != name_of(one):
            return Timer(timer.name, 0, 0)
        return Timer(timer.name, one.lo, one.hi) if one.counted else Timer(timer.name, 1, 1)

    return change


def _value(form: Form, point: Point) -> Fraction:
    return form[0] + sum((point[name] * c for name, c in form[1]), Fraction(0))


class _TooMany(Exception):
    """The elimination grew beyond `MOST_CONDITIONS`."""


_Row = tuple[Fraction, dict[str, Fraction]]
"""A number plus multiples of values, that must not be negative."""


def _choose(box: Box, forms: Sequence[Form], near: Point) -> Point | None:
    """A specimen of the box for which no form is negative; None if there is none. Raises `_TooMany`."""
    point = box.clamp(near)
    names = sorted({name for _, parts in forms for name, _ in parts})
    rows: list[_Row] = [(Fraction(number), {name: Fraction(c) for name, c in parts}) for number, parts in forms]
    for name in names:
        low, high = box.side(name)
        rows += [(-low, {name: Fraction(1)}), (high, {name: Fraction(-1)})]
    systems = [rows]
    for name in reversed(names):
        systems.append(_eliminate(systems[-1], name))
    if any(number < 0 for number, _ in systems[-1]):
        return None
    chosen: Point = {}
    for name, system in zip(names, reversed(systems[:-1]), strict=True):
        low, high = box.side(name)
        for number, parts in system:
            rest = number + sum((c * chosen[other] for other, c in parts.items() if other != name), Fraction(0))
            c = parts.get(name, Fraction(0))
            if c > 0:
                low = max(low, -rest / c)
            elif c < 0:
                high = min(high, -rest / c)
        chosen[name] = (
            _roundest_drift(low, high) if name == CLOCK else _roundest(low, high, near[name], Fraction(10**6))
        )
    return {**point, **chosen}


def _eliminate(rows: Sequence[_Row], name: str) -> list[_Row]:
    """What follows from the rows without this value; together they can be met just if the rows can."""
    kept: list[_Row] = [row for row in rows if not row[1].get(name)]
    for number, parts in [row for row in rows if row[1].get(name, 0) > 0]:
        for other_number, other_parts in [row for row in rows if row[1].get(name, 0) < 0]:
            up, down = -other_parts[name], parts[name]
            sums = {
                key: up * parts.get(key, Fraction(0)) + down * other_parts.get(key, Fraction(0))
                for key in parts.keys() | other_parts.keys()
                if key != name
            }
            kept.append((up * number + down * other_number, {key: c for key, c in sums.items() if c}))
    if len(kept) > MOST_CONDITIONS:
        raise _TooMany
    return kept


def _roundest_drift(low: Fraction, high: Fraction) -> Fraction:
    """A length of a microsecond in an interval, such that the share by which the clock is off is a round one."""
    return 1 / (1 + _roundest(1 / high - 1, 1 / low - 1, Fraction(0), Fraction(1, 100)))


def _roundest(low: Fraction, high: Fraction, near: Fraction, step: Fraction) -> Fraction:
    """A number from `low` to `high`: `near` if it fits, else the nearest multiple to it of the greatest step, by tens."""
    if low <= near <= high:
        return near
    for _ in range(13):
        nearest = -(-low // step) * step if near < low else high // step * step
        if low <= nearest <= high:
            return nearest
        step /= 10
    return low if near < low else high
