"""Promises: the sentence parses, prints, and parses back to itself; a bad one has one clear message."""

import pytest

from nudgeproof.diagnostics import SpecErrors
from nudgeproof.questions.promises import parse, read_promises
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
        ("knocks never change beam", "of a kind that isn't built yet"),
        ("from glowing, tap then hold reaches stowed within 3.5 s", "of a kind that isn't built yet"),
        ("knocks never reach glowing, while someone uses it", "of a kind that isn't built yet"),
        ("knocks and knocks never reach glowing", "names a source twice"),
        ("anything and knocks never reach glowing", "`anything` covers every other source"),
        ("never reach glowing", "is not a promise"),
        ("{by: knocks}", "a promise needs the key `never reaches`"),
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
