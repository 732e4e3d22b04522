"""Answering questions: each environment is explored once for all questions about it.

A question that a wider environment settles is answered there, and needs only to come up in its own. A step that is accepted
isn't bad, but the exploration goes on from it, so what follows is looked at all the same. Where the effort runs out, random
runs are tried on top: they can find a failure, never prove that there is none.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import accumulate

from nudgeproof.engines.certificate import certify
from nudgeproof.engines.encoding import Claim
from nudgeproof.engines.explore import Exploration, explore
from nudgeproof.engines.fuzz import fuzz
from nudgeproof.engines.matrix import Timings
from nudgeproof.model.step import Move, Test
from nudgeproof.model.tables import Model, Situation
from nudgeproof.parts.compile import Environment, compile_model, is_large
from nudgeproof.questions.ask import Derived, Question
from nudgeproof.rhythm import steady_story
from nudgeproof.spec.types import Accepted, Device
from nudgeproof.verdict import Finding, Verdict
from nudgeproof.weigh import collect, describe, weigh

Progress = Callable[[str, int], None]

SHARES = 4
LARGE_SHARES = 2
LEAST_SHARES = 100
RANDOM_STEPS, LEAST_RANDOM_STEPS = 20_000, 500


@dataclass(frozen=True, slots=True)
class Case:
    """A question with the entries of `accepts` that match it."""

    question: Question
    accepted: tuple[Accepted, ...]

    @property
    def looked_for(self) -> Test:
        """What to look for: the question's step, but for what is accepted."""
        states = frozenset(state for entry in self.accepted for state in entry.covers)
        return _within(self.question.looked_for, states, inside=False) if states else self.question.looked_for

    @property
    def worded(self) -> Question:
        """The question, its good answer limited to what isn't accepted."""
        if not self.accepted:
            return self.question
        apart = ", apart from what is accepted"
        return replace(self.question, held=self.question.held + apart, all_held=self.question.all_held + apart)


@dataclass(frozen=True, slots=True)
class Proof:
    """A certificate: `text` proves what `hazard` and `subject` say, and can be checked by itself."""

    hazard: str
    subject: str
    text: str


def match(device: Device, question: Question) -> Case:
    """A question with the entries of the device's `accepts` that are about it."""
    entries = (entry for entry in device.accepts if entry.hazard == question.hazard and question.by in entry.by)
    return Case(question, tuple(entries))


class Answers:
    """The answers found so far.

    `budget`: how many classes may be taken in all; one pass of an exploration gets at most its share, and one that only
    tries to settle questions in a wider environment a smaller one, so that a hard question doesn't starve the others; and
    each gets some even when all is used up, so that an easy one is answered wherever it stands. The steps of random runs are
    shared in the same way.
    `findings` by the identity of their question; `needed`: for each matching entry of `accepts` whether what it accepts can
    happen (None: not decided); `proofs`: a certificate for each unwanted step that can't happen, if they were asked for.
    `briefly`: only verdicts and sentences are wanted; no random runs, nothing about specimens or the bench. `compiled`: the
    model of a question's environment, where it is another one than usual; then nothing is answered in a simpler one.
    """

    def __init__(
        self,
        device: Device,
        budget: int,
        progress: Progress | None,
        certify_too: bool,
        timings: Timings,
        briefly: bool = False,
        compiled: Callable[[Device, Environment], Model] | None = None,
    ) -> None:
        self.timings, self.compiled, self.as_asked = timings, compiled or compile_model, compiled is not None
        self.device, self.progress, self.keep, self.briefly = device, progress, certify_too, briefly
        self.most, self.least, self.left = budget // SHARES, budget // LEAST_SHARES, budget
        # A random step takes about as long as some classes.
        self.random_left = max(RANDOM_STEPS, budget)
        # What several buttons do side by side is many classes, but small ones.
        self.most_wider = self.most // (LARGE_SHARES if is_large(device) else SHARES)
        self.findings: dict[int, Finding] = {}
        self.needed: dict[Accepted, bool | None] = {}
        self.proofs: list[Proof] = []
        self._settled: set[int] = set()

    def find(self, cases: Sequence[Case]) -> None:
        """Answer all of `cases`."""
        wider = [case for case in cases if case.question.wider is not None]
        for environment in dict.fromkeys(wider_of(self.device, case)[0] for case in wider):
            self._settle(environment, [case for case in wider if wider_of(self.device, case)[0] == environment])
        for environment in dict.fromkeys(case.question.environment for case in cases):
            self._answer(environment, [case for case in cases if case.question.environment == environment])

    def collect(self, entry: Question | Derived) -> Iterable[Finding]:
        """The finding of a question, or those that follow from the answers below a derived hazard."""
        return collect(entry, self.findings)

    def _explore(
        self, environment: Environment, model: Model, tests: Sequence[Test], most: int, stories: Collection[int] = ()
    ) -> Exploration:
        progress = self.progress
        told = None if progress is None else (lambda classes: progress(str(environment), classes))
        budget = max(self.least, min(most, self.left))
        seen = explore(model, tests, budget, told, keep=self.keep, timings=self.timings, stories=stories)
        self.left = max(0, self.left - seen.classes)
        return seen

    def _settle(self, environment: Environment, cases: Sequence[Case]) -> None:
        model = self.compiled(self.device, environment)
        seen = self._explore(environment, model, [wider_of(self.device, case)[1] for case in cases], self.most_wider)
        if not seen.complete or seen.stuck:
            return
        for number, case in enumerate(cases):
            if seen.paths[number] is None:
                self._settled.add(id(case.question))
                self._certify(case.question, environment, seen, number)

    def _answer(self, environment: Environment, cases: Sequence[Case]) -> None:
        if is_large(self.device) and not self.as_asked:
            cases = self._answer_calmly(environment, cases)
        if not cases:
            return
        model = self.compiled(self.device, environment)
        tests = [self._tests(case) for case in cases]
        stories = [place for case, place in zip(cases, _places(tests), strict=True) if not self._is_settled(case)]
        seen = self._explore(environment, model, [test for own in tests for test in own], self.most, stories)
        for case, place in zip(cases, _places(tests), strict=True):
            self._conclude(case, model, seen, place)
        self._try_at_random([case for case in cases if self._is_open(case)], model)

    def _answer_calmly(self, environment: Environment, cases: Sequence[Case]) -> list[Case]:
        """Answer those that only need something to happen from runs without chatter, if it happens there; the others."""
        wanting = [case for case in cases if self._is_settled(case) or not case.question.unwanted]
        if not wanting:
            return list(cases)
        calm = replace(environment, calm=True)
        model = compile_model(self.device, calm)
        tests = [self._tests(case) for case in wanting]
        stories = [place for case, place in zip(wanting, _places(tests), strict=True) if not self._is_settled(case)]
        seen = self._explore(calm, model, [test for own in tests for test in own], self.most_wider, stories)
        done = set()
        for case, own, place in zip(wanting, tests, _places(tests), strict=True):
            if all(path is not None for path in seen.paths[place : place + len(own)]):
                self._conclude(case, model, seen, place)
                done.add(id(case))
        return [case for case in cases if id(case) not in done]

    def _tests(self, case: Case) -> list[Test]:
        """What to look for: the question's step unless it is settled, what must come up, what is accepted."""
        question = case.question
        looked_for = () if self._is_settled(case) else (case.looked_for,)
        accepted = [_within(question.looked_for, frozenset((entry.within,)), inside=True) for entry in case.accepted]
        return [*looked_for, *question.came_up, *accepted]

    def _conclude(self, case: Case, model: Model, seen: Exploration, place: int) -> None:
        question = case.question
        settled = self._is_settled(case)
        first = place if settled else place + 1
        came_up = seen.paths[first : first + len(question.came_up)]
        path = None if settled else seen.paths[place]
        cheapest = path is None or seen.least[place]
        starved = seen.classes < self.most and not self.left
        finding = weigh(
            self.device,
            model,
            case.worded,
            seen,
            case.looked_for,
            settled,
            path,
            came_up,
            self.briefly,
            starved,
            cheapest,
        )
        self.findings[id(question)] = finding
        if question.unwanted and finding.verdict is Verdict.HOLDS and not settled:
            self._certify(question, question.environment, seen, place)
        for number, entry in enumerate(case.accepted, start=first + len(question.came_up)):
            met = True if seen.paths[number] is not None else (False if seen.complete else None)
            known = (met, self.needed.get(entry, False))
            self.needed[entry] = True if True in known else None if None in known else False

    def _is_settled(self, case: Case) -> bool:
        return id(case.question) in self._settled

    def _is_open(self, case: Case) -> bool:
        return case.question.unwanted and self.findings[id(case.question)].verdict is Verdict.UNDECIDED

    def _try_at_random(self, cases: Sequence[Case], model: Model) -> None:
        """Where the effort ran out, a short run of random presses and interruptions may still find a failure."""
        if not cases or self.briefly:
            return
        steps = max(LEAST_RANDOM_STEPS, min(RANDOM_STEPS, self.random_left))
        self.random_left = max(0, self.random_left - steps)
        found = fuzz(model, [case.looked_for for case in cases], steps, seed=0).failures
        for case, failure in zip(cases, found, strict=True):
            story = None if failure is None else steady_story(self.device, model, failure.path, failure.times_us)
            if story is not None:
                told = describe(self.device, model, case.question, case.looked_for, Verdict.BROKEN, story)
                self.findings[id(case.question)] = replace(told, shortest=False)

    def _certify(self, question: Question, environment: Environment, seen: Exploration, goal: int) -> None:
        if self.keep:
            claim = Claim(self.device.digest, question.hazard, question.subject, environment)
            self.proofs.append(Proof(question.hazard, question.subject, certify(claim, seen, goal)))


def _places(tests: Sequence[Sequence[Test]]) -> list[int]:
    """Where each case's own tests begin among all of them."""
    return list(accumulate((len(own) for own in tests[:-1]), initial=0))


def wider_of(device: Device, case: Case) -> tuple[Environment, Test]:
    """The wider environment of a question, and what to look for there: but for what is accepted and leads no further.

    An accepted step into a waiting state counts all the same, since more may follow from there by itself.
    """
    assert case.question.wider is not None
    environment, test = case.question.wider
    accepted = {name for entry in case.accepted for name in entry.covers}
    waiting = {state.name for state in device.states if state.waiting}

    def narrowed(model: Model, before: Situation, move: Move) -> bool:
        is_accepted = model.value(before, "state") in accepted and model.value(move.situation, "state") not in waiting
        return not is_accepted and test(model, before, move)

    return environment, narrowed if accepted else test


def _within(test: Test, states: frozenset[str], inside: bool) -> Test:
    """Only those steps of `test` that begin in one of `states` (or, not `inside`, in none of them)."""

    def narrowed(model: Model, before: Situation, move: Move) -> bool:
        return (model.value(before, "state") in states) == inside and test(model, before, move)

    return narrowed
