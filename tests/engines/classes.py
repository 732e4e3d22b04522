"""The whole class graph of a small model, without inclusion: every class with its matrix, in the order of finding."""

from __future__ import annotations

from dataclasses import dataclass

from nudgeproof.engines.matrix import Matrix, Timings
from nudgeproof.model.step import expire as step
from nudgeproof.model.tables import Model, Situation


@dataclass(frozen=True, slots=True)
class Graph:
    """`classes` from 0 on; `arrows`: (from, name of the timer that expires, to)."""

    classes: tuple[tuple[Situation, Matrix], ...]
    arrows: tuple[tuple[int, str, int], ...]


def class_graph(model: Model, most: int = 1_000) -> Graph:
    """All classes reachable; an assertion fails when there are more than `most`."""
    timings = Timings()
    first = (model.start, timings.fresh([timer for _, timer in model.armed(model.start)]))
    number = {first: 0}
    order = [first]
    arrows = []
    for source, (situation, timing) in enumerate(order):
        for position in timing.firsts:
            for move in step(model, situation, position):
                timers = [timer for _, timer in move.timers]
                later = (move.situation, timings.after(timing, timings.expiry(position, timers, move.kept)))
                if later not in number:
                    number[later] = len(order)
                    order.append(later)
                    assert len(order) <= most, "the class graph is larger than expected"
                arrows.append((source, model.armed(situation)[position][1].name, number[later]))
    return Graph(tuple((situation, timing.matrix) for situation, timing in order), tuple(arrows))


def rows(matrix: Matrix) -> list[list[int | float]]:
    """A flat matrix as a list of rows."""
    width = int(len(matrix) ** 0.5)
    return [list(matrix[i : i + width]) for i in range(0, len(matrix), width)]
