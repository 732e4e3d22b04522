"""Accidental off: a knock, a squeeze, an event, a loss of contact or a load on weak cells switches a device off.

Off is a state that sleeps. A timeout of the state isn't counted. Each source is asked about by itself, after any use that
left the device on and at rest; weak cells while somebody uses it, since a load may reset it as soon as it comes on.
"""

from __future__ import annotations

from nudgeproof.hazards.disturbed import ask_each
from nudgeproof.hazards.interrupted import known_brown_outs, never_resets
from nudgeproof.hazards.weak_cells import WEAK_CELLS, holding, since
from nudgeproof.parts.compile import Environment
from nudgeproof.questions.ask import Derived, NotAsked, Question, change, users
from nudgeproof.questions.steps import browned_off, changing
from nudgeproof.spec.types import Device

NAME = "accidental-off"
MEANS = "a knock, a squeeze, an event or a loss of contact switches the device off while it is on"
CURE = "ask for a gesture that no disturbance makes (a hold longer than it, or two steps), or keep the state in memory"
WEAK_CURE = "a larger capacitor if it is a short peak, a load that comes on in steps, a smaller one, or its own supply"
SHOWN = """\
button     ▁▁▁▁▁▁▁▁▁▁████▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁  a bump, as short as a tap
device     |on            |asleep             dark when it is needed"""
ASKED_IF = "`surroundings`, a state that is on, and a state with `sleep`"
TEMPTING = (
    "ignore presses for a while after switching on: the bump comes later; or a longer tap: a bump has no shortest"
    " length, and quick fingers are refused"
)
EXACT = (
    "exact for each source by itself, after any use that left the device on and at rest; a timeout of the state isn't"
    " counted, since it would have come anyway"
)


def ask(device: Device) -> tuple[Question | Derived, ...] | NotAsked:
    """One question for each of the surroundings, and one for weak cells."""
    if not any(state.is_off for state in device.states):
        return NotAsked(NAME, "no state sleeps")
    asked = ask_each(device, NAME, changing(device, to_sleep=True), "go off", CURE)
    weak = _weak_cells(device)
    return asked if weak is None else (weak,) if isinstance(asked, NotAsked) else (*asked, weak)


def _weak_cells(device: Device) -> Derived | None:
    """The same of weak cells, which a load may pull so far down that the device resets and comes back off.

    What memory may lose excuses nothing here: it is lost because the load came on.
    """
    on = tuple(state.name for state in device.states if state.is_on)
    weak = known_brown_outs(device)
    said = never_resets(device)
    if device.electricity is None or not on or not (weak or said):
        return None
    at = device.electricity.cells_at
    if said:
        return holding(NAME, WEAK_CELLS, said, at)
    who, pressing = users(device)

    def question(number: int) -> Question:
        begins = since(weak[number].begins, weak[number].everywhere)
        return Question(
            hazard=NAME,
            subject=WEAK_CELLS,
            environment=Environment(who, watched=device.memory is not None, sags=number),
            looked_for=browned_off(device),
            unwanted=True,
            came_up=(),
            told=lambda before, after: (
                f"{begins} the device can go off by itself, since a load resets it ({change(before, after)})"
            ),
            denied="",
            held=f"on weak cells and with {pressing} no load makes the device go off by a reset, whatever the timing",
            all_held=f"on weak cells and with {pressing} no load makes the device go off by a reset, whatever the timing",
            cure=WEAK_CURE,
            at=at,
            begins_in=on,
        )

    return Derived(tuple(question(number) for number in range(len(weak))), None)
