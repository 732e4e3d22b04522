"""A compact agreement suite: what a copy of the engine gets wrong, if anything.

Random models against the brute-force engine, step by step and as a whole, and then a few promises that random models
don't reach: how a budget counts, and which rules of the model are enforced.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache
from operator import le
from random import Random
from typing import Any

from nudgeproof.model.tables import Choice, Part, Timer
from nudgeproof.units import FOREVER
from tests.oracle.brute import Answer, Goal, Outcome, TooBig, outcomes, search
from tests.oracle.randomly import Sketch, sketch
from tests.quality.engine import Engine

SEEDS = range(120)
TIMELESS_SEEDS = range(30)
MOST_STATES = 250
BUDGET = 1_500
SITUATIONS = 6


@dataclass(frozen=True, slots=True)
class Case:
    """A random model and what the brute-force engine says of it."""

    sketch: Sketch
    answer: Answer
    steps: tuple[tuple[tuple[object, ...], int, tuple[Outcome, ...]], ...]


@cache
def cases() -> tuple[Case, ...]:
    """The models of the suite; those with many states are left out to keep it short."""
    found = []
    for seed, zeros in [*((s, False) for s in SEEDS), *((s, True) for s in TIMELESS_SEEDS)]:
        drawn = sketch(seed, zeros=zeros)
        try:
            answer = search(drawn.parts, drawn.goals, MOST_STATES)
        except TooBig:
            continue
        rng = Random(seed)
        some = sorted(answer.situations, key=repr)
        steps = []
        for situation in rng.sample(some, min(SITUATIONS, len(some))):
            armed = sum(
                len(p.armed(local, _reads(drawn.parts, situation, p)))
                for p, local in zip(drawn.parts, situation, strict=True)
            )
            steps += [(situation, i, outcomes(drawn.parts, situation, i)) for i in range(armed)]
        found.append(Case(drawn, answer, tuple(steps)))
    return tuple(sorted(found, key=lambda case: case.answer.states))


def _reads(parts: tuple[Part, ...], situation: tuple[object, ...], reader: Part) -> dict[str, Any]:
    shown: dict[str, Any] = {}
    for part, local in zip(parts, situation, strict=True):
        shown.update(zip(part.publishes, part.shown(local), strict=True))
    return {name: shown[name] for name in reader.reads}


def complaints(engine: Engine) -> Iterator[str]:
    """Everything that is wrong with this engine, cheapest check first; an exception is a complaint as well."""
    for check in (_rules, _budgets, _few_classes, _what_waits_behind, _promises, _steps, _wholes):
        try:
            yield from check(engine)
        except Exception as error:
            yield f"{check.__name__}: {type(error).__name__}: {error}"


def first_complaint(engine: Engine) -> str | None:
    """Why this engine is wrong, or None."""
    return next(complaints(engine), None)


def _steps(engine: Engine) -> Iterator[str]:
    for case in cases():
        model = engine.tables.Model(case.sketch.parts)
        for situation, position, expected in case.steps:
            moves = engine.step.expire(model, situation, position)
            got = [(m.situation, m.timers, m.kept, m.actions, m.chatter) for m in moves]
            wanted = [
                (o.after, o.clocks, tuple(-1 if k is None else k for k in o.source), o.actions, o.chatter)
                for o in expected
            ]
            if got != wanted:
                yield f"seed {case.sketch.seed}: a step from {situation}"


def _wholes(engine: Engine) -> Iterator[str]:
    for case in cases():
        model = engine.tables.Model(case.sketch.parts)
        goals = [*map(_as_test, case.sketch.goals), lambda model, before, move: False]
        found = engine.explore.explore(model, goals, BUDGET)
        seed = f"seed {case.sketch.seed}"
        if not found.complete:
            yield f"{seed}: not complete after {found.classes} classes"
        if found.situations != len(case.answer.situations):
            yield f"{seed}: {found.situations} situations"
        if bool(found.stuck) != case.answer.stuck:
            yield f"{seed}: stuck {found.stuck}"
        for goal, path, least in zip(case.sketch.goals, found.paths, case.answer.costs, strict=False):
            if path is None or least is None:
                if path is not least:
                    yield f"{seed}: reachable {path is not None}, not {least is not None}"
                continue
            cost = (sum(s.move.actions for s in path), sum(s.move.chatter for s in path), len(path))
            if cost != least:
                yield f"{seed}: cost {cost}, not {least}"
            yield from (f"{seed}: {what}" for what in _walk(case.sketch, goal, path))
        kept = [matrices for _, matrices in engine.explore.explore(model, goals, BUDGET, keep=True).kept]
        searched = engine.passes.search(engine.space.Space(model, goals), [len(goals) - 1], BUDGET).kept.values()
        if _smaller_ones(kept) or _smaller_ones(searched):
            yield f"{seed}: smaller classes are kept beside larger ones"
        swept = engine.explore.explore(model, goals, BUDGET, stories=())
        if not swept.complete or any(swept.least):
            yield f"{seed}: a sweep alone is complete, and finds nothing of least cost"
        for goal, path, least in zip(case.sketch.goals, swept.paths, case.answer.costs, strict=False):
            if (path is None) is not (least is None):
                yield f"{seed}: swept {path is not None}, not {least is not None}"
            if path is not None:
                yield from (f"{seed}: swept, {what}" for what in _walk(case.sketch, goal, path))


def _walk(drawn: Sketch, goal: Goal, path: Any) -> Iterator[str]:
    """The path again by the brute-force engine: step by step, and whether it ends in the goal."""
    situation: tuple[object, ...] = tuple(part.start for part in drawn.parts)
    for step in path:
        if step.situation != situation:
            yield "the path is broken"
            return
        later = [o.after for o in outcomes(drawn.parts, situation, step.position)]
        if step.move.situation not in later:
            yield "the path takes a step that there is not"
            return
        before, situation = situation, step.move.situation
    if not path or not goal(before, situation):
        yield "the path ends elsewhere"


def _as_test(goal: Goal) -> Callable[[object, Any, Any], bool]:
    return lambda model, before, move: goal(before, move.situation)


def _counter(top: int) -> Part:
    """Counts up to `top`, 1 to 2 units a step."""
    return Part(
        "counter", "device", 0,
        armed=lambda local, reads: (Timer("tick", 1, 2),) if local != top else (),
        expired=lambda local, timer, reads: (Choice(int(str(local)) + 1),),
    )  # fmt: skip


def _budgets(engine: Engine) -> Iterator[str]:
    """A counter to 9 has ten classes; whoever keeps fewer hasn't looked at every one."""
    counter = engine.tables.Model((_counter(9),))
    for budget in (0, 1, 5, 9, 10, 11):
        for taken, complete in _taken(engine, counter, budget):
            if (taken, complete) != (min(budget, 10), budget >= 10):
                yield f"budget {budget}: {taken} classes, complete {complete}"
        found = engine.explore.explore(counter, [lambda m, b, v: False], budget)
        if (found.classes, found.complete) != ((budget + 1) // 2 + min(budget, 10), budget >= 10):
            yield f"budget {budget}: {found.classes} classes in both passes, complete {found.complete}"
        found = engine.explore.explore(counter, [lambda m, b, v: False], budget, stories=())
        if (found.classes, found.complete) != (min(budget, 10), budget >= 10):
            yield f"budget {budget}: {found.classes} classes in a sweep alone, complete {found.complete}"
    last = lambda m, b, v: v.situation == (9,)  # noqa: E731
    found = engine.explore.explore(counter, [lambda m, b, v: False, last], 12, stories=(0,))
    if (found.complete, len(found.paths[1] or ())) != (True, 9):
        yield "what a sweep left open is found by the search, though no story of it was wanted"
    found = engine.explore.explore(counter, [lambda m, b, v: False], 20)
    if (found.classes, found.complete) != (10, True):
        yield f"{found.classes} classes where a sweep is enough, complete {found.complete}"
    third, fifth = (lambda m, b, v: v.situation == (3,)), (lambda m, b, v: v.situation == (5,))
    met = engine.explore.explore(counter, [third], 100)
    if (met.classes, met.complete, len(met.paths[0]), met.least) != (3 + 4, False, 3, (True,)):
        yield "a goal met ends either pass, which is then not complete"
    met = engine.explore.explore(counter, [third, fifth], 100, stories=(0,))
    if (met.classes, [len(path) for path in met.paths], met.least) != (5 + 4, [3, 5], (True, False)):
        yield "only that goal is searched for of which a story is wanted"
    if [len(path or ()) for path in engine.explore.explore(counter, [fifth, third], 7).paths] != [5, 3]:
        yield "both goals within the budget"
    if [len(path or ()) for path in engine.explore.explore(counter, [fifth, third], 4).paths] != [0, 3]:
        yield "one goal within the budget"


def _smaller_ones(kept: Any) -> int:
    """How many of the classes that were kept are included in another one of their situation."""
    return sum(
        any(big is not small and all(map(le, small, big)) for big in matrices)
        for matrices in kept
        for small in matrices
    )


def _taken(engine: Engine, model: Any, budget: int) -> Iterator[tuple[int, bool]]:
    """How many classes each pass takes where nothing is met, and whether it is complete."""
    for one in (engine.passes.sweep, engine.passes.search):
        found = one(engine.space.Space(model, [lambda m, b, v: False]), [0], budget)
        yield len(found.trail), found.complete


def _what_waits_behind(engine: Engine) -> Iterator[str]:
    """Of two ways into a situation the second is the wider: what waits after the first is dropped by a sweep."""
    end = (Timer("end", 5, 9), (Choice("done"),))
    rows: Rows = {"start": ((Timer("way", 1, 1), (Choice("way 0"), Choice("way 1"))),), "after": (end,)}
    rows |= {f"way {i}": (end, (Timer("turn", 2 - i, 2 + i), (Choice("met"),))) for i in range(2)}
    rows["met"] = (end, (Timer("more", 1, 1), (Choice("after"),)))
    taken = [taken for taken, _ in _taken(engine, engine.tables.Model((_machine(rows),)), 20)]
    if taken != [7, 8]:
        yield f"{taken} classes instead of 7 in a sweep and 8 in a search"


Rows = dict[str, tuple[tuple[Timer, tuple[Choice, ...]], ...]]
"""By local state: the timers that run in it, each with what its expiry may lead to."""


def _machine(rows: Rows) -> Part:
    """A part written out row by row; it begins in `start`."""
    return Part(
        "machine", "device", "start",
        armed=lambda local, reads: tuple(timer for timer, _ in rows.get(str(local), ())),
        expired=lambda local, name, reads: next(row for timer, row in rows[str(local)] if timer.name == name),
    )  # fmt: skip


def _few_classes(engine: Engine) -> Iterator[str]:
    """One wide way into a situation and five narrower ones, whose classes are included and dropped."""
    end = (Timer("end", 0, 9), (Choice("done"),))
    rows: Rows = {
        "start": ((Timer("way", 1, 1), (Choice("wide"), *(Choice(f"narrow {i}") for i in range(1, 6)))),),
        "wide": (end,),
    }
    rows |= {f"narrow {i}": (end, (Timer("turn", i, i), (Choice("wide"),))) for i in range(1, 6)}
    for taken, complete in _taken(engine, engine.tables.Model((_machine(rows),)), 9):
        if (taken, complete) != (8, True):
            yield f"{taken} classes instead of 8, complete {complete}"
    # What is left of `end` on three ways into one situation: the second neither includes the first nor is included in it,
    # the third is included in the first: 0 to 4, 4 to 8, 0 to 3; and 1 to 7, 0 to 3, 2 to 6.
    end = (Timer("end", 5, 9), (Choice("done"),))
    for turns in (((5, 5), (1, 1), (6, 6)), ((2, 4), (6, 6), (3, 3))):
        rows = {"start": ((Timer("way", 1, 1), tuple(Choice(f"way {i}") for i in range(3))),), "met": (end,)}
        rows |= {f"way {i}": (end, (Timer("turn", *turns[i]), (Choice("met"),))) for i in range(3)}
        for taken, complete in _taken(engine, engine.tables.Model((_machine(rows),)), 9):
            if (taken, complete) != (7, True):
                yield f"{taken} classes instead of 7, complete {complete}"


def _promises(engine: Engine) -> Iterator[str]:
    """What random models seldom show: fewest steps late in the search, waiting that has no end, going round and out."""

    def least(rows: Rows) -> int:
        model = engine.tables.Model((_machine(rows),))
        (path,) = engine.explore.explore(model, [lambda m, b, v: v.situation[0] == "goal"], 100).paths
        return len(path or ())

    one = Timer("one", 1, 1)
    calm = [(f"calm {i}", ((one, (Choice(f"calm {i + 1}"),)),)) for i in range(4)]
    rows: Rows = dict(calm)
    rows["start"] = ((one, (Choice("calm 0"), Choice("soon", actions=1))),)
    rows["soon"] = ((one, (Choice("goal"),)),)
    rows["calm 4"] = ((one, (Choice("goal", actions=1),)),)
    if least(rows) != 2:
        yield "the story with the fewest steps among those with one action"
    slow: Rows = {"start": ((Timer("long", 10**15, 10**15), (Choice("then"),)),), "then": ((one, (Choice("goal"),)),)}
    after = Part(
        "patient", "device", "waits",
        armed=lambda local, reads: (Timer("waits", 0, FOREVER),) if local == "waits" else (),
        expired=lambda local, timer, reads: (Choice("over"),),
    )  # fmt: skip
    model = engine.tables.Model((_machine(slow), after))
    found = engine.explore.explore(model, [lambda m, b, v: v.situation == ("goal", "waits")], 100)
    if found.paths[0] is None:
        yield "whoever waits without limit can wait longer than anything else lasts"
    caller = Part(
        "caller", "device", 0, sends=("call",),
        armed=lambda local, reads: (one,), expired=lambda local, timer, reads: (Choice(0, ("call",)),),
    )  # fmt: skip
    hearer = Part(
        "hearer", "device", 0, takes={"call": ()},
        heard=lambda local, signal, reads: tuple(Choice(i) for i in range(1, 5)),
    )  # fmt: skip
    model = engine.tables.Model((caller, hearer))
    if [move.situation[1] for move in engine.step.expire(model, model.start, 0)] != [1, 2, 3, 4]:
        yield "whoever hears chooses in the order of choices"
    none = Timer("none", 0, 0)
    for row in ((Choice("start"), Choice("out")), (Choice("out"), Choice("start"))):
        if not engine.explore.explore(
            engine.tables.Model((_machine({"start": ((none, row),)}),)), [lambda m, b, v: False], 100
        ).stuck:
            yield "round without time, with a way out"


def _rules(engine: Engine) -> Iterator[str]:
    """Each rule of the model, broken once; the copy's own `ModelFault` is wanted."""
    tick = Timer("tick", 1, 2)

    def part(name: str = "one", **more: Any) -> Part:
        return Part(name, "device", 0, **more)

    def steps(*timers: Timer, row: tuple[Choice, ...] = (Choice(0),)) -> Callable[[], object]:
        parts = (part(armed=lambda local, reads: timers, expired=lambda local, timer, reads: row),)

        def act() -> object:
            model = engine.tables.Model(parts)
            return engine.step.expire(model, model.start, 0)

        return act

    def changing() -> object:
        model = engine.tables.Model(
            (
                part(
                    armed=lambda local, reads: (Timer("tick", 1, 1), Timer("long", 5, 5 + int(str(local)))),
                    expired=lambda local, timer, reads: (Choice(1),),
                ),
            )
        )
        return engine.step.expire(model, model.start, 0)

    def joins(*parts: Part) -> Callable[[], object]:
        return lambda: engine.tables.Model(parts)

    broken: dict[str, Callable[[], object]] = {
        "two parts of one name": joins(part(), part()),
        "two publishers": joins(part("a", publishes=("v",)), part("b", publishes=("v",))),
        "nobody publishes": joins(part(reads=("v",))),
        "a circle": joins(part("a", takes={"s": ("t",)}), part("b", takes={"t": ("s",)})),
        "two timers of one name": steps(tick, tick),
        "an empty interval": steps(Timer("tick", 3, 2)),
        "before now": steps(Timer("tick", -1, 2)),
        "no choice": steps(tick, row=()),
        "an unsaid signal": steps(tick, row=(Choice(0, ("s",)),)),
        "a running timer changes": changing,
    }
    for name, act in broken.items():
        try:
            act()
        except engine.tables.ModelFault:
            continue
        yield f"let through: {name}"
