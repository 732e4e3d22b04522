"""Two ways through a space: a *sweep*, which says soonest what can happen at all, and a *search* for stories of least cost.

Both take class after class and drop each that one taken earlier includes. In what order makes the difference: the sweep
takes them as they come up, and so meets the large ones early, of which few are enough; the search by (actions, chatter
edges, steps, when found), which takes many small ones before a large one that includes them.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from heapq import heappop, heappush

from nudgeproof.engines.matrix import Matrix, Timing, smaller
from nudgeproof.engines.space import Space, Step, Way

PROGRESS_EVERY = 2_000

Progress = Callable[[int], None]
_Entry = tuple[int, int, Way | None]
"""Whence a class came: the number of the class before, the position of the timer that expired there, the way."""
_BEGIN: _Entry = (-1, -1, None)


@dataclass(slots=True)
class Pass:
    """What a pass found so far.

    `ends`: for each test that was met, the step that first met it. `trail`: whence each class taken came, and `where`:
    its situation. `kept`: by situation the largest classes with their number. `complete`: none was left.
    """

    ends: dict[int, _Entry] = field(default_factory=dict)
    trail: list[_Entry] = field(default_factory=list)
    where: list[int] = field(default_factory=list)
    kept: dict[int, dict[Matrix, int]] = field(default_factory=dict)
    complete: bool = False

    def path(self, space: Space, test: int) -> tuple[Step, ...] | None:
        """The path to the step that met this test; None if none did."""
        steps = []
        parent, position, way = self.ends.get(test, _BEGIN)
        while way is not None:
            steps.append(Step(space.situations[self.where[parent]], position, way.move))
            parent, position, way = self.trail[parent]
        return tuple(reversed(steps)) if steps else None


def sweep(space: Space, tests: Sequence[int], budget: int, progress: Progress | None = None) -> Pass:
    """Take classes as they come up, at most `budget`, until each of `tests` was met or none is left.

    Where a class displaces smaller ones, what still waits after those is dropped: its own steps lead to as much or more.
    """
    found = Pass()
    timings, trail, where, kept, ends = space.timings, found.trail, found.where, found.kept, found.ends
    missing = set(tests)
    first = space.begin()
    waiting: deque[tuple[int, Timing]] = deque([first])
    whence: dict[tuple[int, Timing], _Entry] = {first: _BEGIN}
    displaced: set[int] = set()
    while waiting and missing and len(trail) < budget:
        number, timing = key = waiting.popleft()
        entry = whence[key]
        if entry[0] in displaced:
            continue
        others = kept.setdefault(number, {})
        less = smaller(timing.matrix, others)
        if less is None:
            continue
        displaced.update([others.pop(matrix) for matrix in less])
        node = others[timing.matrix] = len(trail)
        trail.append(entry)
        where.append(number)
        if progress is not None and node % PROGRESS_EVERY == PROGRESS_EVERY - 1:
            progress(node + 1)
        known = space.ways[number]
        for at in timing.firsts:
            for way in known[at] or space.ways_from(number, at):
                onward = (way.target, way.expiry.after.get(timing) or timings.after(timing, way.expiry))
                if onward not in whence:
                    waiting.append(onward)
                whence[onward] = here = (node, at, way)
                if way.meets and not missing.isdisjoint(way.meets):
                    ends.update((i, here) for i in way.meets if i in missing)
                    missing.difference_update(way.meets)
    found.complete = not waiting
    return found


_Cost = tuple[int, int, int]


def search(space: Space, tests: Sequence[int], budget: int, progress: Progress | None = None, before: int = 0) -> Pass:
    """Take classes by cost, at most `budget`, until each of `tests` was met with least cost or none is left.

    `before`: how many classes `progress` was told of already.
    """
    found = Pass()
    timings, trail, where, kept, ends = space.timings, found.trail, found.where, found.kept, found.ends
    missing = set(tests)
    costs: list[_Cost] = [(0, 0, 0)]
    waiting: dict[_Cost, deque[tuple[int, Timing, _Entry]]] = {(0, 0, 0): deque([(*space.begin(), _BEGIN)])}
    cheapest: dict[tuple[int, Timing], _Cost] = {}
    while costs and missing and len(trail) < budget:
        actions, chatter, steps = least = costs[0]
        number, timing, entry = waiting[least].popleft()
        if not waiting[least]:
            del waiting[heappop(costs)]
        met = [] if entry[2] is None else [i for i in entry[2].meets if i in missing]
        others = kept.setdefault(number, {})
        less = smaller(timing.matrix, others)
        if less is None and not met:
            continue
        node = len(trail)
        if less is not None:
            for matrix in less:
                del others[matrix]
            others[timing.matrix] = node
        trail.append(entry)
        where.append(number)
        ends.update((i, entry) for i in met)
        missing.difference_update(met)
        if progress is not None and node % PROGRESS_EVERY == PROGRESS_EVERY - 1:
            progress(before + node + 1)
        for at in timing.firsts:
            for way in space.ways_from(number, at):
                later = timings.after(timing, way.expiry)
                cost = (actions + way.actions, chatter + way.chatter, steps + 1)
                key = (way.target, later)
                seen = cheapest.get(key)
                if seen is not None and seen <= cost and missing.isdisjoint(way.meets):
                    continue
                cheapest[key] = cost
                if cost not in waiting:
                    waiting[cost] = deque()
                    heappush(costs, cost)
                waiting[cost].append((way.target, later, (node, at, way)))
    found.complete = not costs
    return found
