"""The trail: an observer of where the device last rested and how it left. It never changes what the device does.

A person doesn't tell a state that only waits from the way on: between two states where the device stays there may be several
that it only passes. The trail remembers the one before them.
"""

from __future__ import annotations

from nudgeproof.model.tables import Choice, Local, Part, Reads, Value
from nudgeproof.parts.chart import CHANGED, LAPSED, STARTED
from nudgeproof.parts.supply import RESET
from nudgeproof.spec.types import Device

RESTED_IN = "rested in"
LEFT_BY = "left by"
GESTURE, TIME, START = "gesture", "time", "start"


def trail(device: Device, can_lose_power: bool) -> Part:
    """The part for the trail.

    Local state: (the last state that doesn't wait, how it was left or "" while it wasn't, whether just now). A waiting state
    in which the device begins counts as one it rested in. Publishes `rested in` and `left by`: `gesture`, `time`, or `start`
    (a start after a reset, also one in between). A reset that leaves a latched device without power arrives there.
    """
    waiting = {state.name for state in device.states if state.waiting}

    def heard(local: Local, signal: str, reads: Reads) -> tuple[Choice, ...]:
        rested, left_by, fresh = _split(local)
        state = str(reads["state"])
        if signal in (CHANGED, RESET):
            if state not in waiting:
                return (Choice((state, "", False)),)
            if signal == RESET:
                return (Choice(local),)
            return (Choice((rested, left_by or GESTURE, not left_by)),)
        if state not in waiting:
            return (Choice(local),)
        if signal == STARTED:
            return (Choice((rested, START, False)),)
        return (Choice((rested, TIME if fresh else left_by, False)),)

    def shown(local: Local) -> tuple[Value, ...]:
        rested, left_by, _ = _split(local)
        return (rested, left_by)

    return Part(
        name="trail",
        role="device",
        start=(device.initial, "", False),
        publishes=(RESTED_IN, LEFT_BY),
        shown=shown,
        reads=("state",),
        takes={CHANGED: (), LAPSED: (), **({STARTED: (), RESET: ()} if can_lose_power else {})},
        heard=heard,
    )


def _split(local: Local) -> tuple[str, str, bool]:
    assert isinstance(local, tuple)
    rested, left_by, fresh = local
    return rested, left_by, fresh
