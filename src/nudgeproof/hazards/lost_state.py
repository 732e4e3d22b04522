"""Lost state: after an interruption of the supply the device isn't as it was.

Everything in `memory: keeps` must come back as it was in force, all of it together, at one instant between the loss of
contact, less `may lose`, and the reset. Asked while someone uses the device, for each source that interrupts the cell.
What a write that was cut has done is asked about as `torn-memory`.
"""

from __future__ import annotations

from nudgeproof.hazards.interrupted import ask_each
from nudgeproof.questions.ask import Derived, NotAsked, Question
from nudgeproof.questions.steps import starting_wrongly
from nudgeproof.spec.types import Device

NAME = "lost-state"
MEANS = "after an interruption of the supply something that memory should keep isn't as it was"
CURE = "save at once, keep what is missing, or hold the supply up until the write has ended"
SHOWN = """\
cell       ████████████████▁▁▁██████████████  a knock, the cell loses contact
device     |low   |high    |(dark)  |low      the change is lost"""
ASKED_IF = "`memory`, and surroundings with `cell gone`, or a `cut-off` or `supervisor`"
TEMPTING = (
    "save only once nothing has changed for a while, to spare the memory: every change within that time is lost; or start"
    " again in a fixed state, which is what should not happen"
)
EXACT = (
    "exact for each source by itself, while somebody uses the device; kept means: as it was at one instant between"
    " the loss of contact, less `may lose`, and the reset; what a torn write does is asked as `torn-memory`"
)


def ask(device: Device) -> tuple[Question | Derived, ...] | NotAsked:
    """One question for each source of interruptions."""
    bad = starting_wrongly(device, torn=False)
    return ask_each(
        device,
        NAME,
        bad,
        "come back with something kept that isn't as it was",
        "comes back with all that memory keeps as it was, but for a torn write",
        CURE,
    )
