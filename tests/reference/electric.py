"""The electricity of one specimen, in plain floats, from the physics alone.

Cells are a voltage E behind a resistance R, both in between what is stated for two shares used. They feed one node, at which
the loads draw I(V); a capacitor there makes `C dV/dt = (E - V) / R - I(V)`, without the first part while the cells are
gone. Each tolerance is drawn once for the specimen. Nothing of the tool's arithmetic is used.

Below the level less half the hysteresis for as long as the reset takes to respond, everything is reset; the processor starts
once the voltage is above the level and half the hysteresis.

What the model of the tool allows, and isn't so here: with a capacitor a reset may come at any time from when such a load is
on; the voltage recovers at once (here the recovery is a part of the start, and a run in which it takes longer than
that raises `Unlike`); after a loss of contact the capacitor is full again at once, and before one it is as full as the loads
of that moment leave it (here it takes its time: the scripts leave it some, and a run in which that isn't enough raises
`Unlike`). So with that time left what happens here
is one of the runs of the model, and never the other way round.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass
from itertools import pairwise
from random import Random

from nudgeproof.quantities import Amount, Band, exact
from nudgeproof.spec.electrical import Drain
from nudgeproof.spec.types import Device

Pick = Callable[[str, float, float], float]
"""What is drawn, least and most: what it is on this specimen."""

_STILL = 1e-9
_FINE = 0.002
_FULL_V = 0.02
_LONGEST_S = 1e6


class Unlike(Exception):
    """A run that the tool's model leaves out by what it says of itself; the message says why."""


def picker(seed: str, at_ends: float = 0.6) -> Pick:
    """One value for each name, often at an end."""
    known: dict[str, float] = {}

    def pick(name: str, low: float, high: float) -> float:
        if name not in known:
            rng = Random(f"{seed}/{name}")
            known[name] = rng.choice((0.0, 1.0)) if rng.random() < at_ends else rng.random()
        return low + (high - low) * known[name]

    return pick


@dataclass(frozen=True)
class One:
    """One load of a specimen: amperes, ohms, volts, watts. `peak`: the current in its pulses, None if it has none."""

    drain: Drain
    current: float
    siemens: float
    forward: float
    watts: float
    share: float
    peak: float | None

    def draws(self, v: float, in_pulse: bool) -> float:
        """What it draws at a voltage; outside of pulses what it draws in the pause."""
        steady = self.current + self.siemens * max(0.0, v - self.forward) + (self.watts / v if self.watts else 0.0)
        if in_pulse:
            return max(self.peak, steady) if self.peak is not None else steady
        return steady if self.share == 1 else 0.0

    @property
    def pulses(self) -> bool:
        return self.peak is not None or self.share < 1


class Specimen:
    """All numbers of one specimen with its cells used up so far; `used` from 0 to 1."""

    def __init__(self, device: Device, used: float, pick: Pick) -> None:
        electricity = device.electricity
        assert electricity is not None
        source = electricity.source

        def of(name: str, band: Band, unit: str) -> float:
            return pick(name, _number(band.lo, unit), _number(band.hi, unit))

        levels = sorted(source.cells.levels, key=lambda level: level.used)
        self.opened = _between(used, [(float(one.used), of("open", one.open, "V")) for one in levels])
        ohms = [(float(one.used), of("cells", one.resistance, "ohm")) for one in levels]
        self.resistance = _between(used, ohms)
        self.farads = self.leak = 0.0
        if source.capacitor is not None:
            self.farads = of("capacitor", source.capacitor.size, "F")
            self.leak = of("leak", source.capacitor.leaks, "A")
        self.trips = self.lets_go = self.lost_below = -1.0
        self.responds, self.works_asleep = 0.0, True
        if electricity.reset is not None:
            rules = electricity.reset.rules
            half = _number(rules.hysteresis, "V") / 2
            level = of("level", rules.level, "V")
            self.trips, self.lets_go = level - half, level + half
            self.responds = pick("responds", float(rules.responds.lo), float(rules.responds.hi))
            self.works_asleep = rules.asleep
            # Where it doesn't work, nobody knows how low the voltage may fall before all is lost.
            self.lost_below = pick("lost below", 0.1, level - half)
        self.loads = tuple(self._one(drain, of) for drain in device.loads)

    @staticmethod
    def _one(drain: Drain, of: Callable[[str, Band, str], float]) -> One:
        load, name = drain.load, drain.load.name
        return One(
            drain,
            of(f"{name} draws", load.current, "A") if load.current is not None else 0.0,
            1 / of(f"{name} resistor", load.resistor, "ohm") if load.resistor is not None else 0.0,
            of(f"{name} led", load.forward, "V") if load.forward is not None else 0.0,
            of(f"{name} power", load.power, "W") if load.power is not None else 0.0,
            float(load.share),
            of(f"{name} peak", load.peak, "A") if load.peak is not None else None,
        )

    def current(self, v: float, on: Iterable[int], peaks: bool = False) -> float:
        """What the loads with these numbers draw together, and the capacitor by itself."""
        return self.leak + sum(self.loads[i].draws(v, peaks or not self.loads[i].pulses) for i in on)

    def steady(self, on: Iterable[int], peaks: bool = False) -> float:
        """The voltage of the node with the cells there and these loads on for long; 0 where it breaks down."""
        on = tuple(on)
        if self.resistance == 0:
            return self.opened

        def left(v: float) -> float:
            return self.opened - self.resistance * self.current(v, on, peaks) - v

        # From above: the first voltage at which something is left over. It is convex, so halving finds it from there.
        high, steps = self.opened, 600
        for k in range(1, steps + 1):
            low = self.opened * (1 - k / steps) + 1e-6
            if left(low) >= 0:
                while high - low > 1e-12:
                    middle = (low + high) / 2
                    low, high = (middle, high) if left(middle) >= 0 else (low, middle)
                return low
            high = low
        return 0.0

    def slope(self, v: float, on: tuple[int, ...], is_fed: bool) -> float:
        """Volts in a second, with a capacitor."""
        v = max(v, 1e-3)
        fed = (self.opened - v) / self.resistance if is_fed else 0.0
        return (fed - self.current(v, on)) / self.farads

    def after(
        self, v: float, seconds: float, on: tuple[int, ...], is_fed: bool, until: float | None = None
    ) -> tuple[float, float | None]:
        """The voltage so much later, and after how many seconds it passes `until` (None if it doesn't).

        Small steps of the fourth order, each changing the voltage little. It ends where the voltage passes `until`.
        """
        time, wanted = 0.0, seconds
        side = None if until is None else v >= until
        while time < wanted:
            rate = self.slope(v, on, is_fed)
            if abs(rate) < 1e-12:
                break
            step = min(wanted - time, _FINE / abs(rate))
            if is_fed:
                step = min(step, 0.2 * self.resistance * self.farads)
            k2 = self.slope(v + step * rate / 2, on, is_fed)
            k3 = self.slope(v + step * k2 / 2, on, is_fed)
            k4 = self.slope(v + step * k3, on, is_fed)
            later = max(0.0, v + step * (rate + 2 * k2 + 2 * k3 + k4) / 6)
            if until is not None and (later >= until) != side:
                return until, time + step * (until - v) / (later - v)
            if abs(later - v) < _STILL and is_fed:
                return later, None
            v, time = later, time + step
            if v <= 0.0:
                break
        return v, None


def _number(quantity: Amount, unit: str) -> float:
    return float(exact(quantity, unit))


def _between(used: float, points: list[tuple[float, float]]) -> float:
    for (start, before), (end, after) in pairwise(points):
        if used <= end:
            return before + (after - before) * (used - start) / (end - start)
    return points[-1][1]


def is_on(
    drain: Drain, phase: str, state: str, values: Mapping[str, str], pressed: Collection[str] = (), writes: bool = False
) -> bool:
    """Whether a load draws. `phase`: running, asleep, starting, or another word while the processor is held in reset."""
    if phase not in ("running", "asleep") and (drain.states or drain.allowed):
        return False
    if drain.states and state not in drain.states:
        return False
    if any(values[name] not in allowed for name, allowed in drain.allowed):
        return False
    if drain.when == "pressed":
        return drain.button in pressed
    return writes if drain.when == "writing" else drain.when in ("always", phase)


RESETS, LETS_GO = "resets", "lets go"


class Node:
    """The voltage at the node through time, which is in microseconds. `comes`: what comes next, if nothing changes."""

    def __init__(self, specimen: Specimen) -> None:
        self.specimen = specimen
        self.at = 0.0
        self.v = math.nan
        self.on: tuple[int, ...] = ()
        self.is_fed = self.watches = True
        self.in_reset = False
        self.below: float | None = None  # since when
        self.comes: tuple[int, str] | None = None

    @property
    def limit(self) -> float:
        """Below this everything is reset."""
        return self.specimen.trips if self.watches else self.specimen.lost_below

    def draws(self, now: int, on: tuple[int, ...], is_fed: bool, watches: bool) -> None:
        """From now on these loads draw, the cells are there or not, and the reset works or doesn't."""
        if math.isnan(self.v):
            self.v = self.specimen.steady(on)
        elif (on, is_fed, watches) == (self.on, self.is_fed, self.watches) and not self._is_new:
            return
        else:
            self._go_to(float(now))
        if self.is_fed and not is_fed and self.specimen.farads and self.specimen.steady(self.on) - self.v > _FULL_V:
            raise Unlike("the cell goes while the capacitor is still filling after a heavier load")
        self.on, self.is_fed, self.watches, self._is_new = on, is_fed, watches, False
        if not self.specimen.farads:
            self.v = self.specimen.steady(on) if is_fed else 0.0
        self._look()

    _is_new = True

    def holds_in_reset(self, now: int, is_in_reset: bool) -> None:
        """The processor is held in reset from now on, or let go."""
        self._go_to(float(now))
        self.in_reset, self.below, self.comes, self._is_new = is_in_reset, None, None, True

    def _go_to(self, now: float) -> None:
        specimen = self.specimen
        seconds = (now - self.at) / 1e6
        if specimen.farads and seconds > 0:
            passed = None
            if not self.in_reset and self.below is None and self.v >= self.limit:
                passed = specimen.after(self.v, seconds, self.on, self.is_fed, self.limit)[1]
            self.below = self.below if passed is None else self.at + passed * 1e6
            self.v = specimen.after(self.v, seconds, self.on, self.is_fed)[0]
        self.at = now

    def _look(self) -> None:
        specimen = self.specimen
        self.comes = None
        if self.in_reset:
            passes = 0.0 if self.v > specimen.lets_go else self._passes(specimen.lets_go)
            self.comes = None if passes is None else (math.ceil(self.at + passes), LETS_GO)
            return
        if specimen.trips < 0:
            return
        if self.v >= self.limit:
            self.below = None
            passes = self._passes(self.limit)
            if passes is not None:  # what falls so far goes on falling
                self.comes = math.ceil(self.at + passes + specimen.responds), RESETS
            return
        self.below = self.at if self.below is None else self.below
        ends = max(self.at, self.below + specimen.responds)
        if self._is_below(ends):
            self.comes = math.ceil(ends), RESETS

    def _passes(self, target: float) -> float | None:
        """In how many microseconds the voltage passes the target, if it does."""
        specimen = self.specimen
        if not specimen.farads:
            return None
        if self.is_fed and (specimen.steady(self.on) >= target) == (self.v >= target):
            return None
        passed = specimen.after(self.v, _LONGEST_S, self.on, self.is_fed, target)[1]
        return None if passed is None else passed * 1e6

    def _is_below(self, then: float) -> bool:
        if not self.specimen.farads:
            return True
        return self.specimen.after(self.v, (then - self.at) / 1e6, self.on, self.is_fed)[0] < self.limit
