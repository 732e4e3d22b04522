"""Restarted timer: something outside begins a countdown or an auto-off anew, and the device stays on too long.

Asked of each state that says how long the device may stay there with nobody using it (`at most`), for each source that
interrupts the supply, makes events or takes the voltage of a weak cell up and down, after any use.
"""

from __future__ import annotations

from nudgeproof.hazards.disturbed import history_of
from nudgeproof.parts.compile import Environment
from nudgeproof.parts.gestures import can_stand_in
from nudgeproof.parts.limits import STAY, Limit
from nudgeproof.questions.ask import NotAsked, Question
from nudgeproof.questions.steps import acting, being_late
from nudgeproof.spec.outside import CELL_FINE, CELL_LOW, Maker, Sag
from nudgeproof.spec.types import Device, Disturbance, Outage, Source, State
from nudgeproof.units import show_us

NAME = "restarted-timer"
MEANS = "interruptions or events begin the time of a state anew, so that the device stays there longer than `at most`"
CURE = (
    "keep the time that has passed: count it in steps with a number variable (`every 1 min: {previous: "
    "left}`) and keep that in"
    " memory; or come back switched off; an event that must not count as use takes no `restarts: true`"
)
SHOWN = """\
cell       ████████████▁███████████▁████████  it rattles in its holder
device     |on          |on         |on       the time to off begins anew"""
ASKED_IF = "a state with `at most`, and surroundings with `cell gone`, `makes` or `cell: sags and recovers`"
TEMPTING = (
    "a longer hold-up: it rides out short losses only; or to keep the state alone in memory: the device comes back"
    " on, and its time from the beginning"
)
EXACT = "exact for each source by itself, from a state with a limit, after any use"


def ask(device: Device) -> tuple[Question, ...] | NotAsked:
    """One question for each state with a limit and each source of interruptions or events."""
    sources = [what for what in device.surroundings if not isinstance(what, Disturbance)]
    limited = [state for state in device.states if state.at_most_us is not None]
    if not limited:
        return NotAsked(NAME, "no state says how long the device may stay there (`at most: 4 h`)")
    if not sources:
        return NotAsked(NAME, "no surroundings interrupt the supply (`cell gone: ...`) or make events")
    return tuple(_question(device, state, what) for state in limited for what in sources)


def _question(device: Device, state: State, what: Source) -> Question:
    assert state.at_most_us is not None
    most = show_us(state.at_most_us)
    limit = Limit(STAY, state.at_most_us, (state.name,), no_use=_events_of(what))
    interrupts = isinstance(what, Outage)
    others = tuple(name for name in device.meant if name != what.name)
    return Question(
        hazard=NAME,
        subject=f"{state.name}, {what.name}",
        environment=Environment((what.name,), history_of(device), (state.name,), watched=interrupts, limit=limit),
        looked_for=being_late,
        unwanted=True,
        came_up=(acting(what.name, frozenset({state.name})),),
        told=lambda before, after: f"with {what.name} the device can stay in {state.name} for more than {most}",
        denied="",
        held=f"with {what.name} the device never stays in {state.name} for more than {most}",
        all_held="the device never stays longer than it may",
        cure=CURE,
        at=state.at,
        by=what.name,
        wider=(Environment((what.name, *others), watched=True, gestures=True, limit=limit), being_late)
        if interrupts and can_stand_in(device)
        else None,
    )


def _events_of(what: Source) -> tuple[str, ...]:
    """What a source makes the firmware see: it is no use where the question is what that source can do."""
    if isinstance(what, Maker):
        return what.events
    return (CELL_LOW, CELL_FINE) if isinstance(what, Sag) else ()
