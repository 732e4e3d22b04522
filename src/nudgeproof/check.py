"""The one place where hazards meet engines: ask everything that applies, and weigh the answers."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Sequence

from nudgeproof import closest, needs
from nudgeproof.answers import Answers, Case, Progress, Proof, match, wider_of
from nudgeproof.boxes import tell_all
from nudgeproof.diagnostics import Problem, SpecErrors, printable
from nudgeproof.engines.audit import Audit, audit
from nudgeproof.engines.encoding import Claim
from nudgeproof.engines.matrix import Timings
from nudgeproof.hazards import HAZARDS
from nudgeproof.parts.compile import compile_model
from nudgeproof.questions.ask import Derived, NotAsked, Question
from nudgeproof.questions.grammar import read_promises
from nudgeproof.questions.promises import HAZARD as PROMISE
from nudgeproof.questions.promises import questions as promise_questions
from nudgeproof.reckoned import brief
from nudgeproof.spec.notes import quote_line
from nudgeproof.spec.types import Device
from nudgeproof.specimens import Specimens, open_answers
from nudgeproof.verdict import AcceptedCase, ClosestCall, Report, Verdict
from nudgeproof.weigh import tell_harm

BUDGETS = {"quick": 20_000, "usual": 200_000, "deep": 5_000_000}
"""Classes kept in one check, by effort."""

NAMES = (*(hazard.NAME for hazard in HAZARDS), PROMISE)
"""All names that `only` may hold."""


class UnknownName(ValueError):
    """A name given to `only` is no hazard; the message says which are."""


def check(
    device: Device,
    effort: str = "usual",
    only: Sequence[str] = (),
    progress: Progress | None = None,
    proofs: list[Proof] | None = None,
    closest_too: bool = False,
) -> Report:
    """Ask every question that applies to `device`.

    `only` limits the hazards by name. `progress` is called with the environment in words and the number of classes so
    far. A list given as `proofs` gets a certificate for each unwanted step that can't happen. Raises `SpecErrors` for
    promises that can't be read and `UnknownName`. `closest_too`: also tell how close what holds is to failing, with as
    large an effort again.
    """
    for name in only:
        check_name(name, "--only")
    check_accepted(device)
    order, not_asked = ask(device, only)
    asked = [question for entry in order for question in (entry.questions if isinstance(entry, Derived) else (entry,))]
    timings = Timings()
    answers = open_answers(device, BUDGETS[effort], progress, proofs is not None, timings)
    cases = [match(device, question) for question in asked]
    answers.find(cases)
    if proofs is not None:
        proofs += answers.proofs
    return Report(
        file=device.file,
        device=device.name,
        buttons=tuple(button.name for button in device.buttons),
        findings=tuple(finding for entry in order for finding in answers.collect(entry)),
        not_asked=(*not_asked, *_not_told(answers, proofs is not None, closest_too)),
        takes=tuple(needs.list_all(device, asked, timings)),
        accepted=tuple(
            AcceptedCase(entry, answers.needed[entry], "; ".join(tell_harm(device, entry.within)))
            for entry in device.accepts
            if entry in answers.needed
        ),
        assumptions=tuple(_assumptions(device)),
        lines=device.lines,
        closest=_closest(device, cases, answers, BUDGETS[effort], progress)
        if closest_too and isinstance(answers, Answers)
        else None,
        shared=shared_lines(device),
        at_most=BUDGETS[effort] == max(BUDGETS.values()),
        supply=() if only else brief(device),
    )


def _not_told(answers: Answers | Specimens, certify_too: bool, closest_too: bool) -> Iterable[NotAsked]:
    """What was asked for and isn't told of a device with times of which each specimen has one value."""
    if isinstance(answers, Answers):
        return
    if closest_too:
        yield NotAsked("closest calls", "not told where a specimen has one value of a time (`one clock`, `per unit`)")
    if certify_too and answers.uncertified:
        names = "; ".join(f"{question.hazard}: {question.subject}" for question in answers.uncertified)
        reason = f"none is written for what holds only since each specimen has one value of a time: {names}"
        yield NotAsked("certificates", reason)


def shared_lines(device: Device) -> tuple[tuple[int, str], ...]:
    """The lines that the states of a group share; not one that also names the group, since it says so itself."""
    named = {group.name: group.at.line for group in device.groups}
    lines = {(t.at.line, t.group) for state in device.states for t in state.transitions}
    lines |= {(t.at.line, t.group) for state in device.states for t in state.timeouts}
    return tuple(sorted((number, group) for number, group in lines if group and number != named[group]))


def _closest(
    device: Device, cases: Sequence[Case], answers: Answers, budget: int, progress: Progress | None
) -> tuple[ClosestCall, ...]:
    """How close each unwanted step that can't happen is, where a source of surroundings acts."""
    names = {what.name for what in device.surroundings}
    held = {}
    for case in cases:
        question = case.question
        holds = question.unwanted and answers.findings[id(question)].verdict is Verdict.HOLDS
        if holds and names & set(question.environment.sources):
            wider = wider_of(device, case) if question.wider is not None else None
            held[question.hazard, question.subject] = closest.Held(question, case.looked_for, wider)
    return closest.list_all(device, tuple(held.values()), budget, progress)


def check_name(name: str, option: str) -> None:
    """Raises `UnknownName` if `option` names no hazard with `name`."""
    if name not in NAMES:
        raise UnknownName(f"{option}: there is no hazard `{printable(name)}`; {_nearest(name)}")


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
        order += promise_questions(device, promises)
        if not promises:
            not_asked.append(NotAsked(PROMISE, "no promises are stated"))
    return tuple(order), tuple(not_asked)


def _nearest(name: str) -> str:
    near = difflib.get_close_matches(name, NAMES, 1)
    return f"did you mean `{near[0]}`?" if near else "known are " + ", ".join(NAMES)


def check_accepted(device: Device) -> None:
    """Raises `SpecErrors` for entries that name no hazard about a source: they would accept nothing, silently."""
    problems = []
    for entry in device.accepts:
        source = quote_line(device.lines, entry.at)
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
    quiet = device.memory.quiet if device.memory is not None else None
    if quiet is not None and any(
        state.sleep is not None and state.sleep.doze.lo <= quiet.hi for state in device.states
    ):
        yield (
            "memory: a save that waits for quiet also comes on time while the device sleeps; where the clock stands still"
            " then, it never would"
        )
    yield from tell_all(device)
    if device.person is None:
        yield "person: none stated, so where a person presses, any press of any length was tried"


def audit_proof(device: Device, hazard: str, subject: str, text: str | bytes) -> Audit:
    """Check a certificate again: does it prove what it says, of this spec? Neither explorer nor its matrices take part."""
    answer = Audit(False, "the spec asks no such question", 0)
    for entry in ask(device)[0]:
        for question in entry.questions if isinstance(entry, Derived) else (entry,):
            if (question.hazard, question.subject) == (hazard, subject) and question.unwanted:
                case = match(device, question)
                tried = [wider_of(device, case)] if question.wider is not None else []
                for environment, test in (*tried, (question.environment, case.looked_for)):
                    claim = Claim(device.digest, hazard, subject, environment)
                    answer = audit(compile_model(device, environment), test, text, claim)
                    if answer.ok:
                        return answer
    return answer
