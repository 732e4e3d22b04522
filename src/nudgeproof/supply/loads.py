"""Loads: what draws current from the rail, as a function of its voltage.

A load is a current, a resistor, an LED behind its resistor, or a power. What several draw together is the sum.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

from nudgeproof.quantities import Amount, Band, amperes, exact, seconds, volts
from nudgeproof.supply.flow import ZERO, Ends, Flow, ends, together


@dataclass(frozen=True)
class Load:
    """One of `current`, `resistor` and `power` is stated; `forward` makes the resistor one before an LED.

    `share`: how much of the time its pulses take (PWM), 1 for none. `peak`: the largest current, None if it is no more
    than the current itself, or what flows while a pulse is on. `pulse`: how long a peak lasts, None if that isn't stated:
    then no capacitor is taken to smooth it. `needs`: the least voltage at which it does what it is for.
    """

    name: str
    current: Band | None = None
    resistor: Band | None = None
    forward: Band | None = None
    power: Band | None = None
    share: Fraction = Fraction(1)
    peak: Band | None = None
    pulse: Amount | None = None
    needs: Band | None = None

    @property
    def pulses(self) -> bool:
        """Whether its current is now more, now less than its mean."""
        return self.peak is not None or self.share < 1

    @cached_property
    def on(self) -> tuple[Flow, Flow]:
        """The current while no pulse pauses, of the specimen that draws least and of the one that draws most."""
        if self.current is not None:
            low, high = ends(self.current, "A")
            return Flow(low), Flow(high)
        if self.power is not None:
            low, high = ends(self.power, "W")
            return Flow(powers=((low, None),)), Flow(powers=((high, None),))
        assert self.resistor is not None
        low, high = ends(self.resistor, "ohm")
        first, last = ends(self.forward, "V") if self.forward is not None else (ZERO, ZERO)
        return Flow(ramps=((1 / high, last),)), Flow(ramps=((1 / low, first),))

    @cached_property
    def mean(self) -> tuple[Flow, Flow]:
        """The mean current, likewise."""
        return self.on[0] * self.share, self.on[1] * self.share

    @cached_property
    def top(self) -> tuple[Flow, Flow]:
        """The largest current, likewise."""
        if self.peak is None:
            return self.on
        low, high = ends(self.peak, "A")
        return self.on[0].at_least(low), self.on[1].at_least(high)

    @cached_property
    def lasts(self) -> Fraction | None:
        """Seconds that a pulse lasts, None if that isn't stated."""
        return None if self.pulse is None else exact(self.pulse, "s")

    def while_on(self, rail: Amount) -> Band:
        """The current at a voltage of the rail while no pulse pauses."""
        return _band(_at(self.on, rail))

    def average(self, rail: Amount) -> Band:
        """The mean current at a voltage of the rail."""
        return _band(_at(self.mean, rail))

    def surge(self, rail: Amount) -> Band:
        """By how much its largest current is above its mean one, of the specimens at the two ends of its tolerance; nought
        for a steady load."""
        return _band(_above(_at(self.top, rail), _at(self.mean, rail)))

    @property
    def threshold(self) -> Band | None:
        """The voltage of the rail below which it does nothing: what it needs, or an LED's forward voltage."""
        return self.needs if self.needs is not None else self.forward


Draw = tuple[Load, ...]
"""The loads that are on together."""


def total(draw: Draw, rail: Amount) -> Band:
    """The mean current of all of them, amperes."""
    return _band(_at(mean_of(draw), rail))


def surge(draw: Draw, rail: Amount) -> Band:
    """How much more than the mean flows when all peaks come together, amperes."""
    return _band(_above(_at(top_of(draw), rail), _at(mean_of(draw), rail)))


def mean_of(draw: Draw) -> tuple[Flow, Flow]:
    """The mean currents together, of the specimens that draw least and most."""
    return together(load.mean[0] for load in draw), together(load.mean[1] for load in draw)


def top_of(draw: Draw) -> tuple[Flow, Flow]:
    """The largest currents together, likewise."""
    return together(load.top[0] for load in draw), together(load.top[1] for load in draw)


def longest_pulse(draw: Draw) -> Amount | None:
    """How long the longest peak lasts; None if that of one isn't stated."""
    pulses = [load.pulse for load in draw if load.pulses]
    return None if None in pulses else max((pulse for pulse in pulses if pulse is not None), default=seconds(0))


def kinks(draw: Draw) -> tuple[Amount, ...]:
    """The voltages of the rail at which a load begins to draw, in rising order."""
    leds = [load.forward for load in draw if load.forward is not None]
    return tuple(volts(one) for one in sorted({exact(end, "V") for led in leds for end in (led.lo, led.hi)}))


def _at(flows: tuple[Flow, Flow], rail: Amount) -> Ends:
    v = exact(rail, "V")
    return flows[0].at(v), flows[1].at(v)


def _above(more: Ends, less: Ends) -> Ends:
    return more[0] - less[0], more[1] - less[1]


def _band(found: Ends) -> Band:
    return Band(amperes(found[0]), amperes(found[1]))
