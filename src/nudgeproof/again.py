"""The questions of a changed spec asked again, and only their verdicts kept."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from nudgeproof.answers import Progress, match
from nudgeproof.check import ask
from nudgeproof.diagnostics import SpecErrors
from nudgeproof.engines.matrix import Timings
from nudgeproof.questions.ask import Derived, Question
from nudgeproof.spec.edit import Edit, Places, apply
from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import Device
from nudgeproof.specimens import open_answers
from nudgeproof.verdict import Finding, Verdict

Key = tuple[str, str]
"""What tells a question from all others of a spec: its hazard and its subject."""


def key_of(finding: Finding) -> Key:
    """The question that a finding answers."""
    return finding.hazard, finding.subject


def change(device: Device, edits: Sequence[Edit]) -> Device | None:
    """The device of the spec's text with these edits; None if that is no sound spec."""
    try:
        return read_device(apply(Places(device.lines).text, edits), device.file)
    except SpecErrors:
        return None


@dataclass(frozen=True, slots=True)
class Again:
    """What was asked again. `asked`: every question of the spec; `findings`: for those that were answered."""

    asked: frozenset[Key]
    findings: dict[Key, Finding]
    classes: int

    def verdict(self, key: Key) -> Verdict | None:
        """The verdict, None if the question isn't asked of this spec or wasn't answered."""
        finding = self.findings.get(key)
        return None if finding is None else finding.verdict


def ask_again(
    device: Device,
    budget: int,
    progress: Progress | None = None,
    first: Key | None = None,
    go_on: Callable[[Finding], bool] = lambda finding: True,
    hazards: frozenset[str] | None = None,
    wanted: Callable[[Question], bool] = lambda question: True,
) -> Again | None:
    """Ask the questions that are `wanted`; `first` before the others, which follow only if `go_on` says so of its finding.

    `hazards`: only findings of these; None for all of them. `budget` in classes, as for `check`. The answer is None if a
    promise of the spec can't be read any more.
    """
    try:
        entries = ask(device)[0]
    except SpecErrors:
        return None
    answers = open_answers(device, budget, progress, certify_too=False, timings=Timings(), briefly=True)
    names = {key: entry for entry in entries for key in _keys(entry)}
    findings: dict[Key, Finding] = {}
    chosen = [
        entry
        for entry in entries
        if (hazards is None or any(hazard in hazards for hazard, _ in _keys(entry)))
        and (not _questions(entry) or any(wanted(question) for question in _questions(entry)))
    ]
    ahead = [names[first]] if first in names else []
    for batch in (ahead, [entry for entry in chosen if entry not in ahead]):
        answers.find([match(device, question) for entry in batch for question in _questions(entry)])
        found = [finding for entry in batch for finding in answers.collect(entry)]
        findings |= {key_of(finding): finding for finding in found}
        if batch is ahead and first in findings and not go_on(findings[first]):
            break
    return Again(frozenset(names), findings, budget - answers.left)


def _questions(entry: Question | Derived) -> tuple[Question, ...]:
    return entry.questions if isinstance(entry, Derived) else (entry,)


def _keys(entry: Question | Derived) -> Iterable[Key]:
    if isinstance(entry, Question):
        return [(entry.hazard, entry.subject)]
    if entry.conclude is None:
        return [(question.hazard, question.subject) for question in entry.questions[:1]]
    nothing_known = (None,) * len(entry.questions)
    return [(conclusion.hazard, conclusion.subject) for conclusion in entry.conclude(nothing_known)]
