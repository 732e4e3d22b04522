"""Variants of the kinds of failure met in the field: other settings of a device that bring the same failure about."""

import pytest

from nudgeproof.verdict import Verdict
from tests.hazards.differences import Tree, differences, parse
from tests.hazards.test_failures import ROWS, findings
from tests.snapshots.screens import ROOT

MOST_CLASSES = 40_000

FOLDER = ROOT / "specs" / "failures" / "variants"


def rows() -> dict[str, dict[str, Tree]]:
    """The list of variants by name."""
    listed = parse((FOLDER / "index.yaml").read_text(encoding="utf-8"))
    assert isinstance(listed, dict)
    return {name: row for name, row in listed.items() if isinstance(row, dict)}


VARIANTS = rows()

each = pytest.mark.parametrize("name", VARIANTS, scope="module")


def read(name: str, which: str) -> str:
    return (FOLDER / name / f"{which}.yaml").read_text(encoding="utf-8")


def test_each_pair_is_in_the_list_and_is_of_a_known_kind() -> None:
    assert {path.name for path in FOLDER.iterdir() if path.is_dir()} == set(VARIANTS)
    assert {str(row["of"]) for row in VARIANTS.values()} <= set(ROWS)
    assert not set(VARIANTS) & {str(row["name"]) for row in ROWS.values()}


@each
def test_the_broken_one_is_told_of_its_failure_in_a_short_story(name: str) -> None:
    found = findings(read(name, "broken"))
    assert {finding.verdict for finding in found} == {Verdict.BROKEN, Verdict.HOLDS}
    first, *others = (finding for finding in found if finding.verdict is Verdict.BROKEN)
    assert first.hazard == VARIANTS[name]["hazard"]
    assert [finding.hazard for finding in others] == VARIANTS[name].get("also", [])
    assert first.story is not None
    assert first.story.actions <= int(str(VARIANTS[name]["actions"]))


@each
def test_the_mended_one_holds_and_differs_in_the_setting_and_what_goes_with_it(name: str) -> None:
    assert {finding.verdict for finding in findings(read(name, "mended"))} == {Verdict.HOLDS}
    assert len(differences(parse(read(name, "mended")), parse(read(name, "broken")))) <= 2


@each
def test_each_of_the_two_is_small_and_says_on_top_what_fails_or_what_cures_it(name: str) -> None:
    for which, start in (("broken", "# A"), ("mended", "# The same ")):
        found = {(finding.surroundings, finding.classes) for finding in findings(read(name, which))}
        assert sum(classes for _, classes in found) <= MOST_CLASSES
        assert read(name, which).startswith(start)
