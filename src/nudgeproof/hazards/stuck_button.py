"""Stuck button: a button that stays closed keeps the processor awake, and the cells go flat.

Asked about each of the surroundings that closes a button for good and says how soon the processor must sleep all the same
(`then asleep within`), after any use that left the device at rest in any state.
"""

from __future__ import annotations

from nudgeproof.hazards.disturbed import history_of
from nudgeproof.parts.compile import Environment
from nudgeproof.parts.limits import SLEEP, Limit
from nudgeproof.questions.ask import NotAsked, Question
from nudgeproof.questions.steps import acting, being_late
from nudgeproof.spec.types import Device, Disturbance
from nudgeproof.units import show_us

NAME = "stuck-button"
MEANS = "a button that stays closed keeps the processor from sleeping"
CURE = (
    "let the device sleep although the button is down, after a time (`ignores a held button after` in `sleep`), woken by an"
    " edge; and give every state that is on a timeout that counts with the button closed too"
)
SHOWN = """\
button     ▁▁▁▁▁█████████████████████████████  it sticks, and nobody notices
processor  |asleep|awake ...................  until the cells are flat"""
ASKED_IF = "surroundings with `closes BUTTON: for good` and `then asleep within`"
TEMPTING = (
    "wake on a level that is there: it wakes again at once; or to trust that somebody sees it: in a bag or a drawer nobody"
    " does"
)
EXACT = "exact for each such source by itself, after any use that left the device at rest in any state"


def ask(device: Device) -> tuple[Question, ...] | NotAsked:
    """One question for each source that closes a button for good and states a limit."""
    stuck = [what for what in device.surroundings if isinstance(what, Disturbance) and what.asleep_us is not None]
    if not stuck:
        return NotAsked(NAME, "no surroundings close a button `for good` and state `then asleep within`")
    return tuple(_question(device, what) for what in stuck)


def _question(device: Device, what: Disturbance) -> Question:
    assert what.asleep_us is not None
    states = tuple(state.name for state in device.states if not state.waiting)
    within = show_us(what.asleep_us)
    return Question(
        hazard=NAME,
        subject=what.name,
        environment=Environment(
            (what.name,),
            history_of(device),
            states,
            limit=Limit(SLEEP, what.asleep_us, source=what.name, button=what.button),
        ),
        looked_for=being_late,
        unwanted=True,
        came_up=(acting(what.name),),
        told=lambda before, after: f"with {what.name} the processor may still be awake after {within}, in {after}",
        denied="",
        held=f"with {what.name} the processor sleeps within {within}, whatever the timing",
        all_held="with each of these the processor sleeps in time, whatever the timing",
        cure=CURE,
        at=what.at,
        by=what.name,
    )
