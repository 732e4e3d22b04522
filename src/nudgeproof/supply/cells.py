"""Cells: an open-circuit voltage behind a resistance, from fresh to spent."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from nudgeproof.quantities import Amount, Band, just


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
        if not 0 <= used <= 1:
            raise ValueError(f"a share of {used}")
        for before, after in pairwise(self.levels):
            if used <= after.used:
                part = (used - before.used) / (after.used - before.used)
                return Level(
                    used, _between(before.open, after.open, part), _between(before.resistance, after.resistance, part)
                )
        last = self.levels[-1]
        return Level(used, last.open, last.resistance)

    @property
    def corners(self) -> tuple[Fraction, ...]:
        """The shares used at which something is known."""
        return tuple(level.used for level in self.levels)


def _between(first: Band, second: Band, part: Fraction) -> Band:
    return Band(first.lo + (second.lo - first.lo) * part, first.hi + (second.hi - first.hi) * part)


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
