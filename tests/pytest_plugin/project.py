"""A small project in a folder of its own, and pytest run on it with the plugin."""

from __future__ import annotations

import shutil
from importlib.metadata import entry_points
from pathlib import Path

import pytest

# A run within this process forgets modules that it imports itself; those that are there already stay.
import nudgeproof.pytest_plugin.settings
import nudgeproof.testing
from tests.firmware.lamp import MAP, TEXT
from tests.rig.test_trials import LAMP, WIRES
from tests.snapshots.screens import ROOT

IS_INSTALLED = any(one.value == "nudgeproof.pytest_plugin" for one in entry_points(group="pytest11"))
"""Whether pytest finds the plugin by itself; where the sources alone are on the path it has to be told."""

INI = "[pytest]\naddopts = --strict-markers --strict-config\nfilterwarnings = error\n"
WAKE = "specs/failures/accidental-wake"


def begin(pytester: pytest.Pytester, *settings: str) -> Path:
    """A project with two specs and, in its ini file, these settings."""
    (pytester.path / "pytest.ini").write_text(INI + "\n".join(settings) + "\n", encoding="utf-8")
    (pytester.path / "specs").mkdir()
    for name in ("broken", "mended"):
        shutil.copy(ROOT / WAKE / f"{name}.yaml", pytester.path / "specs")
    return pytester.path


def add_lamp(folder: Path, held: int = 1000, pressed: str = "") -> None:
    """A lamp that a hold of so many milliseconds switches, with its spec, its map and its rig."""
    (folder / "lamp").mkdir(exist_ok=True)
    (folder / "lamp.yaml").write_text(TEXT, encoding="utf-8")
    (folder / "lamp" / "map.yaml").write_text(MAP.format(period=1100), encoding="utf-8")
    (folder / "lamp" / "rig.yaml").write_text(WIRES, encoding="utf-8")
    text = LAMP.replace("HELD", str(held)).replace("PRESSED", pressed)
    (folder / "lamp" / "lamp.c").write_text(text, encoding="utf-8")


def run(pytester: pytest.Pytester, *arguments: str) -> pytest.RunResult:
    """pytest within this process, without a cache."""
    plugins = [] if IS_INSTALLED else [nudgeproof.pytest_plugin]
    return pytester.runpytest_inprocess("-p", "no:cacheprovider", *arguments, plugins=plugins)


def run_apart(pytester: pytest.Pytester, *arguments: str) -> pytest.RunResult:
    """pytest in a process of its own, with the same sources."""
    plugin = [] if IS_INSTALLED else ["-p", "nudgeproof.pytest_plugin"]
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("PYTHONPATH", str(Path(nudgeproof.__file__).parents[1]))
        patch.delenv("PYTEST_ADDOPTS", raising=False)
        return pytester.runpytest_subprocess(*plugin, "-p", "no:cacheprovider", *arguments)


def names(pytester: pytest.Pytester, *arguments: str) -> list[str]:
    """The names of what is collected."""
    lines = run(pytester, "--collect-only", "-q", *arguments).outlines
    return [line for line in lines if "::" in line]
