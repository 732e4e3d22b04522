"""The failures that are looked for side by side, and the five ways of looking."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

from benchmarks.byhand import look_for_clip, look_for_ladder, look_for_timer, try_examples
from benchmarks.devices import make_clip, make_ladder, make_timer
from benchmarks.unrolled import unroll
from nudgeproof.engines.explore import explore
from nudgeproof.engines.fuzz import fuzz
from nudgeproof.model.step import Move, Test, expire
from nudgeproof.model.tables import Local, Model, Part, Reads, Situation, Timer
from nudgeproof.parts.compile import Environment, compile_model
from nudgeproof.questions.steps import starting_wrongly
from nudgeproof.spec.types import Device
from nudgeproof.units import FOREVER, show_us
from tests.oracle.brute import Locals, TooBig, search

MS = 1_000
MODES = 8
EXAMPLES, FUZZ_STEPS, SEED = 2_000, 20_000, 1
CLASSES, STATES = 200_000, 300_000
Z3_SECONDS = 20.0


@dataclass(frozen=True, slots=True)
class Case:
    """A failure to look for. `there`: whether there is one. `body`: the test by hand. `unit_us`: all times are multiples."""

    name: str
    there: bool
    device: Device
    environment: Environment
    test: Test
    body: Callable[[Callable[[Any], Any]], None]
    unit_us: int

    def compile(self) -> Model:
        """A model made anew."""
        return compile_model(self.device, self.environment)


@dataclass(frozen=True, slots=True)
class Seen:
    """What a way of looking came to: its answer, the processor time, and how much work of which unit."""

    answer: str
    seconds: float
    work: int
    unit: str


def enters(state: str) -> Test:
    """Steps into `state`."""

    def test(model: Model, before: Situation, move: Move) -> bool:
        return model.value(move.situation, "state") == state != model.value(before, "state")

    return test


def knocked(name: str, apart_us: int, there: bool, unit_us: int) -> Case:
    """Three knocks switch the clip on."""
    device = make_clip(show_us(apart_us))
    return Case(name, there, device, Environment(("knocks",)), enters("lit"), look_for_clip(apart_us), unit_us)


def interrupted(name: str, hold_up_us: int, there: bool, unit_us: int) -> Case:
    """The timer comes back with another setting."""
    device = make_timer(show_us(hold_up_us))
    environment = Environment(("person", "rattle"), watched=True)
    test = starting_wrongly(device, torn=False)
    return Case(name, there, device, environment, test, look_for_timer(hold_up_us), unit_us)


def climbed(name: str, within_us: int, there: bool, unit_us: int, modes: int = MODES) -> Case:
    """The ladder comes to its last mode."""
    device = make_ladder(modes, show_us(within_us))
    body = look_for_ladder(modes, within_us)
    return Case(name, there, device, Environment(("person",)), enters(f"mode {modes}"), body, unit_us)


CASES: tuple[Callable[[], Case], ...] = (
    lambda: knocked("knocks, wide", 200 * MS, True, MS),
    lambda: knocked("knocks, one corner", 265 * MS, True, MS),
    lambda: knocked("knocks, 1 us beyond it", 265 * MS + 1, False, 1),
    lambda: interrupted("lost setting, 1.4 ms", 2 * MS, True, 100),
    lambda: interrupted("lost setting, 1 us", 3_399, True, 1),
    lambda: interrupted("lost setting, none", 3_400, False, 100),
    lambda: climbed(f"{MODES} modes up, wide", 60_000 * MS, True, 5 * MS),
    lambda: climbed(f"{MODES} modes up, one corner", 965 * MS, True, 5 * MS),
    lambda: climbed(f"{MODES} modes up, 1 us beyond", 965 * MS - 1, False, 1),
)


def in_units(parts: tuple[Part, ...], unit_us: int) -> tuple[Part, ...]:
    """The same parts with a coarser unit of time; raises ValueError at a time that is no multiple of it."""

    def divide(us: int) -> int:
        if us % unit_us:
            raise ValueError(f"{us} us is no multiple of {unit_us} us")
        return us // unit_us

    def coarsen(part: Part) -> Part:
        def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
            return tuple(
                Timer(t.name, divide(t.lo), FOREVER if t.hi == FOREVER else divide(int(t.hi)), t.of)
                for t in part.armed(local, reads)
            )

        return replace(part, armed=armed)

    return tuple(map(coarsen, parts))


Work = tuple[str, int, str]
"""The answer, how much work, of which unit."""


def by_hand(case: Case) -> Work:
    """A test for hypothesis over a model written by hand."""
    tried = try_examples(case.body, EXAMPLES)
    return "found" if tried.found else "not found", tried.examples, "examples"


def by_fuzz(case: Case) -> Work:
    """Random runs of the tool."""
    seen = fuzz(case.compile(), (case.test,), FUZZ_STEPS, SEED)
    return "not found" if seen.failures[0] is None else "found", seen.steps, "steps"


def by_unrolling(case: Case) -> Work:
    """Bounded unrolling with z3."""
    seen = unroll(case.compile(), case.test, Z3_SECONDS)
    return "found" if seen.found else "not so far", seen.steps, "steps deep"


def by_force(case: Case) -> Work:
    """The tests' brute force, in the largest unit that all times are multiples of."""
    model = case.compile()

    @cache
    def met(before: Locals, after: Locals) -> bool:
        moves = (move for i in range(len(model.armed(before))) for move in expire(model, before, i))
        return any(move.situation == after and case.test(model, before, move) for move in moves)

    try:
        seen = search(in_units(model.parts, case.unit_us), (met,), STATES, enough=True)
    except TooBig:
        return "too big", STATES, "states"
    return "proved absent" if seen.costs[0] is None else "found", seen.states, "states"


def by_exploring(case: Case) -> Work:
    """The explorer."""
    seen = explore(case.compile(), (case.test,), CLASSES)
    if seen.paths[0] is not None:
        return "found", seen.classes, "classes"
    return "proved absent" if seen.complete and not seen.stuck else "too big", seen.classes, "classes"


WAYS: dict[str, Callable[[Case], Work]] = {
    "test by hand": by_hand,
    "z3": by_unrolling,
    "brute force": by_force,
    "fuzz": by_fuzz,
    "explorer": by_exploring,
}


def look(way: str, case: Case) -> Seen:
    """Look for a failure in one way; processor time, what was made before not counted."""
    begin = time.process_time()
    answer, work, unit = WAYS[way](case)
    return Seen(answer, time.process_time() - begin, work, unit)
