"""Charge: what a day of use takes from the cells, and how long they last."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from typing import Final

from nudgeproof.quantities import Amount, Band, amount, exact

SLICES: Final = 24
"""In how many slices the life of the cells is summed up; each is taken at both of its ends, so the sum is a band."""

_DAY_H: Final = 24
YEAR_D: Final = Fraction("365.25")


@dataclass(frozen=True)
class Share:
    """One thing that takes charge. `a_day`: what it takes, in ampere hours a day."""

    name: str
    a_day: Band


def steady_part(name: str, hours: Fraction, current: Band) -> Share:
    """What a current takes that flows for some hours of a day."""
    time = amount(hours, "h")
    return Share(name, Band((current.lo * time).to("A*h"), (current.hi * time).to("A*h")))


def counted_part(name: str, times: Fraction, each: Band) -> Share:
    """What happens so many times a day takes, `each` being a charge."""
    return Share(name, Band((each.lo * times).to("A*h"), (each.hi * times).to("A*h")))


def pulse_charge(current: Band, lasts_us: tuple[int, int]) -> Band:
    """The charge of a current that flows for a time from the shorter to the longer of `lasts_us`."""
    shorter, longer = (amount(Fraction(us, 1_000_000), "s") for us in lasts_us)
    return Band((current.lo * shorter).to("A*h"), (current.hi * longer).to("A*h"))


def mean_current(shares: Sequence[Share]) -> Band:
    """The mean current of a day, amperes."""
    none = Band(amount(0, "A*h"), amount(0, "A*h"))
    whole = sum((share.a_day for share in shares), none)
    day = amount(_DAY_H, "h")
    return Band((whole.lo / day).to("A"), (whole.hi / day).to("A"))


def lying(charge: Amount, loses: Fraction) -> Share:
    """What cells lose by themselves when they lose the share `loses` of their charge a year."""
    a_day = (charge * loses / YEAR_D).to("A*h")
    return Share("the cells by themselves", Band(a_day, a_day))


def life(charge: Amount, until: Fraction, current: Callable[[Fraction], Band]) -> Band | None:
    """How long cells last until the share `until` is used, in hours; None if a specimen may draw nothing (`lasts_at_least`).

    `current`: the mean current at a share used, which may rise or fall with it but doesn't turn within one of the `SLICES`.
    The life is the integral of the charge over the current, from below and from above.
    """
    if until <= 0:
        none = amount(0, "h")
        return Band(none, none)
    ends = [current(until * k / SLICES) for k in range(SLICES + 1)]
    if any(band.lo.magnitude <= 0 for band in ends):
        return None
    part = exact(charge, "A*h") * until / SLICES
    low = high = Fraction(0)
    for first, last in pairwise(ends):
        low += part / max(exact(first.hi, "A"), exact(last.hi, "A"))
        high += part / min(exact(first.lo, "A"), exact(last.lo, "A"))
    return Band(amount(low, "h"), amount(high, "h"))


def lasts_at_least(charge: Amount, until: Fraction, current: Callable[[Fraction], Band]) -> Amount | None:
    """The lower end of `life`, also where a specimen may draw nothing; None if none draws anything."""
    if until <= 0:
        return amount(0, "h")
    most = [exact(current(until * k / SLICES).hi, "A") for k in range(SLICES + 1)]
    if any(max(pair) <= 0 for pair in pairwise(most)):
        return None
    part = exact(charge, "A*h") * until / SLICES
    return amount(sum((part / max(pair) for pair in pairwise(most)), Fraction(0)), "h")
