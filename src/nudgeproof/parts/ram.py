"""RAM that outlasts a short interruption, and what a start believes of it.

Without power the values stay for a while and then decay. A checksum over them tells that they have; a marker beside them
may be whole although they aren't, and then the firmware takes for its own whatever it finds.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import product

from nudgeproof.model.tables import Choice, Local, Part, Reads, Timer, Value, lasting
from nudgeproof.parts.chart import RAM_GIVES, STARTED
from nudgeproof.parts.memory import Snapshot, read_as
from nudgeproof.parts.supply import BOOTS, DRAINED, RESET, RESTORE
from nudgeproof.spec.powered import Ram
from nudgeproof.spec.types import Device

EMPTY, WHOLE, FADING, DECAYED, UNKNOWN = "empty", "whole", "fading", "decayed", "unknown"


@dataclass(frozen=True, slots=True)
class Cells:
    """Local state. `phase`: empty (never written), whole, fading (whole still, without power), decayed, or unknown.

    `held`: the values while they are whole. `gives`: what a start believes, until the chart took it; None if nothing.
    """

    phase: str
    held: Snapshot = ()
    gives: Snapshot | None = None


def ram(device: Device, rules: Ram, is_empty: bool, unknown: bool = False) -> Part:
    """The part for the RAM. `is_empty`: the device had no power so far; `unknown`: whatever it may ever have left is there.

    While the firmware runs the values are those of the chart, and nothing is kept here. Takes the supply's `reset`,
    `drained`, `boots` and `restore`, and the chart's `started`. It stands before the chart, so that it hears of a reset
    while the values are still in force. Publishes what a start takes from it.
    """
    line = rules.at.line

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        return (lasting("lasts", rules.lasts),) if _split(local).phase == FADING else ()

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        return (Choice(Cells(DECAYED), says="what was in RAM decays", line=line),)

    def heard(local: Local, signal: str, reads: Reads) -> tuple[Choice, ...]:
        cells = _split(local)
        if signal == RESET:
            return (Choice(Cells(WHOLE, tuple(str(reads[name]) for name in read_as(rules.keeps)))),)
        if signal == DRAINED:
            return (Choice(replace(cells, phase=FADING) if cells.phase == WHOLE else cells),)
        if signal == BOOTS:
            return (Choice(replace(cells, phase=WHOLE) if cells.phase == FADING else cells),)
        if signal == STARTED:
            return (Choice(Cells(WHOLE)),)
        return tuple(_give(cells, values, line) for values in _readings(device, rules, cells))

    def shown(local: Local) -> tuple[Value, ...]:
        return (_split(local).gives,)

    return Part(
        name="ram",
        role="device",
        start=Cells(UNKNOWN if unknown else EMPTY if is_empty else WHOLE),
        publishes=(RAM_GIVES,),
        shown=shown,
        reads=read_as(rules.keeps),
        armed=armed,
        expired=expired,
        takes={RESET: (), DRAINED: (), BOOTS: (), RESTORE: (), STARTED: ()},
        heard=heard,
    )


def _readings(device: Device, rules: Ram, cells: Cells) -> tuple[Snapshot | None, ...]:
    """Everything that a start may believe."""
    if cells.phase == WHOLE:
        return (cells.held,)
    if cells.phase == UNKNOWN or (cells.phase == DECAYED and not rules.is_checked):
        return (None, *product(*(_legal(device, name) for name in rules.keeps)))
    return (None,)


def _legal(device: Device, name: str) -> tuple[str, ...]:
    return tuple(state.name for state in device.states) if name == "state" else device.variable(name).values


def _give(cells: Cells, values: Snapshot | None, line: int) -> Choice:
    whole = cells.phase == WHOLE
    told = f"RAM {'still holds' if whole else 'seems to hold'}: {', '.join(values)}" if values else ""
    return Choice(replace(cells, gives=values), says=told, line=line)


def _split(local: Local) -> Cells:
    assert isinstance(local, Cells)
    return local
