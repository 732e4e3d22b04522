"""What to be careful with, one line each, where it applies to the device.

None of it replaces local rules or licensed practice.
"""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from nudgeproof.quantities import exact, volts
from nudgeproof.spec.types import Device
from nudgeproof.supply.loads import Load

ALWAYS = ("`holds`, and every figure here, speaks of the description, never of the board; no safety class is claimed",)
_CELLS = (
    "children and animals swallow button cells: a compartment that opens with a tool or two movements at once, and a"
    " warning (16 CFR 1263, IEC 62368-1); if one was swallowed, go to an emergency room at once"
)
_MIXED = "don't mix old and new cells, or kinds of cells, and mind their polarity"
_CHARGER = (
    "this device has an event of a charger: lithium cells that aren't made for it must never be charged (IEC 60086-4); a"
    " charger needs the cell's own protection and its maker's limits"
)
_FLASH = (
    "light that flashes more than three times a second, and saturated red above all, can bring on seizures (WCAG 2.3.1)"
)
_EYES = "a bright LED near eyes can hurt them: see its maker's class (IEC 62471)"
_HARM = "what heats, moves or floods must be stopped by something else than this firmware alone"
_RULED = "lights and locators that somebody relies on are governed by local rules; ask those who apply them"
_INRUSH = "a large capacitor takes a large current when cells are put in: contacts wear, and other parts see a dip"


_BRIGHT_A = Fraction(1, 10)
"""A light that draws more may be bright enough to hurt; common practice, no source."""
_LIGHTS = ("led", "lamp", "light", "beam", "torch", "flash")


def _is_light(load: Load) -> bool:
    """An LED, or what is named like a light."""
    return load.forward is not None or any(word in load.name.lower() for word in _LIGHTS)


def cautions(device: Device) -> Iterable[str]:
    """Those that apply, in a fixed order."""
    yield from ALWAYS
    electricity = device.electricity
    if electricity is not None:
        fresh = electricity.source.cells.at(Fraction(0)).open.hi
        if fresh <= volts("3.6"):
            yield _CELLS
        yield _MIXED
    events = " ".join(event.name for event in device.events)
    if any(word in events for word in ("charg", "usb", "dock")):
        yield _CHARGER
    lights = [drain.load for drain in device.loads if _is_light(drain.load)]
    if lights:
        yield _FLASH
        yield _RULED
    drawn = [band.hi for load in lights for band in (load.current, load.peak) if band is not None]
    if any(current > _BRIGHT_A for current in (exact(one, "A") for one in drawn)):
        yield _EYES
    if device.harm:
        yield _HARM
    if electricity is not None and electricity.source.capacitor is not None:
        yield _INRUSH
