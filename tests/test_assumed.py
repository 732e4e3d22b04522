"""Guesses are varied one by one, and those that a verdict hangs on come first."""

import json

import pytest

from nudgeproof import assumed
from nudgeproof.again import change
from nudgeproof.check import check
from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import Device
from nudgeproof.verdict import Guesses, Verdict
from tests.snapshots.screens import ROOT, run, specs
from tests.spec.good import GROUPED

EFFORT = 200_000


def text_of(name: str) -> str:
    return (ROOT / "specs" / "failures" / name / "mended.yaml").read_text(encoding="utf-8")


def ranked(device: Device, budget: int = 8 * EFFORT) -> Guesses:
    guesses = assumed.rank(device, check(device), budget, EFFORT).guesses
    assert guesses is not None
    return guesses


@pytest.fixture(scope="module")
def wake() -> Guesses:
    return ranked(read_device(text_of("accidental-wake"), "mended.yaml"))


def test_the_pause_of_a_squeeze_is_to_be_measured_first(wake: Guesses) -> None:
    first = wake.ranked[0]
    assert (first.told, first.line) == ("squeeze: {then open at least: 1 s}", 22)
    (turned,) = first.varied[0].turned
    assert (turned.hazard, turned.was, turned.now) == ("accidental-wake", Verdict.HOLDS, Verdict.BROKEN)
    hanging = [any(varied.turned for varied in guess.varied) for guess in wake.ranked]
    assert hanging == sorted(hanging, reverse=True)


@pytest.mark.parametrize("name", ["accidental-change", "lost-state"])
def test_what_turned_turns_when_the_spec_is_written_so(name: str) -> None:
    text = text_of(name)
    device = read_device(text, "mended.yaml")
    tried = 0
    for guess in ranked(device).ranked:
        key, was = guess.told.rstrip("}").split(": ")[-2:]
        written = f"{key.lstrip('{')}: {was}"
        for varied in guess.varied if text.count(written) == 1 else ():
            tried += 1
            other = read_device(text.replace(written, f"{key.lstrip('{')}: {varied.words}"), "other.yaml")
            now = {(f.hazard, f.subject): f.verdict for f in check(other).findings}
            turned = {(t.hazard, t.subject): t.now for t in varied.turned}
            assert {key: verdict for key, verdict in now.items() if verdict is not Verdict.HOLDS} == turned
    assert tried > 10


def test_only_what_can_be_affected_is_asked_and_nothing_is_missed(monkeypatch: pytest.MonkeyPatch) -> None:
    device = read_device(text_of("lost-state"), "mended.yaml")
    quick = ranked(device)
    monkeypatch.setattr(assumed, "_touched", lambda device, path: lambda question: True)
    assert ranked(device) == quick


@pytest.mark.parametrize("spec", specs())
def test_every_assumption_is_varied_or_named_as_not_tried(spec: str) -> None:
    device = read_device((ROOT / spec).read_text(encoding="utf-8"), spec)
    found, untried = assumed._guesses(device)
    defaults = [one for one in found if one.assumed]
    assert len(defaults) + len(untried) == len(device.assumptions)


def test_what_a_chip_or_a_habit_gives_is_a_guess_too() -> None:
    text = text_of("lost-state").replace("  write takes: 3.4 ms\n", "").replace("device:", "chip: small 8-bit\ndevice:")
    person = next(line for line in text.splitlines() if line.startswith("person:"))
    device = read_device(text.replace(person, "person: slow"), "chip.yaml")
    found, untried = assumed._guesses(device)
    defaults = {one.path: one for one in found if one.assumed}
    assert ("memory", "write takes") in defaults
    tap = defaults["person", "tap"]
    assert tap.told == "person: {tap: 90 to 630 ms}"
    assert [edit.new for _, edit in tap.edits] == [
        "{habit: slow, tap: 108 ms to 756 ms}",
        "{habit: slow, tap: 72 ms to 504 ms}",
    ]
    for one in defaults.values():
        assert all(change(device, (edit,)) is not None for _, edit in one.edits), one
    assert len(defaults) + len(untried) == len(device.assumptions)


def test_what_is_left_out_for_the_effort_is_named() -> None:
    device = read_device(text_of("accidental-off"), "mended.yaml")
    guesses = ranked(device, budget=1)
    assert len(guesses.ranked) == 1
    assert "person: {tap: 60 to 350 ms}" in guesses.untried


def test_an_effort_too_small_turns_nothing_and_says_so() -> None:
    device = read_device(text_of("accidental-off"), "mended.yaml")
    guesses = assumed.rank(device, check(device), 1_000, 10).guesses
    assert guesses is not None
    assert guesses.ranked
    assert not any(varied.turned or varied.known for guess in guesses.ranked for varied in guess.varied)


def test_screen_and_json() -> None:
    spec = "specs/failures/accidental-change/mended.yaml"
    code, out, _ = run("check", "--assumed", spec)
    assert code == 0
    assert "  measure this one next: clock: {off by: 0 %} (assumed)\n" in out
    assert max(map(len, out.splitlines())) <= 80
    assert run("check", "--assumed", spec)[1] == out
    (told,) = json.loads(run("check", "--assumed", "--json", "-", spec)[1])["specs"]
    assert told["guesses"][0]["guess"] == "clock: {off by: 0 %}"
    assert told["guesses"][0]["tried"][1]["turned"][0]["now"] == "broken"
    assert "guesses" not in json.loads(run("check", "--json", "-", spec)[1])["specs"][0]


def test_ends_of_variables_and_own_times_of_a_hold_are_guesses() -> None:
    text = GROUPED.replace("beam: [low, high]", "beam: {values: [low, high]}") + (
        "person: {tap: 60 to 350 ms, between: 80 to 220 ms, hold: 1.4 to 2.5 s, long: 4 to 6 s}\n"
    )
    text = text.replace("  hold: {held: 1.2 to 1.3 s}\n", "  hold: {held: 1.2 to 1.3 s}\n  long: {held: 3 s}\n")
    device = read_device(text, "lamp.yaml")
    found, untried = assumed._guesses(device)
    edits = {one.told: [str(edit) for _, edit in one.edits] for one in found}
    assert edits["left: {at the ends: stop}"] == [
        "line 12: left: {values: 0 to 3, at the ends: wrap} instead of 0 to 3"
    ]
    assert edits["beam: {at the ends: wrap}"] == ["line 11: add beam: {at the ends: stop}"]
    assert len(edits["person: {long: 4 to 6 s}"]) == 2
    for one in found:
        assert all(change(device, (edit,)) is not None for _, edit in one.edits), one
    assert len([one for one in found if one.assumed]) + len(untried) == len(device.assumptions)
