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

import math
from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from operator import le

from nudgeproof.model.tables import Timer
from nudgeproof.units import Bound

Matrix = tuple[Bound, ...]


def fresh(timers: Sequence[Timer]) -> Matrix:
    """The matrix when all of `timers` have just been armed."""
    return _assemble((), 0, timers, (-1,) * len(timers), (), ())


def can_expire(matrix: Matrix, n: int, first: int) -> bool:
    """Whether timer `first` (from 1) of `n` can be the first to expire, ties included."""
    width = n + 1
    column = matrix[width + first :: width]
    return min(column) >= 0


def expire(matrix: Matrix, n: int, first: int, timers: Sequence[Timer], kept: Sequence[int]) -> Matrix:
    """The matrix after timer `first` (from 1) of `n` expired first.

    `timers` are armed afterwards; `kept[i]` is the position (from 0) among the old ones of the one that `timers[i]`
    continues, -1 if it is armed anew. The caller has made sure that it can be the first.
    """
    width = n + 1
    highs = matrix[first::width]
    rows = [matrix[start : start + width] for start in range(width, width * width, width)]
    lows = tuple(map(min, *rows)) if n > 1 else rows[0]
    return _assemble(matrix, width, timers, kept, highs, lows)


def _assemble(
    matrix: Matrix,
    width: int,
    timers: Sequence[Timer],
    kept: Sequence[int],
    highs: Sequence[Bound],
    lows: Sequence[Bound],
) -> Matrix:
    """Join timers that run on (their bounds from `highs`, `lows`, `matrix`) and new ones (from their intervals)."""
    low = [lows[k + 1] if k >= 0 else -timer.lo for timer, k in zip(timers, kept, strict=True)]
    running = [(j, other) for j, other in enumerate(kept) if other >= 0]
    entries: list[Bound] = [0, *low]
    for i, (timer, k) in enumerate(zip(timers, kept, strict=True)):
        high = highs[k + 1] if k >= 0 else timer.hi
        row: list[Bound] = [high + bound for bound in low]
        if k >= 0:
            start = (k + 1) * width + 1
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
    # No bound may be larger, so the first that differs is smaller: most pairs are told apart by that alone.
    return small <= big and all(map(le, small, big))


@dataclass(frozen=True, slots=True, eq=False)
class Timing:
    """A matrix that was met, one object for equal ones: its bounds, and the positions (from 0) that can be the first."""

    bounds: Matrix
    firsts: tuple[int, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Expiry:
    """The timer at `position` (from 0) expires and `timers` are armed, see `expire`; one object for equal ones.

    `after`: what it makes of each timing, as far as it was asked.
    """

    position: int
    timers: tuple[Timer, ...]
    kept: tuple[int, ...]
    after: dict[Timing, Timing]


class Timings:
    """The matrices met so far and what follows from each. Explorations of any models can share one."""

    def __init__(self) -> None:
        self._met: dict[Matrix, Timing] = {}
        self._expiries: dict[Hashable, Expiry] = {}

    def fresh(self, timers: Sequence[Timer]) -> Timing:
        """The timing when all of `timers` have just been armed."""
        return self._meet(fresh(timers), len(timers))

    def expiry(self, position: int, timers: tuple[Timer, ...], kept: tuple[int, ...]) -> Expiry:
        """The expiry of the timer at `position`, with what is armed afterwards."""
        # Of a timer that runs on the matrix knows the bounds, whatever its interval was.
        armed = tuple([(timer.lo, timer.hi) if k < 0 else None for timer, k in zip(timers, kept, strict=True)])
        key = (position, armed, kept)
        known = self._expiries.get(key)
        if known is None:
            known = self._expiries[key] = Expiry(position, timers, kept, {})
        return known

    def after(self, timing: Timing, expiry: Expiry) -> Timing:
        """What follows; the caller has made sure that the timer can be the first."""
        later = expiry.after.get(timing)
        if later is None:
            matrix, n = timing.bounds, math.isqrt(len(timing.bounds)) - 1
            later = self._meet(expire(matrix, n, expiry.position + 1, expiry.timers, expiry.kept), len(expiry.timers))
            expiry.after[timing] = later
        return later

    def _meet(self, matrix: Matrix, n: int) -> Timing:
        timing = self._met.get(matrix)
        if timing is None:
            firsts = tuple([at for at in range(n) if can_expire(matrix, n, at + 1)])
            timing = self._met[matrix] = Timing(matrix, firsts)
        return timing
