"""The hook that other projects take from this one: its manifest, the files it is for, and the command it starts."""

import os
import re
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
import yaml

from nudgeproof.cli.commands import EVERYDAY
from tests.snapshots.screens import ROOT

MANIFEST = ROOT / ".pre-commit-hooks.yaml"


def test_the_manifest_is_one(tmp_path: Path) -> None:
    beside = Path(sys.executable).parent / "pre-commit"
    program = str(beside) if beside.exists() else shutil.which("pre-commit")
    assert program, "pre-commit is not installed; `pip install -e '.[test]'` brings it"
    environment = {**os.environ, "PRE_COMMIT_HOME": str(tmp_path / "home")}
    command = [program, "validate-manifest"]
    done = subprocess.run([*command, str(MANIFEST)], env=environment, capture_output=True, text=True)
    assert done.returncode == 0, done.stdout + done.stderr
    bad = tmp_path / "hooks.yaml"
    bad.write_text(MANIFEST.read_text(encoding="utf-8").replace("entry:", "enter:"), encoding="utf-8")
    assert subprocess.run([*command, str(bad)], env=environment, capture_output=True).returncode == 1


@pytest.mark.parametrize(
    ("file", "is_taken"),
    [
        ("specs/lamp.yaml", True),
        ("specs/hall/lamp.yml", True),
        ("lamp/specs/lamp.yaml", True),
        ("lamp/rig.yaml", False),
        ("myspecs/lamp.yaml", False),
        ("specs/readme.md", False),
    ],
)
def test_it_is_for_specs_alone(file: str, is_taken: bool) -> None:
    (hook,) = yaml.safe_load(MANIFEST.read_text(encoding="utf-8"))
    assert (re.search(hook["files"], file) is not None) is is_taken
    program, command = shlex.split(hook["entry"])
    assert program == "nudgeproof"
    assert command in {one.name for one in EVERYDAY}
