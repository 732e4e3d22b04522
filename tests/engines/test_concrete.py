"""The concrete run: no step comes before its timer may expire, none after it must, and what runs on isn't begun anew."""

from __future__ import annotations

import pytest

from nudgeproof.engines.concrete import CannotHappen, Run
from nudgeproof.model.tables import Choice, Local, Model, Part, Reads, Timer


def lamp() -> Model:
    """One part counts to two, each time after 10 to 20 us; another one burns out after 25 to 30 us."""

    def tick(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        assert isinstance(local, int)
        return (Choice(local + 1), Choice(9))

    count = Part(
        "count", "device", 0,
        armed=lambda local, reads: (Timer("tick", 10, 20),) if local in (0, 1) else (), expired=tick,
    )  # fmt: skip
    burns = Part(
        "lamp", "device", "on",
        armed=lambda local, reads: (Timer("burns out", 25, 30),) if local == "on" else (),
        expired=lambda local, timer, reads: (Choice("off"),),
    )  # fmt: skip
    return Model((count, burns))


def after(*steps: tuple[int, int, int]) -> Run:
    """A run in which so much time passes and the timer at this position expires, with this outcome; again and again."""
    run = Run(lamp())
    for us, position, choice in steps:
        run.advance(us)
        run.take(position, choice)
    return run


@pytest.mark.parametrize("us", [10, 15, 20])
def test_a_timer_expires_within_its_interval(us: int) -> None:
    run = after((us, 0, 0))
    assert (run.now, run.situation, run.since) == (us, (1, "on"), (us, 0))


def test_nothing_expires_too_early() -> None:
    run = Run(lamp())
    run.advance(9)
    assert run.possible() == ()
    with pytest.raises(CannotHappen, match="can't expire at 9 us"):
        run.take(0, 0)
    run.advance(1)
    assert run.possible() == (0,)


def test_nothing_expires_too_late() -> None:
    run = Run(lamp())
    with pytest.raises(CannotHappen, match="expires before 21 us"):
        run.advance(21)
    run.advance(12)
    with pytest.raises(CannotHappen, match="expires before 21 us"):
        run.advance(9)
    run.advance(8)
    assert run.possible() == (0,)


def test_what_runs_on_keeps_its_beginning_and_what_begins_anew_does_not() -> None:
    run = after((20, 0, 0))
    with pytest.raises(CannotHappen, match="`burns out` expires before 31 us"):
        run.advance(11)
    run.advance(5)
    assert run.possible() == (1,), "the second tick began at 20 us"
    run.advance(5)
    assert run.possible() == (0, 1)
    assert after((20, 0, 0), (10, 1, 0), (10, 0, 0)).situation == (2, "off")


def test_time_does_not_run_backwards_and_there_are_no_other_outcomes() -> None:
    run = after((10, 0, 1))
    assert run.situation == (9, "on")
    with pytest.raises(CannotHappen, match="backwards"):
        run.advance(-1)
    for choice in (-1, 1):
        run = after((10, 0, 0))
        run.advance(15)
        with pytest.raises(CannotHappen, match="no outcome"):
            run.take(1, choice)
