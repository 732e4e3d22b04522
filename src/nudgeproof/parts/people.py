"""Whoever closes a contact: a person with habits, knocks and squeezes, any press at all; and the person leaving.

Each is a source: it publishes which buttons it holds closed and sends `push B` when that changes. A contact is closed while
any source holds it. When a history is asked for, the person uses the device first, leaves it alone at some moment of rest,
and only then may the disturbances act.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from nudgeproof.model.tables import Choice, Local, Part, Reads, Role, Timer, Value
from nudgeproof.parts.contact import held_by
from nudgeproof.spec.types import Device, Disturbance, Person
from nudgeproof.units import FOREVER, Span

LEFT = "left alone"
LEFT_IN = "left in"
PERSON = "person"
ANYTHING = "anything"
LETS_GO = "lets go"
PRESSES = "presses"

_ANY = Span(0, FOREVER)


def person(habits: Person, buttons: tuple[str, ...], leaves: bool) -> Part:
    """A person with one finger and these habits, who presses in any order: taps, and holds of each length the habits have.

    The pause before the next press is at least the shortest habitual one. With `leaves` the person stops for good once
    the device was left alone.
    """
    kinds = {"tap": habits.tap, **({"hold": habits.hold} if habits.hold is not None else {})}
    kinds |= dict(habits.holds)
    return _source(PERSON, "person", buttons, kinds, habits.between.lo, _until_left(leaves), habits.at.line)


def anything(buttons: tuple[str, ...], leaves: bool) -> Part:
    """Any press of any length after any pause: no assumption about who presses."""
    return _source(ANYTHING, "disturbance", buttons, {"press": _ANY}, 0, _until_left(leaves), 0)


def disturbance(what: Disturbance, waits: bool) -> Part:
    """A knock or squeeze. With `waits` it acts only after the device was left alone."""
    kinds = {what.name: None if what.for_good else what.closes}
    return _source(what.name, "disturbance", (what.button,), kinds, what.apart_us, _once_left(waits), what.at.line)


_Rule = tuple[tuple[str, ...], Callable[[Reads], bool]]


def _until_left(leaves: bool) -> _Rule:
    return ((LEFT,), lambda reads: not reads[LEFT]) if leaves else ((), lambda reads: True)


def _once_left(waits: bool) -> _Rule:
    return ((LEFT,), lambda reads: bool(reads[LEFT])) if waits else ((), lambda reads: True)


def _source(
    name: str,
    role: Role,
    buttons: tuple[str, ...],
    kinds: Mapping[str, Span | None],
    apart_us: int,
    rule: _Rule,
    line: int,
) -> Part:
    """A source of presses. Local state: fresh (acted never yet), apart, or (kind, button) while it holds one closed.

    A kind without a span never lets go.
    """
    reads_names, may_act = rule

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        if isinstance(local, tuple):
            span = kinds[local[0]]
            return (Timer(LETS_GO, span.lo, span.hi),) if span is not None else ()
        return (Timer(PRESSES, 0 if local == "fresh" else apart_us, FOREVER),) if may_act(reads) else ()

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        if isinstance(local, tuple):
            _, button = local
            says = f"{name}: {button} is let go"
            return (Choice("apart", (f"push {button}",), says=says, line=line, actions=1),)
        return tuple(
            Choice((kind, b), (f"push {b}",), says=_pressed(name, kind, b), line=line, actions=1)
            for b in buttons
            for kind in kinds
        )

    def shown(local: Local) -> tuple[Value, ...]:
        return tuple(isinstance(local, tuple) and local[1] == b for b in buttons)

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


def _pressed(name: str, kind: str, button: str) -> str:
    """A press in words; its kind is told where a source has several."""
    return f"{name}: {button} is pressed" + (f" ({kind})" if kind not in (name, "press") else "")


def leaving(device: Device, states: tuple[str, ...], can_lose_power: bool, waits: tuple[str, ...] = ()) -> Part:
    """The moment at which the device is left alone: at rest, in one of `states`, after any history.

    Rest: contacts open and settled, readings open, no pattern pending, the supply steady, none of the published `waits`.
    Publishes `left alone` and `left in`, the state in which it was ("" before). Local state: that state.
    """
    buttons = tuple(button.name for button in device.buttons)

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        busy = any(
            reads[f"level {b}"] or not reads[f"quiet {b}"] or reads[f"reading {b}"] or reads[f"pattern {b}"]
            for b in buttons
        )
        busy = busy or (can_lose_power and not reads["steady"]) or any(reads[name] for name in waits)
        return (Timer("leaves", 0, FOREVER),) if not local and not busy and reads["state"] in states else ()

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
            *(f"{what} {b}" for b in buttons for what in ("level", "quiet", "reading", "pattern")),
            *(("steady",) if can_lose_power else ()),
            *waits,
        ),
        armed=armed,
        expired=expired,
    )
