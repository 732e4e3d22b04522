"""What draws current when: the loads of each configuration of a device, and what follows for its voltage.

A *configuration* is all that the current hangs on: the state, the values of the variables that loads ask about, and whether
the firmware runs, sleeps or starts. Loads that come and go within one (a button's pull resistor, a write) count where they
make things worse: `Drawn` holds the loads that surely draw, and all that may.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import wraps
from itertools import product
from typing import Concatenate, Final, ParamSpec, TypeVar, cast

from nudgeproof.quantities import Amount, Band, exact, volts
from nudgeproof.spec.electrical import ALWAYS, ASLEEP, PRESSED, RUNNING, STARTING, WRITING, Drain, Electricity
from nudgeproof.spec.types import Device
from nudgeproof.supply.hold_up import HoldUp, discharge, hold_up
from nudgeproof.supply.loads import Draw, total
from nudgeproof.supply.rail import BEST, Corner, lasts_until, margin, voltage
from nudgeproof.units import FOREVER, LONGEST_US, Bound, Span


@dataclass(frozen=True, slots=True)
class Config:
    """`phase`: `running`, `asleep` or `starting`; then `state` is "". `values`: of the variables that loads ask about."""

    phase: str
    state: str = ""
    values: tuple[tuple[str, str], ...] = ()

    def __str__(self) -> str:
        if not self.state:
            return self.phase
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


def minded(device: Device, state: str = "") -> tuple[str, ...]:
    """The variables that loads ask about in a state, "" for any."""
    there = [drain for drain in device.loads if not state or not drain.states or state in drain.states]
    named = {name for drain in there for name, _ in drain.allowed}
    return tuple(variable.name for variable in device.variables if variable.name in named)


def configs(device: Device) -> tuple[Config, ...]:
    """All configurations in which the device has power, in the order of the spec; the one while it starts comes first."""
    found = [Config(STARTING)] if device.power_up is not None else []
    for state in device.states:
        if state.unpowered:
            continue
        names = minded(device, state.name)
        for values in product(*(device.variable(name).values for name in names)):
            phases = (RUNNING, ASLEEP) if state.sleep is not None else (RUNNING,)
            found += [Config(phase, state.name, tuple(zip(names, values, strict=True))) for phase in phases]
    return tuple(found)


def config_of(device: Device, state: str, values: Mapping[str, str], phase: str) -> Config:
    """The configuration with this state and these values."""
    return Config(phase, state, tuple((name, values[name]) for name in minded(device, state)))


class _Known:
    """What was reckoned of one device; cells and loads are compared by identity, since comparing them costs more."""

    def __init__(self, device: Device) -> None:
        self.of = (device.electricity, device.loads, device.states, device.memory)
        self.store: dict[Hashable, object] = {}


_known_devices: list[_Known] = []
_MOST_DEVICES: Final = 32

_P = ParamSpec("_P")
_T = TypeVar("_T")


def remembered(reckon: Callable[Concatenate[Device, _P], _T]) -> Callable[Concatenate[Device, _P], _T]:
    """The function, with each answer reckoned once for a device; its other arguments are small and hashable."""

    @wraps(reckon)
    def answer(device: Device, /, *args: _P.args, **kwargs: _P.kwargs) -> _T:
        now = (device.electricity, device.loads, device.states, device.memory)
        known = next((one for one in _known_devices if all(a is b for a, b in zip(one.of, now, strict=True))), None)
        if known is None:
            known = _Known(device)
            _known_devices.insert(0, known)
            del _known_devices[_MOST_DEVICES:]
        key = (reckon.__name__, args, tuple(sorted(kwargs.items())))
        if key not in known.store:
            known.store[key] = reckon(device, *args, **kwargs)
        return cast("_T", known.store[key])

    return answer


@remembered
def drawn(device: Device, config: Config) -> Drawn:
    """The loads of a configuration."""
    sure = [drain for drain in device.loads if _is_on(drain, config) and drain.when in (ALWAYS, config.phase)]
    maybe = [drain for drain in device.loads if _is_on(drain, config) and _may_come(drain, device, config)]
    least = tuple(drain.load for drain in sure)
    return Drawn(least, (*least, *(drain.load for drain in maybe)))


def _is_on(drain: Drain, config: Config) -> bool:
    if config == NOTHING:
        return False
    if not config.state:
        return not drain.states and not drain.allowed
    values = dict(config.values)
    return (not drain.states or config.state in drain.states) and all(values[n] in v for n, v in drain.allowed)


def _may_come(drain: Drain, device: Device, config: Config) -> bool:
    if drain.when == PRESSED:
        return True
    return drain.when == WRITING and device.memory is not None and config.phase == RUNNING


IN_RESET: Final = Config("in reset")
"""While the processor is held in reset: the loads that always draw, in whichever state."""

NOTHING: Final = Config("nothing")
"""No load at all: the cells by themselves."""


@remembered
def stays_above(
    device: Device, config: Config, millivolts: Fraction, corner: Corner, peaks: bool = True
) -> Fraction | None:
    """The share used up to which the rail stays at a level or above in a configuration, peaks and all; None if it never
    does.
    """
    source = _stated(device).source
    loads, level = drawn(device, config).at(corner), volts(millivolts / 1000)

    def left(used: Fraction) -> Fraction:
        return margin(source, used, loads, level, corner, peaks)

    return lasts_until(left, source.cells.corners)


def stays_at(device: Device, config: Config, level: Amount, corner: Corner, peaks: bool = True) -> Fraction | None:
    """The same for a voltage."""
    return stays_above(device, config, exact(level, "V") * 1000, corner, peaks)


@remembered
def volts_in(device: Device, config: Config, used: Fraction) -> Band:
    """The voltage of the rail between peaks, at a share used."""
    source, loads = _stated(device).source, drawn(device, config)
    return Band(voltage(source, used, loads.most).lo, voltage(source, used, loads.least).hi)


def trips(device: Device, config: Config) -> Band | None:
    """Where the brown-out reset lies; None if there is none, or none in this configuration."""
    reset = _stated(device).reset
    if reset is None or (config.phase == ASLEEP and not reset.rules.asleep):
        return None
    raised = reset.raised if config.state else None
    return (raised or reset.rules).trips


@remembered
def comes_and_goes(device: Device, config: Config) -> bool:
    """Whether some current comes and goes within a configuration: that of a button, of a write, of pulses."""
    loads = drawn(device, config)
    return loads.least != loads.most or any(load.pulses for load in loads.least)


@remembered
def surely_resets(device: Device, config: Config, used: Fraction) -> bool:
    """Whether on every unit whose cells are used so far, or further, the loads that are on all the time reset it."""
    level = trips(device, config)
    if level is None:
        return False
    until = stays_at(device, config, level.lo, BEST, peaks=False)
    return until is None or used >= until


@remembered
def survives(device: Device, config: Config) -> Span:
    """From loss of contact to reset in a configuration, over all specimens and from fresh cells to those that are
    changed.
    """
    electricity = _stated(device)
    level = trips(device, config)
    if level is None:
        level = electricity.reset.rules.trips if electricity.reset is not None else None
    assert level is not None
    responds = electricity.reset.rules.responds if electricity.reset is not None else Span(0, 0)
    shares = (Fraction(0), electricity.until)
    spans = [held(device, config, used, level) for used in shares]
    low = min(span.lo for span in spans)
    # A reset that is off in sleep doesn't come there: nobody knows how low the voltage may fall before all is lost.
    unwatched = electricity.reset is not None and trips(device, config) is None
    high = FOREVER if unwatched else max(span.hi for span in spans)
    return Span(
        int(low) + responds.lo if low != FOREVER else LONGEST_US,
        high if high == FOREVER else int(high) + int(responds.hi),
    )


@remembered
def carries_at_most(device: Device, config: Config) -> Bound:
    """The longest hold-up of a capacitor that lighter loads left as full as the cells alone make it."""
    source, until = _stated(device).source, trips(device, config)
    longest = survives(device, config).hi
    if source.capacitor is None or until is None or source.regulator is not None:
        return FOREVER if source.capacitor is not None else longest
    steady = tuple(load for load in drawn(device, config).least if not load.pulses)
    full = source.cells.at(Fraction(0)).open.hi
    reset = _stated(device).reset
    assert reset is not None
    lasts = discharge(source.capacitor, None, steady, full, until.lo, shortest=False)
    return FOREVER if FOREVER in (lasts, longest) else max(longest, int(lasts) + int(reset.rules.responds.hi))


def held(device: Device, config: Config, used: Fraction, until: Band) -> HoldUp:
    """How long a capacitor holds the rail above `until` in a configuration."""
    source, loads = _stated(device).source, drawn(device, config)
    return HoldUp(hold_up(source, used, loads.most, until).lo, hold_up(source, used, loads.least, until).hi)


def _stated(device: Device) -> Electricity:
    assert device.electricity is not None
    return device.electricity
