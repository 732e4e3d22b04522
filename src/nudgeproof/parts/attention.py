"""Whether the firmware listens: it runs, isn't busy with a state it has just entered, and isn't deaf from writing memory.

While it doesn't listen, edges are not read and events are lost; when it listens again, the level found then is treated like
an edge. The part exists only for devices that can be deaf while they run; for all others `running` says as much.

A button may be read in an interrupt, with its recogniser: these ask only whether the processor runs. What such a recogniser
comes to is told here first. A firmware that listens sees it at once. Otherwise it waits in a queue, until the firmware is
free: then what waits is done, one after the other, each until the firmware is free again, and only then it listens.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from nudgeproof.model.tables import Choice, Local, Part, Reads, Timer, Value
from nudgeproof.parts.chart import CHANGED
from nudgeproof.parts.sleep import ASLEEP, DEAF, READY, RUNNING
from nudgeproof.parts.supply import RESET
from nudgeproof.spec.types import Device

LISTENING = "listening"
QUEUE_FULL = "the queue is full: it is lost"
HEARS, STOPS_HEARING = "hears", "stops hearing"
WRITES, WROTE = "writes", "wrote"
RECOGNISED = "recognised "
GESTURES_WAIT = "gestures wait"
TAKES = "takes one that waits"
GOES_ON = "goes on"


@dataclass(frozen=True, slots=True)
class Hearing:
    """The names by which others know whether the firmware listens: the value, and the signals when that begins and ends.

    `free`: further signals that it is free for once, although it doesn't listen yet.
    """

    value: str
    begins: str
    ends: str
    free: tuple[str, ...] = ()


WHILE_RUNNING = Hearing(RUNNING, READY, ASLEEP)


def hearing(device: Device) -> Hearing:
    """How one knows it of this device."""
    if not can_be_deaf(device):
        return WHILE_RUNNING
    return Hearing(LISTENING, HEARS, STOPS_HEARING, (TAKES,) if has_queue(device) else ())


def has_queue(device: Device) -> bool:
    """Whether gestures may wait until the firmware is free."""
    return can_be_deaf(device) and any(button.in_interrupt for button in device.buttons)


def can_be_deaf(device: Device) -> bool:
    """Whether the firmware may run and yet not listen."""
    return any(state.busy is not None for state in device.states) or writes_deaf(device)


def writes_deaf(device: Device) -> bool:
    """Whether the firmware is deaf while it writes memory."""
    return device.memory is not None and device.memory.deaf


@dataclass(frozen=True, slots=True)
class Attention:
    """Local state. `busy`: the state whose busy time isn't over, "" if none. `queue`: the gestures that wait, the first one
    first. `does`: one of them was just taken, and nothing has made the firmware busy since.
    """

    runs: bool
    busy: str = ""
    writes: bool = False
    queue: tuple[str, ...] = ()
    does: bool = False

    @property
    def listens(self) -> bool:
        """Whether edges are read and events are seen."""
        return self.runs and not self.is_deaf

    @property
    def is_deaf(self) -> bool:
        """Whether the firmware wouldn't listen even if it runs."""
        return self.is_occupied or bool(self.queue) or self.does

    @property
    def is_occupied(self) -> bool:
        """Whether the firmware couldn't even take what waits."""
        return bool(self.busy) or self.writes


def attention(device: Device, can_lose_power: bool, begins_off: bool = False) -> Part:
    """The part for a device that can be deaf.

    Takes `ready`, `asleep`, the chart's `changed`, memory's `writes` and `wrote` and, where power can be lost, `reset`;
    sends `hears` and `stops hearing`. Publishes `listening` and `deaf` (it has no ear, whether or not the processor
    runs). `begins_off`: at first there is no power. With a queue it takes `recognised G` too, and sends `gesture G` and
    `takes one that waits`; it publishes the gestures that wait.
    """
    read = tuple(button.name for button in device.buttons if button.in_interrupt)
    queued = tuple(gesture.name for gesture in device.gestures if gesture.chord is None and gesture.button in read)
    busy = {state.name: state.busy for state in device.states if state.busy is not None}

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        now = _split(local)
        if now.busy:
            return (Timer(f"busy in {now.busy}", busy[now.busy].lo, busy[now.busy].hi),)
        return (Timer(GOES_ON, 0, 0),) if now.runs and now.is_deaf and not now.is_occupied else ()

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        now = _split(local)
        if timer == GOES_ON:
            return (take(now) if now.queue else _become(now, replace(now, does=False)),)
        free = replace(now, busy="")
        says = "the firmware listens again" if free.listens else "the firmware is no longer busy"
        return (_become(now, free, says=says),)

    def take(now: Attention) -> Choice:
        """The firmware is free and does the first of what waits."""
        name, *others = now.queue
        says = f"the firmware is free, and sees {name}, which waited"
        line = device.gesture(name).at.line
        return Choice(replace(now, queue=tuple(others), does=True), (TAKES, f"gesture {name}"), says=says, line=line)

    def recognised(now: Attention, name: str) -> Choice:
        """A gesture of a button that is read in an interrupt."""
        line = device.gesture(name).at.line
        if now.listens:
            return Choice(now, (f"gesture {name}",), says=f"the firmware sees {name}", line=line)
        if len(now.queue) == device.queue:
            says = f"an interrupt recognises {name}, and {QUEUE_FULL}"
            return Choice(now, says=says, line=line)
        says = f"an interrupt recognises {name}, which waits until the firmware is free"
        return Choice(replace(now, queue=(*now.queue, name)), says=says, line=line)

    def heard(local: Local, signal: str, reads: Reads) -> tuple[Choice, ...]:
        now = _split(local)
        if signal == RESET:
            return (Choice(Attention(False)),)
        if signal.startswith(RECOGNISED):
            return (recognised(now, signal.removeprefix(RECOGNISED)),)
        if signal == CHANGED:
            state = str(reads["state"])
            if state not in busy:
                return (Choice(local),)
            line = device.state(state).at.line
            says = f"the firmware is busy in {state}" + (" and deaf" if len(read) < len(device.buttons) else "")
            return (_become(now, replace(now, busy=state, does=False), (f"busy in {state}",), says, line),)
        if signal in (WRITES, WROTE):
            return (_become(now, replace(now, writes=signal == WRITES, does=now.does and signal == WROTE)),)
        return (_become(now, replace(now, runs=signal == READY)),)

    def shown(local: Local) -> tuple[Value, ...]:
        now = _split(local)
        return (now.listens, now.is_deaf, *((now.queue,) if queued else ()))

    return Part(
        name="attention",
        role="device",
        start=Attention(device.state(device.initial).sleep is None and not begins_off),
        publishes=(LISTENING, DEAF, *((GESTURES_WAIT,) if queued else ())),
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
            **{RECOGNISED + name: (f"gesture {name}",) for name in queued},
        },
        heard=heard,
        sends=(HEARS, *((TAKES,) if queued else ()), *(f"gesture {name}" for name in queued)),
    )


def into_queue(recogniser: Part) -> Part:
    """The recogniser of a button that is read in an interrupt: what it comes to is told to the part above, not done.

    Local state: that of the recogniser. Sends `recognised G` in place of `gesture G`.
    """

    def told(signals: tuple[str, ...]) -> tuple[str, ...]:
        return tuple(s.replace("gesture ", RECOGNISED, 1) if s.startswith("gesture ") else s for s in signals)

    def tell(choices: tuple[Choice, ...]) -> tuple[Choice, ...]:
        return tuple(replace(choice, send=told(choice.send), says="") if choice.send else choice for choice in choices)

    return replace(
        recogniser,
        expired=lambda local, timer, reads: tell(recogniser.expired(local, timer, reads)),
        takes={signal: told(answers) for signal, answers in recogniser.takes.items()},
        heard=lambda local, signal, reads: tell(recogniser.heard(local, signal, reads)),
        sends=told(recogniser.sends),
    )


def _become(
    before: Attention, after: Attention, restart: tuple[str, ...] = (), says: str = "", line: int = 0
) -> Choice:
    send = () if before.listens == after.listens else ((HEARS,) if after.listens else (STOPS_HEARING,))
    return Choice(after, send, restart, says, line)


def _split(local: Local) -> Attention:
    assert isinstance(local, Attention)
    return local
