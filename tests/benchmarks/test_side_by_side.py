"""What is measured side by side still runs, and means the same: the devices by hand against the specs of the tool.

The solver isn't needed here, and no time is looked at.
"""

from __future__ import annotations

from dataclasses import replace
from random import Random

import pytest

from benchmarks import byhand
from benchmarks.byhand import BACK, GONE, HIGH, LOW, Board, Clip, Ladder, Timer, Wrong
from benchmarks.cases import CASES, by_exploring, by_force, enters, in_units, knocked
from benchmarks.devices import make_clip, make_ladder, make_timer
from nudgeproof.engines.explore import explore
from nudgeproof.model.step import Test
from nudgeproof.parts.compile import Environment, compile_model
from nudgeproof.parts.script import Edge
from nudgeproof.questions.steps import starting_wrongly
from nudgeproof.spec.types import Device
from nudgeproof.units import Span

MS = 1_000
SCRIPTS = 24


def can(device: Device, debounce_us: int, edges: list[byhand.Edge], test: Test) -> bool:
    """What the tool says of a script, with no chatter and an exact debounce."""
    button = replace(device.buttons[0], debounce=Span(debounce_us, debounce_us), bounce_us=0)
    script = tuple(Edge(at, "" if what in (GONE, BACK) else "pad", what in (HIGH, BACK)) for at, what in edges)
    environment = Environment(script=script, watched=device.memory is not None)
    found = explore(compile_model(replace(device, buttons=(button,)), environment), (test,), 50_000)
    assert found.complete or found.paths[0]
    return found.paths[0] is not None


def presses(random: Random, count: int, lengths: list[int], pauses: list[int]) -> list[byhand.Edge]:
    """Random presses, at odd microseconds so that no two things fall on one instant."""
    at, edges = 100 * MS, []
    for _ in range(count):
        up = at + random.choice(lengths) + random.randrange(1, 900)
        edges += [(at, HIGH), (up, LOW)]
        at = up + random.choice(pauses) + random.randrange(1, 900)
    return edges


def earliest(least: int, most: int) -> int:
    return least


def latest(least: int, most: int) -> int:
    return most


def is_wrong(board: Board, edges: list[byhand.Edge]) -> bool:
    try:
        board.play(edges)
    except Wrong:
        return True
    return False


def test_the_clip_by_hand_does_what_the_tool_says() -> None:
    random, lit = Random(1), set()
    for _ in range(SCRIPTS):
        edges = presses(random, 4, [10 * MS, 20 * MS, 390 * MS, 420 * MS], [8 * MS, 60 * MS, 240 * MS, 255 * MS])
        for draw, debounce in ((earliest, 15 * MS), (latest, 25 * MS)):
            clip = Clip(draw)
            clip.play(edges)
            lit.add(clip.lit)
            assert clip.lit == can(make_clip(), debounce, edges, enters("lit")), edges
    assert lit == {True, False}


def test_the_ladder_by_hand_does_what_the_tool_says() -> None:
    random, reached = Random(2), set()
    for _ in range(SCRIPTS):
        edges = presses(random, 5, [60 * MS, 100 * MS, 300 * MS, 1_100 * MS], [80 * MS, 150 * MS])
        ladder = Ladder(earliest, 4, 700 * MS)
        ladder.play(edges)
        reached.add(ladder.highest)
        for mode in range(1, 5):
            said = can(make_ladder(4, "700 ms"), 15 * MS, edges, enters(f"mode {mode}"))
            assert (ladder.highest >= mode) == said, edges
    assert len(reached) >= 3


@pytest.mark.parametrize("hold_up", [2 * MS, 3_399, 3_400])
def test_the_timer_by_hand_does_what_the_tool_says(hold_up: int) -> None:
    random, lost = Random(3), set()
    device = make_timer(f"{hold_up} us")
    for _ in range(SCRIPTS):
        edges = presses(random, 2, [60 * MS, 100 * MS], [90 * MS, 200 * MS])
        written = edges[random.choice((1, 3))][0] + 20 * MS
        gone = written + random.choice((0, 1, 2, 700, 1_350, 3_000, -5 * MS, 10 * MS))
        edges = sorted([*edges, (gone, GONE), (gone + random.choice((1, 30)) * MS, BACK)])
        wrong = is_wrong(Timer(earliest, hold_up), edges)
        lost.add(wrong)
        assert wrong == can(device, 20 * MS, edges, starting_wrongly(device, torn=False)), edges
    assert lost == ({True, False} if hold_up < 3_400 else {False})


def test_the_test_by_hand_finds_what_is_easy_and_nothing_where_nothing_is() -> None:
    """Which examples are drawn hangs on the modules that are loaded, so only what nearly every example shows is asked."""
    assert byhand.try_examples(byhand.look_for_ladder(1, 1_000 * MS), 100).found
    assert not byhand.try_examples(byhand.look_for_clip(400 * MS), 20).found
    assert not byhand.try_examples(byhand.look_for_timer(5 * MS), 20).found


@pytest.mark.parametrize("number", range(len(CASES)))
def test_the_explorer_says_of_each_failure_whether_it_is_there(number: int) -> None:
    case = CASES[number]()
    assert by_exploring(case)[0] == ("found" if case.there else "proved absent")


def test_brute_force_finds_the_corner_in_milliseconds_and_knows_when_a_unit_is_too_coarse() -> None:
    assert by_force(knocked("", 265 * MS, True, MS))[0] == "found"
    with pytest.raises(ValueError, match="no multiple"):
        by_force(knocked("", 265 * MS + 1, False, MS))
    model = knocked("", 265 * MS, True, MS).compile()
    assert [part.name for part in in_units(model.parts, MS)] == [part.name for part in model.parts]
