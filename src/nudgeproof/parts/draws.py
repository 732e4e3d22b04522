"""What draws current when: the loads of each configuration of a device, and what follows for its voltage.

A *configuration* is all that the current hangs on: the state, the values of the variables that loads ask about, and whether
the firmware runs, sleeps or starts. Loads that come and go within one (a button's pull resistor, a write) count where they
make things worse: `Drawn` holds the loads that surely draw, and all that may.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from itertools import product

from nudgeproof.quantities import Amount, Band
from nudgeproof.spec.electrical import ALWAYS, ASLEEP, PRESSED, RUNNING, STARTING, WRITING, Drain, Electricity
from nudgeproof.spec.types import Device
from nudgeproof.supply.hold_up import HoldUp, hold_up
from nudgeproof.supply.loads import Draw, total
from nudgeproof.supply.rail import Corner, lasts_until, margin, voltage
from nudgeproof.units import FOREVER, Span


@dataclass(frozen=True, slots=True)
class Config:
    """`phase`: `running`, `asleep` or `starting`; then `state` is "". `values`: of the variables that loads ask about."""

    phase: str
    state: str = ""
    values: tuple[tuple[str, str], ...] = ()

    def __str__(self) -> str:
        if self.phase == STARTING:
            return "starting"
        named = " and ".join(f"{name} {value}" for name, value in self.values)
        told = f"{self.state} with {named}" if named else self.state
        return f"{told}, asleep" if self.phase == ASLEEP else told


@dataclass(frozen=True, slots=True)
class Drawn:
    """The loads that surely draw, and all that may draw, in one configuration."""

    least: Draw
    most: Draw

    def at(self, corner: Corner) -> Draw:
        """Those that count for a specimen at this end of all tolerances."""
        return self.most if corner.worst else self.least

    def current(self, rail: Amount) -> Band:
        """The mean current at a voltage of the rail."""
        return Band(total(self.least, rail).lo, total(self.most, rail).hi)


def minded(device: Device) -> tuple[str, ...]:
    """The variables that loads ask about."""
    named = {name for drain in device.loads for name, _ in drain.allowed}
    return tuple(variable.name for variable in device.variables if variable.name in named)


def configs(device: Device) -> tuple[Config, ...]:
    """All configurations in which the device has power, in the order of the spec; the one while it starts comes first."""
    names = minded(device)
    found = [Config(STARTING)] if device.power_up is not None else []
    for state in device.states:
        if state.unpowered:
            continue
        for values in product(*(device.variable(name).values for name in names)):
            phases = (RUNNING, ASLEEP) if state.sleep is not None else (RUNNING,)
            found += [Config(phase, state.name, tuple(zip(names, values, strict=True))) for phase in phases]
    return tuple(found)


def drawn(device: Device, config: Config) -> Drawn:
    """The loads of a configuration."""
    sure = [drain for drain in device.loads if _is_on(drain, config) and drain.when in (ALWAYS, config.phase)]
    maybe = [drain for drain in device.loads if _is_on(drain, config) and _may_come(drain, device, config)]
    least = tuple(drain.load for drain in sure)
    return Drawn(least, (*least, *(drain.load for drain in maybe)))


def _is_on(drain: Drain, config: Config) -> bool:
    if config.phase == STARTING:
        return not drain.states and not drain.allowed
    values = dict(config.values)
    return (not drain.states or config.state in drain.states) and all(values[n] in v for n, v in drain.allowed)


def _may_come(drain: Drain, device: Device, config: Config) -> bool:
    if drain.when == PRESSED:
        return True
    return drain.when == WRITING and device.memory is not None and config.phase == RUNNING


def in_reset(device: Device) -> Drawn:
    """What draws while the processor is held in reset: the loads that always do."""
    loads = tuple(d.load for d in device.loads if d.when == ALWAYS and not d.states and not d.allowed)
    pulls = tuple(d.load for d in device.loads if d.when == PRESSED and not d.states and not d.allowed)
    return Drawn(loads, (*loads, *pulls))


def stays_above(device: Device, loads: Drawn, level: Amount, corner: Corner, peaks: bool = True) -> Fraction | None:
    """The share used up to which the rail stays at `level` or above with these loads, peaks and all; None if it never
    does.
    """
    electricity = _known(device)
    source = electricity.source

    def left(used: Fraction) -> Fraction:
        return margin(source, used, loads.at(corner), level, corner, peaks)

    return lasts_until(left, source.cells.corners)


def volts_in(device: Device, loads: Drawn, used: Fraction) -> Band:
    """The voltage of the rail between peaks, at a share used."""
    source = _known(device).source
    return Band(voltage(source, used, loads.most).lo, voltage(source, used, loads.least).hi)


def trips(device: Device, config: Config) -> Band | None:
    """Where the brown-out reset lies; None if there is none, or none in this configuration."""
    reset = _known(device).reset
    if reset is None or (config.phase == ASLEEP and not reset.rules.asleep):
        return None
    return reset.rules.trips


@lru_cache(maxsize=4096)
def survives(device: Device, config: Config) -> Span:
    """From loss of contact to reset in a configuration, over all specimens and from fresh cells to those that are
    changed.
    """
    electricity = _known(device)
    level = trips(device, config)
    loads = drawn(device, config)
    if level is None:
        level = electricity.reset.rules.trips if electricity.reset is not None else None
    assert level is not None
    responds = electricity.reset.rules.responds if electricity.reset is not None else Span(0, 0)
    shares = (Fraction(0), electricity.until)
    spans = [held(device, loads, used, level) for used in shares]
    low = min(span.lo for span in spans)
    high = max(span.hi for span in spans)
    return Span(
        int(low) + responds.lo if low != FOREVER else 0, high if high == FOREVER else int(high) + int(responds.hi)
    )


def held(device: Device, loads: Drawn, used: Fraction, until: Band) -> HoldUp:
    """How long a capacitor holds the rail above `until` with these loads."""
    source = _known(device).source
    return HoldUp(hold_up(source, used, loads.most, until).lo, hold_up(source, used, loads.least, until).hi)


def _known(device: Device) -> Electricity:
    assert device.electricity is not None
    return device.electricity
