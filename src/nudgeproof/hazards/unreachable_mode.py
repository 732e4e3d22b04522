"""Unreachable mode: a state, or a value of a variable, that no pressing ever brings about.

Asked with the person's habits; if none are stated, with any press of any length. A mode is a state; where a state shows a
variable, each value in that state is one too; a variable that no state shows counts wherever it changes.
"""

from __future__ import annotations

from nudgeproof.parts.compile import Environment
from nudgeproof.questions.ask import Mode, NotAsked, Question, entering, users
from nudgeproof.spec.types import Device

NAME = "unreachable-mode"
MEANS = "a state or a value that no pressing can bring about"
CURE = "give it a gesture that the person can do and that no other pattern swallows, or take it out"
SHOWN = """\
button     ▁▁▁██▁▁▁▁▁▁▁▁▁▁▁▁██▁▁▁▁▁▁▁▁▁▁▁▁▁▁  two taps, as slow as this person
device     |dark  |bright       |dark         each is taken for one tap"""
ASKED_IF = "a state besides the initial one, or a variable"
TEMPTING = (
    "trust the diagram: it has an arrow to the mode, but the gesture can't be done by this person, or another one always"
    " fires first"
)
EXACT = (
    "exact for the person stated, or for any press at all if none is; one way is enough, from the initial state with"
    " a steady supply, and it needn't be a sure one"
)


def ask(device: Device) -> tuple[Question, ...] | NotAsked:
    """One question for each mode but the one the device starts in."""
    modes = [mode for mode in _modes(device) if not _at_start(device, mode)]
    if not modes:
        return NotAsked(NAME, "the device has one mode only")
    who, pressing = users(device)
    environment = Environment(who)
    return tuple(
        Question(
            hazard=NAME,
            subject=str(mode),
            environment=environment,
            looked_for=entering(mode),
            unwanted=False,
            came_up=(),
            told=lambda before, after: "",
            denied=f"{mode} can't be reached by {pressing}, whatever the timing",
            held=f"{mode} can be reached by {pressing}",
            all_held=f"each can be reached by {pressing}",
            cure=CURE,
            at=device.state(mode.state).at if mode.state else device.variable(mode.variable).at,
        )
        for mode in modes
    )


def _modes(device: Device) -> list[Mode]:
    modes = [Mode(state.name) for state in device.states]
    for variable in device.variables:
        shown_in = [state.name for state in device.states if state.shows_variable and state.shows == variable.name]
        modes += [Mode(state, variable.name, value) for state in shown_in or [""] for value in variable.values]
    return modes


def _at_start(device: Device, mode: Mode) -> bool:
    return mode.state in ("", device.initial) and (
        not mode.variable or device.variable(mode.variable).values[0] == mode.value
    )
