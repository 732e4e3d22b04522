"""Questions that all measuring is made of: does this changed move still do what that one does, and from which value on?"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from typing import Final

from nudgeproof.firmware.acts import BUTTON, Act
from nudgeproof.measuring.bench import GAP_US, LOOK_US, TAP_US, Bench, Move, Picture, Word, presses, wait
from nudgeproof.measuring.exploring import Explorer, Spot
from nudgeproof.measuring.measured import Measured, Range

PHASES_US: Final = (0, 171, 389, 613, 5_807, 13_411)
"""By how much later all is done, so that a firmware that looks now and then is met at several moments."""
FEW: Final = 3
"""In so many phases what varies little is looked at."""
_RUNGS: Final = (2, 4, 8, 16, 32, 64)

Works = Callable[[Move, int], bool]
"""Whether such a move, so much later, is answered as the one it was made of."""


@dataclass(slots=True)
class Asker:
    """One device under measurement. `resolution_us`: how near each limit is found. `has_latch`: it holds its own power."""

    bench: Bench
    explorer: Explorer
    resolution_us: int = 1_000
    has_latch: bool = False
    done: Measured = field(init=False)

    def __post_init__(self) -> None:
        self.done = Measured(self.explorer)

    def note(self, text: str) -> None:
        """Something that wasn't measured, once."""
        if text not in self.done.unmeasured:
            self.done.unmeasured.append(text)

    def is_off(self, spot: Spot) -> bool:
        """Whether a device that holds its own power has none there; what a press does then begins with a start."""
        return self.has_latch and spot.picture == self.explorer.spots[0].picture

    def tell_apart(self, one: Word, *others: Word) -> Word | None:
        """A word that is answered otherwise after `one` than after each of the others; None if none of two moves is."""
        asked = [move for move in self.explorer.moves if move.name in self.explorer.useful]
        words: list[Word] = [(), *((one,) for one in asked), *((one, two) for one in asked for two in asked)]
        for word in words:
            own = self.bench.follow(one, word).pictures
            if all(self.bench.follow(other, word).pictures != own for other in others):
                return word
        return None

    def tester(self, spot: Spot, move: Move) -> Works | None:
        """How to ask whether a changed move still does what this one does; None if nothing tells.

        It must be told from nothing at all, and from its presses where they stand for themselves.
        """
        ex, edge = self.explorer, self.explorer.edges[spot.number, move.name]
        apart: dict[tuple[str, ...], int] = {}
        for row in ex.rows(move):
            for part in (row, *((name,) for name in row)):
                apart[part] = ex.along(spot.number, part)
        wanted = ex.seen_of(spot.path, move)[1]
        words = {row: (*(ex.move(name) for name in row),) for row in apart}
        alike = [row for row in apart if self.seen(spot, words[row]) == wanted]
        if edge.shows and all(apart[row] == edge.to for row in alike):
            return lambda one, shift: ex.seen_of(spot.path, one, shift)[1] == wanted
        others = [(*spot.path, *words[row]) for row in apart if apart[row] != edge.to]
        word = self.tell_apart((*spot.path, move), *([spot.path] if edge.to != spot.number else []), *others)
        if word is None:
            return None
        probe = word
        answer = self.bench.follow((*spot.path, move), probe).pictures
        return lambda one, shift: self.bench.follow((*spot.path, wait(shift), one), probe).pictures == answer

    def seen(self, spot: Spot, word: Word) -> tuple[Picture, ...]:
        """What is seen upon a word, from when it begins."""
        acts, end, begins = self.bench.place((*spot.path, *word))
        trace = self.bench.run(acts, end + LOOK_US)
        return tuple(picture for at, picture in self.bench.smooth(trace, begins[len(spot.path)])[1:] if at < end)

    def bisect(self, works: Callable[[int], bool], good: int, bad: int) -> tuple[int, int]:
        """The last value that works and the first that doesn't, no further apart than the resolution."""
        step = (
            min(self.resolution_us, max(20, abs(good - bad) // 64)) if abs(good - bad) < 64_000 else self.resolution_us
        )
        while abs(good - bad) > step:
            middle = (good + bad) // 2
            if works(middle):
                good = middle
            else:
                bad = middle
        return good, bad

    def limit(
        self, works: Callable[[int, int], bool], good: int, up_to: int, phases: int = len(PHASES_US)
    ) -> Range | None:
        """The range of a limit that lies above a value that works: (value, phase) works; None if the first doesn't."""
        if not works(good, 0):
            return None
        bad = next((good * rung for rung in _RUNGS if good * rung < up_to and not works(good * rung, 0)), up_to)
        if bad == up_to and works(up_to, 0):
            return Range(up_to, up_to, True)
        found: Range | None = None
        for shift in PHASES_US[:phases]:
            low, high = good, bad
            if found is not None:
                # Near what is known already, if it is there in this phase too.
                low = max(good, found.lo - 4 * self.resolution_us)
                high = min(bad, found.hi + 4 * self.resolution_us)
                low = low if works(low, shift) else good
                high = bad if works(high, shift) else high
            low, high = self.bisect(partial(in_phase, works, shift), low, high)
            found = Range(low, high) if found is None else found.joined(Range(low, high))
        return found

    def least(self, works: Callable[[int, int], bool], good: int) -> Range:
        """The range of the least value that works, below one that does."""
        found: Range | None = None
        for shift in PHASES_US:
            if works(60, shift):
                one = Range(0, 60)
            else:
                low = 60 if found is None or works(max(60, found.lo - 3_000), shift) else max(60, found.lo - 3_000)
                high = good if found is None or not works(found.hi + 3_000, shift) else found.hi + 3_000
                high, low = self.bisect(partial(in_phase, works, shift), high, low)
                one = Range(low, high)
            found = one if found is None else found.joined(one)
        assert found is not None
        return found


def row_of(button: str, lengths: list[int], gap_us: int) -> Move:
    """Presses of a button, as one move."""
    acts, length = presses(button, [max(1, us) for us in lengths], gap_us)
    return Move("", "tap", acts, length)


def in_phase(works: Callable[[int, int], bool], shift: int, value: int) -> bool:
    """Whether a value works in one phase."""
    return works(value, shift)


def pressing(works: Works, button: str, lengths: list[int], which: int | None) -> Callable[[int, int], bool]:
    """Whether a row of presses works if press number `which` lasts some time; None: if all pauses do."""

    def ask(us: int, shift: int) -> bool:
        if which is None:
            return works(row_of(button, lengths, us), shift)
        return works(row_of(button, [*lengths[:which], us, *lengths[which + 1 :]], GAP_US), shift)

    return ask


def chord_of(a: str, b: str, apart_us: int) -> Move:
    """Two buttons, the second so much later."""
    acts = (Act(BUTTON, a, 0, TAP_US + apart_us), Act(BUTTON, b, apart_us, TAP_US))
    return Move("", "chord", acts, TAP_US + apart_us)
