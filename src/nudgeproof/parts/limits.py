"""Observers of what must come in time, and of what must come to rest. They never change what the device does.

A *limit* says that something must have happened a stated time after something else; equality counts for the maker, so the
observer's timer is one microsecond longer. *Settling* notes what the device is at some moment after the last action; if that
is left and met again although nobody did anything, the device never settles.
"""

from __future__ import annotations

from dataclasses import dataclass

from nudgeproof.model.tables import Choice, Local, Part, Reads, Timer, Value
from nudgeproof.parts.attention import GESTURES_WAIT, has_queue
from nudgeproof.parts.changes import meets, reads_of
from nudgeproof.parts.chart import CHANGED, RESTORED, STEPPED
from nudgeproof.parts.contact import held_by
from nudgeproof.parts.people import LEFT
from nudgeproof.parts.resets import cut_off_by
from nudgeproof.parts.rest import quiet_names
from nudgeproof.parts.sleep import ASLEEP, READY, RUNNING, SLEEPING
from nudgeproof.parts.supply import POWERED, RESET
from nudgeproof.spec.types import Condition, Device
from nudgeproof.units import FOREVER

LATE_NOW = "late"
SETTLES = "settling"
NOTED, AGAIN = "noted", "again"
IN_A_ROW = "brown-outs in a row"
CELLS_ARE_WEAK = "the cells are weak"

REACH, SLEEP, STAY = "reach", "sleep", "stay"


@dataclass(frozen=True, slots=True)
class Limit:
    """What must happen at most `within_us` after what.

    `kind`: `reach`: one of `states` is reached, with the values that `ending` wants, after the device was left alone;
    `sleep`: the processor sleeps after `source` closed `button` for good; `stay`: the one of `states` is left again after
    it was entered or last used (a start that brings it back is neither, nor is one of the events `no_use`).
    """

    kind: str
    within_us: int
    states: tuple[str, ...] = ()
    source: str = ""
    button: str = ""
    ending: Condition | None = None
    no_use: tuple[str, ...] = ()


def limit(device: Device, what: Limit, can_lose_power: bool) -> Part:
    """The observer for `what`. Publishes `late`."""
    return {REACH: _reach, SLEEP: _sleep}[what.kind](what) if what.kind != STAY else _stay(device, what, can_lose_power)


def _timer(what: Limit) -> Timer:
    return Timer("the limit", what.within_us + 1, what.within_us + 1)


def _is_late(local: Local) -> tuple[Value, ...]:
    return (local == LATE_NOW,)


def _reach(what: Limit) -> Part:
    """Local state: open, met or late."""

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        return (_timer(what),) if local == "open" and reads[LEFT] else ()

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        return (Choice(LATE_NOW, says="the time that was promised is over"),)

    def heard(local: Local, signal: str, reads: Reads) -> tuple[Choice, ...]:
        met = local == "open" and reads[LEFT] and reads["state"] in what.states and meets(what.ending, reads)
        return (Choice("met" if met else local),)

    return Part(
        name="limit",
        role="device",
        start="open",
        publishes=(LATE_NOW,),
        shown=_is_late,
        reads=(LEFT, "state", *reads_of(what.ending)),
        armed=armed,
        expired=expired,
        takes={CHANGED: (), **({STEPPED: ()} if what.ending is not None else {})},
        heard=heard,
    )


def _sleep(what: Limit) -> Part:
    """Local state: open, met or late."""
    held = held_by(what.source, what.button)

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        return (_timer(what),) if local == "open" and reads[held] else ()

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        return (Choice(LATE_NOW if reads[RUNNING] else "met", says="the time in which it should sleep is over"),)

    def heard(local: Local, signal: str, reads: Reads) -> tuple[Choice, ...]:
        return (Choice("met" if local == "open" and reads[held] else local),)

    return Part(
        name="limit",
        role="device",
        start="open",
        publishes=(LATE_NOW,),
        shown=_is_late,
        reads=(held, RUNNING),
        armed=armed,
        expired=expired,
        takes={ASLEEP: ()},
        heard=heard,
    )


def _stay(device: Device, what: Limit, can_lose_power: bool) -> Part:
    """Local state: out, in, late, or over: the time passed without power, so it is late if the state comes back."""
    (state,) = what.states
    named = dict.fromkeys(transition.gesture for transition in device.state(state).transitions)
    events = {name for name in named if name in device.event_names}
    used = {f"gesture {name}" for name in named if name not in events} | {
        f"event {name}" for name in events if name not in what.no_use
    }

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        return (_timer(what),) if local == "in" else ()

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        if can_lose_power and not reads[POWERED]:
            return (Choice("over"),)
        return (Choice(LATE_NOW, says=f"the longest time in {state} is over"),)

    def heard(local: Local, signal: str, reads: Reads) -> tuple[Choice, ...]:
        if local == LATE_NOW:
            return (Choice(local),)
        if reads["state"] != state:
            return (Choice("out"),)
        if local == "over":
            is_back = bool(reads[POWERED])
            return (
                (Choice(LATE_NOW, says=f"the device is in {state} again after its longest time"),)
                if is_back
                else (Choice(local),)
            )
        restored = can_lose_power and reads[RESTORED] is not None
        is_use = local == "out" or (signal in used and not restored)
        return (Choice("in", restart=("the limit",) if is_use else ()),)

    return Part(
        name="limit",
        role="device",
        start="in" if device.initial == state else "out",
        publishes=(LATE_NOW,),
        shown=_is_late,
        reads=("state", *((RESTORED, POWERED) if can_lose_power else ())),
        armed=armed,
        expired=expired,
        takes={
            CHANGED: (),
            **({RESET: ()} if can_lose_power else {}),
            **dict.fromkeys(sorted(used), ()),
        },
        heard=heard,
    )


def settling(device: Device, stuck: tuple[tuple[str, str], ...], sags: bool = False, weakens: bool = False) -> Part:
    """The observer of settling, once the device was left alone, each of `stuck` (source, button) has closed its button, and
    no contact chatters any more.

    Local state: watching; (noted, what the device was, whether it was left); again; exempt: a state that is meant to repeat
    came. Steps that a line `every` makes are declared, and don't count by themselves. What the device is: its state,
    the values of all variables, whether the processor sleeps, which buttons read down or have a pattern pending, which
    gestures wait for a busy firmware, and whether a power chip waits for its button to open; and where a load may reset it
    (`sags`), how often that came in a row; where the cells get weak at some moment (`weakens`), whether they are. A reset
    leaves whatever it was. Publishes `settling`.
    """
    states = {state.name: state for state in device.states}
    values = tuple(f"value {variable.name}" for variable in device.variables)
    pending = quiet_names(button.name for button in device.buttons)
    held = tuple(held_by(source, button) for source, button in stuck)
    rules = device.supply.cut_off if device.supply is not None else None
    spent = (cut_off_by(rules.button),) if rules is not None else ()
    spent = (*spent, *((IN_A_ROW,) if sags else ()), *((CELLS_ARE_WEAK,) if weakens else ()))
    spent = (*spent, GESTURES_WAIT) if has_queue(device) else spent
    quiet = tuple(f"quiet {button.name}" for button in device.buttons)

    def now(reads: Reads) -> tuple[Value, ...]:
        return (reads["state"], *(reads[name] for name in (*values, *pending, *spent)), reads[SLEEPING])

    def alone(reads: Reads) -> bool:
        return bool(reads[LEFT]) and all(reads[name] for name in (*held, *quiet))

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        return (Timer("notes", 0, FOREVER),) if local == ("watching",) and alone(reads) else ()

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        return (Choice((NOTED, now(reads), False)),)

    def heard(local: Local, signal: str, reads: Reads) -> tuple[Choice, ...]:
        assert isinstance(local, tuple)
        if local[0] != NOTED:
            return (Choice(local),)
        if signal == CHANGED and states[str(reads["state"])].repeats:
            return (Choice(("exempt",)),)
        _, noted, left = local
        same = signal != RESET and noted == now(reads)
        return (Choice((AGAIN,) if left and same else (NOTED, noted, left or not same)),)

    def shown(local: Local) -> tuple[Value, ...]:
        assert isinstance(local, tuple)
        return (local[0],)

    return Part(
        name="settling",
        role="device",
        start=("watching",),
        publishes=(SETTLES,),
        shown=shown,
        reads=(LEFT, "state", *values, *pending, *spent, SLEEPING, *held, *quiet),
        armed=armed,
        expired=expired,
        takes={CHANGED: (), ASLEEP: (), READY: (), **({RESET: ()} if device.resets or sags else {})},
        heard=heard,
    )
