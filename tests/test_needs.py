"""What an accident would take is told only if it was found out; else it isn't known."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from nudgeproof import needs
from nudgeproof.engines.explore import Exploration, explore, explore_space
from nudgeproof.needs import Takes, find
from nudgeproof.units import FOREVER, Span
from tests.devices import bench, enters

MS = 1_000
DEVICE = bench(
    "tap: {taps: 1, press: up to 400 ms}",
    "tap: hit",
    debounce="20 ms",
    extra="hit: {shows: hit}\ndark: {shows: nothing}",
)


def takes(state: str = "hit") -> Takes:
    return find(DEVICE, "pad", "idle", enters(state))


def test_a_tap_is_a_press_of_some_length() -> None:
    assert takes() == Takes("idle", (Span(20 * MS, 400 * MS),), True)
    assert takes("dark") == Takes("idle", (), True), "no pressing does it"
    held = bench("hold: {held: 1 s}", "hold: hit", debounce="20 ms", extra="hit: {shows: hit}")
    assert find(held, "pad", "idle", enters("hit")).spans == (Span(1_000 * MS, FOREVER),)


def test_what_was_not_looked_at_in_full_is_not_known(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(needs, "BUDGET", 1)
    assert takes("dark") == takes() == Takes("idle", (), False)


def test_a_story_that_may_not_have_the_fewest_presses_tells_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    def dear(*given: Any, **more: Any) -> Exploration:
        return replace(explore(*given, **more), least=(False,))

    monkeypatch.setattr(needs, "explore", dear)
    assert takes() == Takes("idle", (), False)


def test_a_bound_whose_search_ran_out_is_not_known(monkeypatch: pytest.MonkeyPatch) -> None:
    """The story is found, but beyond its extremes not everything is looked at."""

    def short(*given: Any, **more: Any) -> Exploration:
        seen = explore_space(*given, **more)
        return seen if seen.paths[0] is not None else replace(seen, complete=False)

    monkeypatch.setattr(needs, "explore_space", short)
    assert takes() == Takes("idle", (), False)
