"""A train of presses: a given number of them, each length and pause within given bounds. No assumption beyond these.

Used to find out what it would take for something to happen: the bounds are narrowed until it can't.
"""

from __future__ import annotations

from dataclasses import dataclass

from nudgeproof.model.tables import Choice, Local, Part, Reads, Timer, Value
from nudgeproof.parts.contact import held_by
from nudgeproof.units import FOREVER, Span

TRAIN = "train"
ANY = Span(0, FOREVER)


@dataclass(frozen=True, slots=True)
class Train:
    """`spans`: length of press 1, pause, length of press 2, ...: an odd number, first edge to first edge."""

    button: str
    spans: tuple[Span, ...]


def train(what: Train, buttons: tuple[str, ...]) -> Part:
    """The part that presses. Local state: how many edges were made."""
    count = len(what.spans) + 1

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        made = _made(local)
        if made == count:
            return ()
        span = what.spans[made - 1] if made else ANY
        return (Timer(edge_name(made), span.lo, span.hi),)

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        made = _made(local)
        says = f"{what.button} is {'let go' if made % 2 else 'pressed'}"
        return (Choice(made + 1, (f"push {what.button}",), says=says, actions=1),)

    def shown(local: Local) -> tuple[Value, ...]:
        return tuple(b == what.button and _made(local) % 2 == 1 for b in buttons)

    return Part(
        name=TRAIN,
        role="disturbance",
        start=0,
        publishes=tuple(held_by(TRAIN, b) for b in buttons),
        shown=shown,
        armed=armed,
        expired=expired,
        sends=(f"push {what.button}",),
    )


def edge_name(place: int) -> str:
    """The timer that ends the length or pause number `place` (from 1; 0 is the wait before the first press)."""
    return f"edge {place + 1}"


def _made(local: Local) -> int:
    assert isinstance(local, int)
    return local
