"""Hold-up: how long a capacitor alone feeds the device once its cells have lost contact.

The loads are, between two of their kinks, a constant current, one in proportion to the voltage and (behind a switching
regulator) one inversely so; for each there is a closed form:

    constant current I:      t = C (V1 - V2) / I
    resistor R:              t = R C ln(V1 / V2)
    both, a + b V:           t = (C / b) ln((a + b V1) / (a + b V2))
    constant power P:        t = C (V1^2 - V2^2) / (2 P)
    power and current a:     t = C ((V1 - V2) / a - P / a^2 ln((P + a V1) / (P + a V2)))

An LED behind a resistor is a resistor above its forward voltage, and nothing below.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from typing import Final

from nudgeproof.quantities import Amount, Band, amperes, exact, farads, volts
from nudgeproof.supply.bounds import ln
from nudgeproof.supply.loads import Draw, Load, kinks, total
from nudgeproof.supply.rail import Capacitor, Regulator, Source, voltage
from nudgeproof.units import FOREVER, Bound

_S: Final = 1_000_000


@dataclass(frozen=True)
class HoldUp:
    """From the loss of contact until the voltage is too low, in microseconds: `lo` is what surely survives, after `hi` it is
    surely too low (`FOREVER` if nothing draws enough)."""

    lo: Bound
    hi: Bound


@dataclass(frozen=True)
class _Drain:
    """A current `a + b V + p / V` between two voltages, in amperes, siemens, watts."""

    high: Fraction
    low: Fraction
    a: Fraction
    b: Fraction
    p: Fraction


def hold_up(source: Source, used: Fraction, draw: Draw, until: Band) -> HoldUp:
    """How long the rail stays above `until`, the cells being gone, from the voltage that it has with this draw.

    No capacitor holds nothing up. The leakage of the capacitor drains it too. The time that a reset takes to respond isn't
    counted.
    """
    capacitor = source.capacitor
    if capacitor is None:
        return HoldUp(0, 0)
    begins = _input(source, used, draw)
    ends = Band(_input_for(source.regulator, until.lo, False), _input_for(source.regulator, until.hi, True))
    shortest = discharge(capacitor, source.regulator, draw, begins.lo, ends.hi, shortest=True)
    longest = discharge(capacitor, source.regulator, draw, begins.hi, ends.lo, shortest=False)
    return HoldUp(shortest, longest)


def discharge(
    capacitor: Capacitor, regulator: Regulator | None, draw: Draw, begins: Amount, ends: Amount, shortest: bool
) -> Bound:
    """Microseconds in which the capacitor, at `begins`, falls to `ends`, for the specimen that is quickest or slowest at it.

    What flows through the capacitor's own resistance r lowers at once what is seen outside. Then, with I the current at a
    voltage, the time is the integral of `C (1 + r dI/dV) / I`, so `r C ln(I1 / I2)` more than without it.
    """
    size = capacitor.size.lo if shortest else capacitor.size.hi
    if not shortest and _idles(capacitor, regulator, draw):
        return FOREVER
    series = exact(capacitor.resistance.hi if shortest else capacitor.resistance.lo, "ohm")
    leak = exact(capacitor.leaks.hi if shortest else capacitor.leaks.lo, "A")
    drains = _drains(regulator, draw, begins, ends, leak, shortest)
    if not drains:
        return 0
    first, last = _current(drains[0], drains[0].high), _current(drains[-1], drains[-1].low)
    if last <= 0:
        return FOREVER
    capacity = exact(size, "F")
    extra = Fraction(0)
    if series and (first > last) != shortest and first != last:
        extra = series * capacity * ln(first / last)[0 if shortest else 1]
    if shortest and series:
        lost = series * max(first, last)
        if exact(begins, "V") - lost <= exact(ends, "V"):
            return 0
        drains = _drains(regulator, draw, begins - volts(lost), ends, leak, shortest)
    times = [_time(drain, capacity, shortest) for drain in drains]
    if any(time is None for time in times):
        return FOREVER
    whole = max(Fraction(0), extra + sum((time for time in times if time is not None), Fraction(0))) * _S
    return math.floor(whole) if shortest else math.ceil(whole)


def _idles(capacitor: Capacitor, regulator: Regulator | None, draw: Draw) -> bool:
    """Whether a specimen may draw nothing at all."""
    least = [capacitor.leaks.lo, *((regulator.takes.lo,) if regulator is not None else ())]
    return not draw and all(one.magnitude == 0 for one in least)


def _input(source: Source, used: Fraction, draw: Draw) -> Band:
    """The voltage at the cells with this draw."""
    regulator = source.regulator
    if regulator is None:
        return voltage(source, used, draw)
    level = source.cells.at(used)
    # A regulator's input lies between the cells' open-circuit voltage and that less what the largest current costs.
    if regulator.switches:
        power = regulator.makes.hi * total(draw, regulator.makes.hi).hi / regulator.efficiency[0]
        current = power / regulator.works_from + regulator.takes.hi
    else:
        current = total(draw, regulator.makes.hi).hi + regulator.takes.hi
    low = level.open.lo - level.resistance.hi * current
    return Band(max(low, volts(0)), level.open.hi)


def _input_for(regulator: Regulator | None, rail: Amount, highest: bool) -> Amount:
    """The voltage at the cells below which the rail is below `rail`."""
    if regulator is None:
        return rail
    if not regulator.switches:
        return rail + (regulator.drops.hi if highest else regulator.drops.lo)
    return regulator.works_from


def _drains(
    regulator: Regulator | None, draw: Draw, begins: Amount, ends: Amount, leak: Fraction, most: bool
) -> list[_Drain]:
    """The current between two voltages at the cells, cut where its form changes; from above."""
    high, low = exact(begins, "V"), exact(ends, "V")
    if high <= low:
        return []
    if regulator is not None and regulator.switches:
        makes = regulator.makes.hi if most else regulator.makes.lo
        mean = total(draw, makes)
        share = regulator.efficiency[0] if most else regulator.efficiency[1]
        power = exact(makes * (mean.hi if most else mean.lo), "W") / share
        own = exact(regulator.takes.hi if most else regulator.takes.lo, "A")
        return [_Drain(high, low, leak + own, Fraction(0), power)]
    if regulator is not None:
        # The rail is at what the regulator makes, or lower: what its loads draw there is the most they can.
        makes = regulator.makes.hi if most else regulator.makes.lo
        at_least = volts(max(Fraction(0), low - exact(regulator.drops.hi, "V")))
        mean = total(draw, makes if most else min(makes, at_least))
        own = exact(regulator.takes.hi if most else regulator.takes.lo, "A")
        return [_Drain(high, low, leak + own + exact(mean.hi if most else mean.lo, "A"), Fraction(0), Fraction(0))]
    cuts = [high, *(v for kink in reversed(kinks(draw)) if low < (v := exact(kink, "V")) < high), low]
    drains = []
    for upper, lower in pairwise(cuts):
        a, b, p = leak, Fraction(0), Fraction(0)
        for load in draw:
            one = _form(load, (upper + lower) / 2, most)
            a, b, p = a + one[0], b + one[1], p + one[2]
        drains.append(_Drain(upper, lower, a, b, p))
    return drains


def _form(load: Load, middle: Fraction, most: bool) -> tuple[Fraction, Fraction, Fraction]:
    """`a`, `b` and `p` of a load between two kinks of which `middle` is in the middle."""
    none = Fraction(0)
    if load.current is not None:
        return exact(load.current.hi if most else load.current.lo, "A") * load.share, none, none
    if load.power is not None:
        return none, none, exact(load.power.hi if most else load.power.lo, "W") * load.share
    assert load.resistor is not None
    siemens = load.share / exact(load.resistor.lo if most else load.resistor.hi, "ohm")
    if load.forward is None:
        return none, siemens, none
    forward = exact(load.forward.lo if most else load.forward.hi, "V")
    return (-forward * siemens, siemens, none) if middle > forward else (none, none, none)


def _current(drain: _Drain, at: Fraction) -> Fraction:
    return drain.a + drain.b * at + (drain.p / at if drain.p else 0)


def _time(drain: _Drain, capacity: Fraction, below: bool) -> Fraction | None:
    """Seconds from the upper to the lower voltage, rounded down or up; None for never."""
    upper, lower, a, b, p = drain.high, drain.low, drain.a, drain.b, drain.p
    if _current(drain, lower) <= 0:
        return None
    if p and b:
        # A power beside a resistor: the resistor is taken as a current, at the end where that errs to the safe side.
        a, b = a + b * (upper if below else lower), Fraction(0)
    if p and a:
        low, high = ln((p + a * upper) / (p + a * lower))
        return capacity * ((upper - lower) / a - p / a**2 * (high if below else low))
    if p:
        return capacity * (upper**2 - lower**2) / (2 * p)
    if b:
        low, high = ln((a + b * upper) / (a + b * lower))
        return capacity / b * (low if below else high)
    return capacity * (upper - lower) / a


def needed(source: Source, used: Fraction, draw: Draw, until: Band, loss_us: int, tolerance: Fraction) -> Amount | None:
    """The nominal size of a capacitor that surely bridges a loss of this length; None if no size does.

    `tolerance`: by which share of its nominal size it may be smaller, from making and from age together.
    """
    known = source.capacitor
    none = Band(amperes(0), amperes(0))
    series = known.resistance if known is not None else Band(volts(0) / amperes(1), volts(0) / amperes(1))
    unit = Capacitor(Band(farads(1), farads(1)), series, known.leaks if known is not None else none)
    found = hold_up(Source(source.cells, source.regulator, unit), used, draw, until).lo
    if found == 0:
        return None
    return farads(Fraction(loss_us) / Fraction(int(found)) / (1 - tolerance)) if found != FOREVER else farads(0)


E12: Final = tuple(Fraction(one, 10) for one in (10, 12, 15, 18, 22, 27, 33, 39, 47, 56, 68, 82))
"""Preferred values (IEC 60063, series E12)."""


def preferred(size: Amount) -> Amount:
    """The smallest value of the series E12 that is `size` or more."""
    value = exact(size, "F")
    if value <= 0:
        return farads(0)
    power = Fraction(1)
    while power > value:
        power /= 10
    while power * 10 <= value:
        power *= 10
    return farads(next((step * power for step in E12 if step * power >= value), power * 10))


def charging(resistance: Amount, size: Amount, source: Amount, to: Amount) -> Band:
    """How long a capacitor takes from empty to the voltage `to`, from `source` behind a resistance: `R C ln(E / (E - V))`.

    Raises ValueError if it never gets there. The first current is `E / R`.
    """
    if to >= source:
        raise ValueError("the capacitor never gets as far")
    low, high = ln(exact(source, "V") / exact(source - to, "V"))
    return Band(resistance * size * low, resistance * size * high)
