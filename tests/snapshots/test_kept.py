"""What people read is pinned, byte for byte; `python -m tests.snapshots.renew` writes it anew."""

from pathlib import Path

import pytest

from tests.amount import each
from tests.snapshots import diagrams, readme, screens, supply, trusted

DEMOS = [spec for spec in screens.specs() if "failures" not in spec]


@pytest.mark.parametrize("spec", each(3, screens.specs(), DEMOS))
def test_screen_and_json(spec: str) -> None:
    screen, findings = screens.both(spec)
    assert screens.name_of(spec, ".txt").read_text(encoding="utf-8") == screen
    assert screens.name_of(spec, ".json").read_text(encoding="utf-8") == findings


def test_nothing_is_kept_beside_them() -> None:
    names = {screens.name_of(spec, ending).name for spec in screens.specs() for ending in (".txt", ".json")}
    assert {path.name for path in screens.KEPT.iterdir()} == names


@pytest.mark.parametrize("path", sorted(screens.KEPT.glob("*.txt")), ids=lambda path: path.stem)
def test_no_line_is_wider_than_a_terminal(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    assert max(map(len, text.splitlines())) <= 80
    assert text.isascii()


@pytest.mark.parametrize("page", [readme.README, readme.RECORDINGS], ids=lambda page: page.name)
def test_a_page_quotes_what_is_really_printed(page: Path) -> None:
    text = page.read_text(encoding="utf-8")
    assert readme.renew(text) == text


def test_so_does_the_page_about_the_supply() -> None:
    text = readme.SUPPLY.read_text(encoding="utf-8")
    assert readme.renew(text) == text


def test_the_picture_of_the_supply_says_what_it_should() -> None:
    """The same twice, byte for byte; and with the kept one word for word, since another library may place them otherwise."""
    picture = supply.drawn()
    assert picture == supply.drawn()
    kept = supply.words(supply.PICTURE.read_text(encoding="utf-8"))
    assert supply.words(picture) == kept
    assert {"voltage / V", "brown-out level, any unit", "lit with beam high", "evenings"} <= set(kept)


def test_what_has_to_be_trusted_is_counted() -> None:
    """Every module that an audited absence hangs on is in a row of the table, whose numbers are about right."""
    counted = trusted.count()
    rows = list(trusted.rows(trusted.PAGE.read_text(encoding="utf-8")))
    assert sorted(name for _, _, names in rows for name in names) == sorted(counted)
    for row, lines, names in rows:
        assert abs(lines - sum(counted[name] for name in names)) <= max(lines // 10, 1), row


def test_diagrams() -> None:
    for path, drawn in diagrams.wanted().items():
        assert path.read_bytes() == drawn, path.name


def test_two_runs_give_the_same_bytes() -> None:
    """And JSON on the screen is what goes to a file."""
    spec = "specs/failures/accidental-wake/broken.yaml"
    once = screens.run("check", "--json", "-", spec)
    assert once == screens.run("check", "--json", "-", spec)
    assert once[1] == screens.both(spec)[1]
