"""The space that an explorer goes through: situations by number, and the ways from each to others.

Explorations of one model that differ only in the intervals of some timers can share it: which steps there are doesn't hang
on intervals, only which of them time allows.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from graphlib import CycleError, TopologicalSorter

from nudgeproof.engines.matrix import Expiry, Timing, Timings
from nudgeproof.model.step import Move, Test
from nudgeproof.model.step import expire as step
from nudgeproof.model.tables import Model, Situation, Timer


@dataclass(frozen=True, slots=True)
class Step:
    """One step of a path: in `situation` the timer at `position` among the armed ones expired, with outcome `move`."""

    situation: Situation
    position: int
    move: Move


@dataclass(slots=True)
class Way:
    """A move with what the explorer needs at each use, computed once for each situation."""

    target: int
    expiry: Expiry
    move: Move
    actions: int
    chatter: int
    meets: tuple[int, ...]


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
        self.armed: list[tuple[tuple[int, Timer], ...]] = []
        self.ways: list[list[tuple[Way, ...] | None]] = []
        self.arming: list[tuple[int, Way]] = []
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
            self.armed.append(self.model.armed(situation))
            self.ways.append([None] * len(self.armed[-1]))
        return number

    def ways_from(self, number: int, position: int) -> tuple[Way, ...]:
        """All moves when the timer at `position` expires in situation `number`."""
        known = self.ways[number][position]
        if known is not None:
            return known
        situation = self.situations[number]
        part, timer = self.armed[number][position]
        if timer.hi == 0 or part in self.retimed:
            self.brief.append((number, position))
        model, tests, avoid = self.model, self.tests, self.avoid
        found = []
        for move in step(model, situation, position):
            if avoid is not None and avoid(model, situation, move):
                continue
            target = self.enter(move.situation)
            meets = tuple([i for i, test in enumerate(tests) if test(model, situation, move)])
            way = Way(target, self._expiry(position, move), move, move.actions, move.chatter, meets)
            found.append(way)
            if self.retimed and any(part in self.retimed for part, _ in move.timers):
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

    def _note_timeless(self, number: int, position: int, ways: tuple[Way, ...]) -> None:
        """Note where a step leads that takes no time, or may take none once its timer is given another interval."""
        (expires,) = self._timers((self.armed[number][position],))
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

    def find_stuck(self) -> tuple[Situation, ...]:
        """A cycle along expiries that allow no time to pass, as far as was explored.

        Such a timer has nothing left from the moment it is armed, so it can always be the first to expire: a cycle of them
        in the graph is one in time as well.
        """
        try:
            TopologicalSorter(self.timeless).prepare()
        except CycleError as error:
            return tuple(self.situations[number] for number in error.args[1][:-1])
        return ()
