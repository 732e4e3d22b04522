"""Symptom first: the ways found, what is proved impossible, and that both agree with the hazards."""

from __future__ import annotations

import re
from itertools import product

import pytest

from nudgeproof.check import check
from nudgeproof.report.card import make_card
from nudgeproof.report.ways import show_ways
from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import Device, Disturbance
from nudgeproof.verdict import Verdict
from nudgeproof.why import ANY_LOSS, NoSymptom, Symptom, Ways, find_ways, read_symptom
from tests.snapshots.screens import ROOT


def read(path: str) -> Device:
    return read_device((ROOT / path).read_text(encoding="utf-8"), path)


def ways(device: Device, text: str, effort: str = "usual") -> Ways:
    return find_ways(device, read_symptom(device, text), effort)


def found(answer: Ways) -> set[tuple[str, str, str]]:
    return {(way.source, way.step.how, way.step.cause) for way in answer.found}


LIGHT = """spec: 1
device: tent light
buttons:
  pad: {bounce: up to 5 ms, debounce: 20 ms}
gestures:
  tap: {taps: 1, press: up to 400 ms}
  hold: {held: 1 s}
variables:
  level: [low, high]
initial: stowed
states:
  stowed:
    sleep: {woken by: [pad], on: edge, ready in: 2 ms, dozes again after: 50 ms}
    transitions: {hold: armed}
  armed: {waiting: true, shows: a glow, transitions: {tap: lit, after 3 s: stowed}}
  lit:
    shows: level
    transitions: {tap: {next: level}, hold: stowed, after 10 min: stowed}
person: {tap: 60 to 350 ms, between: 80 to 220 ms, hold: 1.2 to 2.5 s}
surroundings:
  knocks: {closes pad: 2 to 40 ms, then open at least: 300 ms}
  squeeze: {closes pad: 50 ms to 20 s, then open at least: 5 s}
"""
POWER = """memory: {keeps: [state, level], written: at once, write takes: 3 ms, guard: two copies, may lose: nothing}
power up: {takes: 70 ms, if blank: stowed, if damaged: stowed, button held: ignored until released}
supply: {hold-up: 5 ms}
"""


@pytest.fixture(scope="module")
def light() -> Device:
    return read_device(LIGHT, "tent.yaml")


def test_every_kind_of_cause_that_can_do_it_is_found_and_ranked(light: Device) -> None:
    answer = ways(light, "lit -> stowed")
    timer = "lit: after 10 min"
    assert found(answer) == {
        ("person", "gesture", "hold"),
        ("squeeze", "gesture", "hold"),
        ("anything", "gesture", "hold"),
        ("", "time", timer),
    }
    assert answer.proved == ("knocks alone, after any use: hold",)
    assert answer.open == ()
    assert len(answer.untried) == 1
    counts = [way.story.actions for way in answer.found]
    assert counts == sorted(counts)
    assert answer.found[0].step.cause == timer


def test_each_story_ends_with_the_step_and_begins_in_the_state(light: Device) -> None:
    for way in ways(light, "lit -> stowed").found:
        shown = way.story.beats[way.begins :]
        entered = [any(taken.choice.says.endswith("-> lit") for taken in beat.move.taken) for beat in way.story.beats]
        assert entered.index(True) == way.begins - 1
        assert not any(entered[way.begins :])
        assert any(taken.choice.says.endswith("lit -> stowed") for taken in shown[-1].move.taken)


def test_states_that_only_wait_lie_on_the_way(light: Device) -> None:
    answer = ways(light, "stowed -> lit")
    assert found(answer) == {("person", "gesture", ""), ("anything", "gesture", "")}
    assert "squeeze alone, after any use: a gesture, by way of armed" in answer.proved
    assert {way.story.actions for way in answer.found} == {4}
    assert found(ways(light, "armed -> lit")) == {("person", "gesture", "tap"), ("anything", "gesture", "tap")}


def test_a_change_of_a_variable(light: Device) -> None:
    answer = ways(light, "level changes in lit")
    assert {source for source, _, _ in found(answer)} == {"person", "knocks", "squeeze", "anything"}
    assert {cause for _, _, cause in found(answer)} == {"tap"}


STEPPING = LIGHT.replace("  level: [low, high]\n", "  level: [low, high]\n  wait: [10 s, 1 min]\n").replace(
    "after 10 min: stowed}",
    "after wait: {if: level is high, to: stowed}, every 5 s: {previous: wait}}",
)


def test_times_that_step_and_times_that_a_variable_says_are_causes_too() -> None:
    light = read_device(STEPPING, "tent.yaml")
    steps = ways(light, "wait changes in lit")
    assert found(steps) == {("", "time", "lit: every 5 s")}
    assert "any press: no gesture of the spec changes wait in lit" in steps.proved
    leaving = ways(light, "lit -> stowed")
    assert {cause for _, how, cause in found(leaving) if how == "time"} == set()
    slow_steps = read_device(STEPPING.replace("every 5 s", "every 20 s"), "tent.yaml")
    slow = ways(slow_steps, "lit -> stowed")
    assert {cause for _, how, cause in found(slow) if how == "time"} == {"lit: after wait"}
    text = " ".join(show_ways(slow_steps, slow).split())
    assert "10 s since lit began" in text, text


def test_what_no_line_of_the_spec_does_is_proved_without_a_search(light: Device) -> None:
    answer = ways(light, "lit -> armed")
    assert answer.found == ()
    assert answer.open == ()
    assert [text.partition(":")[0] for text in answer.proved] == ["any press", "a time of the device"]


def test_an_interruption_that_the_spec_does_not_state_is_tried_where_it_says_what_follows() -> None:
    """What memory doesn't keep is gone after any reset; a waiting state is never kept as itself."""
    kept = read_device(LIGHT + POWER, "tent.yaml")
    assert f"{ANY_LOSS}, while someone uses it: a start after a reset" in ways(kept, "lit -> armed").proved
    late = next(way for way in ways(kept, "level changes in lit").found if way.source == ANY_LOSS)
    assert any("level high" in said for beat in late.story.beats[-6:] for said in beat.says), "cut right after a change"
    forgetful = read_device(LIGHT + POWER.replace("keeps: [state, level]", "keeps: [level]"), "tent.yaml")
    reset = next(way for way in ways(forgetful, "lit -> stowed").found if way.source == ANY_LOSS)
    assert reset.story.actions == 6, "hold, tap, out, in"
    assert all(way.source != ANY_LOSS for way in ways(read_device(LIGHT, "tent.yaml"), "lit -> stowed").found)


LATCHED = """spec: 1
device: key light
buttons:
  key: {bounce: up to 5 ms, debounce: 20 ms}
gestures:
  hold: {held: 1 s}
initial: off
states:
  off: {unpowered: true}
  lit:
    shows: a light
    transitions: {hold: off}
person: {tap: 60 to 350 ms, between: 80 to 220 ms, hold: 1.2 to 2.5 s}
surroundings:
  drop: {cell gone: up to 40 ms, then steady at least: 2 s}
power up: {takes: 10 ms, if blank: lit, if damaged: lit, button held: ignored until released}
supply: {hold-up: 5 ms, latch: {closed by: [key], lets go: 3 ms}}
"""


def test_a_key_brings_power_and_a_loss_of_contact_takes_it() -> None:
    device = read_device(LATCHED, "key.yaml")
    on = ways(device, "off -> lit")
    assert found(on) == {("person", "start", ""), ("anything", "start", "")}
    assert "interruptions of the supply: off has no power that could be lost" in on.proved
    off = ways(device, "lit -> off")
    assert {("person", "gesture", "hold"), ("drop", "start", ""), (ANY_LOSS, "start", "")} <= found(off)
    assert not off.open
    text = " ".join(show_ways(device, off).split())
    assert "did it happen with nothing pressing key? Then it lost its power" in text
    text = " ".join(show_ways(device, on).split())
    assert "losses of contact" not in text
    rows = {row.seen: row.by_itself for row in make_card(device).rows}
    assert rows["nothing shows (off)"] == ("starts when key is pressed",)


def test_an_effort_that_runs_out_is_neither_found_nor_proved(light: Device, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("nudgeproof.why.BUDGETS", {"usual": 10})
    answer = ways(light, "lit -> stowed")
    assert (answer.found, answer.proved) == ((), ())
    assert len(answer.open) == 5
    assert all("the effort ran out" in text for text in answer.open)


SPECS = [f"specs/failures/{name}/{kind}.yaml" for name in ("accidental-wake", "accidental-off", "accidental-change")
         for kind in ("broken", "mended")]  # fmt: skip


@pytest.mark.parametrize("spec", SPECS)
def test_it_agrees_with_the_hazards(spec: str) -> None:
    """A source breaks a hazard exactly if it is a way for a change that the hazard is about, and in as few actions."""
    device = read(spec)
    asleep = [state for state in device.states if state.sleep is not None]
    on = [state for state in device.states if state.is_on]
    symptoms = {
        "accidental-wake": [Symptom(a.name, b.name) for a, b in product(asleep, on)],
        "accidental-off": [Symptom(a.name, b.name) for a, b in product(on, asleep)],
        "accidental-change": [
            *(Symptom(a.name, b.name) for a, b in product(on, device.states) if b.sleep is None and a != b),
            *(Symptom(state.name, state.name, variable.name) for state in on for variable in device.variables),
        ],
    }
    sources = {what.name for what in device.surroundings if isinstance(what, Disturbance)}
    for finding in check(device, only=list(symptoms)).findings:
        assert finding.subject in sources
        found_ways = [way for symptom in symptoms[finding.hazard] for way in find_ways(device, symptom).found]
        mine = [way for way in found_ways if way.source == finding.subject]
        assert bool(mine) == (finding.verdict is Verdict.BROKEN)
        if finding.story is not None and mine:
            assert min(way.story.actions for way in mine) == finding.story.actions


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("lit -> stowd", "there is no state `stowd`; did you mean `stowed`?"),
        ("lit -> lit", "no change of state"),
        ("lit", "is no symptom"),
        ("", "is no symptom"),
        ("levl changes in lit", "there is no variable `levl`; did you mean `level`?"),
        ("level changes in qqqq", "known are: stowed, armed, lit"),
    ],
)
def test_a_text_that_is_no_symptom_is_refused(text: str, said: str, light: Device) -> None:
    with pytest.raises(NoSymptom) as caught:
        read_symptom(light, text)
    assert said in str(caught.value)


@pytest.mark.parametrize("text", ["lit->stowed", " lit  ->  stowed ", "lit → stowed"])
def test_arrows_and_blanks_as_people_write_them(text: str, light: Device) -> None:
    assert read_symptom(light, text) == Symptom("lit", "stowed")
    assert str(Symptom("lit", "stowed")) == "lit -> stowed"
    assert read_symptom(light, str(Symptom("lit", "lit", "level"))) == Symptom("lit", "lit", "level")


GROUPED = """spec: 1
device: reading lamp
buttons:
  pad: {bounce: up to 5 ms, debounce: 20 ms}
gestures:
  tap: {taps: 1, press: up to 400 ms}
  hold: {held: 1 s}
variables:
  beam: [low, high]
  left: 0 to 2
  minutes: {values: [1 min, 5 min], at the ends: stop, starts as: 5 min}
initial: stowed
states:
  stowed:
    sleep: {woken by: [pad], on: edge, ready in: 2 ms, dozes again after: 50 ms}
    transitions: {hold: lit}
  lit:
    shows: beam
    states:
      steady:
        transitions:
          tap: [{if: beam is high, to: timed}, {if: beam is low, next: beam}]
      timed:
        on entering: {set: {left: 2}}
        transitions:
          every 10 s: [{if: left is at least 1, previous: left}, {if: left is 0, to: steady, set: {beam: low}}]
    transitions: {hold: stowed, tap: {next: minutes}, after minutes with pad open: stowed}
person: {tap: 60 to 350 ms, between: 80 to 220 ms, hold: 1.2 to 2.5 s}
"""


@pytest.fixture(scope="module")
def grouped() -> Device:
    return read_device(GROUPED, "reading.yaml")


def told(answer: Ways) -> dict[tuple[str, str], str]:
    return {(way.source, way.step.words): str(way.symptom) for way in answer.found}


def test_a_case_does_it_only_while_its_condition_holds(grouped: Device) -> None:
    answer = ways(grouped, "steady -> timed")
    assert told(answer) == {(by, "tap while beam is high"): "steady -> timed" for by in ("person", "anything")}
    counts = [way.story.actions for way in answer.found]
    assert min(counts) == 6, "hold, tap, tap: the first tap only makes the beam high"
    assert found(ways(grouped, "timed -> steady")) == {("", "time", "timed: every 10 s")}


def test_a_time_that_leaves_nothing_changes_a_variable(grouped: Device) -> None:
    answer = ways(grouped, "left changes in timed")
    assert told(answer) == {("", "every 10 s while left is at least 1"): "left changes in timed"}
    assert "any press: no gesture of the spec changes left in timed" in answer.proved
    assert "was it 10 s, or a multiple of it, since timed began?" in " ".join(show_ways(grouped, answer).split())


def test_what_entering_sets_is_a_change_within_the_group(grouped: Device) -> None:
    answer = ways(grouped, "left changes in lit")
    assert told(answer)["person", "tap while beam is high"] == "left changes from steady to timed"
    assert told(answer)["", "every 10 s while left is at least 1"] == "left changes in timed"


def test_a_shared_line_of_a_group_is_one_way(grouped: Device) -> None:
    answer = ways(grouped, "lit -> stowed")
    assert {words for _, words in told(answer)} == {"hold", "after minutes with pad open"}
    assert {way.symptom.after for way in answer.found} == {"stowed"}
    assert {(way.source, way.step.words) for way in ways(grouped, "stowed -> lit").found} == {
        ("person", "hold"),
        ("anything", "hold"),
    }


def test_a_time_whose_length_a_variable_says_is_found_with_each_length(grouped: Device) -> None:
    (way,) = (way for way in ways(grouped, "steady -> stowed").found if way.step.how == "time")
    assert way.step.cause == "lit: after minutes with pad open"
    assert [option.cause.rpartition(", ")[2] for option in way.step.options] == ["1 min", "5 min"]
    shown = " ".join(show_ways(grouped, ways(grouped, "steady -> stowed")).split())
    assert "was it minutes (1 min or 5 min) since pad was let go?" in shown


def test_lines_of_several_states_with_one_gesture_are_told_apart(grouped: Device) -> None:
    assert {words for _, words in told(ways(grouped, "beam changes in lit"))} == {"tap while beam is low", "every 10 s while"
                                                                                  " left is 0"}  # fmt: skip
    doubled = read_device(GROUPED.replace("{next: minutes}", "{next: [beam, minutes]}"), "reading.yaml")
    words = {words for source, words in told(ways(doubled, "beam changes in lit")) if source == "person"}
    assert words == {"tap in steady while beam is low", "tap in timed"}


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("lit -> timed", "timed is in lit"),
        ("steady -> lit", "steady is in lit"),
        ("lit -> lit", "no change of state"),
        ("lid -> stowed", "did you mean `lit`?"),
    ],
)
def test_a_group_and_a_state_in_it_are_no_change(grouped: Device, text: str, said: str) -> None:
    with pytest.raises(NoSymptom, match=re.escape(said)):
        read_symptom(grouped, text)


STAIRS = """spec: 1
device: stair light
buttons:
  pad: {bounce: up to 5 ms, debounce: 20 ms}
gestures:
  hold: {held: 1 s}
events:
  footfall: {}
initial: dark
states:
  dark:
    sleep: {woken by: [pad, footfall], on: edge, ready in: 2 ms, dozes again after: 50 ms}
    transitions: {hold: set, footfall: lit}
  lit: {transitions: {hold: dark}}
  set: {transitions: {hold: lit}}
surroundings:
  walkers: {makes: footfall, then none for at least: 300 ms, meant: true}
"""


def test_an_event_is_a_way_of_its_source_and_of_no_press() -> None:
    device = read_device(STAIRS, "stairs.yaml")
    ways = find_ways(device, read_symptom(device, "dark -> lit"))
    assert [(way.by, way.step.words) for way in ways.found] == [("walkers alone, after any use", "footfall")]
    assert any(told.startswith("any press: no gesture of the spec leads") for told in ways.proved)
