"""Whether the firmware listens: it runs, isn't busy with a state it has just entered, and isn't deaf from writing memory.

While it doesn't listen, edges are not read and events are lost; when it listens again, the level found then is treated like
an edge. The part exists only for devices that can be deaf while they run; for all others `running` says as much.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from nudgeproof.model.tables import Choice, Local, Part, Reads, Timer, Value
from nudgeproof.parts.chart import CHANGED
from nudgeproof.parts.sleep import ASLEEP, DEAF, READY, RUNNING
from nudgeproof.parts.supply import RESET
from nudgeproof.spec.types import Device

LISTENING = "listening"
HEARS, STOPS_HEARING = "hears", "stops hearing"
WRITES, WROTE = "writes", "wrote"


@dataclass(frozen=True, slots=True)
class Hearing:
    """The names by which others know whether the firmware listens: the value, and the signals when that begins and ends."""

    value: str
    begins: str
    ends: str


def hearing(device: Device) -> Hearing:
    """How one knows it of this device."""
    return Hearing(LISTENING, HEARS, STOPS_HEARING) if can_be_deaf(device) else Hearing(RUNNING, READY, ASLEEP)


def can_be_deaf(device: Device) -> bool:
    """Whether the firmware may run and yet not listen."""
    return any(state.busy is not None for state in device.states) or writes_deaf(device)


def writes_deaf(device: Device) -> bool:
    """Whether the firmware is deaf while it writes memory."""
    return device.memory is not None and device.memory.deaf


@dataclass(frozen=True, slots=True)
class Attention:
    """Local state. `busy`: the state whose busy time isn't over, "" if none."""

    runs: bool
    busy: str = ""
    writes: bool = False

    @property
    def listens(self) -> bool:
        """Whether edges are read and events are seen."""
        return self.runs and not self.is_deaf

    @property
    def is_deaf(self) -> bool:
        """Whether the firmware wouldn't listen even if it runs."""
        return bool(self.busy) or self.writes


def attention(device: Device, can_lose_power: bool, begins_off: bool = False) -> Part:
    """The part for a device that can be deaf.

    Takes `ready`, `asleep`, the chart's `changed`, memory's `writes` and `wrote` and, where power can be lost, `reset`;
    sends `hears` and `stops hearing`. Publishes `listening` and `deaf` (it has no ear, whether or not the processor
    runs). `begins_off`: at first there is no power.
    """
    busy = {state.name: state.busy for state in device.states if state.busy is not None}

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        name = _split(local).busy
        if not name:
            return ()
        return (Timer(f"busy in {name}", busy[name].lo, busy[name].hi),)

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        return (_become(_split(local), replace(_split(local), busy=""), says="the firmware listens again"),)

    def heard(local: Local, signal: str, reads: Reads) -> tuple[Choice, ...]:
        now = _split(local)
        if signal == RESET:
            return (Choice(Attention(False)),)
        if signal == CHANGED:
            state = str(reads["state"])
            if state not in busy:
                return (Choice(local),)
            line = device.state(state).at.line
            says = f"the firmware is busy in {state} and deaf"
            return (_become(now, replace(now, busy=state), (f"busy in {state}",), says, line),)
        if signal in (WRITES, WROTE):
            return (_become(now, replace(now, writes=signal == WRITES)),)
        return (_become(now, replace(now, runs=signal == READY)),)

    def shown(local: Local) -> tuple[Value, ...]:
        return (_split(local).listens, _split(local).is_deaf)

    return Part(
        name="attention",
        role="device",
        start=Attention(device.state(device.initial).sleep is None and not begins_off),
        publishes=(LISTENING, DEAF),
        shown=shown,
        reads=("state",),
        armed=armed,
        expired=expired,
        takes={
            READY: (HEARS,),
            ASLEEP: (STOPS_HEARING,),
            CHANGED: (STOPS_HEARING,),
            WRITES: (STOPS_HEARING,),
            WROTE: (HEARS,),
            **({RESET: ()} if can_lose_power else {}),
        },
        heard=heard,
        sends=(HEARS,),
    )


def _become(
    before: Attention, after: Attention, restart: tuple[str, ...] = (), says: str = "", line: int = 0
) -> Choice:
    send = () if before.listens == after.listens else ((HEARS,) if after.listens else (STOPS_HEARING,))
    return Choice(after, send, restart, says, line)


def _split(local: Local) -> Attention:
    assert isinstance(local, Attention)
    return local
