"""Stale memory: new firmware takes what an older one wrote, in another layout, for its own.

Asked where `memory` says what happens then (`old layout`). Read as it is, an old record can look like any legal values; the
device must start as it would with a blank memory instead.
"""

from __future__ import annotations

from nudgeproof.parts.compile import Environment
from nudgeproof.parts.memory import FOUND_STALE
from nudgeproof.questions.ask import NotAsked, Question
from nudgeproof.questions.steps import starting, starting_unlike_blank
from nudgeproof.spec.types import CELL_CAUSE, Device

NAME = "stale-memory"
MEANS = "after an update the firmware takes what an older one stored, in another layout, for its own"
CURE = "store a number for the layout beside the values, and treat a memory with another number as blank"
SHOWN = """\
memory     |written by the old firmware       another order of the same bytes
device     |(update) |starts in any state     taken for its own"""
ASKED_IF = "`memory` with `old layout`, `power up` and `supply`"
TEMPTING = (
    "a checksum: it tells whether the record is whole, and the old one is; or to reset by hand after an update: the"
    " devices are in other people's hands"
)
EXACT = (
    "exact for the first start after an update, with a memory that may hold any legal values; the update itself isn't"
    " described"
)


def ask(device: Device) -> tuple[Question, ...] | NotAsked:
    """One question, if the spec says what is made of an old layout."""
    memory = device.memory
    if memory is None:
        return NotAsked(NAME, "the spec has no `memory`")
    if not memory.old_layout:
        return NotAsked(
            NAME, "`memory` doesn't say what is made of an older firmware's record (`old layout: recognised`)"
        )
    if device.power_up is None or device.supply is None:
        return NotAsked(NAME, "the spec has no `power up` and `supply`, so it isn't said how the device starts")
    state = device.power_up.state_after(CELL_CAUSE)
    return (
        Question(
            hazard=NAME,
            subject="first start of new firmware",
            environment=Environment(found=FOUND_STALE),
            looked_for=starting_unlike_blank(device),
            unwanted=True,
            came_up=(starting,),
            told=lambda before, after: (
                f"the first start of new firmware can be in {after} with what an older one stored, not afresh in {state}"
            ),
            denied="",
            held=f"the first start of new firmware is that of a blank memory, in {state}",
            all_held=f"the first start of new firmware is that of a blank memory, in {state}",
            cure=CURE,
            at=memory.at,
        ),
    )
