"""Unlit output: the device is on and shows it, but at that voltage the light is dark, or the sensor doesn't work.

Each load has a voltage below which it does nothing: what it `needs`, or an LED's forward voltage. Down to it a light only
fades. The voltage is that of the configuration it is in, between peaks.
"""

from __future__ import annotations

from fractions import Fraction

from nudgeproof.hazards.weak_cells import NO_CELLS, by_use, since
from nudgeproof.parts.draws import Config, configs, drawn, stays_at, trips, volts_in
from nudgeproof.quantities import Band, show
from nudgeproof.questions.ask import Derived, NotAsked, Question
from nudgeproof.spec.electrical import Drain
from nudgeproof.spec.types import Device
from nudgeproof.supply.rail import BEST, WORST

NAME = "unlit-output"
MEANS = "a load is on in a state, and at the voltage of used cells it does nothing: the light is dark"
CURE = (
    "cells of more voltage, a regulator that makes it, a load that needs less, or say with `works on: yes` that fading is"
    " meant"
)
SHOWN = """\
voltage    ▇▇▇▇▆▆▆▅▅▅▅▄▄▄▃▃▃▂▂▂▂▂▂▂▂▂▂▂  falls as the cells are used up
lamp       ████▓▓▓▓▒▒▒▒▒░░░░▁▁▁▁▁▁▁▁▁▁▁  the firmware says on, and it is dark"""
ASKED_IF = "`cells` in `supply`, and a load with `led` or `needs`"
TEMPTING = "a smaller resistor: the light is brighter while there is voltage, and goes dark at the same one"
EXACT = "exact for the cells and loads stated; how bright a light is, isn't reckoned"


def ask(device: Device) -> tuple[Question | Derived, ...] | NotAsked:
    """One question for each load that has such a voltage."""
    if device.electricity is None:
        return NotAsked(NAME, NO_CELLS)
    asked = [drain for drain in device.loads if drain.load.threshold is not None and not drain.dims]
    if not asked:
        return NotAsked(NAME, "no load has `led` or `needs`, or all may work less and less")
    return tuple(_question(device, drain, drain.load.threshold) for drain in asked if drain.load.threshold is not None)


def _question(device: Device, drain: Drain, needs: Band) -> Question | Derived:
    dark: dict[Config, tuple[Fraction, Fraction | None]] = {}
    for config in configs(device):
        if drain.load in drawn(device, config).most and (found := _dark_from(device, config, needs)) is not None:
            dark[config] = found
    name = drain.load.name
    told = ""
    if dark:
        first = min(dark, key=lambda config: dark[config][0])
        lowest = volts_in(device, first, device.electricity.until).lo if device.electricity is not None else needs.lo
        told = f"{since(*dark[first])} the {name} does nothing in {first}: it needs {needs}, and has down to {show(lowest)}"
    held = f"the {name} works wherever it is on, down to cells that are changed"
    return by_use(device, NAME, name, tuple(dark), told, held, CURE, drain.at)


def _dark_from(device: Device, config: Config, needs: Band) -> tuple[Fraction, Fraction | None] | None:
    """From which share used on the load does nothing there on some unit, and on every one; None if the device is reset
    before.
    """
    assert device.electricity is not None
    until = device.electricity.until
    worst = stays_at(device, config, needs.hi, WORST, peaks=False)
    best = stays_at(device, config, needs.lo, BEST, peaks=False)
    level = trips(device, config)
    reset = stays_at(device, config, level.lo, BEST) if level is not None else Fraction(1)
    begins = Fraction(0) if worst is None else worst
    if begins >= until or reset is None or (begins >= reset and reset < 1):
        return None
    everywhere = Fraction(0) if best is None else best
    return begins, everywhere if everywhere < until else None
