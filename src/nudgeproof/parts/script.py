"""A script: contact and cell edges at absolute times. Used to try the actions of a story on every specimen."""

from __future__ import annotations

from dataclasses import dataclass

from nudgeproof.model.tables import Choice, Local, Part, Reads, Timer, Value
from nudgeproof.parts.cell_level import ABOVE, LEVEL_CHANGES, level_of
from nudgeproof.parts.contact import held_by
from nudgeproof.parts.people import LEFT, LEFT_IN
from nudgeproof.parts.sleep import OUTSIDE
from nudgeproof.parts.supply import CELL, opened_by

SCRIPT = "script"
OVER = "over"
END_US = 60_000_000
"""A script is over this long after its last edge: long enough for all that a device does of itself in answer."""


@dataclass(frozen=True, slots=True, order=True)
class Edge:
    """At `at_us` from the beginning the script closes a button's contact, or lets it go; button "" is the cell's contact.

    With `event` it makes that event instead, with `level` it takes the voltage of the cell there (see `cell_level`).
    """

    at_us: int
    button: str
    closes: bool
    event: str = ""
    level: str = ""

    @property
    def is_cell(self) -> bool:
        """Whether it is the cell's contact."""
        return not (self.button or self.event or self.level)


def script(edges: tuple[Edge, ...], buttons: tuple[str, ...], left: int) -> Part:
    """The part that plays `edges`, which must be in order of time. Local state: how many were played, and in which state the
    device was when it was left alone ("" before).

    When all are played and `END_US` has passed as well, the script is over. `left`: the device counts as left alone once
    more than so many edges were played, or just before the next one if that is an event, which is seen at once; -1: the
    script says nothing of it.
    """
    cell = any(edge.is_cell for edge in edges)
    levels = any(edge.level for edge in edges)

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        played, _ = _split(local)
        if played > len(edges):
            return ()
        if played == len(edges):
            return (Timer(OVER, END_US, END_US),)
        wait = edges[played].at_us - (edges[played - 1].at_us if played else 0)
        if leaves_first(local):
            return (Timer("leaves", wait, wait),)
        wait = 0 if leaves_at(played) else wait
        return (Timer(f"edge {played + 1}", wait, wait),)

    def leaves_at(played: int) -> bool:
        """Whether the device is left alone in a step of its own before this edge."""
        return played == left and played < len(edges) and bool(edges[played].event)

    def leaves_first(local: Local) -> bool:
        played, was = _split(local)
        return leaves_at(played) and not was

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        played, was = _split(local)
        if timer == OVER:
            return (Choice((played + 1, was), says="nothing more happens"),)
        if leaves_first(local):
            return (Choice((played, str(reads["state"])), says="the device is left alone"),)
        after = (played + 1, str(reads["state"]) if played == left and not was else was)
        edge = edges[played]
        if edge.event:
            return (Choice(after, (OUTSIDE + edge.event,), says=edge.event, actions=1),)
        if edge.level:
            return (
                Choice(
                    after, (LEVEL_CHANGES,), says=f"the voltage of the cell goes {edge.level} the levels", actions=1
                ),
            )
        if edge.is_cell:
            says = "the cell is back" if edge.closes else "the cell loses contact"
            return (Choice(after, (CELL,), says=says, actions=1),)
        says = f"{edge.button} is {'pressed' if edge.closes else 'let go'}"
        return (Choice(after, (f"push {edge.button}",), says=says, actions=1),)

    def shown(local: Local) -> tuple[Value, ...]:
        played, was = _split(local)
        held = {edge.button: edge.closes for edge in edges[:played] if edge.button or edge.is_cell}
        level = next((edge.level for edge in reversed(edges[:played]) if edge.level), ABOVE)
        there = not cell or held.get("", True)
        alone = () if left < 0 else (played > left or bool(was), was)
        return (
            *(held.get(b, False) for b in buttons),
            *((not there,) if cell else ()),
            *((level,) if levels else ()),
            *alone,
        )

    return Part(
        name=SCRIPT,
        role="person",
        start=(0, ""),
        publishes=(
            *(held_by(SCRIPT, b) for b in buttons),
            *((opened_by(SCRIPT),) if cell else ()),
            *((level_of(SCRIPT),) if levels else ()),
            *((LEFT, LEFT_IN) if left >= 0 else ()),
        ),
        shown=shown,
        reads=("state",) if left >= 0 else (),
        armed=armed,
        expired=expired,
        sends=(
            *(f"push {b}" for b in buttons),
            *((CELL,) if cell else ()),
            *((LEVEL_CHANGES,) if levels else ()),
            *dict.fromkeys(OUTSIDE + edge.event for edge in edges if edge.event),
        ),
    )


def _split(local: Local) -> tuple[int, str]:
    assert isinstance(local, tuple)
    played, was = local
    return played, was
