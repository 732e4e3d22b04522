"""What is asked where: what a wider environment settles, what is accepted, and how the effort is shared."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

import pytest

from nudgeproof import answers
from nudgeproof.answers import Answers, Case, match, wider_of
from nudgeproof.diagnostics import Place
from nudgeproof.engines.explore import Exploration, explore
from nudgeproof.engines.matrix import Timings
from nudgeproof.engines.space import Step
from nudgeproof.model.step import Move, Test
from nudgeproof.model.tables import Model, Situation
from nudgeproof.parts.compile import Environment, compile_model
from nudgeproof.questions.ask import Question
from nudgeproof.spec.types import Accepted, Device
from nudgeproof.verdict import Verdict
from tests.devices import bench, enters

GESTURES = "tap: {taps: 1, press: up to 400 ms}"
STATES = "hit: {transitions: {tap: idle}}\nwait: {waiting: true, transitions: {tap: hit, after 1 s: idle}}"
DEVICE = bench(GESTURES, "tap: hit", debounce="20 ms", extra=STATES)
LARGE = bench(GESTURES, "tap: hit", reader="lockout: 20 ms", extra=STATES)
PRESSED, USED = Environment(("anything",)), Environment(history="anything", left_in=("idle",))
WIDER = Environment(gestures=True)
ACCEPTED = Accepted("made up", ("anything",), "idle", "it may", "me", "today", Place("bench.yaml"))


def question(environment: Environment = PRESSED, wider: Environment | None = None, unwanted: bool = True) -> Question:
    return Question(
        hazard="made up",
        subject="hit",
        environment=environment,
        looked_for=enters("hit"),
        unwanted=unwanted,
        came_up=(enters("hit"),),
        told=lambda before, after: f"{before} -> {after}",
        denied="it can't be",
        held="it is well",
        all_held="all is well",
        cure="",
        at=Place("bench.yaml"),
        wider=None if wider is None else (wider, enters("hit")),
    )


def way(device: Device, environment: Environment = PRESSED) -> tuple[Step, ...]:
    (path,) = explore(compile_model(device, environment), (enters("hit"),), 1_000).paths
    assert path is not None
    return path


Look = Callable[[Model, Sequence[Test], int], Exploration]


def answer(monkeypatch: pytest.MonkeyPatch, device: Device, cases: Sequence[Case], look: Look, budget: int) -> Answers:
    """Answer `cases` with `look` in place of the explorer."""

    def instead(model: Model, tests: Sequence[Test], budget: int, *rest: Any, **more: Any) -> Exploration:
        return look(model, tests, budget)

    monkeypatch.setattr(answers, "explore", instead)
    found = Answers(device, budget, None, False, Timings(), briefly=True)
    found.find(cases)
    return found


def seen(paths: Sequence[tuple[Step, ...] | None], complete: bool = True, classes: int = 5) -> Exploration:
    return Exploration(tuple(paths), (True,) * len(paths), complete, classes, 1, ())


@pytest.mark.parametrize(
    ("wide", "settles"),
    [
        (seen((None,)), True),
        (seen((None,), complete=False), False),
        (replace(seen((None,)), stuck=((),)), False),
        (seen((way(DEVICE),)), False),
    ],
)
def test_a_wider_environment_settles_only_what_surely_never_happens_there(
    monkeypatch: pytest.MonkeyPatch, wide: Exploration, settles: bool
) -> None:
    """What isn't settled is looked for in its own environment too, beside what must come up."""
    asked: list[int] = []

    def look(model: Model, tests: Sequence[Test], budget: int) -> Exploration:
        asked.append(len(tests))
        return wide if len(asked) == 1 else seen((*(None for _ in tests[1:]), way(DEVICE)))

    case = Case(question(wider=WIDER), ())
    found = answer(monkeypatch, DEVICE, [case], look, 1_000)
    assert asked == [1, 1 if settles else 2]
    assert found.findings[id(case.question)].verdict is Verdict.HOLDS


def can_happen(test: Test, model: Model) -> bool:
    return explore(model, (test,), 10_000).paths[0] is not None


def test_what_is_accepted_settles_nothing_that_may_follow_by_itself() -> None:
    """In the wider environment an accepted step into a waiting state counts all the same."""

    def leaves(model: Model, before: Situation, move: Move) -> bool:
        return model.value(before, "state") == "idle" != model.value(move.situation, "state")

    for target, counts in (("hit", False), ("wait", True)):
        device = bench(GESTURES, f"tap: {target}", debounce="20 ms", extra=STATES)
        case = Case(replace(question(wider=WIDER), wider=(WIDER, leaves)), (ACCEPTED,))
        environment, test = wider_of(device, case)
        assert can_happen(test, compile_model(device, environment)) == counts


def test_what_is_accepted_is_no_failure_and_nothing_else_is() -> None:
    model = compile_model(DEVICE, PRESSED)
    assert can_happen(Case(question(), ()).looked_for, model)
    assert not can_happen(Case(question(), (ACCEPTED,)).looked_for, model)
    elsewhere = replace(ACCEPTED, within="wait")
    assert can_happen(Case(question(), (elsewhere,)).looked_for, model)


def test_only_what_is_accepted_of_a_hazard_by_a_source_matches() -> None:
    others = (replace(ACCEPTED, hazard="other"), replace(ACCEPTED, by=("knocks",)))
    asked = replace(question(), by="anything")
    assert match(replace(DEVICE, accepts=(*others, ACCEPTED)), asked).accepted == (ACCEPTED,)


def test_each_question_has_its_own_answer(monkeypatch: pytest.MonkeyPatch) -> None:
    def look(model: Model, tests: Sequence[Test], budget: int) -> Exploration:
        return seen((None, way(DEVICE), way(DEVICE), way(DEVICE), None, None))

    cases = [Case(question(), ()) for _ in range(3)]
    found = answer(monkeypatch, DEVICE, cases, look, 1_000)
    verdicts = [found.findings[id(case.question)].verdict for case in cases]
    assert verdicts == [Verdict.HOLDS, Verdict.BROKEN, Verdict.VACUOUS]


@pytest.mark.parametrize(
    ("met", "complete", "needed"),
    [
        ((True, False), (True, True), True),
        ((False, True), (True, True), True),
        ((False, False), (True, True), False),
        ((False, False), (False, True), None),
        ((True, False), (True, False), True),
        ((False, True), (False, True), True),
    ],
)
def test_an_entry_is_needed_if_any_question_needs_it(
    monkeypatch: pytest.MonkeyPatch, met: tuple[bool, ...], complete: tuple[bool, ...], needed: bool | None
) -> None:
    turns = iter(zip(met, complete, strict=True))

    def look(model: Model, tests: Sequence[Test], budget: int) -> Exploration:
        found, whole = next(turns)
        return seen((None, None, way(DEVICE) if found else None), whole)

    cases = [Case(question(environment), (ACCEPTED,)) for environment in (PRESSED, USED)]
    assert answer(monkeypatch, DEVICE, cases, look, 1_000).needed == {ACCEPTED: needed}


def test_what_comes_last_gets_some_effort_too(monkeypatch: pytest.MonkeyPatch) -> None:
    budgets: list[int] = []

    def look(model: Model, tests: Sequence[Test], budget: int) -> Exploration:
        budgets.append(budget)
        return seen([None for _ in tests], complete=False, classes=budget)

    environments = [Environment(("anything",), script_left=-1, watched=watched, trailed=trailed)
                    for watched in (False, True) for trailed in (False, True)]  # fmt: skip
    answer(monkeypatch, DEVICE, [Case(question(one), ()) for one in (*environments, USED)], look, 1_000)
    assert budgets == [250, 250, 250, 250, 10]


def test_runs_without_chatter_answer_only_what_happens_in_them(monkeypatch: pytest.MonkeyPatch) -> None:
    """What must come up happens there, but not what is wanted: all runs are looked at for that."""
    path = way(LARGE, replace(PRESSED, calm=True))
    turns = iter([(None, path), (way(LARGE), way(LARGE))])

    def look(model: Model, tests: Sequence[Test], budget: int) -> Exploration:
        return seen(next(turns))

    case = Case(question(unwanted=False), ())
    found = answer(monkeypatch, LARGE, [case], look, 1_000)
    assert found.findings[id(case.question)].verdict is Verdict.HOLDS
