"""The shape of a question.

Every question is one of reachability: is there a run, in this environment, with a step such as `looked_for`? For a question
about something unwanted a run is the failure; for one about something wanted its absence is. A question also says what must
have come up at all for its answer to mean something: an answer about knocks from a run without knocks is worth nothing.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

from nudgeproof.diagnostics import Place
from nudgeproof.model.step import Move, Test
from nudgeproof.model.tables import Model, Situation
from nudgeproof.parts.chart import STARTED
from nudgeproof.parts.compile import Environment
from nudgeproof.parts.ledger import ALLOWED
from nudgeproof.parts.memory import TORN, read_as, snapshot, whole
from nudgeproof.parts.people import LEFT, LEFT_IN
from nudgeproof.parts.performer import ACT, DONE, EXCUSED, LATE, OTHER, PERFORMED, SEEN
from nudgeproof.parts.rest import is_at_rest
from nudgeproof.spec.types import Device


@dataclass(frozen=True, slots=True)
class Question:
    """One question, with the words for each answer.

    `hazard`: its name, `promise` for a promise. `subject`: what tells it from others of its hazard. `unwanted`: finding
    the step is the failure (else not finding it is). `came_up`: each must be met on some run. `told`: the sentence for a
    step found, from the states before and after it. `denied`: for a wanted step that can't happen. `held`: for the good
    answer; `all_held` says it of several subjects at once. `cure`: what usually helps, in general words. `by`: the source
    that a maker may accept this from, "" if none. `wider`: an environment with more runs that is cheaper to explore, and
    what to look for in it; if that can't happen there, `looked_for` can't happen here. `begins_in`: the states from which
    it matters.
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


@dataclass(frozen=True, slots=True)
class NotAsked:
    """A hazard that doesn't apply to this spec, and why; has no effect on the verdict."""

    hazard: str
    reason: str


@dataclass(frozen=True, slots=True)
class Conclusion:
    """An answer that follows from the answers to other questions. `holds` None: it doesn't follow either way."""

    hazard: str
    subject: str
    holds: bool | None
    sentence: str
    all_held: str
    reason: str
    cure: str
    at: Place


@dataclass(frozen=True, slots=True)
class Derived:
    """A hazard whose answers follow from those to `questions`: `conclude` gets True, False or None (open) for each."""

    questions: tuple[Question, ...]
    conclude: Callable[[tuple[bool | None, ...]], tuple[Conclusion, ...]]


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


def change(before: str, after: str) -> str:
    """A step from one state to another in words: `lit -> stowed`, or `in lit` if the state stays."""
    return f"{before} -> {after}" if before != after else f"in {before}"


def left_alone(model: Model, situation: Situation) -> bool:
    """Whether the history, if the environment has one, is over."""
    return not model.publishes(LEFT) or bool(model.value(situation, LEFT))


def left_in(model: Model, situation: Situation, states: frozenset[str]) -> bool:
    """Whether the history, if there is one, is over and ended in one of `states`."""
    if not model.publishes(LEFT):
        return True
    return bool(model.value(situation, LEFT)) and model.value(situation, LEFT_IN) in states


def entering(mode: Mode, lasting: frozenset[str] = frozenset()) -> Test:
    """Steps that bring the device into `mode` from outside, once it was left alone.

    Timeouts of the `lasting` states don't count: they would have come anyway.
    """

    def test(model: Model, before: Situation, move: Move) -> bool:
        if model.parts[move.taken[0].part].name == "device" and model.value(before, "state") in lasting:
            return False
        now = mode.holds(model, move.situation) and not mode.holds(model, before)
        return now and left_alone(model, before)

    return test


def coming_on(device: Device) -> Test:
    """Steps from a state that sleeps or only waits into one that does neither, once the device was left alone asleep.

    A start that brings back what memory may bring back is none.
    """
    on = {state.name: state.is_on for state in device.states}
    asleep = frozenset(state.name for state in device.states if state.sleep is not None)

    def test(model: Model, before: Situation, move: Move) -> bool:
        was, now = model.value(before, "state"), model.value(move.situation, "state")
        if on[str(was)] or not on[str(now)] or not left_in(model, before, asleep):
            return False
        return not _as_it_was(device, model, before, move, ("state",))

    return test


def changing(device: Device, to_sleep: bool) -> Test:
    """Steps that change the state or a variable of a device that is on, once it was left alone on.

    With `to_sleep` only those into a state that sleeps, else only the others. A timeout of the state isn't counted, since it
    would have come anyway, nor a start that brings back what memory may bring back.
    """
    on = {state.name: state.is_on for state in device.states}
    sleeps = {state.name: state.sleep is not None for state in device.states}
    names = ("state", *(f"value {variable.name}" for variable in device.variables))
    lit = frozenset(name for name, is_on in on.items() if is_on)

    def test(model: Model, before: Situation, move: Move) -> bool:
        state = str(model.value(before, "state"))
        if not on[state] or not left_in(model, before, lit) or model.parts[move.taken[0].part].name == "device":
            return False
        if all(model.value(before, name) == model.value(move.situation, name) for name in names):
            return False
        if _as_it_was(device, model, before, move, whole(device)):
            return False
        return sleeps[str(model.value(move.situation, "state"))] == to_sleep

    return test


def stepping_otherwise(names: tuple[str, ...]) -> Test:
    """Steps that change `state` or one of the variables named, once the device was left alone; timeouts don't count."""
    published = tuple(name if name == "state" else f"value {name}" for name in names)

    def test(model: Model, before: Situation, move: Move) -> bool:
        if not left_alone(model, before) or model.parts[move.taken[0].part].name == "device":
            return False
        return any(model.value(before, name) != model.value(move.situation, name) for name in published)

    return test


def at_start(device: Device, test: Test) -> Test:
    """Starts after an interruption that meet `test`, or lead into a waiting state, from which more may follow by itself."""
    waiting = {state.name for state in device.states if state.waiting}

    def narrowed(model: Model, before: Situation, move: Move) -> bool:
        if not _starts(move):
            return False
        return test(model, before, move) or model.value(move.situation, "state") in waiting

    return narrowed


def starting_otherwise(device: Device, names: tuple[str, ...]) -> Test:
    """Starts after an interruption at which `names` are not as they may be."""

    def test(model: Model, before: Situation, move: Move) -> bool:
        return _starts(move) and not _as_it_was(device, model, before, move, names)

    return test


def starting_wrongly(device: Device, torn: bool) -> Test:
    """Starts after an interruption at which the kept values are not as they may be, see `parts.ledger`.

    With `torn` only those where a write had been cut, else only the others.
    """

    def test(model: Model, before: Situation, move: Move) -> bool:
        if not _starts(move) or model.value(before, TORN) != torn:
            return False
        return not _as_it_was(device, model, before, move)

    return test


def _starts(move: Move) -> bool:
    return any(STARTED in taken.choice.send for taken in move.taken)


def _as_it_was(
    device: Device, model: Model, before: Situation, move: Move, names: tuple[str, ...] | None = None
) -> bool:
    """Whether this is a start after an interruption at which `names` (all that memory keeps) are as they may be."""
    if not _starts(move) or not model.publishes(ALLOWED) or device.memory is None:
        return False
    order = whole(device)
    places = [order.index(name) for name in (device.memory.keeps if names is None else names)]
    reads = {name: model.value(move.situation, name) for name in read_as(order)}
    found = snapshot(device, order, reads)
    allowed = model.value(before, ALLOWED)
    assert isinstance(allowed, frozenset)
    return tuple(found[i] for i in places) in {tuple(values[i] for i in places) for values in allowed}


def failing(device: Device, act: int) -> Test:
    """Steps after which act number `act` was performed and has failed.

    Failed: the firmware saw something else, the limit passed, or everything has settled without what was wanted.
    """
    names = tuple(button.name for button in device.buttons)

    def test(model: Model, before: Situation, move: Move) -> bool:
        after = move.situation
        if model.value(after, ACT) != act or model.value(after, SEEN) in (DONE, EXCUSED):
            return False
        if model.value(after, SEEN) in (OTHER, LATE):
            return True
        return bool(model.value(after, PERFORMED)) and is_at_rest(partial(model.value, after), names)

    return test


def succeeding(act: int) -> Test:
    """Steps with which act number `act` succeeds."""

    def test(model: Model, before: Situation, move: Move) -> bool:
        return model.value(move.situation, ACT) == act and model.value(move.situation, SEEN) == DONE

    return test


def acting(source: str, states: frozenset[str] | None = None) -> Test:
    """Steps in which `source` presses, in one of `states` if given, once the device was left alone."""

    def test(model: Model, before: Situation, move: Move) -> bool:
        first = move.taken[0]
        if model.parts[first.part].name != source or not first.choice.actions:
            return False
        return left_alone(model, before) and (states is None or model.value(before, "state") in states)

    return test
