"""Questions answered one by one are answered as `check` does, in whatever order, and each environment is explored once."""

from __future__ import annotations

import pytest

from nudgeproof import answers
from nudgeproof.check import check
from nudgeproof.cli.files import read_spec
from nudgeproof.parts.compile import Environment
from nudgeproof.piecemeal import Inquiry
from nudgeproof.spec.types import Device
from tests.snapshots.screens import ROOT

SPECS = (
    "failures/accidental-wake/broken",
    "failures/ambiguous-gesture/broken",
    "failures/boot-loop/broken",
    "failures/classes/drifting-clock/broken",
    "failures/classes/drifting-clock/mended",
    "failures/lost-state/broken",
    "failures/no-way-off/broken",
    "habits/longest-hold-at-release",
    "habits/two-buttons-together",
    "habits/wiped-by-two-buttons",
)


def device_of(spec: str) -> Device:
    return read_spec(str(ROOT / "specs" / f"{spec}.yaml"))


@pytest.mark.parametrize("spec", SPECS)
def test_one_by_one_in_any_order_is_as_all_at_once(spec: str) -> None:
    device = device_of(spec)
    report = check(device)
    inquiry = Inquiry(device)
    assert [(one.hazard, one.subject) for one in inquiry.asked] == [(f.hazard, f.subject) for f in report.findings]
    assert [one.at for one in inquiry.asked] == [finding.place for finding in report.findings]
    for asked, expected in reversed(list(zip(inquiry.asked, report.findings, strict=True))):
        found = inquiry.answer(asked)
        assert (found.verdict, found.sentence, found.bench) == (expected.verdict, expected.sentence, expected.bench)


@pytest.mark.parametrize("spec", ["failures/lost-state/broken", "habits/two-buttons-together"])
def test_no_environment_is_explored_twice(spec: str, monkeypatch: pytest.MonkeyPatch) -> None:
    explored: list[str] = []
    explore = answers.Answers._explore

    def count(self: answers.Answers, environment: Environment, *rest: object) -> object:
        explored.append(str((environment, environment.calm)))
        return explore(self, environment, *rest)  # type: ignore[arg-type]

    monkeypatch.setattr(answers.Answers, "_explore", count)
    device = device_of(spec)
    check(device)
    at_once = sorted(explored)
    explored.clear()
    inquiry = Inquiry(device)
    assert explored == []
    inquiry.answer(inquiry.asked[0])
    assert 0 < len(explored) < len(at_once)
    for asked in reversed(inquiry.asked):
        inquiry.answer(asked)
    assert sorted(explored) == at_once
