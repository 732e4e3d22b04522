"""No way off: from some state the person can't be sure to get the device off.

Off is a state that sleeps. A step counts only if it is sure: a gesture that is never missed nor misread (see
`missed_gesture`), or a timeout. From every state that is on a way of such steps must lead to a state that sleeps.
"""

from __future__ import annotations

from nudgeproof.hazards import misread_gesture, missed_gesture
from nudgeproof.parts.performer import Act
from nudgeproof.questions.ask import Conclusion, Derived, NotAsked
from nudgeproof.spec.types import Device

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
    "follows from `missed-gesture`: only gestures that are never missed, and timeouts, count as steps; it inherits what"
    " that leaves out"
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
        sure = _reaching(device, [act for act, seen, as_meant in both if seen and as_meant], asleep)
        perhaps = _reaching(
            device, [act for act, seen, as_meant in both if seen is not False and as_meant is not False], asleep
        )
        return tuple(
            Conclusion(
                hazard=NAME,
                subject=state.name,
                holds=True if state.name in sure else (None if state.name in perhaps else False),
                sentence=f"from {state.name} a sure way leads to a state that sleeps"
                if state.name in sure
                else f"from {state.name} no sure way leads to a state that sleeps",
                all_held="from each a sure way leads to a state that sleeps",
                reason=""
                if state.name in sure or state.name not in perhaps
                else "whether a gesture is seen as meant is open",
                cure=CURE,
                at=state.at,
            )
            for state in on
        )

    return Derived((*asked, *misread), conclude)


def _reaching(device: Device, sure: list[Act], asleep: list[str]) -> set[str]:
    """All states from which sure steps lead to one of `asleep`."""
    steps = {(state.name, timeout.target) for state in device.states for timeout in state.timeouts}
    for act in sure:
        state = act.state
        for name in act.gestures:
            found = next(t for t in device.state(state).transitions if t.gesture == name)
            state = found.target if found.target is not None else state
        steps.add((act.state, state))
    reaching = set(asleep)
    while more := {state for state, target in steps if target in reaching} - reaching:
        reaching |= more
    return reaching
