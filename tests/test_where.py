"""When a story's actions can be played as one script, and when nothing is claimed about every specimen."""

from __future__ import annotations

from typing import Any

import pytest

from nudgeproof import where
from nudgeproof.engines.explore import Exploration, explore
from nudgeproof.engines.story import Story, confirm
from nudgeproof.model.step import Move
from nudgeproof.model.tables import Model, Situation
from nudgeproof.parts.compile import Environment, compile_model
from nudgeproof.parts.script import Edge
from nudgeproof.where import EVERY, SOME, as_script, overlap
from tests.devices import bench, enters

MS = 1_000
DEVICE = bench(
    "hold: {held: 50 ms}",
    "hold: hit",
    debounce="20 ms",
    extra="hit: {shows: hit}",
    more="surroundings:\n"
    "  knocks: {closes pad: 100 to 150 ms, then open at least: 30 ms}\n"
    "  squeeze: {closes pad: 100 to 400 ms, then open at least: 30 ms}",
)
KNOCKED, BOTH = Environment(("knocks",)), Environment(("knocks", "squeeze"))


def edges(*told: tuple[int, str, bool]) -> tuple[Edge, ...]:
    return tuple(Edge(at, button, closes) for at, button, closes in told)


def test_presses_one_after_another_can_be_played() -> None:
    assert not overlap(edges((0, "pad", True), (5, "pad", False), (9, "pad", True)))
    assert not overlap(edges((0, "pad", True), (3, "", False), (4, "", True), (5, "pad", False)))


def test_two_sources_on_one_contact_at_once_cannot() -> None:
    assert overlap(edges((0, "pad", True), (5, "pad", True), (9, "pad", False)))
    assert overlap(edges((0, "", False), (5, "", False)))


def held_by_both(model: Model, before: Situation, move: Move) -> bool:
    return all(model.value(move.situation, f"{name} holds pad") for name in ("knocks", "squeeze"))


def story_of(environment: Environment, test: Any) -> tuple[Model, Story]:
    model = compile_model(DEVICE, environment)
    (path,) = explore(model, (test,), 1_000).paths
    assert path is not None
    return model, confirm(model, path)


def test_what_still_acts_at_the_end_goes_on_as_long_as_it_may() -> None:
    """The hold is seen while the knock goes on, which ends 150 ms after it began at the latest."""
    model, story = story_of(KNOCKED, enters("hit"))
    played = as_script(model, KNOCKED, story)
    assert played is not None
    assert played.script == edges((0, "pad", True), (150 * MS, "pad", False))


def test_two_who_hold_one_contact_are_not_played() -> None:
    model, story = story_of(BOTH, held_by_both)
    assert as_script(model, BOTH, story) is None


@pytest.mark.parametrize(
    ("escapes", "complete", "stuck", "told"),
    [
        (False, True, False, EVERY),
        (False, False, False, ""),
        (False, True, True, ""),
        (True, True, False, SOME),
        (True, False, False, SOME),
    ],
)
def test_every_specimen_is_said_only_of_what_was_looked_at_in_full(
    monkeypatch: pytest.MonkeyPatch, escapes: bool, complete: bool, stuck: bool, told: str
) -> None:
    model, story = story_of(KNOCKED, enters("hit"))
    seen = Exploration(((),) if escapes else (None,), (True,), complete, 1, 1, (model.start,) if stuck else ())
    monkeypatch.setattr(where, "explore", lambda *given, **more: seen)
    assert where.find(DEVICE, model, KNOCKED, enters("hit"), story) == told
