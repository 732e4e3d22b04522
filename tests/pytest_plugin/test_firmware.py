"""Trials and recordings as tests, and the fixture."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest

from tests.pytest_plugin.project import add_lamp, begin, names, run
from tests.snapshots.screens import ROOT

pytest_plugins = "pytester"

LINE = "lamp.yaml --rig lamp/rig.yaml --map lamp/map.yaml --edges 60 --kinds walks,limits,random"
TRIALS = f"nudgeproof_trials =\n    {LINE} --keep kept"


def test_an_item_for_each_kind_of_stimuli(pytester: pytest.Pytester) -> None:
    add_lamp(begin(pytester, TRIALS))
    assert names(pytester) == [f"lamp/rig.yaml::trial::{kind}" for kind in ("walks", "limits", "random")]
    run(pytester).assert_outcomes(passed=3)
    run(pytester, "lamp/rig.yaml::trial::walks").assert_outcomes(passed=1)


def test_without_a_choice_all_kinds_that_apply_are_tried_and_stories_first(pytester: pytest.Pytester) -> None:
    add_lamp(begin(pytester, f"nudgeproof_trials =\n    {LINE.partition(' --kinds')[0]}"))
    told = [name.rpartition("::")[2] for name in names(pytester)]
    assert told[:3] == ["stories", "walks", "random"]
    assert "pairs" not in told
    assert "writes" not in told
    run(pytester, "-k", "stories").assert_outcomes(passed=1)


def test_a_kind_that_is_named_twice_is_one_item(pytester: pytest.Pytester) -> None:
    add_lamp(begin(pytester, f"nudgeproof_trials =\n    {LINE.partition(' --kinds')[0]} --kinds walks,walks"))
    assert names(pytester) == ["lamp/rig.yaml::trial::walks"]


def test_kinds_that_would_test_nothing_are_an_error_of_collection(pytester: pytest.Pytester) -> None:
    add_lamp(begin(pytester, f"nudgeproof_trials =\n    {LINE.partition(' --kinds')[0]} --kinds pairs,writes"))
    done = run(pytester)
    done.assert_outcomes(errors=1)
    assert "lamp/rig.yaml: pairs, writes: nothing of that can be done to lamp" in done.stdout.str()


def test_a_firmware_that_differs_fails_with_the_screen_and_keeps_what_was_done(pytester: pytest.Pytester) -> None:
    folder = begin(pytester, TRIALS)
    add_lamp(folder, held=950)
    done = run(pytester, "-k", "walks")
    done.assert_outcomes(failed=1)
    out = done.stdout.str()
    told = (folder / "kept" / "walks" / "told.txt").read_text(encoding="utf-8")
    assert told.rstrip() in out
    assert "LAMP is seen on" in told
    assert "mend it, or accept the measured value: `hold: {held: 9" in " ".join(told.split())
    assert "Traceback" not in out
    done.stdout.fnmatch_lines("FAILED lamp/rig.yaml::trial::walks - lamp: REFUSED at *")


def test_a_firmware_that_cannot_be_built_fails_with_one_message(pytester: pytest.Pytester) -> None:
    folder = begin(pytester, TRIALS)
    add_lamp(folder)
    (folder / "lamp" / "lamp.c").unlink()
    done = run(pytester, "-k", "walks")
    done.assert_outcomes(failed=1)
    assert "lamp/rig.yaml: there is no source `lamp.c` beside it" in done.stdout.str()
    assert "Traceback" not in done.stdout.str()


def test_a_map_that_names_another_wire_is_an_error_of_collection(pytester: pytest.Pytester) -> None:
    folder = begin(pytester, TRIALS)
    add_lamp(folder)
    text = (folder / "lamp" / "map.yaml").read_text(encoding="utf-8")
    (folder / "lamp" / "map.yaml").write_text(text.replace("LAMP:", "LAMB:"), encoding="utf-8")
    done = run(pytester)
    done.assert_outcomes(errors=1)
    done.stdout.fnmatch_lines("lamp/map.yaml:*the rig has no output `LAMB`*did you mean `LAMP`*")


def test_two_lines_for_one_rig_are_two_trials(pytester: pytest.Pytester) -> None:
    add_lamp(begin(pytester, f"nudgeproof_trials =\n    {LINE}\n    {LINE} --seed 2"))
    told = names(pytester, "-k", "walks")
    assert told == ["lamp/rig.yaml::trial::walks", "lamp/rig.yaml::trial (2)::walks"]


def begin_recordings(pytester: pytest.Pytester) -> Path:
    settings = "nudgeproof_recordings =\n    clip.yaml seen/*.csv --map clip.map.yaml"
    folder = begin(pytester, settings)
    (folder / "seen").mkdir()
    shutil.copy(ROOT / "specs" / "rain-cover-light.yaml", folder / "clip.yaml")
    shutil.copy(ROOT / "recordings" / "rain-cover-light.map.yaml", folder / "clip.map.yaml")
    for path in (ROOT / "recordings").glob("*.csv"):
        shutil.copy(path, folder / "seen")
    return folder


def test_a_recording_conforms_or_is_refused(pytester: pytest.Pytester) -> None:
    folder = begin_recordings(pytester)
    done = run(pytester)
    done.assert_outcomes(passed=1, failed=1)
    name = "seen/rain-cover-light-hold-too-short.csv::follows clip.yaml"
    done.stdout.fnmatch_lines(f"FAILED {name} - rain-cov*")
    assert "rain-cover clip light: REFUSED at 1.48739 s" in done.stdout.str()
    assert "allowed    GLOW goes on from 1.663187 s" in done.stdout.str()
    (folder / "seen" / "rain-cover-light.csv").write_text("time_us,PAD\n0,0\n", encoding="utf-8")
    done = run(pytester, "seen/rain-cover-light.csv")
    done.assert_outcomes(failed=1)
    assert "Traceback" not in done.stdout.str()


def test_the_fixture_counts_paths_from_the_root_folder(pytester: pytest.Pytester) -> None:
    folder = begin(pytester)
    add_lamp(folder)
    (folder / "tests").mkdir()
    (folder / "tests" / "test_lamp.py").write_text(
        """
from nudgeproof.testing import ms, s

def test_a_hold_lights_it(nudgeproof):
    board = nudgeproof.rig("lamp/rig.yaml")
    board.wait(100 * ms)
    board.press("KEY", 1.2 * s)
    assert board.outputs == {"LAMP": True}
    board.wait(100 * ms)
    board.follow("lamp.yaml", "lamp/map.yaml").expect_conforms()
    nudgeproof.check("specs/mended.yaml", only=["accidental-wake"]).expect_holds()

def test_it_does_not_hold(nudgeproof):
    nudgeproof.check("specs/broken.yaml", only=["accidental-wake"]).expect_holds()

def test_there_is_none(nudgeproof):
    nudgeproof.check("specs/none.yaml")

def test_it_has_no_such_button(nudgeproof):
    nudgeproof.rig("lamp/rig.yaml").press("KEYS", 1 * ms)
""",
        encoding="utf-8",
    )
    pytester.chdir()
    done = run(pytester, "tests")
    done.assert_outcomes(passed=1, failed=3)
    out = done.stdout.str()
    assert "E       nudgeproof.cli.files.BadFile: specs/none.yaml: can't be read" in out
    assert "E       ValueError: lamp/rig.yaml has no button or input `KEYS`; it has KEY" in out
    # What is below the test's own line is no help.
    assert not re.search(r"nudgeproof/\S+\.py:\d+", out)
    assert "E         1.522 s  the firmware sees hold" in done.stdout.str()
