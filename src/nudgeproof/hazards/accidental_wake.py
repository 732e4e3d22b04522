"""Accidental wake: a knock, a squeeze, an event or a loss of contact brings the device on.

That the processor starts for a moment is harmless and not asked about. The device has *come on* when it reaches a state
that neither sleeps nor is marked `waiting`. Each disturbance is asked about by itself, after any use that left the device
at rest in a state that sleeps.
"""

from __future__ import annotations

from nudgeproof.hazards.disturbed import cure_for, left_at_rest, none_stated, wider_than
from nudgeproof.questions.ask import NotAsked, Question
from nudgeproof.questions.steps import acting, coming_on
from nudgeproof.spec.types import Device, Source

NAME = "accidental-wake"
MEANS = "a knock, a squeeze, an event or a loss of contact, with nobody meaning it, brings the device on"
CURE = (
    "ask for a second, different step before the device is on (hold, then tap), with a `waiting` state between, and keep the"
    " limits `between` taps below the pause that the disturbance leaves"
)
SHOWN = """\
button     ▁▁▁▁▁▁▁██████████████████████████  something in the bag lies on it
device     |asleep               |awake  |on  nobody meant it"""
ASKED_IF = "`surroundings`, a state with `sleep`, and a state that neither sleeps nor waits"
TEMPTING = (
    "ask for a longer hold: a squeeze in a bag lasts longer than any hold a person would put up with; or a longer debounce:"
    " it keeps out short knocks only, and makes quick taps go unseen"
)
EXACT = (
    "exact for each source by itself, as the spec states it, after any use that left the device at rest; two sources at once"
    " are asked about only by a promise with `together`"
)


def ask(device: Device) -> tuple[Question, ...] | NotAsked:
    """One question for each of the surroundings."""
    asleep = tuple(state.name for state in device.states if state.is_off)
    if not asleep:
        return NotAsked(NAME, "no state sleeps")
    if not any(state.is_on for state in device.states):
        return NotAsked(NAME, "no state is on: every one sleeps or waits")
    if not device.unmeant:
        return NotAsked(NAME, none_stated(device))

    def question(what: Source) -> Question:
        source = what.name
        return Question(
            hazard=NAME,
            subject=source,
            environment=left_at_rest(device, what),
            looked_for=coming_on(device),
            unwanted=True,
            came_up=(acting(source, frozenset(asleep)),),
            told=lambda before, after: f"with {source} alone the device can come on ({before} -> {after})",
            denied="",
            held=f"with {source} alone the device never comes on, whatever the timing",
            all_held="with each of these alone the device never comes on, whatever the timing",
            cure=cure_for(what, CURE),
            at=what.at,
            by=source,
            begins_in=asleep,
            wider=wider_than(device, what, coming_on(device)),
        )

    return tuple(question(what) for what in device.unmeant)
