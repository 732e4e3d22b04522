"""The effort bounds all that a check does, not only the explorer."""

from __future__ import annotations

from collections.abc import Sequence

import pytest

from nudgeproof import answers, check
from nudgeproof.engines.fuzz import FuzzResult, fuzz
from nudgeproof.model.step import Test
from nudgeproof.model.tables import Model
from nudgeproof.spec.read import read_device
from nudgeproof.verdict import Verdict
from tests.snapshots.screens import ROOT

SPEC = (ROOT / "specs/rain-cover-light.yaml").read_text(encoding="utf-8")


def test_random_runs_share_their_steps(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[int] = []

    def count(model: Model, tests: Sequence[Test], steps: int, seed: int) -> FuzzResult:
        asked.append(steps)
        return fuzz(model, tests, 1, seed)

    monkeypatch.setattr(answers, "fuzz", count)
    monkeypatch.setitem(check.BUDGETS, "quick", 100)
    report = check.check(read_device(SPEC, "x.yaml"), "quick")
    assert sum(finding.verdict is Verdict.UNDECIDED for finding in report.findings) > 10
    assert len(asked) > 5
    assert asked[0] == answers.RANDOM_STEPS
    assert set(asked[1:]) == {answers.LEAST_RANDOM_STEPS}
