"""The shape of a question.

Every question is one of reachability: is there a run, in this environment, with a step such as `looked_for`? For a question
about something unwanted a run is the failure; for one about something wanted its absence is. A question also says what must
have come up at all for its answer to mean something: an answer about knocks from a run without knocks is worth nothing.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from nudgeproof.diagnostics import Place
from nudgeproof.model.step import Move, Test
from nudgeproof.model.tables import Model, Situation
from nudgeproof.parts.compile import Environment
from nudgeproof.parts.people import LEFT
from nudgeproof.spec.types import Device


@dataclass(frozen=True, slots=True)
class Question:
    """One question, with the words for each answer.

    `hazard`: its name, `promise` for a promise. `subject`: what tells it from others of its hazard. `unwanted`: finding
    the step is the failure (else not finding it is). `came_up`: each must be met on some run. `told`: the sentence for a
    step found, from the states before and after it. `denied`: for a wanted step that can't happen. `held`: for the good
    answer; `all_held` says it of several subjects at once. `cure`: what usually helps, in general words.
    """

    hazard: str
    subject: str
    environment: Environment
    looked_for: Test
    unwanted: bool
    came_up: tuple[Test, ...]
    told: Callable[[str, str], str]
    denied: str
    held: str
    all_held: str
    cure: str
    at: Place


@dataclass(frozen=True, slots=True)
class NotAsked:
    """A hazard that doesn't apply to this spec, and why; has no effect on the verdict."""

    hazard: str
    reason: str


@dataclass(frozen=True, slots=True)
class Mode:
    """A state, perhaps with the value of a variable; state "" stands for any state."""

    state: str
    variable: str = ""
    value: str = ""

    def __str__(self) -> str:
        if not self.variable:
            return self.state
        return f"{self.state} with {self.variable} {self.value}" if self.state else f"{self.variable} {self.value}"

    def holds(self, model: Model, situation: Situation) -> bool:
        """Whether the device is in this mode."""
        if self.state and model.value(situation, "state") != self.state:
            return False
        return not self.variable or model.value(situation, f"value {self.variable}") == self.value


def left_alone(model: Model, situation: Situation) -> bool:
    """Whether the history, if the environment has one, is over."""
    return not model.publishes(LEFT) or bool(model.value(situation, LEFT))


def entering(mode: Mode) -> Test:
    """Steps that bring the device into `mode` from outside, once it was left alone."""

    def test(model: Model, before: Situation, move: Move) -> bool:
        now = mode.holds(model, move.situation) and not mode.holds(model, before)
        return now and left_alone(model, before)

    return test


def coming_on(device: Device) -> Test:
    """Steps from a state that sleeps or only waits into one that does neither, once the device was left alone."""
    on = {state.name: state.is_on for state in device.states}

    def test(model: Model, before: Situation, move: Move) -> bool:
        was, now = model.value(before, "state"), model.value(move.situation, "state")
        return not on[str(was)] and on[str(now)] and left_alone(model, before)

    return test


def acting(source: str, states: frozenset[str] | None = None) -> Test:
    """Steps in which `source` presses, in one of `states` if given, once the device was left alone."""

    def test(model: Model, before: Situation, move: Move) -> bool:
        first = move.taken[0]
        if model.parts[first.part].name != source or not first.choice.actions:
            return False
        return left_alone(model, before) and (states is None or model.value(before, "state") in states)

    return test
