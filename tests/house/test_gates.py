"""The gates a change must pass beside the tests themselves, so that one command is all of CI."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
GATES = {
    "ruff check": ["ruff", "check", "--no-cache", "."],
    "ruff format": ["ruff", "format", "--no-cache", "--check", "."],
    "mypy": ["mypy", "--cache-dir", os.devnull],
    "import contracts": ["lint-imports", "--no-cache"],
}


@pytest.mark.parametrize("gate", GATES)
def test_gate(gate: str) -> None:
    program, *arguments = GATES[gate]
    beside = Path(sys.executable).parent / program
    command = str(beside) if beside.exists() else shutil.which(program)
    assert command, f"{program} is not installed; `pip install -e '.[test]'` brings it"
    done = subprocess.run([command, *arguments], cwd=ROOT, capture_output=True, text=True)
    assert done.returncode == 0, done.stdout + done.stderr
