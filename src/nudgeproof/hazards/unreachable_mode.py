"""Unreachable mode: a state, or a value of a variable, that no pressing ever brings about.

Asked with the person's habits; if none are stated, with any press of any length. A mode is a state; where a state shows a
variable, each value in that state is one too, and where all states of a group do, each value anywhere in the group; a
variable that no state shows counts wherever it changes.
"""

from __future__ import annotations

from nudgeproof.parts.compile import Environment
from nudgeproof.questions.ask import Mode, NotAsked, Question, is_at_start, mode_of, users
from nudgeproof.questions.steps import entering
from nudgeproof.spec.outside import Maker, Sag
from nudgeproof.spec.types import Device, State, Variable

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
    modes = [mode for mode in _modes(device) if not is_at_start(device, mode)]
    if not modes:
        return NotAsked(NAME, "the device has one mode only")
    who, pressing = users(device)
    happens = [w.name for w in device.surroundings if isinstance(w, Maker | Sag) and w.name not in who]
    pressing = " and ".join((pressing, *happens))
    environment = Environment((*who, *happens))
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
            at=device.state((mode.within or (mode.state,))[0]).at if mode.state else device.variable(mode.variable).at,
        )
        for mode in modes
    )


def _modes(device: Device) -> list[Mode]:
    modes = [mode_of(device, state.name) for state in device.states]
    for variable in device.variables:
        shown_in = dict.fromkeys(_shown_in(device, state) for state in device.states if _shows(state, variable))
        modes += [
            mode_of(device, place, variable.name, value) for place in shown_in or ("",) for value in variable.values
        ]
    return modes


def _shown_in(device: Device, state: State) -> str:
    """Where a state shows its variable: the group if all states of it do, else the state alone."""
    members = [device.state(name) for name in device.states_of(state.group)] if state.group else []
    return state.group if members and all(member.shows == state.shows for member in members) else state.name


def _shows(state: State, variable: Variable) -> bool:
    return state.shows_variable and state.shows == variable.name
