"""The laws of certificates, on devices and on random models, and faults planted in the auditor.

What exploration proves is accepted. The members are the least closed set, so nothing can be taken from them: no member can
be missing, be somewhere else, or be smaller by one microsecond at any bound. And what can happen is never accepted.

`python -m tests.quality.test_certificates [MODELS]` tries more random models than the suite does (default: 400).
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from random import Random
from types import ModuleType
from typing import Any, Final

import pytest

from nudgeproof.engines import audit as audit_module
from nudgeproof.engines.audit import Audit, audit
from nudgeproof.engines.certificate import certify
from nudgeproof.engines.encoding import Claim
from nudgeproof.engines.explore import explore
from nudgeproof.hazards import accidental_change, accidental_wake, missed_gesture, torn_memory
from nudgeproof.model.step import Move, Test
from nudgeproof.model.tables import Choice, Model, Part, Situation, Timer
from nudgeproof.parts.compile import Environment, compile_model
from nudgeproof.questions.ask import NotAsked, Question
from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import Device
from tests.amount import amount
from tests.devices import BUDGET, bench, enters, presses
from tests.oracle.brute import Goal, TooBig, search
from tests.oracle.randomly import sketch

Auditor = Callable[[Model, Test, str, Claim], Audit]
ROOT: Final = Path(__file__).resolve().parents[2]
MOST_STATES: Final = 400
SLOW: Final = {22, 25, 38}
"""Random models that take as long as all others when several bounds are changed."""
SMALL: Final = 400
"""Entries of all matrices together, up to which each one is tried."""

LAMP: Final = """spec: 1
device: dim lamp
buttons:
  pad: {bounce: up to 2 ms, debounce: 10 ms}
gestures:
  tap: {taps: 1, press: up to 400 ms}
variables:
  level: [low, high]
initial: idle
states:
  idle:
    transitions: {tap: {next: level}}
memory: {keeps: [level], write takes: 3 to 4 ms, guard: two copies, may lose: the last 10 ms}
power up: {takes: 60 to 80 ms}
supply: {hold-up: 5 ms}
surroundings:
  drops: {cell gone: 1 to 9 ms, then steady at least: 200 ms}
"""


def never(model: Model, before: Situation, move: Move) -> bool:
    return False


@dataclass(frozen=True, slots=True)
class Case:
    """A certificate, and what it takes to check it."""

    model: Model
    test: Test
    claim: Claim
    document: str

    def verdict(self, document: Any, auditor: Auditor = audit) -> Audit:
        """The auditor's answer to this document instead."""
        text = document if isinstance(document, str) else json.dumps(document)
        return auditor(self.model, self.test, text, self.claim)


def asked(path: str, hazard: ModuleType) -> tuple[Device, Question]:
    """The first question of a hazard about a spec of the project."""
    device = read_device((ROOT / path).read_text(encoding="utf-8"), path)
    questions = hazard.ask(device)
    assert not isinstance(questions, NotAsked)
    return device, questions[0]


def proved(device: Device, environment: Environment, test: Test) -> Case:
    model = compile_model(device, environment)
    seen = explore(model, [test], BUDGET, keep=True)
    claim = Claim(device.digest, "some-hazard", "some subject", environment)
    return Case(compile_model(device, environment), test, claim, certify(claim, seen, 0))


def of_question(path: str, hazard: ModuleType) -> Case:
    device, question = asked(path, hazard)
    return proved(device, *(question.wider or (question.environment, question.looked_for)))


def of_lamp() -> Case:
    device = read_device(LAMP, "lamp.yaml")
    questions = torn_memory.ask(device)
    assert not isinstance(questions, NotAsked)
    question = questions[0]
    assert isinstance(question, Question)
    return proved(device, *(question.wider or (question.environment, question.looked_for)))


def of_bench() -> Case:
    device = bench(
        "two taps: {taps: 2, press: up to 300 ms, between: up to 200 ms}",
        "two taps: hit",
        bounce="up to 3 ms",
        debounce="10 ms",
        extra="hit: {shows: hit}",
    )
    return proved(device, Environment(script=presses((0, 100_000), (330_000, 400_000))), enters("hit"))


DEVICES: Final[dict[str, Callable[[], Case]]] = {
    "squeeze while asleep": lambda: of_question("specs/failures/accidental-wake/mended.yaml", accidental_wake),
    "squeeze while on": lambda: of_question("specs/failures/accidental-wake/mended.yaml", accidental_change),
    "a tap on purpose": lambda: of_question("specs/failures/unreachable-mode/mended.yaml", missed_gesture),
    "knocks on a rain cover": lambda: of_question("specs/rain-cover-light.yaml", accidental_wake),
    "a lamp that loses its cell": of_lamp,
    "two presses too far apart": of_bench,
}


@dataclass(frozen=True, slots=True)
class Drawn:
    """A random model, its certificate, and which of its goals can happen."""

    case: Case
    goals: tuple[tuple[Goal, bool], ...]
    stuck: bool


@cache
def drawn(seed: int, zeros: bool = False) -> Drawn | None:
    """None if the model is too large for the brute-force engine. Where time can stop the certificate is a false one."""
    one = sketch(seed, zeros=zeros)
    try:
        answer = search(one.parts, one.goals, MOST_STATES)
    except TooBig:
        return None
    seen = explore(Model(one.parts), [never], 20_000, keep=True)
    claim = Claim(str(seed), "some-hazard", "random", Environment())
    document = certify(claim, replace(seen, stuck=()), 0)
    can = tuple((goal, cost is not None) for goal, cost in zip(one.goals, answer.costs, strict=True))
    return Drawn(Case(Model(one.parts), never, claim, document), can, answer.stuck)


def as_test(goal: Goal) -> Test:
    return lambda model, before, move: goal(before, move.situation)


def copy(document: Any) -> Any:
    return json.loads(json.dumps(document))


def entries(document: Any) -> list[tuple[int, int, int]]:
    """All places of bounds: class, matrix, entry."""
    return [
        (i, j, k)
        for i, entry in enumerate(document["classes"])
        for j, matrix in enumerate(entry["matrices"])
        for k in range(len(matrix))
    ]


def smaller(document: Any, some: list[tuple[int, int, int]]) -> Iterator[tuple[str, Any]]:
    """One bound less by a microsecond, or a limit where there was none."""
    for i, j, k in some:
        changed = copy(document)
        matrix = changed["classes"][i]["matrices"][j]
        matrix[k] = 10**9 if matrix[k] == "inf" else matrix[k] - 1
        yield f"bound {k} of matrix {j} in situation {i} made smaller", changed


def fewer(document: Any) -> Iterator[tuple[str, Any]]:
    """One member dropped, one situation dropped, one member moved to the next situation."""
    count = len(document["classes"])
    for i, entry in enumerate(document["classes"]):
        changed = copy(document)
        del changed["classes"][i]
        yield f"situation {i} dropped", changed
        for j, matrix in enumerate(entry["matrices"]):
            changed = copy(document)
            del changed["classes"][i]["matrices"][j]
            if entry["matrices"][1:]:
                yield f"matrix {j} of situation {i} dropped", copy(changed)
            if count > 1:
                changed["classes"][(i + 1) % count]["matrices"].append(matrix)
                yield f"matrix {j} of situation {i} moved", changed


def renamed(document: Any) -> Iterator[tuple[str, Any]]:
    """The situations of two entries changed over, or one that isn't one."""
    classes = document["classes"]
    for i, entry in enumerate(classes):
        changed = copy(document)
        changed["classes"][i]["situation"] += " "
        yield f"situation {i} by another text", changed
        other = (i + 1) % len(classes)
        if entry["matrices"] != classes[other]["matrices"]:
            changed = copy(document)
            texts = (classes[other]["situation"], entry["situation"])
            changed["classes"][i]["situation"], changed["classes"][other]["situation"] = texts
            yield f"situations {i} and {other} changed over", changed


def false(document: Any) -> Iterator[tuple[str, Any]]:
    """All documents in which one thing is missing."""
    yield from fewer(document)
    yield from renamed(document)
    yield from smaller(document, entries(document))


def some_false(document: Any, rng: Random, most: int) -> Iterator[tuple[str, Any]]:
    """Some members dropped, one at a time, and some bounds made smaller."""
    for _ in range(most // 2):
        changed = copy(document)
        i = rng.randrange(len(changed["classes"]))
        matrices = changed["classes"][i]["matrices"]
        del matrices[rng.randrange(len(matrices))]
        if not matrices:
            del changed["classes"][i]
        yield f"a member of situation {i} dropped", changed
    places = entries(document)
    yield from smaller(document, rng.sample(places, min(most, len(places))))


@pytest.mark.parametrize("name", DEVICES)
def test_what_is_proved_of_a_device_is_accepted_and_nothing_can_be_taken_away(name: str) -> None:
    case = DEVICES[name]()
    assert case.document == DEVICES[name]().document
    document = json.loads(case.document)
    assert case.verdict(case.document) == Audit(True, "", sum(len(entry["matrices"]) for entry in document["classes"]))
    small = len(entries(document)) <= SMALL
    for what, changed in false(document) if small else some_false(document, Random(name), amount(2, 4)):
        verdict = case.verdict(changed)
        assert not verdict.ok, what
        assert verdict.reason
    for key, value in (("format", 2), ("tool", "0.0"), ("spec_digest", "0" * 64), ("environment", {})):
        assert case.verdict({**document, key: value}).reason == f"the certificate is about another `{key}`"


def test_the_bytes_hang_on_no_order_of_sets() -> None:
    """The ledger of this lamp keeps sets of texts, whose order within Python changes from run to run."""
    program = "from tests.quality.test_certificates import of_lamp; print(of_lamp().document, end='')"
    told = []
    for seed in ("1", "3"):  # in these two the order differs
        environment = {**os.environ, "PYTHONHASHSEED": seed, "PYTHONPATH": os.pathsep.join(sys.path)}
        done = subprocess.run(
            [sys.executable, "-c", program], cwd=ROOT, env=environment, capture_output=True, text=True, check=True
        )
        told.append(done.stdout)
    assert "{(" in told[0], "there are sets in it"
    assert told[0] == told[1] == of_lamp().document


@pytest.mark.parametrize("chunk", range(2))
def test_what_the_brute_force_engine_rules_out_is_accepted_and_nothing_else(chunk: int) -> None:
    answers = {True: 0, False: 0}
    for seed in range(chunk * 60, (chunk + 1) * 60):
        one = drawn(seed)
        if one is None:
            continue
        assert one.case.verdict(one.case.document).ok == (not one.stuck), f"seed {seed}"
        for goal, can in one.goals:
            verdict = replace(one.case, test=as_test(goal)).verdict(one.case.document)
            assert verdict.ok == (not can and not one.stuck), f"seed {seed}"
            answers[verdict.ok] += 1
    assert min(answers.values()) >= 25, answers


@pytest.mark.parametrize("seeds", [range(amount(9, 20)), range(20, 40)], ids=["some", "others"])
def test_nothing_can_be_taken_away_from_the_certificate_of_a_random_model(seeds: range) -> None:
    tried = take_away(seeds)
    assert tried >= 500, tried


def take_away(seeds: Iterable[int]) -> int:
    """How many certificates with something taken away were refused; raises AssertionError if one wasn't."""
    tried = 0
    for seed in seeds:
        one = drawn(seed)
        if one is None or one.stuck:
            continue
        document = json.loads(one.case.document)
        if len(entries(document)) > SMALL:
            continue
        for what, changed in false(document):
            assert not one.case.verdict(changed).ok, f"seed {seed}: {what}"
            tried += 1
    return tried


def test_several_bounds_changed_at_once_never_prove_what_is_false() -> None:
    """Larger or smaller, dropped or doubled: as long as a goal can happen no document is accepted for it."""
    tried, accepted = change_several(set(range(40)) - amount(SLOW, set()))
    assert tried >= 1_000
    assert accepted >= 10, "larger sets are closed now and then, else this test shows little"


def change_several(seeds: Iterable[int]) -> tuple[int, int]:
    """How many were tried and how many accepted; raises AssertionError if one was that proves what is false."""
    tried = accepted = 0
    for seed in seeds:
        one = drawn(seed)
        if one is None or one.stuck:
            continue
        rng = Random(seed)
        document = json.loads(one.case.document)
        for _ in range(12):
            changed = copy(document)
            for i, j, k in rng.sample(entries(document), min(4, len(entries(document)))):
                matrix = changed["classes"][i]["matrices"][j]
                matrix[k] = (
                    "inf" if matrix[k] == "inf" or rng.random() < 0.2 else matrix[k] + rng.choice((1, 1, 2, 9, -1))
                )
            if rng.random() < 0.3:
                changed["classes"].pop(rng.randrange(len(changed["classes"])))
            for goal, can in one.goals:
                verdict = replace(one.case, test=as_test(goal)).verdict(changed)
                assert not (verdict.ok and can), f"seed {seed}"
                accepted += verdict.ok
                tried += 1
    return tried, accepted


@dataclass(frozen=True, slots=True)
class Mutant:
    """In the auditor the text `old` reads `new`."""

    name: str
    old: str
    new: str


RIVALS: Final = "*(min(bound, 0) for bound in member[first][1:])"
UNKNOWN: Final = "        if key not in members:\n"
SAME: Final = "if json.dumps(found[key], sort_keys=True) != json.dumps(value, sort_keys=True):"
VOID: Final = "    if shortest is None:\n"

MUTANTS: Final = (
    Mutant("any timer may be first", RIVALS, "*member[first][1:]"),
    Mutant("ties lost", RIVALS, "*(min(bound, -1) for bound in member[first][1:])"),
    Mutant("first means now", "[member[first][0], *", "[min(0, member[first][0]), *"),
    Mutant(
        "included in anything", "if not any(_within(bounds, member) for member in closed[key])", "if not closed[key]"
    ),
    Mutant("includes instead of included", "_within(bounds, member)", "_within(member, bounds)"),
    Mutant("strictly included", "all(a <= b for", "all(a < b for"),
    Mutant("one bound included is enough", "all(a <= b for", "any(a <= b for"),
    Mutant("the test isn't asked", "if _ask(test, model, situation, move):", "if False:"),
    Mutant(
        "the first outcome only",
        "_ask(expire, model, situation, position):",
        "_ask(expire, model, situation, position)[:1]:",
    ),
    Mutant("the first member only", "in filter(None, possible):", "in list(filter(None, possible))[:1]:"),
    Mutant(
        "the last timer skipped", "in enumerate(model.armed(situation)):", "in enumerate(model.armed(situation)[:-1]):"
    ),
    Mutant("only the start is looked at", "while waiting:", "while waiting[:1] == [encode(model.start)]:"),
    Mutant("situations may be missing", UNKNOWN, f"{UNKNOWN}            return key\n{UNKNOWN}"),
    Mutant("nothing runs on", "*(k + 1 if k >= 0 else -1 for k in kept)", "*(-1 for k in kept)"),
    Mutant("another timer runs on", "k + 1 if k >= 0", "k if k > 0"),
    Mutant("no least time", "timer.hi, -timer.lo", "timer.hi, 0"),
    Mutant("no most time", "timer.hi, -timer.lo", "FOREVER, -timer.lo"),
    Mutant("least and most changed over", "bounds[i][0], bounds[0][i] =", "bounds[0][i], bounds[i][0] ="),
    Mutant("differences forgotten", "if p >= 0 <= q else", "if p >= 0 <= q and first in (p, q) else"),
    Mutant("nothing follows", "[min(bound, start + onward) for", "[bound for"),
    Mutant("the longest path", "[min(bound, start + onward) for", "[max(bound, start + onward) for"),
    Mutant("ways through 0 left out", "for k in range(len(bounds)):", "for k in range(1, len(bounds)):"),
    Mutant("no contradiction", "if any(row[i] < 0 for", "if any(row[i] < -(10**9) for"),
    Mutant("always a contradiction", "if any(row[i] < 0 for", "if any(row[i] <= 0 for"),
    Mutant("an empty class is one", VOID, f"{VOID}        return bounds\n{VOID}"),
    Mutant("time may stop", "if timer.hi == 0:", "if timer.hi < 0:"),
    Mutant("a short time is no time", "if timer.hi == 0:", "if timer.lo == 0:"),
    Mutant("one timeless step remembered", "timeless.setdefault(key, set()).add(target)", "timeless[key] = {target}"),
    Mutant("no timeless step at all", "if not targets & timeless.keys()]", "if not targets]"),
    Mutant("members that nobody needs", "if len(known) != len(members):", "if False:"),
    Mutant("any question", SAME, "if False:"),
    Mutant("equal to Python", SAME, "if found[key] != value:"),
    Mutant("any size", "if len(bounds) != width:", "if len(bounds) < width:"),
)


def mutated(old: str = "", new: str = "") -> Auditor:
    """A copy of the auditor in which `old`, found once, reads `new`; nothing is written to disk."""
    assert audit_module.__file__ is not None
    text = Path(audit_module.__file__).read_text(encoding="utf-8")
    if old:
        assert text.count(old) == 1, f"`{old}` is in the auditor {text.count(old)} times; mend the list of mutants"
        text = text.replace(old, new)
    module = ModuleType("copy_of_audit")
    sys.modules[module.__name__] = module  # dataclasses look there
    try:
        exec(compile(text, "<copy of the auditor>", "exec"), module.__dict__)
    finally:
        del sys.modules[module.__name__]
    auditor: Auditor = module.audit
    return auditor


def wheel(ways: dict[int, tuple[int, ...]], hi: int) -> Drawn:
    """A machine that goes from number to number, each time after `hi` at most; with 0 time can stop if it goes round."""
    turn = (Timer("turn", 0, hi),)
    part = Part(
        "wheel", "device", 0,
        armed=lambda local, reads: turn if local in ways else (),
        expired=lambda local, name, reads: tuple(map(Choice, ways[int(str(local))])),
    )  # fmt: skip
    seen = explore(Model((part,)), [never], 100, keep=True)
    claim = Claim("wheel", "some-hazard", "wheel", Environment())
    document = certify(claim, replace(seen, stuck=()), 0)
    return Drawn(Case(Model((part,)), never, claim, document), (), bool(seen.stuck))


def complaints(auditor: Auditor) -> Iterator[str]:
    """What an auditor gets wrong, cheapest models first; an exception is wrong as well."""
    shapes: list[dict[int, tuple[int, ...]]] = [{0: (1,), 1: (2,)}, {0: (1,), 1: (0,)}, {0: (1, 2), 1: (0, 2)}]
    made = [wheel(ways, hi) for ways in shapes for hi in (0, 1)]
    assert [one.stuck for one in made] == [False, False, True, False, True, False]
    for number, one in enumerate((*made, *filter(None, map(drawn, range(30))))):
        try:
            yield from (f"{number}: {what}" for what in _one(auditor, one, Random(number)))
        except Exception as error:
            yield f"{number}: {type(error).__name__}: {error}"


def _one(auditor: Auditor, one: Drawn, rng: Random) -> Iterator[str]:
    case, document = one.case, json.loads(one.case.document)
    if case.verdict(case.document, auditor).ok != (not one.stuck):
        yield "accepted though time can stop" if one.stuck else "a proof refused"
    for goal, can in one.goals:
        if replace(case, test=as_test(goal)).verdict(case.document, auditor).ok and can:
            yield "what can happen accepted"
    if one.stuck:
        return
    some = [*some_false(document, rng, 8)]
    some.append(
        ("one more situation", {**document, "classes": [*document["classes"], {"situation": "", "matrices": [[0]]}]})
    )
    some.append(("another question", {**document, "hazard": "another"}))
    some.append(("true for 1", {**document, "format": True}))
    wide = copy(document)
    wide["classes"][0]["matrices"] = [[0] * 400]
    some.append(("a matrix of another size", wide))
    void = copy(document)
    void["classes"][0]["matrices"].append([-1] * len(void["classes"][0]["matrices"][0]))
    some.append(("one more member without any timing", void))
    yield from (what for what, changed in some if case.verdict(changed, auditor).ok)


def test_a_copy_of_the_auditor_has_no_complaints() -> None:
    assert list(complaints(mutated())) == []


@pytest.mark.parametrize("mutant", MUTANTS, ids=lambda mutant: mutant.name)
def test_a_fault_planted_in_the_auditor_is_found(mutant: Mutant) -> None:
    assert next(complaints(mutated(mutant.old, mutant.new)), None) is not None


def main(models: int) -> int:
    """Try so many random models; ends with an AssertionError if the auditor is wrong about one."""
    print(f"{take_away(range(models))} certificates with something taken away, none accepted")
    tried, accepted = change_several(range(models))
    print(f"{tried} with several bounds changed, {accepted} accepted, all of which prove what is so")
    return 0


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 400))
