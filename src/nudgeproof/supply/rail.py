"""From the cells to the rail: whether its voltage stays above a level, and how far the cells may be used until it doesn't.

`E - R I(V) = V` holds at the cells. For loads that draw no more at a lower voltage than at a higher one, the voltage is at
least T just if `E - R I(T) >= T`: no equation is solved, and in fractions the answer is exact. A regulator that draws a
constant power draws more at a lower voltage; there the upper of the two solutions counts, since the cells come from above.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from nudgeproof.quantities import Amount, Band, amperes, exact, volts
from nudgeproof.supply.bounds import exp
from nudgeproof.supply.cells import Cells
from nudgeproof.supply.loads import Draw, longest_pulse, surge, total

LINEAR, BOOST, BUCK_BOOST = KINDS = ("linear", "boost", "buck-boost")

_FINEST: Final = Fraction(1, 2**24)


@dataclass(frozen=True)
class Regulator:
    """`makes`: the voltage of the rail; `drops`: what a linear one needs on top; `efficiency`: of a switching one, a share.

    `takes`: its own current. `works_from`: the least voltage at its input.
    """

    kind: str
    makes: Band
    takes: Band
    drops: Band
    works_from: Amount
    efficiency: tuple[Fraction, Fraction] = (Fraction(1), Fraction(1))

    @property
    def switches(self) -> bool:
        """Whether it draws a power rather than a current."""
        return self.kind in (BOOST, BUCK_BOOST)


@dataclass(frozen=True)
class Capacitor:
    """Across the cells, before a regulator. `resistance`: in series (ESR), ohms. `leaks`: amperes."""

    size: Band
    resistance: Band
    leaks: Band


@dataclass(frozen=True)
class Source:
    """What feeds the rail."""

    cells: Cells
    regulator: Regulator | None = None
    capacitor: Capacitor | None = None


@dataclass(frozen=True)
class Corner:
    """One end of all tolerances: the worst for the voltage, or the best."""

    worst: bool

    def of(self, low_is_worst: Band) -> Amount:
        """The end of a band that counts, of something of which less is worse."""
        return low_is_worst.lo if self.worst else low_is_worst.hi

    def against(self, high_is_worst: Band) -> Amount:
        """The same for something of which more is worse."""
        return high_is_worst.hi if self.worst else high_is_worst.lo


WORST, BEST = Corner(True), Corner(False)


def reaches(
    source: Source, used: Fraction, draw: Draw, level: Amount, corner: Corner = WORST, peaks: bool = True
) -> bool:
    """Whether the rail is at `level` or above, exactly; with `peaks` also while all peaks of the loads come together.

    `corner`: the specimen for which this is worst, or best.
    """
    return margin(source, used, draw, level, corner, peaks) >= 0


def margin(source: Source, used: Fraction, draw: Draw, level: Amount, corner: Corner, peaks: bool = True) -> Fraction:
    """What is left of the cells' voltage when the rail is held at `level`, in volts; below nought it can't be held.

    Where a regulator can't make `level` at all, or its input collapses, it is minus one.
    """
    regulator = source.regulator
    if regulator is None:
        return _left_over(source, used, draw, level, corner, peaks, lambda v: corner.against(total(draw, v)))
    takes = corner.against(regulator.takes)
    if regulator.kind == LINEAR:
        if level > corner.of(regulator.makes):
            return Fraction(-1)
        at, current = level + corner.against(regulator.drops), corner.against(total(draw, level)) + takes
        return _left_over(source, used, draw, at, corner, peaks, lambda _: current)
    if level > corner.of(regulator.makes):
        # Above what it makes a boost regulator hands the cells through; a buck-boost one never does.
        if regulator.kind == BUCK_BOOST:
            return Fraction(-1)
        return _left_over(source, used, draw, level, corner, peaks, lambda v: corner.against(total(draw, v)) + takes)
    return _left_of_power(source, used, draw, corner, peaks)


def _left_over(
    source: Source,
    used: Fraction,
    draw: Draw,
    at: Amount,
    corner: Corner,
    peaks: bool,
    drawn: Callable[[Amount], Amount],
) -> Fraction:
    level = source.cells.at(used)
    wanted = at + dip(source, used, draw, at, corner) if peaks else at
    return exact(
        corner.of(level.open) - corner.against(level.resistance) * (drawn(wanted) + _leak(source, corner)) - wanted, "V"
    )


def _left_of_power(source: Source, used: Fraction, draw: Draw, corner: Corner, peaks: bool) -> Fraction:
    """The same for the input of a switching regulator: `E - R (P/V + t) = V` must have a root where it still works."""
    regulator = source.regulator
    assert regulator is not None
    level = source.cells.at(used)
    resistance, makes = corner.against(level.resistance), corner.against(regulator.makes)
    current = corner.against(total(draw, makes))
    if peaks:
        current = current + corner.against(surge(draw, makes))
    power = makes * current / (regulator.efficiency[0] if corner.worst else regulator.efficiency[1])
    least = regulator.works_from
    opened = corner.of(level.open) - resistance * (corner.against(regulator.takes) + _leak(source, corner))
    if opened.magnitude <= 0:
        return Fraction(-1)
    if least * least <= resistance * power:
        is_held = opened * opened >= 4 * resistance * power and opened / 2 >= least
        return exact(opened / 2 - least, "V") if is_held else Fraction(-1)
    return exact(opened - resistance * power / least - least, "V")


def _leak(source: Source, corner: Corner) -> Amount:
    """What the capacitor draws by itself."""
    return corner.against(source.capacitor.leaks) if source.capacitor is not None else amperes(0)


def dip(source: Source, used: Fraction, draw: Draw, at: Amount, corner: Corner) -> Amount:
    """How far the peaks pull the voltage below its mean, volts: all of it without a capacitor, else what it leaves.

    A step of the current dI for a time t gives `dI R (1 - R/(R+r) exp(-t / ((R+r) C)))`, r being the capacitor's own
    resistance. The exponential is rounded against the corner. `at`: the least voltage of the rail that is thought of.
    """
    level = source.cells.at(used)
    resistance = corner.against(level.resistance)
    more = corner.against(surge(draw, corner.of(level.open) if corner.worst else at))
    pulse, capacitor = longest_pulse(draw), source.capacitor
    if capacitor is None or pulse is None or resistance.magnitude == 0:
        return more * resistance
    series = corner.against(capacitor.resistance)
    both = resistance + series
    lasting = -exact(pulse, "s") / exact(both * corner.of(capacitor.size), "s")
    low, high = exp(lasting)
    left = low if corner.worst else high
    return more * resistance * (1 - (resistance / both) * left)


def voltage(source: Source, used: Fraction, draw: Draw, peaks: bool = False) -> Band:
    """The voltage of the rail, for people: to about a microvolt, rounded outward; nought where it collapses.

    It is found by halving with `reaches`, so it is the same truth that all comparisons go by.
    """
    top = max(source.cells.at(used).open.hi, source.regulator.makes.hi if source.regulator is not None else volts(0))

    def find(corner: Corner, outward: bool) -> Amount:
        low, high = Fraction(0), exact(top, "V") + 1
        if not reaches(source, used, draw, volts(_FINEST), corner, peaks):
            return volts(0)
        while high - low > _FINEST:
            middle = (low + high) / 2
            if reaches(source, used, draw, volts(middle), corner, peaks):
                low = middle
            else:
                high = middle
        return volts(high if outward else low)

    return Band(find(WORST, False), find(BEST, True))


def lasts_until(left: Callable[[Fraction], Fraction], corners: tuple[Fraction, ...]) -> Fraction | None:
    """The largest share used up to which `left` isn't negative, where it turns so once at most; None if it never is.

    Between two neighbours of `corners` everything changes evenly. Where `left` is a straight line between them the answer is
    exact; else it is found by halving, rounded down to less than a ten-millionth.
    """
    if left(Fraction(0)) < 0:
        return None
    if left(Fraction(1)) >= 0:
        return Fraction(1)
    low = max(used for used in corners if left(used) >= 0)
    high = min(used for used in corners if used > low)
    first, last = left(low), left(high)
    straight = low + (high - low) * first / (first - last)
    if left(straight) == 0:
        return straight
    while high - low > _FINEST:
        middle = (low + high) / 2
        low, high = (middle, high) if left(middle) >= 0 else (low, middle)
    return low
