"""The monitor: can the device of the spec do what was recorded?

It keeps all explanations that are still possible, as the explorer keeps what is reachable: classes, each a situation with a
canonical matrix over its timers, and drops each class that another one includes. Beside the device's timers each matrix has
the *ruler*, an exact timer that expires where the next recorded change may begin. It is armed anew only when it expires,
each time for an exact time, so that all windows are measured from the beginning of the recording and no error adds up. A
change that may come at some time in a window is a timer of its own until it came.

The recorded edges are moves of the model's recorder and lookout (see `parts.recorded`), at the moments that the course says.
Whatever the device may do between them is tried. When no class is left, no run of the device is what was recorded.
The method is state estimation over zones; the classes are those of `engines.matrix`, unchanged.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field

from nudgeproof.engines.matrix import Expiry, Matrix, Timing, Timings, smaller
from nudgeproof.engines.space import Space
from nudgeproof.firmware.course import Beat, Course
from nudgeproof.model.step import Move
from nudgeproof.model.tables import Model, Timer
from nudgeproof.parts.recorded import DEADLINES, LOOKOUT, RECORDER, REFUSED, late_lights

BUDGET = 20_000
"""Most classes looked at between two recorded changes."""

_FORGET_EVERY = 500
"""After so many recorded changes what follows from each matrix is forgotten: recorded times hardly ever come again."""

Key = tuple[tuple[str, ...], int]
"""The timers of changes whose window is open, in the order in which they opened; the number of the situation."""

Classes = dict[Key, dict[Matrix, Timing]]

Sure = dict[Key, frozenset[str]]


class TooMany(Exception):
    """The budget of classes is spent."""


@dataclass(frozen=True, slots=True)
class Death:
    """An explanation ended: a timer of the lookout refused what was recorded, between two moments at the latest."""

    timer: str
    earliest_us: int
    latest_us: int


@dataclass(frozen=True, slots=True)
class _Face:
    """What is armed in a situation: positions of the recording's timers by name, and of all others."""

    driven: dict[str, int]
    real: tuple[int, ...]
    timers: tuple[Timer, ...]


@dataclass(frozen=True, slots=True)
class Step:
    """One thing that may happen to the classes of a key. `move`: None if only a window opens."""

    key: Key
    expiry: Expiry
    move: Move | None
    refused: str


Ends = Callable[[Key, Step, Timing], bool]
"""Whether a step is not to be followed: (whence, the step, what it makes of the timing)."""


@dataclass(slots=True)
class Snapshot:
    """All classes after some beats; their rulers expire at `next_us`, when beat number `beat` begins.

    `sure`: what the chart says of the steps that were taken on every way to the classes of a key, if that is kept.
    """

    classes: Classes
    beat: int
    next_us: int
    sure: Sure = field(default_factory=dict)


@dataclass(slots=True)
class Explanations:
    """The classes that are left after each beat, and what becomes of them; see the head of this module.

    `deaths`: explanations that ended since the last beat. `most`: the most classes kept at a time; `taken`: looked at.
    `keeps_sure`: what was surely done is kept, too.
    """

    model: Model
    course: Course
    budget: int = BUDGET
    keeps_sure: bool = False
    timings: Timings = field(default_factory=Timings)
    deaths: list[Death] = field(default_factory=list)
    most: int = 0
    taken: int = 0
    space: Space = field(init=False)
    _faces: dict[int, _Face] = field(default_factory=dict)
    _steps: dict[tuple[Key, int], tuple[Step, ...]] = field(default_factory=dict)
    _recording: frozenset[int] = field(init=False)
    _device: int = field(init=False)

    def __post_init__(self) -> None:
        self.space = Space(self.model, ())
        self._device = self.model.index("device")
        self._recording = frozenset(self.model.index(name) for name in (RECORDER, LOOKOUT))

    def begin(self) -> Snapshot:
        """The one class in which a run begins."""
        number = self.space.enter(self.model.start)
        next_us = self.next_us(0)
        wait = next_us - self.course.begin_us
        timing = self.timings.fresh((Timer("ruler", wait, wait + self.course.slack_us), *self.face(number).timers))
        sure: Sure = {((), number): frozenset()} if self.keeps_sure else {}
        return Snapshot({((), number): {timing.matrix: timing}}, 0, next_us, sure)

    def next_us(self, beat: int) -> int:
        """When a beat begins; after the last one, when the recording ends."""
        beats = self.course.beats
        return beats[beat].opens_us if beat < len(beats) else max(self.course.end_us, beats[-1].at_us if beats else 0)

    def advance(
        self, before: Snapshot, passes_over: Callable[[Beat], bool] | None = None, ends: Ends | None = None
    ) -> Snapshot:
        """Everything that can happen up to the next beat, and that beat; raises `TooMany`.

        `passes_over`: at such beats nothing is done. Steps that `ends` is true of are not followed.
        """
        if before.beat % _FORGET_EVERY == _FORGET_EVERY - 1:
            self.timings = Timings()
            self._steps.clear()
        self.deaths.clear()
        number = before.beat
        beat = self.course.beats[number] if number < len(self.course.beats) else None
        skips = beat is None or (passes_over is not None and passes_over(beat))
        after = self.next_us(number + 1)
        wait = after - before.next_us
        out: Classes = {}
        surely = dict(before.sure)
        sure_then: Sure = {}
        rulers: dict[Key, tuple[Step, ...]] = {}

        def strike(key: Key, timing: Timing) -> None:
            """The ruler expires."""
            steps = rulers.get(key)
            if steps is None:
                steps = rulers[key] = self._strikes(key, None if skips else beat, number, wait)
            for step in steps:
                later = self.timings.after(timing, step.expiry)
                if step.refused and beat is not None:
                    self.deaths.append(Death(step.refused, beat.opens_us, beat.at_us))
                else:
                    _add(out, step.key, later)
                    if self.keeps_sure:
                        self._lessen(sure_then, step, surely[key])

        self._spread(before, strike, ends, surely)
        self.most = max(self.most, sum(map(len, out.values())))
        return Snapshot(out, number + 1, after, sure_then)

    def _lessen(self, sure: Sure, step: Step, before: frozenset[str]) -> bool:
        """What is sure behind a step is at most what was before, and the step; whether that takes something away."""
        told = () if step.move is None else (o.choice.says for o in step.move.taken if o.part == self._device)
        after = before.union(filter(None, told))
        known = sure.get(step.key)
        sure[step.key] = after if known is None else known & after
        return known is not None and sure[step.key] != known

    def _spread(self, before: Snapshot, strike: Callable[[Key, Timing], None], ends: Ends | None, surely: Sure) -> None:
        """All that can happen until the ruler expires, for which `strike` is called."""
        kept: Classes = {key: dict(timings) for key, timings in before.classes.items()}
        waiting = deque((key, timing) for key, timings in kept.items() for timing in timings.values())
        taken = 0
        while waiting:
            key, timing = waiting.popleft()
            if timing.matrix not in kept[key]:
                continue  # another one that came later includes it
            taken += 1
            if taken > self.budget:
                raise TooMany
            for at in timing.firsts:
                if at == 0:
                    strike(key, timing)
                    continue
                for step in self.steps(key, at):
                    later = self.timings.after(timing, step.expiry)
                    if step.refused:
                        left = ruler_left(later)
                        self.deaths.append(Death(step.refused, before.next_us - left[1], before.next_us - left[0]))
                    elif ends is None or not ends(key, step, later):
                        # What is less sure now than it was must be passed on, so all of the key is looked at again.
                        again = self.keeps_sure and self._lessen(surely, step, surely[key])
                        if _add(kept, step.key, later) or again:
                            waiting += (
                                [(step.key, one) for one in kept[step.key].values()] if again else [(step.key, later)]
                            )
        self.taken += taken

    def face(self, number: int) -> _Face:
        """What is armed in a situation."""
        known = self._faces.get(number)
        if known is None:
            driven, real = {}, []
            for position, (part, timer) in enumerate(self.space.armed[number]):
                if part in self._recording and not timer.name.startswith(DEADLINES):
                    driven[timer.name] = position
                else:
                    real.append(position)
            timers = tuple(self.space.armed[number][position][1] for position in real)
            known = self._faces[number] = _Face(driven, tuple(real), timers)
        return known

    def steps(self, key: Key, at: int) -> tuple[Step, ...]:
        """What may happen when the timer at `at`, not the ruler, expires."""
        known = self._steps.get((key, at))
        if known is None:
            pending, number = key
            face = self.face(number)
            if at > len(pending):
                known = tuple(self._moves(key, face.real[at - 1 - len(pending)], at, _KEEPS))
            elif pending[at - 1] in pending[: at - 1]:
                known = ()  # an earlier change of the same channel comes first
            else:
                known = tuple(self._moves(key, face.driven[pending[at - 1]], at, _KEEPS))
            self._steps[key, at] = known
        return known

    def _strikes(self, key: Key, beat: Beat | None, number: int, wait: int) -> tuple[Step, ...]:
        """What may happen when the ruler expires: a window opens, or where there is none the change is made."""
        pending, situation = key
        ruler = Timer("ruler", wait, wait)
        if beat is not None and self._is_at_once(number) and beat.timer not in pending:
            return tuple(self._moves(key, self.face(situation).driven[beat.timer], 0, ruler))
        timers, kept = [ruler], [-1]
        timers += [_KEEPS] * len(pending)
        kept += range(1, 1 + len(pending))
        if beat is not None:
            timers.append(Timer(beat.timer, 0, beat.at_us - beat.opens_us))
            kept.append(-1)
            pending = (*pending, beat.timer)
        face = self.face(situation)
        timers += face.timers
        kept += range(1 + len(key[0]), 1 + len(key[0]) + len(face.real))
        return (Step((pending, situation), self.timings.expiry(0, timers, kept), None, ""),)

    def _is_at_once(self, number: int) -> bool:
        """Whether a beat has one instant, and no other one begins there, which might come before."""
        beats = self.course.beats
        opens = beats[number].opens_us
        if beats[number].at_us != opens or (number + 1 < len(beats) and beats[number + 1].opens_us == opens):
            return False
        return number == 0 or beats[number - 1].opens_us != opens

    def _moves(self, key: Key, position: int, at: int, ruler: Timer) -> list[Step]:
        """The moves of the model when its timer at `position` expires, which is `at` in the matrix (0: at a strike)."""
        pending, number = key
        face = self.face(number)
        place = {p: 1 + len(pending) + i for i, p in enumerate(face.real)}
        left = [i for i in range(1, 1 + len(pending)) if i != at]
        after = tuple(pending[i - 1] for i in left)
        steps = []
        for way in self.space.ways_from(number, position):
            there = self.face(way.target)
            timers = [ruler, *([_KEEPS] * len(left)), *there.timers]
            kept = [-1 if at == 0 else 0, *left, *(place.get(way.move.kept[q], -1) for q in there.real)]
            refused = str(self.model.value(way.move.situation, REFUSED))
            steps.append(Step((after, way.target), self.timings.expiry(at, timers, kept), way.move, refused))
        return steps

    def lights_late(self, key: Key) -> tuple[str, ...]:
        """The lights that contradict the device in these classes."""
        return late_lights(self.face(key[1]).timers)


_KEEPS = Timer("keeps", 0, 0)
"""Stands for a timer that runs on: of those the matrix knows the bounds."""


def _add(classes: Classes, key: Key, timing: Timing) -> bool:
    """Add a class unless one there includes it; those that it includes are dropped."""
    others = classes.setdefault(key, {})
    less = smaller(timing.matrix, others)
    if less is None:
        return False
    for matrix in less:
        del others[matrix]
    others[timing.matrix] = timing
    return True


def ruler_left(timing: Timing) -> tuple[int, int]:
    """The least and the most that is left on the ruler."""
    width = len(timing.lows) + 1
    return -int(timing.matrix[1]), int(timing.matrix[width])
