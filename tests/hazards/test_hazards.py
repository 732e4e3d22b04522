"""What each hazard asks, when it doesn't apply, and that its twins show it."""

from functools import cache
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
    assert Verdict.UNDECIDED not in {finding.verdict for finding in broken.findings}
    mended = report(f"{folder}/mended.yaml")
    assert mended.findings
    assert {finding.verdict for finding in mended.findings} == {Verdict.HOLDS}


@pytest.mark.parametrize("hazard", HAZARDS, ids=lambda hazard: hazard.NAME)
def test_a_hazard_says_all_that_explain_tells(hazard: ModuleType) -> None:
    for text in (hazard.MEANS, hazard.CURE, hazard.ASKED_IF, hazard.TEMPTING, hazard.EXACT):
        assert len(text) > 10
        assert not text.endswith(".")
    rows = hazard.SHOWN.splitlines()
    assert 1 <= len(rows) <= 2
    assert max(map(len, rows)) <= 78
    assert set("".join(rows)) - set("▁▂▃▄▅▆▇█░▒▓") <= {chr(code) for code in range(32, 127)}


LAMP = """spec: 1
device: reading lamp
buttons:
  knob: {{bounce: up to 5 ms, debounce: 20 ms}}
gestures:
  tap: {{taps: 1, press: up to 400 ms}}
variables:
  level: [low, mid, high]
  tint: [warm, cold]
initial: lit
states:
  lit:
    shows: level
    transitions: {{tap: {{next: [level, tint]}}}}
memory:
  keeps: [{keeps}]
  written: {written}
  write takes: {takes}
  guard: {guard}
  may lose: {lose}
power up: {{takes: 70 ms, if blank: lit, if damaged: lit, button held: ignored until released}}
supply: {{hold-up: {hold_up}}}
person: {{tap: 60 to 350 ms, between: 80 to 220 ms}}
surroundings:
  rattle: {{cell gone: up to 40 ms, then steady at least: 2 s}}
"""


def memory_verdicts(
    keeps: str = "level, tint",
    written: str = "at once",
    takes: str = "3 ms",
    guard: str = "two copies",
    lose: str = "nothing",
    hold_up: str = "5 ms",
) -> dict[str, Verdict]:
    text = LAMP.format(keeps=keeps, written=written, takes=takes, guard=guard, lose=lose, hold_up=hold_up)
    found = check(read_device(text, "lamp.yaml"), only=["lost-state", "torn-memory"])
    return {finding.hazard: finding.verdict for finding in found.findings}


KEPT = {"lost-state": Verdict.HOLDS, "torn-memory": Verdict.HOLDS}
LOST = {"lost-state": Verdict.BROKEN, "torn-memory": Verdict.HOLDS}
TORN = {"lost-state": Verdict.HOLDS, "torn-memory": Verdict.BROKEN}


def test_a_write_that_ends_before_the_reset_loses_nothing() -> None:
    """A change T before the loss of contact, T > 0, is lost if its write may still go on at the reset: takes >= T + hold-up.

    What changes at the very instant of the loss may be lost: equality counts for the maker.
    """
    assert memory_verdicts(takes="5 ms") == KEPT
    assert memory_verdicts(takes="5001 us") == LOST


def test_what_may_be_lost_counts_from_the_loss_of_contact() -> None:
    """The earliest change that can be lost lies write time - hold-up before the loss, and `may lose` must reach that far."""
    assert memory_verdicts(takes="9 ms", lose="the last 4 ms") == KEPT
    assert memory_verdicts(takes="9 ms", lose="the last 3999 us") == LOST


@pytest.mark.parametrize("hold_up", ["0 ms", "5 ms", "39 ms"])
@pytest.mark.parametrize("guard", ["none", "checksum"])
def test_one_copy_can_always_be_torn(guard: str, hold_up: str) -> None:
    """However long the supply holds up, a change may come just before the reset, and its write is cut."""
    found = memory_verdicts(guard=guard, hold_up=hold_up, lose="the last 20 ms")
    assert found["torn-memory"] is Verdict.BROKEN


def test_an_interruption_shorter_than_the_hold_up_tears_nothing() -> None:
    assert memory_verdicts(guard="none", hold_up="40001 us") == KEPT


def test_saving_after_a_quiet_time_loses_what_came_before() -> None:
    found = memory_verdicts(written="after 1 s of quiet", lose="the last 20 ms")
    assert found["lost-state"] is Verdict.BROKEN


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


MISTER = """spec: 1
device: plant mister
buttons:
  knob: {bounce: up to 6 ms, debounce: 15 ms}
gestures:
  hold: {held: 1 s}
variables:
  dose: [small, large]
initial: idle
states:
  idle:
    sleep: {woken by: [knob], on: edge, ready in: 5 ms, dozes again after: 50 ms}
    transitions: {hold: setting}
  setting:
    transitions: {hold: {next: dose}, after 20 s: idle}
memory: {keeps: [dose], written: at once, write takes: 4 ms, guard: two copies, may lose: nothing}
power up: {takes: 70 ms, if blank: idle, if damaged: idle, button held: ignored until released}
supply: {hold-up: 5 ms}
person: {tap: 80 to 400 ms, between: 100 to 500 ms, hold: 1.2 to 3 s}
surroundings:
  rattle: {cell gone: up to 200 ms, then steady at least: 1 s}
promises:
  - rattle never reaches idle, while someone uses it
"""


def test_memory_that_keeps_something_else_excuses_nothing() -> None:
    """The dose comes back as it was, but the device went off all the same, and with as few actions as it takes."""
    report = check(read_device(MISTER, "mister.yaml"))
    found = {finding.hazard: finding for finding in report.findings if finding.subject.startswith("rattle")}
    assert found["lost-state"].verdict is Verdict.HOLDS
    off = found["accidental-off"]
    assert off.verdict is Verdict.BROKEN
    assert off.story is not None
    assert off.story.actions == 4
    assert off.where == "every specimen"


def test_a_promise_about_a_source_is_not_broken_by_a_timeout_that_comes_anyway() -> None:
    text = MISTER.replace("keeps: [dose]", "keeps: [state, dose]")
    (kept,) = [f for f in check(read_device(text, "mister.yaml")).findings if f.hazard == "promise"]
    assert kept.verdict is Verdict.HOLDS
    (broken,) = [f for f in check(read_device(MISTER, "mister.yaml")).findings if f.hazard == "promise"]
    assert broken.verdict is Verdict.BROKEN
    assert broken.story is not None
    assert any("rattle" in beat.part for beat in broken.story.beats)


READING_LIGHT = """spec: 1
device: reading light
buttons:
  pad: {bounce: up to 8 ms, debounce: 20 ms ± 5 ms, edges apart: at least 1 ms, extra taps: EXTRA}
gestures:
  two taps: {taps: 2, press: up to 400 ms, between: up to 260 ms}
  tap: {taps: 1, press: up to 400 ms}
  short hold: {held: 800 ms}
  long hold: {held: 3 s}
  dim: {held: 800 ms, repeats every: 300 ms}
  hold then tap: {held: 800 ms, then taps: 1, press: up to 400 ms, between: up to 500 ms}
variables:
  beam: [low, high, full]
initial: stowed
states:
  stowed:
    sleep: {woken by: [pad], on: edge, ready in: 2 ms ± 1 ms, dozes again after: 50 ms}
    transitions: {short hold: armed, long hold: glowing, hold then tap: glowing}
  armed:
    waiting: true
    transitions: {two taps: glowing, after 3 s: stowed}
  glowing:
    shows: beam
    transitions: {dim: {next: beam}, two taps: stowed}
person: {tap: 60 to 350 ms, between: 80 to 220 ms, hold: 1 to 2 s, answers within: 1.5 s}
surroundings:
  knocks: {closes pad: 2 to 40 ms, then open at least: 300 ms}
  squeeze: {closes pad: 1 to 2 s, then open at least: 600 ms}
  trill: {closes pad: 30 to 60 ms, then open at least: 100 ms}
"""


@cache
def broken(text: str) -> set[tuple[str, str]]:
    found = check(read_device(text.replace("EXTRA", "begin anew"), "light.yaml")).findings
    assert {finding.verdict for finding in found} <= {Verdict.BROKEN, Verdict.HOLDS}
    return {(finding.hazard, finding.subject) for finding in found if finding.verdict is Verdict.BROKEN}


EXPECTED = {("accidental-off", "trill"), ("accidental-change", "squeeze")}


def test_holds_of_several_lengths_are_done_and_disturbances_do_what_their_lengths_allow() -> None:
    """A squeeze too short for the long hold makes the short one, which only waits, and dims what is on."""
    assert broken(READING_LIGHT.replace(", hold then tap: glowing", "")) == EXPECTED


def test_a_hold_that_may_go_on_waits_so_a_quick_answer_is_taken_for_the_rest_of_it() -> None:
    """The person taps twice 80 ms after the short hold or later; within 500 ms the first tap makes `hold then tap`."""
    assert broken(READING_LIGHT) == EXPECTED | {("misread-gesture", "short hold, two taps in stowed")}


def test_a_person_who_holds_too_long_or_too_short_misses() -> None:
    """The short hold waits for the long one, so a hold beyond 3 s is taken for it."""
    shifted = READING_LIGHT.replace("hold: 1 to 2 s", "hold: 1 to 3.2 s, long hold: 2.9 to 4 s")
    missed = {subject for hazard, subject in broken(shifted) if hazard in ("missed-gesture", "misread-gesture")}
    assert missed == {
        "short hold in stowed",
        "short hold, two taps in stowed",
        "long hold in stowed",
        "hold then tap in stowed",
    }


def test_a_squeeze_may_be_a_hold_and_the_next_one_its_tap() -> None:
    text = READING_LIGHT.replace("1 to 2 s, then open at least: 600 ms", "100 ms to 2 s, then open at least: 400 ms")
    assert broken(text) - broken(READING_LIGHT) == {("accidental-wake", "squeeze")}
