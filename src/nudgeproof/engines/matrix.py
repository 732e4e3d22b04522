"""Difference-bound matrices over the time left on armed timers.

A matrix for n timers is a flat tuple of (n+1)*(n+1) bounds; entry [i][j] bounds `t_i - t_j` from above, in whole
microseconds or `FOREVER`, where t_1..t_n are the times left until each timer expires and t_0 is 0. Every matrix here is
*canonical*: each bound is the tightest that follows from all. All bounds are closed.

The construction is that of state classes (B. Berthomieu and M. Diaz, "Modeling and verification of time dependent systems
using time Petri nets", IEEE Transactions on Software Engineering 17(3), 1991; from memory): after one timer has expired, the
time left on those that run on is measured from that moment. For closed bounds a step costs O(n^2) and stays canonical.

What follows from a matrix hangs on nothing but the matrix and the expiry. A device has many situations in which the same
timers run, so the same few matrices come up in all of them: `Timings` holds each once and computes each step once.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass
from math import isqrt
from operator import le

from nudgeproof.model.tables import Timer
from nudgeproof.units import Bound

Matrix = tuple[Bound, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Timing:
    """A matrix that was met, one object for equal ones.

    `lows[i]`: the bound on `-t_i` (i from 0 here) once any timer has expired first, the time measured from then on.
    `firsts`: positions, from 0, of the timers that can be the first to expire, ties included.
    """

    matrix: Matrix
    lows: tuple[Bound, ...]
    firsts: tuple[int, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Expiry:
    """The timer at `position` (from 0) expires first and others are armed; one object for equal ones.

    `armed`: for each timer armed afterwards the position of the one that it continues, -1 if it is armed anew, and its
    interval. `after`: what it makes of each timing, as far as it was asked.
    """

    position: int
    armed: tuple[tuple[int, int, Bound], ...]
    after: dict[Timing, Timing]


class Timings:
    """The matrices met so far and what follows from each. Explorations of any models can share one."""

    def __init__(self) -> None:
        self._met: dict[Matrix, Timing] = {}
        self._expiries: dict[Hashable, Expiry] = {}

    def fresh(self, timers: Sequence[Timer]) -> Timing:
        """The timing when all of `timers` have just been armed."""
        nothing = Timing((0,), (), ())
        return self._meet(_expire(nothing, 0, tuple([(-1, timer.lo, timer.hi) for timer in timers])), len(timers))

    def expiry(self, position: int, timers: Sequence[Timer], kept: Sequence[int]) -> Expiry:
        """The expiry of the timer at `position`; `timers` are armed afterwards, `kept[i]` as in `Move`."""
        # Of a timer that runs on the matrix knows the bounds, whatever its interval was.
        armed = tuple([(k, 0, 0) if k >= 0 else (k, timer.lo, timer.hi) for timer, k in zip(timers, kept, strict=True)])
        known = self._expiries.get((position, armed))
        if known is None:
            known = self._expiries[position, armed] = Expiry(position, armed, {})
        return known

    def after(self, timing: Timing, expiry: Expiry) -> Timing:
        """What follows; the caller has made sure that the timer is one of `timing.firsts`."""
        later = expiry.after.get(timing)
        if later is None:
            later = self._meet(_expire(timing, expiry.position, expiry.armed), len(expiry.armed))
            expiry.after[timing] = later
        return later

    def forget(self) -> None:
        """Forget what follows from each matrix, where those met won't come again; expiries and timings in use stay right."""
        self._met.clear()
        for expiry in self._expiries.values():
            expiry.after.clear()

    def meet(self, matrix: Matrix) -> Timing:
        """The timing of a canonical matrix."""
        return self._meet(matrix, isqrt(len(matrix)) - 1)

    def _meet(self, matrix: Matrix, n: int) -> Timing:
        timing = self._met.get(matrix)
        if timing is None:
            width = n + 1
            lows = tuple([min(matrix[width + i :: width]) for i in range(1, width)])
            # The bound on t_i - t_i is 0, so that is the least where no other timer must come before.
            firsts = tuple([i for i, low in enumerate(lows) if low >= 0])
            timing = self._met[matrix] = Timing(matrix, lows, firsts)
        return timing


def _expire(timing: Timing, first: int, armed: Sequence[tuple[int, int, Bound]]) -> Matrix:
    """The matrix after the timer at `first` expired: timers that run on with their bounds, new ones with their interval."""
    matrix, lows = timing.matrix, timing.lows
    width = len(lows) + 1
    highs = matrix[width + first + 1 :: width]
    low = [lows[k] if k >= 0 else -lo for k, lo, _ in armed]
    running = [(j, k + 1) for j, (k, _, _) in enumerate(armed) if k >= 0]
    entries: list[Bound] = [0, *low]
    for i, (k, _, hi) in enumerate(armed):
        high = highs[k] if k >= 0 else hi
        row: list[Bound] = [high + bound for bound in low]
        if k >= 0:
            start = (k + 1) * width
            for j, other in running:
                difference = matrix[start + other]
                if difference < row[j]:
                    row[j] = difference
        row[i] = 0
        entries.append(high)
        entries += row
    return tuple(entries)


def includes(big: Matrix, small: Matrix) -> bool:
    """Whether every valuation of `small` is one of `big` (both canonical, over the same timers)."""
    return all(map(le, small, big))


def smaller(matrix: Matrix, others: Iterable[Matrix]) -> list[Matrix] | None:
    """Those of `others` that `matrix` includes; None if one of them includes it."""
    included = []
    for other in others:
        # No bound of the smaller one may be larger: the first that differs says which can include which.
        if matrix <= other:
            if includes(other, matrix):
                return None
        elif includes(matrix, other):
            included.append(other)
    return included


def join(one: Matrix, other: Matrix) -> Matrix | None:
    """The canonical matrix of exactly what is in either of two (canonical, over the same timers); None if there is none.

    It can only be the least one around both. What that has beyond `one` lies beyond a bound of it: each such piece must be
    in `other`. (A piece is open there; `other` is closed, so it includes the closure just if it includes the piece.)
    """
    around = tuple(map(max, one, other))
    mine = [i for i, (a, b) in enumerate(zip(one, around, strict=True)) if a < b]
    others = [i for i, (a, b) in enumerate(zip(other, around, strict=True)) if a < b]
    if len(others) < len(mine):
        one, other, mine, others = other, one, others, mine
    width = isqrt(len(one))
    for at in mine:
        # Beyond t_i - t_j <= bound, so t_j - t_i <= -bound.
        i, j = divmod(at, width)
        beyond = -one[at]
        for bound in others:
            p, q = divmod(bound, width)
            if around[p * width + j] + beyond + around[i * width + q] > other[bound]:
                return None
    return around
