"""Torn memory: the supply fails in the middle of a write, and what is found afterwards was never in force.

Asked like `lost-state`, of those starts before which a write had been cut and none was finished since.
"""

from __future__ import annotations

from nudgeproof.hazards.interrupted import ask_each
from nudgeproof.questions.ask import Derived, NotAsked, Question
from nudgeproof.questions.steps import starting_wrongly
from nudgeproof.spec.types import Device

NAME = "torn-memory"
MEANS = "a write that the supply cut short leaves memory mixed, damaged or at random"
CURE = "guard the record with two copies, or hold the supply up until the write has ended"
SHOWN = """\
memory     |old       |writing|(damaged)      the supply fails in the write
cell       ████████████████▁▁▁██████████████"""
ASKED_IF = "`memory`, and surroundings with `cell gone`, or a `cut-off` or `supervisor`"
TEMPTING = (
    "write faster: the loss of contact comes at any moment, so a shorter write is torn less often, not never; a"
    " checksum alone tells that the record is damaged, and doesn't bring it back"
)
EXACT = (
    "exact for each source by itself, while somebody uses the device; a checksum is taken to recognise all damage,"
    " and memory not to wear"
)


def ask(device: Device) -> tuple[Question | Derived, ...] | NotAsked:
    """One question for each source of interruptions."""
    bad = starting_wrongly(device, torn=True)
    return ask_each(device, NAME, bad, "find its memory torn", "never finds its memory torn", CURE)
