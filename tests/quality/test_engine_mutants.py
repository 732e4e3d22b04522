"""Planted faults in the engine are found: the suite is worth running only if it can fail."""

from __future__ import annotations

import pytest

from tests.quality.engine import build
from tests.quality.mutants import MUTANTS, Mutant
from tests.quality.suite import cases, first_complaint


def test_the_engine_itself_is_clean() -> None:
    assert first_complaint(build()) is None


def test_the_suite_has_something_to_say() -> None:
    assert len(cases()) >= 60
    assert sum(case.answer.stuck for case in cases()) >= 5
    assert len({mutant.name for mutant in MUTANTS}) == len(MUTANTS) >= 30
    assert {mutant.module for mutant in MUTANTS} == {"matrix", "space", "passes", "explore", "step", "tables"}


@pytest.mark.parametrize("mutant", MUTANTS, ids=lambda mutant: f"{mutant.module}: {mutant.name}")
def test_a_planted_fault_is_found(mutant: Mutant) -> None:
    assert first_complaint(build(mutant.module, mutant.old, mutant.new, mutant.within)) is not None
