"""What `check` says of random devices, attacked from other sides.

Whatever is said never to happen is hunted with random runs, in the environment of the question itself; where a wider
environment settled it, the question's own one is explored as well. Stories are played again step by step, and those that
are said to happen on every specimen on specimens drawn at random. Certificates are audited.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from random import Random

import pytest

from nudgeproof import where
from nudgeproof.answers import Case, Proof, match
from nudgeproof.check import ask, audit_proof, check
from nudgeproof.engines.concrete import Run
from nudgeproof.engines.explore import explore
from nudgeproof.engines.fuzz import fuzz
from nudgeproof.engines.play import play
from nudgeproof.engines.story import Story
from nudgeproof.model.step import Move
from nudgeproof.model.tables import Model, Situation
from nudgeproof.parts.compile import Environment, compile_model
from nudgeproof.parts.people import LEFT
from nudgeproof.parts.script import OVER
from nudgeproof.questions.ask import Derived
from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import Device
from nudgeproof.verdict import Finding, Verdict
from tests.agreement.randomspecs import sketch

SPECIMENS = 30
LONGEST = 3_000


def attack(seed: int, steps: int, budget: int, audits: int) -> tuple[Counter[str], list[str]]:
    """Check the device of `seed` and attack what is said of it; what was done how often, and every contradiction.

    `steps`: of random runs in each environment. `budget`: classes for the question's own environment. `audits`: at most
    so many certificates.
    """
    device = read_device(sketch(seed).text, f"{seed}.yaml")
    proofs: list[Proof] = []
    report = check(device, "quick", proofs=proofs)
    findings = {(finding.hazard, finding.subject): finding for finding in report.findings}
    cases = {
        (question.hazard, question.subject): match(device, question)
        for entry in ask(device)[0]
        for question in (entry.questions if isinstance(entry, Derived) else (entry,))
    }
    did = Counter(finding.verdict.word for finding in report.findings)
    against = []
    pairs = [(case, findings[key]) for key, case in cases.items() if key in findings]
    for told in (
        _hunt(device, pairs, steps, did),
        _explore_own(device, pairs, budget, did),
        *(_play_again(device, case, finding, did) for case, finding in pairs),
        _audit(device, proofs[:audits], did),
    ):
        against += [f"seed {seed}: {what}" for what in told]
    return did, against


def _ruled_out(case: Case, finding: Finding) -> bool:
    """Whether the answer is that no run has such a step."""
    return finding.verdict is (Verdict.HOLDS if case.question.unwanted else Verdict.BROKEN)


def _hunt(device: Device, pairs: list[tuple[Case, Finding]], steps: int, did: Counter[str]) -> Iterator[str]:
    """Random runs for all steps that are ruled out, environment by environment."""
    for environment in dict.fromkeys(case.question.environment for case, _ in pairs):
        cases = [c for c, found in pairs if c.question.environment == environment and _ruled_out(c, found)]
        if not cases:
            continue
        did["hunted"] += len(cases)
        failures = fuzz(compile_model(device, environment), [case.looked_for for case in cases], steps, seed=1).failures
        for case, failure in zip(cases, failures, strict=True):
            if failure is not None:
                says = [t.choice.says for step in failure.path for t in step.move.taken if t.choice.says]
                yield f"{case.question.hazard} {case.question.subject} is ruled out, and random runs met it: {says}"


def _explore_own(device: Device, pairs: list[tuple[Case, Finding]], budget: int, did: Counter[str]) -> Iterator[str]:
    """Explore the question's own environment where a wider one may have settled it."""
    narrow = [c for c, found in pairs if c.question.wider is not None and not c.accepted and _ruled_out(c, found)]
    for environment in dict.fromkeys(case.question.environment for case in narrow):
        cases = [case for case in narrow if case.question.environment == environment]
        seen = explore(compile_model(device, environment), [case.looked_for for case in cases], budget)
        for case, path in zip(cases, seen.paths, strict=True):
            did["compared"] += seen.complete or path is not None
            if path is not None:
                says = [t.choice.says for step in path for t in step.move.taken if t.choice.says]
                yield f"{case.question.hazard} {case.question.subject} is ruled out, and its own environment has it: {says}"


def _play_again(device: Device, case: Case, finding: Finding, did: Counter[str]) -> Iterator[str]:
    """Play a story step by step, and on specimens drawn at random if it is said to happen on every one."""
    story, question = finding.story, case.question
    if story is None:
        return
    did["replayed"] += 1
    model = compile_model(device, question.environment)
    run = Run(model)
    last = None
    for beat in story.beats:
        run.advance(beat.at_us - run.now)
        before = run.situation
        names = [(model.parts[part].name, timer.name) for part, timer in run.timers]
        last = before, run.take(names.index((beat.part, beat.timer)), beat.choice)
    if last is None or not case.looked_for(model, *last):
        yield f"{question.hazard} {question.subject}: the story's last step isn't the one asked about"
    if finding.where == where.EVERY:
        did["played on specimens"] += 1
        spared = _specimens_spared(device, case, model, story)
        if spared:
            yield f"{question.hazard} {question.subject}: said of every specimen, {spared} of {SPECIMENS} are spared"


def _specimens_spared(device: Device, case: Case, model: Model, story: Story) -> int:
    """On how many specimens the story's actions, at their times, do no harm."""
    environment = Environment(
        script=where.script_of(model, story),
        watched=case.question.environment.watched,
        script_left=sum(1 for b in story.beats if b.actions and not model.value(b.before, LEFT))
        if model.publishes(LEFT)
        else -1,
    )
    model = compile_model(device, environment)
    spared = 0
    for number in range(SPECIMENS):
        rng = Random(number)

        def over(before: Situation, move: Move) -> bool:
            return move.taken[0].cause == f"timer {OVER}" or case.looked_for(model, before, move)

        played = play(model, lambda at, what, bits, rng=rng: rng.getrandbits(bits), LONGEST, over, {})  # type: ignore[misc]
        spared += played.stopped and not case.looked_for(model, played.path[-1].situation, played.path[-1].move)
    return spared


def _audit(device: Device, proofs: list[Proof], did: Counter[str]) -> Iterator[str]:
    for proof in proofs:
        did["audited"] += 1
        answer = audit_proof(device, proof.hazard, proof.subject, proof.text)
        if not answer.ok:
            yield f"{proof.hazard} {proof.subject}: the certificate is refused: {answer.reason}"
