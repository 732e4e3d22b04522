"""What is stated of the electricity: what feeds the device, what draws current when, and how it is used in a day.

Like the other types of a spec (see `types`) these hold what was written, with defaults filled in; times are microseconds,
all else are quantities with units (see `nudgeproof.quantities`).
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from nudgeproof.diagnostics import Place
from nudgeproof.quantities import Amount
from nudgeproof.supply.brown_out import BrownOut
from nudgeproof.supply.loads import Load
from nudgeproof.supply.rail import Source
from nudgeproof.units import Span

ALWAYS, RUNNING, ASLEEP, STARTING, WRITING = WHILE = ("always", "running", "asleep", "starting", "writing")
"""When a load draws: all the time, or while the firmware runs, while the processor sleeps, from power to running firmware,
while memory is written. One more is `pressed`, while a button is down."""
PRESSED = "pressed"


@dataclass(frozen=True, slots=True)
class Reset:
    """`rules`: the brown-out reset. `starts_in`: the state after such a reset, whatever memory kept; None: as after any.

    `tries`: so many of them in a row aren't told from others; only the one after them starts in `starts_in`.
    `raised`: the rules that the firmware sets when it starts, None if it leaves them as they are.
    """

    rules: BrownOut
    starts_in: str | None
    tries: int
    at: Place
    raised: BrownOut | None = None


@dataclass(frozen=True, slots=True)
class Electricity:
    """`source`: cells, regulator and capacitor. `until`: the share used at which the cells are changed.

    `works_from`: the lowest voltage at which the processor works as its maker promises. `rides_through`: a loss of
    contact that must go unnoticed, None if none is stated. `most`: what the processor may draw altogether.
    `rises`: how long the voltage takes to be all there once cells are put in.
    """

    source: Source
    until: Fraction
    reset: Reset | None
    works_from: Amount | None
    rides_through: int | None
    most: Amount | None
    at: Place
    cells_at: Place
    rises: Span | None = None


@dataclass(frozen=True, slots=True)
class Drain:
    """One load, and when it draws.

    `states`: only in these, () for any. `allowed`: only while each variable named has one of the values. `when`: one of
    `WHILE`, or `pressed` with `button`. `most`: the current that it may carry. `dims`: that it does less and less at low
    voltage is meant.
    """

    load: Load
    states: tuple[str, ...]
    allowed: tuple[tuple[str, tuple[str, ...]], ...]
    when: str
    button: str
    most: Amount | None
    dims: bool
    at: Place


@dataclass(frozen=True, slots=True)
class Day:
    """A day of use. `hours`: how long the device is in each state; the rest of the day it is in `rest`.

    `presses`: gestures, `times`: how often each of the surroundings acts. `memory_years`: how long the memory must last;
    None if nothing is stated.
    """

    name: str
    hours: tuple[tuple[str, int], ...]
    rest: str
    presses: int
    times: tuple[tuple[str, int], ...]
    memory_years: Fraction | None
    at: Place
