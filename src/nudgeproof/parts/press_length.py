"""A press whose length is reckoned only when it is let go, in a type that is too small: around a recogniser.

Such a firmware notes when a press begins, and asks at its release how long ago that was. Elapsed time that doesn't fit its
type comes round meanwhile, and nobody looks: so to the firmware a press begins anew each time, and a long one passes for a
short one. All that the press could be when it began it may then be again.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from nudgeproof.model.tables import Choice, Local, Part, Reads, Timer, Value, lasting
from nudgeproof.parts.chart import CHANGED
from nudgeproof.spec.types import Button, Device
from nudgeproof.units import Span

ROUND = "press comes round"


@dataclass(frozen=True, slots=True)
class Reckoned:
    """Local state during a press that is somebody's, or may be again. `inner`: the recogniser's; `begun`: as it began."""

    inner: Local
    begun: Local


def press_length(recogniser: Part, device: Device, button: Button, elapsed: Span) -> Part:
    """The recogniser of a button whose presses have lengths that come round after a time in `elapsed`.

    Local state: that of the recogniser, or `Reckoned`.
    """
    used = {state.name: state.gestures for state in device.states}

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        if not isinstance(local, Reckoned):
            return recogniser.armed(local, reads)
        return (*recogniser.armed(local.inner, reads), lasting(ROUND, elapsed))

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        if not isinstance(local, Reckoned):
            return recogniser.expired(local, timer, reads)
        if timer != ROUND:
            return _keep(local.begun, recogniser.expired(local.inner, timer, reads))
        anew = tuple(timer.name for timer in recogniser.armed(local.begun, reads))
        says = f"to the firmware's clock {button.name} was pressed just now"
        return (Choice(replace(local, inner=local.begun), says=says, line=button.at.line, restart=anew),)

    def heard(local: Local, signal: str, reads: Reads) -> tuple[Choice, ...]:
        choices = recogniser.heard(local.inner if isinstance(local, Reckoned) else local, signal, reads)
        is_anew = signal == CHANGED and button.claims.new_state == "begins it anew"
        if signal == f"down {button.name}" or is_anew:
            return tuple(
                replace(choice, to=Reckoned(choice.to, choice.to), restart=(*choice.restart, ROUND))
                if is_press(choice.to)
                else choice
                for choice in choices
            )
        if signal == CHANGED and isinstance(local, Reckoned) and button.claims.new_state == "keeps the press":
            begun = _left(local.begun, used[str(reads["state"])])
            return choices if begun is None else _keep(begun, choices)
        return choices

    def shown(local: Local) -> tuple[Value, ...]:
        return recogniser.shown(local.inner if isinstance(local, Reckoned) else local)

    return replace(recogniser, armed=armed, expired=expired, heard=heard, shown=shown)


def is_press(inner: Local) -> bool:
    """Whether a recogniser follows a press that is down."""
    return isinstance(inner, tuple) and inner[0] == "down"


def _keep(begun: Local, choices: tuple[Choice, ...]) -> tuple[Choice, ...]:
    """The same choices, during the same press."""
    return tuple(replace(choice, to=Reckoned(choice.to, begun)) for choice in choices)


def _left(begun: Local, used: tuple[str, ...]) -> Local | None:
    """How a press began, for the gestures in use in another state; None if none of its own are."""
    assert isinstance(begun, tuple)
    phase, press, alive, mark = begun
    left = tuple(name for name in alive if name in used)
    return (phase, press, left, mark) if left else None
