"""A press that counts from power on, not from when it is accepted after the start.

The start-up time is blind: no level is read. Such a firmware takes a button that is closed when it starts to have been down
ever since power came, although that may be another press than the one that brought the power. So while the device starts,
the limits of a first press run, those of all states, since nobody knows yet in which it starts; at the start those of its
state count, and go on. From there it is a press that counts early as one that woke the processor does (see `from_wake`).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from nudgeproof.model.tables import Choice, Local, Part, Reads, Timer, Value
from nudgeproof.parts.chart import STARTED
from nudgeproof.parts.from_wake import Early
from nudgeproof.parts.recogniser import IDLE
from nudgeproof.parts.sleep import wakes
from nudgeproof.parts.supply import BOOTS, CUT, DRAINED, RESET
from nudgeproof.spec.types import Button, Device


@dataclass(frozen=True, slots=True)
class Boots:
    """Local state while the device starts. `over`: the limits of a first press that are over, in their order."""

    over: tuple[str, ...] = ()


def from_power(early: Part, device: Device, button: Button, begins_booting: bool) -> Part:
    """The recogniser of a button for a device in which its press counts from power on.

    `early`: one that `from_wake` has made able to begin a press early. Local state: that of it, or `Boots`;
    `begins_booting`: at first the device has just got power. Takes also `boots`, `cut` and `drained`.
    """
    limits = _first_limits(early, device, button)
    anew = Choice(Boots(), restart=tuple(limits))
    level = f"level {button.name}"

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        if isinstance(local, Boots):
            return tuple(timer for name, timer in limits.items() if name not in local.over)
        return early.armed(local, reads)

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        if isinstance(local, Boots):
            return (Choice(Boots((*local.over, timer))),)
        return early.expired(local, timer, reads)

    def starts(over: tuple[str, ...], reads: Reads) -> Choice:
        """The press of a button that is closed at the start, as far as it has come by then."""
        if not reads[level]:
            return Choice(IDLE)
        now = early.heard(IDLE, wakes(button.name), reads)[0].to
        assert isinstance(now, Early)
        now = replace(now, since="power came")
        for name in over:
            if name in {timer.name for timer in early.armed(now, reads)}:
                (now,) = (choice.to for choice in early.expired(now, name, reads))
        return Choice(now, says=f"the firmware finds {button.name} closed", line=button.at.line)

    def heard(local: Local, signal: str, reads: Reads) -> tuple[Choice, ...]:
        if signal == BOOTS:
            return (anew,)
        if signal in (CUT, DRAINED):
            if not isinstance(local, Boots):
                return (Choice(local),)
            return (anew if signal == CUT else Choice(IDLE),)  # without power its times would run for nothing
        if not isinstance(local, Boots):
            return early.heard(local, signal, reads)
        if signal == STARTED:
            return (starts(local.over, reads),)
        return (Choice(IDLE if signal == RESET else local),)

    def shown(local: Local) -> tuple[Value, ...]:
        return (False,) if isinstance(local, Boots) else early.shown(local)

    return Part(
        name=early.name,
        role=early.role,
        start=Boots() if begins_booting else early.start,
        button=early.button,
        publishes=early.publishes,
        shown=shown,
        reads=early.reads,
        armed=armed,
        expired=expired,
        takes={**early.takes, BOOTS: (), CUT: (), DRAINED: ()},
        heard=heard,
        sends=early.sends,
    )


def _first_limits(early: Part, device: Device, button: Button) -> dict[str, Timer]:
    """All limits and hold times of a first press, in whatever state it begins, by name."""
    found: dict[str, Timer] = {}
    for state in device.states:
        reads: dict[str, Value] = {**dict.fromkeys(early.reads, False), "state": state.name}
        begun = early.heard(IDLE, wakes(button.name), reads)[0].to
        found |= {timer.name: timer for timer in early.armed(begun, reads)}
    return found
