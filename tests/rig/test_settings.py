"""`rig.yaml` and stimulus tables: what is wrong is told with its place."""

from __future__ import annotations

import pytest

from nudgeproof.diagnostics import SpecErrors
from nudgeproof.rig.settings import read_settings
from nudgeproof.rig.stimulus import read_stimulus

GOOD = """rig: 1
sources: [a.c]
entry: main
buttons: {key: {pin: 2, closed: low}}
inputs: {mat: {pin: PB1}}
outputs: {lamp: {pin: 5, level: 1 to 80}, pump: {pin: 6, on: low}, sleep: {asleep: deeply}, saving: {writes: memory}}
memory: {bytes: 64, write takes: 3.4 ms}
power: {hold-up: 5 ms, starts in: 70 ms, latch: 7, closed by: [key], lets go: 1 ms}
wakes in: 2 ms
clock: {bits: 16, starts at: 65 s}
each block: 2 us
external interrupts: [PD2]
"""

BAD = {
    ("rig: 1\n", ""): "rig.yaml:1:1: the rig has no `rig`",
    ("rig: 1", "rig: 2"): "rig.yaml:1:6: `rig` of the rig is `2`",
    ("[a.c]", "[a.py]"): "rig.yaml:2:11: the source `a.py`",
    ("sources: [a.c]\n", ""): "the rig has no `sources`",
    ("entry: main", "entry: loop"): "rig.yaml:3:8: `entry` is `loop`",
    ("entry: main", "entry: step every 1"): "rig.yaml:3:8: `entry` of the rig",
    ("pin: 2", "pin: 64"): "rig.yaml:4:22: the pin of button `key` is `64`",
    ("pin: 2", "pin: 9"): "rig.yaml:5:10: input `mat` is wired to a pin that has an input",
    (
        "closed: low",
        "closed: lo",
    ): "rig.yaml:4:33: `closed` of button `key` is `lo`; it says which level of the pin means closed;"
    " did you mean `low`?",
    ("{mat:", "{key:"): "rig.yaml:5:10: the name `key` is taken",
    ("{mat:", "{supply:"): "the name `supply` is taken",
    ("1 to 80", "80 to 1"): "rig.yaml:6:33: `level` of output `lamp` is `80 to 1`",
    ("deeply", "a bit"): "`asleep` of output `sleep` is `a bit`",
    ("{asleep: deeply}", "{asleep: deeply, pin: 3}"): "output `sleep` has `asleep` beside other keys",
    ("{writes: memory}", "{writes: flash}"): "`writes` of output `saving` is `flash`",
    ("{writes: memory}", "{writes: memory, pin: 3}"): "output `saving` has `writes` beside other keys",
    (", write takes: 3.4 ms", ""): "an output `writes: memory`, and no write takes time",
    ("bytes: 64", "bytes: 0"): "rig.yaml:7:17: `bytes` of `memory` is `0`; it is a number from 1 to 65536",
    ("3.4 ms", "3 to 4 ms"): "rig.yaml:7:34: `write takes` of `memory`: `3 to 4 ms` is a range",
    (", closed by: [key]", ""): "`latch` and `closed by` of `power` need each other",
    ("[key]", "[lamp]"): "there is no button `lamp`",
    ("bits: 16", "bits: 8"): "rig.yaml:10:15: `bits` of `clock` is `8`",
    ("each block: 2 us", "each block: 0 us"): "`each block` of the rig: `0 us` is too short",
    ("[PD2]", "[PD2, PD3, PD4]"): "`external interrupts` has 3 pins",
    ("wakes in", "wakes on"): "`wakes on` is no key of the rig",
}


def read(text: str) -> str:
    with pytest.raises(SpecErrors) as caught:
        read_settings(text, "rig.yaml")
    return str(caught.value)


def test_a_good_one_is_read() -> None:
    settings = read_settings(GOOD, "rig.yaml")
    assert [channel.name for channel in settings.channels] == [
        "supply",
        "key",
        "mat",
        "lamp",
        "pump",
        "sleep",
        "saving",
    ]
    assert (settings.power.latch, settings.clock_bits, settings.block_us, settings.external) == (7, 16, 2, (26, 27))


@pytest.mark.parametrize("change", BAD)
def test_a_mistake_is_located(change: tuple[str, str]) -> None:
    assert change[0] in GOOD
    assert BAD[change] in read(GOOD.replace(*change, 1))


@pytest.mark.parametrize("text", ["", "- a", "rig", "{", "rig: {a: b}", "rig: 1\noutputs: [a]\nsources: {}\nentry: []"])
def test_anything_else_is_told_too(text: str) -> None:
    assert read(text).startswith("rig.yaml")


PROGRAM = """rig: 1
program: [python3, -u, lamp.py, lamp.py]
answers within: 90 s
buttons: {key: {}}
inputs: {mat: }
outputs: {lamp: {}, hold: {}, sleep: {asleep: at all}}
memory: {bytes: 64, write takes: 3.4 ms}
power: {hold-up: 5 ms, starts in: 70 ms, latch: hold, closed by: [key], lets go: 1 ms}
"""

BAD_PROGRAMS = {
    ("[python3, -u, lamp.py, lamp.py]", "[]"): "rig.yaml:2:10: `program` is an empty list",
    ("[python3, -u, lamp.py, lamp.py]", "{a: b}"): "rig.yaml:2:10: `program` is",
    ("90 s", "0 s"): "`answers within` of the rig: `0 s` is too short",
    (
        "rig: 1",
        "rig: 1\nsources: [a.c]",
    ): "rig.yaml:2:1: `sources` beside `program`; it is for C sources; a program is run"
    " as it is, in times of its own; take one of them out",
    ("rig: 1", "rig: 1\nclock: {bits: 16}"): "rig.yaml:2:1: `clock` beside `program`",
    ("program: [python3, -u, lamp.py, lamp.py]", "sources: [a.c]\nentry: main"): "`answers within` without `program`",
    (
        "key: {}",
        "key: {pin: 2}",
    ): "rig.yaml:4:16: `key` says more than its name; a program tells and is told 1 for what is"
    " on or closed; write `key: {}`",
    ("key: {}", "key: {asleep: deeply}"): "`key` says more than its name",
    (
        "lamp: {}",
        "lamp: {level: 1 to 9}",
    ): "`lamp` says more than its name; a program tells and is told 1 for what is on or"
    " closed; write `lamp: {}` or `sleep: {asleep: deeply}`",
    ("lamp: {}", "lamp: 5"): "`lamp` says more than its name",
    ("lamp: {}", "key: {}"): "the name `key` is taken",
    ("at all", "a bit"): "`asleep` of `sleep` is `a bit`",
    ("latch: hold", "latch: key"): "there is no output `key`",
    ("latch: hold", "latch: 7"): "there is no output `7`",
    ("latch: hold, ", ""): "`latch` and `closed by` of `power` need each other",
}


def test_a_program_is_read() -> None:
    settings = read_settings(PROGRAM, "rig.yaml")
    assert settings.program == ("python3", "-u", "lamp.py", "lamp.py")
    assert settings.answers_us == 90_000_000
    kinds = [(channel.name, channel.kind) for channel in settings.channels[1:]]
    assert kinds == [("key", "in"), ("mat", "in"), ("lamp", "out"), ("hold", "out"), ("sleep", "asleep")]
    assert (settings.power.latch, settings.power.closed_by, settings.bytes) == (1, ("key",), 64)


@pytest.mark.parametrize("change", BAD_PROGRAMS)
def test_a_mistake_about_a_program_is_located(change: tuple[str, str]) -> None:
    assert change[0] in PROGRAM
    assert BAD_PROGRAMS[change] in read(PROGRAM.replace(*change, 1))


TABLE = "time_us,key,lamp\n0,0,0\n500,1,0\n900,0,1\n"

BAD_TABLES = {
    ("time_us", "time"): "s.csv:1:1: the first column is `time`",
    (",key", ",kye"): "s.csv:1:9: there is no input `kye`; the rig wires none of that name; did you mean `key`?",
    (",lamp", ",key"): "s.csv:1:13: the column `key` is here a second time",
    ("500,1,0", "500,1"): "s.csv:3:1: 2 cells under 3 columns",
    ("500,1", "500,2"): "s.csv:3:1: the level `2` of `key`",
    ("900", "500"): "s.csv:4:1: the time `500`",
    ("900", "9e2"): "s.csv:4:1: the time `9e2`",
}


def test_a_table_is_read_with_its_outputs_passed_over() -> None:
    stimulus = read_stimulus(TABLE, "s.csv", read_settings(GOOD, "rig.yaml"))
    assert [(c.at_us, c.channel, c.level) for c in stimulus.changes] == [(500, "key", True), (900, "key", False)]
    assert stimulus.end_us == 900


@pytest.mark.parametrize("change", BAD_TABLES)
def test_a_mistake_in_a_table_is_located(change: tuple[str, str]) -> None:
    assert change[0] in TABLE
    with pytest.raises(SpecErrors) as caught:
        read_stimulus(TABLE.replace(*change, 1), "s.csv", read_settings(GOOD, "rig.yaml"))
    assert BAD_TABLES[change] in str(caught.value)


@pytest.mark.parametrize("table", ["", "time_us,key", "time_us,key\n0,0"])
def test_a_table_without_an_end_is_told(table: str) -> None:
    with pytest.raises(SpecErrors):
        read_stimulus(table, "s.csv", read_settings(GOOD, "rig.yaml"))
