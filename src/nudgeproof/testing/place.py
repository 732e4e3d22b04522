"""A folder from which the paths of a test count, and what can be done from there."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path

from nudgeproof.testing.board import Board
from nudgeproof.testing.judged import Checked, Followed, judge, told_plainly

Name = str | os.PathLike[str]


class Place:
    """Paths count from `folder`; without one from where the process is at that moment."""

    def __init__(self, folder: Name = "") -> None:
        self._folder = Path(folder)

    @told_plainly
    def check(self, spec: Name, effort: str = "usual", only: Sequence[str] = ()) -> Checked:
        """Ask everything that applies to a spec, or `only` these hazards; `effort`: quick, usual or deep."""
        from nudgeproof.check import check
        from nudgeproof.cli.files import read_spec
        from nudgeproof.report.screen import show

        report = check(read_spec(self._path(spec)), effort, only)
        verdicts = {(found.hazard, found.subject): found.verdict.word for found in report.findings}
        return Checked(report.file, report.verdict.word, verdicts, show(report))

    @told_plainly
    def follow(self, spec: Name, recording: Name, *, map: Name, effort: str = "usual") -> Followed:
        """Follow a recording, CSV or VCD, by a spec and a map of its channels: may a device of the spec do that?"""
        from nudgeproof.cli.recordings import read_recording

        file = self._path(recording)
        return judge(
            self._path(spec), self._path(map), file, lambda what, notes: read_recording(file, what, notes), effort
        )

    @told_plainly
    def rig(self, settings: Name, seed: int = 0) -> Board:
        """Build the firmware of a `rig.yaml` and give it power; `seed`: what torn bytes of its memory become."""
        from nudgeproof.cli.files import read_bytes
        from nudgeproof.rig.prepare import prepare
        from nudgeproof.rig.settings import read_settings
        from nudgeproof.spec.read import decode

        name = self._path(settings)
        read = read_settings(decode(read_bytes(name), name), name)
        return Board(read, prepare(read, Path(name).parent), seed % 2**32, self._path)

    def _path(self, name: Name) -> str:
        # From where the process is, so that messages are as short as can be.
        return os.path.relpath(self._folder / name) if self._folder != Path() else os.fspath(name)
