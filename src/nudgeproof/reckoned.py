"""What the supply does, reckoned for a whole device: its voltage in each state, how long it lasts, what a capacitor must
hold.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from nudgeproof.parts.budget import Budget, budget, cell_current, stuck_charge, wake_charge
from nudgeproof.parts.draws import Config, configs, drawn, stays_at, survives, trips, volts_in
from nudgeproof.quantities import Amount, Band, exact, ohms, show
from nudgeproof.questions.lasting import say_hours
from nudgeproof.spec.electrical import Electricity
from nudgeproof.spec.types import Device, Outage
from nudgeproof.supply.brown_out import Reset, judge
from nudgeproof.supply.hold_up import charging, needed, preferred
from nudgeproof.supply.rail import BEST, WORST
from nudgeproof.units import Span, show_us


@dataclass(frozen=True)
class Standing:
    """One configuration. `current`: with fresh cells. `fresh`, `used`: the voltage then, and when cells are changed.

    `margin`: from the lowest voltage, when cells are changed, to where the most sensitive unit is reset; None without a
    reset.
    `resets`: the share used from which on some unit resets there, and every one; None for never. `hold_up`: None where it
    isn't known.
    """

    config: Config
    current: Band
    fresh: Band
    used: Band
    margin: Amount | None
    resets: tuple[Fraction | None, Fraction | None]
    hold_up: Span | None


@dataclass(frozen=True)
class Advice:
    """What a capacitor is to do. `loss_us`: a loss of contact, `needs`: the size for it, and the next preferred one above.

    `hardest`: the configuration that needs most. None: no size would do, since it is reset there without any loss.
    """

    loss_us: int
    hardest: Config
    needs: Amount | None
    choose: Amount | None


@dataclass(frozen=True)
class Inrush:
    """When cells are put in: the first current into the empty capacitor, and how long until it may start."""

    current: Amount
    starts: Band | None


@dataclass(frozen=True)
class Wake:
    """What one act of a source, or a stuck button, takes: a charge, or a current while it lasts."""

    what: str
    takes: Band


@dataclass(frozen=True)
class Standard:
    """A dip of a published standard: to this share of the fresh voltage, and what it does."""

    share: Fraction
    volts: Amount
    does: Reset


@dataclass(frozen=True)
class Reckoned:
    """Everything about one device. `longest_loss`: the longest loss of contact that surely goes unnoticed anywhere."""

    standings: tuple[Standing, ...]
    longest_loss: int | None
    advice: Advice | None
    inrush: Inrush | None
    budgets: tuple[tuple[str, Budget], ...]
    wakes: tuple[Wake, ...]
    dips: tuple[Standard, ...]


IEC_LEVELS = (Fraction(0), Fraction(40, 100), Fraction(70, 100), Fraction(80, 100), Fraction(85, 100))
"""Levels of test voltages at a d.c. port, as shares of the rated one (IEC 61000-4-29:2000, tables 1a to 1c)."""


def reckon(device: Device) -> Reckoned:
    """All of it; raises ValueError if the spec says nothing of the cells."""
    electricity = device.electricity
    if electricity is None:
        raise ValueError("no cells")
    standings = tuple(_stand(device, electricity, config) for config in configs(device))
    spans = [one.hold_up for one in standings if one.hold_up is not None]
    return Reckoned(
        standings=standings,
        longest_loss=max(0, min(span.lo for span in spans) - 1) if spans else None,
        advice=_advise(device, electricity),
        inrush=_rush(electricity),
        budgets=tuple((day.name, budget(device, day)) for day in device.use),
        wakes=tuple(_wakes(device)),
        dips=_dips(device, electricity),
    )


def _stand(device: Device, electricity: Electricity, config: Config) -> Standing:
    fresh, used = volts_in(device, config, Fraction(0)), volts_in(device, config, electricity.until)
    level = trips(device, config)
    ends: tuple[Fraction | None, Fraction | None] = (None, None)
    if level is not None:
        worst = stays_at(device, config, level.hi, WORST)
        best = stays_at(device, config, level.lo, BEST, peaks=False)
        ends = (_within(worst, electricity.until), _within(best, electricity.until))
    return Standing(
        config=config,
        current=cell_current(device, config, Fraction(0)),
        fresh=fresh,
        used=used,
        margin=None if level is None else used.lo - level.hi,
        resets=ends,
        hold_up=_hold_up(device, config),
    )


def _within(turn: Fraction | None, until: Fraction) -> Fraction | None:
    """From where on something is so, None if cells are changed before."""
    begins = Fraction(0) if turn is None else turn
    return begins if begins < until else None


def _hold_up(device: Device, config: Config) -> Span | None:
    assert device.supply is not None
    if not device.supply.is_computed:
        return device.supply.hold_up
    return survives(device, config)


def _advise(device: Device, electricity: Electricity) -> Advice | None:
    """The capacitor for the loss that must go unnoticed, or else for the longest that the surroundings make."""
    losses = [int(what.gone.hi) for what in device.surroundings if isinstance(what, Outage)]
    loss = electricity.rides_through or max(losses, default=0)
    if not loss or electricity.reset is None:
        return None
    size = electricity.source.capacitor.size if electricity.source.capacitor is not None else None
    tolerance = Fraction(20, 100) if size is None else 1 - exact(size.lo, "F") * 2 / exact(size.lo + size.hi, "F")
    found: list[tuple[Fraction | None, Config, Amount]] = []
    for config in configs(device):
        level = trips(device, config)
        if level is not None:
            one = needed(electricity.source, electricity.until, drawn(device, config).most, level, loss + 1, tolerance)
            found.append((None if one is None else exact(one, "F"), config, one))
    if not found:
        return None
    hopeless = next((config for size_, config, _ in found if size_ is None), None)
    if hopeless is not None:
        return Advice(loss, hopeless, None, None)
    _, hardest, needs = max(found, key=lambda entry: entry[0] or Fraction(0))
    return Advice(loss, hardest, needs, preferred(needs))


def _rush(electricity: Electricity) -> Inrush | None:
    capacitor = electricity.source.capacitor
    if capacitor is None:
        return None
    fresh = electricity.source.cells.at(Fraction(0))
    series = fresh.resistance.lo + capacitor.resistance.lo
    if series <= ohms(0):
        return None
    starts = None
    if electricity.reset is not None and electricity.source.regulator is None:
        to = electricity.reset.rules.lets_go.hi
        spent = electricity.source.cells.at(electricity.until)
        try:
            starts = Band(
                charging(fresh.resistance.lo, capacitor.size.lo, fresh.open.hi, to).lo,
                charging(spent.resistance.hi + capacitor.resistance.hi, capacitor.size.hi, spent.open.lo, to).hi,
            )
        except ValueError:
            starts = None
    return Inrush(fresh.open.hi / series, starts)


def _wakes(device: Device) -> list[Wake]:
    rest = device.state(device.initial)
    found = []
    for what in device.surroundings:
        takes = wake_charge(device, rest, what.name, Fraction(0))
        if takes is not None:
            found.append(Wake(f"each time of {what.name}", takes))
    found += [Wake(f"{button} stuck", current) for button, current in stuck_charge(device, Fraction(0))]
    return found


def _dips(device: Device, electricity: Electricity) -> tuple[Standard, ...]:
    if electricity.reset is None or electricity.source.regulator is not None:
        return ()
    rated = electricity.source.cells.at(Fraction(0)).open.hi
    rules = electricity.reset.rules
    return tuple(
        Standard(share, rated * share, judge(rules, Band(rated * share, rated * share))) for share in IEC_LEVELS
    )


def brief(device: Device) -> tuple[str, ...]:
    """What belongs beside the verdicts: the longest loss of contact, what bridges the stated one, how long cells last."""
    if device.electricity is None:
        return ()
    told = []
    spans = [span for config in configs(device) if (span := _hold_up(device, config)) is not None]
    if spans:
        longest = max(0, min(span.lo for span in spans) - 1)
        if longest:
            told.append(f"a loss of contact up to {show_us(longest)} surely goes unnoticed, wherever the device is on")
    advice = _advise(device, device.electricity)
    if advice is not None and advice.choose is not None and spans and min(span.lo for span in spans) <= advice.loss_us:
        told.append(f"a capacitor of {show(advice.choose)} would bridge {show_us(advice.loss_us)}")
    for day in device.use:
        hours = budget(device, day).hours
        if hours is not None:
            told.append(f"in {day.name} the cells last {say_hours(hours)}")
    return tuple(told)
