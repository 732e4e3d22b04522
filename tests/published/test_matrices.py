"""Matrices worked out elsewhere, reached here as classes of a model."""

from __future__ import annotations

import pytest

from nudgeproof.engines.matrix import Timings
from nudgeproof.model.tables import Choice, Model, ModelFault, Part, Timer
from nudgeproof.units import FOREVER, Bound, NotAQuantity, read_quantity
from tests.engines.classes import class_graph, rows
from tests.oracle.brute import search


def once(name: str, lo: int, hi: Bound, after: str | None = None) -> Part:
    """Burns down once, from the beginning or when the part `after` has."""
    return Part(
        name,
        "device",
        "on",
        publishes=(f"{name} is on",),
        shown=lambda local: (local == "on",),
        reads=() if after is None else (f"{after} is on",),
        armed=lambda local, reads: (Timer(name, lo, hi),) if local == "on" and not any(reads.values()) else (),
        expired=lambda local, timer, reads: (Choice("off"),),
    )


def tightest(bounds: list[list[Bound]]) -> list[list[Bound]]:
    """Floyd's and Warshall's closure, for comparison."""
    d = [row[:] for row in bounds]
    for k in range(len(d)):
        for row in d:
            for j in range(len(d)):
                row[j] = min(row[j], row[k] + d[k][j])
    return d


def test_tightening_over_three_clocks() -> None:
    """x < 20, y <= 20, y - x <= 10, x - y <= -10, z free: tightest is x <= 10, 10 <= y <= 20, y - x = 10.

    Source: the constraints of the example in J. Bengtsson, W. Yi, "Timed Automata: Semantics, Algorithms and Tools",
    LNCS 3098 (2004), section 4.1; from memory, closure recomputed. Here as times left: x = 10 and y = 20 are armed, f in
    [0,10] expires first, then z without an upper bound is armed. (x < 20 is written x <= 20; it is tightened away.)
    """
    model = Model((once("f", 0, 10), once("x", 10, 10), once("y", 20, 20), once("z", 0, FOREVER, after="f")))
    graph = class_graph(model)
    (number,) = {target for source, name, target in graph.arrows if (source, name) == (0, "f")}
    found = rows(graph.classes[number][1])
    assert found == [[0, 0, -10, 0], [10, 0, -10, 10], [20, 10, 0, 20], [FOREVER, FOREVER, FOREVER, 0]]
    free = FOREVER
    written: list[list[Bound]] = [[0, 0, 0, 0], [20, 0, -10, free], [20, 10, 0, free], [free, free, free, 0]]
    assert found == tightest(written)


def test_a_single_point() -> None:
    """{x <= 2, y >= 1, y - x <= -1} is the single point (2, 1). Source: plain arithmetic.

    Y = y + 1 in [2, 5] can expire before X in [0, 2] only if Y <= X, hence at 2 exactly, and X has nothing left; a third
    timer, 10 from the beginning, has 8 left.
    """
    model = Model((once("x", 0, 2), once("y", 2, 5), once("z", 10, 10)))
    graph = class_graph(model)
    (number,) = {target for source, name, target in graph.arrows if (source, name) == (0, "y")}
    assert rows(graph.classes[number][1]) == [[0, 0, -8], [0, 0, -8], [8, 8, 0]]


@pytest.mark.parametrize("scale", [5, 10])
def test_the_same_with_strict_limits_is_empty(scale: int) -> None:
    """{x < 2, y > 1, y - x <= -1} is empty. Source: plain arithmetic.

    Limits are closed here, so it can't be written as it stands: all constants are multiplied by more than the number of
    timers plus one and the strict ones moved by 1. Then y can't be the first.
    """
    model = Model((once("x", 0, 2 * scale - 1), once("y", 2 * scale + 1, 5 * scale), once("z", 10 * scale, 10 * scale)))
    graph = class_graph(model)
    assert {name for source, name, _ in graph.arrows if source == 0} == {"x"}
    assert Timings().fresh([timer for _, timer in model.armed(model.start)]).firsts == (0,)


def test_between_two_ticks() -> None:
    """The guard 0 < x < 1 can be met in dense time and not at whole units. Source: textbook negative control.

    So a strict limit must not be taken as it stands: a spec can't say it, a timer with an empty interval is refused,
    and after scaling both engines say yes.
    """
    with pytest.raises(NotAQuantity, match="strict limit"):
        read_quantity("< 1 ms")
    with pytest.raises(NotAQuantity, match="strict limit"):
        read_quantity("> 0 ms")
    inward = Model((once("x", 1, 0),))
    with pytest.raises(ModelFault, match="empty interval"):
        inward.armed(inward.start)
    for scale in (3, 6):
        parts = (once("x", 1, scale - 1),)
        assert search(parts, [lambda before, after: after == ("off",)]).costs == ((0, 0, 1),)
        assert len(class_graph(Model(parts)).classes) == 2
