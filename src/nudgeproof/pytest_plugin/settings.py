"""What the ini file asks for: which files are collected, and as what."""

from __future__ import annotations

import argparse
import contextlib
import glob
import io
import re
import shlex
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import pytest

from nudgeproof.check import NAMES, UnknownName, check_name
from nudgeproof.cli.commands import build_parser
from nudgeproof.cli.files import BadInput, read_bytes
from nudgeproof.diagnostics import printable
from nudgeproof.pytest_plugin import EFFORTS, FAIL, SKIP
from nudgeproof.pytest_plugin.recordings import RecordingFile
from nudgeproof.pytest_plugin.specs import SpecFile
from nudgeproof.pytest_plugin.trials import RigFile

_SPEC = re.compile(rb"^(?:device|spec)[ \t]*:", re.MULTILINE)
_FIRST_BYTES = 65_536


@dataclass(frozen=True, slots=True)
class Settings:
    """What is to be collected, by files whose links are followed. `trials`, `recordings`: the command lines of each file.

    `known`: names of tests that fail, and are to fail if they don't any more.
    """

    root: Path
    specs: frozenset[Path]
    trials: dict[Path, tuple[argparse.Namespace, ...]]
    recordings: dict[Path, tuple[argparse.Namespace, ...]]
    require: tuple[str, ...]
    effort: str
    known: frozenset[str]

    @property
    def files(self) -> tuple[Path, ...]:
        """All files that are asked for, each once."""
        return tuple(dict.fromkeys((*sorted(self.specs), *self.trials, *self.recordings)))

    def collector(self, path: Path, parent: pytest.Collector) -> pytest.Collector | None:
        """For a file that is asked for."""
        real = path.resolve()
        if real in self.specs:
            return self.spec(path, parent)
        if real in self.trials:
            return RigFile.of(parent, path, self.root, self.trials[real])
        if real in self.recordings:
            return RecordingFile.of(parent, path, self.root, self.recordings[real])
        return None

    def spec(self, path: Path, parent: pytest.Collector) -> pytest.Collector:
        """For a spec."""
        return SpecFile.of(parent, path, self.root, self.effort, self.require)


def is_spec(path: Path) -> bool:
    """Whether a file of YAML looks like a spec, and not like another plugin's."""
    try:
        with path.open("rb") as stream:
            return _SPEC.search(stream.read(_FIRST_BYTES)) is not None
    except OSError:
        return False


def read_settings(config: pytest.Config) -> Settings:
    """The settings of the ini file; raises `pytest.UsageError`, also where no file fits a pattern: it would test nothing."""
    root = config.rootpath
    _one_of(config, "nudgeproof_effort", EFFORTS)
    _one_of(config, "nudgeproof_undecided", (FAIL, SKIP))
    require = tuple(config.getini("nudgeproof_require"))
    try:
        for name in require:
            if name != "all":
                check_name(name, "nudgeproof_require")
    except UnknownName as error:
        raise pytest.UsageError(str(error)) from None
    specs = [
        path for pattern in config.getini("nudgeproof_specs") for path in _files(root, pattern, "nudgeproof_specs")
    ]
    trials: dict[Path, tuple[argparse.Namespace, ...]] = {}
    for line in config.getini("nudgeproof_trials"):
        parsed = _parse("trial", line, "nudgeproof_trials")
        (rig,) = _files(root, glob.escape(parsed.rig), "nudgeproof_trials")
        trials[rig] = (*trials.get(rig, ()), parsed)
    recordings: dict[Path, tuple[argparse.Namespace, ...]] = {}
    for line in config.getini("nudgeproof_recordings"):
        parsed = _parse("follow", line, "nudgeproof_recordings")
        for pattern in parsed.recordings:
            for path in _files(root, pattern, "nudgeproof_recordings"):
                recordings[path] = (*recordings.get(path, ()), parsed)
    wanted = NAMES if "all" in require else require
    known = _known(root, config.getini("nudgeproof_known"))
    return Settings(root, frozenset(specs), trials, recordings, wanted, config.getini("nudgeproof_effort"), known)


def _known(root: Path, name: str) -> frozenset[str]:
    """The names of tests in a file, without comments."""
    if not name:
        return frozenset()
    try:
        lines = read_bytes(str(root / name)).decode("utf-8", "replace").splitlines()
    except BadInput as error:
        raise pytest.UsageError(f"nudgeproof_known: {error}") from None
    told = (line.strip() for line in lines)
    return frozenset(line for line in told if line and not line.startswith("#"))


def _one_of(config: pytest.Config, name: str, known: Sequence[str]) -> None:
    if config.getini(name) not in known:
        raise pytest.UsageError(f"{name}: `{printable(config.getini(name))}` is none of {', '.join(known)}")


def _files(root: Path, pattern: str, name: str) -> list[Path]:
    found = [name for name in sorted(glob.glob(pattern, root_dir=root, recursive=True)) if (root / name).is_file()]
    if not found:
        raise pytest.UsageError(f"{name}: no file fits `{printable(pattern)}` in {printable(str(root))}")
    return [(root / one).resolve() for one in found]


def _parse(command: str, line: str, name: str) -> argparse.Namespace:
    """A line as the command itself reads it."""
    said = io.StringIO()
    try:
        with contextlib.redirect_stderr(said), contextlib.redirect_stdout(said):
            return build_parser().parse_args([command, *shlex.split(line)])
    except (SystemExit, ValueError) as error:
        why = said.getvalue().strip().rpartition("\n")[2] or str(error)
        raise pytest.UsageError(
            f"{name}: `{printable(line)}` is not what follows `nudgeproof {command}`: {why}"
        ) from None
