"""The step relation: what happens when one armed timer expires. The only place where parts are composed.

One timer expires; its part makes a choice; the signals it sends run to completion, first in first out, each to its
receivers in the order of parts; a receiver sees the published values as they are at that moment and may send further
signals. Then every part's armed timers are looked up again: a timer runs on only if the same part arms the same name with
the same interval as before, and neither did it just expire nor did a choice restart it. Everything else is armed anew.

When several timers can expire at one instant, each order is a step sequence of its own.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from dataclasses import dataclass

from nudgeproof.model.tables import Choice, Model, ModelFault, Situation, Timer


@dataclass(frozen=True, slots=True)
class Taken:
    """One choice made within a step: which part, upon what, which of its choices (from 0), and the choice itself."""

    part: int
    cause: str
    number: int
    choice: Choice


@dataclass(frozen=True, slots=True)
class Move:
    """One possible outcome of an expiry.

    `timers`: what is armed afterwards (part position, timer). `kept[i]`: position among the timers armed before of the one
    that `timers[i]` continues, or -1 if it is armed anew. `taken`: all choices made, in order.
    """

    situation: Situation
    timers: tuple[tuple[int, Timer], ...]
    kept: tuple[int, ...]
    taken: tuple[Taken, ...]

    @property
    def actions(self) -> int:
        """Contact and supply edges made by person, disturbance or supply in this step."""
        return sum(taken.choice.actions for taken in self.taken)

    @property
    def chatter(self) -> int:
        """Edges of contact chatter in this step."""
        return sum(taken.choice.chatter for taken in self.taken)


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
    for after, taken, restarted in _complete(model, situation, part, timer.name):
        timers = model.armed(after)
        moves.append(Move(after, timers, _continue(model, before, position, timers, restarted), taken))
    return tuple(moves)


_Run = tuple[Situation, tuple[Taken, ...], frozenset[tuple[int, str]]]


def _complete(model: Model, situation: Situation, part: int, timer: str) -> list[_Run]:
    """Run the first choice and all signals to completion, in every combination of choices."""
    finished: list[_Run] = []
    first = _after(situation, part, f"timer {timer}", model.on_expiry(part, timer, situation))
    open_runs = deque((run, _deliveries(model, run[1][-1].choice)) for run in first)
    while open_runs:
        (now, taken, restarted), queue = open_runs.popleft()
        if not queue:
            finished.append((now, taken, restarted))
            continue
        (receiver, signal), rest = queue[0], queue[1:]
        branches = _after(now, receiver, f"signal {signal}", model.on_signal(receiver, signal, now))
        for branch_now, branch_taken, branch_restarted in reversed(branches):
            run = (branch_now, taken + branch_taken, restarted | branch_restarted)
            open_runs.appendleft((run, rest + _deliveries(model, branch_taken[-1].choice)))
    return finished


def _after(situation: Situation, part: int, cause: str, choices: tuple[Choice, ...]) -> list[_Run]:
    return [
        (
            (*situation[:part], choice.to, *situation[part + 1 :]),
            (Taken(part, cause, number, choice),),
            frozenset((part, name) for name in choice.restart),
        )
        for number, choice in enumerate(choices)
    ]


def _deliveries(model: Model, choice: Choice) -> tuple[tuple[int, str], ...]:
    return tuple((receiver, signal) for signal in choice.send for receiver in model.receivers.get(signal, ()))


def _continue(
    model: Model,
    before: tuple[tuple[int, Timer], ...],
    expired: int,
    after: tuple[tuple[int, Timer], ...],
    restarted: frozenset[tuple[int, str]],
) -> tuple[int, ...]:
    running = {(part, timer.name): (i, timer) for i, (part, timer) in enumerate(before) if i != expired}
    kept = []
    for part, timer in after:
        position, old = running.get((part, timer.name), (-1, timer))
        if (part, timer.name) in restarted:
            position = -1
        elif old != timer:
            name = model.parts[part].name
            raise ModelFault(f"part `{name}` changes the interval of `{timer.name}` while it runs")
        kept.append(position)
    return tuple(kept)
