"""Mutants of the shipped devices that must be caught, and one that can be told to be harmless."""

from __future__ import annotations

import pytest

from tests.amount import amount
from tests.quality.device_mutants import NAMES, OPERATORS, audited, catch, load, mutants

CAUGHT = {
    "rain-cover-light": (
        "misheard: glowing, tap then hold by hold",
        *amount((), ("change of values: glowing, tap, stepped the other way", "line out: glowing, after 4 h")),
    ),
    "seed-tray-timer": amount((), ("line out: watering, more",)),
    "moisture-meter": (
        "waiting: starting",
        *amount((), ("line out: starting, after 700 ms", "change of values: measuring, cell fine, warning not set")),
    ),
    "trail-counter": (
        "other target: counting, footfall -> showing",
        *amount((), ("line out: counting, hold",)),
    ),
}
"""One run of all of them takes minutes (`python -m tests.quality.device_mutants`); these are quick."""


@pytest.mark.parametrize(("name", "mutant"), [(name, mutant) for name in CAUGHT for mutant in CAUGHT[name]])
def test_a_mutant_is_caught(name: str, mutant: str) -> None:
    (found,) = (each for each in mutants(name) if each.name == mutant)
    assert catch(found.device)


def test_mutants_are_the_same_each_time_and_differ_from_their_device() -> None:
    operators = set()
    for name in NAMES:
        first, again = list(mutants(name)), list(mutants(name))
        assert first == again
        assert len({mutant.name for mutant in first}) == len(first)
        assert all(mutant.device != load(name) for mutant in first)
        operators |= {mutant.operator for mutant in first}
    assert operators == set(OPERATORS)


def test_a_survivor_keeps_every_promise_by_certificates_that_are_audited() -> None:
    """Both values are written in one record, so their order makes no difference."""
    name = "keeps: the other way round"
    (found,) = (mutant for mutant in mutants("rain-cover-light") if mutant.name == name)
    assert audited(found.device, every=amount(24, 12)) > amount(1, 2)
