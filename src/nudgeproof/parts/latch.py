"""A power switch that a key closes and the firmware then holds: what lets a device switch itself off altogether.

While the key is down, or the latch is held, the cell feeds the device. The firmware holds the latch in every state but those
without power; on entering one of these it lets go, which takes a while; a reset lets go at once.
"""

from __future__ import annotations

from nudgeproof.model.tables import Choice, Local, Part, Reads, Timer, Value, lasting
from nudgeproof.parts.chart import CHANGED, STARTED
from nudgeproof.parts.supply import CELL, HELD, RESET
from nudgeproof.spec.powered import Latch
from nudgeproof.spec.types import Device

OPEN, CLOSED, OPENING = "open", "held", "letting go"


def latch(device: Device, rules: Latch) -> Part:
    """The part for the latch. Takes the chart's `changed` and `started` and the supply's `reset`; sends `cell`.

    Local state: open, held or letting go. Publishes `latch holds`.
    """
    unpowered = {state.name for state in device.states if state.unpowered}
    line = rules.at.line

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        return (lasting("lets go", rules.lets_go),) if local == OPENING else ()

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        return (Choice(OPEN, (CELL,), says="the latch opens", line=line),)

    def heard(local: Local, signal: str, reads: Reads) -> tuple[Choice, ...]:
        if signal == RESET:
            return (Choice(OPEN),)
        if reads["state"] not in unpowered:
            return (Choice(CLOSED, (CELL,) if local == OPEN else ()),)
        if signal == STARTED:
            return (Choice(OPENING, (CELL,)),)
        return (Choice(OPENING if local == CLOSED else local),)

    def shown(local: Local) -> tuple[Value, ...]:
        return (local != OPEN,)

    return Part(
        name="latch",
        role="device",
        start=OPEN if device.initial in unpowered else CLOSED,
        publishes=(HELD,),
        shown=shown,
        reads=("state",),
        armed=armed,
        expired=expired,
        takes={CHANGED: (CELL,), STARTED: (CELL,), RESET: ()},
        heard=heard,
        sends=(CELL,),
    )
