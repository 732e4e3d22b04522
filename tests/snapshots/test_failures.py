"""The pages about failures met in the field are those that their list and their specs make.

What `check` says is looked at for some of them here; `python -m tests.snapshots.renew` writes all anew.
"""

import pytest

from tests.amount import amount
from tests.snapshots.failures import (
    GROUPS,
    INDEX,
    PAGES,
    difference,
    index,
    rows,
    said_on_top,
    section,
    sections_of,
    shown,
)

KINDS = shown()
WITH_CHECK = KINDS[:: amount(16, 8)]


def written(kind: str) -> str:
    """What the page says of this kind."""
    name = section_name(kind)
    return sections_of((PAGES / f"{GROUPS[kind[0]][0]}.md").read_text(encoding="utf-8"))[name]


def section_name(kind: str) -> str:
    return rows()[kind]["name"]


def test_the_list_is_what_the_specs_make_it() -> None:
    assert INDEX.read_text(encoding="utf-8") == index()


def test_each_page_has_the_kinds_of_its_group_in_their_order() -> None:
    for letter, (file, _) in GROUPS.items():
        names = [section_name(kind) for kind in KINDS if kind.startswith(letter)]
        assert list(sections_of((PAGES / f"{file}.md").read_text(encoding="utf-8"))) == names


@pytest.mark.parametrize("kind", KINDS)
def test_words_and_changes_are_those_of_the_specs(kind: str) -> None:
    text = written(kind)
    assert said_on_top(kind, "broken") in text
    assert f"**Mended.** {said_on_top(kind, 'mended')}" in text
    assert "\n".join(["```diff", *difference(kind), "```"]) in text


@pytest.mark.parametrize("kind", WITH_CHECK)
def test_what_is_told_is_what_check_says(kind: str) -> None:
    assert written(kind) == section(kind)
