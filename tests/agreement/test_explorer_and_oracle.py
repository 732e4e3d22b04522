"""The explorer against the brute-force engine: the same verdicts, the same least costs, and stories that replay.

Integer time is enough for closed bounds (T. Henzinger, Z. Manna, A. Pnueli, "What good are digital clocks?", ICALP 1992;
from memory), so any difference is a fault of one of the two.
"""

from __future__ import annotations

from collections.abc import Sequence
from random import Random

import pytest

from nudgeproof.engines.concrete import CannotHappen, Run
from nudgeproof.engines.explore import explore
from nudgeproof.engines.space import Step
from nudgeproof.engines.story import Story, tell
from nudgeproof.model.step import Move, Test, expire
from nudgeproof.model.tables import Model, Situation
from nudgeproof.units import FOREVER
from tests.amount import amount
from tests.oracle.brute import Cost, Goal, TooBig, clocks, outcomes, search
from tests.oracle.randomly import sketch

BUDGET = 20_000
MOST_STATES = 1_200
CHUNK = 40
CHUNKS = amount(4, 10)


def as_test(goal: Goal) -> Test:
    """A goal over two situations, in the form the explorer takes."""

    def test(model: Model, before: Situation, move: Move) -> bool:
        return goal(before, move.situation)

    return test


def never(model: Model, before: Situation, move: Move) -> bool:
    """A test that no step meets, so that every class is looked at."""
    return False


def cost(path: Sequence[Step] | None) -> Cost | None:
    if path is None:
        return None
    return sum(step.move.actions for step in path), sum(step.move.chatter for step in path), len(path)


def told_cost(story: Story) -> Cost:
    """The cost of a story as it is told, after its replay."""
    return story.actions, sum(beat.move.chatter for beat in story.beats), len(story.beats)


@pytest.mark.parametrize("chunk", range(CHUNKS))
def test_same_reachability_and_same_least_cost(chunk: int) -> None:
    compared = 0
    for seed in range(chunk * CHUNK, (chunk + 1) * CHUNK):
        drawn = sketch(seed)
        try:
            answer = search(drawn.parts, drawn.goals, MOST_STATES)
        except TooBig:
            continue
        model = Model(drawn.parts)
        found = explore(model, [*map(as_test, drawn.goals), never], BUDGET)
        assert found.complete, f"seed {seed}"
        assert tuple(map(cost, found.paths[:-1])) == answer.costs, f"seed {seed}"
        assert set(found.paths[-1:]) == {None}
        assert found.situations == len(answer.situations), f"seed {seed}"
        assert bool(found.stuck) == answer.stuck, f"seed {seed}"
        for goal, path, least in zip(drawn.goals, found.paths, answer.costs, strict=False):
            if path:
                story = tell(model, path)
                assert goal(story.beats[-1].before, story.beats[-1].after), f"seed {seed}"
                assert told_cost(story) == least, f"seed {seed}"
        compared += 1
    assert compared >= CHUNK // 2


@pytest.mark.parametrize("chunk", range(3))
def test_ending_early_changes_no_story(chunk: int) -> None:
    """Looking for one goal alone gives the cost that looking for all gives; a spent budget never gives a dearer one."""
    for seed in range(chunk * 20, (chunk + 1) * 20):
        drawn = sketch(seed)
        try:
            answer = search(drawn.parts, drawn.goals, MOST_STATES)
        except TooBig:
            continue
        for goal, least in zip(drawn.goals, answer.costs, strict=True):
            assert cost(explore(Model(drawn.parts), [as_test(goal)], BUDGET).paths[0]) == least, f"seed {seed}"
        for budget in (1, 5, 20):
            short = explore(Model(drawn.parts), [*map(as_test, drawn.goals), never], budget)
            assert short.classes <= 2 * budget, "in two passes"
            for path, cheapest, least in zip(short.paths, short.least, answer.costs, strict=False):
                assert path is None or least is not None, f"seed {seed}"
                assert not cheapest or cost(path) == least, f"seed {seed}"
            swept = explore(Model(drawn.parts), [*map(as_test, drawn.goals), never], budget, stories=())
            assert swept.classes <= budget
            assert not any(swept.least)


def test_what_a_complete_search_was_not_asked_for_is_not_ruled_out() -> None:
    """Here the search needs fewer classes than the sweep, and ends where the sweep ran out before it met the second goal."""
    drawn = sketch(833)

    def expires(model: Model, before: Situation, move: Move) -> bool:
        part, timer = model.armed(before)[0]
        return before == (2, 3, 0) and (move.taken[0].part, move.taken[0].cause) == (part, f"timer {timer.name}")

    assert explore(Model(drawn.parts), [never, expires], BUDGET).paths[1] is not None
    short = explore(Model(drawn.parts), [never, expires], 13, stories=[0])
    assert short.paths[1] is not None or not short.complete


@pytest.mark.parametrize("chunk", range(3))
def test_going_round_without_time_is_seen(chunk: int) -> None:
    """Timers that leave no time are common here; the oracle looks for a cycle of such expiries among its own states."""
    seen = {True: 0, False: 0}
    for seed in range(chunk * 50, (chunk + 1) * 50):
        drawn = sketch(seed, zeros=True)
        try:
            answer = search(drawn.parts, drawn.goals, MOST_STATES)
        except TooBig:
            continue
        found = explore(Model(drawn.parts), [never], BUDGET)
        assert found.complete
        assert bool(found.stuck) == answer.stuck, f"seed {seed}"
        assert set(found.stuck) <= answer.situations, f"seed {seed}"
        seen[answer.stuck] += 1
    assert min(seen.values()) >= 8, seen


def test_steps_have_the_same_outcomes_in_the_same_order() -> None:
    """Each outcome of each expiry, one by one: where it leads, what runs on, what it costs."""
    looked_at = 0
    for seed in range(120):
        drawn = sketch(seed)
        model = Model(drawn.parts)
        rng = Random(seed)
        situation = model.start
        for _ in range(30):
            armed = clocks(drawn.parts, situation)
            assert armed == model.armed(situation)
            if not armed:
                break
            for position in range(len(armed)):
                moves = expire(model, situation, position)
                expected = outcomes(drawn.parts, situation, position)
                assert [(m.situation, m.timers, m.actions, m.chatter) for m in moves] == [
                    (one.after, one.clocks, one.actions, one.chatter) for one in expected
                ], f"seed {seed}"
                assert [m.kept for m in moves] == [
                    tuple(-1 if k is None else k for k in one.source) for one in expected
                ], f"seed {seed}"
                looked_at += len(moves)
            situation = rng.choice(expire(model, situation, rng.randrange(len(armed)))).situation
    assert looked_at > 5_000


def left(run: Run) -> int:
    """How long time may pass before some timer must expire; 20 if none ever must."""
    limits = [since + timer.hi - run.now for (_, timer), since in zip(run.timers, run.since, strict=True)]
    return int(min([*(limit for limit in limits if limit != FOREVER), 20]))


@pytest.mark.parametrize("chunk", range(amount(2, 4)))
def test_random_runs_never_do_what_the_explorer_rules_out(chunk: int) -> None:
    ruled_out = steps = 0
    for seed in range(chunk * 25, (chunk + 1) * 25):
        drawn = sketch(seed)
        model = Model(drawn.parts)
        found = explore(model, [*map(as_test, drawn.goals), never], 2_000)
        if not found.complete:
            continue
        rng = Random(seed)
        never_met = [goal for goal, path in zip(drawn.goals, found.paths, strict=False) if path is None]
        ruled_out += len(never_met)
        for _ in range(6):
            run = Run(model)
            for _ in range(50):
                run.advance(rng.randint(0, left(run)))
                ready = run.possible()
                if ready:
                    before, position = run.situation, rng.choice(ready)
                    run.take(position, rng.randrange(len(expire(model, before, position))))
                    steps += 1
                    assert not any(goal(before, run.situation) for goal in never_met), f"seed {seed}"
    assert ruled_out >= 10
    assert steps >= 1_000


def test_ten_at_once_is_ten_times_one() -> None:
    refused = passed = 0
    for seed in range(80):
        model = Model(sketch(seed, scale=7).parts)
        rng = Random(seed)
        one, ten = Run(model), Run(model)
        for _ in range(25):
            if left(one) < 10:
                refused += 1
                with pytest.raises(CannotHappen):
                    one.advance(10)
                assert one.now == ten.now, "a refused step changes nothing"
                for _ in range(left(ten)):
                    ten.advance(1)
                with pytest.raises(CannotHappen):
                    ten.advance(1)
                one, ten = Run(model), Run(model)
                continue
            one.advance(10)
            for _ in range(10):
                ten.advance(1)
            passed += 1
            assert (one.now, one.since, one.situation, one.possible()) == (
                ten.now,
                ten.since,
                ten.situation,
                ten.possible(),
            )
            if one.possible():
                position = rng.choice(one.possible())
                assert one.take(position, 0) == ten.take(position, 0)
    assert refused >= 20
    assert passed >= 200
