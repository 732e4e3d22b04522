"""What can't be built is told in one message, and what was built is kept."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest

from nudgeproof.cli import main
from nudgeproof.rig.build import CantBuild, Program, build
from nudgeproof.rig.run import run
from nudgeproof.rig.settings import read_settings
from tests.rig.devices import SMALL, act, becomes_free, small

GOOD = "int main(void) { for (;;) rig_delay(99); }"


def complaint(code: str, folder: Path, entry: str = "main", more: str = "") -> str:
    with pytest.raises(CantBuild) as caught:
        small(code, folder, entry=entry, more=more)
    return str(caught.value)


def test_a_missing_compiler_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.delenv("CC", raising=False)
    monkeypatch.setattr("importlib.util.find_spec", lambda name: None)
    assert complaint(GOOD, tmp_path).startswith(
        "there is no C compiler: neither `cc` nor the package `ziglang`; install"
    )
    monkeypatch.setenv("CC", "no-such-compiler -m32")
    assert complaint(GOOD, tmp_path) == "there is no compiler `no-such-compiler`, which CC names"


def test_a_call_that_is_nowhere_is_told_by_name(tmp_path: Path) -> None:
    said = complaint("int main(void) { start_radio(); for (;;) rig_delay(spi_put(3)); }", tmp_path)
    assert said.startswith(
        "rig.yaml: the firmware calls `start_radio`, `spi_put`, which neither the sources nor the harness"
    )
    assert "under `sources`" in said


@pytest.mark.parametrize(
    ("entry", "wants"),
    [
        ("main", "`main`; `entry: main` calls `main`"),
        ("sketch", "`setup`, `loop`"),
        ("step every 1 ms", "`start`, `step`"),
    ],
)
def test_a_missing_entry_is_told(entry: str, wants: str, tmp_path: Path) -> None:
    assert f"the sources have no {wants}" in complaint("int other;", tmp_path, entry)


def test_a_missing_header_is_told(tmp_path: Path) -> None:
    said = complaint(f"#include <board/io.h>\n{GOOD}", tmp_path)
    assert said.startswith("rig.yaml: the header `board/io.h`, which a.c includes, isn't there")
    assert not small(f"#include <board/io.h>\n{GOOD}", tmp_path, more="headers: [board/io.h]").finding


def test_a_mistake_in_c_is_told_in_the_compilers_words(tmp_path: Path) -> None:
    said = complaint("int main(void) { int x = ; }", tmp_path)
    assert said.startswith("rig.yaml: a.c can't be compiled\n")
    assert re.search(r"a\.c:2:\d+: error", said)


def test_a_program_that_is_gone_is_told(tmp_path: Path) -> None:
    settings = read_settings(SMALL.format(entry="main", more=""), "rig.yaml")
    with pytest.raises(CantBuild, match="can't be started: No such file or directory"):
        run(Program(tmp_path / "gone", True), settings, act([], 10))


def test_a_missing_source_is_told(tmp_path: Path) -> None:
    settings = read_settings(SMALL.format(entry="main", more=""), "rig.yaml")
    with pytest.raises(CantBuild, match=r"there is no source `a\.c` beside it"):
        build(settings, tmp_path)


def test_what_was_built_is_kept_until_a_header_changes(tmp_path: Path) -> None:
    (tmp_path / "a.c").write_text(f'#include "rig.h"\n#include "mine.h"\n{GOOD}')
    (tmp_path / "mine.h").write_text("#define MINE 1\nstatic int x = MINE;")
    settings = read_settings(SMALL.format(entry="main", more=""), "rig.yaml")
    first = build(settings, tmp_path)
    assert build(settings, tmp_path) == first
    (tmp_path / "mine.h").write_text("#define MINE 2\nstatic int x = MINE;")
    assert build(settings, tmp_path).path != first.path
    assert build(settings, tmp_path, use_blocks=False).path not in (first.path, build(settings, tmp_path).path)


def test_a_macro_without_an_end_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("nudgeproof.rig.build.LARGEST_FILE", 2**20)
    macros = "#define M0 int x;\n" + "".join(f"#define M{i + 1} M{i} M{i}\n" for i in range(40))
    assert complaint(f"{macros}M40\n{GOOD}", tmp_path).startswith("rig.yaml: a.c can't be compiled\n")


def test_a_compiler_that_hangs_is_ended_with_all_that_it_started(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("nudgeproof.rig.build.LONGEST_BUILD_S", 1)
    compiler = tmp_path / "hangs"
    compiler.write_text("#!/bin/sh\nexec 9>held\nflock 9 2>/dev/null\nsleep 60 &\nsleep 60\n")
    compiler.chmod(0o755)
    monkeypatch.setenv("CC", str(compiler))
    monkeypatch.chdir(tmp_path)
    assert complaint(GOOD, tmp_path).endswith("took longer than 1 s")
    if shutil.which("flock"):
        assert becomes_free(tmp_path / "held")


def test_the_command_records(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "a.c").write_text(
        '#include "rig.h"\nint main(void) { for (;;) { rig_write(5, !rig_read(2)); if (rig_load(0)'
        " != 7) rig_store(0, 7); rig_delay(900); } }"
    )
    rig, table, memory = tmp_path / "rig.yaml", tmp_path / "s.csv", tmp_path / "memory.bin"
    rig.write_text(SMALL.format(entry="main", more=""))
    table.write_text("time_us,key\n0,0\n5000,1\n9000,0\n20000,0\n")
    assert main(["rig", str(rig), "--stimulus", str(table), "--memory", str(memory)]) == 0
    screen = capsys.readouterr()
    assert screen.out.startswith("time_us,supply,key,lamp\n0,1,0,0\n5000,1,1,0\n")
    assert screen.err.endswith("time passed in each basic block\n")
    assert memory.read_bytes() == bytes([7, 255, 255, 255])
    # A recording is a stimulus, and the same comes of it.
    kept = tmp_path / "recording.csv"
    kept.write_text(screen.out)
    again = tmp_path / "again.csv"
    assert main(["rig", str(rig), "--stimulus", str(kept), "--csv", str(again)]) == 0
    assert again.read_text() == screen.out
    (tmp_path / "a.c").write_text('#include "rig.h"\nint main(void) { rig_write(99, 1); }')
    capsys.readouterr()
    assert main(["rig", str(rig), "--stimulus", str(table)]) == 1
    assert (
        "FINDING  asks amiss: it asked for a pin, a byte or a level that there isn't; there is no pin 99"
        in capsys.readouterr().err
    )
    assert main(["rig", str(rig), "--stimulus", str(tmp_path / "none.csv")]) == 2
    assert main(["rig", str(table), "--stimulus", str(table)]) == 2
