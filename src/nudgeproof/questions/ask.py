"""The shape of a question.

Every question is one of reachability: is there a run, in this environment, with a step such as `looked_for`? For a question
about something unwanted a run is the failure; for one about something wanted its absence is. A question also says what must
have come up at all for its answer to mean something: an answer about knocks from a run without knocks is worth nothing.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from nudgeproof.diagnostics import Place
from nudgeproof.model.step import Test
from nudgeproof.model.tables import Model, Situation
from nudgeproof.parts.changes import start_values, touched
from nudgeproof.parts.compile import Environment
from nudgeproof.parts.people import ANYTHING, PERSON
from nudgeproof.spec.outside import Maker, Sag
from nudgeproof.spec.types import Condition, Device


@dataclass(frozen=True, slots=True)
class Question:
    """One question, with the words for each answer.

    `hazard`: its name, `promise` for a promise. `subject`: what tells it from others of its hazard. `unwanted`: finding
    the step is the failure (else not finding it is). `came_up`: each must be met on some run. `told`: the sentence for a
    step found, from the states before and after it. `denied`: for a wanted step that can't happen. `held`: for the good
    answer; `all_held` says it of several subjects at once. `cure`: what usually helps, in general words. `by`: the source
    that a maker may accept this from, "" if none. `wider`: an environment with more runs that is cheaper to explore, and
    what to look for in it; if that can't happen there, `looked_for` can't happen here. `begins_in`: the states from which
    it matters. `reckoned`: on which units it fails follows from the spec's figures, so a story only shows how it gets there.
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
    by: str = ""
    wider: tuple[Environment, Test] | None = None
    begins_in: tuple[str, ...] = ()
    reckoned: bool = False


def users(device: Device) -> tuple[tuple[str, ...], str]:
    """Who uses the device: the person, or any press if none is stated, and what it is meant for; also in words."""
    who, words = (ANYTHING, "any pressing") if device.person is None else (PERSON, "the person's pressing")
    return (who, *device.meant), " and ".join((words, *device.meant))


def after_anything(device: Device, environment: Environment, looked_for: Test) -> tuple[Environment, Test] | None:
    """For several buttons an environment that is cheaper to explore: whoever used them before pressed any way at all."""
    if len(device.buttons) < 2 or environment.history != PERSON:
        return None
    return replace(environment, history=ANYTHING), looked_for


def needed_before(device: Device, variable: str = "") -> tuple[str, ...]:
    """The sources of events that must have acted before some state, or some value of `variable`, can be got to.

    None if that can be done without.
    """
    makers = tuple(what.name for what in device.unmeant if isinstance(what, Maker | Sag))
    known = {gesture.name for gesture in device.gestures}
    happens = (line for state in device.states for line in state.transitions if line.gesture not in known)
    if any(variable in touched(device, line) for line in happens):
        return makers
    found, seen = [device.initial], {device.initial}
    if device.power_up is not None:
        found += [*device.power_up.afresh, device.power_up.if_damaged]
    while found:
        state = device.state(found.pop())
        seen.add(state.name)
        lines = [t.target for t in state.transitions if t.gesture in known] + [t.target for t in state.timeouts]
        found += [target for target in lines if target is not None and target not in seen]
    return makers if any(state.name not in seen for state in device.states) else ()


@dataclass(frozen=True, slots=True)
class NotAsked:
    """A hazard that doesn't apply to this spec, and why; has no effect on the verdict."""

    hazard: str
    reason: str


@dataclass(frozen=True, slots=True)
class Conclusion:
    """An answer that follows from the answers to other questions. `holds` None: it doesn't follow either way.

    `reckoned`: it follows from the spec's figures alone.
    """

    hazard: str
    subject: str
    holds: bool | None
    sentence: str
    all_held: str
    reason: str
    cure: str
    at: Place
    reckoned: bool = False


@dataclass(frozen=True, slots=True)
class Derived:
    """A hazard whose answers follow from those to `questions`: `conclude` gets True, False or None (open) for each.

    `conclude` None: the questions are one, asked under conditions that get harder; all have the same subject, and the first
    that fails is the answer, else the worst of all.
    """

    questions: tuple[Question, ...]
    conclude: Callable[[tuple[bool | None, ...]], tuple[Conclusion, ...]] | None


@dataclass(frozen=True, slots=True)
class Mode:
    """A state or group, perhaps with the value of a variable; state "" stands for any state.

    `within`: the states of the group, () if it is none.
    """

    state: str
    variable: str = ""
    value: str = ""
    within: tuple[str, ...] = ()

    def __str__(self) -> str:
        if not self.variable:
            return self.state
        return f"{self.state} with {self.variable} {self.value}" if self.state else f"{self.variable} {self.value}"

    def holds(self, model: Model, situation: Situation) -> bool:
        """Whether the device is in this mode."""
        if self.state and model.value(situation, "state") not in (self.within or (self.state,)):
            return False
        return not self.variable or model.value(situation, f"value {self.variable}") == self.value

    @property
    def condition(self) -> Condition | None:
        """What it asks of the variable."""
        if not self.variable:
            return None
        return Condition(f"{self.variable} {self.value}", ((self.variable, (self.value,)),))


def mode_of(device: Device, state: str, variable: str = "", value: str = "") -> Mode:
    """The mode of a state or a group, or, for state "", of a variable alone."""
    group = next((group for group in device.groups if group.name == state), None)
    return Mode(state, variable, value, group.states if group is not None else ())


def is_at_start(device: Device, mode: Mode) -> bool:
    """Whether a device that nobody used is in this mode."""
    within = mode.within or ((mode.state,) if mode.state else (device.initial,))
    return device.initial in within and (not mode.variable or start_values(device)[mode.variable] == mode.value)


def change(before: str, after: str) -> str:
    """A step from one state to another in words: `lit -> stowed`, or `in lit` if the state stays."""
    return f"{before} -> {after}" if before != after else f"in {before}"
