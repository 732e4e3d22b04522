"""The supply: the cell loses contact, the hold-up time runs out, everything is reset, power comes back, the firmware starts.

A loss shorter than the hold-up time goes unnoticed; the capacitor is taken to be full again at once afterwards. A longer
one resets the device: what was not in memory is gone. When the cell is back it takes a start-up time until memory is read
and the firmware runs; contacts may do anything meanwhile.
"""

from __future__ import annotations

from nudgeproof.model.tables import Choice, Local, Part, Reads, Timer, Value
from nudgeproof.parts.people import LEFT
from nudgeproof.spec.types import Outage, PowerUp, Supply
from nudgeproof.units import FOREVER

POWERED = "powered"
STEADY = "steady"
CELL = "cell"
CELL_IS_BACK = "cell is back"
OPENS_CELL = " opens the cell"
RESET = "reset"
RESTORE = "restore"
SAGS = "sags"
RECOVERS = "recovers"
BOOTS = "boots"

_POWERED = ("up", "sagging")


def outage(what: Outage, waits: bool) -> Part:
    """A source that opens the cell's contact. With `waits` it acts only after the device was left alone."""
    line = what.at.line

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        if local == "gone":
            return (Timer(CELL_IS_BACK, what.gone.lo, what.gone.hi),)
        if waits and not reads[LEFT]:
            return ()
        return (Timer("cell is lost", 0 if local == "fresh" else what.apart_us, FOREVER),)

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        if local == "gone":
            return (Choice("apart", (CELL,), says=f"{what.name}: the cell is back", line=line, actions=1),)
        return (Choice("gone", (CELL,), says=f"{what.name}: the cell loses contact", line=line, actions=1),)

    return Part(
        name=what.name,
        role="disturbance",
        start="fresh",
        publishes=(opened_by(what.name),),
        shown=lambda local: (local == "gone",),
        reads=(LEFT,) if waits else (),
        armed=armed,
        expired=expired,
        sends=(CELL,),
    )


def opened_by(source: str) -> str:
    """The published name under which an outage says that it keeps the cell away."""
    return f"{source}{OPENS_CELL}"


def supply(rules: Supply, power_up: PowerUp, outages: tuple[str, ...], is_starting: bool = False) -> Part:
    """The part for the supply; `is_starting`: the device has just got power.

    Local state: up, sagging, down, starting, or starting with the cell gone again (`sagging start`). Takes `cell`; sends
    `reset`, `restore` (memory is to be read), `sags`, `recovers` and `boots` (the cell is back after a reset). Publishes
    `powered` and `steady`.
    """
    line = rules.at.line
    hold_up = Timer("hold-up", rules.hold_up.lo, rules.hold_up.hi)
    starts = Timer("starts", power_up.takes.lo, power_up.takes.hi)

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        return {"sagging": (hold_up,), "starting": (starts,), "sagging start": (hold_up, starts)}.get(str(local), ())

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        if timer == starts.name:
            to = "up" if local == "starting" else "sagging"
            return (Choice(to, (RESTORE,), says="the firmware starts and reads its memory", line=power_up.at.line),)
        says = "the supply is too low: everything is reset"
        return (Choice("down", (RESET,) if local == "sagging" else (), says=says, line=line),)

    def heard(local: Local, signal: str, reads: Reads) -> tuple[Choice, ...]:
        gone = any(reads.values())
        lost = {"up": ("sagging", (SAGS,)), "starting": ("sagging start", ())}
        back = {"sagging": ("up", (RECOVERS,)), "sagging start": ("starting", ()), "down": ("starting", (BOOTS,))}
        to, send = (lost if gone else back).get(str(local), (str(local), ()))
        return (Choice(to, send, line=line),)

    def shown(local: Local) -> tuple[Value, ...]:
        return (local in _POWERED, local == "up")

    return Part(
        name="supply",
        role="supply",
        start="starting" if is_starting else "up",
        publishes=(POWERED, STEADY),
        shown=shown,
        reads=tuple(opened_by(name) for name in outages),
        armed=armed,
        expired=expired,
        takes={CELL: (SAGS, RECOVERS, BOOTS)},
        heard=heard,
        sends=(RESET, RESTORE),
    )
