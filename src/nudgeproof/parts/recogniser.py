"""The recogniser of one button: turns accepted presses into gestures.

Rules
-----
* A pattern is a number of taps, then perhaps a hold. All gestures in use in the state in which the first press begins run
  side by side; each press and each pause drops those that no longer fit.
* A tap is a press let go before its limit; a hold fires when its time is reached, and then owns its release.
* A finished pattern waits only while a longer one that is in use may still come; else it fires at once.
* When a longer pattern was begun and fails, the presses so far are nobody's; so is a press that fits no pattern.
* A press belongs to the state it began in: a change of state forgets what was begun, and a button still down is nobody's
  until it is let go.
* Taps beyond the largest count in use begin a new pattern.
* A press that a chord takes to itself is nobody's, and what was begun is forgotten; likewise when the processor falls
  asleep.
"""

from __future__ import annotations

from nudgeproof.model.tables import Choice, Local, Part, Reads, Timer, Value
from nudgeproof.parts.chart import CHANGED, STARTED
from nudgeproof.parts.chord import claims
from nudgeproof.parts.sleep import ASLEEP
from nudgeproof.parts.supply import RESET
from nudgeproof.spec.types import Button, Device, Gesture
from nudgeproof.units import Span

IDLE: Local = ("idle",)
SPENT: Local = ("spent",)


def recogniser(device: Device, button: Button, held_ignored: bool | None = None) -> Part:
    """The part for the recogniser of one button.

    Local state: idle; spent (down, but nobody's); (down, number of this press, gestures still possible); (gap, presses so
    far, longer gestures still possible, gesture already complete or ""). Takes `down B`, `up B`, the chart's `changed`, a
    chord's `claims B`, the processor's `asleep` and, where power can be lost (`held_ignored` isn't None), `reset` and
    `started`; sends `gesture G`. Publishes `pattern B` (a pattern is pending).
    """
    gestures = {gesture.name: gesture for gesture in device.gestures if gesture.button == button.name}
    in_use = {
        state.name: tuple(t.gesture for t in state.transitions if t.gesture in gestures) for state in device.states
    }
    down, up = f"down {button.name}", f"up {button.name}"

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        phase, press, alive, _ = _split(local)
        timers: dict[str, Timer] = {}
        for gesture in (gestures[name] for name in alive):
            for name, span in _limits(gesture, phase, press):
                timers[name] = Timer(name, span.lo, span.hi)
        return tuple(timers.values())

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        phase, press, alive, done = _split(local)
        hit = [name for name in alive if timer in dict(_limits(gestures[name], phase, press))]
        first = gestures[hit[0]]
        if timer == _hold_name(first):
            return (_fire(first, SPENT),)
        left = tuple(name for name in alive if name not in hit)
        if phase == "down":
            says = "the press is too long for a tap" if timer.startswith("tap") else "the pause grows too long"
            return (Choice(("down", press, left, "") if left else SPENT, says=says, line=first.at.line),)
        if left:
            return (Choice(("gap", press, left, done), says="the pause grows too long", line=first.at.line),)
        if done:
            return (_fire(gestures[done], IDLE),)
        return (Choice(IDLE, says="the pause is too long, the taps are nobody's", line=first.at.line),)

    def heard(local: Local, signal: str, reads: Reads) -> tuple[Choice, ...]:
        phase, press, alive, _ = _split(local)
        if signal == RESET:
            return (Choice(IDLE),)
        if signal == STARTED:
            return (Choice(SPENT if held_ignored and reads[f"level {button.name}"] else IDLE),)
        if signal in (CHANGED, ASLEEP, claims(button.name)):
            return (Choice(SPENT if phase in ("down", "spent") else IDLE),)
        if signal == down:
            return (_press(press + 1, alive if phase == "gap" else in_use[str(reads["state"])]),)
        if phase != "down":
            return (Choice(IDLE),)
        tapped = [gestures[name] for name in alive if press <= gestures[name].taps]
        done = [gesture for gesture in tapped if gesture.presses == press]
        longer = tuple(gesture.name for gesture in tapped if gesture.presses > press)
        if longer:
            return (Choice(("gap", press, longer, done[0].name if done else "")),)
        return (_fire(done[0], IDLE) if done else Choice(IDLE),)

    def _press(press: int, alive: tuple[str, ...]) -> Choice:
        if not alive:
            return Choice(SPENT)
        restart = tuple(name for g in alive for name, _ in _limits(gestures[g], "down", press))
        return Choice(("down", press, alive, ""), restart=restart)

    def shown(local: Local) -> tuple[Value, ...]:
        return (_split(local)[0] in ("down", "gap"),)

    fires = tuple(f"gesture {name}" for name in gestures)
    return Part(
        name=f"recogniser {button.name}",
        role="device",
        start=IDLE,
        button=button.name,
        publishes=(f"pattern {button.name}",),
        shown=shown,
        reads=("state", f"level {button.name}"),
        armed=armed,
        expired=expired,
        takes={
            down: (),
            up: fires,
            CHANGED: (),
            ASLEEP: (),
            claims(button.name): (),
            **({RESET: (), STARTED: ()} if held_ignored is not None else {}),
        },
        heard=heard,
        sends=fires,
    )


def _limits(gesture: Gesture, phase: str, press: int) -> tuple[tuple[str, Span], ...]:
    """The timers one gesture needs: names are shared by gestures with equal limits, so that they run as one timer."""
    found: list[tuple[str, Span]] = []
    if phase == "down" and press <= gesture.taps and gesture.press is not None:
        found.append((f"tap limit {gesture.press}", gesture.press))
    if phase == "down" and press > gesture.taps and gesture.held is not None:
        found.append((_hold_name(gesture), gesture.held))
    if gesture.between is not None and press < gesture.presses:
        if gesture.between_presses and phase in ("down", "gap"):
            found.append((f"limit between presses {gesture.between}", gesture.between))
        elif phase == "gap":
            found.append((f"pause limit {gesture.between}", gesture.between))
    return tuple(found)


def _hold_name(gesture: Gesture) -> str:
    return f"hold time of {gesture.name}"


def _fire(gesture: Gesture, to: Local) -> Choice:
    return Choice(to, (f"gesture {gesture.name}",), says=f"the firmware sees {gesture.name}", line=gesture.at.line)


def _split(local: Local) -> tuple[str, int, tuple[str, ...], str]:
    """(phase, press number, gestures still possible, gesture complete) with the blanks filled in."""
    assert isinstance(local, tuple)
    if len(local) == 1:
        return local[0], 0, (), ""
    phase, press, alive, done = local
    return phase, press, alive, done
