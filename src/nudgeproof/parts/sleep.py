"""The processor: awake, going to sleep step by step, asleep, waking.

Going to sleep is not one moment. The wake flag is cleared, the wake source armed, everything checked once more, and only
then does the processor drop off; an edge may come between any two of these steps. A flag set after the clearing prevents
sleep. When the chart enters a state, all this is given up and begins anew. In this order no wake is lost; the order is kept
as steps so that it can be shown.
"""

from __future__ import annotations

from nudgeproof.model.tables import Choice, Local, Part, Reads, Timer, Value
from nudgeproof.parts.chart import CHANGED, STARTED
from nudgeproof.parts.rest import is_quiet, quiet_names
from nudgeproof.parts.supply import RESET
from nudgeproof.spec.types import Device, Sleep
from nudgeproof.units import Span

RUNNING = "running"
READY = "ready"
ASLEEP = "asleep"

_STEPS = {"clearing": "clears its wake flag", "arming": "arms the wake source", "checking": "looks once more"}


def sleep(device: Device, can_lose_power: bool = False) -> Part:
    """The part for the processor of a device.

    Local state: (phase, wake flag). Takes `edge B` of every button, the chart's `changed` and, where power can be lost,
    `reset` and `started`; sends `ready` (it runs again) and `asleep`. Publishes `running`. The chart's state decides whether
    and how it may sleep.
    """
    kinds = {state.name: state.sleep for state in device.states if state.sleep is not None}
    buttons = tuple(button.name for button in device.buttons)

    def kind(reads: Reads) -> Sleep | None:
        return kinds.get(str(reads["state"]))

    def woken(kind: Sleep, reads: Reads) -> bool:
        """Whether a level that counts as a wake event is there now."""
        return kind.on == "level" and any(reads[f"level {b}"] for b in kind.woken_by)

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        phase, _ = _split(local)
        now = kind(reads)
        if now is None or phase == "off":
            return ()
        if phase == "awake":
            return (_timer(f"dozes in {reads['state']}", now.doze),) if is_quiet(reads.__getitem__, buttons) else ()
        if phase == "asleep":
            return ()
        return (_timer(phase, now.ready if phase == "waking" else now.step),)

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        phase, flag = _split(local)
        now = kind(reads)
        assert now is not None
        line = now.at.line
        if phase == "awake":
            return (Choice(("clearing", False), says="the processor begins to go to sleep", line=line),)
        if phase == "clearing":
            return (Choice(("arming", False), says=_says(phase), line=line),)
        if phase == "arming":
            return (Choice(("checking", flag), says=_says(phase), line=line),)
        if phase == "checking":
            open_ = not any(reads[f"level {b}"] for b in buttons)
            still = is_quiet(reads.__getitem__, buttons) and not flag and open_
            return (Choice(("dropping", False) if still else ("awake", False), says=_says(phase), line=line),)
        if phase == "dropping":
            if flag or woken(now, reads):
                return (Choice(("awake", False), says="the wake flag keeps the processor from sleeping", line=line),)
            return (Choice(("asleep", False), (ASLEEP,), says="the processor sleeps", line=line),)
        return (Choice(("awake", False), (READY,), says="the processor runs", line=line),)

    def heard(local: Local, signal: str, reads: Reads) -> tuple[Choice, ...]:
        phase, flag = _split(local)
        if signal == RESET:
            return (Choice(("off", False)),)
        if signal == STARTED:
            return (Choice(("awake", False), (READY,)),)
        if signal == CHANGED:
            to = ("awake", False) if phase in (*_STEPS, "dropping") else local
            return (Choice(to, restart=(f"dozes in {reads['state']}",)),)
        now = kind(reads)
        button = signal.removeprefix("edge ")
        if now is None or button not in now.woken_by or (now.on == "level" and not woken(now, reads)):
            return (Choice(local),)
        if phase == "asleep":
            return (Choice(("waking", False), says=f"the edge on {button} wakes the processor", line=now.at.line),)
        return (Choice((phase, flag or phase in ("arming", "checking", "dropping"))),)

    def shown(local: Local) -> tuple[Value, ...]:
        return (_split(local)[0] not in ("asleep", "waking", "off"),)

    asleep_at_first = device.state(device.initial).sleep is not None
    return Part(
        name="processor",
        role="device",
        start=("asleep" if asleep_at_first else "awake", False),
        publishes=(RUNNING,),
        shown=shown,
        reads=("state", *(f"level {b}" for b in buttons), *quiet_names(buttons)),
        armed=armed,
        expired=expired,
        takes={
            **{f"edge {b}": () for b in buttons},
            CHANGED: (),
            **({RESET: (), STARTED: (READY,)} if can_lose_power else {}),
        },
        heard=heard,
        sends=(READY, ASLEEP),
    )


def _timer(name: str, span: Span) -> Timer:
    return Timer(name, span.lo, span.hi)


def _says(phase: str) -> str:
    return f"going to sleep, the processor {_STEPS[phase]}"


def _split(local: Local) -> tuple[str, bool]:
    assert isinstance(local, tuple)
    phase, flag = local
    return phase, flag
