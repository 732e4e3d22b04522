"""The whole class graph of a small model, without inclusion: every class with its matrix, in the order of finding."""

from __future__ import annotations

from dataclasses import dataclass

from nudgeproof.engines.matrix import Matrix, can_expire, expire, fresh
from nudgeproof.model.step import expire as step
from nudgeproof.model.tables import Model, Situation


@dataclass(frozen=True, slots=True)
class Graph:
    """`classes` from 0 on; `arrows`: (from, name of the timer that expires, to)."""

    classes: tuple[tuple[Situation, Matrix], ...]
    arrows: tuple[tuple[int, str, int], ...]


def class_graph(model: Model, most: int = 1_000) -> Graph:
    """All classes reachable; an assertion fails when there are more than `most`."""
    first = (model.start, fresh([timer for _, timer in model.armed(model.start)]))
    number = {first: 0}
    order = [first]
    arrows = []
    for source, (situation, matrix) in enumerate(order):
        armed = model.armed(situation)
        for position, (_, timer) in enumerate(armed):
            if can_expire(matrix, len(armed), position + 1):
                for move in step(model, situation, position):
                    timers = [t for _, t in move.timers]
                    later = (move.situation, expire(matrix, len(armed), position + 1, timers, move.kept))
                    if later not in number:
                        number[later] = len(order)
                        order.append(later)
                        assert len(order) <= most, "the class graph is larger than expected"
                    arrows.append((source, timer.name, number[later]))
    return Graph(tuple(order), tuple(arrows))


def rows(matrix: Matrix) -> list[list[int | float]]:
    """A flat matrix as a list of rows."""
    width = int(len(matrix) ** 0.5)
    return [list(matrix[i : i + width]) for i in range(0, len(matrix), width)]
