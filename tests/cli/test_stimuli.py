"""`replay --stimuli` and `stimulus`: stories as files that the rig and a player take, and what they cost the device."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from nudgeproof.rig.stimulus import read_columns
from tests.snapshots.screens import ROOT, run

BROKEN = "specs/failures/accidental-off/broken.yaml"


def test_each_story_of_a_hazard_is_written_and_told(tmp_path: Path) -> None:
    code, out, _ = run("replay", "accidental-off", BROKEN, "--stimuli", str(tmp_path / "new" / "folder"))
    assert code == 1
    (file,) = (tmp_path / "new" / "folder").iterdir()
    assert out.startswith(f"{file.name}\n  accidental-off: bumps: ")
    assert "edges in" in out
    assert "it happens on every specimen" in out
    columns, stimulus = read_columns(file.read_text(encoding="utf-8"), file.name)
    assert columns == ("pad", "supply")
    assert len(stimulus.changes) == int(re.findall(r"(\d+) edges", out)[0])


def test_without_a_hazard_the_ways_to_what_is_wanted_are_written_too_and_failures_come_first(tmp_path: Path) -> None:
    code, out, _ = run("replay", BROKEN, "--stimuli", str(tmp_path))
    assert code == 1
    names = re.findall(r"^(\S+\.csv)$", out, re.MULTILINE)
    assert sorted(names) == sorted(path.name for path in tmp_path.iterdir())
    assert names[0] == "accidental-off-bumps.csv"
    assert any(name.startswith("reached-") for name in names)
    assert "a round" in out


def test_stories_of_a_file_and_of_a_corpus_are_written(tmp_path: Path) -> None:
    told, spec = tmp_path / "told.json", tmp_path / "light.yaml"
    spec.write_bytes((ROOT / BROKEN).read_bytes())
    run("check", str(spec), "--json", str(told))
    code, out, _ = run("replay", str(told), str(spec), "--stimuli", str(tmp_path / "old"))
    assert (code, [path.name for path in (tmp_path / "old").iterdir()]) == (1, ["accidental-off-bumps.csv"])
    assert run("fuzz", str(spec), "--steps", "2000")[0] == 1
    out = run("replay", str(spec), "--stimuli", str(tmp_path / "all"))[1]
    assert "accidental-off: bumps, kept from before" in out
    # On the mended device the story is gone, and told so.
    mended = str(spec.with_name("mended.yaml"))
    Path(mended).write_bytes((ROOT / BROKEN).with_name("mended.yaml").read_bytes())
    code, out, _ = run("replay", str(told), mended, "--stimuli", str(tmp_path / "none"))
    assert code == 0
    assert "no failure with a story" in out
    assert "no longer happens" in out


def test_names_are_those_of_the_map_and_the_cell_is_always_the_supply(tmp_path: Path) -> None:
    where = ("--stimuli", str(tmp_path), "--map", "recordings/rain-cover-light.map.yaml")
    assert run("replay", "unreachable-mode", "specs/rain-cover-light.yaml", *where)[0] == 0
    headers = {path.read_text(encoding="utf-8").split("\n")[0] for path in tmp_path.iterdir()}
    assert headers == {"time_us,PAD,supply"}


def test_what_nobody_can_force_is_told_and_not_written(tmp_path: Path) -> None:
    code, out, _ = run("replay", "torn-memory", "specs/failures/torn-memory/broken.yaml", "--stimuli", str(tmp_path))
    assert code == 1
    assert "not written: torn-memory: cell rattle\n  what a write that was cut" in out
    assert list(tmp_path.iterdir()) == []


def test_replay_without_a_hazard_tells_all_stories() -> None:
    assert run("replay", BROKEN)[:2] == run("replay", "accidental-off", BROKEN)[:2]


def test_a_story_that_is_written_is_played_on_the_rig(tmp_path: Path) -> None:
    """The whole way: a story of the spec, its stimulus, a firmware with that very hold."""
    (tmp_path / "lamp.c").write_text(LAMP, encoding="utf-8")
    (tmp_path / "rig.yaml").write_text(WIRES, encoding="utf-8")
    spec = "specs/failures/accidental-wake/broken.yaml"
    assert run("replay", "accidental-wake", spec, "--stimuli", str(tmp_path / "stories"))[0] == 1
    stimulus = tmp_path / "stories" / "accidental-wake-squeeze.csv"
    code, out, err = run("rig", str(tmp_path / "rig.yaml"), "--stimulus", str(stimulus))
    assert code == 0, err
    assert re.search(r"^\d+,1,1,1$", out, re.MULTILINE)


LAMP = """
#include "rig.h"
static unsigned steady, down, lit;
static int reading;
void start(void) {}
void step(void) {
    int closed = !rig_read(2);
    steady = closed == reading ? 0 : steady + 1;
    if (steady == 20) reading = closed, steady = 0, down = 0;
    if (reading && ++down == 1000) rig_write(5, lit = !lit);
}
"""
WIRES = """rig: 1
sources: [lamp.c]
entry: step every 1 ms
buttons: {pad: {pin: 2, closed: low}}
outputs: {lamp: {pin: 5}}
"""


def test_wear_is_told_as_a_share_of_what_the_memory_endures(tmp_path: Path) -> None:
    spec = tmp_path / "light.yaml"
    text = (ROOT / "specs" / "rain-cover-light.yaml").read_text(encoding="utf-8")
    spec.write_text(
        text.replace("  written: at once\n", "  written: at once\n  endures: 100000 writes\n"), encoding="utf-8"
    )
    where = ("firmware/player/example.csv", "--spec", str(spec))
    out = " ".join(run("stimulus", *where)[1].split())
    assert "pad closes 5 times; the cell is cut once within a stimulus; the device gets power twice" in out
    once = re.findall(r"each place of it is written up to ([\d.]+) times, ([\d.]+) % of the 100000", out)[0]
    out = " ".join(run("stimulus", *where, "--rounds", "1000")[1].split())
    often = re.findall(r"each place of it is written up to ([\d.]+) times, ([\d.]+) % of the 100000", out)[0]
    assert [float(many) / float(one) for one, many in zip(once, often, strict=True)] == [1000, 1000]
    assert float(once[0]) == 1000 * float(once[1])
    assert "5000 closings and 2000 starts in 3 h" in out


@pytest.mark.parametrize(
    ("more", "says"),
    [
        (("--pause", "soon"), "--pause"),
        (("--pause", "1 to 2 s"), "no single time"),
        (("--rounds", "0"), "no number from 1"),
        (("--spec", "nowhere.yaml"), "nowhere.yaml"),
        (("--table", "no/such/folder.h"), "can't be written"),
    ],
)
def test_bad_arguments_are_told(more: tuple[str, ...], says: str, capsys: pytest.CaptureFixture[str]) -> None:
    try:
        code, _, err = run("stimulus", "firmware/player/example.csv", *more)
    except SystemExit as stop:  # the parser's own way out
        code, err = int(str(stop.code)), capsys.readouterr().err
    assert code == 2
    assert says in err


def test_a_map_or_a_folder_that_is_none_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("", encoding="utf-8")
    code, _, err = run("replay", "accidental-off", BROKEN, "--stimuli", str(tmp_path / "file"))
    assert (code, "can't be made" in err) == (2, True)
    code, _, err = run("replay", "accidental-off", BROKEN, "--stimuli", str(tmp_path), "--map", str(tmp_path / "file"))
    assert (code, "the map is empty" in err) == (2, True)


def test_a_column_without_a_name_is_told(tmp_path: Path) -> None:
    (tmp_path / "s.csv").write_text("time_us,pad,\n0,0,1\n500000,1,1\n", encoding="utf-8")
    code, _, err = run("stimulus", str(tmp_path / "s.csv"))
    assert (code, "s.csv:1:13: a column has no name" in err) == (2, True)


@pytest.mark.parametrize(
    ("column", "says"),
    [("supply", "another column has that name"), ('"a,b"', "`pad` is `a,b` in a stimulus, and it holds what parts")],
)
def test_a_name_that_would_be_read_as_something_else_is_refused(column: str, says: str, tmp_path: Path) -> None:
    """A press that is played as a cut of the cell would be a story of something else."""
    what = f"{column}: {{button: pad, pressed when: high}}, LAMP: {{on in: lit, off in: all others}}"
    (tmp_path / "map.yaml").write_text(f"recording: 1\nsample period: 1 us\nchannels: {{{what}}}\n", encoding="utf-8")
    where = ("specs/failures/accidental-wake/broken.yaml", "--stimuli", str(tmp_path / "told"))
    code, out, err = run("replay", "accidental-wake", *where, "--map", str(tmp_path / "map.yaml"))
    assert (code, out, says in err) == (2, "", True), err
    assert not (tmp_path / "told").exists()
