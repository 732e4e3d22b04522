"""Kinds of failure met in the field: a short story tells each, and each change of its mend is needed."""

from functools import cache
from pathlib import Path

import pytest

from nudgeproof.again import ask_again
from nudgeproof.check import BUDGETS, ask, check
from nudgeproof.diagnostics import SpecErrors
from nudgeproof.hazards import HAZARDS
from nudgeproof.spec.read import read_device
from nudgeproof.verdict import Finding, Verdict
from tests.amount import amount, each
from tests.hazards.differences import Difference, Tree, change, differences, parse, write
from tests.snapshots.screens import ROOT

FOLDER = ROOT / "specs" / "failures"
MOST_CLASSES = 30_000
"""Of all environments of a spec together; today the most is 22,133."""

# Kinds that the language can't say yet: their rows stand without a folder until it can.
PENDING: set[str] = set()


def rows() -> dict[str, dict[str, Tree]]:
    """The list of kinds by id."""
    listed = parse((FOLDER / "index.yaml").read_text(encoding="utf-8"))
    assert isinstance(listed, dict)
    return {kind: row for kind, row in listed.items() if isinstance(row, dict)}


ROWS = rows()


def folder(row: dict[str, Tree]) -> Path:
    return FOLDER / "classes" / str(row["name"])


SHOWN = {kind: row for kind, row in ROWS.items() if folder(row).exists()}


def read(row: dict[str, Tree], which: str) -> str:
    return (folder(row) / f"{which}.yaml").read_text(encoding="utf-8")


@cache
def findings(text: str) -> tuple[Finding, ...]:
    return check(read_device(text, "spec.yaml")).findings


def is_sound(text: str, hazards: frozenset[str] | None = None) -> bool:
    """Whether all that is asked holds, without stories, in two thirds of the time; raises `SpecErrors` as `check` does."""
    device = read_device(text, "spec.yaml")
    ask(device)
    again = ask_again(device, BUDGETS["usual"], hazards=hazards)
    assert again is not None
    return all(finding.verdict is Verdict.HOLDS for finding in again.findings.values())


def reasons(row: dict[str, Tree], key: str) -> dict[str, str]:
    """Names with reasons under `key`, none of them empty."""
    given = row.get(key, {})
    assert isinstance(given, dict)
    assert all(isinstance(why, str) and len(why) > 10 for why in given.values())
    return {name: str(why) for name, why in given.items()}


def mends(row: dict[str, Tree]) -> list[Difference]:
    """What the broken spec has otherwise than the mended one."""
    return differences(parse(read(row, "mended")), parse(read(row, "broken")))


def left_without(row: dict[str, Tree], one: Difference) -> str:
    """What the mended spec is without this change of the mend: `sound`, `failing`, or `no device` that could be read."""
    undone = change(parse(read(row, "mended")), [one])
    broken = read(row, "broken")
    text = broken if undone == parse(broken) else write(undone)
    try:
        # Most fail as the broken one does; only where that holds all else is asked too.
        return "sound" if is_sound(text, frozenset([str(row["hazard"])])) and is_sound(text) else "failing"
    except SpecErrors:
        return "no device"


def name_of(kind: str) -> str:
    return f"{kind}-{ROWS[kind]['name']}"


each_shown = pytest.mark.parametrize("kind", SHOWN, ids=name_of, scope="module")
each_second = pytest.mark.parametrize("kind", each(2, list(SHOWN)), ids=name_of, scope="module")
"""One kind after the other, so that a worker has what was found of it."""


def test_every_kind_has_a_row_with_a_name_of_its_own() -> None:
    last = {"G": 18, "W": 23, "P": 24}
    assert list(ROWS) == [f"{letter}{number:02}" for letter, most in last.items() for number in range(1, most + 1)]
    names = [row["name"] for row in ROWS.values()]
    assert len(set(map(str, names))) == len(names)
    assert not {hazard.NAME for hazard in HAZARDS} & set(map(str, names))


def test_a_row_has_a_pair_or_says_what_it_waits_for() -> None:
    waiting = {kind for kind, row in ROWS.items() if "waits for" in row}
    assert all(len(str(ROWS[kind]["why"])) > 10 for kind in waiting)
    assert not waiting & SHOWN.keys()
    assert ROWS.keys() - SHOWN.keys() - waiting == PENDING


def test_every_pair_has_a_row() -> None:
    assert {path.name for path in (FOLDER / "classes").iterdir()} == {str(row["name"]) for row in SHOWN.values()}


@each_second
def test_the_broken_spec_is_told_of_its_failure_first_and_in_a_short_story(kind: str) -> None:
    row = SHOWN[kind]
    found = findings(read(row, "broken"))
    first = min(found, key=lambda finding: finding.verdict)
    assert first.verdict is Verdict.BROKEN
    assert first.hazard == row["hazard"]
    assert (first.story.actions if first.story else 0) <= int(str(row["actions"]))
    assert Verdict.UNDECIDED not in {finding.verdict for finding in found}
    others = {finding.hazard for finding in found if finding.verdict is Verdict.BROKEN} - {first.hazard}
    assert others == reasons(row, "also").keys()


@pytest.mark.parametrize("kind", each(4, list(SHOWN)), ids=name_of, scope="module")
def test_the_mended_spec_holds_in_all_that_is_asked(kind: str) -> None:
    found = findings(read(SHOWN[kind], "mended"))
    assert found
    assert {finding.verdict for finding in found} == {Verdict.HOLDS}


@each_second
def test_it_is_small(kind: str) -> None:
    """Long times beside short ones, hours beside chatter, cost no classes."""
    for which in amount(("broken",), ("broken", "mended")):
        found = {(finding.surroundings, finding.classes) for finding in findings(read(SHOWN[kind], which))}
        assert sum(classes for _, classes in found) <= MOST_CLASSES


@pytest.mark.parametrize("kind", each(4, list(SHOWN)), ids=name_of)
def test_each_change_of_the_mend_is_needed(kind: str) -> None:
    row = SHOWN[kind]
    left = {str(one): left_without(row, one) for one in mends(row)}
    assert "failing" in left.values()
    assert {path for path, what in left.items() if what == "sound"} == reasons(row, "spare").keys()


@each_shown
def test_each_spec_says_on_top_what_fails_or_what_cures_it(kind: str) -> None:
    row = SHOWN[kind]
    assert read(row, "broken").startswith("# A")
    assert read(row, "mended").startswith("# The same ")


@pytest.mark.parametrize("kind", list(SHOWN)[:: amount(16, 4)])
def test_a_tree_that_is_written_anew_is_the_same_device(kind: str) -> None:
    text = read(SHOWN[kind], "broken")
    told = [(one.hazard, one.subject, one.verdict, one.sentence) for one in findings(text)]
    again = findings(write(parse(text)))
    assert [(one.hazard, one.subject, one.verdict, one.sentence) for one in again] == told
