"""Whoever closes a contact: a person with habits, knocks and squeezes, any press at all; and the person leaving.

Each is a source: it publishes which buttons it holds closed and sends `push B` when that changes. A contact is closed while
any source holds it. When a history is asked for, the person uses the device first, leaves it alone at some moment of rest,
and only then may the disturbances act.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from nudgeproof.model.tables import Choice, Local, Part, Reads, Role, Timer, Value
from nudgeproof.parts.changes import meets, reads_of
from nudgeproof.parts.contact import held_by
from nudgeproof.parts.rest import is_at_rest, rest_names
from nudgeproof.parts.stroke import LETS_GO, Held, Stroke, next_timer, next_touches
from nudgeproof.spec.types import Condition, Device, Disturbance, Person
from nudgeproof.units import FOREVER, Span

LEFT = "left alone"
LEFT_IN = "left in"
PERSON = "person"
ANYTHING = "anything"
PRESSES = "presses"

_ANY = Span(0, FOREVER)


def person(habits: Person, buttons: tuple[str, ...], chords: tuple[Held, ...], leaves: bool) -> Part:
    """A person with these habits, who presses in any order: taps, and holds of each length the habits have.

    With one finger, one button after the other, and the two buttons of a chord as one act; with two, two buttons
    independently of each other. The pause before the next press of that finger is at least the shortest habitual one. With
    `leaves` the person stops for good once the device was left alone.
    """
    kinds = {"tap": habits.tap, **({"hold": habits.hold} if habits.hold is not None else {})}
    kinds |= dict(habits.holds)
    rule, line = _until_left(leaves), habits.at.line
    if habits.fingers > 1 and len(buttons) > 1:
        return _fingers(PERSON, "person", buttons, kinds, habits.between.lo, rule, line, habits.fingers)
    strokes = [(kind, Stroke((b,), span)) for b in buttons for kind, span in kinds.items()]
    strokes += [(kind, Stroke(pair, span, habits.together)) for pair in chords for kind, span in kinds.items()]
    return _source(PERSON, "person", buttons, strokes, habits.between.lo, rule, line)


def anything(buttons: tuple[str, ...], leaves: bool) -> Part:
    """Any press of any length after any pause, of each button whatever the others do: no assumption about who presses."""
    rule = _until_left(leaves)
    if len(buttons) > 1:
        return _fingers(ANYTHING, "disturbance", buttons, {"press": _ANY}, 0, rule, 0, len(buttons))
    return _source(ANYTHING, "disturbance", buttons, [("press", Stroke(buttons, _ANY))], 0, rule, 0)


def disturbance(what: Disturbance, waits: bool) -> Part:
    """A knock or squeeze. With `waits` it acts only after the device was left alone."""
    stroke = Stroke((what.button,), None if what.for_good else what.closes)
    strokes = [(what.name, stroke)]
    return _source(what.name, "disturbance", (what.button,), strokes, what.apart_us, _once_left(waits), what.at.line)


_Rule = tuple[tuple[str, ...], Callable[[Reads], bool]]


def _until_left(leaves: bool) -> _Rule:
    return ((LEFT,), lambda reads: not reads[LEFT]) if leaves else ((), lambda reads: True)


def _once_left(waits: bool) -> _Rule:
    return ((LEFT,), lambda reads: bool(reads[LEFT])) if waits else ((), lambda reads: True)


def _source(
    name: str,
    role: Role,
    buttons: tuple[str, ...],
    strokes: Sequence[tuple[str, Stroke]],
    apart_us: int,
    rule: _Rule,
    line: int,
) -> Part:
    """A source of one stroke after the other, each of a kind.

    Local state: fresh (acted never yet), apart, or (stroke number, buttons held, is letting go).
    """
    reads_names, may_act = rule

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        if isinstance(local, tuple):
            number, held, opening = local
            return next_timer(strokes[number][1], held, opening)
        return (Timer(PRESSES, 0 if local == "fresh" else apart_us, FOREVER),) if may_act(reads) else ()

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        if isinstance(local, tuple):
            return touch(*local)
        return tuple(choice for number in range(len(strokes)) for choice in touch(number, (), False))

    def touch(number: int, held: Held, opening: bool) -> tuple[Choice, ...]:
        kind, stroke = strokes[number]
        choices = []
        for next_ in next_touches(stroke, held, opening):
            to: Local = (number, next_.held, next_.opening) if next_.held else "apart"
            said = f"{name}: {next_.button} is let go" if next_.opening else _pressed(name, kind, next_.button)
            choices.append(Choice(to, (f"push {next_.button}",), says=said, line=line, actions=1))
        return tuple(choices)

    def shown(local: Local) -> tuple[Value, ...]:
        return tuple(isinstance(local, tuple) and b in local[1] for b in buttons)

    return Part(
        name=name,
        role=role,
        start="fresh",
        publishes=tuple(held_by(name, b) for b in buttons),
        shown=shown,
        reads=reads_names,
        armed=armed,
        expired=expired,
        sends=tuple(f"push {b}" for b in buttons),
    )


def _fingers(
    name: str,
    role: Role,
    buttons: tuple[str, ...],
    kinds: Mapping[str, Span],
    apart_us: int,
    rule: _Rule,
    line: int,
    most: int,
) -> Part:
    """A source that presses each button independently of the others, at most `most` of them at once.

    Local state: for each button fresh, apart, or the kind of the press that holds it.
    """
    reads_names, may_act = rule
    # Where no pause is needed, having pressed before makes no difference.
    idle = ("fresh", "apart") if apart_us else ("apart",)

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        states = _each(local)
        is_free = sum(state not in idle for state in states) < most and may_act(reads)
        timers = []
        for button, state in zip(buttons, states, strict=True):
            if state not in idle:
                span = kinds[state]
                timers.append(Timer(f"{LETS_GO} {button}", span.lo, span.hi))
            elif is_free:
                timers.append(Timer(f"presses {button}", 0 if state == "fresh" else apart_us, FOREVER))
        return tuple(timers)

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        states = _each(local)
        place = next(i for i, b in enumerate(buttons) if timer in (f"{LETS_GO} {b}", f"presses {b}"))
        button = buttons[place]
        if states[place] in idle:
            told = [(kind, _pressed(name, kind, button)) for kind in kinds]
        else:
            told = [("apart", f"{name}: {button} is let go")]
        return tuple(
            Choice((*states[:place], to, *states[place + 1 :]), (f"push {button}",), says=says, line=line, actions=1)
            for to, says in told
        )

    return Part(
        name=name,
        role=role,
        start=(idle[0],) * len(buttons),
        publishes=tuple(held_by(name, b) for b in buttons),
        shown=lambda local: tuple(state not in idle for state in _each(local)),
        reads=reads_names,
        armed=armed,
        expired=expired,
        sends=tuple(f"push {b}" for b in buttons),
    )


def _each(local: Local) -> tuple[str, ...]:
    assert isinstance(local, tuple)
    return local


def _pressed(name: str, kind: str, button: str) -> str:
    """A press in words; its kind is told where a source has several."""
    return f"{name}: {button} is pressed" + (f" ({kind})" if kind not in (name, "press") else "")


def leaving(
    device: Device,
    states: tuple[str, ...],
    can_lose_power: bool,
    waits: tuple[str, ...] = (),
    values: Condition | None = None,
) -> Part:
    """The moment at which the device is left alone: at rest, in one of `states` with such `values`, after any history.

    Rest: contacts open and settled, readings open, no pattern pending, the supply steady, none of the published `waits`.
    Publishes `left alone` and `left in`, the state in which it was ("" before). Local state: that state.
    """
    buttons = tuple(button.name for button in device.buttons)

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        busy = not is_at_rest(reads.__getitem__, buttons) or (can_lose_power and not reads["steady"])
        busy = busy or any(reads[name] for name in waits)
        fits = reads["state"] in states and meets(values, reads)
        return (Timer("leaves", 0, FOREVER),) if not local and not busy and fits else ()

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        return (Choice(reads["state"], says=f"the device is left alone in {reads['state']}"),)

    return Part(
        name="leaving",
        role="person",
        start="",
        publishes=(LEFT, LEFT_IN),
        shown=lambda local: (bool(local), local),
        reads=(
            "state",
            *reads_of(values),
            *rest_names(buttons),
            *(("steady",) if can_lose_power else ()),
            *waits,
        ),
        armed=armed,
        expired=expired,
    )
