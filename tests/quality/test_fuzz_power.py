"""Planted faults that the fuzz must find without the explorer's help, and one that it doesn't promise.

Each bad window is at least 1 % of an interval or lies at its end. A fault that is mended must not be found, so that what is
found is the fault and nothing else.
"""

from __future__ import annotations

import pytest

from nudgeproof.engines.explore import explore
from nudgeproof.engines.fuzz import NOT_PROMISED, fuzz
from nudgeproof.engines.story import replay
from nudgeproof.hazards import accidental_off, missed_gesture, torn_memory
from nudgeproof.model.step import Move, Test
from nudgeproof.model.tables import Choice, Model, Part, Situation, Timer
from nudgeproof.parts.compile import Environment, compile_model
from nudgeproof.questions.ask import NotAsked, Question
from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import Device
from tests.amount import amount
from tests.devices import bench, enters
from tests.quality.test_boundaries import DMAX, DMIN, B, G, H, held, three_taps
from tests.snapshots.screens import ROOT

STEPS = 40_000
FEW = 3_000
SEEDS = amount((2,), (1, 2))


def finds(model: Model, test: Test, steps: int, seed: int) -> bool:
    failure = fuzz(model, (test,), steps, seed).failures[0]
    if failure is None:
        return False
    last = replay(model, failure.path, failure.times_us).beats[-1]
    assert test(model, last.before, last.move)
    return True


@pytest.mark.parametrize("seed", SEEDS)
def test_a_squeeze_is_taken_for_a_hold_in_the_last_percent_of_its_lengths(seed: int) -> None:
    shortest = H - (DMAX - DMIN) - B
    squeeze = Environment(("squeeze",))
    assert finds(compile_model(held(shortest + (shortest - 20_000) // 99), squeeze), enters("hit"), STEPS, seed)
    assert not finds(compile_model(held(shortest - 1), squeeze), enters("hit"), FEW, seed)


@pytest.mark.parametrize("seed", SEEDS)
def test_three_knocks_at_the_very_end_of_the_pause_that_counts_without_chatter(seed: int) -> None:
    """Each release has to be accepted as late, each press to come and be accepted as early as can be, twice in a row."""
    knocks, spacing = Environment(("knocks",)), G + (DMAX - DMIN)
    assert finds(compile_model(three_taps("2 to 40 ms", spacing), knocks), enters("hit"), STEPS, seed)
    assert not finds(compile_model(three_taps("2 to 40 ms", spacing + B + 1), knocks), enters("hit"), FEW, seed)


def bell(limit_ms: int) -> Device:
    return bench(
        f"tap: {{taps: 1, press: up to {limit_ms} ms}}",
        "tap: rung",
        debounce="20 ms",
        extra="rung: {transitions: {after 1 s: idle}}",
        more="person: {tap: 60 to 350 ms, between: 80 to 220 ms}",
    )


@pytest.mark.parametrize("seed", SEEDS)
def test_a_limit_just_short_of_the_habits(seed: int) -> None:
    """347 of 60 to 350 ms: 1 % of the taps are too long."""
    for limit_ms, missed in ((347, True), (351, False)):
        asked = missed_gesture.ask(bell(limit_ms))
        assert not isinstance(asked, NotAsked)
        model = compile_model(bell(limit_ms), asked[0].environment)
        assert finds(model, asked[0].looked_for, STEPS if missed else FEW, seed) == missed


def twin(hazard: str, name: str) -> Device:
    path = f"specs/failures/{hazard}/{name}.yaml"
    return read_device((ROOT / path).read_text(encoding="utf-8"), path)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_write_cut_by_an_outage(seed: int) -> None:
    for name, torn in (("broken", True), ("mended", False)):
        asked = torn_memory.ask(twin("torn-memory", name))
        assert not isinstance(asked, NotAsked)
        question = asked[0]
        assert isinstance(question, Question)
        model = compile_model(twin("torn-memory", name), question.environment)
        assert finds(model, question.looked_for, STEPS if torn else FEW, seed) == torn


@pytest.mark.parametrize("seed", SEEDS)
def test_a_device_switched_off_by_what_bumps_against_it(seed: int) -> None:
    for name, off in (("broken", True), ("mended", False)):
        asked = accidental_off.ask(twin("accidental-off", name))
        assert not isinstance(asked, NotAsked)
        question = asked[0]
        assert isinstance(question, Question)
        model = compile_model(twin("accidental-off", name), question.environment)
        assert finds(model, question.looked_for, STEPS if off else FEW, seed) == off


def race(window_us: int) -> Model:
    """One part draws when it starts, within 2 s; 0.4 s later it is open for `window_us`; another one looks at 1.5 s."""
    slow = {"idle": Timer("starts", 0, 2_000_000), "on": Timer("opens", 400_000, 400_000)}
    slow["open"] = Timer("shuts", window_us, window_us)
    after = {"idle": "on", "on": "open", "open": "shut"}
    first = Part(
        "first",
        "device",
        "idle",
        armed=lambda local, reads: (slow[str(local)],) if local in slow else (),
        expired=lambda local, timer, reads: (Choice(after[str(local)]),),
    )
    second = Part(
        "second",
        "device",
        "waits",
        armed=lambda local, reads: (Timer("looks", 1_500_000, 1_500_000),) if local == "waits" else (),
        expired=lambda local, timer, reads: (Choice("looked"),),
    )
    return Model((first, second))


def looks_in(model: Model, before: Situation, move: Move) -> bool:
    return before[0] == "open" and before[1] == "waits" and move.situation[1] == "looked"


@pytest.mark.parametrize("seed", [*SEEDS, *amount((), (3,))])
def test_a_percent_in_the_middle_of_an_interval_is_found_and_a_few_microseconds_are_not_promised(seed: int) -> None:
    assert finds(race(20_000), looks_in, STEPS, seed)
    assert explore(race(7), (looks_in,), 1_000).paths[0] is not None
    assert not finds(race(7), looks_in, FEW, seed)
    assert "microseconds" in NOT_PROMISED
    assert "goes to sleep" in NOT_PROMISED
