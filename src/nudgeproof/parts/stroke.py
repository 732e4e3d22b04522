"""One press by a finger, or by two fingers on the two buttons of a chord, as steps: closing, staying, opening.

Who presses keeps the place within a stroke: which buttons are held, and whether they are being let go. A chord closes and
opens in either order; its second contact comes within a time of the first.
"""

from __future__ import annotations

from dataclasses import dataclass

from nudgeproof.model.tables import Timer
from nudgeproof.units import Span

LETS_GO = "lets go"
LETS_OTHER_GO = "lets the other go"
PRESSES_OTHER = "presses the other"

Held = tuple[str, ...]
AT_ONCE = Span(0, 0)


@dataclass(frozen=True, slots=True)
class Stroke:
    """`buttons` held together for a time in `down` (None: for good), the second `together` after the first."""

    buttons: Held
    down: Span | None
    together: Span = AT_ONCE


@dataclass(frozen=True, slots=True)
class Touch:
    """An edge by a finger on `button`, and where in the stroke that leads: it is over when no button is `held`."""

    button: str
    held: Held
    opening: bool


def next_timer(stroke: Stroke, held: Held, opening: bool) -> tuple[Timer, ...]:
    """What ends the present stretch of a stroke that has begun; nothing if it never ends."""
    if opening:
        return (Timer(LETS_OTHER_GO, stroke.together.lo, stroke.together.hi),)
    if len(held) < len(stroke.buttons):
        return (Timer(PRESSES_OTHER, stroke.together.lo, stroke.together.hi),)
    return (Timer(LETS_GO, stroke.down.lo, stroke.down.hi),) if stroke.down is not None else ()


def next_touches(stroke: Stroke, held: Held, opening: bool) -> tuple[Touch, ...]:
    """What the finger, or either of them, may do when that time is over; with nothing held: how the stroke begins."""
    if opening or len(held) == len(stroke.buttons):
        return tuple(Touch(b, tuple(other for other in held if other != b), True) for b in held)
    return tuple(
        Touch(b, tuple(other for other in stroke.buttons if other in held or other == b), False)
        for b in stroke.buttons
        if b not in held
    )
