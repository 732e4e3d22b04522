"""`new`: starters that pass, and break as their last line says."""

import re
from pathlib import Path

import pytest

from nudgeproof.check import check
from nudgeproof.diagnostics import SpecErrors
from nudgeproof.spec.read import read_device
from nudgeproof.verdict import Verdict
from tests.amount import each
from tests.snapshots.screens import ROOT, run

FOLDER = ROOT / "src" / "nudgeproof" / "starters"
HABITS = sorted(path.stem for path in FOLDER.glob("*.yaml"))
LAST = re.compile(r"# See it break: in line (\d+) change `(.+)` to `(.+)`; check then says ([a-z-]+)\.")


@pytest.mark.parametrize("habit", each(3, HABITS))
def test_a_starter_passes_and_breaks_as_its_last_line_says(habit: str, tmp_path: Path) -> None:
    target = tmp_path / "mine.yaml"
    assert run("new", "mine", "--like", habit, "-o", str(target))[0] == 0
    text = target.read_text(encoding="utf-8")
    report = check(read_device(text, "mine.yaml"))
    assert report.device == "mine"
    assert report.verdict is Verdict.HOLDS
    assert all(case.needed for case in report.accepted)
    lines = text.splitlines()
    match = LAST.fullmatch(lines[-1])
    assert match is not None
    number, old, new, hazard = int(match[1]) - 1, match[2], match[3], match[4]
    assert lines[number].count(old) == 1
    lines[number] = lines[number].replace(old, new)
    broken = check(read_device("\n".join(lines) + "\n", "mine.yaml"), only=[hazard])
    assert broken.verdict is Verdict.BROKEN


@pytest.mark.parametrize("habit", HABITS)
def test_a_starter_is_short_and_says_what_it_is(habit: str) -> None:
    lines = (FOLDER / f"{habit}.yaml").read_text(encoding="utf-8").splitlines()
    assert len(lines) <= 40
    assert max(map(len, lines)) <= 130
    assert re.fullmatch("# An? .*[.]", lines[0])
    assert any("nudgeproof explain KEY" in line for line in lines)


def test_there_are_starters_that_break_in_many_ways() -> None:
    hazards = [
        LAST.fullmatch((FOLDER / f"{habit}.yaml").read_text(encoding="utf-8").splitlines()[-1]) for habit in HABITS
    ]
    assert {"one-press", "two-step", "hold-on-hold-off", "logger"} <= set(HABITS)
    assert len({match[4] for match in hazards if match is not None}) >= 6


def test_list_and_a_wrong_word_list_the_habits() -> None:
    code, out, _ = run("new", "--like", "list")
    assert code == 0
    listed = [line.split()[0] for line in out.splitlines() if re.match("  [a-z]", line)]
    assert listed == HABITS
    assert max(map(len, out.splitlines())) <= 80
    code, out, err = run("new", "x", "--like", "two-stop")
    assert (code, out) == (2, "")
    assert "did you mean `two-step`?" in err
    assert all(habit in err for habit in HABITS)


def test_no_file_is_ever_overwritten(tmp_path: Path) -> None:
    target = tmp_path / "mine.yaml"
    target.write_text("mine", encoding="utf-8")
    code, _, err = run("new", "mine", "-o", str(target))
    assert code == 2
    assert "never overwritten" in err
    assert len(err.splitlines()) == 1
    assert target.read_text(encoding="utf-8") == "mine"
    assert run("new", "mine", "-o", str(tmp_path / "no" / "mine.yaml"))[0] == 2
    assert run("new", "mine", "-o", str(tmp_path / "a\0b"))[0] == 2


@pytest.mark.parametrize(
    ("name", "file"),
    [
        ("my-light", "my-light.yaml"),
        ("Rain Light 2", "rain-light-2.yaml"),
        ("my-light.yaml", "my-light.yaml"),
        ("../../up", "up.yaml"),
        ("a/b\\c", "c.yaml"),
        ("what: if?", "what-if.yaml"),
        ("-rf", "rf.yaml"),
        ("Nachtlämpchen", "nachtlämpchen.yaml"),
        ('say "hi" # now', "say-hi-now.yaml"),
        ("it's \\ odd\x1b[2J", "odd-2j.yaml"),
        ("x" * 300, "x" * 80 + ".yaml"),
    ],
)
def test_any_name_gives_a_file_name_and_a_spec_that_is_read(
    name: str, file: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("tests.snapshots.screens.ROOT", tmp_path)
    code, out, err = run("new", "--like", "dimmer", "--", name)
    assert (code, err) == (0, "")
    assert [path.name for path in tmp_path.iterdir()] == [file]
    assert out.startswith(f"{file}: a lamp that keeps its level in memory")
    device = read_device((tmp_path / file).read_text(encoding="utf-8"), file)
    assert device.name.casefold().strip("-")[0] == file[0]


@pytest.mark.parametrize("name", ["", "..", "/", "---", "\x1b"])
def test_a_name_with_nothing_in_it_is_refused(name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("tests.snapshots.screens.ROOT", tmp_path)
    code, _, err = run("new", "--", name)
    assert code == 2
    assert "no letter or digit" in err
    assert err.rstrip("\n").isprintable()
    assert list(tmp_path.iterdir()) == []
    assert run("new")[0] == 2


def test_the_starter_is_no_spec_without_its_parts() -> None:
    """The test above would also pass if anything were read."""
    with pytest.raises(SpecErrors):
        read_device((FOLDER / "dimmer.yaml").read_text(encoding="utf-8").replace("debounce", "debounced"), "x.yaml")
