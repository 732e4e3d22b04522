"""docs/on-the-board.md: its commands run, its figures come out, its drawing is there and says what the text says."""

from __future__ import annotations

import re
from fractions import Fraction
from xml.etree import ElementTree

from nudgeproof.cli.commands import build_parser
from nudgeproof.cli.files import read_spec
from nudgeproof.firmware.mapping import read_map
from nudgeproof.rig.player import MOST_LINES, PAUSE_US
from tests.rig.devices import ROOT
from tests.rig.test_player import JITTER_US

PAGE = (ROOT / "docs" / "on-the-board.md").read_text(encoding="utf-8")


def test_its_commands_are_understood_and_name_files_that_are_there() -> None:
    commands = re.findall(r"^ *nudgeproof (.+)$", PAGE, re.MULTILINE)
    assert len(commands) == 3
    for command in commands:
        words = command.split()
        assert build_parser().parse_args(words).command
        assert all((ROOT / word).exists() for word in words if word.startswith(("specs/", "firmware/")))


def test_its_map_is_read() -> None:
    (told,) = re.findall(r"```yaml\n(.*?)```", PAGE, re.DOTALL)
    text = "\n".join(line[3:] for line in told.splitlines())
    what, _ = read_map(text, "map.yaml", read_spec(str(ROOT / "specs" / "rain-cover-light.yaml")))
    assert (what.period_us, what.powers_up, what.used, len(what.channels)) == (30, True, True, 3)
    assert all(channel.high for channel in what.channels)


def test_its_figures_come_out() -> None:
    assert "(3.3 V - 0.7 V) / 10 kohm = 0.26 mA" in PAGE
    assert Fraction("2.6") / 10_000 == Fraction("0.26") / 1_000
    assert "3.3 V / 2.6 mA = 1.3 kohm" in PAGE
    assert round(3.3 / 2.6, 1) == 1.3
    assert "100 nF at 3 V within 12 us" in PAGE
    assert round(100e-9 * 3 / 26e-3 * 1e6) == 12
    assert f"at most {JITTER_US} us" in PAGE
    assert f"({PAUSE_US // 1_000_000} s, or what" in PAGE
    assert {7: "up to seven lines"}[MOST_LINES] in PAGE


def test_its_drawing_has_each_part_of_its_table() -> None:
    drawing = ElementTree.parse(ROOT / "diagrams" / "on-the-board.svg").getroot()
    words = " ".join(text.text or "" for text in drawing.iter("{http://www.w3.org/2000/svg}text"))
    table = PAGE.partition("| part |")[2].partition("\n\n")[0]
    parts = re.findall(r"\b([TR]\d)\b", "\n".join(line.split("|")[1] for line in table.splitlines()[2:]))
    assert sorted(parts) == ["R1", "R2", "R3", "R4", "R5", "T1", "T2", "T3"]
    assert all(part in words for part in parts)
    for value in ("10 kohm", "100 kohm"):
        assert value in table
        assert value.replace("kohm", "k") in words
