"""Short hold-up: a loss of contact that must go unnoticed resets the device."""

from __future__ import annotations

from nudgeproof.hazards.weak_cells import NO_CELLS, by_use
from nudgeproof.parts.draws import Config, configs, drawn, survives
from nudgeproof.quantities import Amount, show
from nudgeproof.questions.ask import Derived, NotAsked, Question
from nudgeproof.spec.electrical import STARTING
from nudgeproof.spec.types import Device
from nudgeproof.supply.hold_up import needed, preferred
from nudgeproof.units import Span, round_us, show_us

NAME = "short-hold-up"
MEANS = "a loss of contact that must go unnoticed resets the device, since its capacitor is empty before"
CURE = "a larger capacitor, a smaller load, a lower brown-out level, or a second contact beside the spring"
SHOWN = """\
contact    ████████▁▁▁▁▁▁▁▁███████████████  a knock, shorter than stated
voltage    ▇▇▇▇▇▇▇▆▅▄▃▂▂▂▂▇▇▇▇▇▇▇▇▇▇▇▇▇▇▇▇  too low before the cell is back"""
ASKED_IF = "`cells` and `rides through` in `supply`"
TEMPTING = "reckon with the capacitor's printed size: it is smaller by its tolerance, with age and at voltage"
EXACT = (
    "exact for the loads, levels and the capacitor stated, all at the ends of their tolerances, until cells are changed"
)


def ask(device: Device) -> tuple[Question | Derived, ...] | NotAsked:
    """One question about all configurations."""
    electricity = device.electricity
    if electricity is None:
        return NotAsked(NAME, NO_CELLS)
    wanted = electricity.rides_through
    if wanted is None:
        return NotAsked(NAME, "`supply` states no loss of contact that it `rides through`")
    if device.supply is None or (electricity.reset is None and device.supply.is_computed):
        return NotAsked(NAME, "`supply` has no `brown-out`")
    spans = {one: spans_of(device, one) for one in configs(device) if one.phase != STARTING}
    short = tuple(one for one, span in spans.items() if span.lo <= wanted)
    subject = f"losses of contact up to {show_us(wanted)}"
    told = ""
    if short:
        first = min(short, key=lambda one: spans[one].lo)
        shortest = show_us(round_us(spans[first].lo, up=True))
        told = f"in {first} a loss of contact of {shortest} may reset the device; {show_us(wanted)} must not"
        size = advice(device, first, wanted)
        told += f" (a capacitor of {show(size)} would do)" if size is not None else ""
    held = f"{subject} go unnoticed wherever the device is on, down to cells that are changed"
    return (by_use(device, NAME, subject, short, told, held, CURE, electricity.at),)


def spans_of(device: Device, config: Config) -> Span:
    """From loss of contact to reset: as reckoned, or as stated."""
    assert device.supply is not None
    return survives(device, config) if device.supply.is_computed else device.supply.hold_up


def advice(device: Device, config: Config, wanted: int) -> Amount | None:
    """The preferred size of a capacitor that would do there, with the tolerance of the one stated; None if none would."""
    electricity = device.electricity
    assert electricity is not None
    capacitor = electricity.source.capacitor
    if electricity.reset is None or capacitor is None:
        return None
    tolerance = 1 - capacitor.size.lo / ((capacitor.size.lo + capacitor.size.hi) / 2)
    loads = drawn(device, config).most
    found = needed(
        electricity.source, electricity.until, loads, electricity.reset.rules.trips, wanted + 1, tolerance.magnitude
    )
    return None if found is None else preferred(found)
