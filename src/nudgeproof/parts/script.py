"""A script: contact edges at absolute times, as a source of presses. Used to replay a story on every specimen."""

from __future__ import annotations

from dataclasses import dataclass

from nudgeproof.model.tables import Choice, Local, Part, Reads, Timer, Value
from nudgeproof.parts.contact import held_by

SCRIPT = "script"


@dataclass(frozen=True, slots=True, order=True)
class Edge:
    """At `at_us` from the beginning the script closes a button's contact, or lets it go."""

    at_us: int
    button: str
    closes: bool


def script(edges: tuple[Edge, ...], buttons: tuple[str, ...]) -> Part:
    """The part that plays `edges`, which must be in order of time. Local state: how many were played."""

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        played = _played(local)
        if played == len(edges):
            return ()
        wait = edges[played].at_us - (edges[played - 1].at_us if played else 0)
        return (Timer(f"edge {played + 1}", wait, wait),)

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        played = _played(local)
        edge = edges[played]
        says = f"{edge.button} is {'pressed' if edge.closes else 'let go'}"
        return (Choice(played + 1, (f"push {edge.button}",), says=says, actions=1),)

    def shown(local: Local) -> tuple[Value, ...]:
        held = {edge.button: edge.closes for edge in edges[: _played(local)]}
        return tuple(held.get(b, False) for b in buttons)

    return Part(
        name=SCRIPT,
        role="person",
        start=0,
        publishes=tuple(held_by(SCRIPT, b) for b in buttons),
        shown=shown,
        armed=armed,
        expired=expired,
        sends=tuple(f"push {b}" for b in buttons),
    )


def _played(local: Local) -> int:
    assert isinstance(local, int)
    return local
