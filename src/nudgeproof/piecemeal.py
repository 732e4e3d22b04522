"""Questions answered one by one, as a test runner asks them: an environment is explored when one of its questions is wanted.

Questions that share an environment, or from which one answer follows, hang together and are answered at once, with an effort
of their own. So an answer hangs neither on which others were wanted nor on their order. It is the one of `check`, unless the
effort of that is used up: then less may be undecided here, since there all questions share it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from nudgeproof.answers import Case, match, wider_of
from nudgeproof.check import BUDGETS, ask, check_accepted, shared_lines
from nudgeproof.diagnostics import Place
from nudgeproof.engines.matrix import Timings
from nudgeproof.parts.compile import Environment
from nudgeproof.questions.ask import Derived, NotAsked, Question
from nudgeproof.spec.types import Device
from nudgeproof.specimens import open_answers
from nudgeproof.verdict import Finding, Report


@dataclass(frozen=True, slots=True)
class Asked:
    """One question of a spec by its names. `entry`, `part`: which of the answers of an `Inquiry` is its own."""

    hazard: str
    subject: str
    at: Place
    entry: int
    part: int


class Inquiry:
    """All questions that apply to a device, none of them answered yet; raises `SpecErrors` as `check` does."""

    def __init__(self, device: Device, effort: str = "usual") -> None:
        check_accepted(device)
        self.device, self.budget = device, BUDGETS[effort]
        self._order, self.not_asked = ask(device)
        self.asked: tuple[Asked, ...] = tuple(
            Asked(name.hazard, name.subject, name.at, number, part)
            for number, entry in enumerate(self._order)
            for part, name in enumerate(_names(entry))
        )
        self._cases = [[match(device, question) for question in _questions(entry)] for entry in self._order]
        self._together = _join(device, self._cases)
        self._found: dict[int, tuple[Finding, ...]] = {}
        self._timings = Timings()

    def answer(self, asked: Asked) -> Finding:
        """The answer to one question; the first time also to all that hang together with it."""
        if asked.entry not in self._found:
            leader = self._together[asked.entry]
            members = [number for number, other in enumerate(self._together) if other == leader]
            answers = open_answers(self.device, self.budget, None, False, self._timings)
            answers.find([case for number in members for case in self._cases[number]])
            for number in members:
                self._found[number] = tuple(answers.collect(self._order[number]))
        return self._found[asked.entry][asked.part]

    def report(self, findings: Iterable[Finding]) -> Report:
        """What `check` would report of these alone: what it takes besides, and what is assumed, isn't told."""
        device = self.device
        return Report(
            file=device.file,
            device=device.name,
            buttons=tuple(button.name for button in device.buttons),
            findings=tuple(findings),
            not_asked=self.not_asked,
            accepted=(),
            takes=(),
            assumptions=(),
            lines=device.lines,
            shared=shared_lines(device),
            at_most=self.budget == max(BUDGETS.values()),
        )

    @property
    def names(self) -> frozenset[str]:
        """The hazards of which something is asked."""
        return frozenset(asked.hazard for asked in self.asked)


def tell_not_asked(not_asked: Sequence[NotAsked], hazard: str) -> str:
    """Why nothing is asked of a hazard."""
    return next((skipped.reason for skipped in not_asked if skipped.hazard == hazard), "the spec asks nothing of it")


@dataclass(frozen=True, slots=True)
class _Name:
    hazard: str
    subject: str
    at: Place


def _names(entry: Question | Derived) -> tuple[_Name, ...]:
    """What an entry's answers are called, before they are known: whatever the answers, the same things are concluded on."""
    if isinstance(entry, Question):
        return (_Name(entry.hazard, entry.subject, entry.at),)
    if entry.conclude is None:
        first = entry.questions[0]
        return (_Name(first.hazard, first.subject, first.at),)
    open_ones = entry.conclude((None,) * len(entry.questions))
    return tuple(_Name(one.hazard, one.subject, one.at) for one in open_ones)


def _questions(entry: Question | Derived) -> tuple[Question, ...]:
    return entry.questions if isinstance(entry, Derived) else (entry,)


def _join(device: Device, cases: Sequence[Sequence[Case]]) -> list[int]:
    """For each entry the first one that it hangs together with."""
    leader = list(range(len(cases)))

    def head(number: int) -> int:
        while leader[number] != number:
            number = leader[number]
        return number

    homes: dict[Environment, int] = {}
    for number, own in enumerate(cases):
        for case in own:
            explored = [case.question.environment]
            explored += [wider_of(device, case)[0]] if case.question.wider is not None else []
            for environment in explored:
                one, other = sorted((head(homes.setdefault(environment, number)), head(number)))
                leader[other] = one
    return [head(number) for number in range(len(cases))]
