"""Decisions: a run as a list of small numbers that is legal in every model.

A *decision* says which of the timers that can be the next to expire does so, at which instant, and with which outcome. Its
numbers are read as shares of what there is to choose from, so no list of decisions is ever wrong: lists can be cut,
changed, kept in a file and tried on another device. The run itself is `concrete.Run`; the explorer has no part in it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from nudgeproof.engines.concrete import Known, Run
from nudgeproof.engines.space import Step
from nudgeproof.model.step import Move
from nudgeproof.model.tables import Model, Situation
from nudgeproof.units import FOREVER

Decision = tuple[int, int, int, int]
"""(which timer, kind of instant, place of the instant, outcome); 0 is the simplest of each, and what wasn't asked for."""

WHICH, KIND, PLACE, OUTCOME = range(4)
EARLIEST, LATEST, BESIDE, INSIDE = range(4)
KINDS = (EARLIEST, EARLIEST, EARLIEST, LATEST, LATEST, LATEST, BESIDE, INSIDE)
"""Kind of instant by its number in a decision: faults lie at ends, and often at several ends at once."""

LARGEST = 255
"""No number in a decision is larger."""

WHICH_BITS, KIND_BITS, BESIDE_BITS, INSIDE_BITS = 4, 3, 4, 8
"""With 2^8 places inside an interval no window of 1 % of it lies between two of them."""

ACTS, GOES_ON, CHATTERS = 3, 2, 1
"""How often a timer is taken against others: a source that acts, chatter without end, all else."""

Pick = Callable[[int, int, int], int]
"""(number of the decision, which of its numbers, bits) gives that number, below 2 to the power of bits."""

Stop = Callable[[Situation, Move], bool]
"""Whether a run ends with this step: (situation before, what happened)."""


@dataclass(frozen=True, slots=True)
class Played:
    """A run: its decisions, its steps, and when each of them came, in microseconds from the beginning.

    `stopped`: the last step is one to stop at.
    """

    decisions: tuple[Decision, ...]
    path: tuple[Step, ...]
    times: tuple[int, ...]
    stopped: bool

    @property
    def cost(self) -> tuple[int, int, int, tuple[Decision, ...]]:
        """Actions, chatter edges, steps; then the decisions themselves, so that no two different runs cost the same."""
        moves = [step.move for step in self.path]
        return sum(m.actions for m in moves), sum(m.chatter for m in moves), len(moves), self.decisions


def recall(decisions: Sequence[Decision]) -> Pick:
    """Picks what was picked before."""
    return lambda number, what, bits: decisions[number][what] % (1 << bits)


def play(model: Model, pick: Pick, limit: int, stop: Stop, known: Known) -> Played:
    """Run from the start until a step to stop at, until nothing can happen any more, or for `limit` steps.

    `known` keeps the outcomes of each expiry from one run of this model to the next.
    """
    run = Run(model, known)
    decisions: list[Decision] = []
    path: list[Step] = []
    times: list[int] = []
    while len(path) < limit:
        able = _find_able(run)
        if not able:
            break
        number = len(path)
        asked = [0, 0, 0, 0]

        def ask(what: int, bits: int, number: int = number, asked: list[int] = asked) -> int:
            asked[what] = pick(number, what, bits) if bits else 0
            return asked[what]

        position = _choose(able, ask)
        run.advance(_choose_instant(run, position, ask) - run.now)
        before = run.situation
        count = len(run.outcomes(position))
        move = run.take(position, ask(OUTCOME, (count - 1).bit_length()) % count)
        decisions.append((asked[0], asked[1], asked[2], asked[3]))
        path.append(Step(before, position, move))
        times.append(run.now)
        if stop(before, move):
            return Played(tuple(decisions), tuple(path), tuple(times), True)
    return Played(tuple(decisions), tuple(path), tuple(times), False)


_Ask = Callable[[int, int], int]


_ORDER = {GOES_ON: 0, ACTS: 1, CHATTERS: 2}


def _find_able(run: Run) -> list[tuple[int, int]]:
    """The timers that can be the next to expire, with their weights: what goes on by itself, then sources, then chatter."""
    timers = [(timer, since) for (_, timer), since in zip(run.timers, run.since, strict=True)]
    end = min([since + timer.hi for timer, since in timers], default=0)
    able = [(i, _weigh(run, i)) for i, (timer, since) in enumerate(timers) if since + timer.lo <= end]
    return able if len(able) == 1 else sorted(able, key=lambda pair: _ORDER[pair[1]])


def _weigh(run: Run, position: int) -> int:
    part, timer = run.timers[position]
    row = run.model.on_expiry(part, timer.name, run.situation)
    if any(option.choice.actions for option in row):
        return ACTS
    return CHATTERS if timer.hi == FOREVER and any(option.choice.chatter for option in row) else GOES_ON


def _choose(able: list[tuple[int, int]], ask: _Ask) -> int:
    if len(able) == 1:
        return able[0][0]
    slot = ask(WHICH, WHICH_BITS) * sum([weight for _, weight in able]) >> WHICH_BITS
    for position, weight in able:
        if slot < weight:
            return position
        slot -= weight
    return able[-1][0]


def _choose_instant(run: Run, position: int, ask: _Ask) -> int:
    """An instant at which the timer can expire before all others.

    Where all could wait for ever, none is later than the moment from which all of them are possible: after that waiting
    changes nothing.
    """
    pairs = [(timer, since) for (_, timer), since in zip(run.timers, run.since, strict=True)]
    timer, since = pairs[position]
    first = max(run.now, since + timer.lo)
    end = min([other + t.hi for t, other in pairs])
    last = max(first, *(other + t.lo for t, other in pairs)) if end == FOREVER else int(end)
    if first == last:
        return first
    kind = KINDS[ask(KIND, KIND_BITS)]
    if kind == EARLIEST:
        return first
    if kind == LATEST:
        return last
    if kind == INSIDE:
        return first + ((last - first) * (2 * ask(PLACE, INSIDE_BITS) + 1) >> (INSIDE_BITS + 1))
    ends = {first, last, *(other + t.lo for t, other in pairs)}
    ends.update(other + int(t.hi) for t, other in pairs if t.hi != FOREVER)
    places = sorted(p for e in ends for p in (e - 1, e, e + 1) if first < p < last)
    return places[ask(PLACE, BESIDE_BITS) * len(places) >> BESIDE_BITS] if places else first
