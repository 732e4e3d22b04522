"""The capacitor by itself: whose hold-up counts, and what is known of it once another load draws from it."""

from __future__ import annotations

from typing import cast

import pytest

from nudgeproof.model.tables import Local
from nudgeproof.parts.capacitor import FRESH, LATER, capacitor, whole_hold_up
from nudgeproof.parts.chart import CHANGED
from nudgeproof.parts.supply import BOOTS, RECOVERS, SAGS, STEADY, opened_by
from tests.weak import weak

DEVICE = weak(
    loads="lamp: {draws: 1 mA, in: glowing}, processor: {draws: 100 uA}",
    supply="capacitor: {size: 100 uF}, brown-out: {level: 2 V}",
    more="surroundings: {rattle: {cell gone: up to 40 ms, then steady at least: 2 s}}",
)
PART = capacitor(DEVICE, ("rattle",))
STARTING, STOWED, GLOWING = range(3)


def hear(local: Local, signal: str, state: str, gone: bool = True, steady: bool = False, powered: bool = True) -> Local:
    reads = {
        opened_by("rattle"): gone,
        STEADY: steady,
        "fed": powered,
        "powered": powered,
        "state": state,
        "running": True,
    }
    (choice,) = PART.heard(local, signal, reads)
    assert choice.send == ()
    return choice.to


def told(local: Local) -> tuple[str, int, int]:
    (value,) = PART.shown(local)
    name, least, most, _ = cast("tuple[str, int, int, int]", value)
    return name, least, most


def test_a_full_one_lasts_as_long_as_the_load_that_draws_from_it() -> None:
    """From spent cells 1.1 mA: 2.6 - 0.066 - 2.0 = 0.534 V, 48.5 ms; 0.1 mA: 2.6 - 0.006 - 2.0 = 0.594 V, 594 ms. From fresh
    ones 2.989 - 2.0 V, 89.9 ms; 2.999 - 2.0 V, 999 ms.
    """
    glowing = told(hear(None, SAGS, "glowing", steady=True))
    assert glowing[0] == FRESH
    assert (round(glowing[1], -2), round(glowing[2], -2)) == (48_500, 89_900)
    stowed = told(hear(None, SAGS, "stowed", steady=True))
    assert (round(stowed[1], -3), round(stowed[2], -3)) == (594_000, 999_000)


def test_when_the_load_changes_what_is_left_may_be_anything_up_to_the_whole() -> None:
    """At most what is left right after a lighter load held the voltage higher: (2.999 - 2.0) V * 100 uF / 1.1 mA."""
    local = hear((STOWED, False), CHANGED, "glowing")
    assert local == (GLOWING, True)
    assert told(local)[:2] == (f"{LATER}glowing", 0)
    assert round(told(local)[2], -2) == 90_800
    assert hear(local, CHANGED, "glowing") == local
    assert hear((STOWED, False), CHANGED, "stowed") == (STOWED, False), "a change that draws the same"


def test_it_is_full_again_when_the_cell_is_back() -> None:
    assert hear((GLOWING, True), RECOVERS, "glowing", gone=False, steady=True) is None
    assert hear(None, CHANGED, "glowing", gone=False, steady=True) is None


def test_a_start_that_begins_without_the_cell_has_what_is_left() -> None:
    assert hear((GLOWING, False), BOOTS, "glowing", powered=False) == (STARTING, True)
    assert hear(None, BOOTS, "glowing", gone=False, powered=False) is None


@pytest.mark.parametrize("local", [None, (GLOWING, False), (STOWED, True)])
def test_each_hold_up_lies_within_the_whole(local: Local) -> None:
    whole = whole_hold_up(DEVICE)
    name, least, most = told(local)
    assert least >= whole.lo or name.startswith(LATER)
    assert most <= whole.hi
