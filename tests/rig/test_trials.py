"""Trials: the shipped firmwares conform, planted faults are refused by a short recording that can be played again."""

from __future__ import annotations

import re
import shutil
import struct
from pathlib import Path

import pytest

from nudgeproof.rig.settings import read_settings
from nudgeproof.rig.stimulus import read_stimulus, write_stimulus
from tests.amount import amount, each
from tests.firmware.lamp import MAP, TEXT
from tests.rig.devices import FIRMWARE, ROOT, apply_patch, changed_by, settings_of
from tests.rig.presses import use
from tests.snapshots.screens import run

DEVICES = ("rain-cover-light", "moisture-meter", "seed-tray-timer", "trail-counter")
FAULTS = (
    ("rain-cover-light", "W06-held-at-power-up-counts", "held"),
    ("rain-cover-light", "W10-flag-not-cleared", "walks"),
    ("rain-cover-light", "P12-save-on-every-press", "walks"),
    ("seed-tray-timer", "P17-mark-without-a-check", "memory"),
    ("rain-cover-light", "G16-absolute-deadline-at-wrap", "clock"),
    ("moisture-meter", "P21-latch-taken-late", "walks"),
    ("moisture-meter", "P04-no-gap-between-the-levels", "walks"),
    ("trail-counter", "G10-deaf-while-fading", "events"),
)
"""One for each way to begin, and for each thing that shows; in the suite every third one. All of them are in
`test_planted`."""


def spoil(device: str, fault: str, folder: Path) -> Path:
    """The firmware with a planted fault and its `rig.yaml`, in a folder."""
    patch = (FIRMWARE / device / "faults" / f"{fault}.patch").read_text(encoding="utf-8")
    for name in ("rig.yaml", *settings_of(device).sources):
        shutil.copy(FIRMWARE / device / name, folder / name)
    source = folder / changed_by(patch)
    source.write_text(apply_patch(source.read_text(encoding="utf-8"), patch), encoding="utf-8")
    return folder / "rig.yaml"


def trial(device: str, rig: Path, *more: str) -> tuple[int, str, str]:
    where = ("--rig", str(rig), "--map", str(FIRMWARE / device / "map.yaml"))
    return run("trial", str(ROOT / "specs" / f"{device}.yaml"), *where, *more)


@pytest.mark.parametrize("device", DEVICES)
def test_a_shipped_firmware_conforms_and_the_same_seed_tells_the_same(device: str) -> None:
    code, out, _ = trial(device, FIRMWARE / device / "rig.yaml", "--edges", "400", "--seed", "3")
    assert code == 0, out
    assert "all trials conform" in out
    assert "The host can't show" in out
    taken, lines = map(int, re.findall(r"(\d+) of the (\d+) lines", out)[0])
    assert taken == lines - (device == "moisture-meter")
    assert max(map(len, out.splitlines())) <= 80
    if device == "seed-tray-timer":
        assert trial(device, FIRMWARE / device / "rig.yaml", "--edges", "400", "--seed", "3") == (code, out, "")


@pytest.mark.parametrize(("device", "fault", "kinds"), each(3, FAULTS), ids=str)
def test_a_planted_fault_is_refused_and_played_again(device: str, fault: str, kinds: str, tmp_path: Path) -> None:
    rig, kept = spoil(device, fault, tmp_path), tmp_path / "kept"
    code, out, _ = trial(device, rig, "--keep", str(kept), "--kinds", kinds)
    assert code == 1, out
    assert "REFUSED at" in out
    assert "no part of it can be left out" in out
    assert (kept / "told.txt").read_text(encoding="utf-8") == out
    assert ("the firmware writes too often" in out) is fault.startswith("P12")
    text = (kept / "stimulus.csv").read_text(encoding="utf-8")
    stimulus = read_stimulus(text, "s.csv", settings_of(device))
    assert len(stimulus.changes) <= 10
    begun = re.findall(r"begin with +its clock at (\d+) ms", out)
    more = ["--clock", begun[0]] if begun else []
    mapped = (FIRMWARE / device / "map.yaml").read_text(encoding="utf-8")
    memory = (kept / "memory.bin").read_bytes() if (kept / "memory.bin").exists() else b""
    assert bool(memory) is (kinds == "memory")
    if memory:
        mapped += "memory: damaged\n"
    (tmp_path / "map.yaml").write_text(mapped, encoding="utf-8")

    def again(wires: Path, csv: Path) -> int:
        # What is in memory at the end is written back.
        (tmp_path / "bytes").write_bytes(memory)
        where = ("--stimulus", str(kept / "stimulus.csv"), "--csv", str(csv))
        return run("rig", str(wires), *where, *more, *(["--memory", str(tmp_path / "bytes")] if memory else []))[0]

    assert again(rig, tmp_path / "again.csv") == 0
    assert (tmp_path / "again.csv").read_bytes() == (kept / "recording.csv").read_bytes()
    where = (str(kept / "recording.csv"), "--map", str(tmp_path / "map.yaml"))
    assert run("follow", str(ROOT / "specs" / f"{device}.yaml"), *where)[0] == 1
    # The sound firmware is not refused by that.
    assert again(FIRMWARE / device / "rig.yaml", kept / "recording.csv") == 0
    assert run("follow", str(ROOT / "specs" / f"{device}.yaml"), *where)[0] in (0, 3)


LAMP = """
#include "rig.h"
static unsigned steady, down, lit, presses;
static int reading, nobodys;
void start(void) {}
void step(void) {
    int closed = !rig_read(2);
    steady = closed == reading ? 0 : steady + 1;
    if (steady == 20) {
        reading = closed, steady = 0, down = 0, nobodys = 0;
        if (reading) { presses++; PRESSED }
    }
    if (reading && !nobodys && ++down == HELD) { lit = !lit; nobodys = 1; rig_write(5, lit); }
}
"""
WIRES = """rig: 1
sources: [lamp.c]
entry: step every 1 ms
buttons: {KEY: {pin: 2, closed: low}}
outputs: {LAMP: {pin: 5}}
"""


@pytest.fixture
def lamp(tmp_path: Path) -> Path:
    (tmp_path / "spec.yaml").write_text(TEXT, encoding="utf-8")
    (tmp_path / "map.yaml").write_text(MAP.format(period=1100), encoding="utf-8")
    (tmp_path / "rig.yaml").write_text(WIRES, encoding="utf-8")
    (tmp_path / "lamp.c").write_text(LAMP.replace("HELD", "1000").replace("PRESSED", ""), encoding="utf-8")
    return tmp_path


def try_lamp(folder: Path, *more: str) -> tuple[int, str, str]:
    where = ("--rig", str(folder / "rig.yaml"), "--map", str(folder / "map.yaml"), "--edges", "150")
    return run("trial", str(folder / "spec.yaml"), *where, *more)


def test_a_lamp_conforms_and_one_whose_hold_is_short_is_refused(lamp: Path) -> None:
    code, out, _ = try_lamp(lamp)
    assert code == 0, out
    assert "2 of the 2 lines" in out
    (lamp / "lamp.c").write_text(LAMP.replace("HELD", "950").replace("PRESSED", ""), encoding="utf-8")
    kept = lamp / "kept"
    kept.mkdir()
    (kept / "memory.bin").write_bytes(b"of an earlier trial")
    code, out, _ = try_lamp(lamp, "--ascii", "--keep", str(kept))
    assert code == 1
    assert sorted(file.name for file in kept.iterdir()) == ["recording.csv", "stimulus.csv", "told.txt"]
    assert "LAMP is seen on" in out
    assert "that is    1 edge;" in out or "that is    2 edges" in out


MISBEHAVING = [
    ("if (presses == 3) *(volatile int *)8 = 1;", "crashes"),
    ("if (presses == 3) for (;;) {}", "spins"),
    ("if (presses == 3) for (;;) { rig_write(5, 1); rig_write(5, 0); }", "floods"),
]


@pytest.mark.parametrize(("pressed", "finding"), MISBEHAVING[: amount(1, 3)])
def test_a_firmware_that_misbehaves_is_told_by_name_and_shortened(lamp: Path, pressed: str, finding: str) -> None:
    (lamp / "lamp.c").write_text(LAMP.replace("HELD", "1000").replace("PRESSED", pressed), encoding="utf-8")
    (lamp / "kept").mkdir()
    (lamp / "kept" / "memory.bin").write_bytes(b"of another trial")
    code, out, _ = try_lamp(lamp, "--keep", str(lamp / "kept"))
    assert code == 1, out
    assert not (lamp / "kept" / "memory.bin").exists()
    assert f": {finding}" in out
    assert re.search(r"^  finding    " + finding, out, re.MULTILINE)
    text = (lamp / "kept" / "stimulus.csv").read_text(encoding="utf-8")
    # The third press is the one that counts, so three must be left.
    changes = read_stimulus(text, "s.csv", read_settings(WIRES, "rig.yaml")).changes
    assert sum(change.level for change in changes) == 3
    code, _, err = run("rig", str(lamp / "rig.yaml"), "--stimulus", str(lamp / "kept" / "stimulus.csv"))
    assert code == 1
    assert f"FINDING  {finding}" in err


@pytest.mark.parametrize(
    ("kept", "wide"),
    [
        ("static unsigned long since;", True),
        ("static uint32_t since; /* no long */ // long", False),
        ("static long long since; static long double far;", False),
        ("static uint32_t since, far = 4ul, longer;", False),
    ],
)
def test_a_long_is_told_to_be_wider_here(lamp: Path, kept: str, wide: bool) -> None:
    text = (
        LAMP.replace("HELD", "1000").replace("PRESSED", "").replace("static int reading", f"{kept}\nstatic int reading")
    )
    (lamp / "lamp.c").write_text(text, encoding="utf-8")
    code, out, _ = try_lamp(lamp, "--edges", "20")
    assert code == 0, out
    assert ("a `long` of 32 bits, which lamp.c has" in " ".join(out.split())) is (wide and struct.calcsize("l") == 8)


TWO_KEYS = """
#include "rig.h"
static unsigned steady[2], down[2];
static int reading[2], state, hue;
void start(void) {
    hue = rig_load(0) == 1;
    for (int i = 0; i < 2; i++) reading[i] = !rig_read(2 + i), down[i] = 1000;
}
void step(void) {
    for (int i = 0; i < 2; i++) {
        int closed = !rig_read(2 + i);
        steady[i] = closed == reading[i] ? 0 : steady[i] + 1;
        if (down[i] < 1000) down[i]++;
        if (steady[i] < 20) continue;
        reading[i] = closed, steady[i] = 0;
        if (closed) { down[i] = 0; continue; }
        if (down[i] > 500) continue;
        if (i == 0) { state = (state + 1) % 3; if (LATE && state == 0) rig_store(0, hue); }
        else if (state == 1) { hue = !hue; if (!LATE) rig_store(0, hue); }
        rig_write(5, state != 0);
        rig_write(6, state == 2 && hue);
    }
}
"""


@pytest.mark.parametrize("late", [0, 1])
def test_what_is_kept_too_late_shows_in_a_round_of_the_states(tmp_path: Path, late: int) -> None:
    # Nothing shows the hue where a start leads, nor one gesture from there.
    (tmp_path / "spec.yaml").write_text(
        "spec: 1\ndevice: two keys\n"
        "buttons: {a: {bounce: up to 5 ms, debounce: 18 to 22 ms}, b: {bounce: up to 5 ms, debounce: 18 to 22 ms}}\n"
        "gestures: {on: {on: a, taps: 1, press: up to 500 ms}, turn: {on: b, taps: 1, press: up to 500 ms}}\n"
        "variables: {hue: [red, blue]}\ninitial: dark\nstates:\n  dark: {transitions: {on: dim}}\n"
        "  dim: {transitions: {on: bright, turn: {next: hue}}}\n  bright: {transitions: {on: dark}}\n"
        "memory: {keeps: [hue], write takes: 850 us, guard: none, may lose: the last 10 ms, while writing: listens}\n"
        "power up: {takes: 10 ms, if blank: dark, if damaged: dark, button held: ignored until released}\n"
        "supply: {hold-up: 5 ms}\n",
        encoding="utf-8",
    )
    (tmp_path / "map.yaml").write_text(
        "recording: 1\nsample period: 3 ms\nbegins: with power up\nchannels:\n  a: {button: a, pressed when: high}\n"
        "  b: {button: b, pressed when: high}\n  supply: {cell there when: high}\n"
        "  lit: {on in: [dim, bright], off in: [dark]}\n  blue: {on in: [bright with hue blue], off in: all others}\n",
        encoding="utf-8",
    )
    wires = "rig: 1\nsources: [keys.c]\nentry: step every 1 ms\n"
    wires += "buttons: {a: {pin: 2, closed: low}, b: {pin: 3, closed: low}}\n"
    wires += "outputs: {lit: {pin: 5}, blue: {pin: 6}}\nmemory: {bytes: 1, write takes: 850 us}\n"
    (tmp_path / "rig.yaml").write_text(wires + "power: {hold-up: 5 ms, starts in: 10 ms}\n", encoding="utf-8")
    (tmp_path / "keys.c").write_text(TWO_KEYS.replace("LATE", str(late)), encoding="utf-8")
    code, out, err = try_lamp(tmp_path, "--kinds", "starts", "--edges", "400")
    assert code == late, out + err
    assert ("a round of the states" in out) is bool(late)
    assert "blue" in out if late else "all trials conform" in out


def test_what_shows_nothing_is_no_verdict(lamp: Path) -> None:
    # Nothing is said of the dark, and a lamp that is always lit is as good as any.
    blind = MAP.format(period=1100).replace("{on in: lit, off in: dark}", "{on in: lit, on when: low}")
    (lamp / "map.yaml").write_text(blind, encoding="utf-8")
    (lamp / "lamp.c").write_text("void start(void) {}\nvoid step(void) {}\n", encoding="utf-8")
    code, out, _ = try_lamp(lamp)
    assert code == 3, out
    assert "NOTHING COULD BE JUDGED" in out


def test_bad_input_is_told_and_is_2(lamp: Path) -> None:
    (lamp / "map.yaml").write_text(MAP.format(period=1).replace("KEY:", "KNOB:"), encoding="utf-8")
    code, _, err = try_lamp(lamp)
    assert (code, "the rig has no button or input `KNOB`" in err) == (2, True)
    (lamp / "map.yaml").write_text(MAP.format(period=1).replace("when: high", "when: low"), encoding="utf-8")
    code, _, err = try_lamp(lamp)
    assert (code, "the rig records 1 for a closed button" in err) == (2, True)
    (lamp / "map.yaml").write_text(MAP.format(period=1), encoding="utf-8")
    (lamp / "lamp.c").write_text("void start(void) { missing(); }\n", encoding="utf-8")
    assert try_lamp(lamp)[0] == 2
    assert try_lamp(lamp, "--rig", str(lamp / "nowhere.yaml"))[0] == 2


@pytest.mark.parametrize("device", DEVICES)
def test_a_stimulus_is_read_as_it_was_written(device: str) -> None:
    for seed in range(10):
        stimulus = use(device, seed)
        assert read_stimulus(write_stimulus(stimulus, settings_of(device)), "s.csv", settings_of(device)) == stimulus
