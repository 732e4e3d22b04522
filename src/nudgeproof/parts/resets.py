"""What resets the device although its cell is there: a power chip that watches a button, and a supervisor.

Each is a part that sends which it is, and `cut`; the supply makes a reset and a start of it, as after any interruption. A
power chip that leaves the device without power sends `switch off` instead, and has a switch that brings power back.
"""

from __future__ import annotations

from nudgeproof.model.tables import Choice, Local, Part, Reads, Timer, Value, lasting
from nudgeproof.parts.attention import Hearing
from nudgeproof.parts.sleep import RUNNING
from nudgeproof.parts.supply import BOOTS, CUT, DRAINED, FED, IS_OFF, POWERED, SWITCH_OFF, SWITCH_ON
from nudgeproof.spec.powered import CutOff, StaysOff, Supervisor
from nudgeproof.spec.types import Device

COUNTING, SPENT = "counting", "spent"
UNFED = "isn't fed"
LETS_GO = "lets go"
_SWITCHES_ON = " switches on"
BY_CUT_OFF, BY_SUPERVISOR = "cut by the power chip", "cut by the supervisor"


def cut_off_by(button: str) -> str:
    """The published name under which the chip says that it has reset the device and waits for an open contact."""
    return f"cut off by {button}"


def cut_off(rules: CutOff) -> Part:
    """The part for a power chip that resets everything once the contact was closed for long, whatever the firmware does.

    Local state: counting (while the contact is closed and there is power), or spent: it has reset the device, and waits for
    the contact to open. A chip that was without power counts anew. Takes the contact's edge and the supply's `drained`;
    sends `cut`, or `switch off`. Publishes `cut off by B`.
    """
    cuts = CUT if rules.off is None else SWITCH_OFF
    level = f"level {rules.button}"

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        counts = local == COUNTING and reads[FED] and reads[level]
        return (lasting("cuts off", rules.after),) if counts else ()

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        does = "resets everything" if rules.off is None else "switches everything off"
        says = f"{rules.button} has been closed for so long that the power chip {does}"
        return (Choice(SPENT, (BY_CUT_OFF, cuts), says=says, line=rules.at.line),)

    def heard(local: Local, signal: str, reads: Reads) -> tuple[Choice, ...]:
        return (Choice(local if signal != DRAINED and reads[level] else COUNTING),)

    def shown(local: Local) -> tuple[Value, ...]:
        return (local == SPENT,)

    return Part(
        name="cut-off",
        role="device",
        start=COUNTING,
        button=rules.button,
        publishes=(cut_off_by(rules.button),),
        shown=shown,
        reads=(level, FED),
        armed=armed,
        expired=expired,
        takes={f"edge {rules.button}": (), DRAINED: ()},
        heard=heard,
        sends=(BY_CUT_OFF, cuts),
    )


def power_switch(device: Device, rules: CutOff, off: StaysOff) -> Part:
    """The part for the switch of a power chip that leaves the device without power until a button closes anew.

    Local state: the buttons that have been closed ever since it was switched off; these don't switch it on. The firmware
    has it switch off by entering a state without power. Takes the contacts' edges and the supply's `drained` and `boots`;
    sends `switch off` and `switch on`.
    """
    unpowered = {state.name for state in device.states if state.unpowered}
    levels = {button: f"level {button}" for button in off.on_by}
    line = rules.at.line

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        if reads[IS_OFF]:
            counts = (button for button in off.on_by if reads[levels[button]] and button not in _split(local))
            return tuple(lasting(f"{button}{_SWITCHES_ON}", off.closed_for) for button in counts)
        leaves = reads[POWERED] and reads["state"] in unpowered
        return (lasting(LETS_GO, off.lets_go),) if leaves else ()

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        if timer == LETS_GO:
            return (Choice(local, (SWITCH_OFF,), says="the firmware has the power chip switch it off", line=line),)
        says = f"{timer.removesuffix(_SWITCHES_ON)} has the power chip switch it on"
        return (Choice(local, (SWITCH_ON,), says=says, line=line),)

    def heard(local: Local, signal: str, reads: Reads) -> tuple[Choice, ...]:
        if signal == DRAINED:
            return (Choice(tuple(button for button in off.on_by if reads[levels[button]])),)
        if signal == BOOTS:
            return (Choice(()),)
        return (Choice(tuple(button for button in _split(local) if reads[levels[button]])),)

    return Part(
        name="power switch",
        role="device",
        start=(),
        reads=(*levels.values(), IS_OFF, POWERED, "state"),
        armed=armed,
        expired=expired,
        takes={**{f"edge {button}": () for button in off.on_by}, DRAINED: (), BOOTS: ()},
        heard=heard,
        sends=(SWITCH_OFF, SWITCH_ON),
    )


def _split(local: Local) -> tuple[str, ...]:
    assert isinstance(local, tuple)
    return local


def supervisor(rules: Supervisor, hearing: Hearing) -> Part:
    """The part for a watchdog: a firmware that listens feeds it all the time, one that is busy or sleeps doesn't.

    It has nothing to remember. Takes the signal when the firmware begins to listen, or is free for once, which feeds it
    also if it is busy again at once; sends `cut`.
    """

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        waits = reads[POWERED] and not reads[hearing.value] and (reads[RUNNING] or rules.in_sleep)
        return (lasting(UNFED, rules.after),) if waits else ()

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        says = "the supervisor wasn't fed for so long that it resets everything"
        return (Choice(local, (BY_SUPERVISOR, CUT), says=says, line=rules.at.line),)

    def heard(local: Local, signal: str, reads: Reads) -> tuple[Choice, ...]:
        return (Choice(local, restart=(UNFED,)),)

    return Part(
        name="supervisor",
        role="device",
        start=COUNTING,
        reads=tuple(dict.fromkeys((POWERED, RUNNING, hearing.value))),
        armed=armed,
        expired=expired,
        takes=dict.fromkeys((hearing.begins, *hearing.free), ()),
        heard=heard,
        sends=(BY_SUPERVISOR, CUT),
    )
