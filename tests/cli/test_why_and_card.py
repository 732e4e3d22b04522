"""`why` and `card`: exit codes, files, messages, and a width of 80 columns."""

from pathlib import Path

import pytest

from tests.snapshots.screens import ROOT, run

WAKE = "specs/failures/accidental-wake/broken.yaml"
LAMP = "specs/failures/lost-state/broken.yaml"


def test_a_way_is_0_and_is_told_with_times_and_what_tells_it_apart() -> None:
    code, out, err = run("why", WAKE, "stowed -> lit")
    assert (code, err) == (0, "")
    assert out.startswith("strap light: stowed -> lit: 2 ways\n")
    assert "1  squeeze alone, after any use: hold" in out
    assert "2  any press at all, of any length: hold" in out
    assert out.count("told apart: ") == 2
    assert "squeeze: pad is pressed" in out
    assert max(map(len, out.splitlines())) <= 80


def test_a_proof_that_there_is_no_way_is_1() -> None:
    code, out, _ = run("why", "specs/failures/missed-gesture/broken.yaml", "ringing -> ringing")
    assert code == 2
    spec = "specs/failures/no-way-off/broken.yaml"
    code, out, _ = run("why", spec, "lit -> stowed")
    assert code == 1
    assert "it can't come about" in out
    assert "any press: no gesture of the spec leads from lit to stowed" in out


def test_a_search_that_ended_early_is_3(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("nudgeproof.why.BUDGETS", {"usual": 5})
    code, out, _ = run("why", WAKE, "stowed -> lit")
    assert code == 3
    assert "no way found" in out
    assert "--effort deep" in out


def test_a_reset_is_told_apart_by_the_light_going_out() -> None:
    code, out, _ = run("why", LAMP, "level changes in lit")
    assert code == 0
    assert "did the level go out first, for 70 ms at least? Then it was a reset" in " ".join(out.split())
    assert "any interruption (not stated)" in out
    assert "the cell loses contact" in out


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ((WAKE, "stowed to lit"), "is no symptom"),
        ((WAKE, "stowed -> lid"), "did you mean `lit`?"),
        (("nowhere.yaml", "a -> b"), "can't be read"),
    ],
)
def test_bad_input_is_2_and_one_line(arguments: tuple[str, ...], said: str) -> None:
    code, out, err = run("why", *arguments)
    assert (code, out) == (2, "")
    assert said in err
    assert len(err.splitlines()) == 1


def test_a_card_goes_to_the_screen_or_to_a_page(tmp_path: Path) -> None:
    code, out, _ = run("card", "specs/rain-cover-light.yaml")
    assert code == 0
    assert "goes out by itself after 4 h" in out
    target = tmp_path / "card.html"
    code, out, _ = run("card", "specs/rain-cover-light.yaml", "-o", str(target))
    assert (code, out) == (0, "")
    assert target.read_text(encoding="utf-8").startswith("<!DOCTYPE html>")
    code, _, err = run("card", "specs/rain-cover-light.yaml", "-o", str(tmp_path / "card.pdf"))
    assert code == 2
    assert ".html" in err
    assert run("card", "nowhere.yaml")[0] == 2
    assert list(tmp_path.iterdir()) == [target]


def test_two_runs_give_the_same_bytes() -> None:
    assert run("why", WAKE, "stowed -> lit") == run("why", WAKE, "stowed -> lit")
    assert run("card", WAKE) == run("card", WAKE)
    assert (ROOT / WAKE).exists()
