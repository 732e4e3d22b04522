"""Symptom first: all ways in which one change of state or mode can come about.

For each kind of cause (the person's own presses, each of the surroundings alone, any press at all, a time of the device, a
start after an interruption) and each line of the spec that can make the step, the story with the fewest actions is looked
for. What isn't found is either proved to be impossible, since everything was looked at, or left open.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

from nudgeproof.diagnostics import Place
from nudgeproof.engines.explore import explore
from nudgeproof.engines.story import Story, tell
from nudgeproof.hazards.disturbed import left_at_rest
from nudgeproof.model.step import Test
from nudgeproof.parts.changes import touched
from nudgeproof.parts.chart import timer_name
from nudgeproof.parts.compile import Environment, compile_model
from nudgeproof.parts.people import ANYTHING, PERSON
from nudgeproof.parts.trail import GESTURE, START, TIME
from nudgeproof.questions.ask import passing, stepping
from nudgeproof.spec.types import Device, Disturbance, Outage, Timeout, Transition
from nudgeproof.units import FOREVER, Span

BUDGETS = {"quick": 5_000, "usual": 20_000, "deep": 1_000_000}
"""Classes kept in each exploration, by effort."""

ANY_LOSS = "any interruption (not stated)"
"""A source that takes the cell away for any time, at any moment; no name of a spec holds a bracket."""

Progress = Callable[[str, int], None]


class NoSymptom(ValueError):
    """The text names no change that can be looked for; the message says why, and what to write."""


@dataclass(frozen=True, slots=True)
class Symptom:
    """What is seen: the device goes from state `before` to state `after`, or, with `variable`, it changes in `before`."""

    before: str
    after: str
    variable: str = ""

    def __str__(self) -> str:
        return f"{self.variable} changes in {self.before}" if self.variable else f"{self.before} -> {self.after}"

    def test(self, how: str, cause: str = "") -> Test:
        """The step with which it comes about in this manner."""
        if self.variable:
            return stepping(self.before, self.variable, how, cause)
        return passing(self.before, self.after, how, cause)


@dataclass(frozen=True, slots=True)
class Step:
    """One manner of the step, as the spec has it. `cause`: the gesture, or the timer; "" where waiting states lie between.

    `words`: in words. `timer`: the timeout as written.
    """

    how: str
    cause: str
    words: str


@dataclass(frozen=True, slots=True)
class Way:
    """A way that was found. `by`: who acts, in words; `source`: its name. `before`: the state it leads out of.

    `story`: with the fewest actions. `begins`: the number of its first beat since the device is in the state before.
    """

    by: str
    source: str
    before: str
    step: Step
    story: Story
    begins: int


@dataclass(frozen=True, slots=True)
class Ways:
    """The answer: ways with the fewest actions first; what is proved to be impossible, what wasn't found out, and what
    could not be tried and why, each in words."""

    symptom: Symptom
    found: tuple[Way, ...]
    proved: tuple[str, ...]
    open: tuple[str, ...]
    untried: tuple[str, ...]


def read_symptom(device: Device, text: str) -> Symptom:
    """`A -> B` or `V changes in A`; raises `NoSymptom`."""
    text = " ".join(text.split())
    states = tuple(state.name for state in device.states)
    arrow = re.fullmatch("(.+?) ?(?:->|→) ?(.+)", text)
    if arrow is not None:
        before, after = _known("state", arrow[1], states), _known("state", arrow[2], states)
        if before == after:
            raise NoSymptom(
                f"`{text}` is no change of state; write such as `beam changes in {before}` for a change within it"
            )
        return Symptom(before, after)
    changes = re.fullmatch("(.+?) changes in (.+)", text)
    if changes is not None:
        names = tuple(variable.name for variable in device.variables)
        variable, state = _known("variable", changes[1], names), _known("state", changes[2], states)
        return Symptom(state, state, variable)
    example = f"{states[0]} -> {states[-1]}"
    raise NoSymptom(
        f"`{text}` is no symptom; write two states, such as `{example}`, or such as `beam changes in {states[-1]}`"
    )


def _known(kind: str, name: str, names: Sequence[str]) -> str:
    if name in names:
        return name
    near = difflib.get_close_matches(name, names, 1)
    hint = f"did you mean `{near[0]}`?" if near else f"known are: {', '.join(names) or 'none'}"
    raise NoSymptom(f"there is no {kind} `{name}`; {hint}")


def find_ways(device: Device, symptom: Symptom, effort: str = "usual", progress: Progress | None = None) -> Ways:
    """Look for every way; `progress` is called with the environment in words and the number of classes so far."""
    presses = (*_gesture_steps(device, symptom), *_start_steps(device, symptom))
    times = tuple(_time_steps(device, symptom))
    finder = _Finder(device, symptom, BUDGETS[effort], progress)
    if presses:
        if device.person is not None:
            finder.look("the person's own presses", PERSON, Environment((PERSON,), trailed=True), presses)
        for what in device.surroundings:
            if isinstance(what, Disturbance):
                environment = replace(left_at_rest(device, what), trailed=True)
                finder.look(f"{what.name} alone, after any use", what.name, environment, presses)
    if presses or times:
        anything = Environment((ANYTHING,), trailed=True)
        finder.look("any press at all, of any length", ANYTHING, anything, presses, times)
    if not presses:
        finder.proved.append(f"any press: no gesture of the spec {_leads(symptom)}")
    if not times:
        finder.proved.append(f"a time of the device: no time of the spec {_leads(symptom)}")
    _try_interruptions(device, symptom, finder)
    order = sorted(range(len(finder.found)), key=lambda i: (finder.found[i].story.actions, i))
    return Ways(
        symptom, tuple(finder.found[i] for i in order), tuple(finder.proved), tuple(finder.open), tuple(finder.untried)
    )


def _leads(symptom: Symptom) -> str:
    if symptom.variable:
        return f"changes {symptom.variable} in {symptom.before}"
    return f"leads from {symptom.before} to {symptom.after}"


def _try_interruptions(device: Device, symptom: Symptom, finder: _Finder) -> None:
    if device.supply is None or device.power_up is None:
        finder.untried.append(
            "interruptions of the supply: the spec has no `supply` and `power up` that say what they do"
        )
        return
    if device.state(symptom.before).unpowered:
        finder.proved.append(f"interruptions of the supply: {symptom.before} has no power that could be lost")
        return
    is_off = not symptom.variable and device.state(symptom.after).unpowered
    step = Step(START, "", "a loss of power" if is_off else "a start after a reset")
    outages = [what for what in device.surroundings if isinstance(what, Outage)]
    anyhow = Outage(ANY_LOSS, Span(0, FOREVER), 0, Place(device.file))
    for what in (*outages, anyhow):
        who = ANYTHING if device.person is None else PERSON
        by = f"{what.name}, while someone uses it"
        there = device if what in outages else replace(device, surroundings=(*device.surroundings, anyhow))
        # A latch hangs on the contacts, which the wider environment leaves out.
        alone = None if device.supply.latch else Environment((what.name,), gestures=True, trailed=True)
        finder.look(by, what.name, Environment((who, what.name), trailed=True), (step,), there=there, wider=alone)


def _gesture_steps(device: Device, symptom: Symptom) -> Iterable[Step]:
    fitting = (t.gesture for t in device.state(symptom.before).transitions if _fits(device, symptom, t))
    for gesture in dict.fromkeys(fitting):
        yield Step(GESTURE, gesture, gesture)
    if not symptom.variable and (between := _between(device, symptom, GESTURE)):
        yield Step(GESTURE, "", f"a gesture, by way of {' or '.join(between)}")


def _fits(device: Device, symptom: Symptom, line: Transition | Timeout) -> bool:
    """Whether a line of the state does what is seen, in the case that it applies."""
    if not symptom.variable:
        return line.target == symptom.after
    return line.target in (None, symptom.before) and symptom.variable in touched(device, line)


def _start_steps(device: Device, symptom: Symptom) -> Iterable[Step]:
    """A key that brings power to a device that had none."""
    if device.state(symptom.before).unpowered and not symptom.variable:
        yield Step(START, "", "power, and a start")


def _time_steps(device: Device, symptom: Symptom) -> Iterable[Step]:
    state = device.state(symptom.before)
    timers = {
        timer_name(state, timeout, {timeout.by: value}): timeout.text
        for timeout in state.timeouts
        if _fits(device, symptom, timeout)
        for value, _ in timeout.times or (("", None),)
    }
    for timer, text in timers.items():
        yield Step(TIME, timer, text)
    if not symptom.variable and (between := _between(device, symptom, TIME)):
        yield Step(TIME, "", f"a time, by way of {' or '.join(between)}")


def _between(device: Device, symptom: Symptom, how: str) -> list[str]:
    """The states that only wait on a way of the spec from one state to the other, its first step taken as `how`."""
    import networkx

    if device.state(symptom.before).waiting:
        return []
    graph = networkx.DiGraph()
    graph.add_node(symptom.after)
    waiting = [state for state in device.states if state.waiting]
    for state in waiting:
        targets = [*(t.target for t in state.transitions), *(t.target for t in state.timeouts)]
        graph.add_edges_from((state.name, target) for target in targets if target is not None)
    # Beyond a state where the device stays a new story begins.
    kept = {state.name for state in waiting} | {symptom.after}
    graph = graph.subgraph(kept)
    here = device.state(symptom.before)
    firsts = {t.target for t in here.transitions} if how == GESTURE else {t.target for t in here.timeouts}
    ends = networkx.ancestors(graph, symptom.after)
    begins = {name for first in firsts if first in ends for name in (first, *networkx.descendants(graph, first))}
    return [state.name for state in waiting if state.name in begins & ends]


class _Finder:
    """The ways found so far, and what was said of those that weren't."""

    def __init__(self, device: Device, symptom: Symptom, budget: int, progress: Progress | None) -> None:
        self.device, self.symptom, self.budget, self.progress = device, symptom, budget, progress
        self.found: list[Way] = []
        self.proved: list[str] = []
        self.open: list[str] = []
        self.untried: list[str] = []

    def look(
        self,
        by: str,
        source: str,
        environment: Environment,
        steps: Sequence[Step],
        times: Sequence[Step] = (),
        there: Device | None = None,
        wider: Environment | None = None,
    ) -> None:
        """Look for each of `steps`, and of `times`, which come by themselves; what can't happen in `wider` can't happen."""
        device, every = there or self.device, (*steps, *times)
        tests = [self.symptom.test(step.how, step.cause) for step in every]

        def told(classes: int) -> None:
            if self.progress is not None:
                self.progress(str(environment), classes)

        if wider is not None:
            seen = explore(compile_model(device, wider), tests, self.budget, told)
            if seen.complete and not seen.stuck and not any(seen.paths):
                self.proved += [_tell(by, step) for step in every]
                return
        model = compile_model(device, environment)
        seen = explore(model, tests, self.budget, told)
        for step, path in zip(every, seen.paths, strict=True):
            who = by if step not in times else "the device by itself"
            if path is not None:
                story = tell(model, path)
                states = [str(model.value(beat.after, "state")) for beat in story.beats]
                before = [str(model.value(beat.before, "state")) for beat in story.beats]
                entered = [i for i, state in enumerate(states) if state == self.symptom.before != before[i]]
                self.found.append(
                    Way(
                        who,
                        "" if step in times else source,
                        self.symptom.before,
                        step,
                        story,
                        entered[-1] + 1 if entered else 0,
                    )
                )
            elif seen.complete and not seen.stuck:
                self.proved.append(_tell(who, step))
            else:
                reason = (
                    "time stops in the model" if seen.complete else f"the effort ran out after {seen.classes} classes"
                )
                self.open.append(f"{_tell(who, step)} ({reason})")


def _tell(by: str, step: Step) -> str:
    return f"{by}: {step.words}"
