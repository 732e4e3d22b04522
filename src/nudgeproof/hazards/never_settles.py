"""Never settles: with nobody doing anything the device goes round: it wakes and sleeps, or steps through states, for ever.

What the device is, is its state, its variables and whether the processor sleeps. If that is left and met again without
an action, it goes round. States marked `repeats` are meant to. Asked after any use, and with each button that is stuck
for good.
"""

from __future__ import annotations

from nudgeproof.hazards.disturbed import history_of
from nudgeproof.parts.compile import Environment
from nudgeproof.questions.ask import NotAsked, Question, after_anything
from nudgeproof.questions.steps import being_noted, going_round
from nudgeproof.spec.types import Device, Disturbance

NAME = "never-settles"
MEANS = "left alone, the device goes round for ever: it wakes and sleeps, or changes states, with nobody doing anything"
CURE = (
    "let the last timeout lead to a state that has none; wake on an edge, not on a level that is still "
    "there; or mark a state"
    " that is meant to come back by itself with `repeats: true`"
)
_SUPERVISED = "stop the supervisor before the processor sleeps, or wake now and then to feed it"
SHOWN = """\
button     ▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁  nobody touches it
device     |asleep |awake |asleep |awake |as  and the cells go flat"""
ASKED_IF = "more than one state, or a state with `sleep`"
TEMPTING = (
    "a longer time before it goes round: it still does, only slower; or to mark every state with `repeats`: then the"
    " question is no longer asked of them"
)
EXACT = (
    "exact, after any use, with nobody doing anything or one button stuck for good; what the device is, is its state, its"
    " variables and whether the processor sleeps"
)


def ask(device: Device) -> tuple[Question, ...] | NotAsked:
    """One question without any source, and one for each button that is stuck for good."""
    if len(device.states) < 2 and not any(state.is_off for state in device.states):
        return NotAsked(NAME, "the device has one state and never sleeps")
    stuck = [what for what in device.surroundings if isinstance(what, Disturbance) and what.for_good]
    return tuple(_question(device, what) for what in (None, *stuck))


def _question(device: Device, what: Disturbance | None) -> Question:
    sources = (what.name,) if what is not None else ()
    who = f"with {what.name}" if what is not None else "left alone"
    environment = Environment(sources, history_of(device), tuple(state.name for state in device.states), settles=True)
    return Question(
        hazard=NAME,
        subject=what.name if what is not None else "left alone",
        environment=environment,
        looked_for=going_round,
        unwanted=True,
        came_up=(being_noted,),
        told=lambda before, after: f"{who}, the device can go round for ever (back in {after})",
        denied="",
        held=f"{who}, the device comes to rest, whatever the timing",
        all_held="left alone, or with each of these, the device comes to rest, whatever the timing",
        cure=_SUPERVISED if device.supervisor is not None and device.supervisor.in_sleep else CURE,
        at=what.at if what is not None else device.state(device.initial).at,
        wider=after_anything(device, environment, going_round),
    )
