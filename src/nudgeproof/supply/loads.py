"""Loads: what draws current from the rail, as a function of its voltage.

A load is a current, a resistor, an LED behind its resistor, or a power. What several draw together is the sum.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from nudgeproof.quantities import Amount, Band, amperes, exact, seconds, volts


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

    def while_on(self, rail: Amount) -> Band:
        """The current at a voltage of the rail while no pulse pauses."""
        if self.current is not None:
            return self.current
        if self.power is not None:
            return Band(self.power.lo / rail, self.power.hi / rail)
        assert self.resistor is not None
        none = amperes(0)
        if self.forward is None:
            return Band(rail / self.resistor.hi, rail / self.resistor.lo)
        low, high = rail - self.forward.hi, rail - self.forward.lo
        return Band(
            low / self.resistor.hi if low.magnitude > 0 else none,
            high / self.resistor.lo if high.magnitude > 0 else none,
        )

    def average(self, rail: Amount) -> Band:
        """The mean current at a voltage of the rail."""
        on = self.while_on(rail)
        return Band(on.lo * self.share, on.hi * self.share)

    def surge(self, rail: Amount) -> Band:
        """By how much its largest current is above its mean one; nought for a steady load."""
        mean, on = self.average(rail), self.while_on(rail)
        top = on if self.peak is None else Band(max(self.peak.lo, on.lo), max(self.peak.hi, on.hi))
        return Band(top.lo - mean.lo, top.hi - mean.hi)

    @property
    def threshold(self) -> Band | None:
        """The voltage of the rail below which it does nothing: what it needs, or an LED's forward voltage."""
        return self.needs if self.needs is not None else self.forward


Draw = tuple[Load, ...]
"""The loads that are on together."""


def total(draw: Draw, rail: Amount) -> Band:
    """The mean current of all of them, amperes."""
    return _sum(load.average(rail) for load in draw)


def surge(draw: Draw, rail: Amount) -> Band:
    """How much more than the mean flows when all peaks come together, amperes."""
    return _sum(load.surge(rail) for load in draw)


def longest_pulse(draw: Draw) -> Amount | None:
    """How long the longest peak lasts; None if that of one isn't stated."""
    pulses = [load.pulse for load in draw if load.peak is not None or load.share < 1]
    return None if None in pulses else max((pulse for pulse in pulses if pulse is not None), default=seconds(0))


def kinks(draw: Draw) -> tuple[Amount, ...]:
    """The voltages of the rail at which a load begins to draw, in rising order."""
    leds = [load.forward for load in draw if load.forward is not None]
    return tuple(volts(one) for one in sorted({exact(end, "V") for led in leds for end in (led.lo, led.hi)}))


def _sum(bands: Iterable[Band]) -> Band:
    none = Band(amperes(0), amperes(0))
    return sum(bands, none)
