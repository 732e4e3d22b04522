"""Random runs alone find what fails in the field; `python -m tests.quality.fuzz_failures` hunts all kinds."""

import pytest

from tests.amount import amount
from tests.quality.fuzz_failures import hunt

FEW = 6_000


@pytest.mark.parametrize(
    "kind", amount(("G05", "G17", "W02", "W09", "P14"), ("G05", "G17", "W02", "W09", "P14", "P17"))
)
def test_random_runs_find_it(kind: str) -> None:
    one = hunt(kind, FEW)
    assert one.found, str(one)


def test_nothing_is_hunted_where_a_proof_tells_the_failure() -> None:
    assert hunt("W20", FEW).found is None
