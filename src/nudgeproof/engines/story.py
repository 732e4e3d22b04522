"""From a path to a story: times that a hand can try, checked by replay.

The times of a path's steps obey difference constraints only: a timer that was armed at step a and expires at step b has
`lo <= t_b - t_a <= hi`; one that is still running at step b has `t_b - t_a <= hi`. Among all solutions the *roomiest* one
is wanted: every constraint that has an action's time in it keeps as much room as possible (but not more than a hand can
use), so that small errors of the hand don't matter. Then the times of the actions are put on the coarsest grid of
1, 2, 5 x 10^k microseconds that keeps half of that room, and everything else comes as soon as it may. Constraints forced
to equality keep none.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from nudgeproof.engines.concrete import Run
from nudgeproof.engines.space import Retime, Step
from nudgeproof.model.step import Move, expire
from nudgeproof.model.tables import Model, Role, Situation
from nudgeproof.units import Bound

ROOM_ENOUGH_US = 200_000
"""More room than this helps no hand; a smaller room is maximised. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class Beat:
    """One step of a story.

    `at_us` from the beginning. `part`, `timer`, `choice` name the step exactly. `by`: who acts. `actions`: contact edges
    made on purpose or by a disturbance. `says`: the step in words. `situation`: after it.
    """

    at_us: int
    part: str
    timer: str
    choice: int
    by: Role
    button: str | None
    actions: int
    says: tuple[str, ...]
    line: int
    move: Move
    before: Situation
    after: Situation


@dataclass(frozen=True, slots=True)
class Story:
    """A replayed run whose last beat is the one asked about. `room_us`: how far each action may be off."""

    beats: tuple[Beat, ...]
    room_us: int

    @property
    def actions(self) -> int:
        """Contact and supply edges in the whole story."""
        return sum(beat.actions for beat in self.beats)


Edge = tuple[int, int, int]
"""(i, j, c): t_j - t_i <= c."""


@dataclass(frozen=True, slots=True)
class Also:
    """What more the times of a path must obey: constraints that may also speak of `marks` further times, numbered from
    len(path) + 1 on, at which nothing is seen to happen."""

    edges: tuple[Edge, ...] = ()
    marks: int = 0


NOTHING_MORE = Also()


def tell(model: Model, path: Sequence[Step], also: Also = NOTHING_MORE) -> Story:
    """Find times for `path` and replay it; raises `ToolFault` if the replay fails, which would be a fault of the tool."""
    edges, count = [*constraints(model, path), *also.edges], len(path) + 1 + also.marks
    rooms = _most_room(edges, [False, *(step.move.actions > 0 for step in path), *[False] * also.marks])
    kept = {action: room // 2 for action, room in rooms.items()}
    d = _closure(edges, count)
    roomy = [edge if d[edge[0]][edge[1]] + d[edge[1]][edge[0]] == 0 else _with_room([edge], kept)[0] for edge in edges]
    times = _on_grid(roomy, set(rooms), count)
    if times is None:
        times = _earliest(edges, count)
        assert times is not None
    return replay(model, path, times[1 : len(path) + 1], min(rooms.values(), default=0))


def confirm(model: Model, path: Sequence[Step], also: Also = NOTHING_MORE) -> Story:
    """Replay `path` as early as it may be; raises `ToolFault` if it can't be."""
    times = _earliest([*constraints(model, path), *also.edges], len(path) + 1 + also.marks)
    assert times is not None
    return replay(model, path, times[1 : len(path) + 1])


def can_be(edges: Sequence[Edge], count: int) -> bool:
    """Whether times 0 to count - 1 can obey all of `edges`, none of them before time 0."""
    return _earliest(edges, count) is not None


def earliest(model: Model, path: Sequence[Step], retimed: Retime | None = None) -> list[int] | None:
    """The earliest times of the steps of `path`, in microseconds from its beginning; None if no times suit it.

    `retimed`: other intervals than the model's own.
    """
    times = _earliest(constraints(model, path, retimed), len(path) + 1)
    return None if times is None else times[1:]


def replay(model: Model, path: Sequence[Step], times: Sequence[int], room_us: int = 0) -> Story:
    """Run `path` at `times` through the concrete run and describe each step; raises `CannotHappen`."""
    run = Run(model)
    beats = []
    for step, at in zip(path, times, strict=True):
        before = run.situation
        run.advance(at - run.now)
        part, timer = run.timers[step.position]
        number = expire(model, before, step.position).index(step.move)
        move = run.take(step.position, number)
        first = model.parts[part]
        said = tuple(t.choice.says for t in move.taken if t.choice.says)
        line = next((t.choice.line for t in reversed(move.taken) if t.choice.line), 0)
        beats.append(
            Beat(
                at, first.name, timer.name, number, first.role, first.button, move.actions, said, line, move, before,
                run.situation,
            )
        )  # fmt: skip
    return Story(tuple(beats), room_us)


def constraints(model: Model, path: Sequence[Step], retimed: Retime | None = None) -> list[Edge]:
    """All difference constraints of a path over times 0 (its beginning) to len(path).

    `retimed`: the intervals with which the path was found, if not the model's own.
    """
    edges: list[Edge] = []
    timers = model.armed(model.start)
    since = [0] * len(timers)
    for now, step in enumerate(path, start=1):
        edges.append((now, now - 1, 0))
        for i, (part, own) in enumerate(timers):
            timer = own if retimed is None else retimed(part, own)
            if timer.hi != timer.hi + 1:  # finite
                edges.append((since[i], now, int(timer.hi)))
            if i == step.position:
                edges.append((now, since[i], -timer.lo))
        since = [since[k] if k >= 0 else now for k in step.move.kept]
        timers = step.move.timers
    return edges


def extremes(edges: Sequence[Edge], count: int, begin: int, end: int) -> tuple[int, Bound]:
    """The least and the greatest `t_end - t_begin` over all solutions."""
    d = _closure(edges, count)
    return int(-d[end][begin]), d[begin][end]


def _earliest(edges: Sequence[Edge], count: int) -> list[int] | None:
    """The earliest solution with t_0 = 0, or None (Bellman-Ford on lower bounds)."""
    times = [0] * count
    for _ in range(count + 1):
        changed = False
        for i, j, c in edges:
            if times[i] < times[j] - c:
                times[i] = times[j] - c
                changed = True
        if not changed:
            return times if times[0] == 0 else None
    return None


def _closure(edges: Sequence[Edge], count: int) -> list[list[float]]:
    far = float("inf")
    d: list[list[float]] = [[0 if i == j else far for j in range(count)] for i in range(count)]
    for i, j, c in edges:
        d[i][j] = min(d[i][j], c)
    for k in range(count):
        via = d[k]
        for row in d:
            base = row[k]
            if base != far:
                row[:] = [x if x <= base + y else base + y for x, y in zip(row, via, strict=True)]
    return d


_Rooms = dict[int, int]
"""How much room each action's time has, by its position."""


def _with_room(edges: Sequence[Edge], rooms: _Rooms) -> list[Edge]:
    """Take an action's room off every constraint with its time in it."""
    return [(i, j, c - max(rooms.get(i, 0), rooms.get(j, 0))) for i, j, c in edges]


def _most_room(edges: Sequence[Edge], is_action: Sequence[bool]) -> _Rooms:
    """The largest room that all actions can have; then more for each one that can, in the order of time.

    Constraints that are forced to equality have no room and are left out of the reckoning.
    """
    count = len(is_action)
    d = _closure(edges, count)
    loose = [(i, j, c) for i, j, c in edges if d[i][j] + d[j][i] > 0]
    forced = [(i, j, c) for i, j, c in edges if d[i][j] + d[j][i] == 0]
    actions = [i for i, acts in enumerate(is_action) if acts]

    def fits(rooms: _Rooms) -> bool:
        return _earliest([*_with_room(loose, rooms), *forced], count) is not None

    low, high = 0, ROOM_ENOUGH_US
    while low < high:
        middle = (low + high + 1) // 2
        if fits(dict.fromkeys(actions, middle)):
            low = middle
        else:
            high = middle - 1
    rooms = dict.fromkeys(actions, low)
    for level in (ROOM_ENOUGH_US, ROOM_ENOUGH_US // 2, ROOM_ENOUGH_US // 4, ROOM_ENOUGH_US // 10):
        for action in actions:
            if rooms[action] < level and fits({**rooms, action: level}):
                rooms[action] = level
    return rooms


def _on_grid(edges: Sequence[Edge], actions: set[int], count: int) -> list[int] | None:
    """The earliest solution whose action times lie on the coarsest possible grid not wider than half a second."""
    for exponent in range(5, -1, -1):
        for digit in (5, 2, 1):
            times = _grid_solution(edges, actions, digit * 10**exponent, count)
            if times is not None:
                return times
    return None


def _grid_solution(edges: Sequence[Edge], actions: set[int], grid: int, count: int) -> list[int] | None:
    """Bellman-Ford in which action times are rounded up to the grid; monotone, so it ends at the least solution."""
    times = [0] * count
    for _ in range(4 * count + 8):
        changed = False
        for i, j, c in edges:
            if times[i] < times[j] - c:
                times[i] = times[j] - c
                if i in actions:
                    times[i] = -(-times[i] // grid) * grid
                changed = True
        if not changed:
            return times if times[0] == 0 else None
        if times[0] > 0:
            return None
    return None
