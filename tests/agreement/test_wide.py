"""A few devices of `wide`, and that it tells of whatever contradicts an answer."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from nudgeproof import answers
from tests.agreement import wide


@pytest.fixture(autouse=True)
def as_many_random_steps_as_before(monkeypatch: pytest.MonkeyPatch) -> None:
    """`attack_one` sets them for its whole process."""
    monkeypatch.setattr(answers, "RANDOM_STEPS", answers.RANDOM_STEPS)
    monkeypatch.setattr(answers, "LEAST_RANDOM_STEPS", answers.LEAST_RANDOM_STEPS)


@pytest.mark.parametrize("seed", range(4))
def test_no_attack_contradicts_what_is_said_of_one_environment(seed: int) -> None:
    number, features, did, against = wide.attack_one(seed)
    assert (number, against) == (seed, [])
    assert features
    assert did


def test_a_contradiction_is_told_with_the_seed_that_draws_the_device(monkeypatch: pytest.MonkeyPatch) -> None:
    def contradict(*_: object) -> Iterator[str]:
        yield "it happened"

    monkeypatch.setattr(wide, "hunt", contradict)
    assert wide.attack_one(1)[3] == ["seed 1: it happened"]


def test_a_fault_of_the_tool_counts_as_one(monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*_: object) -> None:
        raise RuntimeError("it broke")

    monkeypatch.setattr(wide, "read_device", fail)
    assert wide.attack_one(1)[3] == ["seed 1: RuntimeError: it broke"]
