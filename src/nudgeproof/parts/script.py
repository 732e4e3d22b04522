"""A script: contact and cell edges at absolute times. Used to try the actions of a story on every specimen."""

from __future__ import annotations

from dataclasses import dataclass

from nudgeproof.model.tables import Choice, Local, Part, Reads, Timer, Value
from nudgeproof.parts.contact import held_by
from nudgeproof.parts.people import LEFT, LEFT_IN
from nudgeproof.parts.supply import CELL, opened_by

SCRIPT = "script"
OVER = "over"
END_US = 60_000_000
"""A script is over this long after its last edge: long enough for all that a device does of itself in answer."""


@dataclass(frozen=True, slots=True, order=True)
class Edge:
    """At `at_us` from the beginning the script closes a button's contact, or lets it go; button "" is the cell's contact."""

    at_us: int
    button: str
    closes: bool


def script(edges: tuple[Edge, ...], buttons: tuple[str, ...], left: int) -> Part:
    """The part that plays `edges`, which must be in order of time. Local state: how many were played, and in which state the
    device was when it was left alone ("" before).

    When all are played and `END_US` has passed as well, the script is over. `left`: the device counts as left alone once
    more than so many edges were played; -1: the script says nothing of it.
    """
    cell = any(edge.button == "" for edge in edges)

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        played, _ = _split(local)
        if played > len(edges):
            return ()
        if played == len(edges):
            return (Timer(OVER, END_US, END_US),)
        wait = edges[played].at_us - (edges[played - 1].at_us if played else 0)
        return (Timer(f"edge {played + 1}", wait, wait),)

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        played, was = _split(local)
        if timer == OVER:
            return (Choice((played + 1, was), says="nothing more happens"),)
        after = (played + 1, str(reads["state"]) if played == left else was)
        edge = edges[played]
        if not edge.button:
            says = "the cell is back" if edge.closes else "the cell loses contact"
            return (Choice(after, (CELL,), says=says, actions=1),)
        says = f"{edge.button} is {'pressed' if edge.closes else 'let go'}"
        return (Choice(after, (f"push {edge.button}",), says=says, actions=1),)

    def shown(local: Local) -> tuple[Value, ...]:
        played, was = _split(local)
        held = {edge.button: edge.closes for edge in edges[:played]}
        there = not cell or held.get("", True)
        alone = () if left < 0 else (played > left, was)
        return (*(held.get(b, False) for b in buttons), *((not there,) if cell else ()), *alone)

    return Part(
        name=SCRIPT,
        role="person",
        start=(0, ""),
        publishes=(
            *(held_by(SCRIPT, b) for b in buttons),
            *((opened_by(SCRIPT),) if cell else ()),
            *((LEFT, LEFT_IN) if left >= 0 else ()),
        ),
        shown=shown,
        reads=("state",) if left >= 0 else (),
        armed=armed,
        expired=expired,
        sends=(*(f"push {b}" for b in buttons), *((CELL,) if cell else ())),
    )


def _split(local: Local) -> tuple[int, str]:
    assert isinstance(local, tuple)
    played, was = local
    return played, was
