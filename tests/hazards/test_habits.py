"""What people ask for, opposite wishes included: a spec can say each, and its promises break where the wish isn't met."""

import pytest

from nudgeproof.again import ask_again
from nudgeproof.check import BUDGETS, check
from nudgeproof.spec.read import read_device
from nudgeproof.verdict import Verdict
from tests.amount import amount, each
from tests.snapshots.screens import ROOT

FOLDER = ROOT / "specs" / "habits"

CONTRARY: dict[str, tuple[tuple[str, str], ...]] = {
    "adjustable-times": (
        ("debounce: 10 to 45 ms per unit", "debounce: 10 to 90 ms per unit"),
        ("up to 400 ms ± 100 ms per unit", "up to 300 ms ± 100 ms per unit"),
        ("{held: 2 to 2.4 s per unit}", "{held: 2 to 2.9 s per unit}"),
    ),
    "any-button-wakes": (("woken by: [left, right]", "woken by: [left]"),),
    "auto-off": (
        ("after 15 min: dark", "after 16 min: dark"),
        ("{tap: {to: lit}, hold", "{tap: lit on cable, hold"),
        ("{hold: dark, pulled out: lit}", "{hold: dark, pulled out: lit, after 15 min: dark}"),
    ),
    "auto-off-remembered": (
        ("keeps: [state, limit]", "keeps: [state]"),
        ("after limit: dark", "after 10 min: dark"),
    ),
    "back-to-the-default-level": (
        ("two taps: {set: {volume: 2}}", "two taps: {set: {volume: 3}}"),
        ("two taps: {set: {volume: 2}}", "two taps: {next: volume}"),
    ),
    "hold-acts-at-once": (("acts at: threshold", "acts at: release"),),
    "hold-acts-at-release": (("acts at: release", "acts at: threshold"),),
    "last-after-power-loss": (
        ("keeps: [state, level]", "keeps: [state]"),
        ("keeps: [state, level]", "keeps: [level]"),
    ),
    "light-only-while-pressed": (
        ("after 20 ms with pad open", "after 2 s with pad open"),
        ("change: ready, after 10 min: ready", "after 10 min: ready, press: ready"),
    ),
    "light-press-to-sleep-and-wake": (
        ("taps: 1, press: up to 600 ms", "taps: 2, press: up to 600 ms, between: up to 350 ms"),
    ),
    "locks-by-itself": (
        ("after 30 s with key open", "after 5 min with key open"),
        ("presses: [tap, tap, hold], held: 0.6 s, press: up to 400 ms, between: up to 350 ms", "held: 0.6 s"),
    ),
    "longer-hold-to-wake": (("long hold: {held: 2 s}", "long hold: {held: 1 s}"),),
    "longest-hold-at-release": (("{held: 5 s, acts at: release}", "{held: 5 s}"),),
    "motion-rests-in-a-vehicle": (
        ("{if: shakes is 2, to: parked}", "{if: shakes is 2, to: awake}"),
        (
            "[key], ready in: 2 ms ± 1 ms, dozes again after: 50 ms}\n    transitions: {tap",
            "[key, motion], ready in: 2 ms ± 1 ms, dozes again after: 50 ms}\n    transitions: {motion: awake, tap",
        ),
    ),
    "no-hurry-between-taps": (
        (
            "    sleep: {ready in: 2 ms ± 1 ms, dozes again after: 50 ms}\n    transitions: {press: two}",
            "    transitions: {press: two, after 5 s: quiet}",
        ),
        ("up to 500 ms, acts at: press", "up to 500 ms"),
    ),
    "no-press-lost-while-waking": (
        ("ready in: 3 ms ± 1 ms", "ready in: 80 ms ± 1 ms"),
        ("debounce: 15 ms ± 3 ms", "debounce: 15 ms ± 3 ms, waking press: no tap"),
    ),
    "no-sleep-while-pressed": (("after 15 s with key open", "after 15 s"),),
    "no-wait-for-a-second-tap": (("tap: {next: page}, hold", "tap: {next: page}, two taps: setting, hold"),),
    "off-after-power-loss": (("if blank: dark", "if blank: lit"),),
    "off-at-press": ((", acts at: press", ""),),
    "off-stays-off-at-the-charger": (
        ("transitions: {tap: lit, plugged in: {set:", "transitions: {tap: lit, plugged in: {to: lit, set:"),
        ("transitions: {tap: dark, plugged in: {set:", "transitions: {tap: dark, plugged in: {to: dark, set:"),
    ),
    "on-after-power-loss": (("if blank: lit", "if blank: dark"),),
    "one-function-while-locked": (("{unlock: open, call: calling}", "{unlock: open, call: open}"),),
    "only-the-power-button-wakes": (
        ("{power tap: showing}", "{power tap: showing, page tap: showing}"),
        (
            "[power], ready in: 2 ms ± 1 ms, dozes again after: 50 ms}\n    transitions: {power tap: showing}",
            "[power, page], ready in: 2 ms ± 1 ms, dozes again after: 50 ms}\n    transitions: {page tap: showing}",
        ),
    ),
    "same-hold-on-and-off": (
        ("{hold: silent, after 2 h: silent}", "{after 2 h: silent, hold: beating}"),
        ("{hold: beating}", "{hold: silent}"),
    ),
    "saved-after-quiet": (
        ("after 3 s: [", "after 1 s: ["),
        ("{to: unsaved, next: level}}", "{to: unsaved, next: level, set: {saved: high}}}"),
    ),
    "saved-on-request": (
        ("tap: {next: level}", "tap: {next: [level, saved]}"),
        ("{if: level is high, set: {saved: high}}", "{if: level is high, set: {level: low}}"),
    ),
    "sign-first-done-at-release": (
        ("after 60 ms with key open: emptied", "after 60 ms: emptied"),
        ("transitions: {hold: taken}", "transitions: {hold: emptied}"),
        (
            "shows: a short buzz\n    transitions: {after 60 ms with key open: emptied}\n  emptied:\n    shows: a zero",
            "shows: a zero\n    transitions: {after 60 ms with key open: emptied}\n  emptied:\n    shows: a short buzz",
        ),
    ),
    "truly-off-when-empty": (
        (
            "[charger], ready in: 2 ms ± 1 ms, dozes again after: 50 ms}\n    transitions: {charger",
            "[charger, key], ready in: 2 ms ± 1 ms, dozes again after: 50 ms}\n    transitions: {tap: lit, charger",
        ),
        ("{tap: dark, cell low: empty}", "{tap: dark, cell low: dark}"),
    ),
    "two-buttons-together": (
        ("within: 120 ms", "within: 20 ms"),
        ("press: up to 400 ms}\n  on tap", "press: up to 400 ms, acts at: press}\n  on tap"),
    ),
    "two-step-switch-on": (
        ("{hold then click: lamp}", "{hold then click: siren}"),
        ("{held: 1 s, then taps: 1, press: up to 400 ms, between: up to 420 ms}", "{held: 1 s}"),
        ("between: up to 420 ms", "between: up to 520 ms"),
    ),
    "waking-only-shows": (("transitions: {tap: showing}", "transitions: {tap: opening}"),),
    "wiped-by-a-shown-sequence": (
        ("transitions: {hold: asking}", "transitions: {hold: wiped}"),
        (
            "shows: three red dots\n    transitions: {three taps: wiped, after 8 s with key open: ready}\n"
            "  wiped:\n    shows: one long blink",
            "shows: one long blink\n    transitions: {three taps: wiped, after 8 s with key open: ready}\n"
            "  wiped:\n    shows: three red dots",
        ),
        ("after 8 s with key open", "after 20 s with key open"),
    ),
    "wiped-by-many-taps": (
        ("{taps: 7, press: up to 500 ms, between: up to 400 ms}", "{taps: 1, press: up to 500 ms}"),
        ("between: up to 400 ms", "between: up to 700 ms"),
    ),
    "wiped-by-two-buttons": (("{together: [left, right], within: 150 ms, held: 3 s}", "{on: left, held: 3 s}"),),
    "wiped-from-anywhere": (("transitions: {tap: asleep, after", "transitions: {tap: asleep, wipe: asleep, after"),),
}
"""By file: changes (old text, new text) that go against the wish, each by itself; in the suite, one of each second file."""

CHANGES = [(name, number) for name in each(2, [*CONTRARY]) for number in range(amount(1, len(CONTRARY[name])))]


def read(name: str) -> str:
    return (FOLDER / f"{name}.yaml").read_text(encoding="utf-8")


def test_every_wish_has_a_change_that_goes_against_it() -> None:
    assert {path.stem for path in FOLDER.iterdir()} == CONTRARY.keys()
    assert list(CONTRARY) == sorted(CONTRARY)
    assert all(CONTRARY.values())


@pytest.mark.parametrize("name", each(3, [*CONTRARY]))
def test_a_spec_can_say_the_wish_and_all_that_is_asked_holds(name: str) -> None:
    report = check(read_device(read(name), f"{name}.yaml"))
    assert {finding.verdict for finding in report.findings} == {Verdict.HOLDS}
    assert "promise" in {finding.hazard for finding in report.findings}
    assert all(case.needed for case in report.accepted)


@pytest.mark.parametrize(("name", "number"), CHANGES, ids=str)
def test_a_promise_breaks_where_the_wish_is_not_met(name: str, number: int) -> None:
    comment, version, text = read(name).partition("spec: 1")
    old, new = CONTRARY[name][number]
    assert text.count(old) == 1
    changed = comment + version + text.replace(old, new)
    again = ask_again(read_device(changed, f"{name}.yaml"), BUDGETS["usual"], hazards=frozenset(["promise"]))
    assert again is not None
    assert Verdict.BROKEN in {finding.verdict for finding in again.findings.values()}


@pytest.mark.parametrize("name", CONTRARY)
def test_the_comment_on_top_says_the_wish_and_how(name: str) -> None:
    lines = read(name).splitlines()
    assert lines[0].startswith("# Wish: ")
    assert sum(line.startswith("# How: ") for line in lines) == 1
    assert max(map(len, lines)) <= 130


def test_each_wish_is_about_a_device_of_its_own() -> None:
    devices = [read_device(read(name), f"{name}.yaml").name for name in CONTRARY]
    assert len(set(devices)) == len(devices)
