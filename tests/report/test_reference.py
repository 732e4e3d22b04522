"""The page of reference: its grammars are those of the reader, and its worked examples work."""

from __future__ import annotations

import re

import pytest

from nudgeproof.check import check
from nudgeproof.questions import grammar
from nudgeproof.report.examples import EXAMPLES, Example
from nudgeproof.report.reference import write_reference
from nudgeproof.spec import conditions
from nudgeproof.spec.keys import SECTIONS
from nudgeproof.spec.read import read_device
from nudgeproof.verdict import Verdict


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda example: example.title)
def test_every_question_asked_of_an_example_holds(example: Example) -> None:
    report = check(read_device(example.spec, "example.yaml"))
    assert [f.sentence for f in report.findings if f.verdict is not Verdict.HOLDS] == []
    assert any(finding.hazard == "promise" for finding in report.findings)


@pytest.mark.parametrize(
    ("title", "written", "instead", "broken"),
    [
        ("A group", "hold: stowed, after 4 h: stowed", "hold: stowed", "promise"),
        ("A condition", "level is low or middle", "level is low", "unreachable-mode"),
        ("A countdown kept through a blip", "[state, left]", "[state]", "promise"),
        ("Several holds", "short hold: 1 to 2 s", "short hold: 1 to 3.5 s", "ambiguous-gesture"),
    ],
)
def test_what_an_example_is_about_matters(title: str, written: str, instead: str, broken: str) -> None:
    example = next(example for example in EXAMPLES if example.title == title)
    assert example.spec.count(written) == 1
    report = check(read_device(example.spec.replace(written, instead), "example.yaml"))
    assert broken in {f.hazard for f in report.findings if f.verdict is Verdict.BROKEN}


def test_every_symbol_of_a_grammar_is_explained_or_a_name_of_the_spec() -> None:
    known = {
        "time",
        "words",
        "gesture",
        "state",
        "group",
        "variable",
        "value",
        "event",
        "whole",
        "number",
        "name",
        "of",
        "surroundings",
    }
    for text in (grammar.GRAMMAR, conditions.GRAMMAR):
        defined = set(re.findall(r"^(\w+) +=", text, flags=re.MULTILINE))
        bare = re.sub('"[^"]*"', "", text)
        assert set(re.findall("[a-z]+", bare)) <= defined | known
        for line in text.splitlines():
            assert line.endswith(" ;")


def test_the_page_has_all_of_it() -> None:
    page = write_reference()
    assert all(f"## {section.title[0].upper()}{section.title[1:]}\n" in page for section in SECTIONS)
    for text in (grammar.GRAMMAR, conditions.GRAMMAR, *(example.spec for example in EXAMPLES)):
        assert text in page
    for anchor in re.findall(r"\(#([\w-]+)\)", page):
        assert re.search(f"^#+ {anchor.replace('-', ' ')}$", page, flags=re.MULTILINE | re.IGNORECASE), anchor
