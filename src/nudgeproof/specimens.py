"""Answers about all specimens of a device that has one value of some times for a whole story.

First the specimen in the middle is asked about. What isn't broken there is asked of the whole box (see `boxes`): where
nothing unwanted is found in its device, nothing happens on any specimen. A story found there may need a time to vary within
the story, so one specimen is looked for that can take it (see `fitting`); the story is then told and replayed on that one.
If there is none, the box is cut in two: where a condition on one value says so, else the value that the story varies most in
half. Each part is asked about by itself. What is left after `MOST_BOXES` of them is undecided, never a pass.

Something wanted must be possible on every specimen. A story for it covers a box just if all corners of the box can take it;
else the box is cut. It is broken if it can't happen in the device of a box, or of one specimen.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from nudgeproof import where
from nudgeproof.answers import Answers, Case, Progress, Proof
from nudgeproof.boxes import (
    CLOCK,
    Box,
    Point,
    at_point,
    middle,
    name_of,
    narrow,
    point_box,
    tell_specimen,
    whole_box,
)
from nudgeproof.diagnostics import ToolFault
from nudgeproof.engines.explore import explore
from nudgeproof.engines.matrix import Timings
from nudgeproof.engines.space import Step
from nudgeproof.engines.story import Story, replay, tell
from nudgeproof.fitting import MOST_CORNERS, Condition, Fitting, compile_finer
from nudgeproof.model.step import expire
from nudgeproof.model.tables import Model
from nudgeproof.parts.compile import Environment, compile_model
from nudgeproof.questions.ask import Derived, Question
from nudgeproof.spec.fixed import fixed_times
from nudgeproof.spec.types import Accepted, Device
from nudgeproof.verdict import Finding, Verdict
from nudgeproof.weigh import collect, describe

MOST_BOXES = 256
"""Boxes looked at for one question, the whole one included."""

COARSE = "coarse: every story found needs one specimen's times to vary"


def open_answers(
    device: Device,
    budget: int,
    progress: Progress | None,
    certify_too: bool,
    timings: Timings,
    briefly: bool = False,
) -> Answers | Specimens:
    """Answers about a device, by specimens where it has times of which each has one value."""
    if fixed_times(device):
        return Specimens(device, budget, progress, certify_too, timings, briefly)
    return Answers(device, budget, progress, certify_too, timings, briefly)


@dataclass(frozen=True, slots=True)
class _Cut:
    """A box that must be cut, and the conditions that say where."""

    conditions: tuple[Condition, ...]


class Specimens:
    """The answers found so far; as `Answers`, whose names mean the same here.

    `budget` is given to the specimen in the middle, to the whole box, and to all smaller ones together. Certificates are
    about the whole box: `uncertified` are the questions that hold though its device has a story. `ways`: of something wanted
    the paths found so far, by the identity of the question.
    """

    def __init__(
        self,
        device: Device,
        budget: int,
        progress: Progress | None,
        certify_too: bool,
        timings: Timings,
        briefly: bool = False,
    ) -> None:
        self.device, self.progress, self.timings, self.briefly = device, progress, timings, briefly
        self.box, self.fixed, self.middle = whole_box(device), fixed_times(device), middle(device)
        self.central = Answers(at_point(device, self.middle), budget, progress, False, timings, briefly)
        self.whole = Answers(device, budget, progress, certify_too, timings, True, compile_model)
        self.budget = self.rest = budget
        self.findings: dict[int, Finding] = {}
        self.uncertified: list[Question] = []
        self.ways: dict[int, list[Fitting]] = {}

    @property
    def left(self) -> int:
        """What is left of the budget, less than nothing where more than one part of it was needed."""
        return self.central.left + self.whole.left + self.rest - 2 * self.budget

    @property
    def proofs(self) -> list[Proof]:
        """A certificate for each unwanted step that the device of the whole box can't take."""
        return self.whole.proofs

    @property
    def needed(self) -> dict[Accepted, bool | None]:
        """For each matching entry of `accepts` whether what it accepts can happen on some specimen (None: not decided)."""
        known = {}
        for entry, on_one in self.central.needed.items():
            known[entry] = on_one or (False if self.whole.needed.get(entry) is False and on_one is False else None)
        return known

    def find(self, cases: Sequence[Case]) -> None:
        """Answer all of `cases`."""
        self.central.find(cases)
        for case in cases:
            found = self.central.findings[id(case.question)]
            if found.verdict is Verdict.BROKEN:
                self.findings[id(case.question)] = self._broken_in_the_middle(case, found)
        open_ones = [case for case in cases if id(case.question) not in self.findings]
        self.whole.find(open_ones)
        for case in open_ones:
            self.findings[id(case.question)] = self._decide(case)

    def collect(self, entry: Question | Derived) -> Iterable[Finding]:
        """The finding of a question, or those that follow below a derived hazard.

        Answers that are broken on different specimens don't add up, so what follows as broken must also follow on one.
        """
        found = tuple(collect(entry, self.findings))
        if isinstance(entry, Question):
            yield from found
            return
        on_one = {one.subject: one.verdict for one in collect(entry, self.central.findings)}
        for one in found:
            if one.verdict is not Verdict.BROKEN:
                yield one
            elif on_one[one.subject] is Verdict.BROKEN:
                yield self._name(one, self.middle, [name for name, _, _ in self.box.sides])
            else:
                reason = "what it follows from was broken on specimens that may differ"
                yield replace(one, verdict=Verdict.UNDECIDED, evidence="", cure="", reason=reason)

    def _decide(self, case: Case) -> Finding:
        """The verdict for all specimens of a question that isn't broken in the middle."""
        key = id(case.question)
        waiting = deque([(self.box, self.whole.findings[key])])
        seen, is_open = 1, None
        while waiting:
            box, found = waiting.popleft()
            answer = self._judge(case, box, found)
            if isinstance(answer, Finding):
                if answer.verdict is Verdict.BROKEN:
                    return answer
                is_open = is_open or answer
            elif answer is not None:
                parts = _cut(box, answer.conditions)
                if parts is None or seen + len(parts) > MOST_BOXES:
                    is_open = is_open or _undecided(
                        found, case, f"{COARSE}; the specimens were told apart in {seen} groups"
                    )
                    continue
                waiting.extend((part, self._ask(part, case)) for part in parts)
                seen += len(parts)
        held = is_open or self._hold(case)
        if seen > 1 and case.question.unwanted and held.verdict is Verdict.HOLDS:
            self.uncertified.append(case.question)
        return held

    def _ask(self, box: Box, case: Case) -> Finding:
        """What is found in the device of a box, in finer times; a story of it is good for its path alone."""

        def compiled(device: Device, environment: Environment) -> Model:
            return compile_finer(device, environment, box, self.fixed)

        device = narrow(self.device, box)
        answers = Answers(device, self.rest, self.progress, False, self.timings, True, compiled)
        answers.find([case])
        self.rest = answers.left
        return answers.findings[id(case.question)]

    def _judge(self, case: Case, box: Box, found: Finding) -> Finding | _Cut | None:
        """What an answer in a box says of its specimens: broken on one, left open, where to cut; None: all is well."""
        if found.verdict is Verdict.UNDECIDED:
            return found
        if not case.question.unwanted:
            return self._judge_wanted(case, box, found)
        if found.verdict is not Verdict.BROKEN:
            return None
        model, path = self._path(case, found)
        fitting = Fitting(model, path, self.fixed)
        fit = fitting.find(box, self.middle)
        if fit.point is None:
            return _Cut(fit.conditions)
        told = self._tell(case, model, path, fit.point, fit.times, fitting.names)
        return replace(told, shortest=found.shortest)

    def _judge_wanted(self, case: Case, box: Box, found: Finding) -> Finding | _Cut | None:
        names = [name for name, _, _ in box.sides]
        if found.verdict is Verdict.BROKEN:
            return self._name(found, box.clamp(self.middle), names)
        ways = self.ways.setdefault(id(case.question), [])
        ways.append(Fitting(*self._path(case, found), self.fixed))
        if 2 ** len(ways[-1].names) > MOST_CORNERS:
            return _undecided(found, case, f"more than {MOST_CORNERS} specimens would have to be looked at")
        without = ways[-1].everywhere(box, box.clamp(self.middle))
        if without is None or self._is_covered(ways, box):
            return None
        point, condition = without
        there = self._ask(point_box(point), case)
        if there.verdict is Verdict.BROKEN:
            return self._name(there, point, names)
        if there.story is not None:
            ways.append(Fitting(*self._path(case, there), self.fixed))
        return None if self._is_covered(ways, box) else _Cut((condition,))

    def _is_covered(self, ways: Sequence[Fitting], box: Box) -> bool:
        """Whether one of the stories found so far is good for every specimen of the box."""
        near = box.clamp(self.middle)
        return any(2 ** len(way.names) <= MOST_CORNERS and way.everywhere(box, near) is None for way in ways)

    def _hold(self, case: Case) -> Finding:
        """The finding where all is well on every specimen; what is unwanted must also have come up on one."""
        central = self.central.findings[id(case.question)]
        if central.verdict is Verdict.HOLDS:
            return central
        if not case.question.unwanted:
            # Its story is one of the whole box, which perhaps no one specimen can take.
            return replace(self.whole.findings[id(case.question)], evidence="proof", story=None, scenes=())
        if self.whole.findings[id(case.question)].verdict is Verdict.VACUOUS:
            return self.whole.findings[id(case.question)]
        if not self._comes_up(case):
            reason = "it happens on no specimen, but it wasn't shown that what the question is about comes up on one"
            return _undecided(central, case, reason)
        held = case.worded.held
        return replace(
            central, verdict=Verdict.HOLDS, evidence="proof", sentence=held, reason="", all_held=case.worded.all_held
        )

    def _comes_up(self, case: Case) -> bool:
        """Whether each thing that the question is about comes up on some specimen."""
        model = compile_model(self.device, case.question.environment)
        seen = explore(model, case.question.came_up, max(self.rest, 0), timings=self.timings, stories=())
        self.rest -= seen.classes
        ways = [Fitting(model, path, self.fixed) for path in seen.paths if path is not None]
        return len(ways) == len(seen.paths) and all(way.find(self.box, self.middle).point is not None for way in ways)

    def _path(self, case: Case, found: Finding) -> tuple[Model, list[Step]]:
        """The path of a story found in any box, and the model of the whole one, to which it belongs as well."""
        assert found.story is not None
        model = compile_model(self.device, case.question.environment)
        return model, path_of(model, found.story)

    def _tell(
        self,
        case: Case,
        model: Model,
        path: Sequence[Step],
        point: Point,
        times: Sequence[Fraction],
        names: Iterable[str],
    ) -> Finding:
        there, story = play_on(self.device, case, model, path, point, times)
        finding = describe(
            self.device, there, case.question, case.looked_for, Verdict.BROKEN, story, briefly=self.briefly
        )
        return self._place(finding, point, names)

    def _broken_in_the_middle(self, case: Case, found: Finding) -> Finding:
        names = [name for name, _, _ in self.box.sides]
        if found.story is None:
            return self._name(found, self.middle, names)
        model = compile_model(self.central.device, case.question.environment)
        names = list(Fitting(model, path_of(model, found.story), self.fixed).names)
        if not self.briefly:
            place = where.find(self.device, model, case.question.environment, case.looked_for, found.story)
            found = replace(found, where=place)
        return self._place(found, self.middle, names)

    def _place(self, finding: Finding, point: Point, names: Iterable[str]) -> Finding:
        """A finding with a story, with the specimen that it was told on."""
        told = tell_specimen(self.device, point, set(names))
        if not told:
            return finding
        found_at = finding.where if finding.where == where.EVERY else f"on {told}"
        return replace(finding, where=found_at, specimen=told)

    def _name(self, finding: Finding, point: Point, names: Iterable[str]) -> Finding:
        """A finding by a proof, with the specimen that it is about."""
        told = tell_specimen(self.device, point, set(names))
        return replace(finding, sentence=f"{finding.sentence}, on {told}", where=f"on {told}", specimen=told)


def path_of(model: Model, story: Story) -> list[Step]:
    """The path of a story in this model, which may have other times than the one that it was told in."""
    path = []
    for beat in story.beats:
        names = [(model.parts[part].name, timer.name) for part, timer in model.armed(beat.before)]
        position = names.index((beat.part, beat.timer))
        path.append(Step(beat.before, position, expire(model, beat.before, position)[beat.choice]))
    return path


def play_on(
    device: Device, case: Case, model: Model, path: Sequence[Step], point: Point, times: Sequence[Fraction]
) -> tuple[Model, Story]:
    """The story of a path found in `model`, on one specimen that can take it at `times`, with the specimen's model.

    Times that aren't whole microseconds are shown rounded down: so rounded they suit bounds that are rounded outward. Raises
    `ToolFault` if the story doesn't replay, or does no harm.
    """
    specimen = at_point(device, point)
    there = compile_model(specimen, case.question.environment)
    steps = []
    for step in path:
        number = expire(model, step.situation, step.position).index(step.move)
        steps.append(Step(step.situation, step.position, expire(there, step.situation, step.position)[number]))
    exact = all(
        (point[CLOCK] * one.lo).denominator == (point[CLOCK] * one.hi).denominator == 1
        if one.counted
        else point[name_of(one)].denominator == 1
        for one in fixed_times(device)
    )
    story = tell(there, steps) if exact else replay(there, steps, [math.floor(at) for at in times])
    last = story.beats[-1]
    if not case.looked_for(there, last.before, last.move):
        raise ToolFault("a story that was found in a box does no harm on its specimen")
    return there, story


def _undecided(found: Finding, case: Case, reason: str) -> Finding:
    question = case.question
    return replace(
        found,
        verdict=Verdict.UNDECIDED,
        evidence="",
        sentence=f"{question.hazard}: {question.subject}",
        cure="",
        reason=reason,
        story=None,
        scenes=(),
    )


def _cut(box: Box, conditions: Sequence[Condition]) -> tuple[Box, Box] | None:
    """Two parts of a box; None if none of its values can be cut any more."""
    for condition in reversed(conditions):
        number, parts = condition.form
        if len(parts) == 1:
            name, multiple = parts[0]
            at, (low, high) = Fraction(-number, multiple), box.side(name)
            if low < at < high:
                return box.cut(name, at)
    # A value helps a story by as much as it stands in bounds against each other; else in whatever bounds it stands.
    against: dict[str, int] = {}
    anywhere: dict[str, int] = {}
    for condition in conditions:
        net = dict(condition.form[1])
        for name, slack in condition.slack:
            against[name] = max(against.get(name, 0), slack - abs(net.get(name, 0)))
            anywhere[name] = max(anywhere.get(name, 0), slack)

    def gain(side: tuple[str, Fraction, Fraction]) -> tuple[Fraction, Fraction, Fraction]:
        name, low, high = side
        width = high - low
        return width * against.get(name, 0), width * anywhere.get(name, 0), width

    name, low, high = max(box.sides, key=gain)
    if low == high or (name != CLOCK and high - low <= 1):
        return None
    return box.cut(name, (low + high) / 2 if name == CLOCK else Fraction(math.floor((low + high) / 2)))
