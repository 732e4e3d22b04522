"""The brown-out reset: whether a voltage resets the processor, in three values, since its level varies from part to part."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from nudgeproof.quantities import Amount, Band, volts
from nudgeproof.units import Span


class Reset(Enum):
    """Whether a dip resets: no specimen, some, or all."""

    NONE = "no reset"
    POSSIBLE = "possible reset"
    CERTAIN = "certain reset"


@dataclass(frozen=True)
class BrownOut:
    """`level`: where it lies, as the datasheet gives it, in the middle of the `hysteresis`: it resets half of that below and
    lets go half of that above. `responds`: how long the voltage must be below. `asleep`: whether it works in sleep.
    """

    level: Band
    hysteresis: Amount
    responds: Span
    asleep: bool = True

    @property
    def trips(self) -> Band:
        """Below this it resets (`VBOT-` of a datasheet)."""
        return Band(self.level.lo - self.hysteresis / 2, self.level.hi - self.hysteresis / 2)

    @property
    def lets_go(self) -> Band:
        """Above this it lets the processor start (`VBOT+`)."""
        return Band(self.level.lo + self.hysteresis / 2, self.level.hi + self.hysteresis / 2)


def judge(brown_out: BrownOut, voltage: Band, lasts_us: int | None = None) -> Reset:
    """What a dip to this voltage does; `lasts_us`: how long it lasts, None for longer than it takes to respond."""
    if lasts_us is not None and lasts_us < brown_out.responds.lo:
        return Reset.NONE
    if voltage.lo >= brown_out.trips.hi:
        return Reset.NONE
    if voltage.hi < brown_out.trips.lo and (lasts_us is None or lasts_us >= brown_out.responds.hi):
        return Reset.CERTAIN
    return Reset.POSSIBLE


def lawless(brown_out: BrownOut | None, works_from: Amount) -> Band | None:
    """The band in which nothing is guaranteed: the processor runs on below its legal voltage, and isn't reset there.

    None if every specimen is reset before.
    """
    trips = brown_out.trips.lo if brown_out is not None else volts(0)
    return Band(trips, works_from) if trips < works_from else None
