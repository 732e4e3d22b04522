"""Choosing a specimen that meets conditions, against trying all of a grid; and the cutting of boxes."""

from __future__ import annotations

from fractions import Fraction
from itertools import product
from random import Random

import pytest

from nudgeproof.boxes import CLOCK, Box, tell_specimen
from nudgeproof.fitting import Condition, Form, _choose, _value
from nudgeproof.spec.read import read_device
from nudgeproof.specimens import _cut
from tests.spec.good import GOOD

NAMES = ("a", "b", "c")
GRID = range(5)


def box(*names: str, low: int = 0, high: int = 4) -> Box:
    return Box(tuple((name, Fraction(low), Fraction(high)) for name in names))


def drawn(seed: int) -> list[Form]:
    rng = Random(seed)
    return [
        (rng.randint(-6, 6), tuple((name, c) for name in NAMES if (c := rng.randint(-3, 3))))
        for _ in range(rng.randint(1, 5))
    ]


@pytest.mark.parametrize("seed", range(60))
def test_a_specimen_is_chosen_just_if_there_is_one(seed: int) -> None:
    forms, near = drawn(seed), {name: Fraction(2) for name in NAMES}
    point = _choose(box(*NAMES), forms, near)
    on_grid = [dict(zip(NAMES, map(Fraction, values), strict=True)) for values in product(GRID, repeat=len(NAMES))]
    fitting = [one for one in on_grid if all(_value(form, one) >= 0 for form in forms)]
    if point is None:
        assert fitting == []
        return
    assert all(_value(form, point) >= 0 for form in forms)
    assert all(0 <= value <= 4 for value in point.values())
    if all(_value(form, near) >= 0 for form in forms):
        assert point == near


def test_both_answers_come_up_in_that_test() -> None:
    near = {name: Fraction(2) for name in NAMES}
    assert {_choose(box(*NAMES), drawn(seed), near) is None for seed in range(60)} == {True, False}


def test_the_clock_that_is_chosen_is_off_by_a_round_share() -> None:
    sides = Box(((CLOCK, Fraction(100, 105), Fraction(100, 95)),))
    point = _choose(sides, [(-1_021_000, ((CLOCK, 1_000_000),))], {CLOCK: Fraction(1)})
    assert point == {CLOCK: 1 / (1 - Fraction(3, 100))}


@pytest.mark.parametrize(
    ("lasts", "told"),
    [
        (Fraction(1), "exact"),
        (1 / (1 + Fraction(3, 100)), "3 % fast"),
        (1 / (1 - Fraction(20, 1_000_000)), "20 ppm slow"),
        (Fraction(101, 100), "about 0.9901 % slow"),
    ],
)
def test_a_clock_is_told_as_one_would_say_it(lasts: Fraction, told: str) -> None:
    device = read_device(GOOD.replace("off by: 5 %", "off by: 5 %, drift: one clock"), "lamp.yaml")
    assert tell_specimen(device, {CLOCK: lasts}, {CLOCK}) == f"a specimen whose clock is {told}"


def test_a_box_is_cut_where_a_condition_on_one_value_ends() -> None:
    condition = Condition((-3, (("b", 2),)), (("b", 2),))
    parts = _cut(box("a", "b"), [condition])
    assert parts is not None
    assert [part.side("b")[1] for part in parts] == [Fraction(3, 2), Fraction(4)]


def test_else_the_value_that_stands_against_itself_is_halved() -> None:
    """`a` stands in more bounds, all one way; `b` cancels out, so it helps only by varying."""
    condition = Condition((-1, (("a", 5), ("c", 1))), (("a", 5), ("b", 2), ("c", 1)))
    parts = _cut(box("a", "b", "c", high=40), [condition])
    assert parts is not None
    assert [part.side("b")[0] for part in parts] == [Fraction(0), Fraction(20)]


def test_what_is_no_wider_than_a_microsecond_is_not_cut() -> None:
    assert _cut(box("a", "b", high=1), []) is None
    assert _cut(Box(((CLOCK, Fraction(1), Fraction(1)),)), []) is None
