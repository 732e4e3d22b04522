"""Somebody who does one thing on purpose, as well as habits allow, after anything may have happened before; and a witness.

From any moment of rest in the right state, after any history, the performer does an *act*: one gesture, or the gesture into
a waiting state and the next one. Nothing else acts any more. The witness notes whether the firmware saw it, or whether the
device reached where it should. Both only watch and press; they change nothing about the device.
"""

from __future__ import annotations

from dataclasses import dataclass

from nudgeproof.model.tables import Choice, Local, Part, Reads, Timer, Value
from nudgeproof.parts.chart import CHANGED, LAPSED
from nudgeproof.parts.contact import held_by
from nudgeproof.parts.people import LEFT
from nudgeproof.parts.rest import is_at_rest, rest_names
from nudgeproof.parts.stroke import Held, Stroke, next_timer, next_touches
from nudgeproof.spec.types import Device, Gesture, Person
from nudgeproof.units import FOREVER, Span

PERFORMER = "performer"
ACT = "act"
PERFORMED = "performed"
SEEN = "seen"

OPEN, DONE, OTHER, LATE, LAPSED_MEANWHILE, EXCUSED = "open", "done", "other", "late", "lapsed", "excused"


@dataclass(frozen=True, slots=True)
class Act:
    """`gestures`, one after the other, begun at rest in `state`.

    `target`: the state that is to be entered, "" if it is enough that the firmware sees the gestures. `within_us`: by when,
    from the first contact edge on; 0 for no limit.
    """

    state: str
    gestures: tuple[str, ...]
    target: str = ""
    within_us: int = 0

    def __str__(self) -> str:
        return f"{', '.join(self.gestures)} in {self.state}"


def can_perform(habits: Person, gesture: Gesture) -> bool:
    """Whether the person's habits say how this gesture is done."""
    return gesture.held is None or habits.hold is not None


def performer(device: Device, acts: tuple[Act, ...]) -> Part:
    """The part that performs one of `acts`; needs a person with the habits for them.

    Local state: watching; or (act, press number, buttons held, is letting go); or (act,) when done. Publishes `left alone`
    (the history is over), `act` (its number, -1 before) and `performed`.
    """
    assert device.person is not None
    plans = tuple(_plan(device, device.person, act) for act in acts)
    buttons = tuple(button.name for button in device.buttons)

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        if local == "watching":
            ready = is_at_rest(reads.__getitem__, buttons) and any(act.state == reads["state"] for act in acts)
            return (Timer("begins", 0, FOREVER),) if ready else ()
        assert isinstance(local, tuple)
        if len(local) == 1:
            return ()
        act, press, held, opening = local
        if held:
            return next_timer(plans[act][press].stroke, held, opening)
        pause = plans[act][press].pause
        return (Timer("presses again", pause.lo, pause.hi),)

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        if local == "watching":
            begun = [
                (i, f"begins {', then '.join(a.gestures)}: ") for i, a in enumerate(acts) if a.state == reads["state"]
            ]
            return tuple(choice for i, says in begun for choice in touch(i, 0, (), False, ("begins",), says))
        assert isinstance(local, tuple)
        return touch(*local)

    def touch(
        act: int, press: int, held: Held, opening: bool, send: tuple[str, ...] = (), says: str = ""
    ) -> tuple[Choice, ...]:
        choices = []
        for next_ in next_touches(plans[act][press].stroke, held, opening):
            to: Local = (act, press, next_.held, next_.opening)
            if not next_.held:
                to = (act, press + 1, (), False) if press + 1 < len(plans[act]) else (act,)
            said = f"person: {says}{next_.button} is {'let go' if next_.opening else 'pressed'}"
            choices.append(Choice(to, (*send, f"push {next_.button}"), says=said, actions=1))
        return tuple(choices)

    def shown(local: Local) -> tuple[Value, ...]:
        if local == "watching":
            return (False, -1, False, *(False for _ in buttons))
        assert isinstance(local, tuple)
        held = local[2] if len(local) > 1 else ()
        return (True, local[0], len(local) == 1, *(b in held for b in buttons))

    return Part(
        name=PERFORMER,
        role="person",
        start="watching",
        publishes=(LEFT, ACT, PERFORMED, *(held_by(PERFORMER, b) for b in buttons)),
        shown=shown,
        reads=("state", *rest_names(buttons)),
        armed=armed,
        expired=expired,
        sends=(*(f"push {b}" for b in buttons), "begins"),
    )


@dataclass(frozen=True, slots=True)
class _Press:
    """One press of a plan, of a chord both buttons: after `pause` since the last release."""

    pause: Span
    stroke: Stroke


def _plan(device: Device, habits: Person, act: Act) -> tuple[_Press, ...]:
    """All presses of an act. A further gesture begins within `answers within` of the last release."""
    presses: list[_Press] = []
    for number, name in enumerate(act.gestures):
        gesture = device.gesture(name)
        for press, is_hold in enumerate(_presses(gesture)):
            pause = habits.between
            if press == 0 and number > 0:
                pause = Span(habits.between.lo, habits.answers.hi if habits.answers is not None else FOREVER)
            span = habits.hold if is_hold else habits.tap
            assert span is not None
            presses.append(_Press(pause, Stroke(gesture.buttons, span, habits.together)))
    return tuple(presses)


def _presses(gesture: Gesture) -> tuple[bool, ...]:
    """For each press whether it is a hold."""
    if gesture.chord is not None:
        return (gesture.held is not None,)
    return tuple(press >= gesture.taps for press in range(gesture.presses))


def witness(device: Device, acts: tuple[Act, ...]) -> Part:
    """The part that notes what became of the act.

    Local state: (act, gestures seen, what became of it). `open`: not yet anything; `done`; `other`: the firmware saw another
    gesture; `late`: the limit passed; `lapsed`: a timeout came between two gestures; `excused`: a timeout of the starting
    state fell due meanwhile. Publishes `seen`.
    """

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        act, _, became = _split(local)
        if act < 0 or became not in (OPEN, LAPSED_MEANWHILE) or not acts[act].within_us:
            return ()
        late = acts[act].within_us + 1
        return (Timer("limit", late, late),)

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        act, count, _ = _split(local)
        return (Choice((act, count, LATE), says="the time that was promised is over"),)

    def heard(local: Local, signal: str, reads: Reads) -> tuple[Choice, ...]:
        act, count, became = _split(local)
        if signal == "begins":
            return (Choice((reads[ACT], 0, OPEN)),)
        if act < 0 or became in (DONE, LATE, EXCUSED):
            return (Choice(local),)
        if signal == CHANGED:
            reached = acts[act].target and reads["state"] == acts[act].target
            return (Choice((act, count, DONE) if reached else local),)
        if signal == LAPSED:
            return (Choice((act, count, EXCUSED if count == 0 else LAPSED_MEANWHILE)),)
        gestures = acts[act].gestures
        if became != OPEN or (count < len(gestures) and signal != f"gesture {gestures[count]}"):
            return (Choice((act, count, became if acts[act].target else OTHER)),)
        finished = count + 1 >= len(gestures) and not acts[act].target
        return (Choice((act, min(count + 1, len(gestures)), DONE if finished else OPEN)),)

    return Part(
        name="witness",
        role="device",
        start=(-1, 0, OPEN),
        publishes=(SEEN,),
        shown=lambda local: (_split(local)[2],),
        reads=(ACT, "state"),
        armed=armed,
        expired=expired,
        takes={
            "begins": (),
            CHANGED: (),
            LAPSED: (),
            **{f"gesture {gesture.name}": () for gesture in device.gestures},
        },
        heard=heard,
    )


def _split(local: Local) -> tuple[int, int, str]:
    assert isinstance(local, tuple)
    act, count, became = local
    return act, count, became
