"""What all tests share."""

from __future__ import annotations

import gc

import pytest

from nudgeproof import answers
from tests.amount import SWITCH, is_whole

# As the command line does, see `nudgeproof.cli.run`. Once hypothesis is loaded it also calls a function at each search for
# garbage, so that seldom is cheaper still.
gc.set_threshold(50_000, 20, 20)

FEW_RANDOM_STEPS = 1_000


def pytest_report_header() -> str:
    """What is run; a switch that means nothing ends the run here."""
    return "tests at full size" if is_whole() else f"a sample of the tests; {SWITCH}=whole runs them at full size"


@pytest.fixture
def few_random_steps(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the effort runs out `check` makes 20,000 random steps on top; here it makes so few.

    For tests about something else. What random runs find is tested in `tests/engines/test_fuzz.py` and `tests/quality`.
    """
    monkeypatch.setattr(answers, "RANDOM_STEPS", FEW_RANDOM_STEPS)
