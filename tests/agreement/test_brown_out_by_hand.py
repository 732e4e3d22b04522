"""Boot loops of a tiny device, found by going through all its states, cells and units, against what the explorer says.

Nothing of the tool is used on the naive side but the text of the spec: the voltage is 3.0 - 0.4 u - I (10 + 50 u), a load
resets where it is below the level, and what follows is played state by state until it repeats or rests.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from random import Random

import pytest

from nudgeproof.diagnostics import SpecErrors
from nudgeproof.verdict import Verdict
from tests.amount import amount
from tests.weak import CELLS, found

DEVICES = 60
_FRESH = Fraction(1, 10**6)
"""The share used of cells that were just put in: what turns at nought has turned by then."""


@dataclass(frozen=True)
class Tiny:
    """Currents in mA, voltages in mV: of the device held in reset, while it starts, and of the lamp at its two beams."""

    standby: int
    start: int
    low: int
    high: int
    level: tuple[int, int]
    hysteresis: int
    starts_in: str
    tries: int
    keeps: tuple[str, ...]
    until: int

    @property
    def spec(self) -> dict[str, str]:
        """The changes of the device of `tests.weak`."""
        lamp = f"in: glowing, if: beam is low}}, bright: {{draws: {self.high} mA, in: glowing, if: beam is high"
        loads = f"standby: {{draws: {self.standby} mA}}, faint: {{draws: {self.low} mA, {lamp}}}"
        loads += f", start: {{draws: {self.start} mA, while: starting}}" if self.start else ""
        low, high = (f"{value / 1000:g}" for value in self.level)
        rules = f"level: {low} to {high} V" + (f", hysteresis: {self.hysteresis} mV" if self.hysteresis else "")
        rules += f", starts in: {self.starts_in}" if self.starts_in else ""
        rules += f", tries: {self.tries}" if self.tries else ""
        return {
            "loads": loads,
            "supply": f"brown-out: {{{rules}}}",
            "cells": f"{CELLS}, used until: {self.until} %",
            "memory": f"keeps: [{', '.join(self.keeps)}], write takes: 1 ms, guard: two copies",
        }

    def current(self, state: str, beam: str) -> int:
        """What it draws, in mA; `state`: also `starting`, or `in reset`."""
        extra = {"starting": self.start, "glowing": self.low if beam == "low" else self.high}
        return self.standby + extra.get(state, 0)

    def currents(self) -> list[int]:
        """All that differ."""
        return sorted({self.current(s, b) for s in ("in reset", "starting", "glowing") for b in ("low", "high")})


def volts(used: Fraction, milliamperes: int) -> Fraction:
    """The voltage in mV."""
    return 3000 - 400 * used - milliamperes * (10 + 50 * used)


def where(milliamperes: int, millivolts: Fraction) -> Fraction:
    """The share used at which this current pulls the voltage down to that."""
    return (3000 - 10 * milliamperes - millivolts) / (400 + 50 * milliamperes)


Mode = tuple[str, str]
"""A state and a beam."""


@dataclass(frozen=True)
class Unit:
    """One unit, with its level in mV, on cells of which a share is used."""

    tiny: Tiny
    level: Fraction
    used: Fraction

    def resets(self, state: str, beam: str) -> bool:
        trips = self.level - Fraction(self.tiny.hysteresis, 2)
        return volts(self.used, self.tiny.current(state, beam)) < trips

    def starts_again(self) -> bool:
        """Whether it lets go once it is reset."""
        lets_go = self.level + Fraction(self.tiny.hysteresis, 2)
        return volts(self.used, self.tiny.current("in reset", "")) >= lets_go

    def play(self, mode: Mode, kept: Mode) -> Mode | None:
        """Where it rests, if it is in `mode` and its memory has what was in force in `kept`; None if it goes round."""
        tiny, count, seen = self.tiny, 0, set()
        while self.resets(*mode):
            count = min(count + 1, tiny.tries + 1)
            if self.resets("starting", "") or (mode, count) in seen:
                return None
            seen.add((mode, count))
            state = kept[0] if "state" in tiny.keeps else "stowed"
            if tiny.starts_in and count > tiny.tries:
                state = tiny.starts_in
            mode = (state, kept[1] if "beam" in tiny.keeps else "low")
        return mode

    def ever(self) -> set[Mode] | None:
        """Where it can rest after any gestures, from its first start; None if it can go round already."""
        first = self.play(("stowed", "low"), ("stowed", "low"))
        rests, waiting = set(), [first]
        while waiting:
            mode = waiting.pop()
            if mode is None:
                return None
            if mode in rests:
                continue
            rests.add(mode)
            held = ("glowing" if mode[0] == "stowed" else "stowed", mode[1])
            tapped = (mode[0], mode[1] if mode[0] == "stowed" else "high" if mode[1] == "low" else "low")
            waiting += [self.play(held, mode), self.play(tapped, mode)]
        return rests


def goes_round(tiny: Tiny, used: Fraction, level: Fraction) -> bool:
    """Whether one unit goes round for ever, from somewhere where it could rest when its cells were fresh."""
    fresh, now = Unit(tiny, level, _FRESH), Unit(tiny, level, used)
    if not now.starts_again():
        return False  # once reset it stays so
    rests = fresh.ever()
    return rests is None or now.ever() is None or any(now.play(mode, mode) is None for mode in rests)


def first_loop(tiny: Tiny) -> Fraction | None:
    """The share used from which on some unit goes round; None for never."""
    ends = [Fraction(level) for level in tiny.level]
    half = Fraction(tiny.hysteresis, 2)
    turns = {where(i, level + side) for i in tiny.currents() for level in ends for side in (-half, half)}
    until = Fraction(tiny.until, 100)
    cuts = sorted({Fraction(0), until, *(turn for turn in turns if 0 < turn < until)})
    for begin, end in pairwise(cuts):
        used = (begin + end) / 2
        if any(goes_round(tiny, used, level) for level in _units(tiny, used)):
            return begin
    return None


def _units(tiny: Tiny, used: Fraction) -> Iterator[Fraction]:
    """A unit of each kind there is: levels between which no load resets differently, now or when the cells were fresh."""
    low, high = (Fraction(level) for level in tiny.level)
    half = Fraction(tiny.hysteresis, 2)
    marks = {volts(at, i) + side for at in (_FRESH, used) for i in tiny.currents() for side in (-half, half)}
    cuts = sorted({low, high, *(mark for mark in marks if low < mark < high)})
    yield from cuts
    yield from ((a + b) / 2 for a, b in pairwise(cuts))


def make(seed: int) -> Tiny:
    """A random one. A level with a tolerance has no hysteresis: whether a unit lets go again isn't told apart by unit."""
    random = Random(seed)
    start, low, high = random.sample(range(1, 26), 3)
    level = random.randrange(2300, 2950, 10)
    spread = random.choice((0, 0, 20, 100))
    starts_in = random.choice(("", "stowed", "stowed", "glowing"))
    return Tiny(
        standby=random.randrange(1, 4),
        start=random.choice((0, start)),
        low=low,
        high=high,
        level=(level - spread, level + spread),
        hysteresis=0 if spread else random.choice((0, 50, 200)),
        starts_in=starts_in,
        tries=random.choice((0, 1, 2)) if starts_in else 0,
        keeps=random.choice((("state",), ("beam",), ("state", "beam"))),
        until=random.choice((100, 60)),
    )


def told(tiny: Tiny) -> tuple[Verdict, str]:
    (finding,) = found("boot-loop", **tiny.spec).values()
    return finding.verdict, finding.sentence


@pytest.mark.parametrize("seed", range(0, DEVICES, amount(2, 1)))
def test_the_explorer_and_a_naive_look_agree(seed: int) -> None:
    tiny = make(seed)
    begins = first_loop(tiny)
    if tiny.level[0] + Fraction(tiny.hysteresis, 2) > 3000:
        with pytest.raises(SpecErrors, match="the device could never start"):
            told(tiny)
        return
    verdict, sentence = told(tiny)
    if sentence.startswith("even with fresh cells some units never start"):
        level = tiny.level[1] + Fraction(tiny.hysteresis, 2)
        assert where(tiny.standby, level) <= 0
        return
    assert verdict is (Verdict.HOLDS if begins is None else Verdict.BROKEN), (tiny, begins, sentence)
    if begins:
        assert sentence.startswith(f"once {float(int(begins * 10_000) / 100):g} % of the cells is used")
    elif begins is not None:
        assert sentence.startswith("with fresh cells already")


def test_there_is_something_of_each_kind_among_them() -> None:
    begins = [first_loop(make(seed)) for seed in range(DEVICES)]
    assert sum(one is None for one in begins) >= 10
    assert sum(bool(one) for one in begins) >= 10
