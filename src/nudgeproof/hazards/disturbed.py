"""What the hazards about disturbances have in common: each source acts alone, after any use that left the device at rest."""

from __future__ import annotations

from dataclasses import replace

from nudgeproof.model.step import Test
from nudgeproof.parts.compile import Environment, is_large
from nudgeproof.parts.gestures import can_stand_in
from nudgeproof.parts.people import ANYTHING, PERSON
from nudgeproof.parts.sleep import may_wake_by_itself
from nudgeproof.questions.ask import NotAsked, Question, change
from nudgeproof.questions.promises import CELL_CURE
from nudgeproof.questions.steps import acting, at_start
from nudgeproof.spec.outside import Maker, Sag
from nudgeproof.spec.types import Device, Outage, Source


def ask_each(device: Device, name: str, bad: Test, verb: str, cure: str) -> tuple[Question, ...] | NotAsked:
    """One question for each of the surroundings: can it, alone, make the device that is on `verb`?"""
    on = tuple(state.name for state in device.states if state.is_on)
    if not on:
        return NotAsked(name, "no state is on: every one sleeps or waits")
    if not device.unmeant:
        return NotAsked(name, none_stated(device))

    def question(what: Source) -> Question:
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
            cure=cure_for(what, cure),
            at=what.at,
            by=what.name,
            begins_in=on,
            wider=wider_than(device, what, bad),
        )

    return tuple(question(what) for what in device.unmeant)


def cure_for(what: Source, usual: str) -> str:
    """What usually helps against a source."""
    if isinstance(what, Outage):
        return CELL_CURE
    if isinstance(what, Maker | Sag):
        return (
            f"give the event no such line in that state; if the device is for this, write `meant: true` at {what.name}"
        )
    return usual


def none_stated(device: Device) -> str:
    """Why nothing is asked where no surroundings disturb."""
    return "all surroundings are meant" if device.surroundings else "no surroundings are stated"


def left_at_rest(device: Device, what: Source) -> Environment:
    """The environment in which one source acts alone, after any use that left the device at rest, on or off.

    All hazards about one source share it, so it is explored once.
    """
    states = tuple(state.name for state in device.states if not state.waiting)
    watched = isinstance(what, Outage) or bool(device.resets)
    return Environment((what.name,), history_of(device), states, watched=watched)


def history_of(device: Device) -> str:
    """Who used the device before: the person, or anything at all where none is stated."""
    return ANYTHING if device.person is None else PERSON


def wider_than(device: Device, what: Source, bad: Test) -> tuple[Environment, Test] | None:
    """An environment with more runs that is cheaper to explore, and what to look for there; None if none is known.

    For an interruption: nothing else acts, so harm can only begin at a start after a reset (not where the cell was used
    while weak: after a start its level is seen anew; nor where a flag that was left set may wake the device by itself). For
    a large device: whoever used it before pressed any way at all, not only as the person does.
    """
    if isinstance(what, Outage):
        sags = any(isinstance(source, Sag) and source.meant for source in device.surroundings)
        if sags or not can_stand_in(device) or may_wake_by_itself(device):
            return None
        return Environment((what.name, *device.meant), watched=True, gestures=True), at_start(device, bad)
    if is_large(device) and device.person is not None:
        return replace(left_at_rest(device, what), history=ANYTHING), bad
    return None
