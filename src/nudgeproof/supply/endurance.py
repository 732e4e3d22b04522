"""How long a memory lasts that bears so many writes."""

from __future__ import annotations

from fractions import Fraction

from nudgeproof.supply.charge import YEAR_D


def memory_life(endures: int, writes_a_day: Fraction, slots: int = 1) -> Fraction | None:
    """Days until the first cell has been written `endures` times, `slots` of them taking turns; None if none is written.

    Raises ValueError for numbers that make no sense.
    """
    if endures < 1 or slots < 1 or writes_a_day < 0:
        raise ValueError("a memory that bears no write, or none in a day")
    return None if writes_a_day == 0 else Fraction(endures) * slots / writes_a_day


def in_years(days: Fraction) -> Fraction:
    """Days in years of 365.25 days."""
    return days / YEAR_D
