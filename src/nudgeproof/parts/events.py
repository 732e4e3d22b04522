"""Outside events: who makes them, and how the firmware comes to see them.

An event is over as soon as it is there. A firmware that listens sees it at once; otherwise it is lost, but for one: while
the processor sleeps or wakes, the first event that may wake it (see `sleep`) is kept and seen once the firmware listens.
"""

from __future__ import annotations

from typing import Literal

from nudgeproof.model.tables import Choice, Local, Part, Reads, Timer
from nudgeproof.parts.attention import Hearing
from nudgeproof.parts.people import LEFT
from nudgeproof.parts.sleep import OUTSIDE, RUNNING
from nudgeproof.parts.supply import POWERED, RESET
from nudgeproof.spec.outside import Maker
from nudgeproof.spec.types import Device
from nudgeproof.units import FOREVER

EVENT = "event "
EVENT_WAITS = "an event waits"
HAPPENS = "happens"

When = Literal["always", "until left", "once left"]
"""When a source may act: all the time, or only until the device is left alone, or only from then on."""


def watched_by(when: When) -> tuple[str, ...]:
    """What a source must read to know whether it may act now."""
    return () if when == "always" else (LEFT,)


def may_act(when: When, reads: Reads) -> bool:
    """Whether a source may act now."""
    return when == "always" or bool(reads[LEFT]) == (when == "once left")


def maker(what: Maker, when: When) -> Part:
    """The part for a source of events, which come in turn. Local state: (acted before, which event is the next).

    Sends `outside E`.
    """

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        acted, _ = _split(local)
        return (Timer(HAPPENS, what.apart_us if acted else 0, FOREVER),) if may_act(when, reads) else ()

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        _, number = _split(local)
        event = what.events[number]
        says = event if event == what.name else f"{what.name}: {event}"
        after = (True, (number + 1) % len(what.events))
        return (Choice(after, (OUTSIDE + event,), says=says, line=what.at.line, actions=1),)

    return Part(
        name=what.name,
        role="disturbance",
        start=(False, 0),
        reads=watched_by(when),
        armed=armed,
        expired=expired,
        sends=tuple(OUTSIDE + event for event in what.events),
    )


def delivery(device: Device, made: tuple[str, ...], hearing: Hearing, can_lose_power: bool) -> Part:
    """The part that hands events on to the firmware; `made` are those that the environment can make.

    Local state: the event that is kept until the firmware listens, "" if none. Sends `event E`; publishes whether one is
    kept.
    """
    counting = {event.name for event in device.events if event.counts}
    waking = {state.name: state.sleep.waking_events for state in device.states if state.sleep is not None}

    def heard(local: Local, signal: str, reads: Reads) -> tuple[Choice, ...]:
        if signal == RESET:
            return (Choice(""),)
        if signal == hearing.begins:
            return (Choice("", (EVENT + str(local),)),) if local else (Choice(local),)
        event = signal.removeprefix(OUTSIDE)
        if reads[hearing.value]:
            return (Choice(local, (EVENT + event,)),)
        if can_lose_power and not reads[POWERED]:
            return (Choice(local, says=f"{event} is lost: the device is off"),)
        if reads[RUNNING]:
            return (Choice(local, says=f"{event} is lost: the firmware doesn't listen"),)
        if event not in waking.get(str(reads["state"]), ()):
            return (Choice(local, says=f"{event} is lost: the processor sleeps"),)
        if event not in counting:
            return (Choice(local),)
        return (Choice(event),) if not local else (Choice(local, says=f"{event} is lost: one event waits already"),)

    events = tuple(EVENT + event for event in made)
    return Part(
        name="events",
        role="device",
        start="",
        publishes=(EVENT_WAITS,),
        shown=lambda local: (bool(local),),
        reads=("state", *dict.fromkeys((RUNNING, hearing.value)), *((POWERED,) if can_lose_power else ())),
        takes={
            **{OUTSIDE + event: (EVENT + event,) for event in made},
            hearing.begins: events,
            **({RESET: ()} if can_lose_power else {}),
        },
        heard=heard,
    )


def any_event(device: Device, what: Maker, can_lose_power: bool) -> Part:
    """A stand-in for one source and the latch, wider than both: each event is seen at some moment, or lost.

    An event that is kept is seen later than it came, by one `ready in` at most, and where the firmware may be deaf by more;
    so two are seen that much closer to each other than they came. Local state: as of `maker`.
    """
    deaf = any(state.busy is not None for state in device.states) or (device.memory is not None and device.memory.deaf)
    later = max((int(state.sleep.ready.hi) for state in device.states if state.sleep is not None), default=0)
    apart = 0 if deaf else max(0, what.apart_us - later)

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        return (Timer(HAPPENS, apart if _split(local)[0] else 0, FOREVER),)

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        _, number = _split(local)
        after = (True, (number + 1) % len(what.events))
        off = can_lose_power and not reads[POWERED]
        return (Choice(after),) if off else (Choice(after, (EVENT + what.events[number],)), Choice(after))

    return Part(
        name=f"any event of {what.name}",
        role="disturbance",
        start=(False, 0),
        reads=(POWERED,) if can_lose_power else (),
        armed=armed,
        expired=expired,
        sends=tuple(EVENT + event for event in what.events),
    )


def _split(local: Local) -> tuple[bool, int]:
    assert isinstance(local, tuple)
    acted, number = local
    return acted, number
