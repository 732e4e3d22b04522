"""Indistinct outage: what is left in RAM is to tell a blip from a change of cells, and can't, on some units at least."""

from __future__ import annotations

from nudgeproof.hazards.weak_cells import failing, holding
from nudgeproof.questions.ask import Derived, NotAsked
from nudgeproof.spec.types import Device
from nudgeproof.units import FOREVER, show_us

NAME = "indistinct-outage"
MEANS = "a short interruption and a change of cells can't be told apart by what is left in RAM"
CURE = "a bleed resistor, so that it is gone sooner on every unit; a wider gap between the two times; or several marks"
SHOWN = """\
power      ████▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁████  new cells are put in
RAM        ████▇▇▇▇▆▆▆▆▅▅▅▅▅▄▄▄▄▄▄▃▃▃▃████  still there: taken for a blip"""
ASKED_IF = "`blips` and `new cells` in `ram`"
TEMPTING = "try it on the bench: the decay differs from unit to unit, and in the cold it takes many times as long"
EXACT = "exact for the time stated that values last in RAM"


def ask(device: Device) -> tuple[Derived, ...] | NotAsked:
    """One answer for each end."""
    ram = device.ram
    if ram is None:
        return NotAsked(NAME, "the spec has no `ram`")
    if ram.blips is None or ram.new_cells is None:
        return NotAsked(NAME, "`ram` doesn't say which `blips` are to be told from `new cells`")
    blip, new, lasts = show_us(ram.blips), show_us(ram.new_cells), ram.lasts
    short = f"after a blip of {blip} what RAM keeps may be gone: it lasts {show_us(lasts.lo)} on some units"
    longest = "for ever" if lasts.hi == FOREVER else show_us(int(lasts.hi))
    long = f"after {new} without cells what RAM keeps may still be there: it lasts {longest} on some units"
    return (
        failing(NAME, "blips", short, CURE, ram.at)
        if lasts.lo <= ram.blips
        else holding(NAME, "blips", f"what RAM keeps outlasts each blip of up to {blip}", ram.at),
        failing(NAME, "new cells", long, CURE, ram.at)
        if lasts.hi >= ram.new_cells
        else holding(NAME, "new cells", f"what RAM keeps is gone after {new} without cells", ram.at),
    )
