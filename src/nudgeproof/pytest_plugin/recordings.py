"""A recording as a file of tests: an item for each line of the ini file that follows it by a spec."""

from __future__ import annotations

import argparse
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Self

import pytest

from nudgeproof.cli.files import read_bytes, read_spec_bytes, understand_spec
from nudgeproof.cli.recordings import BUDGETS, read_recording
from nudgeproof.diagnostics import Place
from nudgeproof.firmware.mapping import read_map
from nudgeproof.firmware.outcome import Result, follow
from nudgeproof.pytest_plugin.nodes import Asked, Failed, apart, file_in, is_plain, mark, node_name, shown_name
from nudgeproof.report.recorded import Judged, show_recorded
from nudgeproof.spec.read import decode


class RecordingFile(pytest.File):
    """A recording."""

    root: Path
    lines: tuple[argparse.Namespace, ...]

    @classmethod
    def of(cls, parent: pytest.Collector, path: Path, root: Path, lines: Sequence[argparse.Namespace]) -> Self:
        """The collector of a recording."""
        made = cls.from_parent(parent, path=path)
        made.root, made.lines = root, tuple(lines)
        return made

    def collect(self) -> Iterable[pytest.Item]:
        """An item for each spec that it is followed by."""
        names = apart(node_name(f"follows {line.spec.rpartition('/')[2]}") for line in self.lines)
        for name, line in zip(names, self.lines, strict=True):
            yield Recording.of(self, name, line)


class Recording(Asked):
    """A recording to be followed by a spec, with the arguments of `nudgeproof follow`."""

    parent: RecordingFile
    line: argparse.Namespace

    @classmethod
    def of(cls, parent: RecordingFile, name: str, line: argparse.Namespace) -> Self:
        """The item of a line."""
        made = cls.from_parent(parent, name=name)
        made.line, made.at = line, Place(shown_name(made.path, parent.root))
        mark(made, "recording")
        return made

    def judge(self) -> None:
        """Fails unless it conforms."""
        line, root, file = self.line, self.parent.root, shown_name(self.path, self.parent.root)
        device = understand_spec(read_spec_bytes(file_in(root, line.spec)), line.spec)
        what, notes = read_map(decode(read_bytes(file_in(root, line.map)), line.map), line.map, device)
        recorded = read_recording(str(self.path), what, notes)
        outcome = follow(device, what, recorded, BUDGETS[line.effort])
        self.user_properties.append(("result", outcome.result.value))
        text = show_recorded(Judged(file, device.name, line.spec, what, recorded, outcome), is_plain())
        head = text.partition("\n")[0]
        if outcome.result is Result.REFUSED:
            raise Failed(head, text)
        if outcome.result is not Result.CONFORMS:
            self.leave_open(head, text)
