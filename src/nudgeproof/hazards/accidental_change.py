"""Accidental change: a knock, a squeeze, an event or a loss of contact changes what a device that is on does.

A change of state or of a variable counts; going off is asked about as `accidental-off`. Each source is asked about by
itself, after any use that left the device on and at rest.
"""

from __future__ import annotations

from nudgeproof.hazards.disturbed import ask_each
from nudgeproof.questions.ask import NotAsked, Question
from nudgeproof.questions.steps import changing
from nudgeproof.spec.types import Device

NAME = "accidental-change"
MEANS = "a knock, a squeeze, an event or a loss of contact changes the mode of the device that is on"
CURE = "ask for a gesture that no disturbance makes, or accept it in the spec and say why"
SHOWN = """\
button     ▁▁▁▁▁▁▁▁▁▁████▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁  a knock, as short as a tap
device     |on, low       |on, high           another mode than was left"""
ASKED_IF = "`surroundings`, and a state that is on and can change its state or a variable"
TEMPTING = (
    "a longer debounce until no knock counts: then quick taps don't count either, and `missed-gesture` breaks; if a tap must"
    " change the mode, accept it and say why"
)
EXACT = "exact for each source by itself, after any use that left the device on and at rest; timeouts aren't counted"


def ask(device: Device) -> tuple[Question, ...] | NotAsked:
    """One question for each of the surroundings."""
    return ask_each(device, NAME, changing(device, to_sleep=False), "change its mode", CURE)
