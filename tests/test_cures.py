"""A cure is offered only if it was tried; what is printed can be written into the spec, and then the failure is gone."""

import json
import re
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import pytest
import yaml

from nudgeproof import cures
from nudgeproof.again import change
from nudgeproof.check import check
from nudgeproof.hazards import HAZARDS
from nudgeproof.remedies import Remedy, may_change, propose
from nudgeproof.spec.edit import Edit, Places, apply
from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import Device
from nudgeproof.structure import _new_gestures
from nudgeproof.verdict import Finding, Report, Verdict
from tests.amount import amount, each
from tests.snapshots.screens import ROOT, run

BROKEN = each(4, sorted(hazard.NAME for hazard in HAZARDS))
"""One after the other (`scope="module"`), so that a worker has what was found of it."""
EFFORT = 200_000


def text_of(name: str) -> str:
    return (ROOT / "specs" / "failures" / name / "broken.yaml").read_text(encoding="utf-8")


def device_of(name: str) -> Device:
    return read_device(text_of(name), f"{name}.yaml")


@cache
def checked(name: str) -> Report:
    return check(device_of(name))


@cache
def cured(name: str) -> Report:
    return cures.find_all(device_of(name), checked(name), 4 * EFFORT, EFFORT)


def main_failure(name: str) -> Finding:
    broken = (finding for finding in cured(name).findings if finding.verdict is Verdict.BROKEN)
    return next(finding for finding in broken if finding.hazard == name)


WANTED = {
    "accidental-change": ("line 5: pad: {debounce: 45 ms} instead of 20 ms", "tap: {press: up to 50 ms}"),
    "accidental-off": ("line 15: lit: {transitions: {hold: stowed}} instead of tap", "pad: {debounce: 70 ms}"),
    "accidental-wake": ("line 13: stowed: {transitions: {two taps: lit}} instead of hold", "hold: {held: 5 s}"),
    "ambiguous-gesture": ("", ""),
    "held-at-power-up": (
        "line 16: power up: {button held: ignored until released} instead of counts as a press",
        "",
    ),
    "output-in-reset": ("line 17: pump: {in reset: off} instead of floating", "supply: {hold-up: 40 ms}"),
    "boot-loop": ("line 19: add brown-out: {starts in: dark}", "power up: {if blank: dark}"),
    "chatter-off": ("line 17: cell: {fine above: 2.85 V} instead of 2.5 V", "cell: {fine above: 2.8 V}"),
    "drained-by-presses": (
        "line 12: stowed: {sleep: {dozes again after: 200 ms}} instead of 1 s",
        "stowed: {sleep: {dozes again after: 500 ms}}",
    ),
    "indistinct-outage": ("", ""),
    "over-limit": ("line 17: lamp: {resistor: 68 ohm ± 5 %} instead of 47 ohm ± 5 %", "lamp: {resistor: 56 ohm"),
    "short-hold-up": ("line 14: capacitor: {size: 18 uF ± 20 %} instead of 10 uF ± 20 %", "brown-out: {level: 1.4 to"),
    "undefined-voltage": (
        "line 17: brown-out: {level: 1.85 to 2.05 V} instead of 1.7 to 1.9 V",
        "brown-out: {level: 1.55 to 1.75 V}",
    ),
    "unlit-output": ("", ""),
    "worn-memory": ("", ""),
    "late-answer": ("", "line 8: two taps: {between: up to 180 ms} instead of up to 400 ms"),
    "misread-gesture": ("line 8: two taps: {between: up to 350 ms} instead of up to 150 ms", "soft: {transitions:"),
    "never-settles": (
        "line 18: showing: {transitions: {after 10 s: resting}} instead of measuring",
        "measuring: {transitions: {after 2 s: resting}}",
    ),
    "restarted-timer": ("line 20: supply: {hold-up: 45 ms} instead of 5 ms", "supply: {hold-up: 40 ms}"),
    "stale-memory": ("line 19: memory: {old layout: recognised} instead of read as it is", ""),
    "stuck-button": ("line 11: add stowed: {sleep: {ignores a held button after: 1 min}}", ""),
    "lost-state": ("line 18: memory: {written: at once} instead of after 2 s of quiet", "supply: {hold-up: 40 ms}"),
    "missed-gesture": ("line 5: knob: {debounce: 40 ms ± 10 ms} instead of 80 ms ± 20 ms", "knob: {debounce: 45 ms"),
    "no-way-off": ("line 18: add lit: {transitions: {after 10 min: stowed}}", ""),
    "torn-memory": ("line 20: memory: {guard: two copies} instead of none", "supply: {hold-up: "),
    "unreachable-mode": ("line 8: two taps: {between: up to 300 ms} instead of up to 150 ms", ""),
}
"""The first cure, and a part of what is no cure; "" where there is none.

Some have none within the spec: taps and holds of a person that overlap, pauses longer than the answer that is promised, and
what only other parts cure.
"""


@pytest.mark.parametrize("name", BROKEN, scope="module")
def test_each_failure_has_a_cure_that_was_tried(name: str) -> None:
    found = main_failure(name).cures
    assert found is not None
    assert len(found.found) <= 2
    first, wrong = WANTED[name]
    assert ["; ".join(map(str, cure.edits)) for cure in found.found[:1]] == ([first] if first else [])
    if wrong:
        assert found.wrong is not None
        assert wrong in "; ".join(map(str, found.wrong.edits))
    else:
        assert found.wrong is None


@pytest.mark.parametrize("name", BROKEN, scope="module")
def test_what_is_printed_can_be_written_into_the_spec_and_cures(name: str) -> None:
    before = checked(name)
    for finding in cured(name).findings:
        for cure in finding.cures.found if finding.cures is not None else ():
            by_hand = written(text_of(name), [str(edit) for edit in cure.edits])
            in_text = apply(Places(device_of(name).lines).text, cure.edits)
            # What is the same tree is the same device; it needs no second check.
            same = yaml.load(by_hand, Loader=yaml.BaseLoader) == yaml.load(in_text, Loader=yaml.BaseLoader)
            for text in (in_text,) if same else (by_hand, in_text):
                after = {(f.hazard, f.subject): f.verdict for f in check(read_device(text, "mended.yaml")).findings}
                assert after[finding.hazard, finding.subject] is Verdict.HOLDS
                held = {(f.hazard, f.subject) for f in before.findings if f.verdict is Verdict.HOLDS}
                assert {after[key] for key in held & after.keys()} <= {Verdict.HOLDS}
                swapped = {edit.was_key for edit in cure.edits} - {""}
                gone = held - after.keys()
                assert all(any(gesture in subject for gesture in swapped) for _, subject in gone)
                assert cure.questions == len(after)


def written(text: str, printed: list[str]) -> str:
    """The spec with changes as a reader of the screen would make them, knowing nothing of offsets."""
    spec = yaml.load(text, Loader=yaml.BaseLoader)
    for told in printed:
        match = re.fullmatch(r"line (\d+): (add )?(.+?)(?: instead of (.+))?", told)
        assert match is not None
        new = yaml.load(match[3], Loader=yaml.BaseLoader)
        above = [line for line in text.splitlines()[: int(match[1])] if re.match(r"[a-z]", line)]
        section = above[-1].split(":")[0]
        whole = spec if next(iter(new)) == section else spec[section]
        merge(whole, new, (match[4] or "") if not match[2] else "")
    return yaml.safe_dump(spec, sort_keys=False, allow_unicode=True)


def merge(there: dict[str, Any], new: dict[str, Any], old_key: str) -> None:
    for key, value in new.items():
        if isinstance(there.get(key), dict) and isinstance(value, dict):
            merge(there[key], value, old_key)
        else:
            if key not in there and old_key in there:
                del there[old_key]
            there[key] = value


@pytest.mark.parametrize("name", BROKEN, scope="module")
def test_nothing_proposed_expects_or_promises_less(name: str) -> None:
    device = device_of(name)
    for finding in checked(name).findings:
        for remedy in propose(device, finding) if finding.verdict is Verdict.BROKEN else ():
            changed = change(device, remedy.edits)
            if changed is None:
                continue
            assert may_lose(changed) == may_lose(device) or remedy.lessens
            assert told(changed) == told(device)


def may_lose(device: Device) -> int:
    return 0 if device.memory is None else device.memory.may_lose_us


def told(device: Device) -> tuple[object, ...]:
    """All that describes people, surroundings, hardware and what is promised; places move when a line is added."""
    text = "\n".join(device.lines)
    return (
        [re.sub(r"at=Place\([^)]*\)", "", str(part)) for part in (device.person, device.surroundings, device.promises)],
        [(button.name, button.bounce_us, button.edges_apart_us) for button in device.buttons],
        device.accepts,
        re.findall(r"(?:off by|write takes|ready in|each step|takes): [^,}\n]*", text),
        [value for variable in device.variables for value in variable.values],
    )


def test_promising_less_is_shown_as_no_cure_and_never_offered(monkeypatch: pytest.MonkeyPatch) -> None:
    device = device_of("lost-state")

    def only_less(device: Device, finding: Finding) -> tuple[Remedy, ...]:
        return tuple(remedy for remedy in propose(device, finding) if remedy.lessens)

    monkeypatch.setattr(cures, "propose", only_less)
    report = cures.find_all(device, checked("lost-state"), 4 * EFFORT, EFFORT)
    lost = next(finding for finding in report.findings if finding.hazard == "lost-state")
    assert lost.cures is not None
    assert lost.cures.found == ()
    assert lost.cures.wrong is not None
    assert "may lose: the last" in str(lost.cures.wrong.edits[0])
    assert lost.cures.wrong.why == "the failure is as before, only less is promised"


def test_a_change_outside_the_tables_is_never_offered_even_if_it_cures(monkeypatch: pytest.MonkeyPatch) -> None:
    device = device_of("accidental-off")
    places = Places(device.lines)
    spot = places.get("surroundings", "bumps", "closes pad")
    assert spot is not None
    remedy = Remedy((places.put(spot, "2 to 5 ms"),), 1)
    monkeypatch.setattr(cures, "propose", lambda device, finding: (remedy,))
    report = cures.find_all(device, checked("accidental-off"), 4 * EFFORT, EFFORT)
    found = next(finding.cures for finding in report.findings if finding.verdict is Verdict.BROKEN)
    assert found is not None
    assert (found.found, found.tried) == ((), 1)


def test_what_the_effort_does_not_decide_is_not_offered() -> None:
    device = device_of("accidental-off")
    report = cures.find_all(device, checked("accidental-off"), 3, 20)
    found = next(finding.cures for finding in report.findings if finding.verdict is Verdict.BROKEN)
    assert found is not None
    assert found.found == ()
    assert found.undecided
    assert found.untried


def test_a_cure_that_costs_a_gesture_is_no_cure() -> None:
    found = main_failure("accidental-off").cures
    assert found is not None
    assert found.wrong is not None
    assert found.wrong.why == "tap in lit, done as the person does it, can be missed"


NO_CURE = {
    "boot-loop": "line 16: add power up: {if blank: dark}",
    "over-limit": "line 17: lamp: {resistor: 56 ohm ± 5 %} instead of 47 ohm ± 5 %",
}


@pytest.mark.parametrize(
    "name", ["boot-loop", "chatter-off", "drained-by-presses", "over-limit", "short-hold-up", "undefined-voltage"]
)
def test_of_weak_cells_preferred_values_and_shifted_levels_are_tried_until_they_do(name: str) -> None:
    """Of some the first cure is the only one; and what is no cure, as a whole."""
    found = main_failure(name).cures
    assert found is not None
    offered = [str(edit) for cure in found.found for edit in cure.edits]
    assert offered[0] == WANTED[name][0]
    assert offered[1:] == [] or name in ("boot-loop", "drained-by-presses", "short-hold-up")
    assert found.wrong is not None
    if name in NO_CURE:
        assert str(found.wrong.edits[0]) == NO_CURE[name]


def test_a_report_on_one_hazard_gets_the_same_cures() -> None:
    device = device_of("torn-memory")
    report = cures.find_all(device, check(device, only=["torn-memory"]), 4 * EFFORT, EFFORT)
    alone = next(finding.cures for finding in report.findings if finding.hazard == "torn-memory")
    whole = main_failure("torn-memory").cures
    assert alone is not None
    assert whole is not None
    assert alone.found == whole.found


def test_a_report_without_a_failure_is_left_as_it_is() -> None:
    path = ROOT / "specs" / "failures" / "accidental-off" / "mended.yaml"
    device = read_device(path.read_text(encoding="utf-8"), "mended.yaml")
    report = check(device)
    assert cures.find_all(device, report, EFFORT, EFFORT) is report


def test_a_second_step_before_the_device_is_on_is_offered_too() -> None:
    found = main_failure("accidental-wake").cures
    assert found is not None
    assert [str(edit) for edit in found.found[1].edits] == [
        "line 13: stowed: {transitions: {hold: confirming}} instead of lit",
        "line 15: add confirming: {waiting: true, transitions: {two taps: lit, after 1 s with pad open: stowed}}",
    ]


def test_screen_and_json_tell_the_same_cures(tmp_path: Path) -> None:
    target = tmp_path / "findings.json"
    code, out, _ = run("check", "--cures", "--json", str(target), "specs/failures/accidental-off/broken.yaml")
    assert code == 1
    assert "  cure      line 15: lit: {transitions: {hold: stowed}} instead of tap\n" in out
    assert "  no cure   line 5: pad: {debounce: 70 ms} instead of 20 ms\n" in out
    assert "usually" not in out
    (finding,) = (
        f for f in json.loads(target.read_text(encoding="utf-8"))["specs"][0]["findings"] if f["verdict"] == "broken"
    )
    first = finding["cures"][0]
    assert (first["tried"], first["questions"]) == (True, 10)
    assert first["changes"][0] == {
        "line": 15,
        "path": ["states", "lit", "transitions", "hold"],
        "old": "stowed",
        "new": "stowed",
        "old_key": "tap",
        "says": "line 15: lit: {transitions: {hold: stowed}} instead of tap",
    }
    assert finding["no_cure"]["why"].startswith("tap in lit")


def test_the_same_input_gives_the_same_bytes() -> None:
    arguments = ("check", "--cures", "--assumed", "--json", "-", "specs/failures/missed-gesture/broken.yaml")
    assert run(*arguments) == run(*arguments)


def test_without_a_cure_the_screen_says_how_many_changes_were_tried(tmp_path: Path) -> None:
    spec = tmp_path / "light.yaml"
    text = text_of("accidental-wake").replace("50 ms to 20 s, then open at least: 1 s", "1 ms to 20 s")
    spec.write_text(text, encoding="utf-8")
    code, out, _ = run("check", "--cures", str(spec))
    assert code == 1
    assert re.search(r"cure      none found; \d+ changes were tried", out)
    assert "  usually   ask for a second" in out


def test_edits_keep_the_rest_of_the_text() -> None:
    lines = ("# a", "states:", "  one:  # first", "    shows: a", "  two: {shows: b, }", "end: [x]  # last")
    places = Places(lines)
    one, two, whole = places.get("states", "one"), places.get("states", "two"), places.get()
    assert one is not None
    assert two is not None
    assert whole is not None
    edits: list[Edit] = [places.add(one, "more", "1"), places.add(two, "more", "2"), places.add(whole, "new", "3")]
    assert apply(places.text, edits).splitlines() == [
        "# a",
        "states:",
        "  one:  # first",
        "    shows: a",
        "    more: 1",
        "  two: {shows: b, more: 2 }",
        "end: [x]  # last",
        "new: 3",
    ]
    shows = places.get("states", "one", "shows")
    assert shows is not None
    assert replace(places.put(shows, "c"), start=0, end=0).old == "a"
    assert "    glows: a\n" in apply(places.text, [places.rename(shows, "glows")])


@pytest.mark.parametrize(
    ("gesture", "offered"),
    [
        ("odd: {held: 1 s}", ["tap", "two taps"]),
        ("odd: {taps: 1, press: up to 400 ms}", ["two taps", "hold"]),
        ("odd: {taps: 1, then held: 1 s, press: up to 400 ms, between: up to 260 ms}", ["tap", "two taps", "hold"]),
        ("odd: {held: 1 s, then taps: 2, press: up to 400 ms, between: up to 260 ms}", ["tap", "two taps", "hold"]),
    ],
)
def test_a_new_gesture_is_offered_unless_the_spec_has_one_of_the_same_presses(gesture: str, offered: list[str]) -> None:
    device = read_device(
        f"spec: 1\ndevice: lamp\nbuttons:\n  pad: {{debounce: 20 ms}}\ngestures:\n  {gesture}\n"
        "initial: lit\nstates:\n  lit: {transitions: {odd: dark}}\n  dark: {}\n",
        "lamp.yaml",
    )
    assert [means.name for means in _new_gestures(device, Places(device.lines))] == offered


CASED = """spec: 1
device: reading lamp
buttons:
  pad: {bounce: up to 5 ms, debounce: 20 ms}
gestures:
  tap: {taps: 1, press: up to 400 ms}
  hold: {held: 1 s}
variables:
  beam: [low, high]
initial: stowed
states:
  stowed:
    sleep: {woken by: [pad], on: edge, ready in: 2 ms, dozes again after: 50 ms}
    transitions:
      hold: steady
  lit:
    shows: beam
    states:
      steady:
        transitions:
          tap:
            - if: beam is high
              to: timed
            - {if: beam is low, next: beam}
      timed: {}
    transitions: {hold: stowed}
person: {tap: 60 to 350 ms, between: 80 to 220 ms, hold: 1.2 to 2.5 s}
surroundings:
  knocks: {closes pad: 2 to 40 ms, then open at least: 300 ms}
  squeeze: {closes pad: 50 ms to 20 s, then open at least: 5 s}
"""


def proposed(text: str, hazard: str) -> set[str]:
    """What is proposed for the failures of one hazard; whatever the text, each change gives a text that can be read.

    At full size all hazards are asked about.
    """
    device = read_device(text, "lamp.yaml")
    told = set()
    for finding in check(device, only=amount((hazard,), ())).findings:
        for remedy in propose(device, finding) if finding.verdict is Verdict.BROKEN else ():
            assert all(may_change(edit.path) for edit in remedy.edits) or remedy.lessens
            if change(device, remedy.edits) is not None and finding.hazard == hazard:
                told.add("; ".join(map(str, remedy.edits)))
    return told


def test_a_shared_line_of_a_group_is_changed_where_it_stands() -> None:
    told = proposed(
        CASED.replace("hold: stowed}", "tap: stowed}").replace("timed: {}", "timed: {shows: a light}"), "accidental-off"
    )
    assert "line 26: lit: {transitions: {hold: stowed}} instead of tap" in told


def test_a_line_of_a_state_in_a_group_is_changed_with_all_its_cases() -> None:
    device = read_device(CASED, "lamp.yaml")
    finding = next(f for f in check(device).findings if (f.hazard, f.verdict) == ("accidental-change", Verdict.BROKEN))
    swaps = (r for r in propose(device, finding) if r.replaced == (("steady", "tap"),))
    swap = next(swap for swap in swaps if len(swap.edits) == 2)
    (*_, edit) = swap.edits
    assert edit.path == ("states", "lit", "states", "steady", "transitions", "two taps")
    changed = change(device, swap.edits)
    assert changed is not None
    steady = changed.state("steady")
    assert [(t.gesture, t.target) for t in steady.transitions] == [
        ("two taps", "timed"),
        ("two taps", None),
        ("hold", "stowed"),
    ]


def test_a_second_step_goes_into_the_case_that_leads_on() -> None:
    """Only the case that the story takes leads elsewhere then; the entry is told as a whole, since it has no name."""
    cases = (
        "      tap:",
        "        - {if: beam is low, to: lit}",
        "        - if: beam is high",
        "          to: timed",
        "",
    )
    text = CASED.replace("      hold: steady\n", "\n".join(cases))
    told = proposed(text, "accidental-wake")
    state = "confirming: {waiting: true, transitions: {hold: steady, after 3 s with pad open: stowed}}"
    assert (
        "line 16: stowed: {transitions: {tap: [{if: beam is low, to: confirming}]}} instead of {if: beam is low, to: lit};"
        f" line 29: add {state}" in told
    ), told


def test_a_case_in_block_style_keeps_its_lines() -> None:
    places = Places(tuple(CASED.splitlines()))
    case = places.get("states", "lit", "states", "steady", "transitions", "tap", "0")
    assert case is not None
    edit = places.put_in(case, "to", "stowed")
    assert str(edit) == (
        "line 23: lit: {states: {steady: {transitions: {tap: [{if: beam is high, to: stowed}]}}}} instead of"
        " {if: beam is high, to: timed}"
    )
    assert apply(places.text, [edit]) == CASED.replace("              to: timed\n", "              to: stowed\n")


def test_a_way_off_is_added_to_the_state_or_to_its_group() -> None:
    told = proposed(CASED.replace("    transitions: {hold: stowed}\n", ""), "no-way-off")
    assert "line 25: add lit: {states: {timed: {transitions: {hold: stowed}}}}" in told
    assert "line 25: add lit: {transitions: {hold: stowed}}" in told


def test_states_named_like_gestures_are_not_mistaken_for_them() -> None:
    """The way off goes into the state `tap`, not to the line of the gesture `tap`."""
    text = CASED.replace("timed", "tap").replace("    transitions: {hold: stowed}\n", "")
    for told in proposed(text, "no-way-off"):
        assert "add tap" not in told or "{states: {tap: {transitions:" in told


def test_a_time_of_waiting_states_in_a_group_is_changed_in_the_group() -> None:
    text = CASED.replace("timed: {}", "timed: {waiting: true}").replace(
        "hold: stowed}", "hold: stowed, after 3 s: stowed}"
    )
    told = proposed(text, "missed-gesture") | proposed(text, "accidental-change")
    assert any(line.startswith("line 26: lit: {transitions: {after 3 s with pad open: stowed}}") for line in told)


def test_an_act_through_a_case_is_judged_without_a_crash() -> None:
    """The second gesture is done in the state that only the second case leads to."""
    text = CASED.replace("- {if: beam is low, next: beam}", "- {if: beam is low, to: ready}").replace(
        "      timed: {}\n",
        "      timed: {}\n      ready: {waiting: true, transitions: {tap: timed, after 3 s: steady}}\n",
    )
    device = read_device(text, "lamp.yaml")
    gone = cures._replaced(device, Remedy((), 1, (("ready", "tap"),)))
    assert "tap and then tap in steady" in gone or any(subject.startswith("tap, tap in steady") for subject in gone), (
        gone
    )


@pytest.mark.parametrize(
    ("slug", "cure"),
    [
        ("borrowed-hold", "line 7: power: {hold counts from: its press} instead of any press"),
        ("short-presses-add-up", "line 19: dark: {sleep: {press counts from: reading}} instead of waking"),
        ("drifting-clock", "line 11: long hold: {held: 1.8 s} instead of 1.5 s"),
    ],
)
def test_what_a_press_counts_for_and_the_room_between_two_holds_are_tried_too(slug: str, cure: str) -> None:
    path = ROOT / "specs" / "failures" / "classes" / slug / "broken.yaml"
    device = read_device(path.read_text(), str(path))
    report = cures.find_all(device, check(device), 4 * EFFORT, EFFORT)
    found = next(finding for finding in report.findings if finding.verdict is Verdict.BROKEN).cures
    assert found is not None
    assert [str(edit) for edit in found.found[0].edits] == [cure]


def test_a_busy_firmware_may_read_in_an_interrupt_and_have_room_for_more() -> None:
    """But not where nothing makes it deaf, nor the buttons of a chord, nor a queue that nothing is put into."""
    variants = ROOT / "specs" / "failures" / "variants"
    saving = (variants / "held-while-saving" / "broken.yaml").read_text(encoding="utf-8")
    assert "line 6: add lever: {read in: interrupt}" in proposed(saving, "misread-gesture")
    listening = proposed(saving.replace("while writing: deaf", "while writing: listens"), "misread-gesture")
    assert not any("read in" in words for words in listening)
    counter = (variants / "no-room-to-wait" / "broken.yaml").read_text(encoding="utf-8")
    longer = [words for words in proposed(counter, "promise") if "queue" in words]
    assert sorted(longer) == [f"line 7: queue: {length} instead of 1" for length in (16, 4, 8)]
    device = read_device(counter, "counter.yaml")
    (finding,) = (one for one in check(device).findings if one.verdict is Verdict.BROKEN)
    offered = [remedy.edits[0].new for remedy in propose(device, finding) if remedy.edits[0].path == ("queue",)]
    assert offered == ["4", "8", "16"]
    in_loop = counter.replace(", read in: interrupt", "").replace("queue: 1\n", "")
    assert not any("queue" in words for words in proposed(in_loop, "promise"))
