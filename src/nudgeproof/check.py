"""The one place where hazards meet engines: ask everything that applies, and weigh the answers."""

from __future__ import annotations

import difflib
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

from nudgeproof import needs
from nudgeproof.diagnostics import Problem, SpecErrors
from nudgeproof.engines.explore import explore
from nudgeproof.hazards import HAZARDS
from nudgeproof.model.step import Move, Test
from nudgeproof.model.tables import Model, Situation
from nudgeproof.parts.compile import Environment, compile_model
from nudgeproof.questions.ask import Derived, NotAsked, Question
from nudgeproof.questions.grammar import read_promises
from nudgeproof.questions.promises import HAZARD as PROMISE
from nudgeproof.questions.promises import questions as promise_questions
from nudgeproof.spec.types import Accepted, Device
from nudgeproof.verdict import AcceptedCase, Finding, Report
from nudgeproof.weigh import collect, weigh

BUDGETS = {"quick": 20_000, "usual": 200_000, "deep": 5_000_000}
"""Classes kept for each exploration, by effort."""

NAMES = (*(hazard.NAME for hazard in HAZARDS), PROMISE)
"""All names that `only` may hold."""

Progress = Callable[[str, int], None]


class UnknownName(ValueError):
    """A name given to `only` is no hazard; the message says which are."""


def check(device: Device, effort: str = "usual", only: Sequence[str] = (), progress: Progress | None = None) -> Report:
    """Ask every question that applies to `device`.

    `only` limits the hazards by name. `progress` is called with the environment in words and the number of classes so
    far. Raises `SpecErrors` for promises that can't be read and `UnknownName`.
    """
    for name in only:
        if name not in NAMES:
            raise UnknownName(f"there is no hazard `{name}`; {_nearest(name)}")
    _check_accepted(device)
    order, not_asked = ask(device, only)
    asked = [question for entry in order for question in (entry.questions if isinstance(entry, Derived) else (entry,))]
    cases = [_Case(question, _entries(device, question)) for question in asked]
    answers: dict[int, Finding] = {}
    needed: dict[Accepted, bool | None] = {}
    for environment in dict.fromkeys(question.environment for question in asked):
        together = [case for case in cases if case.question.environment == environment]
        _answer(device, environment, together, BUDGETS[effort], progress, answers, needed)
    return Report(
        file=device.file,
        device=device.name,
        buttons=tuple(button.name for button in device.buttons),
        findings=tuple(finding for entry in order for finding in collect(entry, answers)),
        not_asked=not_asked,
        takes=tuple(needs.list_all(device, asked)),
        accepted=tuple(AcceptedCase(entry, needed[entry]) for entry in device.accepts if entry in needed),
        assumptions=tuple(_assumptions(device)),
        lines=device.lines,
    )


def ask(device: Device, only: Sequence[str] = ()) -> tuple[tuple[Question | Derived, ...], tuple[NotAsked, ...]]:
    """All questions that apply, in the order of the hazards, and what doesn't apply and why; raises `SpecErrors`."""
    order: list[Question | Derived] = []
    not_asked: list[NotAsked] = []
    promises = read_promises(device)
    for hazard in HAZARDS:
        if only and hazard.NAME not in only:
            continue
        answer = hazard.ask(device)
        if isinstance(answer, NotAsked):
            not_asked.append(answer)
        elif isinstance(answer, Derived):
            order.append(answer)
        else:
            order += answer
    if not only or PROMISE in only:
        order += [question for promise in promises for question in promise_questions(device, promise)]
        if not promises:
            not_asked.append(NotAsked(PROMISE, "no promises are stated"))
    return tuple(order), tuple(not_asked)


def _nearest(name: str) -> str:
    near = difflib.get_close_matches(name, NAMES, 1)
    return f"did you mean `{near[0]}`?" if near else "known are " + ", ".join(NAMES)


def _check_accepted(device: Device) -> None:
    """Raises `SpecErrors` for entries that name no hazard about a source: they would accept nothing, silently."""
    problems = []
    for entry in device.accepts:
        source = device.lines[entry.at.line - 1] if 0 < entry.at.line <= len(device.lines) else ""
        why = "an entry that matches no question accepts nothing"
        if entry.hazard not in NAMES:
            problems.append(
                Problem(entry.at, f"there is no hazard `{entry.hazard}`", why, _nearest(entry.hazard), source)
            )
        elif entry.hazard in (PROMISE, "unreachable-mode"):
            cure = "take the entry out, or weaken the promise" if entry.hazard == PROMISE else "take the entry out"
            problems.append(Problem(entry.at, f"`{entry.hazard}` can't be accepted", why, cure, source))
    if problems:
        raise SpecErrors(problems)


def _assumptions(device: Device) -> Iterable[str]:
    yield from (assumption.text for assumption in device.assumptions)
    if device.person is None:
        yield "person: none stated, so where a person presses, any press of any length was tried"


@dataclass(frozen=True, slots=True)
class _Case:
    """A question with the entries of `accepts` that match it."""

    question: Question
    accepted: tuple[Accepted, ...]


def _entries(device: Device, question: Question) -> tuple[Accepted, ...]:
    return tuple(entry for entry in device.accepts if entry.hazard == question.hazard and question.by in entry.by)


def _worded(case: _Case) -> Question:
    """The question, its good answer limited to what isn't accepted."""
    if not case.accepted:
        return case.question
    apart = ", apart from what is accepted"
    return replace(case.question, held=case.question.held + apart, all_held=case.question.all_held + apart)


def _within(test: Test, states: frozenset[str], inside: bool) -> Test:
    """Only those steps of `test` that begin in one of `states` (or, not `inside`, in none of them)."""

    def narrowed(model: Model, before: Situation, move: Move) -> bool:
        return (model.value(before, "state") in states) == inside and test(model, before, move)

    return narrowed


def _answer(
    device: Device,
    environment: Environment,
    cases: Sequence[_Case],
    budget: int,
    progress: Progress | None,
    answers: dict[int, Finding],
    needed: dict[Accepted, bool | None],
) -> None:
    """Explore one environment once for all questions about it; those settled in a wider one need only to come up.

    A step that is accepted isn't bad, but the exploration goes on from it, so what follows is looked at all the same.
    """
    told = None if progress is None else (lambda classes: progress(str(environment), classes))
    model = compile_model(device, environment)
    tests: list[Test] = []
    plans = []
    for case in cases:
        question = case.question
        states = frozenset(entry.within for entry in case.accepted)
        looked_for = _within(question.looked_for, states, inside=False) if states else question.looked_for
        settled = not case.accepted and _is_settled(device, question, budget, told)
        plans.append((question, case, settled, len(tests)))
        tests += [*(() if settled else (looked_for,)), *question.came_up]
        tests += [_within(question.looked_for, frozenset((entry.within,)), inside=True) for entry in case.accepted]
    seen = explore(model, tests, budget, told)
    for question, case, settled, place in plans:
        first = place if settled else place + 1
        came_up = seen.paths[first : first + len(question.came_up)]
        path = None if settled else seen.paths[place]
        answers[id(question)] = weigh(device, model, _worded(case), seen, settled, path, came_up)
        for number, entry in enumerate(case.accepted, start=first + len(question.came_up)):
            met = True if seen.paths[number] is not None else (False if seen.complete else None)
            needed[entry] = met or needed.get(entry, False) if met is not None else needed.get(entry)


def _is_settled(device: Device, question: Question, budget: int, told: Callable[[int], None] | None) -> bool:
    """Whether a wider environment already proves that what is unwanted can't happen."""
    if question.wider is None:
        return False
    seen = explore(compile_model(device, question.wider), (question.looked_for,), budget, told)
    return seen.complete and seen.paths[0] is None and not seen.stuck
