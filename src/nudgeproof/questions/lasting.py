"""The promise that cells last: `cells last at least 40 h in evenings`. It is reckoned, not explored."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from nudgeproof.diagnostics import Place
from nudgeproof.parts.budget import Budget, budget
from nudgeproof.quantities import Band, decimal, exact, show
from nudgeproof.questions.ask import Conclusion, Derived
from nudgeproof.spec.electrical import Day
from nudgeproof.spec.types import Device

START: Final = "cells last at least "
_TIME: Final = re.compile(r"(?P<number>[0-9]{1,6}(?:\.[0-9]{1,3})?) (?P<unit>h|d|years?|months?)")
_HOURS: Final = {"h": Fraction(1), "d": Fraction(24), "month": Fraction("730.5"), "year": Fraction(8766)}
_CURE = "draw less where most of it goes (see `nudgeproof supply`), sleep sooner, use larger cells, or promise less"


@dataclass(frozen=True, slots=True)
class Lasts:
    """In a use called `use` the cells last for `hours`, which the maker wrote as `time`."""

    use: str
    time: str
    hours: Fraction
    at: Place

    def __str__(self) -> str:
        return f"{START}{self.time} in {self.use}"


def read_hours(text: str) -> Fraction | None:
    """The hours of a time such as `40 h`, `90 d`, `6 months` or `2 years`; None if it is no time, or none at all."""
    match = _TIME.fullmatch(text)
    if match is None:
        return None
    unit = match["unit"] if match["unit"] in _HOURS else match["unit"].removesuffix("s")
    hours = Fraction(match["number"]) * _HOURS[unit]
    return hours if hours > 0 else None


def say_hours(hours: Band) -> str:
    """A life in the unit in which it has a handy number."""
    low, high = (exact(end, "h") for end in (hours.lo, hours.hi))
    for unit, size, least in (("years", 8766, 2), ("d", 24, 3), ("h", 1, 0)):
        if low >= size * least:
            ends = [decimal(value / size, 3) for value in (low, high)]
            return f"{ends[0]} {unit}" if ends[0] == ends[1] else f"{ends[0]} to {ends[1]} {unit}"
    raise AssertionError("a life is no less than nought")


def ask_lasts(device: Device, promise: Lasts) -> Derived:
    """The promise as an answer; open where nobody knows how long the cells last (`why_unknown`)."""
    day = next(one for one in device.use if one.name == promise.use)
    found = budget(device, day)
    sentence, holds, reason = "", None, why_unknown(device)
    if found.hours is not None:
        holds = exact(found.hours.lo, "h") >= promise.hours
        lasts = f"in {promise.use} the cells last {say_hours(found.hours)}"
        sentence = f"{lasts}, so {promise.time} are kept" if holds else f"{lasts}, not {promise.time} ({_most(found)})"
        reason = ""
    conclusion = Conclusion(
        "promise", str(promise), holds, sentence, sentence, reason, _CURE, promise.at, reckoned=True
    )
    return Derived((), lambda answers: (conclusion,))


def why_unknown(device: Device) -> str:
    """Why a budget has no hours."""
    if device.electricity is None or device.electricity.source.cells.charge is None:
        return "`cells` don't say what `charge` they hold"
    return "a specimen may draw nothing as long as nobody uses it"


def _most(found: Budget) -> str:
    first = max(found.shares, key=lambda share: share.a_day.hi)
    return f"most goes to {first.name}: up to {show(first.a_day.hi)} a day"


def find_day(device: Device, name: str) -> Day | None:
    """The use of this name, None if there is none."""
    return next((day for day in device.use if day.name == name), None)
