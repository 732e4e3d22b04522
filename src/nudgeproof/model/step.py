"""The step relation: what happens when one armed timer expires. The only place where parts are composed.

One timer expires; its part makes a choice; the signals it sends run to completion, first in first out, each to its
receivers in the order of parts; a receiver sees the published values as they are at that moment and may send further
signals. Then every part's armed timers are looked up again: a timer runs on only if the same part arms the same name with
the same interval as before, and neither did it just expire nor did a choice restart it. Everything else is armed anew.

When several timers can expire at one instant, each order is a step sequence of its own.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

from nudgeproof.model.tables import Model, ModelFault, Option, Row, Situation, Timer


class Move(NamedTuple):
    """One possible outcome of an expiry; a named tuple, since explorers make very many.

    `timers`: what is armed afterwards (part position, timer). `kept[i]`: position among the timers armed before of the one
    that `timers[i]` continues, or -1 if it is armed anew. `taken`: all choices made, in order.
    """

    situation: Situation
    timers: tuple[tuple[int, Timer], ...]
    kept: tuple[int, ...]
    taken: tuple[Option, ...]

    @property
    def actions(self) -> int:
        """Contact and supply edges made by person, disturbance or supply in this step."""
        return sum([taken.choice.actions for taken in self.taken])

    @property
    def chatter(self) -> int:
        """Edges of contact chatter in this step."""
        return sum([taken.choice.chatter for taken in self.taken])


Test = Callable[[Model, Situation, Move], bool]
"""Whether a step is one looked for: (model, situation before, what happened)."""


def expire(model: Model, situation: Situation, position: int) -> tuple[Move, ...]:
    """All outcomes when the timer at `position` among `model.armed(situation)` expires.

    The order of outcomes is that of the choices, depth first, so it is the same on every run. Raises `ModelFault` if a
    part arms a running timer with another interval, and then changes nothing.
    """
    before = model.armed(situation)
    part, timer = before[position]
    moves = []
    for after, taken, _, restarts in _complete(model, situation, part, timer.name):
        timers = model.armed(after, situation)
        moves.append(Move(after, timers, _continue(model, before, position, timers, restarts), taken))
    return tuple(moves)


_Letters = tuple[tuple[int, str], ...]
_Run = tuple[Situation, tuple[Option, ...], _Letters, tuple[tuple[int, str], ...]]
"""A run so far: the situation, the choices made, letters not delivered yet, timers that begin anew."""


def _complete(model: Model, situation: Situation, part: int, timer: str) -> list[_Run]:
    """Run the first choice and all signals to completion, in every combination of choices."""
    finished: list[_Run] = []
    # The run to go on with is the last one, so those of a row are put there in reverse.
    open_runs = _branch((situation, (), (), ()), part, model.on_expiry(part, timer, situation))
    open_runs.reverse()
    while open_runs:
        now, taken, letters, restarts = open_runs.pop()
        while letters:
            receiver, signal = letters[0]
            row = model.on_signal(receiver, signal, now)
            first, *others = _branch((now, taken, letters[1:], restarts), receiver, row)
            open_runs += reversed(others)
            now, taken, letters, restarts = first
        finished.append((now, taken, letters, restarts))
    return finished


def _branch(run: _Run, part: int, row: Row) -> list[_Run]:
    """A run gone on with, by each choice of a row of this part."""
    now, taken, letters, restarts = run
    runs = []
    for option in row:
        to = option.choice.to
        later = now if to is now[part] else (*now[:part], to, *now[part + 1 :])
        runs.append((later, (*taken, option), letters + option.letters, restarts + option.restarts))
    return runs


def _continue(
    model: Model,
    before: tuple[tuple[int, Timer], ...],
    expired: int,
    after: tuple[tuple[int, Timer], ...],
    restarted: tuple[tuple[int, str], ...],
) -> tuple[int, ...]:
    running = {(part, timer.name): i for i, (part, timer) in enumerate(before) if i != expired}
    kept = []
    for part, timer in after:
        key = (part, timer.name)
        position = -1 if key in restarted else running.get(key, -1)
        if position >= 0 and (old := before[position][1]) is not timer and old != timer:
            name = model.parts[part].name
            raise ModelFault(f"part `{name}` changes the interval of `{timer.name}` while it runs")
        kept.append(position)
    return tuple(kept)
