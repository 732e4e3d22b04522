"""The concrete run: one timing, step by step, exactly as the step relation says.

It is slow and simple on purpose: a story is shown only after it was replayed here.
"""

from __future__ import annotations

from nudgeproof.diagnostics import ToolFault
from nudgeproof.model.step import Move, expire
from nudgeproof.model.tables import Model, Situation, Timer

Known = dict[tuple[Situation, int], tuple[Move, ...]]
"""All outcomes by situation and position of the timer that expires, as far as runs of one model asked for them."""

MOST_KNOWN = 20_000
"""So many are remembered, then it is begun anew; that bounds memory in runs that go on and on."""


class CannotHappen(ToolFault):
    """The step asked for is not possible at this time."""


class Run:
    """A run in progress: the situation, the time, and since when each armed timer runs.

    `known` may be shared with other runs of the same model; that only saves time.
    """

    def __init__(self, model: Model, known: Known | None = None) -> None:
        self.model = model
        self.known: Known = {} if known is None else known
        self.now = 0
        self.situation: Situation = model.start
        self.timers: tuple[tuple[int, Timer], ...] = model.armed(model.start)
        self.since: tuple[int, ...] = (0,) * len(self.timers)

    def advance(self, us: int) -> None:
        """Let `us` microseconds pass; raises `CannotHappen` if a timer must expire sooner, or if `us` is negative."""
        if us < 0:
            raise CannotHappen("time doesn't run backwards")
        for (_, timer), since in zip(self.timers, self.since, strict=True):
            if self.now + us > since + timer.hi:
                raise CannotHappen(f"`{timer.name}` expires before {self.now + us} us")
        self.now += us

    def possible(self) -> tuple[int, ...]:
        """Positions of the timers that may expire now."""
        pairs = enumerate(zip(self.timers, self.since, strict=True))
        return tuple(i for i, ((_, timer), since) in pairs if since + timer.lo <= self.now <= since + timer.hi)

    def outcomes(self, position: int) -> tuple[Move, ...]:
        """All outcomes if the timer at `position` expires in this situation, whether or not it may expire now."""
        moves = self.known.get((self.situation, position))
        if moves is None:
            if len(self.known) >= MOST_KNOWN:
                self.known.clear()
            moves = self.known[self.situation, position] = expire(self.model, self.situation, position)
        return moves

    def take(self, position: int, choice: int) -> Move:
        """Let the timer at `position` expire now with outcome number `choice`; raises `CannotHappen`."""
        if position not in self.possible():
            raise CannotHappen(f"timer {position} can't expire at {self.now} us")
        moves = self.outcomes(position)
        if not 0 <= choice < len(moves):
            raise CannotHappen(f"there is no outcome {choice}")
        move = moves[choice]
        self.since = tuple(self.since[k] if k >= 0 else self.now for k in move.kept)
        self.situation, self.timers = move.situation, move.timers
        return move
