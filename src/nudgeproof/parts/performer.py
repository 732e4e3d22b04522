"""Somebody who does one thing on purpose, as well as habits allow, after anything may have happened before; and a witness.

From any moment of rest in the right state, after any history, the performer does an *act*: one gesture, or the gesture into
a waiting state and the next one. Instead of a gesture an act may name an event, which then happens. Nothing else acts any
more. The witness notes whether the firmware saw it, or whether the device reached where it should. Both only watch and
press; they change nothing about the device.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from nudgeproof.model.tables import Choice, Local, Part, Reads, Timer, Value
from nudgeproof.parts.changes import meets, reads_of
from nudgeproof.parts.chart import CHANGED, LAPSED, STARTED, STEPPED
from nudgeproof.parts.contact import held_by
from nudgeproof.parts.events import EVENT
from nudgeproof.parts.people import LEFT
from nudgeproof.parts.rest import is_at_rest, rest_names
from nudgeproof.parts.sleep import OUTSIDE
from nudgeproof.parts.stroke import AT_ONCE, Held, Stroke, next_timer, next_touches
from nudgeproof.spec.outside import CELL_FINE, CELL_LOW
from nudgeproof.spec.types import Condition, Device, Gesture, Person
from nudgeproof.units import FOREVER, Span

CELL_EVENTS = {
    CELL_LOW: "the firmware sees that the cell is low",
    CELL_FINE: "the firmware sees that the cell is fine again",
}

PERFORMER = "performer"
ACT = "act"
PERFORMED = "performed"
FINISHED = "finished"
SEEN = "seen"

OPEN, STARTED_UP, STAYING, DONE, OTHER, LATE = "open", "started", "staying", "done", "other", "late"
LAPSED_MEANWHILE, EXCUSED = "lapsed", "excused"


@dataclass(frozen=True, slots=True)
class Act:
    """`gestures`, one after the other, begun at rest in `state`.

    `target`: the state or group that is to be reached, "" if it is enough that the firmware sees the gestures; `ending`:
    with which values. `within_us`: by when, from the first contact edge on; 0 for no limit. `answer_us`: how long after the
    person's last edge that is needed the firmware may take to see the last gesture; 0 for no limit. `narrow`: pause and
    length of each press within tighter spans than the habits'. `condition`: begun only where it holds. `stay_us`: for how
    long the target must not be left once it is reached; 0 if that doesn't matter.
    """

    state: str
    gestures: tuple[str, ...]
    target: str = ""
    within_us: int = 0
    answer_us: int = 0
    narrow: tuple[tuple[Span, Span], ...] = ()
    condition: Condition | None = None
    ending: Condition | None = None
    stay_us: int = 0

    def __str__(self) -> str:
        return f"{', '.join(self.gestures)} in {self.where}"

    @property
    def where(self) -> str:
        """The state, with the condition if there is one."""
        return f"{self.state} while {self.condition.text}" if self.condition is not None else self.state

    def fits(self, reads: Reads) -> bool:
        """Whether the device is where the act begins."""
        return self.state == reads["state"] and self.is_met(reads)

    def is_met(self, reads: Reads) -> bool:
        """Whether the condition, if there is one, holds."""
        return meets(self.condition, reads)


def can_perform(habits: Person, gesture: Gesture) -> bool:
    """Whether the person's habits say how this gesture is done."""
    return gesture.held is None or _hold(habits, gesture) is not None


def _hold(habits: Person, gesture: Gesture) -> Span | None:
    """How long the person holds where this gesture wants a hold: its own time if it has one."""
    return dict(habits.holds).get(gesture.name, habits.hold)


def performer(device: Device, acts: tuple[Act, ...], waits: tuple[str, ...], listens: str) -> Part:
    """The part that performs one of `acts`; needs a person with the habits for them. None begins while one of `waits` is so.

    What the firmware reads of the cell it reads while the published `listens` is so.

    Local state: watching; or (act, press number, buttons held, is letting go); or (act,) when done. Publishes `left alone`
    (the history is over), `act` (its number, -1 before), `performed` and `finished` (all that the firmware needs to see
    has been done).
    """
    assert device.person is not None
    plans = tuple(plan(device, device.person, act) for act in acts)
    ends_held = tuple(_ends_held(device, act.gestures[-1]) for act in acts)
    buttons = tuple(button.name for button in device.buttons)
    watches_cell = any(press.event in CELL_EVENTS for presses in plans for press in presses)

    def can_begin(act: int, reads: Reads) -> bool:
        return acts[act].fits(reads) and can_press(act, 0, reads)

    def can_press(act: int, press: int, reads: Reads) -> bool:
        return plans[act][press].event not in CELL_EVENTS or bool(reads[listens])

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        if local == "watching":
            busy = not is_at_rest(reads.__getitem__, buttons) or any(reads[name] for name in waits)
            ready = not busy and any(can_begin(act, reads) for act in range(len(acts)))
            return (Timer("begins", 0, FOREVER),) if ready else ()
        assert isinstance(local, tuple)
        if len(local) == 1:
            return ()
        act, press, held, opening = local
        if held:
            return next_timer(plans[act][press].stroke, held, opening)
        pause = plans[act][press].pause
        return (Timer("presses again", pause.lo, pause.hi),) if can_press(act, press, reads) else ()

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        if local == "watching":
            begun = [
                (i, f"begins {', then '.join(acts[i].gestures)}: ") for i in range(len(acts)) if can_begin(i, reads)
            ]
            return tuple(choice for i, says in begun for choice in touch(i, 0, (), False, ("begins",), says))
        assert isinstance(local, tuple)
        return touch(*local)

    def touch(
        act: int, press: int, held: Held, opening: bool, send: tuple[str, ...] = (), says: str = ""
    ) -> tuple[Choice, ...]:
        after: Local = (act, press + 1, (), False) if press + 1 < len(plans[act]) else (act,)
        event = plans[act][press].event
        if event:
            told = CELL_EVENTS.get(event, event)
            return (Choice(after, (*send, _happening(event)), says=says + told, actions=1),)
        choices = []
        for next_ in next_touches(plans[act][press].stroke, held, opening):
            to: Local = (act, press, next_.held, next_.opening) if next_.held else after
            said = f"person: {says}{next_.button} is {'let go' if next_.opening else 'pressed'}"
            choices.append(Choice(to, (*send, f"push {next_.button}"), says=said, actions=1))
        return tuple(choices)

    def shown(local: Local) -> tuple[Value, ...]:
        if local == "watching":
            return (False, -1, False, False, *(False for _ in buttons))
        assert isinstance(local, tuple)
        held = local[2] if len(local) > 1 else ()
        is_last = bool(held) and local[1] == len(plans[local[0]]) - 1
        all_down = is_last and len(held) == len(plans[local[0]][local[1]].stroke.buttons)
        finished = len(local) == 1 or (all_down and ends_held[local[0]])
        return (True, local[0], len(local) == 1, finished, *(b in held for b in buttons))

    return Part(
        name=PERFORMER,
        role="person",
        start="watching",
        publishes=(LEFT, ACT, PERFORMED, FINISHED, *(held_by(PERFORMER, b) for b in buttons)),
        shown=shown,
        reads=("state", *_named(acts), *rest_names(buttons), *waits, *((listens,) if watches_cell else ())),
        armed=armed,
        expired=expired,
        sends=(
            *(f"push {b}" for b in buttons),
            *dict.fromkeys(_happening(press.event) for presses in plans for press in presses if press.event),
            "begins",
        ),
    )


def _happening(event: str) -> str:
    """The signal of an event; what the firmware reads of the cell it has seen at once."""
    return EVENT + event if event in CELL_EVENTS else OUTSIDE + event


def _ends_held(device: Device, name: str) -> bool:
    """Whether all that a gesture (or event) needs is done while its last press is still held."""
    if name in device.event_names:
        return False
    gesture = device.gesture(name)
    return gesture.acts_early == "press" or (gesture.presses[-1] == "hold" and not gesture.at_release)


def _named(acts: tuple[Act, ...]) -> tuple[str, ...]:
    """The published values that the acts' conditions name."""
    return tuple(dict.fromkeys(name for act in acts for name in (*reads_of(act.condition), *reads_of(act.ending))))


@dataclass(frozen=True, slots=True)
class Press:
    """One press of a plan, of a chord both buttons: after `pause` since the last release. Or, with its name, an event."""

    pause: Span
    stroke: Stroke
    event: str = ""


def plan(device: Device, habits: Person, act: Act) -> tuple[Press, ...]:
    """All presses of an act. A further gesture begins within `answers within` of the last release."""
    presses: list[Press] = []
    for number, name in enumerate(act.gestures):
        first = habits.between
        if number > 0:
            first = Span(habits.between.lo, habits.answers.hi if habits.answers is not None else FOREVER)
        if name in device.event_names:
            presses.append(Press(first, Stroke((), AT_ONCE), name))
            continue
        gesture = device.gesture(name)
        for press, kind in enumerate(gesture.presses):
            pause = first if press == 0 else habits.between
            span = habits.tap if kind == "tap" else _hold(habits, gesture)
            assert span is not None
            presses.append(Press(pause, Stroke(gesture.buttons, span, habits.together)))
    if act.narrow:
        spans = zip(presses, act.narrow, strict=True)
        return tuple(Press(pause, replace(press.stroke, down=down)) for press, (pause, down) in spans)
    return tuple(presses)


def witness(device: Device, acts: tuple[Act, ...], can_lose_power: bool = False) -> Part:
    """The part that notes what became of the act.

    Local state: (act, gestures seen, what became of it). `open`: not yet anything; `started`: not yet anything, but
    the act switched the device on, or the firmware saw another gesture first, so that a timeout excuses nothing any
    more; `done`; `other`: the firmware saw another gesture, or one more, or it left the target too soon; `staying`:
    it is in the target, and must be for some time yet; `late`: the limit passed; `lapsed`: a timeout came between two
    gestures, or since it started; `excused`: a timeout of the starting state fell due meanwhile, or time has changed
    what it began with. Publishes `seen`.
    """

    gestures_seen = {f"gesture {gesture.name}" for gesture in device.gestures}
    events = {name for act in acts for name in act.gestures if name in device.event_names}
    repeats = {gesture.name for gesture in device.gestures if gesture.repeats is not None}
    repeating = [{f"gesture {act.gestures[-1]}"} if act.gestures[-1] in repeats else set() for act in acts]

    def reached(act: int, reads: Reads) -> bool:
        target = acts[act].target
        return bool(target) and reads["state"] in device.states_of(target) and meets(acts[act].ending, reads)

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        act, _, became = _split(local)
        if became == STAYING:
            # Leaving just then is in time; before that both orders are looked at.
            return (Timer("stays", acts[act].stay_us - 1, acts[act].stay_us - 1),)
        if act < 0 or became not in (OPEN, STARTED_UP, LAPSED_MEANWHILE):
            return ()
        timers = []
        if acts[act].within_us:
            timers.append(Timer("limit", acts[act].within_us + 1, acts[act].within_us + 1))
        if acts[act].answer_us and reads[FINISHED]:
            timers.append(Timer("answer limit", acts[act].answer_us + 1, acts[act].answer_us + 1))
        return tuple(timers)

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        act, count, _ = _split(local)
        if timer == "stays":
            return (Choice((act, count, DONE)),)
        says = "the time for an answer is over" if timer == "answer limit" else "the time that was promised is over"
        return (Choice((act, count, LATE), says=says),)

    def heard(local: Local, signal: str, reads: Reads) -> tuple[Choice, ...]:
        act, count, became = _split(local)
        if signal == "begins":
            return (Choice((reads[ACT], 0, OPEN)),)
        if act < 0 or became in (LATE, EXCUSED):
            return (Choice(local),)
        if became == DONE:
            more = signal in gestures_seen and not acts[act].target and signal not in repeating[act]
            return (Choice((act, count, OTHER if more else DONE)),)
        if became == STAYING:
            if signal == LAPSED and count == 0:  # time has led there, and not the gesture
                return (Choice((act, count, EXCUSED)),)
            return (Choice((act, count, became if reached(act, reads) else OTHER)),)
        if signal == STEPPED and count == 0:
            # Time alone has changed something, perhaps what the act began with.
            overtaken = became == OPEN and not acts[act].is_met(reads)
            return (Choice((act, count, EXCUSED if overtaken else became)),)
        if signal in (CHANGED, STEPPED) and reached(act, reads):
            return (Choice((act, count, STAYING if acts[act].stay_us else DONE)),)
        if signal in (CHANGED, STEPPED):
            return (Choice(local),)
        if signal == STARTED:
            return (Choice((act, count, STARTED_UP if count == 0 and became == OPEN else became)),)
        if signal == LAPSED and became != OTHER:
            is_excused = count == 0 and became not in (STARTED_UP, LAPSED_MEANWHILE)
            return (Choice((act, count, EXCUSED if is_excused else LAPSED_MEANWHILE)),)
        gestures = acts[act].gestures
        if became not in (OPEN, STARTED_UP) or (count < len(gestures) and signal not in _seen(gestures[count])):
            # Another gesture in its place: what time does from now on doesn't excuse that any more.
            mistaken = STARTED_UP if count == 0 and became == OPEN else became
            return (Choice((act, count, mistaken if acts[act].target else OTHER)),)
        finished = count + 1 >= len(gestures) and (not acts[act].target or reached(act, reads))
        ended = STAYING if acts[act].stay_us else DONE
        return (Choice((act, min(count + 1, len(gestures)), ended if finished else OPEN)),)

    return Part(
        name="witness",
        role="device",
        start=(-1, 0, OPEN),
        publishes=(SEEN,),
        shown=lambda local: (_split(local)[2],),
        reads=(ACT, FINISHED, "state", *_named(acts)),
        armed=armed,
        expired=expired,
        takes={
            "begins": (),
            CHANGED: (),
            LAPSED: (),
            STEPPED: (),
            **({STARTED: ()} if can_lose_power else {}),
            **{f"gesture {gesture.name}": () for gesture in device.gestures},
            **{EVENT + event: () for event in sorted(events)},
        },
        heard=heard,
    )


def _seen(name: str) -> tuple[str, str]:
    """The signals with which the firmware sees a gesture or an event; the two don't share names."""
    return f"gesture {name}", EVENT + name


def _split(local: Local) -> tuple[int, int, str]:
    assert isinstance(local, tuple)
    act, count, became = local
    return act, count, became
