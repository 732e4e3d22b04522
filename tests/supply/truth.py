"""What a supply does, integrated numerically in floats, from the differential equation alone.

It shares nothing with the package under test: a specimen is a bundle of numbers drawn within the tolerances.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from hypothesis import strategies as st
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from nudgeproof.quantities import Band, amount, exact
from nudgeproof.supply.loads import Draw, Load
from nudgeproof.supply.rail import Regulator, Source

Pick = Callable[[Band, str], float]
Current = Callable[[float], float]


@dataclass(frozen=True)
class One:
    """One load of one specimen, in floats of volts, amperes, ohms, watts and seconds."""

    on: Current
    share: float
    peak: float
    lasts: float | None
    pulses: bool

    def mean(self, v: float) -> float:
        return self.share * self.on(v)

    def top(self, v: float) -> float:
        return max(self.peak, self.on(v))


@dataclass(frozen=True)
class Specimen:
    opened: float
    resistance: float
    capacity: float
    series: float
    leak: float
    loads: tuple[One, ...]
    kind: str
    makes: float
    takes: float
    drops: float
    works_from: float
    efficiency: float

    def at_cells(self, rail: Current) -> Current:
        """What flows out of the cells at a voltage there, `rail` being what flows out of the rail at its own voltage."""
        if self.kind == "none":
            return rail
        if self.kind == "linear":
            return lambda v: self.takes + rail(min(self.makes, v - self.drops))
        power = self.makes * rail(self.makes) / self.efficiency
        if self.kind == "buck-boost":
            return lambda v: self.takes + power / v
        return lambda v: self.takes + (rail(v - self.drops) if v - self.drops > self.makes else power / v)

    def rail(self, v: float) -> float:
        """The voltage of the rail at a voltage of the cells; a regulator that can't work makes nothing."""
        if self.kind == "none":
            return v
        if self.kind == "linear":
            return min(self.makes, v - self.drops) if v >= self.works_from else 0.0
        if self.kind == "boost" and v - self.drops > self.makes:
            return v - self.drops
        return self.makes if v >= self.works_from else 0.0

    def mean(self, v: float) -> float:
        return sum(load.mean(v) for load in self.loads)

    def top(self, v: float) -> float:
        return sum(load.top(v) for load in self.loads)

    def base(self, v: float) -> float:
        return sum(load.mean(v) for load in self.loads if not load.pulses)


def settle(opened: float, resistance: float, current: Current, least: float = 1e-4) -> float:
    """The largest v for which `opened - resistance * current(v) = v`; 0 if there is none above `least`."""
    if resistance == 0:
        return opened

    def left(v: float) -> float:
        return opened - resistance * current(v) - v

    if opened <= least:
        return 0.0
    steps = 4000
    high = opened
    for k in range(1, steps + 1):
        low = opened - (opened - least) * k / steps
        if left(low) >= 0:
            return float(brentq(left, low, high, xtol=1e-13)) if left(high) < 0 else high
        high = low
    return 0.0


def outside(charged: float, series: float, current: Current) -> float:
    """The voltage outside a capacitor charged to `charged`, by its own resistance lower."""
    if series == 0:
        return charged
    v = charged
    for _ in range(200):
        slope = 1 + series * (current(v + 1e-7) - current(v - 1e-7)) / 2e-7
        step = (v + series * current(v) - charged) / max(slope, 1e-3)
        v -= step
        if abs(step) < 1e-12:
            break
        if v <= 1e-3:
            return settle(charged, series, current)
    return v


def falls(specimen: Specimen, current: Current, begin: float, end: float) -> float:
    """Seconds from `begin` until the voltage outside is `end`, the cells being gone; infinite if it never is."""
    if specimen.capacity == 0 or outside(begin, specimen.series, current) <= end:
        return 0.0
    charge_end = end + specimen.series * current(end)
    if current(end) + specimen.leak <= 1e-15:
        return float("inf")

    # The charge is taken as the variable and the time integrated over it, so that no event has to be located.
    def slope(charged: float, _: object) -> list[float]:
        return [-specimen.capacity / (current(outside(charged, specimen.series, current)) + specimen.leak)]

    found = solve_ivp(slope, (begin, charge_end), [0.0], rtol=1e-10, atol=1e-14, method="LSODA", max_step=begin / 50)
    assert found.success
    return float(found.y[0, -1])


def during_pulse(specimen: Specimen, before: Current, during: Current, seconds: float) -> float:
    """The voltage of the cells at the end of a pulse that comes upon the steady state, a capacitor across them."""
    begin = settle(specimen.opened - specimen.resistance * specimen.leak, specimen.resistance, before)
    r, big = specimen.series, specimen.resistance

    def at(charged: float) -> float:
        # Kirchhoff at the node: (E - v)/R + (Vc - v)/r = I(v) + leak, the leak being outside the resistance in series.
        if r == 0:
            return charged
        both = big * r / (big + r)
        return outside((specimen.opened * r + charged * big) / (big + r) - both * specimen.leak, both, during)

    def slope(charged: float) -> float:
        v = at(charged)
        return ((specimen.opened - v) / big - during(v) - specimen.leak) / specimen.capacity if v > 0 else 0.0

    charged, steps = begin, max(100, int(4 * seconds / (specimen.capacity * (big + r))))
    step = seconds / steps
    for _ in range(steps):
        one = slope(charged)
        two = slope(charged + step / 2 * one)
        three = slope(charged + step / 2 * two)
        four = slope(charged + step * three)
        charged += step / 6 * (one + 2 * two + 2 * three + four)
    return at(charged)


def specimen(source: Source, used: object, draw: Draw, pick: Pick) -> Specimen:
    """One specimen, each value of which `pick` chooses within its band."""
    level = source.cells.at(used)  # type: ignore[arg-type]
    capacitor, regulator = source.capacitor, source.regulator
    none = 0.0
    return Specimen(
        pick(level.open, "V"),
        pick(level.resistance, "ohm"),
        pick(capacitor.size, "F") if capacitor else none,
        pick(capacitor.resistance, "ohm") if capacitor else none,
        pick(capacitor.leaks, "A") if capacitor else none,
        tuple(_one(load, pick) for load in draw),
        *(_regulated(regulator, pick) if regulator else ("none", none, none, none, none, 1.0)),
    )


def _regulated(regulator: Regulator, pick: Pick) -> tuple[str, float, float, float, float, float]:
    low, high = regulator.efficiency
    efficiency = Band(amount(low, "V"), amount(high, "V"))
    return (
        regulator.kind,
        pick(regulator.makes, "V"),
        pick(regulator.takes, "A"),
        pick(regulator.drops, "V"),
        float(exact(regulator.works_from, "V")),
        pick(efficiency, "V"),
    )


def _one(load: Load, pick: Pick) -> One:
    peak = pick(load.peak, "A") if load.peak is not None else 0.0
    lasts = float(exact(load.pulse, "s")) if load.pulse is not None else None
    pulses = load.peak is not None or load.share < 1
    return One(_on(load, pick), float(load.share), peak, lasts, pulses)


def _on(load: Load, pick: Pick) -> Current:
    if load.current is not None:
        current = pick(load.current, "A")
        return lambda v: current
    if load.power is not None:
        power = pick(load.power, "W")
        return lambda v: power / v
    assert load.resistor is not None
    resistor = pick(load.resistor, "ohm")
    forward = pick(load.forward, "V") if load.forward is not None else 0.0
    return lambda v: max(0.0, v - forward) / resistor


def picks() -> st.SearchStrategy[Pick]:
    """Ways to choose within a band: an end or something between, anew for each band."""
    parts = st.lists(st.sampled_from((0.0, 0.3, 0.5, 1.0)), min_size=16, max_size=16)

    def by(shares: list[float]) -> Pick:
        left = list(shares)

        def pick(band: Band, unit: str) -> float:
            share = left.pop() if left else 0.5
            low, high = float(exact(band.lo, unit)), float(exact(band.hi, unit))
            return low + (high - low) * share

        return pick

    return parts.map(by)


def middle(band: Band, unit: str) -> float:
    """The way to choose where there is no tolerance."""
    return (float(exact(band.lo, unit)) + float(exact(band.hi, unit))) / 2
