"""`nudgeproof supply`: what it prints, compares, draws, writes, and how it refuses.

Figures are worked out beside each check.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

import pytest

from tests.amount import each
from tests.snapshots.screens import run

LAMP = """\
spec: 1
device: shelf lamp
buttons: {pad: {debounce: 20 ms}}
gestures: {hold: {held: 1 s}}
initial: off
states:
  off: {sleep: {woken by: [pad], on: edge, ready in: 1 ms, dozes again after: 50 ms}, transitions: {hold: lit}}
  lit: {transitions: {hold: off}}
power up: {takes: 50 ms}
supply:
  cells: {fresh: {open: 3.0 V, with 10 mA: 2.9 V}, spent: {open: 2.6 V, resistance: 60 ohm}, charge: 100 mAh}
  capacitor: {size: 100 uF}
  brown-out: {level: 2 V, hysteresis: 0.1 V, responds in: 0 ms}
  works from: 1.8 V
loads:
  idle: {draws: 1 mA, in: off}
  lamp: {draws: 5 mA, in: lit}
use:
  evenings: {lit: 6 h, presses: 4}
surroundings:
  knocks: {closes pad: 2 to 40 ms, then open at least: 300 ms}
  spring: {cell gone: up to 10 ms, then steady at least: 2 s}
"""


@pytest.fixture
def lamp(tmp_path: Path) -> str:
    path = tmp_path / "lamp.yaml"
    path.write_text(LAMP, encoding="utf-8")
    return str(path)


def line_of(text: str, start: str, after: str = "") -> list[str]:
    """The words of the first line that begins so, after a heading."""
    rest = text[text.index(after) :]
    return next(line for line in rest.splitlines() if line.startswith(start)).split()


def test_the_voltage_of_each_state(lamp: str) -> None:
    """`E - I R`: 3.0 V - 5 mA * 10 ohm = 2.95 V fresh; 2.6 V - 5 mA * 60 ohm = 2.3 V used up.

    That is 0.35 V above 2 V - 0.1 V / 2, where it resets.
    """
    code, text, _ = run("supply", lamp)
    assert code == 0
    assert line_of(text, "  lit ")[:10] == ["lit", "5", "mA", "2.95", "V", "2.3", "V", "+0.35", "V", "never"]
    assert line_of(text, "  resistance")[1:] == ["10", "ohm", "60", "ohm"]


def test_how_long_a_capacitor_holds_up(lamp: str) -> None:
    """`C dV / I` down to 1.95 V: from 2.3 V with 5 mA 100 uF * 0.35 V / 5 mA = 7 ms, from 2.95 V 20 ms."""
    text = run("supply", lamp)[1]
    shortest, unit, longest, other = line_of(text, "  lit ", "When contact is lost")[1:]
    assert (unit, other) == ("ms", "ms")
    assert float(shortest) == pytest.approx(7, abs=0.02)
    assert float(shortest) <= 7
    assert float(longest) == pytest.approx(20, abs=0.11)
    assert float(longest) >= 20


def test_the_capacitor_that_would_bridge_the_loss(lamp: str) -> None:
    """10 ms * 5 mA / 0.35 V = 143 uF; the next of E12 (IEC 60063) is 150 uF."""
    text = " ".join(run("supply", lamp)[1].split())
    assert "it takes a capacitor of 143 uF" in text
    assert "(E12) is 150 uF. Most is needed in lit" in text


def test_how_long_the_cells_last(lamp: str) -> None:
    """6 h at 5 mA and 18 h at 1 mA are 48 mAh a day, 2 mA on average: 100 mAh last 50 h, less what presses take."""
    text = run("supply", lamp)[1]
    assert line_of(text, "  lit ", "A day of evenings")[1:3] == ["30", "mAh"]
    assert line_of(text, "  the rest of the day in off", "A day of evenings")[-4:-2] == ["18", "mAh"]
    lasts = line_of(text, "  The cells last")
    assert float(lasts[3]) == pytest.approx(50, rel=0.02)


def test_variants_side_by_side(lamp: str) -> None:
    code, text, _ = run("supply", lamp, "--with", "supply.capacitor.size=1 mF", "--with", "loads.lamp.draws=1 mA")
    assert code == 0
    lines = text.splitlines()
    start = lines.index("longest loss unnoticed")
    told = [line.split()[-2:] for line in lines[start + 1 : start + 4]]
    # Ten times the capacitor, ten times the loss; a fifth of the load, at 2.54 V, 100 uF * 0.59 V / 1 mA.
    assert [float(number) for number, _ in told] == pytest.approx([7, 70, 59], abs=0.02)
    assert {unit for _, unit in told} == {"ms"}


def test_several_changes_of_one_variant(lamp: str) -> None:
    text = run("supply", lamp, "--with", "supply.capacitor.size=200 uF; loads.lamp.draws=10 mA")[1]
    assert "as it is" in text
    assert "200 uF; loads" in text


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ("supply.capacitor.size", "isn't KEY=VALUE"),
        ("=3 V", "isn't KEY=VALUE"),
        ("supply.capacitor.size=", "isn't KEY=VALUE"),
        ("supply.fuse.size=3 A", "the spec has no `supply.fuse`"),
        ("supply.capacitor.size=3 V", "is a voltage, not a capacitance"),
        ("supply.capacitor.weight=3", "`weight` is no key"),
    ],
)
def test_a_change_that_makes_no_sense(lamp: str, change: str, told: str) -> None:
    code, text, complaint = run("supply", lamp, "--with", change)
    assert (code, text) == (2, "")
    assert told in complaint
    assert "Traceback" not in complaint


def test_a_spec_without_cells(tmp_path: Path) -> None:
    code, _, complaint = run("supply", "specs/rain-cover-light.yaml")
    assert code == 2
    assert "says nothing of its `cells`" in complaint


@pytest.mark.parametrize(("form", "start"), each(2, [("svg", b"<?xml"), ("png", b"\x89PNG")]))
def test_a_picture(lamp: str, tmp_path: Path, form: str, start: bytes) -> None:
    target = tmp_path / f"lamp.{form}"
    assert run("supply", lamp, "--plot", str(target))[0] == 0
    first = target.read_bytes()
    assert first.startswith(start)
    assert run("supply", lamp, "--plot", str(target))[0] == 0
    assert target.read_bytes() == first


def test_a_picture_of_another_kind(lamp: str, tmp_path: Path) -> None:
    code, _, complaint = run("supply", lamp, "--plot", str(tmp_path / "lamp.pdf"))
    assert code == 2
    assert ".svg or .png" in complaint


def test_a_picture_without_the_library(lamp: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "matplotlib", None)
    code, _, complaint = run("supply", lamp, "--plot", str(tmp_path / "lamp.svg"))
    assert code == 2
    assert "pip install" in complaint


def test_for_other_programs(lamp: str) -> None:
    code, text, _ = run("supply", lamp, "--json", "-", "--with", "supply.capacitor.size=1 mF")
    assert code == 0
    document = json.loads(text)
    first, second = document["variants"]
    assert (document["format"], first["with"], second["with"]) == (1, "as it is", "supply.capacitor.size=1 mF")
    (lit,) = [one for one in first["states"] if one["where"] == "lit"]
    assert lit["used"]["from"] == pytest.approx(2.3)
    assert lit["used"]["unit"] == "V"
    assert second["longest_loss_us"] == pytest.approx(10 * first["longest_loss_us"], rel=0.01)


def test_cautions_where_they_apply(lamp: str, tmp_path: Path) -> None:
    buzzer = tmp_path / "buzzer.yaml"
    buzzer.write_text(LAMP.replace("lamp: {draws", "buzzer: {draws"), encoding="utf-8")
    text = " ".join(run("supply", str(buzzer))[1].split())
    assert "children and animals swallow button cells" in text
    assert "no safety class is claimed" in text
    assert "flashes" not in text
    assert "flashes more than three times a second" in " ".join(run("supply", lamp)[1].split()), "by its name"
    charged = tmp_path / "charged.yaml"
    events = "events: {charger in: {}}\nsurroundings:\n  cable: {makes: charger in, then none for at least: 1 s}\n"
    text = LAMP.replace("surroundings:\n", events).replace("lamp: {draws: 5 mA,", "lamp: {led: 2 V, resistor: 100 ohm,")
    charged.write_text(text, encoding="utf-8")
    text = " ".join(run("supply", str(charged))[1].split())
    assert "must never be charged" in text
    assert "flashes more than three times a second" in text


def test_check_tells_the_longest_loss_and_the_life(lamp: str) -> None:
    text = " ".join(run("check", lamp)[1].split())
    assert "Reckoned of the supply" in text
    assert "surely goes unnoticed, wherever the device is on" in text
    assert "in evenings the cells last" in text
    assert "a capacitor of 150 uF would bridge 10 ms" in text


WEAK = """\
spec: 1
device: tent lamp with a name that is rather long
buttons: {knob: {debounce: 20 ms}}
gestures: {tap: {taps: 1, press: up to 400 ms}}
initial: dark
states:
  dark:
    sleep: {woken by: [knob], on: edge, ready in: 1 ms, dozes again after: 50 ms}
    transitions: {tap: brightest light of all of them}
  brightest light of all of them: {transitions: {tap: dark}}
power up: {takes: 60 ms}
supply:
  cells: {fresh: {open: 4.8 V, with 100 mA: 4.6 V}, spent: {open: 3.2 V, with 100 mA: 2.6 V}, charge: 2000 mAh}
  brown-out: {level: 2.4 to 2.6 V}
loads:
  processor: {draws: 2 mA, while: running}
  bright LED of the tent: {draws: 150 mA, peak: 300 mA, in: brightest light of all of them}
"""


def test_it_fits_a_terminal_and_says_what_nothing_holds_up(tmp_path: Path) -> None:
    path = tmp_path / "lamp.yaml"
    path.write_text(WEAK, encoding="utf-8")
    for spec in (str(path), "specs/cellar-lamp.yaml"):
        _, _, *lines = run("supply", spec)[1].splitlines()  # the second is the file's name, however long
        assert max(map(len, lines)) <= 80
    text = run("supply", str(path))[1]
    assert "any loss of contact may reset it" in text
    # With all peaks at once 302 mA: 4.8 V - 1.6 V u - 0.302 A (2 + 4 u) ohm = 2.6 V at u = 1.596 / 2.808, 56.8 %; without
    # them and at the lowest level 152 mA give 2.4 V at u = 2.096 / 2.208, 94.9 %.
    assert "56.8 % (all: 94.9 %)" in text
