"""Changes of the electrical part of a spec that may cure a failure on weak cells; nothing here is tried (see `remedies`).

Only what a maker chooses is changed: a capacitor and the resistor of a load by preferred values, the level of the brown-out
reset and what comes after one, the level at which cells count as fine, how soon the processor sleeps again. What a load
draws is as it is, and so are the cells.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import Final

from nudgeproof.quantities import Amount, Band, exact, just, show, volts
from nudgeproof.spec.edit import Edit, Path, Places, Spot
from nudgeproof.spec.electrical import Reset
from nudgeproof.spec.types import Device
from nudgeproof.supply.hold_up import E12
from nudgeproof.units import show_mv, show_us

HAZARDS: Final = (
    "boot-loop",
    "chatter-off",
    "undefined-voltage",
    "short-hold-up",
    "unlit-output",
    "over-limit",
    "drained-by-presses",
)
"""The hazards that only these changes may cure."""

WEAK_CELLS: Final = "weak cells"

PATHS: Final[tuple[Path, ...]] = (
    ("supply", "capacitor", "size"),
    ("supply", "brown-out", "level"),
    ("supply", "brown-out", "asleep"),
    ("supply", "brown-out", "starts in"),
    ("supply", "brown-out", "tries"),
    ("loads", "*", "resistor"),
    ("cell", "fine above"),
    ("states", "**", "sleep", "dozes again after"),
)
"""What may be changed."""

_SIZES, _RESISTORS, _DOWN, _UP = (1, 2, 3, 4, 6, 8, 12, 16, 20, 24), (1, 2, 3, 4, 5, 6), (1, 2, 3, 4, 6, 8), 24
_DOZES_US: Final = (500_000, 200_000, 100_000, 50_000, 20_000, 10_000)
_STEP_MV: Final = 50

Change = tuple[tuple[Edit, ...], Fraction, bool]
"""Edits to make together, how big a change it is, and whether it only promises less."""


def changes(device: Device, hazard: str) -> Iterator[Change]:
    """What may be tried for a failure of this hazard."""
    electricity = device.electricity
    if electricity is None:
        return
    places = Places(device.lines)
    if hazard == "over-limit":
        yield from _resistors(device, places)
    elif hazard == "chatter-off":
        yield from _fine_above(device, places)
    elif hazard == "drained-by-presses":
        yield from _dozes(device, places)
    elif hazard != "unlit-output":
        if electricity.source.capacitor is not None:
            yield from _capacitor(electricity.source.capacitor.size, places)
        if electricity.reset is not None:
            # A lamp that goes off as soon as it is switched on does so in whichever state it is meant to come back.
            yield from _starts(device, places, hazard == "accidental-off")
            yield from _levels(device, electricity.reset, places)


def _capacitor(size: Band, places: Places) -> Iterator[Change]:
    """The next preferred sizes, with the same tolerance."""
    spot = places.get("supply", "capacitor", "size")
    if spot is None:
        return
    for number, band in enumerate(_preferred(size, "F", _SIZES)):
        yield (places.put(spot, _with_tolerance(band)),), Fraction(number + 2, 2), False


def _resistors(device: Device, places: Places) -> Iterator[Change]:
    for drain in device.loads:
        spot = places.get("loads", drain.load.name, "resistor")
        if drain.load.resistor is not None and spot is not None:
            for number, band in enumerate(_preferred(drain.load.resistor, "ohm", _RESISTORS)):
                yield (places.put(spot, _with_tolerance(band)),), Fraction(number + 2, 2), False


def _preferred(band: Band, unit: str, steps: tuple[int, ...]) -> Iterator[Band]:
    """Larger values of the series E12, so many steps of it further, as far apart from their ends as `band`."""
    low, high = exact(band.lo, unit), exact(band.hi, unit)
    middle = (low + high) / 2
    share, one = (high - low) / (high + low), band.lo / low
    power = Fraction(1)
    while power > middle:
        power /= 10
    while power * 10 <= middle:
        power *= 10
    larger = [value for factor in (1, 10, 100, 1000) for step in E12 if (value := step * power * factor) > middle]
    for value in (larger[step - 1] for step in steps):
        yield Band(one * (value * (1 - share)), one * (value * (1 + share)))


def _with_tolerance(band: Band) -> str:
    middle = (band.lo + band.hi) / 2
    share = ((band.hi - band.lo) / (band.hi + band.lo)).magnitude * 100
    return show(middle) if not share else f"{show(middle)} ± {float(share):g} %"


def _starts(device: Device, places: Places, lessens: bool) -> Iterator[Change]:
    """A state that sleeps after a brown-out, at once or after two that change nothing."""
    spot = places.get("supply", "brown-out")
    if spot is None or spot.keys is None or "starts in" in spot.keys:
        return
    for state in device.states:
        if state.is_off:
            starts = places.add(spot, "starts in", state.name)
            yield (starts,), Fraction(2), lessens
            yield (starts, places.add(spot, "tries", "2")), Fraction(5, 2), lessens


def _levels(device: Device, reset: Reset, places: Places) -> Iterator[Change]:
    """The whole level higher, until it lies above what a write or the processor needs, or lower; and also in sleep."""
    spot = places.get("supply", "brown-out", "level")
    electricity, level = device.electricity, reset.rules.level
    if spot is None or electricity is None:
        return
    asleep = places.get("supply", "brown-out", "asleep")
    if asleep is not None and not reset.rules.asleep:
        yield (places.put(asleep, "works"),), Fraction(2), False
    needs = [electricity.works_from, device.memory.write_needs if device.memory is not None else None]
    for need in needs:
        if need is not None and need > reset.rules.trips.lo:
            steps = exact(need - reset.rules.trips.lo, "V") * 1000 / _STEP_MV
            yield _shifted(level, -(-steps.numerator // steps.denominator), spot, places)
    for steps_down in _DOWN:
        if exact(level.lo, "V") * 1000 > steps_down * _STEP_MV:
            yield _shifted(level, -steps_down, spot, places)


def _shifted(level: Band, steps: int, spot: Spot, places: Places) -> Change:
    by = just(volts(Fraction(steps * _STEP_MV, 1000)))
    moved = level + by
    words = show(moved.lo, 4) if moved.is_one else f"{_number(moved.lo)} to {show(moved.hi, 4)}"
    return (places.put(spot, words),), Fraction(abs(steps) + 1, 2), False


def _number(level: Amount) -> str:
    return show(level, 4) if exact(level, "V") < 1 else show(level, 4).removesuffix(" V")


def _fine_above(device: Device, places: Places) -> Iterator[Change]:
    """A higher level from which low cells count as fine again, up to that of fresh ones."""
    spot, cell, electricity = places.get("cell", "fine above"), device.cell, device.electricity
    if spot is None or cell is None or electricity is None:
        return
    highest = exact(electricity.source.cells.at(Fraction(0)).open.hi, "V") * 1000
    for steps in range(1, _UP):
        level = cell.fine_mv + steps * _STEP_MV
        if level < highest:
            yield (places.put(spot, show_mv(level)),), Fraction(steps + 1, 2), False


def _dozes(device: Device, places: Places) -> Iterator[Change]:
    """To sleep again sooner."""
    for state in device.states:
        if state.sleep is None:
            continue
        for spot in places.find("states", "**", state.name, "sleep", "dozes again after"):
            shorter = [us for us in _DOZES_US if us < state.sleep.doze.lo]
            for number, us in enumerate(shorter):
                yield (places.put(spot, show_us(us)),), Fraction(number + 2, 2), False
