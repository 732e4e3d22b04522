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
from nudgeproof.model.step import Move, Test
from nudgeproof.model.tables import Model, Situation
from nudgeproof.parts.changes import touched
from nudgeproof.parts.chart import timer_name
from nudgeproof.parts.compile import Environment, compile_model
from nudgeproof.parts.gestures import can_stand_in
from nudgeproof.parts.people import ANYTHING, PERSON
from nudgeproof.parts.trail import GESTURE, START, TIME
from nudgeproof.questions.steps import passing, stepping
from nudgeproof.spec.fixed import fixed_times
from nudgeproof.spec.outside import CELL_FINE, CELL_LOW, WAKING, Maker, Sag
from nudgeproof.spec.types import Condition, Device, Disturbance, Outage, Source, Timeout, Transition
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
    """What is seen: the device goes from `before` to `after`, or, with `variable`, it changes in `before`.

    Both are states or groups; of a group each state is meant.
    """

    before: str
    after: str
    variable: str = ""

    def __str__(self) -> str:
        if not self.variable:
            return f"{self.before} -> {self.after}"
        return f"{self.variable} changes " + (
            f"in {self.before}" if self.before == self.after else f"from {self.before} to {self.after}"
        )

    def in_states(self, device: Device) -> tuple[Symptom, ...]:
        """The same about single states; each of them is this symptom."""
        return tuple(
            Symptom(before, after, self.variable)
            for before in device.states_of(self.before)
            for after in device.states_of(self.after)
        )


@dataclass(frozen=True, slots=True)
class Option:
    """One manner of a step between single states. `cause`: the gesture, or the timer as the chart calls it; "" for any.

    `condition`: only where this holds before it; None: always.
    """

    symptom: Symptom
    how: str
    cause: str = ""
    condition: Condition | None = None

    def test(self) -> Test:
        """The step with which it comes about in this manner."""
        symptom, condition = self.symptom, self.condition
        if symptom.variable:
            step = stepping(symptom.before, symptom.after, symptom.variable, self.how, self.cause)
        else:
            step = passing(symptom.before, symptom.after, self.how, self.cause)
        if condition is None:
            return step

        def test(model: Model, was: Situation, move: Move) -> bool:
            values = {name: str(model.value(was, f"value {name}")) for name, _ in condition.allowed}
            return condition.holds(values) and step(model, was, move)

        return test


@dataclass(frozen=True, slots=True)
class Step:
    """One manner of the step, as the spec has it: a line, one of its cases, or any gestures or times by way of waiting
    states. `cause`: the gesture, or the line of a time with the state or group it belongs to; "" for several.

    `words`: in words. `options`: the ways in which it can happen, one for each pair of states and each length of a time.
    """

    how: str
    cause: str
    words: str
    options: tuple[Option, ...]

    def test(self) -> Test:
        """The step with which it comes about in any of these ways."""
        tests = [option.test() for option in self.options]
        return lambda model, was, move: any(test(model, was, move) for test in tests)

    def find_option(self, model: Model, was: Situation, move: Move) -> Option:
        """The way in which a step that meets the test happened."""
        return next(option for option in self.options if option.test()(model, was, move))


@dataclass(frozen=True, slots=True)
class Way:
    """A way that was found. `by`: who acts, in words; `source`: its name. `symptom`: about the very states of this story.

    `story`: with the fewest actions, if `shortest`. `begins`: the number of its first beat since the device is in the state
    before.
    """

    by: str
    source: str
    symptom: Symptom
    step: Step
    story: Story
    begins: int
    shortest: bool = True

    @property
    def before(self) -> str:
        """The state it leads out of."""
        return self.symptom.before


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
    places = (*states, *(group.name for group in device.groups))
    arrow = re.fullmatch("(.+?) ?(?:->|→) ?(.+)", text)
    if arrow is not None:
        before, after = _known("state", arrow[1], places), _known("state", arrow[2], places)
        if before == after:
            raise NoSymptom(
                f"`{text}` is no change of state; write such as `beam changes in {before}` for a change within it"
            )
        if both := set(device.states_of(before)) & set(device.states_of(after)):
            group, state = (before, after) if after in both else (after, before)
            raise NoSymptom(f"`{text}` is no change of state: {state} is in {group}; name two states that stand apart")
        return Symptom(before, after)
    changes = re.fullmatch("(.+?) changes in (.+)", text)
    if changes is not None:
        names = tuple(variable.name for variable in device.variables)
        variable, place = _known("variable", changes[1], names), _known("state", changes[2], places)
        return Symptom(place, place, variable)
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
    pairs = symptom.in_states(device)
    told = _steps(device, pairs, GESTURE)
    presses = (*(step for step in told if step.cause not in device.event_names), *_start_steps(device, pairs))
    times = _steps(device, pairs, TIME)
    finder = _Finder(device, BUDGETS[effort], progress)
    if presses:
        if device.person is not None:
            finder.look("the person's own presses", PERSON, Environment((PERSON,), trailed=True), presses)
        for what in device.surroundings:
            if isinstance(what, Disturbance):
                environment = replace(left_at_rest(device, what), trailed=True)
                finder.look(f"{what.name} alone, after any use", what.name, environment, presses)
    for source in device.surroundings:
        makes = events_of(source)
        steps = tuple(step for step in told if step.cause in makes or (step.cause in ("", WAKING) and makes))
        if steps:
            environment = replace(left_at_rest(device, source), trailed=True)
            finder.look(f"{source.name} alone, after any use", source.name, environment, steps)
    if presses or times:
        anything = Environment((ANYTHING,), trailed=True)
        finder.look("any press at all, of any length", ANYTHING, anything, presses, times)
    if not presses:
        finder.proved.append(f"any press: no gesture of the spec {_leads(symptom)}")
    if not times:
        finder.proved.append(f"a time of the device: no `after` or `every` of the spec {_leads(symptom)}")
    _try_interruptions(device, symptom, finder)
    if fixed_times(device):
        finder.untried.append(
            "whether one specimen can do it: `drift: one clock` and `per unit` count for nothing here, so a way may need a"
            " time to vary from step to step"
        )
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
    pairs = [pair for pair in symptom.in_states(device) if not device.state(pair.before).unpowered]
    if len(pairs) < len(list(symptom.in_states(device))) and device.stays_off is not None:
        finder.untried.append("interruptions of the supply while it is switched off: a cell that is put in starts it")
    if not pairs:
        if device.stays_off is None:
            finder.proved.append(f"interruptions of the supply: {symptom.before} has no power that could be lost")
        return
    is_off = not symptom.variable and all(device.state(pair.after).unpowered for pair in pairs)
    words = "a loss of power" if is_off else "a start after a reset"
    step = Step(START, "", words, tuple(Option(pair, START) for pair in pairs))
    outages = [what for what in device.surroundings if isinstance(what, Outage)]
    anyhow = Outage(ANY_LOSS, Span(0, FOREVER), 0, Place(device.file))
    for what in (*outages, anyhow):
        who = ANYTHING if device.person is None else PERSON
        by = f"{what.name}, while someone uses it"
        there = device if what in outages else replace(device, surroundings=(*device.surroundings, anyhow))
        # A latch or a cut-off hangs on the contacts, which the wider environment leaves out.
        alone = Environment((what.name, *device.meant), gestures=True, trailed=True) if can_stand_in(device) else None
        acting = (who, *device.meant, what.name)
        finder.look(by, what.name, Environment(acting, trailed=True), (step,), there=there, wider=alone)


def events_of(source: Source) -> tuple[str, ...]:
    """The events that a source can bring about."""
    if isinstance(source, Maker):
        return source.events
    return (CELL_LOW, CELL_FINE) if isinstance(source, Sag) else ()


def _steps(device: Device, pairs: Sequence[Symptom], how: str) -> tuple[Step, ...]:
    """The lines of the chart, gestures or times, that can make the step, and the ways through states that only wait."""
    options: dict[Transition | Timeout, list[Option]] = {}
    between: dict[str, None] = {}
    through = []
    for pair in pairs:
        state = device.state(pair.before)
        lines: tuple[Transition | Timeout, ...] = state.transitions if how == GESTURE else state.timeouts
        for line in lines:
            if _makes(device, line, pair):
                causes = _causes(device, line, pair.before)
                options.setdefault(line, []).extend(Option(pair, how, cause, line.condition) for cause in causes)
        names = [] if pair.variable else _between(device, pair, how)
        through += [Option(pair, how)] if names else []
        between.update(dict.fromkeys(names))
    steps = []
    for line, ways in options.items():
        name = _name(line)
        cause = f"{line.group or ways[0].symptom.before}: {name}" if isinstance(line, Timeout) else name
        # One gesture may stand in several states of a group, each with a line of its own.
        places = {_tell_places(found) for other, found in options.items() if _name(other) == name}
        words = f"{name} in {_tell_places(ways)}" if len(places) > 1 else name
        words += f" while {line.condition.text}" if line.condition is not None else ""
        steps.append(Step(how, cause, words, tuple(ways)))
    if through:
        kind = "a gesture" if how == GESTURE else "a time"
        steps.append(Step(how, "", f"{kind}, by way of {' or '.join(between)}", tuple(through)))
    return tuple(steps)


def _tell_places(options: Iterable[Option]) -> str:
    """The states that a line is about."""
    return " or ".join(dict.fromkeys(option.symptom.before for option in options))


def _name(line: Transition | Timeout) -> str:
    return line.text if isinstance(line, Timeout) else line.gesture


def _makes(device: Device, line: Transition | Timeout, pair: Symptom) -> bool:
    """Whether a line of the state before can make the step at once."""
    if pair.variable:
        return (line.target or pair.before) == pair.after and pair.variable in touched(device, line)
    return line.target == pair.after


def _causes(device: Device, line: Transition | Timeout, state: str) -> list[str]:
    """What the chart calls the gesture, or the timers of a time: one for each of its lengths."""
    if isinstance(line, Transition):
        return [line.gesture]
    lengths = device.variable(line.by).values if line.by else ("",)
    return [timer_name(device.state(state), line, {line.by: length}) for length in lengths]


def _start_steps(device: Device, pairs: Iterable[Symptom]) -> Iterable[Step]:
    """A key that brings power to a device that had none."""
    dark = [pair for pair in pairs if device.state(pair.before).unpowered and not pair.variable]
    if dark:
        yield Step(START, "", "power, and a start", tuple(Option(pair, START) for pair in dark))


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

    def __init__(self, device: Device, budget: int, progress: Progress | None) -> None:
        self.device, self.budget, self.progress = device, budget, progress
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
        tests = [step.test() for step in every]

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
        for step, path, least in zip(every, seen.paths, seen.least, strict=True):
            who = by if step not in times else "the device by itself"
            if path is not None:
                story = tell(model, path)
                last = story.beats[-1]
                symptom = step.find_option(model, last.before, last.move).symptom
                begins = _begin(model, story, symptom.before)
                self.found.append(Way(who, "" if step in times else source, symptom, step, story, begins, least))
            elif seen.complete and not seen.stuck:
                self.proved.append(_tell(who, step))
            else:
                reason = "time stops in the model" if seen.complete else "the effort ran out"
                self.open.append(f"{_tell(who, step)} ({reason})")


def _tell(by: str, step: Step) -> str:
    return f"{by}: {step.words}"


def _begin(model: Model, story: Story, state: str) -> int:
    """The number of the first beat since the device came into a state for the last time."""
    before = [str(model.value(beat.before, "state")) for beat in story.beats]
    states = [str(model.value(beat.after, "state")) for beat in story.beats]
    return max((i + 1 for i in range(len(states)) if states[i] == state != before[i]), default=0)
