"""From the cells to the rail: whether its voltage stays above a level, and how far the cells may be used until it doesn't.

`E - R I(V) = V` holds at the cells, and where a load draws a power there are two solutions. The upper one counts, since the
cells come from above. The left side less the right one has a single summit, so the upper solution is at T or above just if
what is left over isn't below nought at T, or somewhere above: no equation is solved, and in fractions the answer is exact.
A switching regulator draws a power from its input, so there T is the least voltage at which it works.

What a tolerance, a pulse of unknown length or a regulator out of its range leaves open is taken against the worst corner,
and for the best one: what the worst reaches is reached by all specimens, what the best doesn't reach is reached by none.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from typing import Final

from nudgeproof.quantities import Amount, Band, exact, volts
from nudgeproof.supply.bounds import exp
from nudgeproof.supply.cells import Cells
from nudgeproof.supply.flow import ZERO, Ends, Flow, ends, left_over, together
from nudgeproof.supply.loads import Draw, mean_of, top_of

LINEAR, BOOST, BUCK_BOOST = KINDS = ("linear", "boost", "buck-boost")

_FINEST: Final = Fraction(1, 2**24)


@dataclass(frozen=True)
class Regulator:
    """`makes`: the voltage of the rail; `drops`: what a linear one needs on top, or a boost one loses when it hands the
    cells through; `efficiency`: of a switching one, a share, the worse first.

    `takes`: its own current. `works_from`: the least voltage at its input.
    """

    kind: str
    makes: Band
    takes: Band
    drops: Band
    works_from: Amount
    efficiency: Ends = (Fraction(1), Fraction(1))

    @property
    def switches(self) -> bool:
        """Whether it draws a power rather than a current."""
        return self.kind in (BOOST, BUCK_BOOST)

    @cached_property
    def numbers(self) -> tuple[Ends, Ends, Ends, Fraction]:
        """What it makes, takes, drops and works from, in volts and amperes."""
        return ends(self.makes, "V"), ends(self.takes, "A"), ends(self.drops, "V"), exact(self.works_from, "V")

    def power(self, flow: Flow, worst: bool) -> Flow:
        """What it draws at its input to feed this current, if it switches."""
        # A resistor and a current take more power at the higher voltage, and a power takes the same.
        makes = self.numbers[0][worst]
        return Flow(powers=((makes * flow.at(makes) / self.efficiency[not worst], None),))


@dataclass(frozen=True)
class Capacitor:
    """Across the cells, before a regulator. `resistance`: in series (ESR), ohms. `leaks`: amperes."""

    size: Band
    resistance: Band
    leaks: Band

    @cached_property
    def numbers(self) -> tuple[Ends, Ends, Ends]:
        """The same in farads, ohms and amperes."""
        return ends(self.size, "F"), ends(self.resistance, "ohm"), ends(self.leaks, "A")


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

    Where a regulator can't make `level` at all it is minus one. Peaks that a capacitor smooths are bounded, from the side of
    the corner; all else is exact.
    """
    return _margin(source, used, draw, exact(level, "V"), corner.worst, peaks)


def dip(source: Source, used: Fraction, draw: Draw, at: Amount, corner: Corner) -> Amount:
    """How far the peaks pull the voltage of the cells below its mean, volts: all the way, or what a capacitor leaves.

    A step of the current dI for a time t gives `dI R (1 - R/(R+r) exp(-t / ((R+r) C)))`, r being the capacitor's own
    resistance. In the worst corner the pulse comes on top of the mean current, in the best one the load drew nothing
    before, and of several pulses the shortest counts. `at`: the least voltage of the rail that is thought of.
    """
    regulator, worst = source.regulator, corner.worst
    if regulator is None or not regulator.switches:
        shift = regulator.numbers[2][worst] if regulator is not None else ZERO
        return volts(_Circuit(source, used, worst, _each(draw, worst), shift).dip(exact(at, "V")))
    circuit = _Circuit(source, used, worst, _one_power(regulator, draw, worst))
    return volts(circuit.dip(regulator.numbers[3]))


def _margin(source: Source, used: Fraction, draw: Draw, level: Fraction, worst: bool, peaks: bool) -> Fraction:
    regulator = source.regulator
    if regulator is None:
        return _Circuit(source, used, worst, _each(draw, worst)).left(level, peaks)
    makes, _, drops, works_from = regulator.numbers
    if level > makes[not worst] and regulator.kind != BOOST:
        return Fraction(-1)
    if regulator.kind == BUCK_BOOST:
        return _Circuit(source, used, worst, _one_power(regulator, draw, worst)).left(works_from, peaks)
    circuit = _Circuit(source, used, worst, _each(draw, worst), drops[worst], makes)
    if regulator.kind == LINEAR:
        left = circuit.left(level, peaks)
        # Nobody knows what it does below the least voltage at its input, so the best specimen just goes on.
        return min(left, circuit.left_at_input(level, works_from, drops, peaks)) if worst else left
    return _margin_of_boost(source, used, draw, level, worst, peaks)


def _margin_of_boost(source: Source, used: Fraction, draw: Draw, level: Fraction, worst: bool, peaks: bool) -> Fraction:
    """Above what it makes a boost regulator hands the cells through. Where it can't work it may do so too, or not."""
    regulator = source.regulator
    assert regulator is not None
    makes, _, drops, works_from = regulator.numbers
    through = _Circuit(source, used, worst, _each(draw, worst), drops[worst])
    boosted = _Circuit(source, used, worst, _one_power(regulator, draw, worst)).left(works_from, peaks)
    if not worst:
        handed = through.left(level, peaks)
        return max(handed, boosted) if level <= makes[1] else handed
    least = works_from - drops[0]
    held = max(boosted, through.left(max(makes[1], least), peaks))
    if level <= makes[0]:
        return held
    handed = through.left(max(level, least), peaks)
    return min(handed, held) if level <= makes[1] else handed


@dataclass(frozen=True)
class _Drawn:
    """One load as the cells see it, of the specimen that counts: its mean and its largest current."""

    mean: Flow
    top: Flow
    pulses: bool
    lasts: Fraction | None


def _each(draw: Draw, worst: bool) -> tuple[_Drawn, ...]:
    return tuple(_Drawn(load.mean[worst], load.top[worst], load.pulses, load.lasts) for load in draw)


def _one_power(regulator: Regulator, draw: Draw, worst: bool) -> tuple[_Drawn, ...]:
    """All that a switching regulator feeds."""
    mean, top = regulator.power(mean_of(draw)[worst], worst), regulator.power(top_of(draw)[worst], worst)
    return (_Drawn(mean, top, any(load.pulses for load in draw), _pulse(draw, worst)),)


def _pulse(draw: Draw | tuple[_Drawn, ...], worst: bool) -> Fraction | None:
    """How long the pulses last that count: the longest for the worst, the shortest for the best; None if nobody knows."""
    lengths = [load.lasts for load in draw if load.pulses]
    known = [length for length in lengths if length is not None]
    return None if len(known) < len(lengths) else (max if worst else min)(known, default=ZERO)


class _Circuit:
    """Cells, a capacitor and what is drawn behind a fixed drop, for one corner.

    `shift`: what the rail lies below the cells. `makes`: where a regulator holds it.
    """

    def __init__(
        self,
        source: Source,
        used: Fraction,
        worst: bool,
        drawn: tuple[_Drawn, ...],
        shift: Fraction = ZERO,
        makes: Ends | None = None,
    ) -> None:
        self.worst, self.drawn, self.makes = worst, drawn, makes
        self.capacitor = source.capacitor
        opened, resistance = source.cells.ends(used)
        self.resistance = resistance[worst]
        own = source.capacitor.numbers[2][worst] if source.capacitor is not None else ZERO
        if source.regulator is not None:
            own += source.regulator.numbers[1][worst]
        self.opened = opened[not worst] - self.resistance * own - shift
        self.mean = together(load.mean for load in drawn)

    def left(self, level: Fraction, peaks: bool) -> Fraction:
        """What is left over where the rail is at `level` or above."""
        highest = self.makes[not self.worst] if self.makes is not None else None
        steady = left_over(self.opened, self.resistance, self.mean, level, highest)
        if not peaks or not any(load.pulses for load in self.drawn):
            return steady
        top = together(load.top for load in self.drawn)
        bare = left_over(self.opened, self.resistance, top, level, highest)
        if self.capacitor is None or (self.worst and level <= 0):
            return bare
        pulled = self.dip(level)
        if not self.worst:
            mean = sum((self._least(load.mean, level) for load in self.drawn), ZERO)
            return min(steady, self.opened - self.resistance * mean - pulled - level)
        wanted = level + pulled
        return max(bare, self.opened - self.resistance * self._most_at(wanted) - wanted)

    def left_at_input(self, level: Fraction, works_from: Fraction, drops: Ends, peaks: bool) -> Fraction:
        """The same for the input of a linear regulator, for the worst: it must be at `works_from` or above."""
        assert self.makes is not None
        # Anything between these may be the rail, whichever the drop; a power draws most at the one, the rest at the other.
        low = max(level, min(self.makes[0], works_from - drops[1]))
        high = max(level, min(self.makes[1], works_from - drops[0]))
        opened = self.opened + drops[1] - works_from
        top = together(load.top for load in self.drawn)
        flow = top if peaks else self.mean
        bare = opened - self.resistance * (flow.rising(high) + flow.falling(low))
        if not peaks or self.capacitor is None:
            return bare
        held = self.mean.rising(self.makes[1]) + self.mean.falling(low)
        return max(bare, opened - self.resistance * held - self.dip(level))

    def dip(self, level: Fraction) -> Fraction:
        """How far the peaks pull below the mean, at the rail `level` or above: at most for the worst, else at least."""
        kept = self._kept()
        if self.worst:
            highest = max(level, self.opened - self.resistance * self.mean.rising(level))
            if self.makes is not None:
                highest = max(level, min(highest, self.makes[1]))
            more = sum((_more(load, level, highest) for load in self.drawn), ZERO)
            return self.resistance * kept * more
        pulsing = [load for load in self.drawn if load.pulses]
        mean = sum((self._least(load.mean, level) for load in pulsing), ZERO)
        top = sum((self._least(load.top, level) for load in pulsing), ZERO)
        return self.resistance * max(ZERO, kept * top - mean)

    def _least(self, flow: Flow, level: Fraction) -> Fraction:
        """The least current at the rail `level` or above, or less."""
        highest = max(level, self.opened) if self.makes is None else max(level, self.makes[1])
        return flow.rising(level) + (flow.falling(highest) if highest > 0 else ZERO)

    def _most_at(self, wanted: Fraction) -> Fraction:
        """The mean current where the cells would give the rail `wanted`; a regulator holds it lower."""
        if self.makes is None:
            return self.mean.at(wanted)
        return max(self.mean.at(min(wanted, makes)) for makes in self.makes)

    def _kept(self) -> Fraction:
        """The share of a step of the current, times the cells' resistance, that is seen at the end of a pulse."""
        pulse = _pulse(self.drawn, self.worst)
        if self.capacitor is None or self.resistance == 0:
            return Fraction(1)
        size, series, _ = self.capacitor.numbers
        if pulse is None:
            return Fraction(1) if self.worst else series[0] / (self.resistance + series[0])
        farads = size[not self.worst]
        if farads == 0:
            return Fraction(1)
        # More resistance in series makes a short pulse worse and a long one better; in between there is only a valley.
        several = series if self.worst else (min(max(series[0], pulse / farads - self.resistance), series[1]),)
        shares = []
        for one in several:
            both = self.resistance + one
            low, high = exp(-pulse / (both * farads))
            shares.append(1 - self.resistance / both * (low if self.worst else high))
        return max(shares)


def _more(load: _Drawn, level: Fraction, highest: Fraction) -> Fraction:
    """By how much a load can draw more than its mean while the rail falls from somewhere to `level`."""
    if load.mean.powers:
        return load.top.at(level) - load.mean.at(highest)
    if not load.pulses:
        return ZERO
    return max(load.top.at(v) - load.mean.at(v) for v in (level, highest))


def voltage(source: Source, used: Fraction, draw: Draw, peaks: bool = False) -> Band:
    """The voltage of the rail, for people: to about a microvolt, rounded outward; nought where it collapses.

    It is looked for with the margin, so it is the same truth that all comparisons go by.
    """
    top = source.cells.ends(used)[0][1]
    if source.regulator is not None:
        top = max(top, source.regulator.numbers[0][1])

    def find(worst: bool) -> Amount:
        def left(units: int) -> Fraction:
            return _margin(source, used, draw, _FINEST * units, worst, peaks)

        return volts(_FINEST * _turn(left, 1, (int(top) + 1) * _FINEST.denominator, up=not worst))

    return Band(find(True), find(False))


def _turn(left: Callable[[int], Fraction], low: int, high: int, up: bool) -> int:
    """The last whole number at which `left` isn't negative, or with `up` the first at which it is; 0 if it is at `low`
    already.

    `left` turns once; where it is nearly straight a straight line through its ends leads there in a few steps, and in turns
    with halving it is never much slower than that.
    """
    first, last = left(low), left(high)
    if first < 0:
        return 0
    halve = False
    while high - low > 1:
        guess = (low + high) // 2 if halve or last >= 0 else low + int((high - low) * first / (first - last))
        halve = not halve
        for at in (min(max(guess, low + 1), high - 1), guess + 1):
            if low < at < high:
                value = left(at)
                if value >= 0:
                    low, first = at, value
                else:
                    high, last = at, value
    return high if up else low


def lasts_until(left: Callable[[Fraction], Fraction], corners: tuple[Fraction, ...]) -> Fraction | None:
    """The largest share used up to which `left` is never negative; None if it is so from the first.

    Between two neighbours of `corners`, where everything changes evenly, it may turn once. Where it is a straight line there
    the answer is exact; else it is found by halving, rounded down to less than a ten-millionth.
    """
    if left(ZERO) < 0:
        return None
    high = next((used for used in corners if left(used) < 0), None)
    if high is None:
        return Fraction(1)
    low = max((used for used in corners if used < high), default=ZERO)
    first, last = left(low), left(high)
    straight = low + (high - low) * first / (first - last)
    if left(straight) == 0:
        return straight
    while high - low > _FINEST:
        middle = (low + high) / 2
        low, high = (middle, high) if left(middle) >= 0 else (low, middle)
    return low
