"""What the hazards about disturbances have in common: each source acts alone, after any use that left the device at rest."""

from __future__ import annotations

from dataclasses import replace

from nudgeproof.model.step import Test
from nudgeproof.parts.compile import Environment
from nudgeproof.parts.people import ANYTHING, PERSON
from nudgeproof.questions.ask import NotAsked, Question, acting, at_start, change
from nudgeproof.questions.promises import CELL_CURE
from nudgeproof.spec.types import Device, Disturbance, Outage


def ask_each(device: Device, name: str, bad: Test, verb: str, cure: str) -> tuple[Question, ...] | NotAsked:
    """One question for each of the surroundings: can it, alone, make the device that is on `verb`?"""
    on = tuple(state.name for state in device.states if state.is_on)
    if not on:
        return NotAsked(name, "no state is on: every one sleeps or waits")
    if not device.surroundings:
        return NotAsked(name, "no surroundings are stated")

    def question(what: Disturbance | Outage) -> Question:
        return Question(
            hazard=name,
            subject=what.name,
            environment=left_at_rest(device, what),
            looked_for=bad,
            unwanted=True,
            came_up=(acting(what.name, frozenset(on)),),
            told=lambda before, after: f"with {what.name} alone the device can {verb} ({change(before, after)})",
            denied="",
            held=f"with {what.name} alone the device, once on, doesn't {verb}, whatever the timing",
            all_held=f"with each of these alone the device, once on, doesn't {verb}, whatever the timing",
            cure=CELL_CURE if isinstance(what, Outage) else cure,
            at=what.at,
            by=what.name,
            begins_in=on,
            wider=wider_than(device, what, bad),
        )

    return tuple(question(what) for what in device.surroundings)


def left_at_rest(device: Device, what: Disturbance | Outage) -> Environment:
    """The environment in which one source acts alone, after any use that left the device at rest, on or off.

    All hazards about one source share it, so it is explored once.
    """
    history = ANYTHING if device.person is None else PERSON
    states = tuple(state.name for state in device.states if not state.waiting)
    return Environment((what.name,), history, states, watched=isinstance(what, Outage))


def wider_than(device: Device, what: Disturbance | Outage, bad: Test) -> tuple[Environment, Test] | None:
    """An environment with more runs that is cheaper to explore, and what to look for there; None if none is known.

    For an interruption: nothing else acts, so harm can only begin at a start after a reset. For several buttons: whoever
    used the device before pressed any way at all, not only as the person does.
    """
    if isinstance(what, Outage):
        return Environment((what.name,), watched=True, gestures=True), at_start(device, bad)
    if len(device.buttons) > 1 and device.person is not None:
        return replace(left_at_rest(device, what), history=ANYTHING), bad
    return None
