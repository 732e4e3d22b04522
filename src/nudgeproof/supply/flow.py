"""Currents as functions of the voltage, in plain fractions of volts, amperes, siemens and watts.

All comparisons of this package are made here. Quantities with units cost fifty times as much to reckon with, so they stay at
the edge: each thing keeps its values as fractions once they were looked at.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from nudgeproof.quantities import Band, exact

Ends = tuple[Fraction, Fraction]
"""The lower and the upper end of a band."""

ZERO = Fraction(0)
_SCALE = 1 << 64


def ends(band: Band, unit: str) -> Ends:
    """A band as numbers of a unit."""
    return exact(band.lo, unit), exact(band.hi, unit)


def sqrt(x: Fraction, up: bool) -> Fraction:
    """The square root of `x` >= 0, from below or, with `up`, from above; off by less than 10^-19."""
    root = Fraction(math.isqrt(x.numerator * _SCALE * _SCALE // x.denominator), _SCALE)
    return root + Fraction(1, _SCALE) if up and root * root != x else root


@dataclass(frozen=True)
class Flow:
    """A current `a`, with a current in proportion to the voltage above a foot (`ramps`: siemens, foot), and with a power
    (`powers`: watts, and the voltage above which it draws nothing more on top; None if there is none).

    Each of these is convex in the voltage, and so is the whole: what is left of an open-circuit voltage has one summit.
    """

    a: Fraction = ZERO
    ramps: tuple[Ends, ...] = ()
    powers: tuple[tuple[Fraction, Fraction | None], ...] = ()

    def rising(self, v: Fraction) -> Fraction:
        """The part that never falls with the voltage."""
        return self.a + sum((s * (v - foot) for s, foot in self.ramps if v > foot), ZERO)

    def falling(self, v: Fraction) -> Fraction:
        """The part that never rises with the voltage."""
        return sum((p / v - (p / top if top else 0) for p, top in self.powers if not top or v < top), ZERO)

    def at(self, v: Fraction) -> Fraction:
        """The current at a voltage, which is above nought if there is a power."""
        return self.rising(v) + self.falling(v) if self.powers else self.rising(v)

    def form(self, between: Fraction) -> tuple[Fraction, Fraction, Fraction]:
        """The current as `a + b V + p / V` in the stretch between two kinks in which this voltage is."""
        a, b, p = self.a, ZERO, ZERO
        for s, foot in self.ramps:
            if between > foot:
                a, b = a - s * foot, b + s
        for watts, top in self.powers:
            if not top or between < top:
                a, p = a - (watts / top if top else 0), p + watts
        return a, b, p

    def cuts(self, low: Fraction, high: Fraction) -> list[Fraction]:
        """Both voltages and the kinks between them, in rising order."""
        kinks = [foot for _, foot in self.ramps] + [top for _, top in self.powers if top]
        return [low, *sorted({v for v in kinks if low < v < high}), high]

    def __mul__(self, share: Fraction) -> Flow:
        return Flow(
            self.a * share,
            tuple((s * share, foot) for s, foot in self.ramps),
            tuple((p * share, top) for p, top in self.powers),
        )

    def at_least(self, current: Fraction) -> Flow:
        """The larger of this, which is one load, and a current."""
        if not self.ramps and not self.powers:
            return Flow(max(self.a, current))
        if current == 0:
            return self
        return Flow(
            current,
            tuple((s, foot + current / s) for s, foot in self.ramps),
            tuple((p, p / current) for p, _ in self.powers if p),
        )


def together(flows: Iterable[Flow]) -> Flow:
    """The sum of currents."""
    several = tuple(flows)
    return Flow(
        sum((flow.a for flow in several), ZERO),
        tuple(ramp for flow in several for ramp in flow.ramps),
        tuple(power for flow in several for power in flow.powers),
    )


def left_over(opened: Fraction, resistance: Fraction, flow: Flow, low: Fraction, high: Fraction | None) -> Fraction:
    """The most that `E - R I(V) - V` is for a V from `low` to `high` (None: any above); its sign is exact.

    It is at `low` where nothing draws a power. Else it may be at the summit of a stretch between two kinks, where
    `B - R p / V - K V` is `B - 2 sqrt(R p K)`; of that root only the square is looked at, and what is told is a little less.
    """
    if not flow.powers or resistance == 0:
        return opened - resistance * flow.at(low) - low
    values = [opened - resistance * flow.at(low) - low] if low > 0 else []
    cuts = flow.cuts(low, max(opened, low) + 1 if high is None else max(high, low))
    values += [opened - resistance * flow.at(v) - v for v in cuts[1:]]
    for before, after in pairwise(cuts):
        a, b, p = flow.form((before + after) / 2)
        room, slope = opened - resistance * a, 1 + resistance * b
        if room > 0 and before**2 * slope < resistance * p < after**2 * slope:
            values.append((room**2 - 4 * resistance * p * slope) / (2 * room))
    return max(values)
