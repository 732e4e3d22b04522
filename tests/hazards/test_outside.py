"""Hazards and events: what is meant isn't a disturbance; outputs in reset; a button held while power comes up."""

from __future__ import annotations

import pytest

from nudgeproof import where
from nudgeproof.check import check
from nudgeproof.spec.read import read_device
from nudgeproof.verdict import Finding, Verdict

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
    transitions: {hold: lit, footfall: lit}
  lit:
    transitions: {hold: dark, after 20 s: dark}
person: {tap: 60 to 250 ms, between: 80 to 220 ms, hold: 1.2 to 2 s}
surroundings:
  walkers: {makes: footfall, then none for at least: 300 ms, meant: MEANT}
  knocks: {closes pad: 5 to 60 ms, then open at least: 300 ms}
promises:
  - walkers never reach lit
"""


def found(text: str, *only: str) -> dict[tuple[str, str], Finding]:
    report = check(read_device(text, "stairs.yaml"), only=only)
    return {(finding.hazard, finding.subject): finding for finding in report.findings}


def test_what_is_not_meant_is_asked_about_and_found_on_every_specimen() -> None:
    wake = found(STAIRS.replace("MEANT", "false"))["accidental-wake", "walkers"]
    assert wake.verdict is Verdict.BROKEN
    assert wake.where == where.EVERY
    assert wake.bench == "footfall at 0 ms; at 2 ms dark turns to lit"


def test_what_is_meant_is_not_but_stays_in_promises() -> None:
    findings = found(STAIRS.replace("MEANT", "true"))
    assert ("accidental-wake", "walkers") not in findings
    assert findings["accidental-wake", "knocks"].verdict is Verdict.HOLDS
    assert findings["promise", "walkers never reach lit"].verdict is Verdict.BROKEN


def test_nothing_is_asked_where_all_surroundings_are_meant() -> None:
    text = STAIRS.replace("MEANT", "true").replace(
        "  knocks: {closes pad: 5 to 60 ms, then open at least: 300 ms}\n", ""
    )
    report = check(read_device(text, "stairs.yaml"))
    reasons = {skipped.hazard: skipped.reason for skipped in report.not_asked}
    assert reasons["accidental-wake"] == reasons["accidental-change"] == "all surroundings are meant"


def test_what_the_device_is_for_belongs_to_its_use() -> None:
    """Only a footfall leads to `lit`; after that use, a knock there is asked about."""
    text = STAIRS.replace("MEANT", "true").replace("{hold: lit, footfall: lit}", "{footfall: lit}")
    findings = found(text, "accidental-off", "unreachable-mode", "missed-gesture")
    assert findings["accidental-off", "knocks"].verdict is Verdict.HOLDS
    assert findings["unreachable-mode", "lit"].verdict is Verdict.HOLDS
    assert findings["missed-gesture", "hold in lit"].verdict is Verdict.HOLDS


def test_the_cure_for_a_depth_that_nothing_wakes_from_names_it() -> None:
    text = STAIRS.replace("MEANT", "true").replace("on: edge,", "on: edge, depth: deep,")
    text = text.replace("initial: dark", "depths: {deep: {woken by: [level]}}\ninitial: dark")
    missed = found(text, "missed-gesture")["missed-gesture", "hold in dark"]
    assert missed.verdict is Verdict.BROKEN
    assert "`deep`" in missed.cure
    assert "on: level" in missed.cure


def test_a_busy_firmware_misses_what_is_done_too_soon() -> None:
    """A tap lasts 60 ms at least: the busy time and 20 ms of debounce must be over before it ends."""
    text = STAIRS.replace("MEANT", "true").replace("{held: 1 s}", "{held: 1 s}\n  tap: {taps: 1, press: up to 400 ms}")
    text = text.replace("{hold: dark, after", "{tap: dark, after")
    for busy, verdict in (("39999 us", Verdict.HOLDS), ("40 ms", Verdict.BROKEN)):
        tested = text.replace("  lit:\n", f"  lit:\n    busy: {busy}\n").replace(
            "bounce: up to 5 ms", "bounce: up to 0 ms"
        )
        assert found(tested, "missed-gesture")["missed-gesture", "tap in lit"].verdict is verdict


WATERER = """spec: 1
device: waterer
buttons:
  knob: {bounce: up to 5 ms, debounce: 20 ms}
gestures:
  hold: {held: 1 s}
initial: idle
states:
  idle: {transitions: {hold: watering}}
  watering: {transitions: {hold: idle, after 2 min: idle}}
outputs:
  pump: {on in: [ON_IN], in reset: PIN}
power up: {takes: 70 ms, if blank: idle, if damaged: idle, button held: ignored until released}
supply: {hold-up: 5 ms}
person: {tap: 60 to 350 ms, between: 80 to 220 ms, hold: 1.2 to 2.5 s}
surroundings:
  rattle: {cell gone: GONE, then steady at least: 2 s}
"""


def output(on_in: str = "watering", pin: str = "floating", gone: str = "up to 40 ms") -> Finding:
    text = WATERER.replace("ON_IN", on_in).replace("PIN", pin).replace("GONE", gone)
    return found(text, "output-in-reset")["output-in-reset", "pump, rattle"]


@pytest.mark.parametrize(("pin", "word"), [("floating", "may be on"), ("on", "is on")])
def test_an_output_that_is_not_off_in_reset(pin: str, word: str) -> None:
    finding = output(pin=pin)
    assert finding.verdict is Verdict.BROKEN
    assert f"pump {word} though idle doesn't call for it" in finding.sentence
    assert finding.story is not None
    assert finding.story.actions == 2
    assert finding.where == where.EVERY


def test_an_output_that_is_off_in_reset_or_never_uncalled_for() -> None:
    assert output(pin="off").verdict is Verdict.HOLDS
    assert output(on_in="idle, watering").verdict is Verdict.HOLDS, "every state calls for it"
    assert output(gone="up to 4999 us").verdict is Verdict.HOLDS, "the hold-up time covers it"


def test_an_output_that_was_called_for_and_is_not_after_the_start() -> None:
    """Without memory the device starts in `idle`, which doesn't call for the pump; before, `idle` is left out."""
    text = WATERER.replace("ON_IN", "watering").replace("PIN", "on").replace("GONE", "up to 40 ms")
    text = text.replace("initial: idle", "initial: watering").replace(
        "{hold: idle, after 2 min: idle}", "{hold: watering}"
    )
    finding = found(text, "output-in-reset")["output-in-reset", "pump, rattle"]
    assert finding.verdict is Verdict.BROKEN
    assert finding.story is not None
    assert "the firmware starts in idle" in " ".join(finding.story.beats[-1].says)


LAMP = """spec: 1
device: tent lamp
buttons:
  pad: {bounce: up to 5 ms, debounce: 20 ms}
gestures:
  hold: {held: 1 s}
  tap: {taps: 1, press: up to 400 ms}
initial: stowed
states:
  stowed:
    sleep: {woken by: [pad], on: edge, ready in: 2 ms, dozes again after: 50 ms}
    transitions: {STOWED}
  lit:
    transitions: {LIT}
MEMORY
power up: {takes: 70 ms, if blank: stowed, if damaged: stowed, button held: HELD}
"""
KEEPS = "memory: {keeps: state, written: at once, write takes: 3 ms, guard: two copies, may lose: nothing}"


def held(stowed: str, lit: str, how: str, memory: str = "") -> Finding:
    text = LAMP.replace("STOWED", stowed).replace("LIT", lit).replace("HELD", how).replace("MEMORY", memory)
    return found(text, "held-at-power-up")["held-at-power-up", "pad"]


@pytest.mark.parametrize("gesture", ["hold", "tap"])
def test_a_held_button_that_counts_is_taken_for_a_gesture(gesture: str) -> None:
    """A tap is seen when the button is let go, although nobody pressed it since the start."""
    finding = held(f"{gesture}: lit", "", "counts as a press")
    assert finding.verdict is Verdict.BROKEN
    assert finding.bench.startswith("hold pad down and put the cell in at 0 ms")
    assert held(f"{gesture}: lit", "", "ignored until released").verdict is Verdict.HOLDS


def test_what_memory_brings_back_is_tried_too() -> None:
    """Nothing happens in `stowed`; only a start that memory leads to `lit` shows it."""
    assert held("", "hold: stowed", "counts as a press").verdict is Verdict.HOLDS
    finding = held("", "hold: stowed", "counts as a press", KEEPS)
    assert finding.verdict is Verdict.BROKEN
    assert "(lit -> stowed)" in finding.sentence


def test_many_values_in_memory_cost_nothing_where_nothing_hangs_on_them() -> None:
    """A variable that a condition names is tried with all its values; one that is only counted isn't."""
    text = LAMP.replace("initial:", "variables: {left: 0 to 20, done: 0 to 20}\ninitial:").replace(
        "HELD", "counts as a press"
    )
    text = text.replace("STOWED", "tap: {next: left}").replace(
        "MEMORY", KEEPS.replace("keeps: state", "keeps: [state, left, done]")
    )
    plain = found(text.replace("LIT", "tap: {next: done}"), "held-at-power-up")["held-at-power-up", "pad"]
    only_at_7 = "tap: [{if: left is 7, to: stowed}, {if: left is not 7, next: done}]"
    hung = found(text.replace("LIT", only_at_7), "held-at-power-up")["held-at-power-up", "pad"]
    assert plain.verdict is hung.verdict is Verdict.BROKEN
    assert plain.classes < hung.classes
