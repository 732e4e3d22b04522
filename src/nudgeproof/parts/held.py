"""A button that is held while power comes up: the cell is put in with the button down, and let go at any time afterwards.

The contact is closed and settled from the beginning, so nobody presses anew; whatever gesture of this button the firmware
then sees, nobody made.
"""

from __future__ import annotations

from nudgeproof.model.tables import Choice, Local, Part, Reads, Timer, lasting
from nudgeproof.parts.contact import held_by
from nudgeproof.parts.supply import POWERED, RESTORE, STEADY, opened_by
from nudgeproof.spec.types import PowerUp
from nudgeproof.units import FOREVER

HOLDER = "holder"
CELL_IN = "cell put in"


def holder(button: str, buttons: tuple[str, ...]) -> Part:
    """The part that holds the button and lets go at any time once the firmware runs. Local state: whether it holds."""

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        return (Timer("lets go", 0, FOREVER),) if local and reads[POWERED] else ()

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        return (Choice(False, (f"push {button}",), says=f"{button} is let go", actions=1),)

    return Part(
        name=HOLDER,
        role="person",
        start=True,
        publishes=tuple(held_by(HOLDER, b) for b in buttons),
        shown=lambda local: tuple(bool(local) and b == button for b in buttons),
        reads=(POWERED,),
        armed=armed,
        expired=expired,
        sends=(f"push {button}",),
    )


def cell_put_in(button: str, rules: PowerUp) -> Part:
    """The part for a supply that comes up once and stays; it begins without a cell. Local state: out, starting, up.

    Sends `restore` and publishes `powered` and `steady`, as the supply does.
    """
    comes = Timer("the cell is put in", 0, 0)
    starts = lasting("starts", rules.takes)

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        return {"out": (comes,), "starting": (starts,)}.get(str(local), ())

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        if local == "out":
            says = f"{button} is held down while power comes up"
            return (Choice("starting", says=says, line=rules.at.line, actions=1),)
        return (Choice("up", (RESTORE,), says="the firmware starts and reads its memory", line=rules.at.line),)

    return Part(
        name=CELL_IN,
        role="supply",
        start="out",
        publishes=(POWERED, STEADY, opened_by(CELL_IN)),
        shown=lambda local: (local == "up", local == "up", local == "out"),
        armed=armed,
        expired=expired,
        sends=(RESTORE,),
    )
