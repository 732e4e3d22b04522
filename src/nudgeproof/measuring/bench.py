"""A bench for measuring: moves made one after the other from power-up, and what the outputs show then.

A *picture* is what all outputs show at one moment: off, on, or on with gaps (blinking). A *move* is a few acts that belong
together: a tap, a hold, two taps. Everything is done from a first power-up with blank memory, so each run stands by itself.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import Final

from nudgeproof.firmware.acts import BUTTON, Act, Acts
from nudgeproof.firmware.performed import Perform, Performed

OFF, ON, BLINKS = 0, 1, 2
"""What an output shows; a rhythm of blinking is a number from `BLINKS` on."""

SETTLE_US: Final = 900_000
"""From one move to the next: longer than most firmwares wait for a further tap."""
LOOK_US: Final = 4_200_000
"""How long is looked what follows; blinking shows within it."""
TAP_US: Final = 150_000
GAP_US: Final = 130_000
LONG_US: Final = 12_000_000
"""The longest press that is tried."""
_GAP_MOST_US: Final = 2_100_000
_TURNS: Final = 4
_TOGETHER_US: Final = 300
"""Outputs that are written one after the other count as one change."""
_MOST_KEPT: Final = 20_000

Picture = tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Move:
    """Acts from 0 on, and how long they take. `kind`: `tap`, `hold`, `chord`, `event` or `wait`."""

    name: str
    kind: str
    acts: Acts
    length_us: int

    @property
    def last_press_us(self) -> int:
        """When its last contact closes."""
        return max((act.at_us for act in self.acts), default=0)


def presses(button: str, lengths: Sequence[int], gap_us: int = GAP_US) -> tuple[Acts, int]:
    """Presses of one button one after the other, and when the last one ends."""
    acts, now = [], 0
    for lasts in lengths:
        acts.append(Act(BUTTON, button, now, lasts))
        now += lasts + gap_us
    return tuple(acts), now - gap_us


def wait(us: int) -> Move:
    """Nothing is done for a time."""
    return Move("wait", "wait", (), us)


Word = tuple[Move, ...]


class Misbehaves(Exception):
    """The firmware misbehaved, by these acts; nothing can be measured of what crashes."""

    def __init__(self, performed: Performed, acts: Acts, end_us: int) -> None:
        super().__init__(performed.finding)
        self.performed, self.acts, self.end_us = performed, acts, end_us


class TooManyRuns(Exception):
    """The most runs that were to be made were made."""


@dataclass(frozen=True, slots=True)
class Trace:
    """What was seen: levels of outputs from the beginning, and each change; when it fell asleep and woke, where told."""

    first: tuple[int, ...]
    turns: tuple[tuple[int, int, int], ...]
    """When, which output, its level."""
    sleeps: tuple[tuple[int, bool], ...]
    end_us: int

    def pictures(self, since_us: int = 0) -> list[tuple[int, Picture]]:
        """The plain pictures from a moment on, each with when it came; the first one is that of the moment."""
        now = list(self.first)
        found: list[tuple[int, Picture]] = []
        for at, which, level in self.turns:
            if at > since_us and not found:
                found.append((since_us, tuple(now)))
            now[which] = level
            if at > since_us:
                if found[-1][0] > since_us and at - found[-1][0] <= _TOGETHER_US:
                    found[-1] = (found[-1][0], tuple(now))
                else:
                    found.append((at, tuple(now)))
        if not found:
            found.append((since_us, tuple(now)))
        kept = [found[0]]
        for at, picture in found[1:]:
            if picture != kept[-1][1]:
                kept.append((at, picture))
        return kept

    def sleeps_at(self, at_us: int) -> bool:
        """Whether the processor sleeps at a moment."""
        return next((asleep for at, asleep in reversed(self.sleeps) if at <= at_us), False)


@dataclass(slots=True)
class Bench:
    """The firmware with its wires. `asleep`: the column that shows the processor, or ""; `most`: the most runs.

    `rhythms`: ways of blinking that were met, as lengths of lit and dark; `gaps`: of each output its longest dark gap.
    """

    perform: Perform
    outputs: tuple[str, ...]
    buttons: tuple[str, ...]
    inputs: tuple[str, ...] = ()
    asleep: str = ""
    most: int = 12_000
    tick: Callable[[int], None] = lambda runs: None
    begin_us: int = 1_000_000
    runs: int = 0
    longest_us: int = 600_000_000
    rhythms: list[tuple[int, int]] = field(default_factory=list)
    gaps: dict[int, int] = field(default_factory=dict)
    _kept: dict[tuple[Acts, int], Trace] = field(default_factory=dict)

    def run(self, acts: Acts, end_us: int) -> Trace:
        """One run from power-up; raises `Misbehaves` and `TooManyRuns`."""
        acts = tuple(sorted(acts, key=lambda act: (act.at_us, act.kind, act.what)))
        known = self._kept.get((acts, end_us))
        if known is not None:
            return known
        if self.runs >= self.most:
            raise TooManyRuns
        self.runs += 1
        self.tick(self.runs)
        performed = self.perform(acts, end_us)
        if performed.finding:
            raise Misbehaves(performed, acts, end_us)
        recording = performed.recording
        index = {name: i for i, name in enumerate(self.outputs)}
        first = dict(recording.first)
        turns = tuple(
            (change.at_us, index[change.channel], int(change.level))
            for change in recording.changes
            if change.channel in index
        )
        sleeps = tuple((c.at_us, c.level) for c in recording.changes if c.channel == self.asleep)
        trace = Trace(tuple(int(first[name]) for name in self.outputs), turns, sleeps, recording.end_us)
        if len(self._kept) >= _MOST_KEPT:
            self._kept.clear()
        self._kept[acts, end_us] = trace
        return trace

    def place(self, word: Word, settle_us: int = SETTLE_US, shift_us: int = 0) -> tuple[Acts, int, list[int]]:
        """Acts of a word, when its last move has settled, and when each move begins."""
        now, acts, begins = self.begin_us + shift_us, list[Act](), []
        for move in word:
            begins.append(now)
            acts += [replace(act, at_us=act.at_us + now) for act in move.acts]
            now += move.length_us + (0 if move.kind == "wait" else settle_us)
        return tuple(acts), now, begins

    def follow(self, path: Word, word: Word, look_us: int = LOOK_US, settle_us: int = SETTLE_US) -> Answer:
        """What is seen from the end of a path on, while a word is done and then for a time."""
        _, begin, _ = self.place(path, settle_us)
        acts, end, _ = self.place((*path, *word), settle_us)
        trace = self.run(acts, end + look_us)
        return self.answer(trace, begin, end + look_us)

    def answer(self, trace: Trace, begin_us: int, end_us: int) -> Answer:
        """The pictures from a moment on, gaps of blinking passed over, and what the last one is."""
        self.learn_rhythms(trace, max(begin_us, end_us - LOOK_US))
        seen = [one for one in self.smooth(trace, begin_us) if one[0] < end_us]
        last = [*seen[-1][1]]
        for which in self.gaps:
            turns = [at for at, one, _ in trace.turns if one == which and end_us - LOOK_US < at <= end_us]
            if last[which] == ON and (rhythm := self._rhythm(turns)) is not None:
                last[which] = BLINKS + rhythm
        return Answer(tuple(picture for _, picture in seen), tuple(last), tuple(at - begin_us for at, _ in seen))

    def smooth(self, trace: Trace, begin_us: int) -> list[tuple[int, Picture]]:
        """The pictures from a moment on, where dark gaps of an output that blinks count as lit."""
        if not self.gaps:
            return trace.pictures(begin_us)
        turns: list[tuple[int, int, int]] = []
        for which in range(len(self.outputs)):
            own = [(at, level) for at, one, level in trace.turns if one == which]
            gap = self.gaps.get(which, 0)
            kept: list[tuple[int, int]] = []
            for at, level in own:
                if gap and level == ON and kept and kept[-1][1] == OFF and at - kept[-1][0] <= gap:
                    kept.pop()
                else:
                    kept.append((at, level))
            if gap and kept and kept[-1][1] == OFF and trace.end_us - kept[-1][0] <= gap:
                kept.pop()  # the recording may end in a gap
            turns += [(at, which, level) for at, level in kept]
        seen = replace(trace, turns=tuple(sorted(turns))).pictures(begin_us)
        shown = seen[:1]
        for at, picture in seen[1:]:
            before_at, before = shown[-1]
            late = [i for i, (a, b) in enumerate(zip(before, picture, strict=True)) if a != b]
            if len(shown) > 1 and all(picture[i] == ON and at - before_at <= self.gaps.get(i, 0) for i in late):
                shown[-1] = (before_at, picture)  # blinking may begin with a gap
            else:
                shown.append((at, picture))
        return shown

    def learn_rhythms(self, trace: Trace, since_us: int) -> None:
        """Note each output that goes on and off in one rhythm while nobody does anything, as from that moment on."""
        for which in range(len(self.outputs)):
            own = [(at, level) for at, one, level in trace.turns if one == which and at > since_us]
            for run in _regular(own):
                dark = max(b[0] - a[0] for a, b in pairwise(run) if a[1] == OFF)
                self.gaps[which] = max(self.gaps.get(which, 0), dark + dark // 5 + 2_000)

    def _rhythm(self, turns: list[int]) -> int | None:
        if len(turns) < _TURNS - 1:
            return None
        lengths = sorted((turns[-1] - turns[-2], turns[-2] - turns[-3]))
        own = (lengths[0], lengths[1])
        for number, known in enumerate(self.rhythms):
            if all(abs(a - b) <= max(4_000, b // 7) for a, b in zip(own, known, strict=True)):
                return number
        self.rhythms.append(own)
        return len(self.rhythms) - 1


def _regular(own: list[tuple[int, int]]) -> Iterator[list[tuple[int, int]]]:
    """Rows of changes in which each wait is as long as the one before the last."""
    run: list[tuple[int, int]] = []
    for turn in own:
        if len(run) >= 1 and turn[0] - run[-1][0] > _GAP_MOST_US:
            run = [turn]
            continue
        if len(run) >= 3:
            now, then = turn[0] - run[-1][0], run[-2][0] - run[-3][0]
            if abs(now - then) > max(3_000, then // 8):
                run = [*run[-1:], turn]
                continue
        run.append(turn)
        if len(run) > _TURNS:
            yield run[-_TURNS - 1 :]


@dataclass(frozen=True, slots=True)
class Answer:
    """What followed: pictures in their order, the last one with its blinking, and when each came."""

    pictures: tuple[Picture, ...]
    last: Picture
    at_us: tuple[int, ...] = field(compare=False, default=())
