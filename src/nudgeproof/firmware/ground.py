"""What the device of a model may do while it is recorded, whatever the recorded times: found once, kept for all recordings.

A *spot* is a situation, with the recorded changes whose window is open in it. Which steps there are at a spot, and what each
makes of the timers, hangs on no recorded time, so many recordings of one device share it.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from nudgeproof.engines.matrix import Expiry, Timings
from nudgeproof.engines.space import Space
from nudgeproof.model.step import Move
from nudgeproof.model.tables import Model, Timer
from nudgeproof.parts.compile import Environment, compile_model
from nudgeproof.parts.recorded import DEADLINES, LOOKOUT, RECORDER, REFUSED, late_lights
from nudgeproof.spec.fixed import fixed_times
from nudgeproof.spec.types import Device

_FORGET_EVERY = 500
"""After so many recorded changes what follows from each matrix is forgotten: recorded times hardly ever come again."""

_MOST_SITUATIONS = 20_000
"""Of so many all is forgotten before the next recording: it would take more room than it saves time."""


@dataclass(frozen=True, slots=True)
class Face:
    """What is armed in a situation: positions of the recording's timers by name, and of all others."""

    driven: dict[str, int]
    real: tuple[int, ...]
    timers: tuple[Timer, ...]


@dataclass(slots=True, eq=False)
class Spot:
    """Where an explanation may stand. `pending`: the timers of changes whose window is open, in the order of opening.

    `number`: of the situation. `late`: the lights that contradict the device by then. `known`: by the position of a timer
    the steps when it expires, as far as was asked; `edges`: those of a recorded change that has one instant, by its timer.
    """

    pending: tuple[str, ...]
    number: int
    face: Face
    late: tuple[str, ...]
    known: list[tuple[Step, ...] | None]
    edges: dict[str, tuple[Step, ...]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, eq=False)
class Step:
    """One thing that may happen at a spot, and where it leads.

    `move`: None if only a window opens. `refused`: the timer of the lookout that says it can't be, or "".
    """

    spot: Spot
    expiry: Expiry
    move: Move | None
    refused: str


class Ground:
    """All spots of a model met so far."""

    def __init__(self, model: Model) -> None:
        self.model = model
        self.space = Space(model, ())
        self.timings = Timings()
        self._recording = frozenset(model.index(name) for name in (RECORDER, LOOKOUT))
        self._faces: dict[int, Face] = {}
        self._spots: dict[tuple[tuple[str, ...], int], Spot] = {}
        self._beats = 0

    def count_beat(self) -> None:
        """One more recorded change was followed."""
        self._beats += 1
        if self._beats % _FORGET_EVERY == 0:
            self.timings.forget()

    def spot(self, pending: tuple[str, ...], number: int) -> Spot:
        """The one spot of its kind."""
        found = self._spots.get((pending, number))
        if found is None:
            face = self._face(number)
            known: list[tuple[Step, ...] | None] = [None] * (1 + len(pending) + len(face.real))
            found = self._spots[pending, number] = Spot(pending, number, face, late_lights(face.timers), known)
        return found

    def _face(self, number: int) -> Face:
        known = self._faces.get(number)
        if known is None:
            driven, real = {}, []
            for position, (part, timer) in enumerate(self.space.armed[number]):
                if part in self._recording and not timer.name.startswith(DEADLINES):
                    driven[timer.name] = position
                else:
                    real.append(position)
            timers = tuple(self.space.armed[number][position][1] for position in real)
            known = self._faces[number] = Face(driven, tuple(real), timers)
        return known

    def steps(self, spot: Spot, at: int) -> tuple[Step, ...]:
        """What may happen when the timer at `at`, not the ruler, expires."""
        known = spot.known[at]
        if known is None:
            pending = spot.pending
            if at > len(pending):
                known = self._moves(spot, spot.face.real[at - 1 - len(pending)], at)
            elif pending[at - 1] in pending[: at - 1]:
                known = ()  # an earlier change of the same channel comes first
            else:
                known = self._moves(spot, spot.face.driven[pending[at - 1]], at)
            spot.known[at] = known
        return known

    def edges(self, spot: Spot, timer: str) -> tuple[Step, ...]:
        """What may happen when a recorded change is made as the ruler expires; the ruler is armed anew."""
        known = spot.edges.get(timer)
        if known is None:
            known = spot.edges[timer] = self._moves(spot, spot.face.driven[timer], 0)
        return known

    def _moves(self, spot: Spot, position: int, at: int) -> tuple[Step, ...]:
        """The moves of the model when its timer at `position` expires, which is `at` in the matrix (0: at a strike)."""
        pending, face = spot.pending, spot.face
        place = {p: 1 + len(pending) + i for i, p in enumerate(face.real)}
        left = [i for i in range(1, 1 + len(pending)) if i != at]
        after = tuple([pending[i - 1] for i in left])
        steps = []
        for way in self.space.ways_from(spot.number, position):
            there = self.spot(after, way.target)
            timers = [_KEEPS, *([_KEEPS] * len(left)), *there.face.timers]
            kept = [-1 if at == 0 else 0, *left, *(place.get(way.move.kept[q], -1) for q in there.face.real)]
            refused = str(self.model.value(way.move.situation, REFUSED))
            steps.append(Step(there, self.timings.expiry(at, timers, kept), way.move, refused))
        return tuple(steps)


_KEEPS = Timer("keeps", 0, 0)
"""Stands for a timer that runs on: of those the matrix knows the bounds."""


class Grounds:
    """By what a recording has and shows, the ground for it. Recordings of one device can share it."""

    def __init__(self, device: Device) -> None:
        self.device = device
        self.has_fixed_times = bool(fixed_times(device))
        self._grounds: dict[Environment, Ground] = {}

    def ground(self, environment: Environment) -> Ground:
        """The ground for recordings of this kind."""
        known = self._grounds.get(environment)
        if known is None or len(known.space.situations) > _MOST_SITUATIONS:
            known = self._grounds[environment] = Ground(compile_model(self.device, environment))
        return known
