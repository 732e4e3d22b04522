"""The fuzz: the same everywhere, legal, short, and never in contradiction to the explorer; and its corpus."""

from __future__ import annotations

import os
import subprocess
import sys
from functools import cache
from pathlib import Path
from random import Random

import pytest

from nudgeproof.diagnostics import SpecErrors
from nudgeproof.engines.corpus import Entry, read, recalled, write
from nudgeproof.engines.explore import explore
from nudgeproof.engines.fuzz import Failure, FuzzResult, fuzz, share
from nudgeproof.engines.play import Decision, play, recall
from nudgeproof.engines.story import replay
from nudgeproof.model.step import Move, Test
from nudgeproof.model.tables import Model, Situation
from nudgeproof.parts.compile import Environment, compile_model
from tests.amount import amount
from tests.devices import bench, enters
from tests.oracle.brute import Goal
from tests.oracle.randomly import sketch

ROOT = Path(__file__).resolve().parents[2]
SHORT = amount(2_000, 6_000)
"""Steps of runs of which only is asked whether they are the same."""
GESTURES = """
tap: {taps: 1, press: up to 400 ms}
two taps: {taps: 2, press: up to 400 ms, between: up to 300 ms}
hold: {held: 1 s}
"""


def lamp(hold: str = "hit") -> Model:
    device = bench(
        GESTURES,
        f"two taps: twice, hold: {hold}",
        bounce="up to 5 ms",
        debounce="20 ms",
        extra="twice: {transitions: {tap: idle}}\nhit: {transitions: {tap: idle}}",
    )
    return compile_model(device, Environment(("anything",)))


@cache
def look(steps: int = 20_000, seed: int = 7, corpus: tuple[tuple[Decision, ...], ...] = ()) -> FuzzResult:
    return fuzz(lamp(), (enters("twice"), enters("hit")), steps, seed, corpus)


def found(result: FuzzResult, number: int) -> Failure:
    failure = result.failures[number]
    assert failure is not None
    return failure


def as_test(goal: Goal) -> Test:
    def test(model: Model, before: Situation, move: Move) -> bool:
        return goal(before, move.situation)

    return test


def never(model: Model, before: Situation, move: Move) -> bool:
    return False


def test_the_same_seed_gives_the_same_and_another_one_something_else() -> None:
    assert look(SHORT) == look.__wrapped__(SHORT)
    counts = [fuzz(lamp(), (never,), 1_500, seed) for seed in (1, 1, 2)]
    assert counts[0] == counts[1]
    assert (counts[0].steps, counts[0].situations) != (counts[2].steps, counts[2].situations)


def test_it_is_the_same_in_every_process_and_leaves_the_disk_alone(tmp_path: Path) -> None:
    program = (
        "from tests.engines.test_fuzz import look\n"
        f"r = look({SHORT})\n"
        "print([f and (f.decisions, f.times_us) for f in r.failures], r.runs, r.steps, r.situations)\n"
    )
    (tmp_path / "own.py").write_text("LIMIT = 123\n", encoding="utf-8")
    printed = set()
    for number in ("0", "5"):
        path = os.pathsep.join((str(ROOT / "src"), str(ROOT)))
        around = {**os.environ, "PYTHONHASHSEED": number, "PYTHONPATH": path, "PYTHONDONTWRITEBYTECODE": "1"}
        command = [sys.executable, "-W", "error", "-c", ("import own\n" if number == "5" else "") + program]
        done = subprocess.run(command, cwd=tmp_path, env=around, capture_output=True, text=True)
        assert done.returncode == 0, done.stderr
        assert done.stderr == ""
        assert "((0, " in done.stdout
        printed.add(done.stdout)
    assert len(printed) == 1
    assert [entry.name for entry in tmp_path.iterdir()] == ["own.py"]


def test_what_it_finds_replays_and_its_last_step_is_the_one_asked_about() -> None:
    result = look()
    for number, state in enumerate(("twice", "hit")):
        failure = found(result, number)
        story = replay(lamp(), failure.path, failure.times_us)
        assert story.beats[-1].at_us == failure.times_us[-1]
        states = [lamp().value(beat.after, "state") for beat in story.beats]
        assert states[-1] == state
        assert state not in states[:-1]


def test_what_it_finds_is_shortened_to_what_is_needed() -> None:
    """A hold is one edge, two taps are four; with the readings and settlings in between there is no shorter run."""
    tests = (enters("twice"), enters("hit"))
    least = explore(lamp(), tests, 20_000)
    for seed in range(amount(2, 3)):
        result = look(seed=seed)
        for number, path in enumerate(least.paths):
            assert path is not None
            actions = sum(step.move.actions for step in path)
            kept = found(result, number)
            assert sum(step.move.actions for step in kept.path) == actions
            assert sum(step.move.chatter for step in kept.path) == 0
            assert len(kept.path) <= len(path) + 1


@pytest.mark.parametrize("seed", range(40))
def test_every_list_of_decisions_is_a_legal_run(seed: int) -> None:
    drawn, rng = sketch(seed, scale=rng_scale(seed)), Random(seed)
    model = Model(drawn.parts)
    for _ in range(5):
        chosen = [
            (rng.randrange(256), rng.randrange(256), rng.randrange(256), rng.randrange(256))
            for _ in range(rng.randrange(1, 25))
        ]
        played = play(model, recall(chosen), len(chosen), lambda before, move: False, {})
        assert not played.stopped
        assert len(played.decisions) == len(played.path) == len(played.times) <= len(chosen)
        replay(model, played.path, played.times)
        again = play(model, recall(played.decisions), len(played.path), lambda before, move: False, {})
        assert again.cost == played.cost
        assert again.times == played.times


def rng_scale(seed: int) -> int:
    return (1, 10, 1_000)[seed % 3]


def test_it_never_contradicts_the_explorer_and_finds_nearly_all_that_small_models_have() -> None:
    possible = missed = 0
    for seed in range(amount(14, 16)):
        drawn = sketch(seed)
        model = Model(drawn.parts)
        tests = tuple(map(as_test, drawn.goals))
        seen = explore(model, (*tests, never), 600)
        if not seen.complete:
            continue
        result = fuzz(model, tests, 1_000, seed)
        for path, failure in zip(seen.paths, result.failures, strict=False):
            if path is None:
                assert failure is None, f"seed {seed}"
                continue
            possible += 1
            missed += failure is None
            if failure is not None:
                replay(model, failure.path, failure.times_us)
                actions = sum(step.move.actions for step in failure.path)
                assert actions >= sum(step.move.actions for step in path), f"seed {seed}"
        assert result.situations <= seen.situations, f"seed {seed}"
    assert possible > 20
    assert missed * 10 <= possible


def test_the_share_of_situations_met() -> None:
    model = lamp()
    result = fuzz(model, (never,), 4_000, 1)
    covered = share(model, result.situations, 20_000)
    assert covered.part is not None
    assert 0.4 < covered.part <= 1
    assert str(covered) == f"{covered.met} of {covered.reachable} ({int(100 * covered.part)} %)"
    assert str(share(model, result.situations, 5)) == "unknown"
    assert share(model, result.situations, 5).part is None


def test_nothing_is_drawn_without_steps_and_about_as_many_steps_as_were_asked_for() -> None:
    assert look(steps=0) == FuzzResult((None, None), 0, 0, 1)
    assert 2_000 <= fuzz(lamp(), (never,), 2_000, 1).steps < 8_000


def test_a_model_in_which_nothing_happens_ends_at_once() -> None:
    assert fuzz(Model(()), (never,), 1_000, 1).steps == 0


def test_the_corpus_is_tried_first() -> None:
    kept = found(look(), 1)
    result = look(steps=0, corpus=(((0, 0, 0, 0),), kept.decisions))
    assert result.failures[0] is None
    assert found(result, 1).replayed
    assert found(result, 1).decisions == kept.decisions
    assert not kept.replayed


def test_a_corpus_of_another_spec_is_legal_and_proves_nothing_by_itself() -> None:
    kept = found(look(), 1)
    changed = fuzz(lamp(hold="twice"), (enters("hit"),), 0, 1, (kept.decisions,))
    assert changed.failures == (None,)
    assert changed.steps == len(kept.decisions)


ENTRIES = (
    Entry("accidental-wake", "squeeze", "squeeze, after any use", ((0, 1, 0, 0), (15, 3, 255, 2))),
    Entry("promise", 'knocks µ "never" reach lit', "knocks", ((0, 0, 0, 0),)),
    Entry("accidental-wake", "knocks", "knocks, after any use", ((1, 0, 0, 0),)),
)


def test_a_corpus_reads_back_sorted_and_without_doubles() -> None:
    text = write(ENTRIES)
    assert read(text, "found.json") == tuple(sorted(ENTRIES))
    assert write(reversed(ENTRIES + ENTRIES)) == text
    assert write(read(text, "found.json")) == text
    assert len(text.splitlines()) == len(ENTRIES) + 2
    assert read(write(()), "found.json") == ()
    assert recalled(ENTRIES, "promise", 'knocks µ "never" reach lit', "knocks") == (((0, 0, 0, 0),),)
    assert recalled(ENTRIES, "promise", "knocks", "knocks") == ()


def test_what_was_found_comes_back_through_the_corpus() -> None:
    kept = found(look(), 0)
    text = write((Entry("unreachable-mode", "twice", "any press of any length", kept.decisions),))
    again = recalled(read(text, "found.json"), "unreachable-mode", "twice", "any press of any length")
    assert found(look(steps=0, corpus=again), 0).path == kept.path


HEAD = '{"nudgeproof corpus": 1, "entries": [\n'
GOOD = '{"hazard": "h", "subject": "s", "environment": "e", "decisions": [[0, 0, 0, 0]]}'


def bad(old: str, new: str) -> str:
    assert old in GOOD
    return HEAD + GOOD + ",\n  " + GOOD.replace(old, new) + "\n]}\n"


@pytest.mark.parametrize(
    ("text", "begins"),
    [
        ("", "f.json:1:1: no JSON: expecting value;"),
        (HEAD + GOOD + "\n", "f.json:3:1: no JSON: expecting ',' delimiter;"),
        ("[" * 100_000, "f.json: a list too deep or a number too long;"),
        (bad("[0, 0, 0, 0]", f"[0, 0, 0, {'1' * 9_999}]"), "f.json: a list too deep or a number too long;"),
        ("[]", "f.json:1:1: this is no corpus: `nudgeproof corpus` is missing;"),
        ('{"nudgeproof corpus": 2, "entries": []}', "f.json:1:1: the corpus has another version than 1;"),
        ('{"nudgeproof corpus": true, "entries": []}', "f.json:1:1: the corpus has another version than 1;"),
        ('{"nudgeproof corpus": 1, "entries": {}}', "f.json:1:1: a corpus has `nudgeproof corpus` and a list"),
        ('{"nudgeproof corpus": 1, "entries": [], "entries": []}', "f.json: a key is there twice: 'entries';"),
        (bad(GOOD, "7"), "f.json:3:3: an entry has `hazard`, `subject`, `environment` and `decisions`,"),
        (bad('"subject"', '"entries"'), "f.json:3:3: an entry has `hazard`, `subject`, `environment` and"),
        (bad('"s"', "3"), "f.json:3:3: `subject` of this entry is no text;"),
        (bad("[[0, 0, 0, 0]]", "[]"), "f.json:3:3: `decisions` of this entry is no list of 1 to 1000;"),
        (bad("[0, 0, 0, 0]", "[0, 0, 0]"), "f.json:3:3: decision 1 of this entry is not 4 whole numbers"),
        (bad("[0, 0, 0, 0]", "[0, 0, 0, 256]"), "f.json:3:3: decision 1 of this entry is not 4 whole"),
        (bad("[0, 0, 0, 0]", "[0, 0, 0, true]"), "f.json:3:3: decision 1 of this entry is not 4 whole"),
        (bad("[0, 0, 0, 0]", "[0, 0, 0, 0.0]"), "f.json:3:3: decision 1 of this entry is not 4 whole"),
    ],
)
def test_a_bad_corpus_gives_one_clear_error(text: str, begins: str) -> None:
    with pytest.raises(SpecErrors) as caught:
        read(text, "f.json")
    message = str(caught.value)
    assert message.startswith(begins)
    assert message.endswith(
        "; what can't be read can't be tried again; mend it, or take the file away: a new one is then begun"
    )
    assert "\n" not in message
