"""The times of a story as a linear programme, written anew and solved by a general solver.

Nothing of `engines.story` or of the explorer is used: what bounds a story's times is read off the tables, with the oracle's
own composition of steps, and `scipy.optimize` finds the best times. What a story is to obey, in words:

* a timer armed at one step and expired at a later one took a time within its interval; one that still runs hasn't
  outrun it; steps come one after another;
* the *room* of an action is what its time can be off: that much is kept from every bound with its time in it (the larger
  one, if it is between two actions). Bounds between times whose difference nothing can change keep none;
* first all actions get the same room, as much as there is, but no more than a hand can use; then each in turn more, if it
  can have a round share of what a hand can use, the largest shares first;
* half of that room is kept and the actions are put on the coarsest grid of 1, 2, 5 x 10^k us that allows it; then
  everything comes as soon as it may.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, linprog, milp

from nudgeproof.engines.story import Beat
from nudgeproof.model.tables import Part
from nudgeproof.units import FOREVER
from tests.oracle.brute import clocks, outcomes

HAND_US = 200_000
SHARES = (200_000, 100_000, 50_000, 20_000)
GRIDS = tuple(digit * 10**exponent for exponent in range(5, -1, -1) for digit in (5, 2, 1))
NEARLY = 1e-3
"""Times are whole microseconds of up to 2^34, which the solver meets to far less than this."""


@dataclass(frozen=True, slots=True)
class Bound:
    """Time `later` is at most `most` after time `earlier`; `most` may be negative. Time 0 is the beginning."""

    earlier: int
    later: int
    most: int


@dataclass(frozen=True, slots=True)
class Best:
    """What the programme found best: a common room, each action's own, the grid, and the sum of all times on it."""

    room_us: int
    rooms: dict[int, int]
    grid_us: int
    total_us: int


def bounds_of(parts: Sequence[Part], beats: Sequence[Beat]) -> list[Bound]:
    """All that bounds the times of a story's steps, by its beats' names alone."""
    now = tuple(part.start for part in parts)
    armed = clocks(parts, now)
    since = [0] * len(armed)
    found = []
    for number, beat in enumerate(beats, start=1):
        found.append(Bound(number, number - 1, 0))
        names = [(parts[part].name, timer.name) for part, timer in armed]
        position = names.index((beat.part, beat.timer))
        for (_, timer), begun in zip(armed, since, strict=True):
            if timer.hi != FOREVER:
                found.append(Bound(begun, number, int(timer.hi)))
        found.append(Bound(number, since[position], -armed[position][1].lo))
        outcome = outcomes(parts, now, position)[beat.choice]
        since = [number if old is None else since[old] for old in outcome.source]
        now, armed = outcome.after, outcome.clocks
    return found


def solve(bounds: Sequence[Bound], count: int, actions: Sequence[int], steps: int) -> Best:
    """The best times for these bounds over times 0 to count - 1, of which the first `steps` are a story's.

    An assertion fails if there are none.
    """
    loose = _loose(bounds, count)
    reckoned = [i for i, bound in enumerate(bounds) if loose[i] and {bound.earlier, bound.later} & set(actions)]
    room = _common_room(bounds, count, reckoned) if actions else 0
    rooms = dict.fromkeys(actions, room)
    for share in SHARES:
        for action in actions:
            more = {**rooms, action: share}
            if rooms[action] < share and _least(_less(bounds, loose, more), count) is not None:
                rooms = more
    kept = _less(bounds, loose, {action: own // 2 for action, own in rooms.items()})
    for grid in GRIDS:
        times = _least(kept, count, actions, grid)
        if times is not None:
            return Best(room, rooms, grid, sum(times[:steps]))
    raise AssertionError("no times at all")


def least_total(bounds: Sequence[Bound], count: int, steps: int) -> int:
    """The sum of the first `steps` times when everything comes as soon as it may."""
    times = _least(bounds, count)
    assert times is not None
    return sum(times[:steps])


def _rows(bounds: Sequence[Bound], count: int) -> np.ndarray:
    rows = np.zeros((len(bounds), count))
    for row, bound in zip(rows, bounds, strict=True):
        row[bound.later] += 1
        row[bound.earlier] -= 1
    return rows


def _limits(count: int) -> list[tuple[float, float | None]]:
    return [(0, 0), *[(0, None)] * (count - 1)]


def _loose(bounds: Sequence[Bound], count: int) -> list[bool]:
    """For each bound whether the difference of its two times can change at all.

    All slacks together are made as large as can be, none counted for more than 1, until those that had none can't get any:
    these bounds are equalities, and two times that equalities join can't change against each other.
    """
    rows = _rows(bounds, count)
    tight = list(range(len(bounds)))
    while tight:
        n = len(tight)
        slacks = np.zeros((len(bounds), n))
        slacks[tight, range(n)] = 1
        done = linprog(
            np.concatenate([np.zeros(count), -np.ones(n)]),
            A_ub=np.hstack([rows, slacks]),
            b_ub=[bound.most for bound in bounds],
            bounds=[*_limits(count), *[(0.0, 1.0)] * n],
            method="highs",
        )
        assert done.success, done.message
        still = [i for i, slack in zip(tight, done.x[count:], strict=True) if slack < NEARLY]
        if len(still) == n:
            break
        tight = still
    joined = list(range(count))
    for i in tight:
        one, other = joined[bounds[i].earlier], joined[bounds[i].later]
        joined = [one if group == other else group for group in joined]
    return [joined[bound.earlier] != joined[bound.later] for bound in bounds]


def _common_room(bounds: Sequence[Bound], count: int, reckoned: Sequence[int]) -> int:
    room = np.zeros((len(bounds), 1))
    room[list(reckoned)] = 1
    done = linprog(
        np.concatenate([np.zeros(count), [-1]]),
        A_ub=np.hstack([_rows(bounds, count), room]),
        b_ub=[bound.most for bound in bounds],
        bounds=[*_limits(count), (0, HAND_US)],
        method="highs",
    )
    assert done.success, done.message
    # With whole numbers in all bounds a whole room that is not larger than the best one can be had as well.
    return int(done.x[-1] + NEARLY)


def _less(bounds: Sequence[Bound], loose: Sequence[bool], rooms: dict[int, int]) -> list[Bound]:
    return [
        Bound(b.earlier, b.later, b.most - max(rooms.get(b.earlier, 0), rooms.get(b.later, 0))) if free else b
        for b, free in zip(bounds, loose, strict=True)
    ]


def _least(bounds: Sequence[Bound], count: int, on: Sequence[int] = (), grid: int = 1) -> list[int] | None:
    """The times of least sum, those in `on` being multiples of `grid`; None if no times suit.

    If two lists of times suit, so does the list of the earlier one of each. So no time is earlier in any other list.
    """
    most = [bound.most for bound in bounds]
    rows = _rows(bounds, count)
    scale = np.ones(count)
    if not on:
        done = linprog(np.ones(count), A_ub=rows, b_ub=most, bounds=_limits(count), method="highs")
    else:
        scale[list(on)] = grid
        whole = np.zeros(count)
        whole[list(on)] = 1
        top = np.full(count, np.inf)
        top[0] = 0
        done = milp(
            scale,
            constraints=LinearConstraint(rows * scale, ub=np.array(most)),
            bounds=Bounds(np.zeros(count), top),
            integrality=whole,
        )
    assert done.status in (0, 2), done.message
    return [round(at) for at in done.x * scale] if done.status == 0 else None
