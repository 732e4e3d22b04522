"""No way off: from some state the person can't be sure to get the device off.

Off is a state that sleeps or has no power. A step counts only if it is sure: a gesture that is never missed nor misread (see
`missed_gesture`), or a timeout, and it must come out well for every value that a condition may meet (see `sure_ways`). From
every state that is on a way of such steps must lead to a state that is off.
"""

from __future__ import annotations

from nudgeproof.hazards import misread_gesture, missed_gesture
from nudgeproof.hazards.sure_ways import MOST_PLACES, TooMany, Ways, find_ways, tell
from nudgeproof.questions.ask import Conclusion, Derived, NotAsked
from nudgeproof.spec.types import Device, State

NAME = "no-way-off"
MEANS = "from some state no sure way leads to a state that sleeps"
CURE = "give every state a gesture to switch off that is never missed, or a timeout"
SHOWN = """\
button     ▁▁▁██▁▁▁▁▁██▁▁▁▁▁██▁▁▁▁▁██▁▁▁▁▁██  whatever is pressed
device     |low   |high  |low   |high  |low   it stays on"""
ASKED_IF = "`person`, a state with `sleep`, a state that is on, and a gesture that the habits describe"
TEMPTING = (
    "let the battery run down, or have it taken out: then the setting is gone as well; or a gesture that mostly works: it"
    " counts only if it is never missed"
)
EXACT = (
    "follows from `missed-gesture`: only gestures that are never missed, timeouts, and a power chip that stays off after a"
    " long press count as steps; it inherits what that leaves out"
)


def ask(device: Device) -> Derived | NotAsked:
    """A conclusion for each state that is on."""
    asleep = [state.name for state in device.states if state.is_off]
    on = [state for state in device.states if state.is_on]
    if not asleep:
        return NotAsked(NAME, "no state sleeps or has no power")
    if not on:
        return NotAsked(NAME, "no state is on: every one sleeps or waits")
    asked = missed_gesture.ask(device)
    misread = misread_gesture.ask(device)
    if isinstance(asked, NotAsked) or isinstance(misread, NotAsked):
        return NotAsked(NAME, asked.reason if isinstance(asked, NotAsked) else "")
    acts = missed_gesture.acts(device)

    def conclude(answers: tuple[bool | None, ...]) -> tuple[Conclusion, ...]:
        both = list(zip(acts, answers[: len(acts)], answers[len(acts) :], strict=True))
        try:
            sure = find_ways(device, [act for act, seen, as_meant in both if seen and as_meant])
            may = [act for act, seen, as_meant in both if seen is not False and as_meant is not False]
            perhaps = find_ways(device, may)
        except TooMany:
            reason = f"conditions tell more than {MOST_PLACES} cases apart"
            return tuple(_conclude(state, None, "", reason) for state in on)
        return tuple(_weigh(device, state, sure, perhaps) for state in on)

    return Derived((*asked, *misread), conclude)


def _weigh(device: Device, state: State, sure: Ways, perhaps: Ways) -> Conclusion:
    """Whether all of a state's places are sure, or the first that isn't."""
    missing = [place for place in sure.places if place[0] == state.name and place not in sure.sure]
    if not missing:
        return _conclude(state, True, state.name, "")
    for place in missing:
        if place not in perhaps.sure:
            some = len(missing) < len([other for other in sure.places if other[0] == state.name])
            return _conclude(state, False, tell(device, place) if some else state.name, "")
    return _conclude(state, None, state.name, "whether a gesture is seen as meant is open")


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
