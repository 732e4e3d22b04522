"""Missed gesture: somebody does a gesture as well as their habits allow, and the firmware doesn't see it.

Asked of every gesture in every state that isn't `waiting`, and of the gesture into a waiting state with each next one as one
act, from any moment of rest after any presses. The gesture is missed when the firmware takes it for another one, or when
everything has settled and it wasn't seen. Runs in which a timeout of the starting state falls due meanwhile are excused.
Where it depends on values whether the gesture leads into the waiting state, the act begins while they have such values.
"""

from __future__ import annotations

from nudgeproof.parts.compile import Environment
from nudgeproof.parts.people import ANYTHING
from nudgeproof.parts.performer import Act, can_perform
from nudgeproof.questions.ask import NotAsked, Question, failing, succeeding
from nudgeproof.spec.types import Device, State

NAME = "missed-gesture"
MEANS = "a gesture done as the person usually does it isn't seen, or is taken for another one"
CURE = (
    "widen the limits of the gesture, shorten debounce or start-up, or give more time in a waiting state, until they cover"
    " the person's habits"
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
    return [act for act in found if all(can_perform(person, device.gesture(name)) for name in act.gestures)]


def ask(device: Device) -> tuple[Question, ...] | NotAsked:
    """One question for each act."""
    if device.person is None:
        return NotAsked(NAME, "no person is stated, so nobody's habits can be tried")
    wanted = acts(device)
    if not wanted:
        return NotAsked(NAME, "there is no gesture that this person's habits describe")
    environment = Environment((), ANYTHING, acts=wanted)
    return tuple(
        Question(
            hazard=NAME,
            subject=str(act),
            environment=environment,
            looked_for=failing(device, number),
            unwanted=True,
            came_up=(succeeding(number),),
            told=lambda before, after, act=act: f"{_name(act)}, done as the person does it, can be missed",  # type: ignore[misc]
            denied="",
            held=f"{_name(act)}, done as the person does it, is always seen",
            all_held="each, done as the person does it, is always seen",
            cure=CURE,
            at=device.state(act.state).at,
        )
        for number, act in enumerate(wanted)
    )


def _name(act: Act) -> str:
    return f"{' and then '.join(act.gestures)} in {act.where}"
