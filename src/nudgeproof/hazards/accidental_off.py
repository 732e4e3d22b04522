"""Accidental off: a knock, a squeeze, an event or a loss of contact switches a device off that is on.

Off is a state that sleeps. A timeout of the state isn't counted. Each source is asked about by itself, after any use that
left the device on and at rest.
"""

from __future__ import annotations

from nudgeproof.hazards.disturbed import ask_each
from nudgeproof.questions.ask import NotAsked, Question
from nudgeproof.questions.steps import changing
from nudgeproof.spec.types import Device

NAME = "accidental-off"
MEANS = "a knock, a squeeze, an event or a loss of contact switches the device off while it is on"
CURE = "ask for a gesture that no disturbance makes (a hold longer than it, or two steps), or keep the state in memory"
SHOWN = """\
button     ▁▁▁▁▁▁▁▁▁▁████▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁  a bump, as short as a tap
device     |on            |asleep             dark when it is needed"""
ASKED_IF = "`surroundings`, a state that is on, and a state with `sleep`"
TEMPTING = (
    "ignore presses for a while after switching on: the bump comes later; or a longer tap: a bump has no shortest"
    " length, and quick fingers are refused"
)
EXACT = (
    "exact for each source by itself, after any use that left the device on and at rest; a timeout of the state isn't"
    " counted, since it would have come anyway"
)


def ask(device: Device) -> tuple[Question, ...] | NotAsked:
    """One question for each of the surroundings."""
    if not any(state.is_off for state in device.states):
        return NotAsked(NAME, "no state sleeps")
    return ask_each(device, NAME, changing(device, to_sleep=True), "go off", CURE)
