"""A board pressed by hand: the same acts give the same run, and what is done amiss is told."""

from __future__ import annotations

from pathlib import Path

import pytest

from nudgeproof.testing import (
    Board,
    Misbehaves,
    NotAsExpected,
    Place,
    SpecErrors,
    check,
    follow,
    minute,
    ms,
    rig,
    s,
    us,
)
from tests.pytest_plugin.project import add_lamp
from tests.snapshots.screens import ROOT

CLIP = ROOT / "firmware" / "rain-cover-light"
SPEC = ROOT / "specs" / "rain-cover-light.yaml"


@pytest.fixture
def clip() -> Board:
    board = rig(CLIP / "rig.yaml")
    board.wait(500 * ms)
    return board


def on(board: Board) -> set[str]:
    return {name for name, level in board.outputs.items() if level}


def switch_on(board: Board) -> None:
    board.press("pad", 1.5 * s)
    for _ in range(2):
        board.wait(150 * ms)
        board.press("pad", 100 * ms)
    board.wait(500 * ms)


def test_it_is_pressed_and_cut_and_looked_at_in_between(clip: Board) -> None:
    assert on(clip) == {"asleep"}
    clip.press("pad", 1.5 * s)
    assert on(clip) == {"glow"}
    clip.wait(4 * s)
    assert on(clip) == {"asleep"}
    switch_on(clip)
    assert on(clip) == {"low"}
    memory = clip.memory
    clip.cut(50 * ms)
    assert on(clip) == set()
    clip.wait(500 * ms)
    assert on(clip) == {"low"}
    assert clip.memory == memory
    assert clip.now_us == 9_050_000
    followed = clip.follow(SPEC, CLIP / "map.yaml")
    assert followed.conforms, followed.text
    assert followed.surely_in == ("stowed", "armed", "glowing")


def test_looking_changes_nothing_and_a_longer_run_begins_with_the_shorter_one(clip: Board) -> None:
    other = rig(CLIP / "rig.yaml")
    other.wait(500 * ms)
    switch_on(other)
    clip.press("pad", 1.5 * s)
    early = clip.recording
    for _ in range(2):
        clip.wait(150 * ms)
        clip.press("pad", 100 * ms)
        assert len(clip.outputs) == 5
    clip.wait(500 * ms)
    assert clip.recording == other.recording
    rows = early.splitlines()
    assert clip.recording.splitlines()[: len(rows) - 1] == rows[:-1]


def test_a_contact_may_be_held_while_something_else_happens(clip: Board) -> None:
    clip.close("pad")
    clip.wait(1 * s)
    clip.cut(100 * ms)
    clip.wait(5 * s)
    # Held while power comes up, it counts for nothing until it was let go.
    assert "glow" not in on(clip)
    clip.open("pad")
    clip.wait(1 * s)
    switch_on(clip)
    assert on(clip) == {"low"}


def test_what_can_not_be_done_is_told(clip: Board) -> None:
    with pytest.raises(ValueError, match="no button or input `pat`; it has pad"):
        clip.press("pat", 1 * ms)
    with pytest.raises(ValueError, match="`pad` is open already"):
        clip.open("pad")
    clip.close("pad")
    with pytest.raises(ValueError, match="`pad` is closed already"):
        clip.press("pad", 1 * ms)
    with pytest.raises(ValueError, match="`pad` has changed at 500000 us already"):
        clip.open("pad")
    for time in (-1 * ms, 0.5 * us, 10**16, float("inf"), float("nan")):
        with pytest.raises(ValueError, match="write a whole number of microseconds"):
            clip.wait(time)
    with pytest.raises(ValueError, match="at least 1"):
        clip.cut(0)
    clip.wait(1 * us)
    clip.open("pad")
    clip.wait(1 * us)
    with pytest.raises(ValueError, match="at least 1"):
        clip.press("pad", 0)
    # What was refused wasn't half done.
    with pytest.raises(ValueError, match="`pad` is open already"):
        clip.open("pad")
    # 1.1 s isn't a whole number of microseconds in floating point, but is meant as one.
    clip.wait(1.1 * s)
    assert clip.now_us == 1_600_002
    assert minute == 60 * s


def test_a_firmware_that_differs_is_refused_with_the_screen(tmp_path: Path) -> None:
    add_lamp(tmp_path, held=950)
    board = Place(tmp_path).rig("lamp/rig.yaml")
    board.wait(100 * ms)
    board.press("KEY", 1500 * ms)
    followed = board.follow("lamp.yaml", "lamp/map.yaml")
    assert followed.result == "refused"
    # The contact closes at 100 ms, 20 ms make a press, 950 more the light.
    assert abs(followed.at_us - 1_070_000) <= 2_000
    with pytest.raises(NotAsExpected, match=r"LAMP is seen on, at 1\.0"):
        followed.expect_conforms()


def test_a_firmware_that_misbehaves_is_told_when_it_is_looked_at(tmp_path: Path) -> None:
    add_lamp(tmp_path, pressed="if (presses == 1) for (;;) {}")
    board = Place(tmp_path).rig("lamp/rig.yaml")
    assert board.outputs == {"LAMP": False}
    board.press("KEY", 100 * ms)
    board.wait(2 * s)
    with pytest.raises(Misbehaves, match=r"^spins: .*after \d+ us"):
        _ = board.outputs


def test_a_map_of_other_wires_is_a_mistake_with_its_place(clip: Board) -> None:
    with pytest.raises(SpecErrors, match=r"seed-tray-timer/map\.yaml:\d+:"):
        clip.follow(ROOT / "specs/seed-tray-timer.yaml", ROOT / "firmware/seed-tray-timer/map.yaml")


def test_a_spec_is_checked_and_a_recording_followed() -> None:
    broken = check(ROOT / "specs/failures/accidental-wake/broken.yaml", only=["accidental-wake"])
    assert broken.verdicts == {("accidental-wake", "squeeze"): "broken"}
    assert not broken.holds
    with pytest.raises(NotAsExpected, match=r"1\.522 s  the firmware sees hold"):
        broken.expect_holds()
    mended = check(ROOT / "specs/failures/accidental-wake/mended.yaml", only=["accidental-wake"])
    assert mended.holds
    mended.expect_holds()
    recordings = ROOT / "recordings"
    what = recordings / "rain-cover-light.map.yaml"
    follow(SPEC, recordings / "rain-cover-light.csv", map=what).expect_conforms()
    refused = follow(SPEC, recordings / "rain-cover-light-hold-too-short.csv", map=what)
    assert (refused.result, refused.at_us) == ("refused", 1_487_390)
