"""Misread gesture: somebody does a gesture as well as their habits allow, and the firmware takes it for another one,
or sees one more than was done.

Asked of the same acts as `missed-gesture`. What the firmware does with the other gesture doesn't matter: it was not meant.
"""

from __future__ import annotations

from nudgeproof.hazards.missed_gesture import ask_each, tell
from nudgeproof.model.step import Test
from nudgeproof.parts.performer import OTHER
from nudgeproof.questions.ask import NotAsked, Question
from nudgeproof.questions.steps import ending_as
from nudgeproof.spec.types import Device

NAME = "misread-gesture"
MEANS = "a gesture done as the person usually does it is taken for another one, or for more than one"
CURE = (
    "set the limits of the two gestures where the person's habits leave a gap, or let the shorter one wait for the"
    " longer one in every state where both mean something; if one press counts twice, read the contact for longer than it"
    " chatters"
)
SHOWN = """\
button     ▁▁▁██▁▁▁▁▁▁▁▁▁▁▁██▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁  two taps, with a slow pause
firmware   |     |..... |tap      |.....|tap  taken for one tap, twice"""
ASKED_IF = "`person`, and a gesture in some state that the habits describe"
TEMPTING = (
    "widen the one limit that is too tight: the same presses may then fall to a third gesture; look at all gestures of the"
    " state together"
)
EXACT = (
    "exact for the habits stated, from any moment of rest after any presses, with nothing else acting and a steady supply;"
    " what the other gesture does doesn't matter"
)


def ask(device: Device) -> tuple[Question, ...] | NotAsked:
    """One question for each act."""
    return ask_each(
        device,
        NAME,
        _misreading,
        lambda act: f"{tell(act)}, done as the person does it, can be taken for another gesture, or for more than one",
        lambda act: (
            f"{tell(act)}, done as the person does it, is never taken for another gesture, nor for more than one"
        ),
        "each, done as the person does it, is never taken for another gesture, nor for more than one",
        CURE,
    )


def _misreading(device: Device, number: int) -> Test:
    return ending_as(number, OTHER)
