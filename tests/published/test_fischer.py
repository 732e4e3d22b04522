"""Fischer's protocol for mutual exclusion: a verdict for every pair of limits.

n processes share one number. idle: if it is 0, request. Request: write the own index within k1. Wait: enter if the number is
still one's own and more than k2 has passed; if it is 0, request again. Bad: two inside at once.

Source of the algorithm: L. Lamport, "A fast mutual exclusion algorithm", ACM TOCS 5(1) 1987; the exact condition for each
pair of strict or closed limits is textbook knowledge, from memory, recomputed.

Strict limits: constants are multiplied by K, more than the number of timers plus one, and `x < k` becomes `x <= K k - 1`,
`x > k` becomes `x >= K k + 1`. The verdict must be the same for 2 K.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest

from nudgeproof.engines.explore import explore
from nudgeproof.engines.story import tell
from nudgeproof.model.step import Move
from nudgeproof.model.tables import Choice, Local, Model, Part, Reads, Situation, Timer
from nudgeproof.units import FOREVER
from tests.amount import amount
from tests.oracle.brute import Locals, search

BUDGET = 60_000
Condition = Callable[[int, int], bool]
GRID = ((1, 2), (2, 2), (2, 1), (2, 3), (3, 2))
SAFE: dict[tuple[str, str], Condition] = {
    ("<=", ">"): lambda k1, k2: k2 >= k1,
    ("<=", ">="): lambda k1, k2: k2 > k1,
    ("<", ">="): lambda k1, k2: k2 >= k1,
    ("<", ">"): lambda k1, k2: k2 >= k1,
}


def process(index: int, write_within: int, check_after: int) -> Part:
    """`waited` is `wait` once enough time has passed; it may last for ever, as waiting does in the original."""

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        free, own = reads["number"] == 0, reads["number"] == index
        match local:
            case "idle":
                return (Timer("requests", 0, FOREVER),) if free else ()
            case "request":
                return (Timer("writes", 0, write_within),)
            case "wait":
                again = (Timer("requests", 0, FOREVER),) if free else ()
                return (*again, Timer("has waited", check_after, check_after))
            case "waited":
                enter = (Timer("enters", 0, FOREVER),) if own else ()
                return (Timer("requests", 0, FOREVER),) if free else enter
        return (Timer("leaves", 0, FOREVER),)

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        match timer:
            case "requests":
                return (Choice("request"),)
            case "writes":
                return (Choice("wait", (f"write {index}",)),)
            case "has waited":
                return (Choice("waited"),)
            case "enters":
                return (Choice("inside"),)
        return (Choice("idle", ("write 0",)),)

    return Part(
        name=f"process {index}",
        role="device",
        start="idle",
        reads=("number",),
        armed=armed,
        expired=expired,
        sends=(f"write {index}", "write 0"),
    )


def number(n: int) -> Part:
    return Part(
        name="number",
        role="device",
        start=0,
        publishes=("number",),
        shown=lambda local: (local,),
        takes={f"write {i}": () for i in range(n + 1)},
        heard=lambda local, signal, reads: (Choice(int(signal.removeprefix("write "))),),
    )


def protocol(n: int, write: str, k1: int, check: str, k2: int, scale: int) -> tuple[Part, ...]:
    within = scale * k1 - (write == "<")
    after = scale * k2 + (check == ">")
    return (*(process(i, within, after) for i in range(1, n + 1)), number(n))


def two_inside(before: Locals, after: Locals) -> bool:
    return after.count("inside") >= 2


def bad(model: Model, before: Situation, move: Move) -> bool:
    return two_inside(before, move.situation)


def is_safe(parts: tuple[Part, ...]) -> bool:
    model = Model(parts)
    found = explore(model, [bad], BUDGET)
    (path,) = found.paths
    assert found.complete or path is not None, "the budget is too small"
    assert not found.stuck
    if path is not None:
        assert tell(model, path).beats[-1].after.count("inside") == 2
    return path is None


@pytest.mark.parametrize("pair", SAFE, ids=lambda pair: f"write {pair[0]} check {pair[1]}")
@pytest.mark.parametrize("n", [2, 3])
def test_safe_exactly_when_published(n: int, pair: tuple[str, str]) -> None:
    """Safe iff k2 >= k1, but k2 > k1 when both limits are closed (Lamport 1987; condition from memory)."""
    for k1, k2 in GRID:
        for scale in (8, 16):
            parts = protocol(n, pair[0], k1, pair[1], k2, scale)
            assert is_safe(parts) == SAFE[pair](k1, k2), (k1, k2, scale)


@pytest.mark.parametrize("pair", SAFE, ids=lambda pair: f"write {pair[0]} check {pair[1]}")
@pytest.mark.parametrize("n", amount((4,), (4, 5)))
def test_more_processes_change_no_verdict(n: int, pair: tuple[str, str]) -> None:
    """The condition doesn't speak of n (Lamport 1987; from memory). A process has up to two timers, so K is 16 here."""
    for k1, k2 in GRID if n == 4 else ((2, 2),):
        assert is_safe(protocol(n, pair[0], k1, pair[1], k2, 16)) == SAFE[pair](k1, k2), (k1, k2)


def test_nor_do_six() -> None:
    """The pairs that differ, where they differ; `python -m tests.published.campaign` does all of six."""
    assert is_safe(protocol(6, "<=", 2, ">", 2, 16))
    assert not is_safe(protocol(6, "<=", 2, ">=", 2, 16))


def test_only_one_cell_tells_the_pairs_apart() -> None:
    """On this grid only (2, 2) differs, and only with both limits closed; so the check above is about strictness."""
    verdicts = {pair: [safe(k1, k2) for k1, k2 in GRID] for pair, safe in SAFE.items()}
    assert verdicts["<=", ">="] == [True, False, False, True, False]
    assert {tuple(row) for pair, row in verdicts.items() if pair != ("<=", ">=")} == {(True, True, False, True, False)}


@pytest.mark.parametrize(("k1", "k2"), GRID)
@pytest.mark.parametrize("n", [2, 3])
def test_whole_units_give_the_same_verdict(n: int, k1: int, k2: int) -> None:
    """All limits closed: integer time and classes agree (Henzinger, Manna, Pnueli, ICALP 1992; from memory)."""
    parts = protocol(n, "<=", k1, ">=", k2, 1)
    answer = search(parts, [two_inside], 60_000)
    assert (answer.costs[0] is None) == is_safe(parts) == (k2 > k1)


@pytest.mark.parametrize("pair", SAFE, ids=lambda pair: f"write {pair[0]} check {pair[1]}")
def test_whole_units_of_the_scaled_protocol(pair: tuple[str, str]) -> None:
    """Two processes, scaled, also by integer steps: with strict limits the same verdicts as the explorer gives."""
    for k1, k2 in ((2, 2), (2, 1), (1, 2)):
        parts = protocol(2, pair[0], k1, pair[1], k2, 6)
        assert (search(parts, [two_inside], 60_000).costs[0] is None) == SAFE[pair](k1, k2)
