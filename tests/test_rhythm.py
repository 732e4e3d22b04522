"""A story of samples must have one rhythm; a failure that has none isn't called broken."""

from __future__ import annotations

import json
from dataclasses import replace
from itertools import pairwise

import pytest

from nudgeproof.check import check
from nudgeproof.engines.explore import explore
from nudgeproof.engines.space import Step
from nudgeproof.engines.story import NOTHING_MORE, tell
from nudgeproof.model.step import Move
from nudgeproof.model.tables import Model, Situation
from nudgeproof.parts.compile import Environment, compile_model
from nudgeproof.parts.train import Train
from nudgeproof.questions.ask import Mode
from nudgeproof.questions.steps import entering
from nudgeproof.replay import retell
from nudgeproof.report.as_json import to_json
from nudgeproof.rhythm import find_rhythm, find_steady, steady_story
from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import Device, Samples
from nudgeproof.units import Span
from nudgeproof.verdict import Finding, Verdict
from tests.devices import bench, enters

MS = 1_000


def knocked(between: str, samples: str = "4 every 5 ms") -> Device:
    """Knocks of just 15 ms are read only if the first sample falls on their first edge; they come at least 21 ms apart."""
    return bench(
        f"two taps: {{taps: 2, press: up to 400 ms, between: {between}}}",
        "two taps: hit",
        reader=f"samples: {samples}",
        extra="hit: {shows: hit}",
        more="surroundings:\n  knocks: {closes pad: 15 ms, then open at least: 21 ms}",
    )


def changed(device: Device) -> Finding:
    (finding,) = check(device, only=("accidental-change",)).findings
    return finding


def samples(finding: Finding) -> list[int]:
    assert finding.story is not None
    return [beat.at_us for beat in finding.story.beats if "sample" in beat.timer]


def test_a_failure_that_no_rhythm_gives_is_undecided() -> None:
    """In one rhythm the pause is a whole number of periods, so 25 ms, of which the firmware measures 20 ms; else 16 ms."""
    finding = changed(knocked("up to 19 ms"))
    assert finding.verdict is Verdict.UNDECIDED
    assert "one rhythm" in finding.reason
    assert finding.story is None


def test_a_failure_that_one_rhythm_gives_is_broken_and_its_story_has_it() -> None:
    finding = changed(knocked("up to 20 ms"))
    assert finding.verdict is Verdict.BROKEN
    at = samples(finding)
    assert len(at) == 16
    assert {(later - at[0]) % (5 * MS) for later in at} == {0}
    assert len(set(at)) == len(at)


def test_a_period_with_a_tolerance_leaves_more_room() -> None:
    finding = changed(knocked("up to 19 ms", "4 every 4.6 to 5 ms"))
    assert finding.verdict is Verdict.BROKEN
    at = samples(finding)
    for earlier, later in pairwise(at):
        periods = -(-(later - earlier) // (5 * MS))
        assert periods >= 1
        assert periods * 4_600 <= later - earlier <= periods * 5 * MS


def path_of(device: Device, spans_ms: tuple[int, ...]) -> tuple[Model, tuple[Step, ...]]:
    train = Train("pad", tuple(Span(span * MS, span * MS) for span in spans_ms))
    model = compile_model(device, Environment(train=train))
    (path,) = explore(model, (enters("hit"),), 10_000).paths
    assert path is not None
    return model, path


@pytest.mark.parametrize(("pause", "has"), [(25, True), (24, False), (26, False), (30, True)])
def test_two_knocks_on_the_very_samples_are_whole_periods_apart(pause: int, has: bool) -> None:
    device = knocked("up to 100 ms")
    model, path = path_of(device, (15, pause, 15))
    assert (find_rhythm(device, model, path) is not None) == has


@pytest.mark.parametrize(("pause", "has"), [(23, True), (25, True), (26, False)])
def test_each_period_of_a_tolerance_may_be_as_long_as_it_can_be(pause: int, has: bool) -> None:
    """Knocks of 13.8 ms are read on their edges. Five periods of 4.6 to 5 ms lie between them; six take 27.6 ms at least."""
    device = knocked("up to 100 ms", "4 every 4.6 to 5 ms")
    train = Train("pad", tuple(Span(us, us) for us in (13_800, pause * MS, 13_800)))
    model = compile_model(device, Environment(train=train))
    (path,) = explore(model, (enters("hit"),), 10_000).paths
    assert path is not None
    assert (find_rhythm(device, model, path) is not None) == has


SLEEPER = """spec: 1
device: sleeper
buttons: {pad: {bounce: up to 0 ms, samples: 4 every 5 ms, edges apart: at least 10 us}}
gestures: {tap: {taps: 1, press: up to 400 ms}}
initial: dark
states:
  dark:
    sleep: {woken by: [pad], on: edge, ready in: 1 ms, dozes again after: DOZE, each step: up to 20 us}
    transitions: {tap: dim}
  dim:
    sleep: {woken by: [pad], on: edge, ready in: 1 ms, dozes again after: DOZE, each step: up to 20 us}
    transitions: {tap: hit}
  hit: {}
"""


@pytest.mark.parametrize(("doze", "pause", "has"), [("50 ms", 301, True), ("1 s", 301, False), ("1 s", 305, True)])
def test_a_rhythm_begins_anew_when_the_processor_wakes(doze: str, pause: int, has: bool) -> None:
    """A press of 16 ms is read only if the first sample comes just when the processor is ready, after 1 ms."""
    device = read_device(SLEEPER.replace("DOZE", doze), "sleeper.yaml")
    model, path = path_of(device, (16, pause, 16 if doze == "50 ms" else 15))
    assert (find_rhythm(device, model, path) is not None) == has


@pytest.mark.parametrize(("pause", "has"), [(300, False), (303, False), (304, True)])
def test_a_rhythm_may_go_on_in_sleep(pause: int, has: bool) -> None:
    """A press of 16 ms is read by samples from 1 ms after it on; whole periods lie between, though it slept meanwhile."""
    text = SLEEPER.replace("DOZE", "50 ms").replace("4 every 5 ms", "4 every 5 ms, rhythm in sleep: goes on")
    device = read_device(text, "sleeper.yaml")
    assert device.buttons[0].samples is not None
    assert device.buttons[0].samples.keeps_rhythm
    model, path = path_of(device, (16, pause, 16))
    assert (find_rhythm(device, model, path) is not None) == has


@pytest.mark.parametrize(("pressed", "has"), [(4, True), (5, True), (6, False)])
def test_a_press_that_no_sample_found_lies_between_two_also_after_others(pressed: int, has: bool) -> None:
    slow = bench(
        "tap: {taps: 1, press: up to 400 ms}",
        "tap: seen",
        reader="samples: 1 every 6 ms",
        extra="seen: {transitions: {tap: idle, after 1 s: missed}}\nmissed: {shows: nothing}",
    )
    quick = replace(slow, buttons=(replace(slow.buttons[0], samples=Samples(1, Span(5 * MS, 5 * MS))),))

    def missed(model: Model, before: Situation, move: Move) -> bool:
        return before[model.index("train")] == 4 and enters("missed")(model, before, move)

    train = Train("pad", tuple(Span(span * MS, span * MS) for span in (30, 100, pressed)))
    model = compile_model(slow, Environment(train=train))
    (path,) = explore(model, (missed,), 10_000).paths
    assert path is not None
    assert (find_rhythm(quick, model, path) is not None) == has


def test_a_press_that_no_sample_found_lies_between_two() -> None:
    """A press of 4 ms is missed between two samples 5 ms apart, one of 5 ms just so; one of 6 ms is at 6 ms only."""
    slow = bench(
        "tap: {taps: 1, press: up to 400 ms}",
        "tap: hit, after 1 s: missed",
        reader="samples: 1 every 6 ms",
        extra="hit: {shows: hit}\nmissed: {shows: nothing}",
    )
    quick = replace(slow, buttons=(replace(slow.buttons[0], samples=Samples(1, Span(5 * MS, 5 * MS))),))

    def missed(model: Model, before: Situation, move: Move) -> bool:
        return before[model.index("train")] == 2 and enters("missed")(model, before, move)

    for pressed, has in ((4, True), (5, True), (6, False)):
        train = Train("pad", (Span(pressed * MS, pressed * MS),))
        model = compile_model(slow, Environment(train=train))
        (path,) = explore(model, (missed,), 10_000).paths
        assert path is not None
        assert find_rhythm(slow, model, path) is not None
        assert (find_rhythm(quick, model, path) is not None) == has


TWO_PADS = """spec: 1
device: two pads
buttons:
  pad: {bounce: up to 0 ms, lockout: 30 ms, edges apart: at least 10 us}
  rim: {bounce: up to 0 ms, samples: 4 every 5 ms, edges apart: at least 10 us}
gestures:
  pad tap: {on: pad, taps: 1, press: up to 400 ms}
  rim tap: {on: rim, taps: 1, press: up to 400 ms}
initial: idle
states:
  idle: {transitions: {pad tap: lit}}
  lit: {transitions: {rim tap: hit}}
  hit: {}
surroundings:
  squeeze: {closes rim: 2 ms to 20 s, then open at least: 300 ms}
"""


def test_other_runs_are_tried_where_the_cheapest_is_out_of_rhythm() -> None:
    """Of least steps is a run within the 30 ms of the last lockout of the pad: the press of the rim takes that long if
    the last sample of the press and the first of the release are one. With one step more it has a rhythm."""
    device = read_device(TWO_PADS, "two.yaml")
    environment = Environment(("squeeze",), "anything", ("lit",))
    model = compile_model(device, environment)
    test = entering(Mode("hit"))
    (path,) = explore(model, (test,), 10_000).paths
    assert path is not None
    assert find_rhythm(device, model, path) is None
    found = find_steady(device, model, test, 10_000)
    assert found is not None
    assert sum(step.move.actions for step in found[0]) == sum(step.move.actions for step in path)
    finding = next(f for f in check(device, only=("accidental-change",)).findings if f.verdict is Verdict.BROKEN)
    assert finding.shortest
    at = samples(finding)
    assert {(later - at[0]) % (5 * MS) for later in at} == {0}
    assert len(set(at)) == len(at)


def test_fixed_times_are_kept_if_they_have_a_rhythm_and_changed_if_not() -> None:
    device = knocked("up to 100 ms")
    model = compile_model(device, Environment(("knocks",)))
    (path,) = explore(model, (enters("hit"),), 10_000).paths
    assert path is not None
    also = find_rhythm(device, model, path)
    assert also is not None
    steady = tell(model, path, also)
    times = [beat.at_us for beat in steady.beats]
    kept = steady_story(device, model, path, times)
    assert kept is not None
    assert [beat.at_us for beat in kept.beats] == times
    second = next(i for i, beat in enumerate(steady.beats) if beat.actions and i > 5)
    shifted = [at + (MS if i >= second else 0) for i, at in enumerate(times)]
    assert find_rhythm(device, model, path, shifted) is None
    moved = steady_story(device, model, path, shifted)
    assert moved is not None
    assert [beat.at_us for beat in moved.beats] == times


def test_other_readers_have_no_rhythm() -> None:
    device = bench("tap: {taps: 1, press: up to 400 ms}", "tap: hit", debounce="20 ms", extra="hit: {shows: hit}")
    model, path = path_of(device, (30,))
    assert find_rhythm(device, model, path) is NOTHING_MORE


def test_an_old_story_is_refused_when_its_samples_have_no_rhythm_any_more() -> None:
    device = knocked("up to 100 ms")
    document = json.loads(to_json([check(device, only=("accidental-change",))]))
    (told,) = retell(device, json.dumps(document))
    assert told.finding is not None
    (story,) = (finding["story"] for finding in document["specs"][0]["findings"])
    begun = 0
    for beat in story:
        begun += beat["timer"] == "presses"
        beat["at_us"] += MS if begun > 1 else 0
    (told,) = retell(device, json.dumps(document))
    assert told.finding is None
    assert "rhythm" in told.reason
