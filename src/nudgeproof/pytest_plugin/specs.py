"""A spec as a file of tests: an item for each question, named by its hazard and its subject."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Self

import pytest

from nudgeproof.cli.files import read_spec_bytes, understand_spec
from nudgeproof.diagnostics import Place
from nudgeproof.piecemeal import Asked as OneAsked
from nudgeproof.piecemeal import Inquiry, tell_not_asked
from nudgeproof.pytest_plugin.nodes import Asked, Failed, apart, is_plain, mark, node_name, reading, shown_name
from nudgeproof.report.screen import show_finding
from nudgeproof.verdict import Verdict


class SpecFile(pytest.File):
    """A spec; its questions share what is explored."""

    root: Path
    effort: str
    require: tuple[str, ...]
    inquiry: Inquiry

    @classmethod
    def of(cls, parent: pytest.Collector, path: Path, root: Path, effort: str, require: Sequence[str]) -> Self:
        """The collector of a spec; hazards that `require` names must be asked."""
        made = cls.from_parent(parent, path=path)
        made.root, made.effort, made.require = root, effort, tuple(require)
        return made

    def collect(self) -> Iterable[pytest.Collector]:
        """A collector for each hazard of which something is asked, or must be."""
        name = shown_name(self.path, self.root)
        self.inquiry = reading(
            self, lambda: Inquiry(understand_spec(read_spec_bytes(str(self.path)), name), self.effort)
        )
        asked: dict[str, list[OneAsked]] = {}
        for question in self.inquiry.asked:
            asked.setdefault(question.hazard, []).append(question)
        if not asked:
            raise self.CollectError(f"{name}: nothing is asked of it, so nothing is tested")
        for hazard, questions in asked.items():
            yield Hazard.of(self, hazard, questions)
        for hazard in self.require:
            if hazard not in asked:
                yield Hazard.of(self, hazard, ())


class Hazard(pytest.Collector):
    """All that is asked of one hazard."""

    parent: SpecFile
    questions: tuple[OneAsked, ...]

    @classmethod
    def of(cls, parent: SpecFile, hazard: str, questions: Sequence[OneAsked]) -> Self:
        """The collector of a hazard."""
        made = cls.from_parent(parent, name=hazard)
        made.questions = tuple(questions)
        return made

    def collect(self) -> Iterable[pytest.Item]:
        """An item for each question; for a hazard that must be asked and isn't, one that says so."""
        if not self.questions:
            yield Missing.of(self)
        names = apart(node_name(question.subject) for question in self.questions)
        for name, question in zip(names, self.questions, strict=True):
            yield Question.of(self, name, question)


class Question(Asked):
    """One question."""

    parent: Hazard
    question: OneAsked

    @classmethod
    def of(cls, parent: Hazard, name: str, question: OneAsked) -> Self:
        """The item of a question."""
        made = cls.from_parent(parent, name=name)
        made.question, made.at = question, question.at
        mark(made, parent.name)
        return made

    def judge(self) -> None:
        """Fails unless it holds."""
        inquiry = self.parent.parent.inquiry
        finding = inquiry.answer(self.question)
        self.user_properties.append(("verdict", finding.verdict.word))
        text = show_finding(inquiry.report([finding]), finding, is_plain())
        if finding.verdict is Verdict.BROKEN:
            raise Failed(finding.sentence, text)
        if finding.verdict is not Verdict.HOLDS:
            self.leave_open(f"{finding.verdict.word}: {finding.reason}", text)


class Missing(Asked):
    """A hazard that must be asked and isn't."""

    parent: Hazard

    @classmethod
    def of(cls, parent: Hazard) -> Self:
        """The item of a hazard."""
        made = cls.from_parent(parent, name="required")
        made.at = Place(parent.parent.inquiry.device.file)
        mark(made, parent.name)
        return made

    def judge(self) -> None:
        """Fails, like `check --require`: the section of the spec that it needs may have got lost."""
        why = tell_not_asked(self.parent.parent.inquiry.not_asked, self.parent.name)
        self.leave_open(f"not asked: {why}", f"{self.at}: {self.parent.name} is required and isn't asked: {why}")
