"""Hold-up: how long a capacitor alone feeds the device once its cells have lost contact.

The loads are, between two of their kinks, a constant current, one in proportion to the voltage and (a power, or whatever is
behind a switching regulator) one inversely so; for each there is a closed form:

    constant current I:      t = C (V1 - V2) / I
    resistor R:              t = R C ln(V1 / V2)
    both, a + b V:           t = (C / b) ln((a + b V1) / (a + b V2))
    constant power P:        t = C (V1^2 - V2^2) / (2 P)
    power and current a:     t = C ((V1 - V2) / a - P / a^2 ln((P + a V1) / (P + a V2)))

An LED behind a resistor is a resistor above its forward voltage, and nothing below. A power beside a resistor is cut into
short stretches, in each of which their current is taken as a straight line on the safe side.

What flows through the capacitor's own resistance r lowers at once what is seen outside, from V0 to the V1 for which
`V1 + r I(V1) = V0`. Then the time is the integral of `C (1 + r dI/dV) / I`, so `r C ln(I1 / I2)` more than without it.

Loads that pulse draw their mean current, and at most one pulse's excess before that has come round; of what that excess does
to the voltage the end is moved. Where a pulse's length isn't stated, or the current rises as the voltage falls, they draw
their largest current all the time for the shortest hold-up, and nothing for the longest.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from typing import Final

from nudgeproof.quantities import Amount, Band, amperes, exact, farads, ohms
from nudgeproof.supply.bounds import ln
from nudgeproof.supply.flow import ZERO, sqrt, together
from nudgeproof.supply.intake import Intake, Piece
from nudgeproof.supply.loads import Draw, mean_of, top_of
from nudgeproof.supply.rail import BOOST, Capacitor, Regulator, Source, voltage
from nudgeproof.units import FOREVER, Bound

_S: Final = 1_000_000
_STRETCHES: Final = 32
_SMALLEST: Final = Fraction(1, 2**20)
"""The least voltage of the rail at which a power is looked at, volts."""


@dataclass(frozen=True)
class HoldUp:
    """From the loss of contact until the voltage is too low, in microseconds: `lo` is what surely survives, after `hi` it is
    surely too low (`FOREVER` if nothing draws enough)."""

    lo: Bound
    hi: Bound


def hold_up(source: Source, used: Fraction, draw: Draw, until: Band) -> HoldUp:
    """How long the rail stays above `until`, the cells being gone, from the voltage that it has with this draw.

    No capacitor holds nothing up. The leakage of the capacitor drains it too. The time that a reset takes to respond isn't
    counted.
    """
    if source.capacitor is None:
        return HoldUp(0, 0)
    # Neither end is wrong by itself, so where the bounds of both cross by their rounding the outer ones count.
    shortest, longest = _shortest(source, used, draw, until), _longest(source, used, draw, until)
    return HoldUp(shortest, max(shortest, longest))


def left_at_most(source: Source, used: Fraction, before: Draw, draw: Draw, until: Band) -> Bound:
    """How long at most the rail stays above `until` with this draw, at any moment of an outage that began with `before`.

    A lighter draw before left the cells, and so the capacitor, at a higher voltage: that may be longer than `hold_up` says.
    """
    if source.capacitor is None:
        return 0
    return max(_longest(source, used, draw, until), _longest(source, used, draw, until, before))


def discharge(
    capacitor: Capacitor, regulator: Regulator | None, draw: Draw, begins: Amount, ends: Amount, shortest: bool
) -> Bound:
    """Microseconds in which the capacitor, at `begins`, falls to `ends`, for the specimen that is quickest or slowest at it.

    Both are voltages at the cells, and every load draws its mean current.
    """
    intake = Intake(regulator, mean_of(draw)[shortest], shortest)
    return _discharge(capacitor, intake, exact(begins, "V"), exact(ends, "V"), shortest)


def _shortest(source: Source, used: Fraction, draw: Draw, until: Band) -> Bound:
    capacitor, regulator = source.capacitor, source.regulator
    assert capacitor is not None
    rail = exact(until.hi, "V")
    end = _input_for(regulator, rail, True)
    if end is None:
        return 0
    found: list[Bound] = []
    top, mean = top_of(draw)[1], mean_of(draw)[1]
    pulsing = any(load.pulses for load in draw)
    for flow in (top, mean) if pulsing else (mean,):
        intake = Intake(regulator, flow, True)
        begin = _steady(source, used, intake, end, True)
        if flow is top and pulsing and regulator is None:
            begin = max(begin, exact(voltage(source, used, draw, peaks=True).lo, "V"))
        if flow is mean and pulsing:
            moved = _moved(capacitor, regulator, draw, rail, begin, True)
            if moved is None:
                continue
            end += moved
        found.append(_discharge(capacitor, intake, begin, end, True))
    return max(found)


def _longest(source: Source, used: Fraction, draw: Draw, until: Band, before: Draw | None = None) -> Bound:
    capacitor, regulator = source.capacitor, source.regulator
    assert capacitor is not None
    rail = exact(until.lo, "V")
    end = _input_for(regulator, rail, False)
    if end is None:
        return 0
    base, mean = together(load.mean[0] for load in draw if not load.pulses), mean_of(draw)[0]
    found: list[Bound] = []
    pulsing = any(load.pulses for load in draw)
    for flow in (base, mean) if pulsing else (mean,):
        intake = Intake(regulator, flow, False, rail)
        begin = _steady(source, used, intake, end, False)
        if before is not None:
            # Pulses of what was on before may have paused for long.
            least = together(load.mean[0] for load in before if not load.pulses)
            begin = max(begin, _steady(source, used, Intake(regulator, least, False, rail), end, False))
        if flow is mean and pulsing:
            moved = _moved(capacitor, regulator, draw, rail, begin, False)
            if moved is None:
                continue
            end = max(ZERO, end - moved)
        found.append(_discharge(capacitor, intake, begin, end, False))
    return min(found)


def _moved(
    capacitor: Capacitor, regulator: Regulator | None, draw: Draw, rail: Fraction, begin: Fraction, shortest: bool
) -> Fraction | None:
    """By how much pulses can pull the voltage below what the mean current leaves, or spare it; None if nobody knows."""
    size, series, _ = capacitor.numbers
    falls = (regulator is not None and regulator.switches) or any(load.power is not None for load in draw)
    if falls or size[0] == 0:
        return None
    highest = max(rail, min(begin, regulator.numbers[0][1]) if regulator is not None else begin)
    charge = step = ZERO
    for load in draw:
        if not load.pulses:
            continue
        if load.lasts is None:
            return None
        less = load.mean[1] if shortest else load.mean[0]
        more = max(load.top[1].at(v) - less.at(v) for v in (rail, highest))
        charge, step = charge + more * load.lasts, step + more
    # In a pause nothing of the mean current of a pulsing load flows through the capacitor's own resistance.
    if not shortest:
        step = sum((load.mean[1].at(highest) for load in draw if load.pulses), ZERO)
    return charge / size[0] + step * series[1]


def _input_for(regulator: Regulator | None, rail: Fraction, highest: bool) -> Fraction | None:
    """The voltage at the cells below which the rail is below `rail`; None if a regulator doesn't make as much."""
    if regulator is None:
        return rail
    makes, _, drops, works_from = regulator.numbers
    if rail > makes[not highest] and (highest or regulator.kind != BOOST):
        return None
    if not regulator.switches:
        # Below the least voltage at its input nobody knows what it does.
        return max(rail + drops[1], works_from) if highest else rail + drops[0]
    # A boost regulator that has stopped may hand the cells through.
    return min(works_from, rail) if regulator.kind == BOOST and not highest else works_from


def _steady(source: Source, used: Fraction, intake: Intake, end: Fraction, shortest: bool) -> Fraction:
    """The voltage at the cells before they are lost, from below or from above."""
    opened, resistance = source.cells.ends(used)
    volts_open, in_series = opened[not shortest], resistance[shortest]
    leak = source.capacitor.numbers[2][shortest] if source.capacitor is not None else ZERO
    volts_open -= in_series * leak
    found = _settles(volts_open, in_series, intake, end, shortest)
    if found is not None:
        return found
    return end if shortest or not intake.may_be_above(volts_open, in_series, end) else max(end, volts_open)


def _settles(opened: Fraction, resistance: Fraction, intake: Intake, end: Fraction, below: bool) -> Fraction | None:
    """The upper voltage V for which `E - R I(V) = V`, from below or above; None if it isn't above `end`, or isn't found."""
    if opened <= end:
        return None
    if resistance == 0:
        return opened

    def left(v: Fraction) -> Fraction:
        return opened - resistance * intake.at(v) - v

    high = opened
    low = max(end, _SMALLEST, intake.lost + sqrt(resistance * intake.power, up=True))
    low = next((edge for edge in intake.edges if low < edge < high and left(edge) >= 0), low)
    if low >= high or left(low) < 0:
        return None
    guess = opened - resistance * intake.at(high)
    if guess > low and left(guess) == 0:
        return guess
    while high - low > Fraction(1, 2**44):
        middle = (low + high) / 2
        low, high = (middle, high) if left(middle) >= 0 else (low, middle)
    return low if below else high


def _discharge(capacitor: Capacitor, intake: Intake, begin: Fraction, end: Fraction, shortest: bool) -> Bound:
    size, series, leaks = capacitor.numbers
    capacity, leak, inside = size[not shortest], leaks[shortest], series[shortest]
    if begin <= end:
        return 0
    if intake.power and shortest:
        end = max(end, intake.lost + _SMALLEST)
    elif intake.power and inside * intake.power >= (end - intake.lost) ** 2:
        # The voltage breaks down before it is at the end: no current is less than this.
        least = leak + intake.least(end, begin)
        return math.ceil(capacity * (begin - end) / least * _S) if least else FOREVER
    first = _settles(begin, inside, intake, end, shortest) if inside else begin
    if first is None:
        return 0
    whole, before = ZERO, ZERO
    for piece in intake.pieces(end, first):
        time = _time(piece, leak, capacity, inside, shortest)
        if time is None:
            return FOREVER
        now = piece.current(piece.high) + leak
        if inside and before > 0 and before != now and (before > now) != shortest:
            # Where the bound of the current leaps, so does the voltage outside.
            whole += inside * capacity * ln(before / now)[not shortest]
        whole, before = whole + time, piece.current(piece.low) + leak
    whole = max(ZERO, whole) * _S
    return math.floor(whole) if shortest else math.ceil(whole)


def _time(piece: Piece, leak: Fraction, capacity: Fraction, inside: Fraction, below: bool) -> Fraction | None:
    """Seconds from the upper to the lower voltage of a piece, rounded down or up; None for never."""
    upper, lower = piece.high, piece.low
    first, last = piece.current(upper) + leak, piece.current(lower) + leak
    if last <= 0:
        return None
    pick = 0 if below else 1
    extra = inside * capacity * ln(first / last)[pick] if inside and first != last else ZERO
    if not (piece.p and piece.b):
        return extra + capacity * _closed(upper, lower, piece.a + leak, piece.b, piece.p, pick)
    step = (upper - lower) / _STRETCHES
    cuts = [lower + step * k for k in range(_STRETCHES + 1)]
    return extra + capacity * sum((_between(piece, leak, u, v, pick) for u, v in pairwise(cuts)), ZERO)


def _between(piece: Piece, leak: Fraction, lower: Fraction, upper: Fraction, pick: int) -> Fraction:
    """The integral of one over the current in a short stretch, which is convex: below its chord and above its tangents."""
    if pick == 0:
        at, slope = lower, (piece.current(upper) - piece.current(lower)) / (upper - lower)
    else:
        at = (lower + upper) / 2
        slope = piece.b - piece.p / at**2
    a = piece.current(at) + leak - slope * at
    least = min(a + slope * lower, a + slope * upper)
    if least <= 0:
        # A tangent that cuts the axis says nothing.
        return (upper - lower) / (piece.a + leak + piece.b * lower + piece.p / upper)
    return _closed(upper, lower, a, slope, ZERO, pick)


def _closed(upper: Fraction, lower: Fraction, a: Fraction, b: Fraction, p: Fraction, pick: int) -> Fraction:
    """The integral of `1 / (a + b V)` or `1 / (a + p / V)`, from below (`pick` 0) or above (1)."""
    if p and a:
        return (upper - lower) / a - p / a**2 * ln((p + a * upper) / (p + a * lower))[1 - pick]
    if p:
        return (upper**2 - lower**2) / (2 * p)
    if b:
        return ln((a + b * upper) / (a + b * lower))[pick if b > 0 else 1 - pick] / b
    return (upper - lower) / a


def needed(source: Source, used: Fraction, draw: Draw, until: Band, loss_us: int, tolerance: Fraction) -> Amount | None:
    """The nominal size of a capacitor that surely bridges a loss of this length; None if no size does.

    `tolerance`: by which share of its nominal size it may be smaller, from making and from age together. It is exact but
    for pulses, where it is less than a hundredth too large.
    """
    known = source.capacitor
    none = Band(amperes(0), amperes(0))
    series = known.resistance if known is not None else Band(ohms(0), ohms(0))
    leaks = known.leaks if known is not None else none

    def lasts(size: Fraction) -> Bound:
        unit = Capacitor(Band(farads(size), farads(size)), series, leaks)
        return hold_up(Source(source.cells, source.regulator, unit), used, draw, until).lo

    # In a whole farad a pulse doesn't matter, and without pulses the time is in proportion to the size.
    found = lasts(Fraction(1))
    if found == 0:
        return None
    if found == FOREVER or loss_us <= 0:
        return farads(0)
    low = high = Fraction(loss_us) / Fraction(int(found))
    if any(load.pulses for load in draw):
        for _ in range(_STRETCHES):
            if lasts(high) >= loss_us:
                break
            low, high = high, 2 * high
        else:
            return None
        while high > low * Fraction(101, 100):
            middle = (low + high) / 2
            low, high = (low, middle) if lasts(middle) >= loss_us else (middle, high)
    return farads(high / (1 - tolerance))


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
