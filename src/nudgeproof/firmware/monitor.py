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

from nudgeproof.engines.matrix import Expiry, Timing, Timings, includes, join
from nudgeproof.firmware.course import Beat, Course
from nudgeproof.firmware.ground import Ground, Spot, Step
from nudgeproof.model.tables import Timer

BUDGET = 20_000
"""Most classes looked at between two recorded changes."""

Classes = dict[Spot, dict[Timing, None]]

Sure = dict[Spot, frozenset[str]]


class TooMany(Exception):
    """The budget of classes is spent."""


@dataclass(frozen=True, slots=True)
class Death:
    """An explanation ended: a timer of the lookout refused what was recorded, between two moments at the latest."""

    timer: str
    earliest_us: int
    latest_us: int


Ends = Callable[[Spot, Step, Timing], bool]
"""Whether a step is not to be followed: (whence, the step, what it makes of the timing)."""


@dataclass(slots=True)
class Snapshot:
    """All classes after some beats; their rulers expire at `next_us`, when beat number `beat` begins.

    `sure`: what the chart says of the steps that were taken on every way to the classes of a spot, if that is kept.
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

    ground: Ground
    course: Course
    budget: int = BUDGET
    keeps_sure: bool = False
    deaths: list[Death] = field(default_factory=list)
    most: int = 0
    taken: int = 0
    timings: Timings = field(init=False)
    _device: int = field(init=False)

    def __post_init__(self) -> None:
        self.timings = self.ground.timings
        self._device = self.ground.model.index("device")

    def begin(self) -> Snapshot:
        """The one class in which a run begins."""
        spot = self.ground.spot((), self.ground.space.enter(self.ground.model.start))
        next_us = self.next_us(0)
        wait = next_us - self.course.begin_us
        timing = self.timings.fresh((Timer("ruler", wait, wait + self.course.slack_us), *spot.face.timers))
        sure: Sure = {spot: frozenset()} if self.keeps_sure else {}
        return Snapshot({spot: {timing: None}}, 0, next_us, sure)

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
        self.ground.count_beat()
        self.deaths.clear()
        number = before.beat
        beat = self.course.beats[number] if number < len(self.course.beats) else None
        skips = beat is None or (passes_over is not None and passes_over(beat))
        after = self.next_us(number + 1)
        wait = after - before.next_us
        out: Classes = {}
        surely = dict(before.sure)
        sure_then: Sure = {}
        rulers: dict[Spot, tuple[Step, ...]] = {}

        def strike(spot: Spot, timing: Timing) -> None:
            """The ruler expires."""
            steps = rulers.get(spot)
            if steps is None:
                steps = rulers[spot] = self._strikes(spot, None if skips else beat, number, wait)
            for step in steps:
                if step.refused and beat is not None:
                    self.deaths.append(Death(step.refused, beat.opens_us, beat.at_us))
                else:
                    _add(out, step.spot, self.timings.after(timing, step.expiry))
                    if self.keeps_sure:
                        self._lessen(sure_then, step, surely[spot])

        self._spread(before, strike, ends, surely)
        for spot, timings in out.items():
            if len(timings) > 1:
                out[spot] = self._join(timings)
        self.most = max(self.most, sum(map(len, out.values())))
        return Snapshot(out, number + 1, after, sure_then)

    def _lessen(self, sure: Sure, step: Step, before: frozenset[str]) -> bool:
        """What is sure behind a step is at most what was before, and the step; whether that takes something away."""
        told = () if step.move is None else (o.choice.says for o in step.move.taken if o.part == self._device)
        after = before.union(filter(None, told))
        known = sure.get(step.spot)
        sure[step.spot] = after if known is None else known & after
        return known is not None and sure[step.spot] != known

    def _spread(
        self, before: Snapshot, strike: Callable[[Spot, Timing], None], ends: Ends | None, surely: Sure
    ) -> None:
        """All that can happen until the ruler expires, for which `strike` is called."""
        kept: Classes = {spot: dict(timings) for spot, timings in before.classes.items()}
        waiting = deque((spot, timing) for spot, timings in kept.items() for timing in timings)
        taken = 0
        follows = self.timings.after
        while waiting:
            spot, timing = waiting.popleft()
            if timing not in kept[spot]:
                continue  # another one that came later includes it
            taken += 1
            if taken > self.budget:
                raise TooMany
            for at in timing.firsts:
                if at == 0:
                    strike(spot, timing)
                    continue
                for step in spot.known[at] or self.ground.steps(spot, at):
                    later = follows(timing, step.expiry)
                    if step.refused:
                        left = ruler_left(later)
                        self.deaths.append(Death(step.refused, before.next_us - left[1], before.next_us - left[0]))
                    elif ends is None or not ends(spot, step, later):
                        # What is less sure now than it was must be passed on, so all of the spot is looked at again.
                        again = self.keeps_sure and self._lessen(surely, step, surely[spot])
                        if _add(kept, step.spot, later) or again:
                            waiting += [(step.spot, one) for one in kept[step.spot]] if again else [(step.spot, later)]
        self.taken += taken

    def _join(self, timings: dict[Timing, None]) -> dict[Timing, None]:
        """The same valuations in fewer classes: two whose union is the least class around both become that class."""
        left, done = list(timings), list[Timing]()
        while left:
            one = left.pop()
            for i, other in enumerate(left):
                around = join(one.matrix, other.matrix)
                if around is not None:
                    left[i] = self.timings.meet(around)
                    break
            else:
                done.append(one)
        return dict.fromkeys(reversed(done))

    def _strikes(self, spot: Spot, beat: Beat | None, number: int, wait: int) -> tuple[Step, ...]:
        """What may happen when the ruler expires: a window opens, or where there is none the change is made."""
        pending = spot.pending
        ruler = Timer("ruler", wait, wait)
        anew = (-1, ruler.lo, ruler.hi)
        if beat is not None and self._is_at_once(number) and beat.timer not in pending:
            edges = self.ground.edges(spot, beat.timer)
            return tuple([Step(e.spot, Expiry(0, (anew, *e.expiry.armed[1:]), {}), e.move, e.refused) for e in edges])
        armed = [anew, *[(at, 0, 0) for at in range(1, 1 + len(pending))]]
        if beat is not None:
            armed.append((-1, 0, beat.at_us - beat.opens_us))
        armed += [(at, 0, 0) for at in range(1 + len(pending), len(spot.known))]
        there = spot if beat is None else self.ground.spot((*pending, beat.timer), spot.number)
        return (Step(there, Expiry(0, tuple(armed), {}), None, ""),)

    def _is_at_once(self, number: int) -> bool:
        """Whether a beat has one instant, and no other one begins there, which might come before."""
        beats = self.course.beats
        opens = beats[number].opens_us
        if beats[number].at_us != opens or (number + 1 < len(beats) and beats[number + 1].opens_us == opens):
            return False
        return number == 0 or beats[number - 1].opens_us != opens


def _add(classes: Classes, spot: Spot, timing: Timing) -> bool:
    """Add a class unless one there includes it; those that it includes are dropped."""
    others = classes.get(spot)
    if others is None:
        classes[spot] = {timing: None}
        return True
    if timing in others:
        return False
    matrix, included = timing.matrix, []
    for other in others:
        # As in `engines.matrix.smaller`: the first bound that differs says which can include which.
        if matrix <= other.matrix:
            if includes(other.matrix, matrix):
                return False
        elif includes(matrix, other.matrix):
            included.append(other)
    for other in included:
        del others[other]
    others[timing] = None
    return True


def ruler_left(timing: Timing) -> tuple[int, int]:
    """The least and the most that is left on the ruler."""
    width = len(timing.lows) + 1
    return -int(timing.matrix[1]), int(timing.matrix[width])
