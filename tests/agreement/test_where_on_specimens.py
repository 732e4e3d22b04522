"""What is said of where a story happens, tried on specimens: a sample of `python -m tests.agreement.specimens`."""

from __future__ import annotations

from dataclasses import replace

import pytest

from nudgeproof.model.tables import Timer
from tests.agreement.specimens import Specimen, claims, is_contradicted, spared

SPECIMENS = 200
SAID = {
    "accidental-wake": [True],
    "accidental-off": [True],
    "lost-state": [True, True],
    "output-in-reset": [True],
    "torn-memory": [False, False],
    "field/knocked-cell": [True],
}
"""For each story of these specs whether it is said to happen on every specimen."""


@pytest.mark.parametrize("folder", SAID)
def test_no_specimen_contradicts_what_is_said(folder: str) -> None:
    found = list(claims(f"failures/{folder}"))
    assert [claim.every for claim in found] == SAID[folder]
    for claim in found:
        escaped = spared(claim, SPECIMENS)
        assert not is_contradicted(claim, escaped), (claim.name, escaped)


def test_a_wrong_claim_is_contradicted() -> None:
    """Said of every specimen, what happens on some only; and of some only, what happens on every one."""
    (torn, _), (woken,) = claims("failures/torn-memory"), claims("failures/accidental-wake")
    escaped = spared(torn, SPECIMENS)
    assert 0 < escaped < SPECIMENS
    assert is_contradicted(replace(torn, every=True), escaped)
    assert is_contradicted(replace(woken, every=False), spared(woken, SPECIMENS))


def test_a_specimen_keeps_its_times_and_they_vary_from_one_to_another() -> None:
    timer, same = Timer("writes", 3_000, 5_000), Specimen(1, anew=False)
    assert len({same.lasts(0, timer) for _ in range(20)}) == 1
    assert len({Specimen(seed, anew=False).lasts(0, timer) for seed in range(20)}) > 5
    anew = Specimen(1, anew=True)
    assert len({anew.lasts(0, timer) for _ in range(20)}) > 5
