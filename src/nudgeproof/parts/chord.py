"""A chord: two buttons of which the second reads down soon enough after the first.

The first press goes on as an ordinary one meanwhile, so nothing waits for a chord. Once the second is down in time both
presses belong to the chord, and all that the recognisers began with them is forgotten. A press can't join when its own
gesture fired already, a state was entered since it began, or another chord has it; of two chords that could be joined at
one moment it is the first in the file. Until both buttons are let go, further presses of either belong to the chord too.
The releases do as well, unless the chord gives them back when it is seen: then each counts as that of a tap of its button.

A gesture of the second button that acts at its press is seen first, whatever comes of it; the chord fires once that is done.
"""

from __future__ import annotations

from nudgeproof.model.tables import Choice, Local, Part, Reads, Timer, Value, lasting
from nudgeproof.parts.chart import CHANGED, STARTED
from nudgeproof.parts.sleep import ASLEEP
from nudgeproof.parts.supply import RESET
from nudgeproof.spec.types import Chord, Device, Gesture

OPEN: Local = ("open",)
BOTH: Local = ("both",)
JOINS: Local = ("joins",)
FIRES: Local = ("fires",)
CLAIMED: Local = ("claimed",)
TOO_LATE = "too late to join"
HELD = "hold time"


def claims(button: str) -> str:
    """The signal by which a chord takes the present press of a button to itself."""
    return f"claims {button}"


def gives_back(button: str) -> str:
    """The signal by which a chord leaves the release of a button to that button's own gestures."""
    return f"gives back {button}"


def joins(gesture: Gesture) -> str:
    """The published value that says whether a chord has joined presses that aren't let go yet."""
    return f"{gesture.name} claims"


def chord(device: Device, gesture: Gesture, can_lose_power: bool = False) -> Part:
    """The part for one chord; `gesture.chord` must be given.

    Local state: open; (one, the button that is down and may be joined); joins (within the step in which the second goes
    down, until what that fires at its press is done); both (joined, the hold time runs); fires (joined, and it fires within
    the same step, as soon as it hears its own last `claims B`); claimed (the presses are the chord's until both are let go).
    It tells itself `joins G`. Takes `down B`, `up B` and `claims B` of its buttons, the gestures of their own, `changed`,
    `asleep` and, where power can be lost, `reset` and `started`; sends `claims B`, `gives back B` and `gesture G`.
    Publishes `G claims` (joined and not yet let go).
    """
    assert gesture.chord is not None
    what: Chord = gesture.chord
    first, second = what.buttons
    rivals = tuple(
        (other.name, tuple(b for b in what.buttons if b in other.buttons))
        for other in device.gestures
        if other.chord is not None and other.name != gesture.name and set(other.buttons) & set(what.buttons)
    )
    own = {f"gesture {g.name}": g.button for g in device.gestures if g.chord is None and g.button in what.buttons}
    in_use = frozenset(s.name for s in device.states if any(t.gesture == gesture.name for t in s.transitions))
    fires, now = f"gesture {gesture.name}", f"joins {gesture.name}"
    line = gesture.at.line
    returns = tuple(gives_back(button) for button in what.buttons) if what.gives_back else ()
    too = ", and will take each release for a tap" if returns else ""
    fired = Choice(CLAIMED, (*returns, fires), says=f"the firmware sees {gesture.name}{too}", line=line)

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        if local == BOTH:
            assert gesture.held is not None
            return (lasting(HELD, gesture.held),)
        return () if local in (OPEN, JOINS, CLAIMED, FIRES) else (lasting(TOO_LATE, what.within),)

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        return (fired,) if timer == HELD else (Choice(OPEN, line=line),)

    def heard(local: Local, signal: str, reads: Reads) -> tuple[Choice, ...]:
        kind, _, button = signal.partition(" ")
        joined = local in (BOTH, CLAIMED)
        if signal == now:
            return (_join(),)
        if local == JOINS:
            return (Choice(local),)
        if signal in (RESET, STARTED, ASLEEP):
            return (Choice(OPEN),)
        if local == FIRES:
            return (fired if signal == claims(second) else Choice(local),)
        if signal == CHANGED:
            return (Choice(CLAIMED if joined else OPEN),)
        if signal in own or kind == "claims":
            return (Choice(OPEN if local == ("one", own.get(signal, button)) else local),)
        if kind == "up":
            if joined:
                return (Choice(CLAIMED if any(reads[f"reading {b}"] for b in what.buttons) else OPEN),)
            return (Choice(OPEN if local == ("one", button) else local),)
        return (_press(local, button, reads),)

    def _press(local: Local, button: str, reads: Reads) -> Choice:
        if local in (BOTH, CLAIMED):
            return Choice(local, (claims(button),))
        if reads["state"] not in in_use or any(button in shared and reads[f"{name} claims"] for name, shared in rivals):
            return Choice(local)
        if local != ("one", second if button == first else first):
            return Choice(("one", button))
        return Choice(JOINS, (now,))

    def _join() -> Choice:
        send = (claims(first), claims(second))
        if gesture.held is None:
            return Choice(FIRES, send)
        return Choice(BOTH, send, says=f"the firmware takes {first} and {second} as pressed together", line=line)

    def shown(local: Local) -> tuple[Value, ...]:
        return (local in (JOINS, BOTH, FIRES, CLAIMED),)

    return Part(
        name=f"chord {gesture.name}",
        role="device",
        start=OPEN,
        publishes=(joins(gesture),),
        shown=shown,
        reads=("state", *(f"reading {b}" for b in what.buttons), *(f"{name} claims" for name, _ in rivals)),
        armed=armed,
        expired=expired,
        takes={
            **{f"down {b}": (now, claims(b)) for b in what.buttons},
            now: (claims(first), claims(second)),
            **{f"up {b}": () for b in what.buttons},
            claims(first): (),
            claims(second): (*returns, fires),
            **dict.fromkeys(own, ()),
            CHANGED: (),
            ASLEEP: (),
            **({RESET: (), STARTED: ()} if can_lose_power else {}),
        },
        heard=heard,
        sends=(*returns, fires),
    )
