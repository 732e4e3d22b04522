"""All specimens of a device: which times each has one value of, and boxes of such specimens.

With `drift: one clock` all times that the firmware counts are off by one share on one specimen; a time `per unit` has one
value on it. Nobody knows either; both stay the same for a whole story. A *box* gives an interval for each. The device of a
box lets every time vary within its interval at any moment, so it does whatever any specimen of the box does, and more.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from fractions import Fraction

from nudgeproof.spec.fixed import fixed_times, map_spans
from nudgeproof.spec.types import Device
from nudgeproof.units import MICROSECONDS, Fixed, Span, show_us

CLOCK = "clock"
"""The value of a specimen that is no time but how long what it takes for a microsecond really lasts, in microseconds."""

Point = dict[str, Fraction]
"""One specimen: its value of each fixed time, in microseconds, and of `CLOCK`."""


@dataclass(frozen=True, slots=True)
class Box:
    """The specimens each value of which lies in an interval, both ends included: (name, least, greatest)."""

    sides: tuple[tuple[str, Fraction, Fraction], ...]

    def side(self, name: str) -> tuple[Fraction, Fraction]:
        """The interval of a value; raises KeyError."""
        return {name: (low, high) for name, low, high in self.sides}[name]

    def clamp(self, point: Point) -> Point:
        """The specimen of the box that is nearest to `point` in each value."""
        return {name: min(max(point[name], low), high) for name, low, high in self.sides}

    def corners(self, names: Collection[str], point: Point) -> Iterator[Point]:
        """The specimens with each of `names` at an end of its interval, all other values as those of `point`."""
        found = [dict(point)]
        for name, low, high in self.sides:
            if name in names:
                found = [{**corner, name: end} for corner in found for end in dict.fromkeys((low, high))]
        yield from found

    def cut(self, name: str, at: Fraction) -> tuple[Box, Box]:
        """The two parts of the box with this value up to `at`, and from there on."""
        below = tuple((n, low, at if n == name else high) for n, low, high in self.sides)
        above = tuple((n, at if n == name else low, high) for n, low, high in self.sides)
        return Box(below), Box(above)


def name_of(fixed: Fixed) -> str:
    """The value of a specimen that says how long this time is."""
    return CLOCK if fixed.counted else str(fixed)


def whole_box(device: Device) -> Box:
    """All specimens of a device."""
    sides = {}
    for fixed in fixed_times(device):
        ends = (Fraction(fixed.lo), Fraction(fixed.hi))
        sides[name_of(fixed)] = (1 / (1 + device.off_by), 1 / (1 - device.off_by)) if fixed.counted else ends
    return Box(tuple((name, low, high) for name, (low, high) in sides.items()))


def middle(device: Device) -> Point:
    """The specimen with an exact clock and each of its other times in the middle, in whole microseconds."""
    return {
        name: Fraction(1) if name == CLOCK else Fraction(math.floor((low + high) / 2))
        for name, low, high in whole_box(device).sides
    }


def narrow(device: Device, box: Box) -> Device:
    """The device of a box, its times in whole microseconds, rounded outward."""
    sides = {name: (low, high) for name, low, high in box.sides}

    def change(span: Span) -> Span:
        if span.of is None:
            return span
        low, high = sides[name_of(span.of)]
        if span.of.counted:
            low, high = low * span.of.lo, high * span.of.hi
        return Span(math.floor(low), math.ceil(high), span.of)

    return map_spans(device, change)


def at_point(device: Device, point: Point) -> Device:
    """The device of one specimen; its times that aren't whole microseconds lie between two."""
    return narrow(device, point_box(point))


def point_box(point: Point) -> Box:
    """The box of one specimen."""
    return Box(tuple((name, value, value) for name, value in point.items()))


def tell_specimen(device: Device, point: Point, names: Collection[str]) -> str:
    """A specimen in words, by those of its values that are `names`; "" if there are none."""
    fixed = {name_of(one): one for one in fixed_times(device)}
    keys = [one.key for one in fixed.values()]
    told = [f"whose clock is {_tell_drift(point[CLOCK])}"] if CLOCK in names and CLOCK in fixed else []
    for name, one in fixed.items():
        if name in names and name != CLOCK:
            which = f" ({Span(one.lo, one.hi)})" if keys.count(one.key) > 1 else ""
            told.append(f"whose `{one.key}`{which} is {_tell_time(point[name])}")
    return f"a specimen {' and '.join(told)}" if told else ""


def _tell_drift(lasts: Fraction) -> str:
    """How far a clock is off on which a microsecond lasts so long."""
    drift = 1 / lasts - 1
    if not drift:
        return "exact"
    share, unit = (
        (abs(drift) * 100, "%") if abs(drift) >= Fraction(1, 10_000) else (abs(drift) * MICROSECONDS["s"], "ppm")
    )
    shown = f"{float(share):.4f}".rstrip("0").rstrip(".")
    about = "" if Fraction(shown) == share else "about "
    return f"{about}{shown} {unit} {'fast' if drift > 0 else 'slow'}"


def _tell_time(us: Fraction) -> str:
    return show_us(int(us)) if us.denominator == 1 else f"about {float(us / 1000):.4f} ms"


def tell_all(device: Device) -> Iterator[str]:
    """What each specimen has one value of, a line for each, as it stands in the spec."""
    if CLOCK in {name_of(one) for one in fixed_times(device)}:
        yield (
            f"drift: one clock; all times that the firmware counts on one specimen are off by one share, up to "
            f"{float(device.off_by * 100):g} %, the same for a whole story"
        )
    for one in fixed_times(device):
        if not one.counted:
            yield f"{one.key}: {Span(one.lo, one.hi)} per unit; one value on each specimen, the same for a whole story"
