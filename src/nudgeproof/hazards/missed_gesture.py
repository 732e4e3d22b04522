"""Missed gesture: somebody does a gesture as well as their habits allow, and the firmware doesn't see anything.

Asked of every gesture in every state that isn't `waiting`, and of the gesture into a waiting state with each next one as one
act, from any moment of rest after any presses. The gesture is missed when everything has settled and no gesture was
seen; one that is taken for another is asked about as `misread-gesture`. Runs in which a timeout of the starting state
falls due meanwhile are excused. Where it
depends on values whether the gesture leads into the waiting state, the act begins while they have such values.
"""

from __future__ import annotations

from collections.abc import Callable

from nudgeproof.model.step import Test
from nudgeproof.parts.compile import Environment
from nudgeproof.parts.people import ANYTHING
from nudgeproof.parts.performer import Act, can_perform
from nudgeproof.questions.ask import NotAsked, Question, needed_before
from nudgeproof.questions.steps import missing, succeeding
from nudgeproof.spec.types import Device, State

NAME = "missed-gesture"
MEANS = "a gesture done as the person usually does it isn't seen"
CURE = (
    "widen the limits of the gesture, shorten debounce or start-up, or give more time in a waiting state, until they cover"
    " the person's habits"
)
_ARM_FIRST = (
    "arm the wake source before the last look (`steps: [clear, arm, check, sleep]`): what comes before it is armed is then"
    " found by that look"
)
_ONE_STEP = (
    "clear the flag, look once more, and sleep in one step that no interrupt can divide (`late edge: keeps it awake`); or"
    " wake `on: level`, since a level is still there"
)
_ELAPSED = (
    "ask how much time has passed since the edge (`lockout ends: after its time`) in place of comparing moments: a clock"
    " that comes round leaves the moment far ahead"
)
SHOWN = """\
button     ▁▁▁▁▁▁▁███▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁  a quick tap
firmware   ▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁  over before it was accepted"""
ASKED_IF = "`person`, and a gesture in some state that the habits describe"
TEMPTING = (
    'print it in the manual ("press firmly"): people press as they do; or a wider limit for one gesture alone: it may'
    " swallow another one, which is then missed instead"
)
EXACT = (
    "exact for the habits stated, from any moment of rest after any presses, with nothing else acting and a steady supply;"
    " excused where a time of the starting state falls due meanwhile"
)


def acts(device: Device) -> tuple[Act, ...]:
    """All acts that this device's person can be asked to perform."""
    return tuple(act for state in device.states for act in _acts_from(device, state))


def _acts_from(device: Device, state: State) -> list[Act]:
    if state.waiting or device.person is None:
        return []
    found: list[Act] = []
    for gesture in state.gestures:
        found.append(Act(state.name, (gesture,)))
        for case in (transition for transition in state.transitions if transition.gesture == gesture):
            target = device.state(case.target) if case.target is not None else None
            if target is not None and target.waiting:
                onward = ((gesture, name) for name in target.gestures)
                found += [Act(state.name, names, condition=case.condition) for names in onward]
    person = device.person
    known = {gesture.name for gesture in device.gestures}
    found = [act for act in found if known.issuperset(act.gestures)]  # events are nobody's gestures
    return [act for act in found if all(can_perform(person, device.gesture(name)) for name in act.gestures)]


def ask(device: Device) -> tuple[Question, ...] | NotAsked:
    """One question for each act."""
    return ask_each(
        device,
        NAME,
        missing,
        lambda act: f"{tell(act)}, done as the person does it, can be missed",
        lambda act: f"{tell(act)}, done as the person does it, is always seen",
        "each, done as the person does it, is always seen",
        CURE,
    )


def ask_each(
    device: Device,
    name: str,
    bad: Callable[[Device, int], Test],
    told: Callable[[Act], str],
    held: Callable[[Act], str],
    all_held: str,
    cure: str,
) -> tuple[Question, ...] | NotAsked:
    """One question for each act: can it end in a step such as `bad(device, number of the act)`?"""
    if device.person is None:
        return NotAsked(name, "no person is stated, so nobody's habits can be tried")
    wanted = acts(device)
    if not wanted:
        return NotAsked(name, "there is no gesture that this person's habits describe")
    environment = Environment((), ANYTHING, acts=wanted, before=needed_before(device))
    return tuple(
        Question(
            hazard=name,
            subject=str(act),
            environment=environment,
            looked_for=bad(device, number),
            unwanted=True,
            came_up=(succeeding(number),),
            told=lambda before, after, act=act: told(act),  # type: ignore[misc]
            denied="",
            held=held(act),
            all_held=all_held,
            cure=_cure(device, act, cure),
            at=next(t.at for t in device.state(act.state).transitions if t.gesture == act.gestures[0]),
        )
        for number, act in enumerate(wanted)
    )


def _cure(device: Device, act: Act, usual: str) -> str:
    """What usually helps; another thing where no button can wake the device, where an edge is lost before it sleeps, or
    where a button is deaf once the clock comes round.
    """
    state = device.state(act.state)
    sleep = state.sleep
    if any(device.button(name).compares_moments for name in device.gesture(act.gestures[0]).buttons):
        return _ELAPSED
    if sleep is not None and sleep.loses_edges:
        return _ARM_FIRST if sleep.drops_unarmed and not sleep.late_unseen else _ONE_STEP
    if sleep is None or sleep.depth is None or sleep.waking_buttons == sleep.woken_by:
        return usual
    kinds = " and ".join(sleep.depth.woken_by)
    return (
        f"wake by `on: {sleep.depth.woken_by[0]}`, or sleep less deep: nothing but a {kinds} wakes the device from the depth"
        f" `{sleep.depth.name}`, and {state.name} waits for an {sleep.on}"
    )


def tell(act: Act) -> str:
    """An act in words."""
    return f"{' and then '.join(act.gestures)} in {act.where}"
