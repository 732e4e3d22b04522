"""`explain`: hazards, verdicts, promises, keys."""

import json
import os
import subprocess
import sys

import pytest

from nudgeproof.check import NAMES
from nudgeproof.diagnostics import Place
from nudgeproof.hazards import HAZARDS
from nudgeproof.questions.grammar import parse, read_promises
from nudgeproof.report.explained import CONDITION_FORMS, PROMISE_FORMS, VERDICTS
from nudgeproof.spec.keys import SECTIONS
from nudgeproof.spec.read import read_device
from nudgeproof.verdict import Verdict
from tests.snapshots.screens import ROOT, run
from tests.spec.good import GROUPED

TOPICS = [
    *NAMES,
    *VERDICTS,
    "promises",
    "conditions",
    *dict.fromkeys(key.name for section in SECTIONS for key in section.keys),
]


@pytest.mark.parametrize("topic", TOPICS)
def test_everything_is_explained_in_80_columns(topic: str) -> None:
    code, out, err = run("explain", topic)
    assert (code, err) == (0, "")
    assert out.lower().startswith(topic.lower())
    assert max(map(len, out.splitlines())) <= 80
    assert run("explain", *topic.upper().split()) == (0, out, "")


def test_a_hazard_is_told_with_all_its_parts() -> None:
    for hazard in HAZARDS:
        out = " ".join(run("explain", hazard.NAME)[1].split())
        for text in (hazard.MEANS, hazard.SHOWN, hazard.ASKED_IF, hazard.CURE, hazard.TEMPTING, hazard.EXACT):
            assert " ".join(text.split()) in out


def test_every_verdict_is_explained() -> None:
    assert {verdict.word for verdict in Verdict} <= set(VERDICTS)


def test_a_key_tells_its_forms_its_default_and_where_it_belongs() -> None:
    out = run("explain", "bounce")[1]
    for line in ("at `buttons: BUTTON`", "bounce: up to 8 ms", "default     up to 10 ms", "needed      no"):
        assert line in out
    both = run("explain", "between")[1]
    assert "a key of a gesture" in both
    assert "a key of how the user presses" in both


def test_the_examples_of_promises_are_promises() -> None:
    spec = "specs/rain-cover-light.yaml"
    text = (ROOT / spec).read_text(encoding="utf-8").partition("promises:")[0]
    text = text.replace("\nsupply: {", f"\n{_ELECTRICITY}supply: {{{_CELLS}")
    device = read_device(text, spec)
    for _, _, example in PROMISE_FORMS:
        assert str(parse(device, example, Place(spec))) == example
    keyed = [line.strip() for line in run("explain", "promises")[1].splitlines() if line.strip().startswith("- {")]
    assert len(keyed) == 9
    text = text + "promises:\n  " + "\n  ".join(keyed) + "\n"
    assert len(read_promises(read_device(text, spec))) == 9


_CELLS = "cells: {fresh: {open: 3 V, resistance: 10 ohm}, spent: {open: 2.6 V, resistance: 60 ohm}, charge: 220 mAh}, "
_ELECTRICITY = "loads: {processor: {draws: 1 mA}}\nuse: {evenings: {glowing: 90 min}}\n"


def test_a_key_is_found_by_the_keys_that_lead_to_it() -> None:
    out = run("explain", "supply.cells.LEVEL.open")[1]
    assert "open (a key of the cells at a share used)" in out
    assert out.count("(a key of") == 1
    assert run("explain", "resistance")[1].count("(a key of") == 2
    assert "keys in it  fresh, SHARE used, spent" in run("explain", "supply.cells")[1]


def test_all_waveforms_have_letters_in_their_place() -> None:
    for hazard in HAZARDS:
        assert run("explain", hazard.NAME, "--ascii")[1].isascii(), hazard.NAME


def test_the_examples_of_conditions_are_conditions() -> None:
    for _, _, example in CONDITION_FORMS:
        text = GROUPED.replace("if: beam is high and left is at least 1", f"if: {example}").replace(
            ", {if: beam is not high, next: beam}", ""
        )
        assert f"if: {example}, to: timed}}]" in text
        (case, *_) = read_device(text, "lamp.yaml").state("steady").transitions
        assert case.condition is not None
        assert case.condition.text == example
    cases = next(
        line.strip() for line in run("explain", "conditions")[1].splitlines() if line.strip().startswith("tap: [")
    )
    whole = GROUPED.replace(
        next(line.strip() for line in GROUPED.splitlines() if "at least 1, to: timed" in line), cases
    )
    assert len(read_device(whole, "lamp.yaml").state("steady").transitions) == 3


def test_without_a_name_everything_is_listed() -> None:
    code, out, _ = run("explain")
    assert code == 0
    flat = " ".join(out.split())
    assert all(topic in flat for topic in TOPICS if topic != "promise" and not topic.isupper())


def test_a_wrong_name_gets_the_nearest() -> None:
    code, out, err = run("explain", "debounse")
    assert (code, out) == (2, "")
    assert err == "nudgeproof explain: nothing is called `debounse`; did you mean `debounce`?\n"
    code, _, err = run("explain", "qqqq")
    assert code == 2
    assert "lists what is known" in err


def test_the_schema_is_printed_alone() -> None:
    code, out, _ = run("explain", "schema")
    assert code == 0
    assert json.loads(out)["$schema"].endswith("2020-12/schema")
    assert out.isascii()


def test_a_terminal_without_unicode_gets_timelines_in_ascii() -> None:
    command = [sys.executable, "-m", "nudgeproof", "explain", "accidental-wake"]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, env={**os.environ, "PYTHONIOENCODING": "ascii"})
    assert b"__##" in done.stdout
    assert b"?" not in done.stdout
