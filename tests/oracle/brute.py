"""A second engine, slow and plain: integer time, one unit at a time, every state kept apart.

It shares the table types (`Part`, `Timer`, `Choice`) with the tool and nothing else; steps are composed here anew, from
what the step relation promises in words:

* one timer expires, its part makes a choice, the signals run to completion, first in first out, each to its receivers in
  the order of parts; a receiver sees the values as they are at that moment;
* afterwards a timer runs on only if the same part arms the same name with the same interval as before, and it neither
  just expired nor was restarted.

A state is a situation with the whole units elapsed on each armed timer. Time may pass by one unit while no timer is at
its upper bound; a timer without one is counted up to its lower bound only, since more makes no difference. Closed bounds
make whole units enough (T. Henzinger, Z. Manna, A. Pnueli, "What good are digital clocks?", ICALP 1992; from memory).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from heapq import heappop, heappush

from nudgeproof.model.tables import Choice, Part, Timer, Value
from nudgeproof.units import FOREVER

Locals = tuple[object, ...]
Goal = Callable[[Locals, Locals], bool]
"""Whether a step from the first situation to the second is the one looked for."""
Cost = tuple[int, int, int]
"""(actions, chatter edges, steps), compared in this order."""
State = tuple[Locals, tuple[int, ...]]


class TooBig(Exception):
    """More states than allowed; says nothing about the model."""


class IntervalChanged(Exception):
    """A running timer was armed with another interval, which parts must not do."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What one expiry may lead to.

    `clocks`: the timers armed afterwards. `source[i]`: position among those armed before of the one that `clocks[i]`
    continues, or None. `notes`: what happened on the way, for measuring a mix of models.
    """

    after: Locals
    clocks: tuple[tuple[int, Timer], ...]
    source: tuple[int | None, ...]
    actions: int
    chatter: int
    notes: frozenset[str]


@dataclass(frozen=True, slots=True)
class Answer:
    """Everything the search saw.

    `costs[i]`: least cost of goal i, None if it can't happen. `ties`: in some state two timers could expire. `armed`: most
    timers at once. `stuck`: some states follow each other for ever by expiries of timers whose upper bound is 0.
    """

    costs: tuple[Cost | None, ...]
    states: int
    ties: bool
    armed: int
    stuck: bool
    notes: frozenset[str]
    situations: frozenset[Locals]


def clocks(parts: Sequence[Part], situation: Locals) -> tuple[tuple[int, Timer], ...]:
    """The timers armed in a situation, each with its part's position, in the order of parts."""
    return tuple(
        (i, timer)
        for i, part in enumerate(parts)
        for timer in part.armed(situation[i], _visible(parts, situation, part))
    )


def outcomes(parts: Sequence[Part], situation: Locals, position: int) -> tuple[Outcome, ...]:
    """Every outcome of the expiry of the timer at `position`, in the order of choices, the first choice outermost."""
    before = clocks(parts, situation)
    who, timer = before[position]
    found: list[Outcome] = []

    def decide(now: Locals, index: int, choices: Sequence[Choice], letters: list[tuple[str, int]], made: _Made) -> None:
        for choice in choices:
            then = tuple(choice.to if i == index else local for i, local in enumerate(now))
            posted = [(signal, i) for signal in choice.send for i, part in enumerate(parts) if signal in part.takes]
            notes = made.notes | ({"branch"} if len(choices) > 1 else set())
            if posted:
                notes |= {"signal"} | ({"answer"} if made.depth else set())
                if any(sum(signal == s for s, _ in posted) > 1 for signal in choice.send):
                    notes |= {"several receivers"}
            deliver(
                then,
                letters + posted,
                _Made(
                    made.restarted | {(index, name) for name in choice.restart},
                    made.actions + choice.actions,
                    made.chatter + choice.chatter,
                    notes,
                    made.depth + 1,
                ),
            )

    def deliver(now: Locals, letters: list[tuple[str, int]], made: _Made) -> None:
        if letters:
            signal, index = letters[0]
            part = parts[index]
            decide(now, index, part.heard(now[index], signal, _visible(parts, now, part)), letters[1:], made)
        else:
            found.append(_settle(parts, before, position, now, made))

    first = parts[who]
    decide(
        situation,
        who,
        first.expired(situation[who], timer.name, _visible(parts, situation, first)),
        [],
        _Made(frozenset(), 0, 0, frozenset(), 0),
    )
    return tuple(found)


def search(parts: Sequence[Part], goals: Sequence[Goal], most_states: int = 20_000, enough: bool = False) -> Answer:
    """Visit every state, or with `enough` only until each goal was met (then a cost need not be the least).

    Raises `TooBig` when there are more than `most_states` of them.
    """
    table: dict[tuple[Locals, int], tuple[tuple[Outcome, tuple[int, ...]], ...]] = {}
    lists: dict[Locals, tuple[tuple[int, Timer], ...]] = {}
    costs: list[Cost | None] = [None] * len(goals)
    start = tuple(part.start for part in parts)
    lists[start] = clocks(parts, start)
    heap: list[tuple[int, int, int, int, State]] = [(0, 0, 0, 0, (start, (0,) * len(lists[start])))]
    serial = 0
    done: set[State] = set()
    timeless: dict[State, set[State]] = {}
    ties, most_armed = False, 0
    notes: set[str] = set()
    while heap and not (enough and None not in costs):
        actions, chatter, steps, _, state = heappop(heap)
        if state in done:
            continue
        done.add(state)
        if len(done) > most_states:
            raise TooBig(f"more than {most_states} states")
        situation, elapsed = state
        if situation not in lists:
            lists[situation] = clocks(parts, situation)
        armed = lists[situation]
        most_armed = max(most_armed, len(armed))
        if all(t < timer.hi for (_, timer), t in zip(armed, elapsed, strict=True)):
            later = tuple(
                min(t + 1, timer.lo) if timer.hi == FOREVER else t + 1
                for (_, timer), t in zip(armed, elapsed, strict=True)
            )
            if (situation, later) not in done:
                serial += 1
                heappush(heap, (actions, chatter, steps, serial, (situation, later)))
        ready = [i for i, ((_, timer), t) in enumerate(zip(armed, elapsed, strict=True)) if t >= timer.lo]
        ties = ties or len(ready) > 1
        for position in ready:
            if (situation, position) not in table:
                table[situation, position] = tuple(
                    (one, tuple(i for i, goal in enumerate(goals) if goal(situation, one.after)))
                    for one in outcomes(parts, situation, position)
                )
            for one, meets in table[situation, position]:
                notes |= one.notes
                cost = (actions + one.actions, chatter + one.chatter, steps + 1)
                for i in meets:
                    best = costs[i]
                    costs[i] = cost if best is None else min(best, cost)
                target = (one.after, tuple(0 if k is None else elapsed[k] for k in one.source))
                if armed[position][1].hi == 0:
                    timeless.setdefault(state, set()).add(target)
                if target not in done:
                    serial += 1
                    heappush(heap, (*cost, serial, target))
    situations = frozenset(situation for situation, _ in done)
    return Answer(tuple(costs), len(done), ties, most_armed, _goes_round(timeless), frozenset(notes), situations)


@dataclass(frozen=True, slots=True)
class _Made:
    """What the choices made so far within a step add up to."""

    restarted: frozenset[tuple[int, str]]
    actions: int
    chatter: int
    notes: frozenset[str]
    depth: int


def _visible(parts: Sequence[Part], situation: Locals, reader: Part) -> dict[str, Value]:
    shown = {
        name: value
        for part, local in zip(parts, situation, strict=True)
        for name, value in zip(part.publishes, part.shown(local), strict=True)
    }
    return {name: shown[name] for name in reader.reads}


def _settle(
    parts: Sequence[Part], before: Sequence[tuple[int, Timer]], position: int, after: Locals, made: _Made
) -> Outcome:
    now = clocks(parts, after)
    notes = set(made.notes)
    source: list[int | None] = []
    for part, timer in now:
        old = next((k for k, (p, t) in enumerate(before) if p == part and t.name == timer.name), None)
        if old is None:
            notes.add("armed")
        elif old == position:
            old = None
        elif (part, timer.name) in made.restarted:
            notes.add("new interval" if before[old][1] != timer else "restart")
            old = None
        elif before[old][1] != timer:
            raise IntervalChanged(f"{parts[part].name}: {timer.name}")
        else:
            notes.add("runs on")
        source.append(old)
    notes |= {"disarmed"} if len([k for k in source if k is not None]) < len(before) - 1 else set()
    notes |= {"actions"} if made.actions else set()
    notes |= {"chatter"} if made.chatter else set()
    notes |= {"forever"} if any(timer.hi == FOREVER for _, timer in before) else set()
    return Outcome(after, now, tuple(source), made.actions, made.chatter, frozenset(notes))


def _goes_round(edges: dict[State, set[State]]) -> bool:
    """Whether a directed graph has a cycle: leaves are peeled off until nothing is left, or nothing can be."""
    left = {node: {target for target in targets if target in edges} for node, targets in edges.items()}
    while left:
        leaves = {node for node, targets in left.items() if not targets}
        if not leaves:
            return True
        left = {node: targets - leaves for node, targets in left.items() if node not in leaves}
    return False
