"""The ledger: an observer of what may still be found after an interruption. It never changes what the device does.

It watches the state and all variables, kept or not. The rule: after an interruption all kept values equal what was in
force together at one instant between the loss of contact minus `may lose` and the reset. Equality counts for the maker:
what changed exactly `may lose` before the loss is still allowed. A device that starts while the cell is gone again is
already within the next interruption.
"""

from __future__ import annotations

from nudgeproof.model.tables import Choice, Local, Part, Reads, Timer, Value
from nudgeproof.parts.changes import start_values
from nudgeproof.parts.chart import CHANGED, STARTED, STEPPED
from nudgeproof.parts.memory import Snapshot, read_as, snapshot, whole
from nudgeproof.parts.supply import RECOVERS, SAGS, STEADY
from nudgeproof.spec.types import Device

ALLOWED = "allowed"
NO_BREAK = "\u00a0"

_Old = tuple[Snapshot, ...]
_Kept = frozenset[Snapshot] | None


def ledger(device: Device) -> Part:
    """The part for the ledger.

    Local state: (what is in force, what else was within `may lose`, what is allowed since the loss of contact or None). Of
    what was in force several times only the last time counts. Publishes `allowed`: None, or the set of snapshots that may
    be found.
    """
    assert device.memory is not None
    window = device.memory.may_lose_us + 1
    names = whole(device)
    values = {f"value {name}": value for name, value in start_values(device).items()}
    first = snapshot(device, names, {"state": device.initial, **values})

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        _, old, _ = _split(local)
        return tuple(Timer(_name(values), window, window) for values in old)

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        now, old, allowed = _split(local)
        return (Choice((now, tuple(values for values in old if _name(values) != timer), allowed)),)

    def heard(local: Local, signal: str, reads: Reads) -> tuple[Choice, ...]:
        now, old, allowed = _split(local)
        if signal == SAGS:
            if allowed is None:
                allowed = frozenset({now, *old})
            return (Choice((now, old, allowed)),)
        if signal == RECOVERS:
            return (Choice((now, old, None)),)
        new = snapshot(device, names, reads)
        if signal == STARTED:
            return (Choice((new, (), None if reads[STEADY] else frozenset({new}))),)
        if new == now:
            return (Choice(local),)
        past = tuple(sorted({*old, now} - {new}))
        return (Choice((new, past, allowed if allowed is None else allowed | {new}), restart=(_name(now),)),)

    def shown(local: Local) -> tuple[Value, ...]:
        return (_split(local)[2],)

    return Part(
        name="ledger",
        role="device",
        start=(first, (), frozenset({first}) if device.state(device.initial).unpowered else None),
        publishes=(ALLOWED,),
        shown=shown,
        reads=(*read_as(names), STEADY),
        armed=armed,
        expired=expired,
        takes={CHANGED: (), STEPPED: (), STARTED: (), SAGS: (), RECOVERS: ()},
        heard=heard,
    )


def _name(values: Snapshot) -> str:
    # The blanks within values are others than those between them, so that no two snapshots have one name.
    return f"{' '.join(value.replace(' ', NO_BREAK) for value in values)} was in force"


def _split(local: Local) -> tuple[Snapshot, _Old, _Kept]:
    assert isinstance(local, tuple)
    now, old, allowed = local
    return now, old, allowed
