"""The supply: the cell loses contact, the hold-up time runs out, everything is reset, power comes back, the firmware starts.

A loss shorter than the hold-up time goes unnoticed; the capacitor is taken to be full again at once afterwards. A longer
one resets the device: what was not in memory is gone. When the cell is back it takes a start-up time until memory is read
and the firmware runs; contacts may do anything meanwhile.
"""

from __future__ import annotations

from nudgeproof.model.tables import Choice, Local, Part, Reads, Timer, Value, lasting
from nudgeproof.parts.people import LEFT
from nudgeproof.spec.types import Outage, PowerUp, Supply
from nudgeproof.units import FOREVER

POWERED = "powered"
STEADY = "steady"
CELL = "cell"
CELL_IS_BACK = "cell is back"
CELL_IS_LOST = "cell is lost"
OPENS_CELL = " opens the cell"
HELD = "latch holds"
RESET = "reset"
RESTORE = "restore"
SAGS = "sags"
RECOVERS = "recovers"
BOOTS = "boots"
CUT = "cut"
FED = "fed"
DRAINED = "drained"
UNSTEADY = "unsteady"
HOLDS_UP = "holds up"
SWITCH_OFF, SWITCH_ON = "switch off", "switch on"
WENT_OFF = "went off"
IS_OFF = "switched off"

_POWERED = ("up", "sagging")
_UNFED = ("down", "off", IS_OFF)


def outage(what: Outage, waits: bool) -> Part:
    """A source that opens the cell's contact. With `waits` it acts only after the device was left alone."""
    line = what.at.line

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        if local == "gone":
            return (Timer(CELL_IS_BACK, what.gone.lo, what.gone.hi),)
        if waits and not reads[LEFT]:
            return ()
        return (Timer(CELL_IS_LOST, 0 if local == "fresh" else what.apart_us, FOREVER),)

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        if local == "gone":
            return (Choice("apart", (CELL,), says=f"{what.name}: the cell is back", line=line, actions=1),)
        return (Choice("gone", (CELL,), says=f"{what.name}: the cell loses contact", line=line, actions=1),)

    return Part(
        name=what.name,
        role="disturbance",
        start="fresh",
        publishes=(opened_by(what.name),),
        shown=lambda local: (local == "gone",),
        reads=(LEFT,) if waits else (),
        armed=armed,
        expired=expired,
        sends=(CELL,),
    )


def _timer(told: Value) -> Timer:
    assert isinstance(told, tuple)
    name, low, high, _ = told
    return Timer(name, low, high)


def opened_by(source: str) -> str:
    """The published name under which an outage says that it keeps the cell away."""
    return f"{source}{OPENS_CELL}"


def supply(
    rules: Supply,
    power_up: PowerUp,
    outages: tuple[str, ...],
    start: str = "up",
    is_minded: bool = False,
    is_reckoned: bool = False,
) -> Part:
    """The part for the supply; `start`: `up`, `starting` (the device has just got power), `off` or `switched off`.

    Local state: up, sagging, down, starting, starting with the cell gone again (`sagging start`); off: the cell is there and
    the latch open, with no key that closes it; or switched off by a power chip, which forgets that once the cell is gone.
    Takes `cell` and, with a latch, the edges of the keys that close it; sends `reset`, `restore` (memory is to be read),
    `sags`, `recovers` and `boots` (there is power again after a reset, or at first). Publishes `powered` and `steady`. With
    `is_minded` other parts mind whether there is power at all, and may reset the device although its cell is there (see
    `parts.resets`): it takes their `cut`, sends `drained` when it is without power, and publishes `fed` (whether it isn't)
    and `unsteady`. Where a power chip leaves the device without power, it also takes its `switch off` and `switch on`, sends
    `went off` and publishes `switched off`. `is_reckoned`: a capacitor says how long it holds up (see `parts.capacitor`).
    """
    line = rules.at.line
    keys = tuple(f"level {button}" for button in rules.latch.closed_by) if rules.latch is not None else ()
    away = tuple(opened_by(name) for name in outages)
    has_switch = rules.cut_off is not None and rules.cut_off.off is not None

    def without(reads: Reads) -> str:
        """Where the supply is without power: down, or off where only the latch is open."""
        return "off" if keys and not any(reads[name] for name in away) else "down"

    stated = lasting("hold-up", rules.hold_up)
    starts = lasting("starts", power_up.takes)

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        hold_up = _timer(reads[HOLDS_UP]) if is_reckoned else stated
        return {"sagging": (hold_up,), "starting": (starts,), "sagging start": (hold_up, starts)}.get(str(local), ())

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        if timer == starts.name:
            to = "up" if local == "starting" else "sagging"
            return (Choice(to, (RESTORE,), says="the firmware starts and reads its memory", line=power_up.at.line),)
        says = "the supply is too low: everything is reset"
        send = ((RESET,) if local == "sagging" else ()) + ((DRAINED,) if is_minded else ())
        return (Choice(without(reads), send, says=says, line=line),)

    def cut(local: Local, reads: Reads) -> tuple[Choice, ...]:
        """The device is reset as it is: it starts at once, with what power there is. A latch is open then."""
        if local in _UNFED:
            return (Choice(local),)
        gone = any(reads[name] for name in away) or bool(keys and not any(reads[name] for name in keys))
        send = {"up": (SAGS, RESET, BOOTS), "sagging": (RESET, BOOTS)}.get(str(local), ())
        return (Choice("sagging start" if gone else "starting", send, restart=(starts.name,)),)

    def switched(local: Local, signal: str, reads: Reads) -> tuple[Choice, ...]:
        """The power chip takes all power away at once, or gives it back."""
        if signal == SWITCH_ON:
            return (Choice("starting", (BOOTS,)),)
        to = "down" if any(reads[name] for name in away) else IS_OFF
        runs = {"up": (SAGS, RESET), "sagging": (RESET,)}.get(str(local), ())
        return (Choice(to, (*runs, DRAINED, WENT_OFF)),)

    def heard(local: Local, signal: str, reads: Reads) -> tuple[Choice, ...]:
        if signal == CUT:
            return cut(local, reads)
        if signal in (SWITCH_OFF, SWITCH_ON):
            return switched(local, signal, reads)
        gone = any(reads[name] for name in away)
        gone = gone or bool(keys and not reads[HELD] and not any(reads[name] for name in keys))
        lost = {"up": ("sagging", (SAGS,)), "starting": ("sagging start", ())}
        lost |= {"down": (without(reads), ()), "off": (without(reads), ()), IS_OFF: ("down", ())}
        back = {"sagging": ("up", (RECOVERS,)), "sagging start": ("starting", ())}
        back |= {"down": ("starting", (BOOTS,)), "off": ("starting", (BOOTS,))}
        to, send = (lost if gone else back).get(str(local), (str(local), ()))
        return (Choice(to, send, line=line),)

    def shown(local: Local) -> tuple[Value, ...]:
        steady = local in ("up", "off", IS_OFF)
        told = (local not in _UNFED, not steady) if is_minded else ()
        return (local in _POWERED, steady, *told, *((local == IS_OFF,) if has_switch else ()))

    return Part(
        name="supply",
        role="supply",
        start=start,
        publishes=(POWERED, STEADY, *((FED, UNSTEADY) if is_minded else ()), *((IS_OFF,) if has_switch else ())),
        shown=shown,
        reads=(*away, *keys, *((HELD,) if keys else ()), *((HOLDS_UP,) if is_reckoned else ())),
        armed=armed,
        expired=expired,
        takes={
            **dict.fromkeys((CELL, *(name.replace("level", "edge", 1) for name in keys)), (SAGS, RECOVERS, BOOTS)),
            **({CUT: (SAGS, RESET, BOOTS)} if is_minded else {}),
            **({SWITCH_OFF: (SAGS, RESET, DRAINED, WENT_OFF), SWITCH_ON: (BOOTS,)} if has_switch else {}),
        },
        heard=heard,
        sends=(RESET, RESTORE, *((DRAINED,) if is_minded else ())),
    )
