"""What is measured of a firmware: ranges of times, how buttons are read, moves that mean something, what comes by itself."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

from nudgeproof.measuring.bench import Move, Picture
from nudgeproof.measuring.exploring import Explorer

BOUNCE_US: Final = 5_000
"""The chatter that a starter spec states; a guess."""


@dataclass(frozen=True, slots=True)
class Range:
    """From the least to the most that was met, in microseconds. `beyond`: even more was taken; it is what was tried."""

    lo: int
    hi: int
    beyond: bool = False

    def less(self, other: Range) -> Range:
        """What is left of it if the other one is taken off, whatever both are."""
        return Range(max(0, self.lo - other.hi), max(0, self.hi - other.lo), self.beyond)

    def joined(self, other: Range) -> Range:
        """A range of both."""
        return Range(min(self.lo, other.lo), max(self.hi, other.hi), self.beyond or other.beyond)


@dataclass(frozen=True, slots=True)
class Reader:
    """How a button is read. `closing`, `opening`: how long a level must last to be seen; None if nothing told.

    `deaf`: a first edge counts at once, and for this time no other one. `glitch_us`: by how much less than `closing` it may
    be since the last edge of chatter, as chatter may go unseen.
    """

    button: str
    closing: Range | None
    opening: Range | None
    deaf: Range | None = None
    glitch_us: int = 0

    @property
    def seen(self) -> Range:
        """How much later than its edge a level is taken, without chatter."""
        if self.deaf is not None:
            return Range(0, 0)
        both = [one for one in (self.closing, self.opening) if one is not None]
        if not both:
            return Range(0, 30_000)
        return both[0] if len(both) == 1 else both[0].joined(both[1])


@dataclass(frozen=True, slots=True)
class Fact:
    """A move that means something. `spots`: where. `acts_at`: `press`, `release`, `pause`, `threshold`, "" if unknown.

    `press`, `between`, `held`, `within`: limits as the firmware reads them; None where there is none, or it wasn't found.
    """

    move: Move
    spots: tuple[int, ...]
    acts_at: str
    press: Range | None = None
    between: Range | None = None
    held: Range | None = None
    within: Range | None = None


@dataclass(frozen=True, slots=True)
class Lapse:
    """What comes by itself in a spot: after which time, where it leads. `open_only`: anew with each press."""

    spot: int
    after: Range
    to: int
    open_only: bool = False
    hidden: bool = False


@dataclass(slots=True)
class Measured:
    """All that was found. `unmeasured`: what wasn't, and why, in words."""

    explorer: Explorer
    readers: list[Reader] = field(default_factory=list)
    facts: list[Fact] = field(default_factory=list)
    lapses: list[Lapse] = field(default_factory=list)
    goes_on: set[tuple[int, str]] = field(default_factory=set)
    """Moves (of a spot) upon which a time that runs goes on."""
    counts_on: set[str] = field(default_factory=set)
    """Buttons on which more taps than the most that mean something count as these."""
    waits_for: dict[str, int] = field(default_factory=dict)
    """Buttons on which so many taps do nothing, and are waited for all the same."""
    starting: tuple[Picture, Range] | None = None
    """Of a device that holds its own power: what it shows as it starts, and how long if it is left alone."""
    boot: Range | None = None
    held_counts: bool | None = None
    ready: Range | None = None
    wakers: tuple[str, ...] = ()
    """Which buttons and inputs wake it."""
    dozes: Range | None = None
    hold_up: Range | None = None
    writes: Range | None = None
    unmeasured: list[str] = field(default_factory=list)

    def reader(self, button: str) -> Reader:
        """How a button is read."""
        return next(one for one in self.readers if one.button == button)

    def lapse(self, spot: int) -> Lapse | None:
        """What comes by itself there."""
        return next((one for one in self.lapses if one.spot == spot), None)
