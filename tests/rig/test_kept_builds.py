"""What was built is kept while it is used, and taken away 30 days after."""

from __future__ import annotations

import fcntl
import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

from nudgeproof.rig.build import CantBuild, build
from nudgeproof.rig.kept import KEPT_FOR_S, is_kept, keep
from nudgeproof.rig.settings import read_settings
from tests.rig.devices import ROOT, SMALL

FIRMWARE = '#include "rig.h"\nint main(void) { for (;;) rig_delay(COUNT); }\n'


def age(path: Path, seconds: float) -> None:
    os.utime(path, (time.time() - seconds,) * 2)


def test_what_nobody_used_for_long_goes_when_another_is_built(tmp_path: Path) -> None:
    built = tmp_path / "built"
    built.write_text("new")
    folder = tmp_path / "kept"
    folder.mkdir()
    for name, seconds in (("old", KEPT_FOR_S + 60), ("young", KEPT_FOR_S - 60), ("used", KEPT_FOR_S + 60)):
        (folder / name).write_text(name)
        age(folder / name, seconds)
    (folder / "left.123").symlink_to(tmp_path / "built")
    os.utime(folder / "left.123", (0, 0), follow_symlinks=False)
    (folder / "folder").mkdir()
    age(folder / "folder", 2 * KEPT_FOR_S)
    assert is_kept(folder / "used")
    assert not is_kept(folder / "none")
    keep(built, folder / "new")
    assert sorted(path.name for path in folder.iterdir()) == ["folder", "lock", "new", "used", "young"]
    assert built.read_text() == "new"


def test_nothing_goes_while_somebody_looks(tmp_path: Path) -> None:
    (tmp_path / "old").write_text("old")
    age(tmp_path / "old", 2 * KEPT_FOR_S)
    with (tmp_path / "lock").open("w") as looks:
        fcntl.flock(looks, fcntl.LOCK_SH)
        keep(tmp_path / "old", tmp_path / "new")
        assert (tmp_path / "old").exists()
    keep(tmp_path / "new", tmp_path / "newer")
    assert not (tmp_path / "old").exists()


def test_a_file_that_was_found_is_there_however_many_build(tmp_path: Path) -> None:
    """One process finds a file that is old again and again, and uses it; two build other things all the while."""
    (tmp_path / "built").write_text("built")
    builds = (
        "import os, sys; from pathlib import Path; from nudgeproof.rig.kept import keep\n"
        "here = Path(sys.argv[1])\nwhile not (here / 'stop').exists(): keep(here / 'built', here / f'other{os.getpid()}')"
    )
    command = [sys.executable, "-c", builds, str(tmp_path)]
    others = [subprocess.Popen(command, cwd=ROOT) for _ in range(2)]
    found = gone = 0
    try:
        for _ in range(400):
            (tmp_path / "program").write_text("program")
            age(tmp_path / "program", 2 * KEPT_FOR_S)
            age(tmp_path / "built", 0)
            if is_kept(tmp_path / "program"):
                found += 1
                time.sleep(0.0005)
                assert (tmp_path / "program").read_text() == "program"
            else:
                gone += 1
    finally:
        (tmp_path / "stop").write_text("")
        assert [other.wait(20) for other in others] == [0, 0]
    assert found > 10
    assert found + gone == 400


def test_a_build_is_used_again_and_renewed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    settings = read_settings(SMALL.format(entry="main", more=""), "rig.yaml")
    (tmp_path / "a.c").write_text(FIRMWARE.replace("COUNT", "99"))
    first = build(settings, tmp_path).path
    age(first, KEPT_FOR_S - 60)
    assert build(settings, tmp_path).path == first
    assert first.stat().st_mtime > time.time() - 60
    age(first, KEPT_FOR_S + 60)
    (tmp_path / "a.c").write_text(FIRMWARE.replace("COUNT", "98"))
    second = build(settings, tmp_path).path
    assert (first.exists(), second.exists()) == (False, True)
    first.parent.chmod(0o777)
    with pytest.raises(CantBuild, match="belongs to somebody else"):
        build(settings, tmp_path)
