"""Bounded unrolling with the solver z3: is there a run of so many steps, whose last one is looked for?

The graph of situations comes from the step relation alone, timers left aside: whatever is armed may expire. Each step more
adds a layer: a truth value for each move and each situation that can be met by then, and whole numbers for the moment of the
step and for when each timer was armed. Whatever a move needs is implied by it, and a situation by one of the moves into it,
so from a move that is looked for a run can be read backwards. All constraints are differences of two moments.

This finds runs, and rules them out for so many steps; it doesn't rule out longer ones.
"""

from __future__ import annotations

import time
from dataclasses import dataclass
from typing import Any

from nudgeproof.model.step import Move, Test, expire
from nudgeproof.model.tables import Model, Situation
from nudgeproof.units import FOREVER

Slot = tuple[int, str]
"""A timer: the position of its part, and its name."""


@dataclass(frozen=True, slots=True)
class Unrolled:
    """What came of it. `steps`: so many were tried, or lead there. `moves`: truth values for moves, all layers together."""

    found: bool
    steps: int
    moves: int


def unroll(model: Model, test: Test, seconds: float) -> Unrolled:
    """One step more at a time, until a run is found or so much processor time was spent."""
    import z3

    ends = time.process_time() + seconds
    layers = _Layers(model, test)
    while (left := ends - time.process_time()) > 0:
        layers.solver.set("timeout", 1 + int(1_000 * left))
        if layers.add() == z3.sat:
            return Unrolled(True, layers.steps, layers.moves)
    return Unrolled(False, layers.refuted, layers.moves)


class _Layers:
    """The layers so far, and the situations and timers that the last one leads to."""

    def __init__(self, model: Model, test: Test) -> None:
        import z3

        self.model, self.test = model, test
        self.solver: Any = z3.SolverFor("QF_IDL")
        self.now: Any = z3.Int("begins")
        self.since: dict[Slot, Any] = {(part, timer.name): self.now for part, timer in model.armed(model.start)}
        self.at: dict[Situation, Any] = {model.start: z3.BoolVal(True)}
        self.ways: dict[Situation, tuple[tuple[int, Move, bool], ...]] = {}
        self.steps = self.moves = self.refuted = 0

    def add(self) -> Any:
        """One layer more; whether a run that ends with it is one looked for."""
        import z3

        number = self.steps
        self.steps += 1
        now = z3.Int(f"step {number}")
        parts: list[Any] = [now >= self.now]
        facts: dict[tuple[str, Slot, int], Any] = {}
        into: dict[Situation, list[Any]] = {}
        goals = []

        def fact(kind: str, slot: Slot, bound: int = 0) -> Any:
            return facts.setdefault((kind, slot, bound), z3.Bool(f"{kind} {slot} {bound} {number}"))

        for situation, here in self.at.items():
            armed = self.model.armed(situation)
            waits = [fact("until", (part, t.name), int(t.hi)) for part, t in armed if t.hi != FOREVER]
            for position, move, meets in self._ways(situation):
                self.moves += 1
                taken = z3.Bool(f"move {self.moves}")
                part, timer = armed[position]
                needs = [here, *waits, fact("from", (part, timer.name), timer.lo)]
                for (owner, later), kept in zip(move.timers, move.kept, strict=True):
                    needs.append(fact("new" if kept < 0 else "goes on", (owner, later.name)))
                parts.append(z3.Implies(taken, z3.And(needs)))
                into.setdefault(move.situation, []).append(taken)
                goals += [taken] if meets else []
        since: dict[Slot, Any] = {}
        for (kind, slot, bound), holds in facts.items():
            if kind in ("new", "goes on"):
                moment = since.setdefault(slot, z3.Int(f"armed {slot} {number}"))
                parts.append(z3.Implies(holds, moment == (now if kind == "new" else self.since[slot])))
            elif kind == "until":
                parts.append(z3.Implies(holds, now - self.since[slot] <= bound))
            else:
                parts.append(z3.Implies(holds, now - self.since[slot] >= bound))
        self.at = {}
        for order, (situation, moves) in enumerate(into.items()):
            self.at[situation] = z3.Bool(f"situation {order} {number}")
            parts.append(z3.Implies(self.at[situation], z3.Or(moves)))
        self.solver.add(parts)
        self.now, self.since = now, since
        return self._ask(goals)

    def _ask(self, goals: list[Any]) -> Any:
        import z3

        if not goals:
            self.refuted = self.steps
            return z3.unsat
        self.solver.push()
        self.solver.add(z3.Or(goals))
        answer = self.solver.check()
        self.solver.pop()
        if answer == z3.unsat:
            self.refuted = self.steps
        return answer

    def _ways(self, situation: Situation) -> tuple[tuple[int, Move, bool], ...]:
        if situation not in self.ways:
            self.ways[situation] = tuple(
                (position, move, self.test(self.model, situation, move))
                for position in range(len(self.model.armed(situation)))
                for move in expire(self.model, situation, position)
            )
        return self.ways[situation]
