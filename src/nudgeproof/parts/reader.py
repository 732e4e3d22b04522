"""The reader of one button: turns a chattering level into accepted presses and releases.

Kind `steady for`: a new level is accepted once it has been steady for a time in `debounce`; every edge back starts over.
So nothing shorter than the minimum is ever accepted, and what lies between minimum and maximum may be. While the
firmware doesn't listen nothing is read; when it listens again the level found then is read as usual.
"""

from __future__ import annotations

from nudgeproof.model.tables import Choice, Local, Part, Reads, Timer, Value
from nudgeproof.parts.attention import Hearing
from nudgeproof.parts.chart import STARTED
from nudgeproof.parts.sleep import ASLEEP, READY, RUNNING
from nudgeproof.parts.supply import RESET
from nudgeproof.spec.types import Button

ACCEPTS = "accepts"
WHILE_RUNNING = Hearing(RUNNING, READY, ASLEEP)


def reader(button: Button, held_ignored: bool | None = None, hearing: Hearing = WHILE_RUNNING) -> Part:
    """The part for one reader.

    Local state: (reading, a change is pending). Takes `edge B`, the signals when the firmware begins and ends to listen,
    and, where power can be lost, `reset` and `started`; sends `down B` and `up B`. Publishes `reading B` (True is closed).
    `held_ignored`: at start-up a closed contact is read at once and without a press, so that only the next one counts;
    None: power can't be lost. `hearing`: how it knows whether the firmware listens.
    """
    level_name = f"level {button.name}"
    edge, down, up = f"edge {button.name}", f"down {button.name}", f"up {button.name}"
    line = button.at.line

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        _, pending = _split(local)
        return (Timer(ACCEPTS, button.debounce.lo, button.debounce.hi),) if pending else ()

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        closed = not _split(local)[0]
        says = f"the firmware takes {button.name} as {'pressed' if closed else 'released'}"
        return (Choice((closed, False), (down if closed else up,), says=says, line=line),)

    def heard(local: Local, signal: str, reads: Reads) -> tuple[Choice, ...]:
        reading, _ = _split(local)
        if signal == RESET:
            return (Choice((False, False)),)
        if signal == STARTED:
            return (Choice((bool(held_ignored and reads[level_name]), False)),)
        if signal == hearing.ends:
            return (Choice((reading, False)),)
        if signal == edge and not reads[hearing.value]:
            return (Choice(local),)
        return (Choice((reading, reads[level_name] != reading), restart=(ACCEPTS,), line=line),)

    def shown(local: Local) -> tuple[Value, ...]:
        return (_split(local)[0],)

    return Part(
        name=f"reader {button.name}",
        role="device",
        start=(False, False),
        button=button.name,
        publishes=(f"reading {button.name}",),
        shown=shown,
        reads=(level_name, hearing.value),
        armed=armed,
        expired=expired,
        takes={
            edge: (),
            hearing.begins: (),
            hearing.ends: (),
            **({RESET: (), STARTED: ()} if held_ignored is not None else {}),
        },
        heard=heard,
        sends=(down, up),
    )


def _split(local: Local) -> tuple[bool, bool]:
    assert isinstance(local, tuple)
    reading, pending = local
    return reading, pending
