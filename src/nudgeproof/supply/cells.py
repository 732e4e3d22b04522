"""Cells: an open-circuit voltage behind a resistance, from fresh to spent."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from itertools import pairwise

from nudgeproof.quantities import Amount, Band, just, ohms, volts
from nudgeproof.supply.flow import Ends, ends


@dataclass(frozen=True)
class Level:
    """The cells once the share `used` of their charge (0 to 1) is gone. `open`: volts; `resistance`: ohms."""

    used: Fraction
    open: Band
    resistance: Band


@dataclass(frozen=True)
class Cells:
    """What is known at some shares used, in rising order from 0 to 1; between two of them both change evenly.

    `charge`: what fresh cells hold, None if it isn't stated. `loses`: the share of that which a year of lying costs.
    """

    levels: tuple[Level, ...]
    charge: Amount | None = None
    loses: Fraction = Fraction(0)

    def at(self, used: Fraction) -> Level:
        """The cells at any share used; raises ValueError outside 0 to 1."""
        opened, resistance = self.ends(used)
        return Level(used, Band(*map(volts, opened)), Band(*map(ohms, resistance)))

    def ends(self, used: Fraction) -> tuple[Ends, Ends]:
        """The same as numbers of volts and ohms."""
        if not 0 <= used <= 1:
            raise ValueError(f"a share of {used}")
        for (start, *before), (end, *after) in pairwise(self._numbers):
            if used <= end:
                part = (used - start) / (end - start)
                opened, resistance = (_between(a, b, part) for a, b in zip(before, after, strict=True))
                return opened, resistance
        return self._numbers[-1][1:]

    @cached_property
    def _numbers(self) -> tuple[tuple[Fraction, Ends, Ends], ...]:
        return tuple((level.used, ends(level.open, "V"), ends(level.resistance, "ohm")) for level in self.levels)

    @property
    def corners(self) -> tuple[Fraction, ...]:
        """The shares used at which something is known."""
        return tuple(level.used for level in self.levels)


def _between(first: Ends, second: Ends, part: Fraction) -> Ends:
    return first[0] + (second[0] - first[0]) * part, first[1] + (second[1] - first[1]) * part


def resistance_of(opened: Amount, loaded: Amount, current: Amount) -> Amount:
    """The resistance of cells from two readings of a meter: without a load, and with one that draws `current`.

    Raises ValueError where the loaded reading isn't the lower one, or no current flows.
    """
    if not (current.magnitude > 0 and loaded < opened):
        raise ValueError("a load pulls the voltage down")
    return (opened - loaded) / current


def resistance_across(opened: Amount, loaded: Amount, resistor: Amount) -> Amount:
    """The same where the load is a resistor: (open / loaded - 1) * resistor; raises ValueError likewise."""
    if not (loaded.magnitude > 0 and loaded < opened):
        raise ValueError("a load pulls the voltage down")
    return (opened / loaded - 1) * resistor


def under_load(level: Level, current: Band) -> Band:
    """What a meter reads at the cells with this current drawn: `E - I R`, volts."""
    return Band(level.open.lo - current.hi * level.resistance.hi, level.open.hi - current.lo * level.resistance.lo)


def steady(opened: Amount, resistance: Amount) -> Cells:
    """Cells that never change: the same voltage and resistance from fresh to spent."""
    ends = (Fraction(0), Fraction(1))
    return Cells(tuple(Level(used, just(opened), just(resistance)) for used in ends))
