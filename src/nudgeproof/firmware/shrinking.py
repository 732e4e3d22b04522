"""A list of acts made as short as can be while something still happens: fewer acts first, then shorter times.

Only the question is asked anew each time, so it doesn't matter what is asked: a refusal by the monitor, a crash.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace

from nudgeproof.firmware.acts import Act, Acts

Fails = Callable[[Acts, int], int | None]
"""When what is looked for happens by these acts, with that end of the recording; None if it doesn't."""

MOST = 600
"""Most times that is asked."""

_AFTER_US = 1_000
_SHORTEST_US = 20
_NARROW_US = 1_000


@dataclass(frozen=True, slots=True)
class Shrunk:
    """What is left, and when it happens. `is_least`: no act can be taken away, each was tried; else `MOST` was too few."""

    acts: Acts
    end_us: int
    at_us: int
    is_least: bool


class _Enough(Exception):
    pass


@dataclass(slots=True)
class _Shrinker:
    acts: Acts
    end_us: int
    at_us: int
    fails: Fails
    left: int
    known: set[tuple[Acts, int]] = field(default_factory=set)

    def take(self, acts: Acts, end_us: int) -> bool:
        """Go on with these acts if it still happens by them."""
        if (acts, end_us) in self.known:
            return False
        if not self.left:
            raise _Enough
        self.left -= 1
        self.known.add((acts, end_us))
        at = self.fails(acts, end_us)
        if at is None:
            return False
        self.acts, self.end_us, self.at_us = acts, end_us, at
        return True

    def drop(self) -> bool:
        """Take away as many acts as can be, many at once first."""
        dropped, size = False, max(1, len(self.acts) // 2)
        while True:
            gone, at = False, len(self.acts)
            while at > 0:
                at = max(0, at - size)
                gone |= self.take((*self.acts[:at], *self.acts[at + size :]), self.end_us)
            dropped |= gone
            if size == 1 and not gone:
                return dropped
            size = max(1, size // 2)

    def simplify(self) -> bool:
        """Less chatter, sooner, shorter."""
        simpler = False
        for i in range(len(self.acts)):
            for act in _calmer(self.acts[i]):
                if self.take((*self.acts[:i], act, *self.acts[i + 1 :]), self.end_us):
                    simpler = True
                    break
            simpler |= self._sooner(i)
            simpler |= self._shorter(i)
        last = max((act.end_us for act in self.acts), default=0)
        end = max(self.at_us, last) + _AFTER_US
        return (end < self.end_us and self.take(self.acts, end)) or simpler

    def _sooner(self, i: int) -> bool:
        """The act and all later ones come sooner."""
        before = max((act.end_us for act in self.acts[:i]), default=0)

        def try_by(by: int) -> bool:
            later = tuple(replace(act, at_us=act.at_us - by) for act in self.acts[i:])
            return self.take((*self.acts[:i], *later), self.end_us - by)

        return _reduce(self.acts[i].at_us - before, try_by)

    def _shorter(self, i: int) -> bool:
        """The act takes less time, and all that come after it come sooner by as much."""

        def try_by(by: int) -> bool:
            act = self.acts[i]
            end = act.at_us + act.lasts_us
            later = (replace(a, at_us=a.at_us - by) if a.at_us >= end else a for a in self.acts[i + 1 :])
            shorter = replace(act, lasts_us=act.lasts_us - by)
            return self.take((*self.acts[:i], shorter, *later), self.end_us - by)

        return _reduce(self.acts[i].lasts_us - _SHORTEST_US, try_by)


def _reduce(amount: int, try_by: Callable[[int], bool]) -> bool:
    """Take off what can be taken off `amount`: all of it, else by halves, each a whole number of ms."""
    if amount <= 0:
        return False
    if try_by(amount):
        return True
    less, low, high = False, 0, amount
    while high - low > _NARROW_US:
        by = (high - low) // 2
        by -= by % _NARROW_US
        if by and try_by(by):
            less = True
            low += by
        else:
            high = low + max(by, _NARROW_US)
    return less


def _calmer(act: Act) -> Iterator[Act]:
    if act.closing or act.opening:
        yield replace(act, closing=(), opening=())
    if act.closing and act.opening:
        yield replace(act, closing=())
        yield replace(act, opening=())
    for i in range(0, len(act.closing) if len(act.closing) > 2 else 0, 2):
        yield replace(act, closing=act.closing[i : i + 2])
    for i in range(0, len(act.opening) if len(act.opening) > 2 else 0, 2):
        yield replace(act, opening=act.opening[i : i + 2])


def shrink(acts: Acts, end_us: int, at_us: int, fails: Fails, most: int = MOST) -> Shrunk:
    """Acts by which it happens at `at_us`, made shorter; what is given back is always something by which it did happen."""
    work = _Shrinker(acts, end_us, at_us, fails, most)
    is_least = False
    try:
        soon = tuple(act for act in acts if act.at_us <= at_us)
        work.take(soon, max(at_us, max((act.end_us for act in soon), default=0)) + _AFTER_US)
        work.drop()
        while work.simplify():
            work.known.clear()
            work.drop()
        is_least = True
    except _Enough:
        pass
    return Shrunk(work.acts, work.end_us, work.at_us, is_least)
