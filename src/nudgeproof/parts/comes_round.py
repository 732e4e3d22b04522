"""A running clock that comes round, and a reader whose lockout ends at a moment of that clock.

A clock in 32 bits of a millisecond is at nothing again after 49.7 days. A firmware that stores the moment at which it
listens again, and compares the clock with it, then finds that moment far ahead: it is deaf until it is reset. (A moment
just ahead when the clock comes round would be behind it, and a lockout over at once; that isn't described.) One that asks
how much time has passed never notices.
"""

from __future__ import annotations

from dataclasses import replace

from nudgeproof.model.tables import Choice, Local, Part, Reads, Timer, Value
from nudgeproof.parts.chart import STARTED
from nudgeproof.parts.supply import RESET
from nudgeproof.spec.types import Button
from nudgeproof.units import FOREVER

COMES_ROUND = "the clock comes round"
STORED = "a moment is stored"
FOR_GOOD = "deaf for good"


def running_clock() -> Part:
    """The part for the clock: it comes round once, at any instant, and nobody acts by that. Local state: whether it has.

    Once is all that matters: a reader that is deaf stays so, and one that was reset is as if the clock had begun anew.
    """

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        return () if local else (Timer("comes round", 0, FOREVER),)

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        return (Choice(True, (COMES_ROUND,), says=COMES_ROUND),)

    return Part(name="running clock", role="device", start=False, armed=armed, expired=expired, sends=(COMES_ROUND,))


def by_moments(reader: Part, button: Button) -> Part:
    """The reader of a button with a lockout that ends at a moment of the clock.

    Local state: that of the reader while no lockout has begun since the start; (a moment is stored, that); or (deaf for
    good, that). Takes also the clock's coming round.
    """

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        return reader.armed(_split(local)[1], reads)

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        return _note(STORED, reader.expired(_split(local)[1], timer, reads))

    def heard(local: Local, signal: str, reads: Reads) -> tuple[Choice, ...]:
        mark, inner = _split(local)
        if signal in (RESET, STARTED):
            return reader.heard(inner, signal, reads)
        if signal == COMES_ROUND:
            if mark != STORED or _is_locked_out(inner):
                return (Choice(local),)
            says = f"the end of the last lockout of {button.name} lies far ahead: it is read no more"
            return (Choice((FOR_GOOD, inner), says=says, line=button.at.line),)
        return (Choice(local),) if mark == FOR_GOOD else _note(mark, reader.heard(inner, signal, reads))

    def shown(local: Local) -> tuple[Value, ...]:
        return reader.shown(_split(local)[1])

    takes = {**reader.takes, COMES_ROUND: ()}
    return replace(reader, armed=armed, expired=expired, heard=heard, shown=shown, takes=takes)


def _note(mark: str, choices: tuple[Choice, ...]) -> tuple[Choice, ...]:
    """The same choices with the mark, and with one where a lockout begins."""
    marks = [STORED if _is_locked_out(choice.to) else mark for choice in choices]
    pairs = zip(marks, choices, strict=True)
    return tuple(replace(choice, to=(mark, choice.to)) if mark else choice for mark, choice in pairs)


def _is_locked_out(inner: Local) -> bool:
    assert isinstance(inner, tuple)
    return bool(inner[1])


def _split(local: Local) -> tuple[str, Local]:
    """(mark, local state of the reader)."""
    if isinstance(local, tuple) and local[0] in (STORED, FOR_GOOD):
        return local[0], local[1]
    return "", local
