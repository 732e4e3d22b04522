"""Ambiguous gesture: one and the same pressing is two different gestures, as the person does them.

Where the person's habits for two gestures of one state overlap in every press and pause, nobody, not even the best firmware,
can tell which was meant. Compared are gestures with equally many presses; the story shows a pressing that is both.
"""

from __future__ import annotations

from itertools import combinations

from nudgeproof.parts.compile import Environment
from nudgeproof.parts.people import ANYTHING
from nudgeproof.parts.performer import Act, Press, can_perform, plan
from nudgeproof.questions.ask import Conclusion, Derived, NotAsked, Question
from nudgeproof.questions.steps import performed
from nudgeproof.spec.types import Device, State
from nudgeproof.units import Span

NAME = "ambiguous-gesture"
MEANS = "one pressing is two different gestures as the person does them, so nobody can tell which was meant"
CURE = "keep the person's taps and holds apart: a longer hold, a sign to wait for, or gestures with other numbers of presses"
SHOWN = """\
button     ▁▁▁▁▁▁█████████████▁▁▁▁▁▁▁▁▁▁▁▁▁▁  a long tap, or a short hold?
firmware   |      |...........|tap or hold?  nobody can know what was meant"""
ASKED_IF = "`person`, and a state that uses two gestures with equally many presses of one button"
TEMPTING = (
    "move the limit in the firmware: wherever it stands, presses on both sides of it are both gestures; the habits overlap,"
    " and no limit mends that"
)
EXACT = (
    "exact for the habits stated: two gestures of one state are compared press by press and pause by pause; those with other"
    " numbers of presses aren't"
)


def ask(device: Device) -> tuple[Question | Derived, ...] | NotAsked:
    """For each two gestures that a state uses and that differ in lengths alone: a question, or why it can't be."""
    if device.person is None:
        return NotAsked(NAME, "no person is stated, so nobody's habits can be compared")
    found = [
        (state, *pair, _overlap(device, state, *pair)) for state in device.states for pair in _pairs(device, state)
    ]
    if not found:
        return NotAsked(NAME, "no state uses two gestures with equally many presses of one button")
    return tuple(
        _question(device, state, first, second, both) if both else _told_apart(state, first, second)
        for state, first, second, both in found
    )


def _pairs(device: Device, state: State) -> list[tuple[str, str]]:
    person = device.person
    assert person is not None
    used = [gesture for gesture in device.gestures_in(state) if can_perform(person, gesture)]
    return [
        (one.name, other.name)
        for one, other in combinations(used, 2)
        if set(one.buttons) == set(other.buttons) and len(one.presses) == len(other.presses)
    ]


def _overlap(device: Device, state: State, first: str, second: str) -> tuple[tuple[Span, Span], ...]:
    """Pause and length of each press that both gestures may have; empty if there are none."""
    assert device.person is not None
    plans = [plan(device, device.person, Act(state.name, (name,))) for name in (first, second)]
    both = tuple(_common(one, other) for one, other in zip(*plans, strict=True))
    return both if all(pause.lo <= pause.hi and down.lo <= down.hi for pause, down in both) else ()


def _common(one: Press, other: Press) -> tuple[Span, Span]:
    return _intersect(one.pause, other.pause), _intersect(_length(one), _length(other))


def _length(press: Press) -> Span:
    assert press.stroke.down is not None
    return press.stroke.down


def _intersect(one: Span, other: Span) -> Span:
    return Span(max(one.lo, other.lo), min(one.hi, other.hi))


def _question(device: Device, state: State, first: str, second: str, both: tuple[tuple[Span, Span], ...]) -> Question:
    act = Act(state.name, (first,), narrow=both)
    return Question(
        hazard=NAME,
        subject=f"{first} and {second} in {state.name}",
        environment=Environment((), ANYTHING, acts=(act,)),
        looked_for=performed,
        unwanted=True,
        came_up=(),
        told=lambda before, after: f"one and the same pressing in {state.name} is both {first} and {second}",
        denied="",
        held=f"no pressing in {state.name} is both {first} and {second}",
        all_held="no pressing is both",
        cure=CURE,
        at=state.at,
    )


def _told_apart(state: State, first: str, second: str) -> Derived:
    """Nothing is left to explore where the habits share no pressing."""
    conclusion = Conclusion(
        hazard=NAME,
        subject=f"{first} and {second} in {state.name}",
        holds=True,
        sentence=f"no pressing in {state.name}, as the person does it, is both {first} and {second}",
        all_held="no pressing, as the person does it, is both",
        reason="",
        cure=CURE,
        at=state.at,
    )
    return Derived((), lambda answers: (conclusion,))
