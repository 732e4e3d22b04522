"""The explorer: every order and every timing, cheapest stories first.

A *class* is a situation with a canonical matrix over its armed timers: a whole set of timings at once. Starting from the
first class, classes are taken in the order of (actions, chatter edges, steps, when found). A class is dropped when one taken
earlier in the same situation includes it: that one cost no more, and whatever the dropped one can do it can do too, so for
the question "can this be reached?" nothing is lost and the first story found is of least cost, even if the budget ends
later. To tell so, the largest of those taken are enough: what another of them would include one of the largest includes.

Classes with inclusion answer reachability and nothing else; every question that is asked of this module must be one.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from graphlib import CycleError, TopologicalSorter
from heapq import heappop, heappush

from nudgeproof.engines.matrix import Expiry, Matrix, Timing, Timings, add
from nudgeproof.model.step import Move, Test
from nudgeproof.model.step import expire as step
from nudgeproof.model.tables import Model, Situation, Timer

PROGRESS_EVERY = 2_000


@dataclass(frozen=True, slots=True)
class Step:
    """One step of a path: in `situation` the timer at `position` among the armed ones expired, with outcome `move`."""

    situation: Situation
    position: int
    move: Move


@dataclass(frozen=True, slots=True)
class Exploration:
    """What was found.

    `paths[i]`: for goal i a path of least cost whose last step meets it, or None. `complete`: every class was looked at, so
    None means that it can't happen. `classes`: how many were kept. `stuck`: situations that must go round without time
    passing, since their timers leave none; then absence proves nothing. `kept`: if asked for, the largest classes by
    situation, such that one of them includes each of the others.
    """

    paths: tuple[tuple[Step, ...] | None, ...]
    complete: bool
    classes: int
    situations: int
    stuck: tuple[Situation, ...]
    kept: tuple[tuple[Situation, tuple[Matrix, ...]], ...] = ()


@dataclass(slots=True)
class _Way:
    """A move with what the explorer needs at each use, computed once for each situation."""

    target: int
    expiry: Expiry
    move: Move
    actions: int
    chatter: int
    meets: tuple[int, ...]


_Cost = tuple[int, int, int]
_Found = tuple[int, Timing, int, int, _Way | None]
"""A class that waits: situation, timing, and whence: the class before, the timer that expired there, the way."""

Retime = Callable[[int, Timer], Timer]
"""Another interval for a timer, given the position of its part; the same name."""


class Space:
    """Situations by number, and their moves; explorations that differ only in intervals of some parts' timers can share it.

    `retimed`: the positions of those parts.
    """

    def __init__(
        self,
        model: Model,
        tests: Sequence[Test],
        avoid: Test | None = None,
        timings: Timings | None = None,
        retimed: Collection[int] = (),
    ) -> None:
        self.model, self.tests, self.avoid, self.retimed = model, tests, avoid, retimed
        self.timings = Timings() if timings is None else timings
        self.change: Retime | None = None
        self.number: dict[Situation, int] = {}
        self.situations: list[Situation] = []
        self.ways: list[list[tuple[_Way, ...] | None]] = []
        self.arming: list[tuple[int, _Way]] = []
        self.brief: list[tuple[int, int]] = []
        self.timeless: dict[int, set[int]] = {}

    def begin(self) -> tuple[int, Timing]:
        """The number of the first situation, and its timing."""
        return self.enter(self.model.start), self.timings.fresh(self._timers(self.model.armed(self.model.start)))

    def enter(self, situation: Situation) -> int:
        """The number of a situation, new or known."""
        number = self.number.get(situation)
        if number is None:
            number = self.number[situation] = len(self.situations)
            self.situations.append(situation)
            self.ways.append([None] * len(self.model.armed(situation)))
        return number

    def ways_from(self, number: int, position: int) -> tuple[_Way, ...]:
        """All moves when the timer at `position` expires in situation `number`."""
        known = self.ways[number][position]
        if known is not None:
            return known
        situation = self.situations[number]
        part, timer = self.model.armed(situation)[position]
        if timer.hi == 0 or part in self.retimed:
            self.brief.append((number, position))
        found = []
        for move in step(self.model, situation, position):
            if self.avoid is not None and self.avoid(self.model, situation, move):
                continue
            target = self.enter(move.situation)
            meets = tuple(i for i, test in enumerate(self.tests) if test(self.model, situation, move))
            way = _Way(target, self._expiry(position, move), move, move.actions, move.chatter, meets)
            found.append(way)
            if any(part in self.retimed for part, _ in move.timers):
                self.arming.append((position, way))
        ways = self.ways[number][position] = tuple(found)
        self._note_timeless(number, position, ways)
        return ways

    def retime(self, change: Retime) -> None:
        """Give timers of the `retimed` parts other intervals from now on; which steps there are must not hang on them."""
        self.change = change
        self.timeless.clear()
        for position, way in self.arming:
            way.expiry = self._expiry(position, way.move)
        for number, position in self.brief:
            self._note_timeless(number, position, self.ways[number][position] or ())

    def _note_timeless(self, number: int, position: int, ways: tuple[_Way, ...]) -> None:
        """Note where a step leads that takes no time, or may take none once its timer is given another interval."""
        armed = self.model.armed(self.situations[number])[position]
        (expires,) = self._timers((armed,))
        if expires.hi == 0:
            for way in ways:
                self.timeless.setdefault(number, set()).add(way.target)

    def _expiry(self, position: int, move: Move) -> Expiry:
        return self.timings.expiry(position, self._timers(move.timers), move.kept)

    def _timers(self, armed: tuple[tuple[int, Timer], ...]) -> tuple[Timer, ...]:
        change = self.change
        if change is None:
            return tuple([timer for _, timer in armed])
        return tuple([change(part, timer) for part, timer in armed])


def explore(
    model: Model,
    tests: Sequence[Test],
    budget: int,
    progress: Callable[[int], None] | None = None,
    avoid: Test | None = None,
    keep: bool = False,
    timings: Timings | None = None,
) -> Exploration:
    """Look for a step that meets each of `tests`, keeping at most `budget` classes.

    Steps that meet `avoid` are not followed: what is found is found without any of them. With `keep` the largest classes
    are handed out, as `engines.certificate` needs them. `timings` may be shared with other explorations; that only saves
    time. Ends when every test is met, when nothing is left to look at, or when the budget is spent. The result is the same
    on every machine. `progress` is called with the number of classes now and then.
    """
    return explore_space(Space(model, tests, avoid, timings), budget, progress, keep)


def explore_space(
    space: Space,
    budget: int,
    progress: Callable[[int], None] | None = None,
    keep: bool = False,
    wanted: Collection[int] | None = None,
) -> Exploration:
    """The same in a space that may have been explored before, with other intervals.

    `wanted`: which of its tests are looked for (all); the others get no path.
    """
    tests, timings = space.tests, space.timings
    first, timing = space.begin()
    trail: list[tuple[int, int, Move] | None] = []
    costs: list[_Cost] = [(0, 0, 0)]
    waiting: dict[_Cost, deque[_Found]] = {(0, 0, 0): deque([(first, timing, -1, -1, None)])}
    kept: dict[int, list[Matrix]] = {}
    cheapest: dict[tuple[int, Timing], _Cost] = {}
    ends: list[int | None] = [None if wanted is None or i in wanted else 0 for i in range(len(tests))]
    missing = ends.count(None)
    where: list[int] = []
    while costs and missing and len(trail) < budget:
        actions, chatter, steps = least = costs[0]
        number, timing, parent, position, way = waiting[least].popleft()
        if not waiting[least]:
            del waiting[heappop(costs)]
        met = [] if way is None else [i for i in way.meets if ends[i] is None]
        larger = add(timing.matrix, kept.get(number, ()))
        if larger is not None:
            kept[number] = larger
        elif not met:
            continue
        node = len(trail)
        trail.append(None if way is None else (parent, position, way.move))
        where.append(number)
        for i in met:
            ends[i] = node
            missing -= 1
        if progress is not None and node % PROGRESS_EVERY == PROGRESS_EVERY - 1:
            progress(node + 1)
        for at in timing.firsts:
            for onward in space.ways_from(number, at):
                later = timings.after(timing, onward.expiry)
                cost = (actions + onward.actions, chatter + onward.chatter, steps + 1)
                key = (onward.target, later)
                seen = cheapest.get(key)
                if seen is not None and seen <= cost and all(ends[i] is not None for i in onward.meets):
                    continue
                cheapest[key] = cost
                if cost not in waiting:
                    waiting[cost] = deque()
                    heappush(costs, cost)
                waiting[cost].append((onward.target, later, node, at, onward))
    complete = not costs
    return Exploration(
        paths=tuple(_path(space, where, trail, end) if end else None for end in ends),
        complete=complete,
        classes=len(trail),
        situations=len(space.situations),
        stuck=_find_stuck(space),
        kept=tuple((space.situations[i], tuple(matrices)) for i, matrices in kept.items()) if keep else (),
    )


def _path(space: Space, where: list[int], trail: list[tuple[int, int, Move] | None], end: int) -> tuple[Step, ...]:
    steps = []
    entry = trail[end]
    while entry is not None:
        parent, position, move = entry
        steps.append(Step(space.situations[where[parent]], position, move))
        entry = trail[parent]
    return tuple(reversed(steps))


def _find_stuck(space: Space) -> tuple[Situation, ...]:
    """A cycle along expiries that allow no time to pass.

    Such a timer has nothing left from the moment it is armed, so it can always be the first to expire: a cycle of them in
    the graph is one in time as well.
    """
    try:
        TopologicalSorter(space.timeless).prepare()
    except CycleError as error:
        return tuple(space.situations[number] for number in error.args[1][:-1])
    return ()
