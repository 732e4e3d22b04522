"""Time for the naive simulator: what runs at present, when it is over, and what was seen."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

from nudgeproof.units import Fixed, Span

Draw = Callable[[str, int, int, int], int]
"""Kind, which one, least and most: what it is this time. Of a time the instant at which it begins says which one, so that a
time which only one of two simulators begins changes no other; of a choice, how many of that kind there were before."""

Seen = tuple[int, str]
"""When, in microseconds, and what one could see."""


PARTS = 10**6
"""A share of a clock is drawn as how many millionths of a microsecond it takes for a microsecond."""


def draw_fixed(draw: Draw, one: Fixed, off_by: Fraction) -> int:
    """How long a time lasts of which the specimen has one value: the same at each call, rounded to a microsecond."""
    if not one.counted:
        return draw(f"specimen: {one.key} {one.lo} {one.hi}", 0, one.lo, one.hi)
    parts = draw("specimen: clock", 0, -int(-PARTS // (1 + off_by)), int(PARTS // (1 - off_by)))
    return one.lo * parts // PARTS


class Tie(Exception):
    """Two things fall on the same instant, so the rules allow any order; the message says which."""


class Clock:
    """What begins within one instant is drawn at its end, so that what is begun and dropped at once draws nothing."""

    def __init__(self, draw: Draw, off_by: Fraction) -> None:
        self.now = 0
        self.seen: list[Seen] = []
        self.timers: dict[str, tuple[int, Callable[[], None]]] = {}
        self._begun: dict[str, tuple[Span, Callable[[], None]]] = {}
        self._draw, self.off_by = draw, off_by
        self._count: dict[str, int] = {}

    def draw(self, kind: str, lo: int, hi: int) -> int:
        """What is chosen, not a time."""
        number = self._count.get(kind, 0)
        self._count[kind] = number + 1
        drawn = self._draw(kind, number, lo, hi)
        assert lo <= drawn <= hi
        return drawn

    def begin(self, kind: str, span: Span, then: Callable[[], None]) -> None:
        """Begin a time, anew if it was running."""
        self.timers.pop(kind, None)
        self._begun[kind] = (span, then)

    def is_running(self, kind: str) -> bool:
        return kind in self.timers or kind in self._begun

    def running(self, start: str = "") -> list[str]:
        """The kinds that run and begin so."""
        return [kind for kind in dict.fromkeys([*self.timers, *self._begun]) if kind.startswith(start)]

    def drop(self, kind: str) -> None:
        self.timers.pop(kind, None)
        self._begun.pop(kind, None)

    def drop_all(self, start: str = "") -> None:
        """Drop every time whose kind begins so."""
        for kind in self.running(start):
            self.drop(kind)

    def end_instant(self) -> None:
        for kind, (span, then) in self._begun.items():
            self.timers[kind] = (self.now + self.last(kind, span), then)
        self._begun.clear()

    def last(self, kind: str, span: Span) -> int:
        """How long a time that begins now lasts."""
        if span.of is None:
            drawn = self._draw(kind, self.now, span.lo, int(span.hi))
            assert span.lo <= drawn <= span.hi
            return drawn
        return draw_fixed(self._draw, span.of, self.off_by)

    def tell(self, what: str) -> None:
        self.seen.append((self.now, what))
