"""No way off: from some state the person can't be sure to get the device off.

Off is a state that sleeps. A step counts only if it is sure: a gesture that is never missed (see `missed_gesture`), or a
timeout, and it must come out well for every value that a condition may meet (see `sure_ways`). From every state that is on
a way of such steps must lead to a state that sleeps.
"""

from __future__ import annotations

from nudgeproof.hazards import missed_gesture
from nudgeproof.hazards.sure_ways import MOST_PLACES, TooMany, Ways, find_ways, tell
from nudgeproof.questions.ask import Conclusion, Derived, NotAsked
from nudgeproof.spec.types import Device, State

NAME = "no-way-off"
MEANS = "from some state no sure way leads to a state that sleeps"
CURE = "give every state a gesture to switch off that is never missed, or a timeout"


def ask(device: Device) -> Derived | NotAsked:
    """A conclusion for each state that is on."""
    asleep = [state.name for state in device.states if state.sleep is not None]
    on = [state for state in device.states if state.is_on]
    if not asleep:
        return NotAsked(NAME, "no state sleeps")
    if not on:
        return NotAsked(NAME, "no state is on: every one sleeps or waits")
    asked = missed_gesture.ask(device)
    if isinstance(asked, NotAsked):
        return NotAsked(NAME, asked.reason)
    acts = missed_gesture.acts(device)

    def conclude(answers: tuple[bool | None, ...]) -> tuple[Conclusion, ...]:
        pairs = list(zip(acts, answers, strict=True))
        try:
            sure = find_ways(device, [act for act, holds in pairs if holds])
            perhaps = find_ways(device, [act for act, holds in pairs if holds is not False])
        except TooMany:
            reason = f"conditions tell more than {MOST_PLACES} cases apart"
            return tuple(_conclude(state, None, "", reason) for state in on)
        return tuple(_weigh(device, state, sure, perhaps) for state in on)

    return Derived(asked, conclude)


def _weigh(device: Device, state: State, sure: Ways, perhaps: Ways) -> Conclusion:
    """Whether all of a state's places are sure, or the first that isn't."""
    missing = [place for place in sure.places if place[0] == state.name and place not in sure.sure]
    if not missing:
        return _conclude(state, True, state.name, "")
    for place in missing:
        if place not in perhaps.sure:
            some = len(missing) < len([other for other in sure.places if other[0] == state.name])
            return _conclude(state, False, tell(device, place) if some else state.name, "")
    return _conclude(state, None, state.name, "whether a gesture is seen is open")


def _conclude(state: State, holds: bool | None, where: str, reason: str) -> Conclusion:
    return Conclusion(
        hazard=NAME,
        subject=state.name,
        holds=holds,
        sentence=f"from {where} {'a' if holds else 'no'} sure way leads to a state that sleeps",
        all_held="from each a sure way leads to a state that sleeps",
        reason=reason,
        cure=CURE,
        at=state.at,
    )
