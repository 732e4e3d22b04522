"""The first press after waking, where it is no tap: a mark around a recogniser.

Waking sets the mark, and a tap that comes while it is set is passed over. It is cleared with the release of the first press
after waking, whatever that became; or, in a firmware that thinks of the tap alone, only by the tap that is passed over. So
after a hold it is left behind, and swallows a later tap. Going to sleep clears it as well, since waking sets it anew.
"""

from __future__ import annotations

from dataclasses import replace

from nudgeproof.model.tables import Choice, Local, Part, Reads, Timer, Value
from nudgeproof.parts.chart import STARTED
from nudgeproof.parts.press_length import Reckoned
from nudgeproof.parts.recogniser import IDLE, SPENT
from nudgeproof.parts.sleep import ASLEEP, READY
from nudgeproof.parts.supply import RESET
from nudgeproof.spec.types import Button

MARKED = "marked"
STARTING = "starting"


def waking_press(recogniser: Part, button: Button, can_lose_power: bool) -> Part:
    """The recogniser of a button with a `waking press` that is no tap.

    Local state: that of the recogniser; (marked, that); or (starting, that) just after a start, which is no waking. Takes
    the processor's `ready` too.
    """
    down, up = f"down {button.name}", f"up {button.name}"
    stays = button.claims.waking == "no tap until one came"

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        return recogniser.armed(_split(local)[1], reads)

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        mark, inner = _split(local)
        return _again(mark, recogniser.expired(inner, timer, reads))

    def heard(local: Local, signal: str, reads: Reads) -> tuple[Choice, ...]:
        mark, inner = _split(local)
        if signal == READY:
            choices = recogniser.heard(inner, signal, reads) if READY in recogniser.takes else (Choice(inner),)
            return choices if mark == STARTING else _again(MARKED, choices)
        choices = recogniser.heard(inner, signal, reads)
        if signal == STARTED:
            return _again(STARTING, choices)
        if signal in (RESET, ASLEEP):
            return choices
        if mark == MARKED and signal == down and any(choice.send for choice in choices):
            return (Choice(SPENT, says="the press that woke it is no tap", line=button.at.line),)
        if mark != MARKED or signal != up:
            return _again(mark, choices)
        if _is_tap(inner, button):
            return (Choice(IDLE, says="the press that woke it is no tap", line=button.at.line),)
        return _again(MARKED if stays else "", choices)

    def shown(local: Local) -> tuple[Value, ...]:
        return recogniser.shown(_split(local)[1])

    takes = {READY: (), **recogniser.takes, **({RESET: (), STARTED: ()} if can_lose_power else {})}
    return replace(recogniser, armed=armed, expired=expired, heard=heard, shown=shown, takes=takes)


def _is_tap(inner: Local, button: Button) -> bool:
    """Whether what a recogniser has begun is a tap, if it is let go now."""
    inner = inner.inner if isinstance(inner, Reckoned) else inner
    if not isinstance(inner, tuple):
        return False
    if inner[0] == "repeating":
        return button.claims.after_hold == "a tap"
    return inner[0] == "held" or (inner[0] == "down" and not inner[3])


def _again(mark: str, choices: tuple[Choice, ...]) -> tuple[Choice, ...]:
    """The same choices with the mark as it was."""
    return tuple(replace(choice, to=(mark, choice.to)) for choice in choices) if mark else choices


def _split(local: Local) -> tuple[str, Local]:
    """(mark, local state of the recogniser)."""
    if isinstance(local, tuple) and local[0] in (MARKED, STARTING):
        return local[0], local[1]
    return "", local
