"""A space that is explored again: with other intervals it says what a fresh one says, and looks only for what is wanted."""

from __future__ import annotations

from nudgeproof.engines.explore import explore_space
from nudgeproof.engines.space import Space
from nudgeproof.model.step import Move, Test
from nudgeproof.model.tables import Choice, Local, Model, Part, Reads, Situation, Timer
from nudgeproof.units import Bound

BUDGET = 1_000


def counter(name: str, lo: int, hi: Bound, most: int) -> Part:
    """Counts round up to `most` and begins again, a step each time its timer expires."""

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        return (Timer("ticks", lo, hi),)

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        assert isinstance(local, int)
        return (Choice((local + 1) % most, actions=1),)

    return Part(name, "device", 0, publishes=(name,), shown=lambda local: (local,), armed=armed, expired=expired)


def ahead(slow: int, fast: int) -> Test:
    """Steps after which `slow` and `fast` are so far."""

    def test(model: Model, before: Situation, move: Move) -> bool:
        return (model.value(move.situation, "slow"), model.value(move.situation, "fast")) == (slow, fast)

    return test


def to(lo: int, hi: Bound) -> object:
    return lambda part, timer: Timer(timer.name, lo, hi) if part == 1 else timer


def space(lo: int, hi: Bound) -> Space:
    model = Model((counter("slow", 5, 5, 4), counter("fast", lo, hi, 4)))
    return Space(model, [ahead(slow, fast) for slow in range(4) for fast in range(4)], retimed=(1,))


def test_going_round_without_time_is_told_after_intervals_were_changed_and_changed_back() -> None:
    shared = space(0, 0)
    assert explore_space(shared, BUDGET).stuck
    shared.retime(to(2, 3))  # type: ignore[arg-type]
    assert not explore_space(shared, BUDGET).stuck
    shared.retime(to(0, 0))  # type: ignore[arg-type]
    assert explore_space(shared, BUDGET).stuck


def test_with_other_intervals_a_shared_space_says_what_a_fresh_one_says() -> None:
    shared = space(1, 9)
    for lo, hi in ((1, 9), (2, 3), (5, 5), (12, 20), (2, 3), (0, 1)):
        shared.retime(to(lo, hi))  # type: ignore[arg-type]
        again, fresh = explore_space(shared, BUDGET), explore_space(space(lo, hi), BUDGET)
        assert [path is None for path in again.paths] == [path is None for path in fresh.paths]
        assert again.classes == fresh.classes


def test_only_what_is_wanted_is_looked_for_and_found_as_before() -> None:
    everything = explore_space(space(5, 5), BUDGET)
    found = [i for i, path in enumerate(everything.paths) if path is not None]
    assert 2 < len(found) < len(everything.paths)
    for i in found:
        alone = explore_space(space(5, 5), BUDGET, wanted=[i])
        assert [j for j, path in enumerate(alone.paths) if path is not None] == [i]
        path, before = alone.paths[i], everything.paths[i]
        assert path is not None
        assert before is not None
        assert len(path) == len(before)
        assert alone.classes <= everything.classes
    missing = next(i for i, path in enumerate(everything.paths) if path is None)
    alone = explore_space(space(5, 5), BUDGET, wanted=[missing])
    assert alone.complete
    assert not any(alone.paths)
