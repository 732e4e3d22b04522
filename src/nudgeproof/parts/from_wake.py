"""A press that counts from the edge that woke the processor, not from when it is accepted.

Such a firmware takes the button to have been down ever since. So at the waking edge the recogniser's press begins, as if it
had been accepted there, but what it comes to is held back until a press is accepted. If the level is found open before, once
the firmware runs, all this is forgotten. The recogniser itself knows nothing of it: it is told of the press early. A press
may count from power on, too (see `from_power`).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from nudgeproof.model.tables import Choice, Local, Part, Reads, Timer, Value
from nudgeproof.parts.recogniser import IDLE
from nudgeproof.parts.sleep import READY, RUNNING, wakes
from nudgeproof.spec.types import Button


@dataclass(frozen=True, slots=True)
class Early:
    """Local state while a press counts that isn't accepted.

    `inner`: the recogniser's; `seen`: what is held back; `since`: from when it counts, in words.
    """

    inner: Local
    seen: tuple[str, ...] = ()
    since: str = "it woke"


def from_wake(recogniser: Part, button: Button) -> Part:
    """The recogniser of a button for a device in which its press counts from waking in some state.

    Local state: that of the recogniser, or `Early`. Takes also `wakes by B`, `ready` and `edge B`.
    """
    down, level, edge = f"down {button.name}", f"level {button.name}", f"edge {button.name}"

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        return recogniser.armed(local.inner if isinstance(local, Early) else local, reads)

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        if not isinstance(local, Early):
            return recogniser.expired(local, timer, reads)
        choices = recogniser.expired(local.inner, timer, reads)
        return tuple(_hold_back(local, choice, button) for choice in choices)

    def heard(local: Local, signal: str, reads: Reads) -> tuple[Choice, ...]:
        if signal == wakes(button.name):
            if local != IDLE:
                return (Choice(local),)
            return tuple(_hold_back(Early(local), choice, button) for choice in recogniser.heard(local, down, reads))
        if signal in (READY, edge):
            is_open = isinstance(local, Early) and reads[RUNNING] and not reads[level]
            return (Choice(IDLE if is_open else local),)
        if not isinstance(local, Early):
            return recogniser.heard(local, signal, reads)
        if signal == down:
            says = f"the firmware takes {button.name} to have been down since {local.since}"
            return (Choice(local.inner, local.seen, says=says, line=button.at.line),)
        if signal.startswith(("down ", "up ")):  # of another button, whose press lends its time to what is idle
            return (Choice(local),)
        return recogniser.heard(IDLE, signal, reads)

    def shown(local: Local) -> tuple[Value, ...]:
        return recogniser.shown(local.inner if isinstance(local, Early) else local)

    return replace(
        recogniser,
        shown=shown,
        reads=(*recogniser.reads, RUNNING),
        armed=armed,
        expired=expired,
        takes={**recogniser.takes, down: recogniser.sends, wakes(button.name): (), READY: (), edge: ()},
        heard=heard,
    )


def _hold_back(local: Early, choice: Choice, button: Button) -> Choice:
    """What a time came to that ran while no press was accepted; what is seen is seen then, and once."""
    says = choice.says if not choice.send else f"{button.name} counts already, though it isn't read yet"
    return replace(choice, to=replace(local, inner=choice.to, seen=local.seen or choice.send), send=(), says=says)
