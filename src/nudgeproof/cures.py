"""Cures that were tried: changes of the spec after which a failure is gone and all that held still holds.

A change is offered only if it was made in the text, the text was read anew, every question was asked of it, the broken one
now holds, and so does every other that held before, those about the person's gestures included. Whatever the effort couldn't
decide is not offered. Beside them the most tempting change that doesn't do is shown, with what happens then.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import Enum

from nudgeproof.again import Again, Key, ask_again, change, key_of
from nudgeproof.answers import Progress
from nudgeproof.hazards import missed_gesture
from nudgeproof.remedies import Remedy, may_change, propose
from nudgeproof.spec.edit import Edit
from nudgeproof.spec.types import Device
from nudgeproof.verdict import Cure, Cures, Finding, Report, Verdict, WrongCure

MOST_OFFERED = 2
CHECKS = 4
"""How many times the effort of one check all cures of a spec may take together."""

MOST_TRIED = 150
"""Changes tried for one failure."""


class _Outcome(Enum):
    CURES, BREAKS, STILL, LESS, UNDECIDED, UNFIT = range(6)


@dataclass(frozen=True, slots=True)
class _Trial:
    """What came of one remedy; `told`: what goes wrong with it, `questions`: how many were asked."""

    remedy: Remedy
    outcome: _Outcome
    told: str = ""
    questions: int = 0


def find_all(device: Device, report: Report, budget: int, each: int, progress: Progress | None = None) -> Report:
    """The report with the cures of each broken finding.

    `budget`: classes to keep in all, shared by the failures; `each`: in one trial at most. What was found out about a change
    for one failure is used for the others.
    """
    broken = [finding for finding in report.findings if finding.verdict is Verdict.BROKEN]
    if not broken:
        return report
    # A report on some hazards only doesn't say what else held.
    everything = ask_again(device, each, progress)
    before = {} if everything is None else {key: found.verdict for key, found in everything.findings.items()}
    before |= {key_of(finding): finding.verdict for finding in report.findings}
    trials = _Trials(device, before, budget, each, progress)
    found = {}
    for left, finding in zip(range(len(broken), 0, -1), broken, strict=True):
        trials.stop_at = trials.left - trials.left // left
        found[key_of(finding)] = _find(trials, finding)
    return replace(report, findings=tuple(replace(f, cures=found.get(key_of(f), f.cures)) for f in report.findings))


def _find(trials: _Trials, finding: Finding) -> Cures:
    """The cures of one failure."""
    done: list[_Trial] = []
    untried = 0
    remedies = propose(trials.device, finding)
    # What cured another failure costs nothing to judge, and a change that cures several is the better one.
    remedies = tuple(sorted(remedies, key=lambda remedy: not trials.is_known(remedy)))
    for number, remedy in enumerate(remedies, start=1):
        if _enough(done):
            break
        if _goes_further(remedy, done):
            continue
        if trials.left <= trials.stop_at or len(done) == MOST_TRIED:
            untried += 1
            continue
        done.append(trials.judge(finding, remedy, f"change {number} of at most {len(remedies)}"))
    tried = [trial for trial in done if trial.outcome is not _Outcome.UNFIT]
    curing = sorted((t for t in tried if t.outcome is _Outcome.CURES), key=lambda trial: trial.remedy.size)
    cures = [Cure(trial.remedy.edits, trial.questions) for trial in curing]
    return Cures(
        found=tuple(cures[:MOST_OFFERED]),
        wrong=_most_tempting(tried),
        tried=len(tried),
        undecided=sum(trial.outcome is _Outcome.UNDECIDED for trial in tried),
        untried=untried,
    )


class _Trials:
    """The changes tried so far, and what of the budget is left; the search for one failure ends at `stop_at`."""

    def __init__(
        self, device: Device, before: dict[Key, Verdict], budget: int, each: int, progress: Progress | None
    ) -> None:
        self.device, self.before, self.left, self.each, self.progress = device, before, budget, each, progress
        self.stop_at = 0
        self._known: dict[tuple[Edit, ...], Again | None] = {}

    def is_known(self, remedy: Remedy) -> bool:
        """Whether everything was asked of this change already."""
        again = self._known.get(remedy.edits)
        return again is not None and len(again.findings) == len(again.asked)

    def judge(self, finding: Finding, remedy: Remedy, which: str) -> _Trial:
        """What comes of a remedy for this failure."""
        key = key_of(finding)
        again = self._known.get(remedy.edits)
        if remedy.edits not in self._known or (again is not None and not _is_enough(again, key)):
            again = self._ask(remedy, key, which)
            self._known[remedy.edits] = again
        if again is None or key not in again.asked:
            return _Trial(remedy, _Outcome.UNFIT)
        return _judge(self.device, remedy, key, self.before, again)

    def _ask(self, remedy: Remedy, key: Key, which: str) -> Again | None:
        changed = change(self.device, remedy.edits)
        if changed is None:
            return None
        progress = self.progress
        told = None if progress is None else (lambda where, classes: progress(f"{which}, {where}", classes))
        again = ask_again(changed, min(self.each, self.left), told, key, lambda answer: answer.verdict is Verdict.HOLDS)
        self.left -= 1 if again is None else max(1, again.classes)
        return again


def _is_enough(again: Again, key: Key) -> bool:
    """Whether what was answered already judges a change: everything, or that this failure isn't gone."""
    verdict = again.verdict(key)
    return len(again.findings) == len(again.asked) or (verdict is not None and verdict is not Verdict.HOLDS)


def _goes_further(remedy: Remedy, trials: list[_Trial]) -> bool:
    """Whether it changes all that a smaller change that cures does, so that it would only say the same again."""
    places = {edit.path for edit in remedy.edits}
    return any(t.outcome is _Outcome.CURES and {edit.path for edit in t.remedy.edits} <= places for t in trials)


def _enough(trials: list[_Trial]) -> bool:
    cures = sum(trial.outcome is _Outcome.CURES for trial in trials)
    return cures >= MOST_OFFERED and any(_looks_right(trial) for trial in trials)


def _looks_right(trial: _Trial) -> bool:
    """Whether it is a change that one would try first, though it doesn't do."""
    return trial.outcome is _Outcome.BREAKS or (trial.outcome is _Outcome.STILL and trial.remedy.near)


def _judge(device: Device, remedy: Remedy, key: Key, before: dict[Key, Verdict], again: Again) -> _Trial:
    cured = again.findings[key]
    if cured.verdict is not Verdict.HOLDS:
        outcome = _Outcome.STILL if cured.verdict is Verdict.BROKEN else _Outcome.UNDECIDED
        return _Trial(remedy, outcome, cured.sentence)
    if remedy.lessens:
        return _Trial(remedy, _Outcome.LESS, "the failure is as before, only less is promised")
    gone = {old for old, verdict in before.items() if verdict is Verdict.HOLDS and old not in again.asked}
    if {subject for _, subject in gone} - _replaced(device, remedy):
        return _Trial(remedy, _Outcome.UNFIT)
    others = [finding for other, finding in again.findings.items() if before.get(other, Verdict.HOLDS) is Verdict.HOLDS]
    worse = [finding for finding in others if finding.verdict is not Verdict.HOLDS]
    told = sorted(worse, key=lambda finding: finding.story is None)
    broken = next((finding for finding in told if finding.verdict is Verdict.BROKEN), None)
    if broken is not None:
        return _Trial(remedy, _Outcome.BREAKS, broken.sentence)
    if worse or not all(may_change(edit.path) for edit in remedy.edits):
        return _Trial(remedy, _Outcome.UNDECIDED)
    return _Trial(remedy, _Outcome.CURES, questions=len(again.findings))


def _replaced(device: Device, remedy: Remedy) -> set[str]:
    """The subjects about doing a gesture where another one does its work then: those needn't be asked of any more."""
    names = [gesture.name for gesture in device.gestures]
    gone = {
        f"{pair[0]} and {pair[1]} in {state}"
        for state, gesture in remedy.replaced
        for other in names
        for pair in ((gesture, other), (other, gesture))
    }
    for act in missed_gesture.acts(device):
        states = [act.state]
        for name in act.gestures:
            if any((state, name) in remedy.replaced for state in states):
                gone.add(str(act))
            states = [after for state in states for after in device.state(state).after(name)]
    return gone


def _most_tempting(trials: list[_Trial]) -> WrongCure | None:
    """What looks most like a cure and is none.

    First the smallest change that cures the failure and breaks something else; then the biggest change of the very thing the
    failure comes from that doesn't do; then promising less.
    """
    breaking = [trial for trial in trials if trial.outcome is _Outcome.BREAKS]
    still = [trial for trial in trials if trial.outcome is _Outcome.STILL and trial.remedy.near]
    still.sort(key=lambda trial: (trial.remedy.edits[0].path[0] == "buttons", -trial.remedy.size))
    less = [trial for trial in trials if trial.outcome is _Outcome.LESS]
    return next((WrongCure(trial.remedy.edits, trial.told) for trial in (*breaking, *still, *less)), None)
