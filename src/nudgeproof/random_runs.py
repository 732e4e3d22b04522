"""Random presses, chatter and interruptions on top of the proofs: the same questions, asked without the explorer.

What is found is a failure, replayed step by step. What isn't found proves nothing, and the share of reachable situations
that were met says how little. Of a device with times of which each specimen has one value, the one in the middle is run.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from nudgeproof.answers import Case, match
from nudgeproof.boxes import at_point, middle
from nudgeproof.check import BUDGETS, ask
from nudgeproof.engines.corpus import Entry, recalled
from nudgeproof.engines.fuzz import NOT_PROMISED, FuzzResult, fuzz, share
from nudgeproof.parts.compile import Environment, compile_model
from nudgeproof.questions.ask import Derived, Question
from nudgeproof.rhythm import steady_story
from nudgeproof.spec.fixed import fixed_times
from nudgeproof.spec.types import Device
from nudgeproof.verdict import Finding, Verdict
from nudgeproof.weigh import describe

__all__ = ["NOT_PROMISED", "Round", "run_all"]


@dataclass(frozen=True, slots=True)
class Round:
    """Random runs in one environment. `met`: the share of reachable situations, in words."""

    environment: str
    asked: int
    runs: int
    steps: int
    met: str
    findings: tuple[Finding, ...]
    entries: tuple[Entry, ...]


def run_all(device: Device, steps: int, seed: int, corpus: Sequence[Entry]) -> tuple[Round, ...]:
    """About `steps` random steps in each environment in which something unwanted is asked about; corpus entries first."""
    cases: dict[int, Case] = {}
    if fixed_times(device):
        device = at_point(device, middle(device))
    for entry in ask(device)[0]:
        for question in entry.questions if isinstance(entry, Derived) else (entry,):
            if question.unwanted:
                cases[id(question)] = match(device, question)
    environments = dict.fromkeys(case.question.environment for case in cases.values())
    return tuple(
        _run(
            device,
            environment,
            [c for c in cases.values() if c.question.environment == environment],
            steps,
            seed,
            corpus,
        )
        for environment in environments
    )


def _run(
    device: Device, environment: Environment, cases: Sequence[Case], steps: int, seed: int, corpus: Sequence[Entry]
) -> Round:
    model = compile_model(device, environment)
    unique = _unique(cases)
    told = str(environment)
    known = [runs for case in unique for runs in recalled(corpus, case.question.hazard, case.question.subject, told)]
    result: FuzzResult = fuzz(model, [case.looked_for for case in unique], steps, seed, known)
    findings, entries = [], []
    for case, failure in zip(unique, result.failures, strict=True):
        story = None if failure is None else steady_story(device, model, failure.path, failure.times_us)
        if failure is None or story is None:
            continue
        question: Question = case.question
        found = describe(device, model, question, case.looked_for, Verdict.BROKEN, story)
        findings.append(replace(found, shortest=False))
        entries.append(Entry(question.hazard, question.subject, told, failure.decisions))
    met = share(model, result.situations, BUDGETS["quick"])
    return Round(told, len(unique), result.runs, result.steps, str(met), tuple(findings), tuple(entries))


def _unique(cases: Sequence[Case]) -> list[Case]:
    """Each question once: a derived hazard asks the same ones again."""
    return list({(case.question.hazard, case.question.subject): case for case in cases}.values())
