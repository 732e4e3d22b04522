"""What `check` says of random devices, attacked from other sides.

Whatever is said never to happen is hunted with random runs, in the environment of the question itself; where a wider
environment settled it, the question's own one is explored as well. Stories are played again step by step, and those that
are said to happen on every specimen on specimens drawn at random. Certificates are audited.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from random import Random

import pytest

from nudgeproof import where
from nudgeproof.answers import Case, Proof, match
from nudgeproof.check import ask, audit_proof, check
from nudgeproof.engines.concrete import Known, Run
from nudgeproof.engines.explore import explore
from nudgeproof.engines.fuzz import fuzz
from nudgeproof.engines.play import play
from nudgeproof.engines.story import Story
from nudgeproof.model.step import Move
from nudgeproof.model.tables import Model, Situation
from nudgeproof.parts.compile import compile_model
from nudgeproof.parts.script import OVER
from nudgeproof.questions.ask import Derived
from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import Device
from nudgeproof.verdict import Finding, Verdict
from tests.agreement.randomspecs import sketch
from tests.amount import amount

SPECIMENS = 30
LONGEST = 3_000
SEEDS = amount((10, 33), (8, 10, 13, 23, 26, 33, 36, 44))
CHUNKS = amount(2, 4)
STEPS = 600
MIXED = 300
LEAST_SHARE = 0.05
COUNTED = (("states", 2, 5), ("gestures", 1, 4), ("variables", 0, 2), ("surroundings", 1, 3))
FEATURES = frozenset(
    [
        *("bounce 0", "bounces", "bounces long", "clock", "person", "no person", "promises", "accepts"),
        *("asleep", "waiting", "on", "on edge", "on level", "timeout", "with open", "restarts", "from press to press"),
        *("knocks", "squeeze", "for good", "cell gone", "held ignored", "held counts", "starts waiting"),
        *("numbers", "long variable", "variable time", "on entering", "group", "shared timeout", "every"),
        *("cases", "no case", "previous", "set"),
        *("lockout", "samples", "two buttons", "chord", "two fingers"),
        *("memory", "guard none", "guard checksum", "guard two copies", "at once", "after quiet", "may lose"),
        *("events", "alternating events", "an event wakes", "wakes and counts", "meant", "weak cell", "depths"),
        *("outputs", "busy", "deaf", "read in an interrupt"),
        *("promised acts", "promised values", "promised times", "promised starts"),
        *(
            f"gesture {name}"
            for name in ("tap", "two taps", "hold", "tap then hold", "long hold", "hold then tap", "row")
        ),
        *(
            "release of a hold: a tap",
            "new state: keeps the press",
            "new state: begins it anew",
            "waking press: no tap",
        ),
        *("waking press: no tap until one came", "listens again: waits for an edge", "hold counts from: any press"),
        *(
            "pending taps",
            "clock comes round",
            "causes of resets",
            "counts from power on",
            "ticks",
            "unarmed edges lost",
            "releases are taps",
            "two may fit",
            "press length",
        ),
        *("cut-off", "stays off", "erases first"),
        *("a tap acts at press", "a tap acts at release"),
        *("acts at release", "repeats", "taps swallowed", "taps count as the largest"),
        *(f"{count} {what}" for what, least, most in COUNTED for count in range(least, most + 1)),
    ]
)


def attack(seed: int, steps: int, budget: int, audits: int) -> tuple[Counter[str], list[str]]:
    """Check the device of `seed` and attack what is said of it; what was done how often, and every contradiction.

    `steps`: of random runs in each environment. `budget`: classes for the question's own environment. `audits`: at most
    so many certificates.
    """
    return attack_text(sketch(seed).text, f"seed {seed}", steps, budget, audits)


def attack_text(text: str, name: str, steps: int, budget: int, audits: int) -> tuple[Counter[str], list[str]]:
    """The same for a spec as text."""
    device = read_device(text, f"{name}.yaml")
    proofs: list[Proof] = []
    report = check(device, "quick", proofs=proofs)
    findings = {(finding.hazard, finding.subject): finding for finding in report.findings}
    cases = {
        (question.hazard, question.subject): match(device, question)
        for entry in ask(device)[0]
        for question in (entry.questions if isinstance(entry, Derived) else (entry,))
    }
    did = Counter(finding.verdict.word for finding in report.findings)
    against = []
    pairs = [(case, findings[key]) for key, case in cases.items() if key in findings]
    for told in (
        hunt(device, pairs, steps, did),
        explore_own(device, pairs, budget, did),
        *(play_again(device, case, finding, did) for case, finding in pairs),
        audit_some(device, proofs[:audits], did),
    ):
        against += [f"{name}: {what}" for what in told]
    return did, against


def _ruled_out(case: Case, finding: Finding) -> bool:
    """Whether the answer is that no run has such a step."""
    return finding.verdict is (Verdict.HOLDS if case.question.unwanted else Verdict.BROKEN)


def hunt(device: Device, pairs: list[tuple[Case, Finding]], steps: int, did: Counter[str]) -> Iterator[str]:
    """Random runs for all steps that are ruled out, environment by environment."""
    for environment in dict.fromkeys(case.question.environment for case, _ in pairs):
        cases = [c for c, found in pairs if c.question.environment == environment and _ruled_out(c, found)]
        if not cases:
            continue
        did["hunted"] += len(cases)
        failures = fuzz(compile_model(device, environment), [case.looked_for for case in cases], steps, seed=1).failures
        for case, failure in zip(cases, failures, strict=True):
            if failure is not None:
                says = [t.choice.says for step in failure.path for t in step.move.taken if t.choice.says]
                yield f"{case.question.hazard} {case.question.subject} is ruled out, and random runs met it: {says}"


def explore_own(device: Device, pairs: list[tuple[Case, Finding]], budget: int, did: Counter[str]) -> Iterator[str]:
    """Explore the question's own environment where a wider one may have settled it."""
    narrow = [c for c, found in pairs if c.question.wider is not None and not c.accepted and _ruled_out(c, found)]
    for environment in dict.fromkeys(case.question.environment for case in narrow):
        cases = [case for case in narrow if case.question.environment == environment]
        seen = explore(compile_model(device, environment), [case.looked_for for case in cases], budget)
        for case, path in zip(cases, seen.paths, strict=True):
            did["compared"] += seen.complete or path is not None
            if path is not None:
                says = [t.choice.says for step in path for t in step.move.taken if t.choice.says]
                yield f"{case.question.hazard} {case.question.subject} is ruled out, and its own environment has it: {says}"


def play_again(device: Device, case: Case, finding: Finding, did: Counter[str]) -> Iterator[str]:
    """Play a story step by step, and on specimens drawn at random if it is said to happen on every one."""
    story, question = finding.story, case.question
    if story is None:
        return
    did["replayed"] += 1
    model = compile_model(device, question.environment)
    run = Run(model)
    last = None
    for beat in story.beats:
        run.advance(beat.at_us - run.now)
        before = run.situation
        names = [(model.parts[part].name, timer.name) for part, timer in run.timers]
        last = before, run.take(names.index((beat.part, beat.timer)), beat.choice)
    if last is None or not case.looked_for(model, *last):
        yield f"{question.hazard} {question.subject}: the story's last step isn't the one asked about"
    if finding.where == where.EVERY:
        did["played on specimens"] += 1
        spared = _specimens_spared(device, case, model, story)
        if spared:
            yield f"{question.hazard} {question.subject}: said of every specimen, {spared} of {SPECIMENS} are spared"


def _specimens_spared(device: Device, case: Case, model: Model, story: Story) -> int:
    """On how many specimens the story's actions, at their times, do no harm."""
    environment = where.as_script(model, case.question.environment, story)
    assert environment is not None
    model = compile_model(device, environment)
    spared, known = 0, Known()
    for number in range(SPECIMENS):
        rng = Random(number)

        def over(before: Situation, move: Move) -> bool:
            return move.taken[0].cause == f"timer {OVER}" or case.looked_for(model, before, move)

        played = play(model, lambda at, what, bits, rng=rng: rng.getrandbits(bits), LONGEST, over, known)  # type: ignore[misc]
        if played.stopped and not case.looked_for(model, played.path[-1].situation, played.path[-1].move):
            spared += 1
    return spared


def audit_some(device: Device, proofs: list[Proof], did: Counter[str]) -> Iterator[str]:
    for proof in proofs:
        did["audited"] += 1
        answer = audit_proof(device, proof.hazard, proof.subject, proof.text)
        if not answer.ok:
            yield f"{proof.hazard} {proof.subject}: the certificate is refused: {answer.reason}"


def test_the_specs_are_mixed() -> None:
    """Every feature is in at least one spec of twenty; only some are read, which takes longer than to draw them."""
    seen: Counter[str] = Counter()
    for seed in range(MIXED):
        drawn = sketch(seed)
        if seed % amount(12, 3) == 0:
            read_device(drawn.text, f"{seed}.yaml")
        seen.update(drawn.features)
    assert set(seen) >= FEATURES
    assert {name: count for name, count in seen.items() if count < LEAST_SHARE * MIXED} == {}


@pytest.mark.usefixtures("few_random_steps")
@pytest.mark.parametrize("chunk", range(CHUNKS))
def test_no_attack_contradicts_a_verdict(chunk: int) -> None:
    did: Counter[str] = Counter()
    for seed in SEEDS[chunk::CHUNKS]:
        done, against = attack(seed, STEPS, budget=6_000, audits=1)
        assert against == []
        did += done
    assert min(did[what] for what in ("hunted", "replayed", "audited")) > 0, did


_STARTS_WAITING = """spec: 1
device: starts waiting
buttons:
  pad: {bounce: up to 0 ms, debounce: 20 ms, edges apart: at least 1 ms}
gestures:
  hold: {held: 800 ms}
initial: stowed
states:
  stowed:
    sleep: {woken by: pad, on: edge, ready in: 1 ms, dozes again after: 50 ms, each step: up to 20 us}
    transitions: {hold: glowing}
  armed: {waiting: true, transitions: {after 500 ms: glowing}}
  glowing: {transitions: {hold: stowed}}
surroundings:
  cell rattle: {cell gone: up to 40 ms, then steady at least: 2 s}
supply: {hold-up: 5 ms}
power up: {takes: 20 ms, if blank: armed, if damaged: armed, button held: ignored until released}
"""

_SHORT_HOLD = """spec: 1
device: short hold
buttons:
  pad: {bounce: up to 0 ms, debounce: 30 ms, edges apart: at least 1 ms}
gestures:
  hold: {held: 5 ms}
variables:
  beam: [low, high]
initial: idle
states:
  idle: {transitions: {after 1 s: glowing}}
  glowing: {transitions: {hold: {next: beam}, after 20 ms: idle}}
surroundings:
  cell rattle: {cell gone: 100 ms, then steady at least: 9 s}
supply: {hold-up: 5 ms}
power up: {takes: 20 ms, if blank: idle, if damaged: idle, button held: ignored until released}
memory: {keeps: [beam], written: after 1 s of quiet, write takes: 1 ms, guard: two copies, may lose: nothing}
"""

_ACCEPTED_FIRST = """spec: 1
device: accepted first
buttons:
  pad: {bounce: up to 0 ms, debounce: 20 ms, edges apart: at least 1 ms}
gestures:
  tap: {taps: 1, press: up to 600 ms}
  quick: {taps: 1, press: up to 180 ms ± 120 ms}
initial: idle
states:
  idle: {transitions: {tap: glowing}}
  glowing: {transitions: {quick: idle}}
surroundings:
  knocks: {closes pad: 100 to 150 ms, then open at least: 300 ms}
person: {tap: 1 to 2 ms, between: 80 to 200 ms}
accepts:
  - {hazard: accidental-change, by: [knocks], in: idle, why: it is wanted, who: maker, granted: 2026-11-20}
"""

_CHORD_AT_START = """spec: 1
device: chord at start
buttons:
  pad: {bounce: up to 0 ms, lockout: 20 ms, edges apart: at least 1 ms}
  rim: {bounce: up to 0 ms, lockout: 20 ms, edges apart: at least 1 ms}
gestures:
  both: {together: [pad, rim], within: 60 ms}
  pad tap: {on: pad, taps: 1, press: up to 300 ms}
variables:
  beam: [low, high]
initial: idle
states:
  idle: {transitions: {both: glowing, pad tap: {next: beam}}}
  glowing: {transitions: {both: {to: idle, next: beam}, after 400 ms: idle}}
surroundings:
  cell rattle: {cell gone: up to 40 ms, then steady at least: 2 s}
supply: {hold-up: 5 ms}
power up: {takes: up to 5 ms, if blank: idle, if damaged: glowing, button held: counts as a press}
memory: {keeps: [state, beam], written: at once, write takes: 1 ms, guard: checksum, may lose: the last 20 ms}
"""

_SEEN_AT_WAKING = """spec: 1
device: seen at waking
buttons:
  pad: {bounce: up to 0 ms, debounce: 20 ms, edges apart: at least 1 ms}
gestures:
  two taps: {taps: 2, press: up to 300 ms, between: up to 180 ms}
  three taps: {taps: 3, press: up to 300 ms, between: up to 180 ms}
initial: stowed
states:
  stowed:
    sleep:
      {woken by: pad, on: edge, ready in: 1 ms, dozes again after: 9 ms, each step: up to 9 us, pending taps: outlast sleep}
    transitions: {two taps: lit, three taps: lit}
  lit: {transitions: {two taps: stowed}}
surroundings:
  cell rattle: {cell gone: up to 6 ms, then steady at least: 500 ms}
supply: {hold-up: 30 ms}
power up: {takes: 20 ms, if blank: stowed, if damaged: stowed, button held: counts as a press}
"""

_DONE_BY_WAKING = _SEEN_AT_WAKING.replace(", pending taps: outlast sleep", "").replace(
    "two taps: lit, three taps", "waking"
)
_FLAG_LEFT_SET = _DONE_BY_WAKING.replace("up to 9 us", "up to 9 us, steps: [arm, check, sleep]")

_SPECS = {
    "a chord that fires at the start": _CHORD_AT_START,
    "a start in a waiting state": _STARTS_WAITING,
    "taps that are seen as the processor wakes": _SEEN_AT_WAKING,
    "a line for waking": _DONE_BY_WAKING,
    "a line for waking and a wake flag that is left set": _FLAG_LEFT_SET,
    "a hold shorter than debounce": _SHORT_HOLD,
    "an accepted step before the story's": _ACCEPTED_FIRST,
}


@pytest.mark.usefixtures("few_random_steps")
@pytest.mark.parametrize("name", _SPECS)
def test_no_attack_contradicts_a_verdict_of_a_special_device(name: str) -> None:
    done, against = attack_text(_SPECS[name], name, steps=1_000, budget=20_000, audits=1)
    assert against == []
    assert done["hunted"] + done["played on specimens"] > 0
