"""The charge of a capacitor counted along a story that was made by hand, on both sides of what it holds."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any, cast

import pytest

from nudgeproof.charge_left import fits
from nudgeproof.engines.story import Story
from nudgeproof.model.tables import Model
from nudgeproof.parts.supply import HOLDS_UP, RECOVERS, RESET, SAGS
from nudgeproof.units import FOREVER

MS = 1_000
LIGHT, HEAVY, NOTHING = ("light", 100 * MS, 200 * MS), ("heavy", 10 * MS, 20 * MS), ("nothing", 900 * MS, FOREVER)
"""Loads, each with the shortest and the longest hold-up of a full capacitor that it alone draws from."""
Load = tuple[str, int, Any]


class Told:
    """A model that only says what draws from the capacitor; its situations are loads."""

    def __init__(self, has_capacitor: bool = True) -> None:
        self.has_capacitor = has_capacitor

    def publishes(self, name: str) -> bool:
        return self.has_capacitor and name == HOLDS_UP

    def value(self, situation: Load, name: str) -> tuple[str, int, Any, int]:
        label, low, high = situation
        return label, 0, high, low


def story(*beats: tuple[int, str, Load, Load]) -> Story:
    """Beats of (time in milliseconds, what is sent, the load before, the load after)."""
    made = [
        SimpleNamespace(
            at_us=at * MS,
            before=before,
            after=after,
            move=SimpleNamespace(taken=[SimpleNamespace(choice=SimpleNamespace(send=(sent,) if sent else ()))]),
        )
        for at, sent, before, after in beats
    ]
    return Story(cast("Any", tuple(made)), 0)


def fit(*beats: tuple[int, str, Load, Load], has_capacitor: bool = True) -> bool:
    return fits(cast("Model", Told(has_capacitor)), story(*beats))


@pytest.mark.parametrize(
    ("at", "kept"), [(4, False), (5, True), (7, True), (10, True), (11, True), (15, True), (16, False)]
)
def test_each_load_takes_its_part_of_the_charge(at: int, kept: bool) -> None:
    """50 ms of the light load take a quarter to a half of it. So the heavy one empties it after 5 ms at the earliest (half
    of 10 ms) and after 15 ms at the latest (three quarters of 20 ms).
    """
    begins = 1000
    beats = (
        (begins, SAGS, LIGHT, LIGHT), (begins + 50, "", LIGHT, HEAVY), (begins + 50 + at, RESET, HEAVY, HEAVY),
    )  # fmt: skip
    assert fit(*beats) is kept


def test_one_load_alone_was_looked_at_by_the_explorer() -> None:
    assert fit((0, SAGS, LIGHT, LIGHT), (1, RESET, LIGHT, LIGHT))


def test_a_load_that_draws_nothing_leaves_all_of_it() -> None:
    """800 ms take nothing on one unit and 8/9 on another, so the heavy load needs between 10/9 ms and 20 ms."""
    for at, kept in ((1, False), (2, True), (20, True), (21, False)):
        assert fit((0, SAGS, NOTHING, NOTHING), (800, "", NOTHING, HEAVY), (800 + at, RESET, HEAVY, HEAVY)) is kept


def test_three_loads_add_up() -> None:
    """50 ms of light are 1/4 to 1/2, 4 ms of heavy 1/5 to 2/5, so 20 ms more of light (1/10 to 1/5) reach the whole."""
    beats = ((0, SAGS, LIGHT, LIGHT), (50, "", LIGHT, HEAVY), (54, "", HEAVY, LIGHT))
    assert fit(*beats, (74, RESET, LIGHT, LIGHT))
    assert not fit(*beats, (63, RESET, LIGHT, LIGHT)), "9 ms: at most 0.5 + 0.4 + 0.09"
    assert not fit(*beats, (165, RESET, LIGHT, LIGHT)), "111 ms: at least 0.25 + 0.2 + 0.555"


def test_each_outage_begins_with_a_full_one() -> None:
    first = ((0, SAGS, LIGHT, LIGHT), (90, "", LIGHT, HEAVY), (91, RECOVERS, HEAVY, HEAVY))
    assert fit(*first, (100, SAGS, HEAVY, HEAVY), (110, "", HEAVY, LIGHT), (115, RESET, LIGHT, LIGHT))
    assert not fit(*first, (100, SAGS, HEAVY, HEAVY), (101, "", HEAVY, LIGHT), (105, RESET, LIGHT, LIGHT))


def test_every_reset_of_a_story_must_fit() -> None:
    good = ((0, SAGS, LIGHT, LIGHT), (50, "", LIGHT, HEAVY), (60, RESET, HEAVY, HEAVY))
    bad = ((500, SAGS, LIGHT, LIGHT), (550, "", LIGHT, HEAVY), (551, RESET, HEAVY, HEAVY))
    assert fit(*good)
    assert not fit(*good, *bad)
    assert fit(*bad, has_capacitor=False), "a stated hold-up is the same for every load"
