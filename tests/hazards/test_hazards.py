"""What each hazard asks, when it doesn't apply, and that its twins show it."""

from types import ModuleType

import pytest

from nudgeproof.check import check
from nudgeproof.hazards import HAZARDS
from nudgeproof.spec.read import read_device
from nudgeproof.verdict import Report, Verdict
from tests.devices import bench
from tests.snapshots.screens import ROOT


def report(path: str) -> Report:
    return check(read_device((ROOT / path).read_text(encoding="utf-8"), path))


@pytest.mark.parametrize("hazard", HAZARDS, ids=lambda hazard: hazard.NAME)
def test_the_broken_twin_tells_it_first_and_the_mended_one_has_no_finding(hazard: ModuleType) -> None:
    folder = f"specs/failures/{hazard.NAME}"
    broken = report(f"{folder}/broken.yaml")
    first = min(broken.findings, key=lambda finding: finding.verdict)
    assert first.verdict is Verdict.BROKEN
    assert first.hazard == hazard.NAME
    assert {finding.hazard for finding in broken.findings if finding.verdict is not Verdict.HOLDS} == {hazard.NAME}
    mended = report(f"{folder}/mended.yaml")
    assert mended.findings
    assert {finding.verdict for finding in mended.findings} == {Verdict.HOLDS}


def test_history_matters() -> None:
    """From the start the device is safe; after a use that ends in `dozing` one knock brings it on."""
    text = """spec: 1
device: two sleeps
buttons:
  pad: {bounce: up to 5 ms, debounce: 10 ms}
gestures:
  hold: {held: 1 s}
  tap: {taps: 1, press: up to 300 ms}
initial: stowed
states:
  stowed:
    sleep: {woken by: [pad], on: edge, ready in: 2 ms, dozes again after: 50 ms}
    transitions: {hold: lit}
  lit:
    transitions: {hold: dozing}
  dozing:
    sleep: {woken by: [pad], on: edge, ready in: 2 ms, dozes again after: 50 ms}
    transitions: {tap: lit}
person: {tap: 60 to 250 ms, between: 80 to 220 ms, hold: 1.2 to 2 s}
surroundings:
  knocks: {closes pad: 5 to 60 ms, then open at least: 300 ms}
promises:
  - knocks never reach lit
"""
    found = {finding.hazard: finding for finding in check(read_device(text, "two.yaml")).findings}
    assert found["promise"].verdict is Verdict.HOLDS
    wake = found["accidental-wake"]
    assert wake.verdict is Verdict.BROKEN
    assert "dozing -> lit" in wake.sentence
    assert wake.story is not None
    assert [beat.by for beat in wake.story.beats if beat.actions].count("person") == 4


def test_a_device_without_sleep_or_surroundings_is_not_asked() -> None:
    awake = check(bench("tap: {taps: 1, press: up to 400 ms}", "tap: hit", extra="hit: {shows: hit}"))
    assert "accidental-wake" in {skipped.hazard for skipped in awake.not_asked}
    assert awake.verdict is Verdict.HOLDS


def test_a_spec_of_which_nothing_is_asked_does_not_pass() -> None:
    alone = check(bench("tap: {taps: 1, press: up to 400 ms}", "tap: idle"))
    assert alone.findings == ()
    assert alone.verdict is Verdict.VACUOUS
