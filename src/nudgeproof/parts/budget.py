"""A day of use as charge: what each state takes, each press, each knock that wakes the processor; and how long cells
last.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import cache

from nudgeproof.parts.draws import NOTHING, Config, configs, drawn, stays_at, trips, volts_in
from nudgeproof.quantities import Amount, Band, amount, amperes
from nudgeproof.spec.electrical import ASLEEP, RUNNING, WRITING, Day, Electricity
from nudgeproof.spec.outside import Maker
from nudgeproof.spec.types import Device, Disturbance, State
from nudgeproof.supply.charge import Share, counted_part, life, lying, mean_current, pulse_charge, steady_part
from nudgeproof.supply.loads import total
from nudgeproof.supply.rail import BEST, WORST
from nudgeproof.units import FOREVER, MICROSECONDS, Bound, Span

REST = "the rest of the day"


@dataclass(frozen=True)
class Budget:
    """`shares`: what takes charge in a day, with fresh cells. `ends`: the share used at which the cells are done, for the
    worst and for the best unit. `hours`: how long they last; None if nothing is drawn, or it isn't stated what they hold.
    """

    shares: tuple[Share, ...]
    current: Band
    ends: tuple[Fraction, Fraction]
    hours: Band | None


def budget(device: Device, day: Day, disturbed: bool = True) -> Budget:
    """The budget of a day; not `disturbed`: without what the surroundings do."""
    electricity = device.electricity
    assert electricity is not None
    ends = _ends(device, electricity, day)
    fresh = _shares(device, electricity, day, Fraction(0), disturbed)
    charge = electricity.source.cells.charge
    hours = None
    if charge is not None:
        # The worst and the best unit often end at the same share.
        @cache
        def current(used: Fraction) -> Band:
            return mean_current(_shares(device, electricity, day, used, disturbed))

        worst, best = life(charge, ends[0], current), life(charge, ends[1], current)
        hours = None if worst is None or best is None else Band(worst.lo, best.hi)
    return Budget(fresh, mean_current(fresh), ends, hours)


def _ends(device: Device, electricity: Electricity, day: Day) -> tuple[Fraction, Fraction]:
    """The share used from which on a state of the day no longer works: reset, or below the processor's lowest voltage."""
    ends = []
    for worst in (True, False):
        corner = WORST if worst else BEST
        found = [electricity.until]
        for config in configs(device):
            if config.state not in (day.rest, *(state for state, _ in day.hours)):
                continue
            level = trips(device, config)
            levels = [level.hi if worst else level.lo] if level is not None else []
            levels += [electricity.works_from] if electricity.works_from is not None else []
            for one in levels:
                until = stays_at(device, config, one, corner)
                found.append(until if until is not None else Fraction(0))
        ends.append(min(found))
    return ends[0], ends[1]


def _shares(device: Device, electricity: Electricity, day: Day, used: Fraction, disturbed: bool) -> tuple[Share, ...]:
    spent = sum(us for _, us in day.hours)
    hour = MICROSECONDS["h"]
    shares = [
        steady_part(state, Fraction(us, hour), in_state(device, device.state(state), used)) for state, us in day.hours
    ]
    rest = device.state(day.rest)
    left = MICROSECONDS["d"] - spent
    if left:
        name = f"{REST} in {day.rest}"
        shares.append(steady_part(name, Fraction(left, hour), in_state(device, rest, used)))
    if day.presses:
        shares.append(counted_part("presses", Fraction(day.presses), press_charge(device, rest, used)))
    for name, times in day.times if disturbed else ():
        if (each := wake_charge(device, rest, name, used)) is not None:
            shares.append(counted_part(name, Fraction(times), each))
    cells = electricity.source.cells
    if cells.charge is not None and cells.loses:
        shares.append(lying(cells.charge, cells.loses))
    return tuple(shares)


def in_state(device: Device, state: State, used: Fraction) -> Band:
    """The current from the cells in a state, whatever the variables are; where it sleeps, while it sleeps."""
    phase = ASLEEP if state.sleep is not None else RUNNING
    found = [cell_current(device, one, used) for one in configs(device) if _is(one, state.name, phase)]
    if not found:  # a state without power
        return Band(amperes(0), amperes(0))
    return Band(min(band.lo for band in found), max(band.hi for band in found))


def running_in(device: Device, state: State, used: Fraction) -> Band:
    """The same while the firmware runs there."""
    found = [cell_current(device, one, used) for one in configs(device) if _is(one, state.name, RUNNING)]
    return Band(min(band.lo for band in found), max(band.hi for band in found))


def _is(config: Config, state: str, phase: str) -> bool:
    return (config.state, config.phase) == (state, phase)


def cell_current(device: Device, config: Config, used: Fraction) -> Band:
    """What the cells give all the time in a configuration, with what a regulator and a capacitor take.

    Loads that come and go within it, as a button's pull resistor, are counted with what brings them.
    """
    electricity = device.electricity
    assert electricity is not None
    source, loads = electricity.source, drawn(device, config)
    regulator, capacitor = source.regulator, source.capacitor
    leak = capacitor.leaks if capacitor is not None else Band(amperes(0), amperes(0))
    if regulator is None:
        at = volts_in(device, config, used)
        return Band(total(loads.least, at.lo).lo, total(loads.least, at.hi).hi) + leak
    out = Band(total(loads.least, regulator.makes.lo).lo, total(loads.least, regulator.makes.hi).hi)
    if not regulator.switches:
        return out + regulator.takes + leak
    level = source.cells.at(used)
    most = regulator.makes.hi * out.hi / regulator.efficiency[0]
    lowest = max(level.open.lo - level.resistance.hi * most / regulator.works_from, regulator.works_from)
    drawn_ = Band(regulator.makes.lo * out.lo / regulator.efficiency[1] / level.open.hi, most / lowest)
    return Band(drawn_.lo.to("A"), drawn_.hi.to("A")) + regulator.takes + leak


def press_charge(device: Device, rest: State, used: Fraction) -> Band:
    """What one gesture takes beside the state it leads to: the processor runs while it lasts, and memory is written."""
    longest = [100_000]
    person = device.person
    if person is not None:
        longest += [int(person.tap.hi), *([int(person.hold.hi)] if person.hold is not None else [])]
    charge = _awake(device, rest, used, Span(0, max(longest)), tuple(button.name for button in device.buttons))
    if device.memory is not None:
        writing = [drain.load for drain in device.loads if drain.when == WRITING]
        for load in writing:
            extra = pulse_charge(load.while_on(volts_in(device, NOTHING, used).hi), (0, int(device.memory.write.hi)))
            charge = charge + extra
    return charge


def wake_charge(device: Device, rest: State, source: str, used: Fraction) -> Band | None:
    """What it takes when one of the surroundings acts; None if that doesn't wake the processor in `rest`."""
    what = next(one for one in device.surroundings if one.name == source)
    sleep = rest.sleep
    if sleep is None:
        return None
    if isinstance(what, Disturbance) and what.button in sleep.waking_buttons:
        return _awake(device, rest, used, Span(0, FOREVER if what.for_good else what.closes.hi), (what.button,))
    if isinstance(what, Maker) and any(event in sleep.waking_events for event in what.events):
        return _awake(device, rest, used, Span(0, 0), ())
    return None


def _awake(device: Device, rest: State, used: Fraction, closed: Span, pressed: tuple[str, ...]) -> Band:
    """The charge from a wake until the processor sleeps again, beyond what sleeping there takes; with the pull resistors of
    the buttons that are `pressed`, one at a time.
    """
    sleep = rest.sleep
    none = Band(amount(0, "A*h"), amount(0, "A*h"))
    if sleep is None:
        return none
    gives_up: Bound = sleep.gives_up.hi if sleep.gives_up is not None else FOREVER
    lasts = min(closed.hi, gives_up)
    debounce = max((int(b.debounce.hi) for b in device.buttons if b.debounce is not None), default=0)
    longest = (
        (int(lasts) if lasts != FOREVER else MICROSECONDS["d"]) + int(sleep.ready.hi + sleep.doze.hi) + 2 * debounce
    )
    runs, sleeps = running_in(device, rest, used), in_state(device, rest, used)
    more = Band(_at_least_none(runs.lo - sleeps.hi), _at_least_none(runs.hi - sleeps.lo))
    whole = pulse_charge(more, (sleep.ready.lo + sleep.doze.lo, longest))
    pulled = [current.hi for button, current in stuck_charge(device, used) if button in pressed]
    held = (0, int(lasts) if lasts != FOREVER else MICROSECONDS["d"])
    return whole + pulse_charge(Band(amperes(0), max(pulled)), held) if pulled else whole


def _at_least_none(current: Amount) -> Amount:
    return max(current, amperes(0))


def stuck_charge(device: Device, used: Fraction) -> tuple[tuple[str, Band], ...]:
    """For each button what its pull resistor takes while it is held down, as stated by a load `while: B pressed`."""
    at = volts_in(device, NOTHING, used)
    found = []
    for drain in device.loads:
        if drain.button:
            low, high = drain.load.average(at.lo), drain.load.average(at.hi)
            found.append((drain.button, Band(low.lo, high.hi)))
    return tuple(found)
