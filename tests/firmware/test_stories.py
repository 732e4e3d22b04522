"""Stories as acts: the edges of the story at its times, and nothing that nobody outside can bring about."""

from __future__ import annotations

from itertools import pairwise

import pytest

from nudgeproof.check import check
from nudgeproof.cli.files import read_spec
from nudgeproof.engines.corpus import Entry
from nudgeproof.firmware.acts import BUTTON, CELL, EVENT, edges_of
from nudgeproof.firmware.stories import Told, stage_corpus, stage_finding, stage_goals, story_stimuli
from nudgeproof.firmware.tours import Hand
from nudgeproof.random_runs import run_all
from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import Device
from nudgeproof.verdict import Finding, Verdict
from tests.snapshots.screens import ROOT


def device_of(name: str) -> Device:
    return read_spec(str(ROOT / "specs" / f"{name}.yaml"))


def staged(name: str, hazard: str) -> tuple[Device, Finding, Told]:
    """The first failure of one hazard, and its acts."""
    device = device_of(name)
    found = next(
        f for f in check(device, only=[hazard]).findings if f.verdict is Verdict.BROKEN and f.story is not None
    )
    told = stage_finding(device, found)
    assert told is not None
    return device, found, told


def test_acts_are_the_storys_edges_at_its_times_after_the_start() -> None:
    device, found, told = staged("failures/accidental-wake/broken", "accidental-wake")
    assert found.story is not None
    begin = Hand(device).begin_us
    scenes = zip((0, *(beat.at_us for beat in found.story.beats)), found.scenes, strict=True)
    closed = [begin + at for at, scene in scenes if scene.closed]
    edges = edges_of(told.acts)
    # The story ends with the button down, so it is let go a little later.
    assert [(edge.at_us, edge.on) for edge in edges] == [
        (closed[0], True),
        (begin + found.story.beats[-1].at_us + 100_000, False),
    ]
    assert (told.name, told.cant, told.where) == ("accidental-wake: squeeze", "", "every specimen")
    assert told.end_us > edges[-1].at_us + 1_000_000
    assert not told.begins_up


def test_the_cell_and_events_are_part_of_it_and_a_finding_without_a_story_is_none() -> None:
    _, found, told = staged("failures/lost-state/broken", "lost-state")
    assert {act.kind for act in told.acts} >= {CELL}
    gone = [scene.cell for scene in found.scenes]
    assert sum(a is True and b is False for a, b in pairwise(gone)) == sum(act.kind == CELL for act in told.acts)
    device = device_of("trail-counter")
    events = [act for told in stage_goals(device, classes=300) for act in told.acts if act.kind == EVENT]
    assert {act.what for act in events} == {"footfall"}
    device = device_of("failures/accidental-wake/mended")
    (holds,) = check(device, only=["accidental-wake"]).findings
    assert stage_finding(device, holds) is None


def test_a_story_of_a_start_begins_with_power_and_with_the_button_down() -> None:
    _, _, told = staged("failures/held-at-power-up/broken", "held-at-power-up")
    assert told.begins_up
    assert told.acts[0].at_us == 0
    assert told.acts[0].kind == BUTTON
    assert all(act.kind != CELL for act in told.acts)


LEFT_BEHIND = "what a write that was cut leaves behind is up to the chip"


@pytest.mark.parametrize(
    ("name", "hazard", "says"),
    [
        ("failures/stale-memory/broken", "stale-memory", "its memory must be of an older firmware before"),
        ("failures/boot-loop/broken", "boot-loop", "its cells must be used so far"),
        ("failures/torn-memory/broken", "torn-memory", LEFT_BEHIND),
        (
            "failures/variants/taken-for-new/broken",
            "torn-memory",
            LEFT_BEHIND,
        ),
        ("failures/chatter-off/broken", "chatter-off", "its cells must be used so far"),
    ],
)
def test_what_nobody_outside_can_bring_about_is_told(name: str, hazard: str, says: str) -> None:
    assert says in staged(name, hazard)[2].cant


def test_a_voltage_cant_be_chosen() -> None:
    voltage = [
        told for told in stage_goals(device_of("moisture-meter"), classes=300) if "voltage of its cell" in told.cant
    ]
    assert "accidental-change: weak cell" in [told.name for told in voltage]


SAMPLED = """\
spec: 1
device: sampled lamp
buttons: {key: {bounce: up to 5 ms, samples: 2 every 20 ms}}
gestures: {tap: {taps: 1, press: up to 400 ms}}
initial: dark
states:
  dark: {transitions: {tap: lit}}
  lit: {transitions: {tap: dark}}
surroundings: {knocks: {closes key: KNOCK, then open at least: 300 ms}}
promises: [knocks never reach lit]
"""


@pytest.mark.parametrize(("knock", "luck"), [("25 ms", True), ("up to 90 ms", False)])
def test_a_story_that_hangs_on_samples_is_told_so(knock: str, luck: bool) -> None:
    """A knock of 25 ms meets two samples or one; one of 90 ms meets two whenever they come."""
    device = read_device(SAMPLED.replace("KNOCK", knock), "sampled.yaml")
    (found,) = check(device, only=["promise"]).findings
    told = stage_finding(device, found)
    assert told is not None
    assert ("samples" in told.cant) is luck
    assert (told.where == "every specimen") is not luck


def test_goals_are_of_all_kinds_and_the_same_each_time() -> None:
    device = device_of("seed-tray-timer")
    names = [(told.name, told.acts) for told in stage_goals(device, classes=300)]
    assert names == [(told.name, told.acts) for told in stage_goals(device, classes=300)]
    assert any(name.startswith("unreachable-mode") for name, _ in names)
    assert any(name.startswith("where accidental-wake") for name, _ in names)


def test_what_fuzz_kept_is_acted_first_also_when_it_does_no_harm_any_more() -> None:
    broken, mended = (device_of(f"failures/accidental-wake/{name}") for name in ("broken", "mended"))
    (entry,) = run_all(broken, 600, 0, ())[0].entries
    (told,) = stage_corpus(broken, [entry])
    assert told.acts
    assert told.name.endswith("kept from before")
    (again,) = stage_corpus(mended, [entry])
    assert again.acts
    assert next(iter(story_stimuli(broken, True, 100, [entry])))[1] == told.acts
    assert list(stage_corpus(broken, [Entry("no", "such", "question", entry.decisions)])) == []


def test_stories_for_a_trial_are_each_played_once_and_keep_to_their_share() -> None:
    device = device_of("rain-cover-light")
    told = list(story_stimuli(device, True, 150, ()))
    assert len({acts for _, acts, _, _ in told}) == len(told) > 4
    assert all(kind.startswith("a story of ") and acts for kind, acts, _, _ in told)
    assert any(acts[0].at_us == 0 for _, acts, _, _ in told)
    assert all(acts[0].at_us > 0 for _, acts, _, _ in story_stimuli(device, False, 150, ()))
    few = list(story_stimuli(device, True, 7, ()))
    assert sum(len(edges_of(acts)) for _, acts, _, _ in few) <= 7
