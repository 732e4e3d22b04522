"""`measure` from the command line: a lamp in C is measured, and meets what is written; the bad ways end by their names."""

from __future__ import annotations

from pathlib import Path

import pytest

from nudgeproof.spec.read import read_device
from nudgeproof.units import Span
from tests.rig.devices import FIRMWARE, ROOT
from tests.rig.test_trials import LAMP, WIRES
from tests.snapshots.screens import run

QUICK = ("--longest", "3 s", "--taps", "1")


@pytest.fixture
def lamp(tmp_path: Path) -> Path:
    (tmp_path / "rig.yaml").write_text(WIRES, encoding="utf-8")
    (tmp_path / "lamp.c").write_text(LAMP.replace("HELD", "1000").replace("PRESSED", ""), encoding="utf-8")
    return tmp_path


def test_a_lamp_is_measured_and_meets_what_is_written(lamp: Path) -> None:
    rig, spec, told = str(lamp / "rig.yaml"), str(lamp / "spec.yaml"), str(lamp / "map.yaml")
    code, out, _ = run("measure", rig, "--spec", spec, "--map", told, *QUICK)
    assert code == 0, out
    assert max(len(line) for line in out.splitlines() if str(lamp) not in line) <= 80
    assert "Not measured" in out
    assert "held for 998 ms to 999.9 ms; acts while it is held" in " ".join(out.split())
    text = Path(spec).read_text(encoding="utf-8")
    assert "# measured" in text
    assert "a guess" in text
    assert run("check", spec)[0] != 2
    code, out, _ = run("trial", spec, "--rig", rig, "--map", told, "--edges", "60")
    assert code == 0, out
    # Another hold: the refusal says which number would have to change.
    (lamp / "lamp.c").write_text(LAMP.replace("HELD", "1200").replace("PRESSED", ""), encoding="utf-8")
    code, out, _ = run("trial", spec, "--rig", rig, "--map", told, "--edges", "60", "--kinds", "walks")
    assert code == 1
    assert "accept the measured value: `hold: {held: 1.1" in " ".join(out.split())
    # What is there is never overwritten.
    code, _, err = run("measure", rig, "--spec", spec, *QUICK)
    assert (code, "never overwritten" in err) == (2, True)
    assert Path(spec).read_text(encoding="utf-8") == text


@pytest.mark.parametrize(("pressed", "finding"), [("*(volatile int *)8 = 1;", "crashes"), ("for (;;) {}", "spins")])
def test_what_misbehaves_is_told_by_name(lamp: Path, pressed: str, finding: str) -> None:
    (lamp / "lamp.c").write_text(LAMP.replace("HELD", "1000").replace("PRESSED", pressed), encoding="utf-8")
    code, out, _ = run("measure", str(lamp / "rig.yaml"), *QUICK)
    assert code == 1
    assert out.startswith(f"THE FIRMWARE MISBEHAVES: {finding}")
    assert "power up, wait" in out


def test_a_spec_and_its_map_are_two_files(lamp: Path) -> None:
    both = ("--spec", str(lamp / "both.yaml"), "--map", f"{lamp}/./both.yaml")
    code, out, err = run("measure", str(lamp / "rig.yaml"), *both)
    assert (code, out, "can't be both the spec and its map" in err) == (2, "", True)


def test_what_misbehaves_at_its_start_is_told_without_a_press(lamp: Path) -> None:
    (lamp / "none.yaml").write_text(
        "rig: 1\nprogram: [sh, -c, echo]\nbuttons: {KEY: {}}\noutputs: {LAMP: {}}\n", encoding="utf-8"
    )
    code, out, _ = run("measure", str(lamp / "none.yaml"), *QUICK)
    assert code == 1
    assert "  do this                    power up\n" in out


def test_what_answers_nothing_is_no_measure(lamp: Path) -> None:
    (lamp / "lamp.c").write_text("void start(void) {}\nvoid step(void) {}\n", encoding="utf-8")
    code, out, _ = run("measure", str(lamp / "rig.yaml"), *QUICK)
    assert code == 3
    assert "nothing by itself" in out


def test_bad_input_is_2(lamp: Path) -> None:
    assert run("measure", str(lamp / "nowhere.yaml"))[0] == 2
    (lamp / "rig.yaml").write_text(WIRES.replace("buttons:", "inputs:").replace("closed", "on"), encoding="utf-8")
    code, _, err = run("measure", str(lamp / "rig.yaml"))
    assert (code, "nothing to press" in err) == (2, True)


def test_a_shipped_firmware_has_the_times_of_its_spec(tmp_path: Path) -> None:
    """Measured with no spec, read back, and compared with the one that its maker wrote; and the firmware meets it."""
    rig, spec, told = str(FIRMWARE / "trail-counter" / "rig.yaml"), tmp_path / "spec.yaml", tmp_path / "map.yaml"
    code, out, _ = run("measure", rig, "--spec", str(spec), "--map", str(told), "--longest", "25 s", "--taps", "1")
    assert code == 0, out
    device = read_device(spec.read_text(encoding="utf-8"), "measured.yaml")
    stated = read_device((ROOT / "specs" / "trail-counter.yaml").read_text(encoding="utf-8"), "stated.yaml")
    # The reader's is widened by what chatter may hide, and by the resolution.
    reader, own_reader = device.button("key").debounce, stated.button("key").debounce
    assert reader is not None
    assert own_reader is not None
    assert own_reader.lo - 1_000 <= reader.lo
    assert reader.hi <= own_reader.hi
    pairs: list[tuple[Span | None, Span | None]] = []
    for name in ("hold", "tap then hold"):
        own, other = device.gesture(name), stated.gesture(name)
        pairs += [(own.held, other.held), (own.press, other.press), (own.between, other.between)]
    assert device.supply is not None
    assert stated.supply is not None
    assert device.power_up is not None
    assert stated.power_up is not None
    pairs += [(device.supply.hold_up, stated.supply.hold_up), (device.power_up.takes, stated.power_up.takes)]
    pairs += [(device.state("lit").timeouts[0].after, stated.state("showing").timeouts[0].after)]
    for found, wanted in pairs:
        assert (found is None) == (wanted is None)
        assert found is None or wanted is None or (wanted.lo <= found.lo and found.hi <= wanted.hi), (found, wanted)
    # The count is found although nothing shows it in the dark, and that a footfall leaves the 20 s running.
    assert [len(variable.values) for variable in device.variables] == [3]
    assert not any(
        line.restarts or line.target for line in device.state("lit").transitions if line.gesture == "footfall"
    )
    code, out, _ = run("trial", str(spec), "--rig", rig, "--map", str(told), "--edges", "80")
    assert code == 0, out
