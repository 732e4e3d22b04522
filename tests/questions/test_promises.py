"""Promises: the sentence parses, prints, and parses back to itself; a bad one has one clear message."""

import pytest

from nudgeproof.check import check
from nudgeproof.diagnostics import SpecErrors
from nudgeproof.questions.ask import Question
from nudgeproof.questions.grammar import parse, read_promises
from nudgeproof.questions.promises import Reaches, questions
from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import Device
from tests.snapshots.screens import ROOT

GOOD = (ROOT / "specs/rain-cover-light.yaml").read_text(encoding="utf-8")
SENTENCES = [
    "knocks never reach glowing",
    "bag squeeze never reaches glowing",
    "knocks and bag squeeze never reach glowing",
    "knocks and bag squeeze, together, never reach glowing",
    "person never reaches glowing with beam slow blink",
    "anything never reaches armed",
    "damaged memory never reaches glowing",
    "blank memory and knocks, together, never reach glowing",
    "knocks never reach glowing, while someone uses it",
    "knocks and bag squeeze, together, never reach stowed, while someone uses it",
    "bag squeeze never changes state or beam",
    "knocks never change beam, while someone uses it",
    "from glowing, tap then hold reaches stowed within 3.5 s",
    "from stowed, hold, two taps reaches glowing",
    "from stowed with beam high, hold, two taps reaches glowing with beam high within 9 s",
    "from glowing with beam slow blink, tap reaches glowing with beam low",
    "from glowing, tap takes beam from low to high to slow blink to low",
    "from glowing, tap takes beam from low to high within 2 s",
    "from glowing with beam low, tap stays in glowing with beam high for 2 s",
    "left alone, glowing with beam high reaches stowed with beam high within 5 h",
    "from glowing, tap answers within 600 ms",
    "from stowed, hold, two taps answers within 1 s",
    "left alone, glowing reaches stowed within 5 h",
    "glowing always shows beam",
    "glowing with beam high always shows beam",
]


def device(*promises: str) -> Device:
    text = GOOD[: GOOD.index("promises:")] + "promises:\n" + "".join(f"  - {promise}\n" for promise in promises)
    return read_device(text, "light.yaml")


@pytest.mark.parametrize("sentence", SENTENCES)
def test_a_sentence_parses_back_to_itself(sentence: str) -> None:
    whole = device(sentence)
    (promise,) = read_promises(whole)
    assert str(promise) == sentence
    assert parse(whole, str(promise), promise.at) == promise


def test_keys_say_the_same_as_a_sentence() -> None:
    (again,) = read_promises(device("{from: stowed, gestures: [hold, two taps], reaches: glowing, within: 9 s}"))
    assert str(again) == "from stowed, hold, two taps reaches glowing within 9 s"
    (kept,) = read_promises(device("{by: knocks, never changes: [state, beam], in use: yes}"))
    assert str(kept) == "knocks never change state or beam, while someone uses it"
    (again,) = read_promises(
        device("{from: glowing, gestures: tap, takes: beam, through: [low, high, low], within: 9 s}")
    )
    assert str(again) == "from glowing, tap takes beam from low to high to low within 9 s"
    (again,) = read_promises(device("{from: glowing with beam low, gestures: tap, reaches: glowing with beam high}"))
    assert str(again) == "from glowing with beam low, tap reaches glowing with beam high"
    (again,) = read_promises(device("{from: glowing, gestures: tap, stays in: glowing, for: 2 s}"))
    assert str(again) == "from glowing, tap stays in glowing for 2 s"
    (answers,) = read_promises(device("{from: glowing, gestures: tap, answers within: 400 ms}"))
    assert str(answers) == "from glowing, tap answers within 400 ms"
    (settles,) = read_promises(device("{left alone: glowing, reaches: stowed, within: 5 h}"))
    assert str(settles) == "left alone, glowing reaches stowed within 5 h"
    (shows,) = read_promises(device("{in: glowing, with: beam low, always shows: beam}"))
    assert str(shows) == "glowing with beam low always shows beam"
    keys = "{by: [knocks, bag squeeze], together: yes, never reaches: glowing, with: beam high}"
    (promise,) = read_promises(device(keys))
    assert str(promise) == "knocks and bag squeeze, together, never reach glowing with beam high"


@pytest.mark.parametrize(
    ("sentence", "expected"),
    [
        ("knock never reaches glowing", "there is no source of presses `knock`; "),
        ("knock never reaches glowing", "did you mean `knocks`?"),
        ("knocks never reach glowin", "did you mean `glowing`?"),
        ("knocks never reach glowing with beam hihg", "did you mean `high`?"),
        ("knocks never reach glowing with colour red", "there is no variable and value `colour red`"),
        ("knocks never reach stowed", "the device starts in stowed"),
        ("knocks always reach glowing", "`knocks always reach glowing` is not a promise"),
        ("glowing always shows bean", "did you mean `beam`?"),
        ("glow always shows beam", "did you mean `glowing`?"),
        ("left alone, glowing reaches stowed", "the promise has no `within`"),
        ("left alone, stowed reaches stowed within 3 s", "the device is in stowed already"),
        ("left alone, glow reaches stowed within 3 s", "did you mean `glowing`?"),
        ("from glowing, hold answers within 2 s", "hold does nothing in glowing"),
        ("from stowed, hold, tap answers within 2 s", "tap does nothing in armed"),
        ("from glowing, tap answers within", "is not a promise"),
        ("{left alone: glowing, reaches: stowed}", "these keys don't make a promise"),
        ("knocks never change colour", "there is no variable `colour`"),
        ("from glowing with beam hihg, tap reaches stowed", "did you mean `high`?"),
        ("from glowing, tap reaches glowing with colour red", "there is no variable and value `colour red`"),
        ("from glowing, tap takes bean from low to high", "did you mean `beam`?"),
        ("from glowing, tap takes beam from low to hihg", "did you mean `high`?"),
        ("from glowing, tap takes beam from low", "a step has a value before and one after it"),
        ("from glowing, footfall takes beam from low to high", "there is no gesture `footfall`"),
        ("from glowing, tap stays in glowing", "the promise has no `for`"),
        ("from glowing, tap stays in glow for 3 s", "did you mean `glowing`?"),
        ("from glowing, tap stays in glowing for ever", "`ever` is not a time"),
        ("left alone, glowing with beam low reaches glowing with beam low within 3 s", "already"),
        ("left alone, glowing with beam low reaches glowing within 3 s", "the device is in glowing already"),
        ("{from: glowing, gestures: tap, takes: beam}", "these keys don't make a promise"),
        ("from glow, tap reaches stowed", "did you mean `glowing`?"),
        ("from glowing, tip reaches stowed", "did you mean `tap`?"),
        ("from glowing, tap then hold reaches stowd", "did you mean `stowed`?"),
        ("from glowing, tap then hold reaches stowed within 3 to 4 s", "isn't one limit"),
        ("from glowing, tap then hold reaches stowed within soon", "`soon` is not a time"),
        ("from armed, two taps reaches glowing", "`armed` is a waiting state"),
        ("{from: glowing, gestures: tap, never reaches: stowed}", "these keys don't make a promise"),
        ("knocks and knocks never reach glowing", "names a source twice"),
        ("anything and knocks never reach glowing", "`anything` covers every other source"),
        ("never reach glowing", "is not a promise"),
        ("damaged memory never changes beam", "nothing was kept that could change"),
        ("damaged memory never reaches glowing, while someone uses it", "after a use there is no such start"),
        ("blank memory and damaged memory, together, never reach glowing", "blank and damaged exclude each other"),
        ("{by: knocks}", "these keys don't make a promise"),
        ("{by: knocks, never reach: glowing}", "did you mean `never reaches`?"),
        ("{by: knocks, never reaches: [glowing, armed]}", "takes one value, not a list"),
        ("{by: knocks, together: perhaps, never reaches: glowing}", "is neither yes nor no"),
    ],
)
def test_a_bad_promise_has_a_clear_message(sentence: str, expected: str) -> None:
    with pytest.raises(SpecErrors) as error:
        read_promises(device(sentence))
    (problem,) = error.value.problems
    assert expected in str(problem)
    assert problem.place.line == GOOD[: GOOD.index("promises:")].count("\n") + 2


def test_all_bad_promises_are_told_at_once() -> None:
    with pytest.raises(SpecErrors) as error:
        read_promises(device("knock never reaches glowing", "knocks never reach glow"))
    assert len(error.value.problems) == 2


GROUPED = GOOD.replace("""  glowing:
    shows: beam
    transitions: {tap: {next: beam}, tap then hold: stowed, after 4 h: stowed}
""", """  lit:
    states: {glowing: {transitions: {tap: {next: beam}}}, blinking: {transitions: {tap: glowing}}}
    shows: beam
    transitions: {two taps: blinking, tap then hold: stowed, after 4 h: stowed}
""")  # fmt: skip


def grouped(*promises: str) -> Device:
    text = GROUPED[: GROUPED.index("promises:")] + "promises:\n" + "".join(f"  - {promise}\n" for promise in promises)
    return read_device(text, "light.yaml")


@pytest.mark.parametrize(
    "sentence",
    [
        "knocks never reach lit",
        "knocks never reach lit with beam high, while someone uses it",
        "from lit, tap then hold reaches stowed within 3.5 s",
        "from stowed, hold, two taps reaches lit",
        "knocks never reach blinking",
    ],
)
def test_a_promise_may_name_a_group(sentence: str) -> None:
    whole = grouped(sentence)
    (promise,) = read_promises(whole)
    assert str(promise) == sentence
    assert parse(whole, str(promise), promise.at) == promise


def test_from_a_group_is_from_each_of_its_states() -> None:
    whole = grouped("from lit, tap then hold reaches stowed")
    (promise,) = read_promises(whole)
    assert isinstance(promise, Reaches)
    assert [act.state for act in promise.acts] == ["glowing", "blinking"]
    (question,) = questions(whole, (promise,))
    assert isinstance(question, Question)
    assert question.environment.acts == promise.acts


def verdicts(text: str, *promises: str) -> list[str]:
    """Of a small device, what `check` says of each of its promises."""
    text = text[: text.index("promises:")].replace("bounce: up to 8 ms", "bounce: up to 0 ms")
    whole = read_device(text + "promises:\n" + "".join(f"  - {promise}\n" for promise in promises), "light.yaml")
    return [finding.verdict.name for finding in check(whole, "usual", only=["promise"]).findings]


def test_promises_about_values_hold_or_break_by_what_a_gesture_does_to_them() -> None:
    steps = (
        "from glowing, tap takes beam from low to high to slow blink to low",
        "from glowing with beam slow blink, tap reaches glowing with beam low",
        "from stowed with beam high, hold, two taps reaches glowing with beam high",
        "from glowing with beam high, tap then hold reaches stowed with beam high within 3.5 s",
    )
    assert verdicts(GOOD, *steps) == ["HOLDS"] * 4
    forgets = GOOD.replace("shows: beam", "shows: beam\n    on entering: {set: {beam: low}}")
    assert verdicts(forgets, *steps) == ["HOLDS", "HOLDS", "BROKEN", "HOLDS"]
    backward = GOOD.replace("next: beam", "previous: beam")
    assert verdicts(backward, *steps) == ["BROKEN", "BROKEN", "HOLDS", "HOLDS"]
    stays = GOOD.replace("tap: {next: beam}, ", "")
    assert verdicts(stays, *steps[:2]) == ["BROKEN", "VACUOUS"]
    sets_off = GOOD.replace("tap then hold: stowed", "tap then hold: {to: stowed, set: {beam: low}}")
    assert verdicts(sets_off, *steps) == ["HOLDS", "HOLDS", "HOLDS", "BROKEN"]


@pytest.mark.parametrize(("lasting", "restarts", "verdict"), [
    ("3 s", "true", "HOLDS"), ("3000001 us", "true", "BROKEN"), ("3 s", "false", "BROKEN"), ("1 us", "false", "BROKEN"),
])  # fmt: skip
def test_a_gesture_may_be_promised_to_keep_the_device_on(lasting: str, restarts: str, verdict: str) -> None:
    """Its time is exact here: with the tap it begins anew, or else the tap may come just before its end."""
    text = GOOD.replace("tap: {next: beam}", f"tap: {{next: beam, restarts: {restarts}}}")
    text = text.replace("after 4 h: stowed", "after 3 s: stowed").replace("off by: 5 %", "off by: 0 %")
    assert verdicts(text, f"from glowing, tap stays in glowing for {lasting}") == [verdict]


def test_a_time_that_leads_there_before_the_gesture_is_seen_is_excused() -> None:
    """The time of lit runs out under the finger, and the tap is then seen in dark and brings the device back on."""
    text = GOOD.replace("{hold: armed}", "{hold: armed, tap: glowing}").replace(
        "after 4 h: stowed", "after 3 s: stowed"
    )
    off = text.replace("{tap: {next: beam}, tap", "{tap: stowed, tap")
    assert verdicts(off, "from glowing, tap stays in stowed for 2 s") == ["HOLDS"]
    dims = off.replace("{tap: stowed, tap", "{tap: dim, tap")
    back = dims.replace("states:\n", "states:\n  dim: {transitions: {after 1 s: glowing}}\n", 1)
    assert verdicts(back, "from glowing, tap stays in dim for 2 s") == ["BROKEN"]


HASTY = """\
spec: 1
device: note holder
buttons: {key: {bounce: up to 6 ms, debounce: 10 ms}}
gestures:
  tap: {taps: 1, press: up to 400 ms}
  two taps: {taps: 2, press: up to 400 ms, between: up to 50 ms}
variables: {page: [first, second]}
initial: idle
states:
  idle: {transitions: {tap: TAP, two taps: open}}
  blink: {transitions: {after 30 ms: idle}}
  open: {transitions: {tap: idle}}
person: {tap: 60 to 300 ms, between: 20 to 250 ms}
promises:
"""
"""Its two taps are seen only if they come quickly; else each is seen as a tap."""


@pytest.mark.parametrize("tap", ["{next: page}", "blink", "{to: blink, next: page}"])
def test_what_another_gesture_did_is_not_excused_as_the_work_of_time(tap: str) -> None:
    """The tap changes what the act began with, or leads to a state whose time then runs out."""
    promises = ("from idle, two taps reaches open", "from idle with page first, two taps reaches open")
    assert verdicts(HASTY.replace("TAP", tap), *promises) == ["BROKEN", "BROKEN"]
    patient = HASTY.replace("up to 50 ms", "up to 300 ms")
    assert verdicts(patient.replace("TAP", tap), *promises) == ["HOLDS", "HOLDS"]


def test_what_only_a_time_brings_about_once_all_is_at_rest_is_not_the_work_of_the_gesture() -> None:
    blink = HASTY.replace("TAP", "{to: blink, next: page}").replace("between: 20 to 250 ms", "between: 400 to 500 ms")
    promises = (
        "from idle, tap reaches blink",
        "from idle, tap reaches idle",
        "left alone, blink reaches idle within 30 ms",
    )
    assert verdicts(blink, *promises) == ["HOLDS", "BROKEN", "HOLDS"]


def test_what_must_stay_may_not_be_left_by_a_value_either() -> None:
    good = GOOD.replace("tap: {next: beam}", "tap: {next: beam, restarts: true}")
    back = GOOD.replace("after 4 h: stowed", "every 1 s: {set: {beam: low}}")
    stays = GOOD.replace("after 4 h: stowed", "every 1 s: {set: {beam: high}}")
    promise = "from glowing with beam low, tap stays in glowing with beam high for 500 ms"
    assert verdicts(back, promise) == ["BROKEN"]
    assert verdicts(stays, promise) == ["HOLDS"]
    assert verdicts(good, promise, promise.replace("500 ms", "4 h")) == ["HOLDS", "BROKEN"]
    assert verdicts(GOOD, promise) == ["BROKEN"]


def test_a_gesture_that_is_promised_to_change_nothing_must_not() -> None:
    promise = "from glowing with beam high, two taps reaches glowing with beam high"
    nothing = GOOD.replace("tap: {next: beam}, ", "tap: {next: beam}, two taps: {set: {beam: high}}, ")
    assert verdicts(nothing, promise) == ["HOLDS"]
    assert verdicts(nothing.replace("{beam: high}", "{beam: low}"), promise) == ["BROKEN"]
    assert verdicts(GOOD, promise) == ["BROKEN"]


@pytest.mark.parametrize("guard", ["none", "checksum", "two copies"])
def test_a_start_with_blank_or_damaged_memory_may_be_promised_to_keep_off(guard: str) -> None:
    promises = (
        "blank memory and damaged memory never reach glowing",
        "blank memory and knocks, together, never reach glowing",
        "damaged memory and person, together, never reach glowing",
    )
    text = GOOD.replace("guard: two copies", f"guard: {guard}")
    assert verdicts(text, *promises) == ["HOLDS", "BROKEN" if guard == "none" else "HOLDS", "HOLDS", "BROKEN"]
    blank = text.replace("if blank: stowed", "if blank: glowing")
    assert verdicts(blank, *promises[:2])[::2] == ["BROKEN", "BROKEN"]
    damaged = text.replace("if damaged: stowed", "if damaged: glowing")
    assert verdicts(damaged, promises[0])[1] == "BROKEN"


def test_a_start_needs_to_be_described() -> None:
    bare = GOOD[: GOOD.index("memory:")] + GOOD[GOOD.index("person:") : GOOD.index("  cell rattle")] + "promises:\n"
    for what, cure in (("", "add `power up`"), ("power up: {takes: 1 ms, if blank: stowed}\n", "add such as `supply:")):
        text = bare.replace("person:", f"{what}person:") + "  - blank memory never reaches glowing\n"
        with pytest.raises(SpecErrors) as error:
            read_promises(read_device(text, "light.yaml"))
        assert cure in str(error.value)


COUNTER = """\
spec: 1
device: counter
buttons: {key: {bounce: up to 0 ms, debounce: 10 ms}}
gestures: {tap: {taps: 1, press: up to 500 ms}}
variables: {counted: {values: 0 to 2, at the ends: wrap}}
events: {footfall: {}}
initial: asleep
states:
  asleep:
    sleep: {woken by: [key, footfall], on: edge, ready in: 2 ms, dozes again after: 50 ms}
    transitions: {tap: awake, footfall: {next: counted}}
  awake:
    transitions:
      tap: asleep
      footfall: {next: counted}
      every 1 s: [{if: counted is not 0, previous: counted}]
person: {tap: 60 to 400 ms, between: 100 to 400 ms}
surroundings:
  walkers: {makes: footfall, then none for at least: 300 ms, meant: true}
promises:
"""

WEAK = """\
spec: 1
device: gauge
buttons: {key: {bounce: up to 0 ms, debounce: 10 ms}}
gestures: {tap: {taps: 1, press: up to 500 ms}}
variables: {warning: [none, low]}
cell: {low below: 2.4 V, fine above: 2.6 V, read every: 1 s}
initial: awake
states:
  awake:
    transitions:
      after 3 s: asleep
      cell low: {set: {warning: low}}
      cell fine: {set: {warning: none}}
  asleep:
    sleep: {woken by: [key], on: edge, ready in: 2 ms, dozes again after: 50 ms}
    transitions: {tap: awake}
person: {tap: 60 to 400 ms, between: 100 to 400 ms}
surroundings:
  weak cell: {cell: sags and recovers, then steady at least: 2 s}
promises:
"""


def test_events_and_times_may_be_promised_to_take_values_on() -> None:
    promises = (
        "from asleep, footfall takes counted from 0 to 1 to 2 to 0 within 5 ms",
        "from awake, footfall, tap reaches asleep",
        "left alone, awake with counted 2 reaches awake with counted 1 within 1 s",
    )
    assert verdicts(COUNTER, *promises) == ["HOLDS"] * 3
    assert verdicts(COUNTER.replace("[key, footfall], on", "[key], on"), *promises) == ["BROKEN", "HOLDS", "HOLDS"]
    assert verdicts(COUNTER.replace("ready in: 2 ms", "ready in: 6 ms"), *promises) == ["BROKEN", "HOLDS", "HOLDS"]
    assert verdicts(COUNTER.replace("every 1 s", "every 1.5 s"), *promises) == ["HOLDS", "HOLDS", "BROKEN"]
    up = COUNTER.replace("[{if: counted is not 0, previous: counted}]", "{next: counted}")
    assert verdicts(up, *promises[1:]) == ["HOLDS", "BROKEN"]


def test_what_the_firmware_reads_of_the_cell_may_be_promised_to_take_values_on() -> None:
    promises = (
        "from awake, cell low takes warning from none to low",
        "from awake, cell fine takes warning from low to none",
        "left alone, awake with warning low reaches asleep with warning low within 3 s",
    )
    assert verdicts(WEAK, *promises) == ["HOLDS"] * 3
    ignored = WEAK.replace("cell low: {set: {warning: low}}", "cell low: {set: {warning: none}}")
    assert verdicts(ignored, *promises) == ["BROKEN", "VACUOUS", "VACUOUS"]
    forgets = WEAK.replace("after 3 s: asleep", "after 3 s: {to: asleep, set: {warning: none}}")
    assert verdicts(forgets, *promises) == ["HOLDS", "HOLDS", "BROKEN"]


def test_a_device_that_starts_in_a_group_can_not_be_promised_never_to_reach_it() -> None:
    text = GROUPED.replace("initial: stowed", "initial: lit").replace(
        "knocks never reach glowing", "knocks never reach lit"
    )
    with pytest.raises(SpecErrors) as error:
        read_promises(read_device(text, "light.yaml"))
    assert "the device starts in lit" in str(error.value)
    with pytest.raises(SpecErrors) as error:
        read_promises(grouped("from lid, tap reaches stowed"))
    assert "did you mean `lit`?" in str(error.value)


def test_promises_about_a_group_hold_or_break_by_whether_any_of_its_states_is_reached() -> None:
    text = (
        GROUPED[: GROUPED.index("promises:")]
        + """promises:
  - knocks never reach lit
  - from lit, tap then hold reaches stowed
  - from stowed, hold, two taps reaches lit
"""
    )
    short = text.replace("{hold: armed}", "{hold: armed, tap: blinking}")
    for spec, expected in ((text, ["HOLDS"] * 3), (short, ["BROKEN", "HOLDS", "HOLDS"])):
        small = spec.replace("bounce: up to 8 ms", "bounce: up to 0 ms")
        found = check(read_device(small, "light.yaml"), "usual", only=["promise"]).findings
        assert [finding.verdict.name for finding in found] == expected
