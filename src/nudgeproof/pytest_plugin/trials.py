"""A firmware as a file of tests: an item for each kind of stimuli that it is tried with."""

from __future__ import annotations

import argparse
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Self

import pytest

from nudgeproof.cli.files import read_bytes, read_spec_bytes, understand_spec
from nudgeproof.cli.recordings import BUDGETS
from nudgeproof.cli.stories import read_corpus
from nudgeproof.cli.trials import KINDS, keep
from nudgeproof.diagnostics import Place
from nudgeproof.firmware.accepting import accept
from nudgeproof.firmware.mapping import Map, read_map
from nudgeproof.firmware.performed import Planned
from nudgeproof.firmware.stories import story_stimuli
from nudgeproof.firmware.trials import kinds_for, run_trials
from nudgeproof.performing import check_wires, chip_of, performer
from nudgeproof.pytest_plugin.nodes import Asked, Failed, apart, file_in, is_plain, mark, reading
from nudgeproof.report.trials import Tried, show_trials
from nudgeproof.rig.prepare import Prepared, prepare
from nudgeproof.rig.run import FINDINGS
from nudgeproof.rig.settings import Settings, read_settings
from nudgeproof.spec.read import decode

if TYPE_CHECKING:
    from nudgeproof.spec.notes import Notes
    from nudgeproof.spec.types import Device


_STORIES, _WALKS = KINDS[:2]


class RigFile(pytest.File):
    """A `rig.yaml`, with the lines of the ini file that try it."""

    root: Path
    lines: tuple[argparse.Namespace, ...]

    @classmethod
    def of(cls, parent: pytest.Collector, path: Path, root: Path, lines: Sequence[argparse.Namespace]) -> Self:
        """The collector of a firmware."""
        made = cls.from_parent(parent, path=path)
        made.root, made.lines = root, tuple(lines)
        return made

    def collect(self) -> Iterable[pytest.Collector]:
        """A collector for each line."""
        for name, line in zip(apart("trial" for _ in self.lines), self.lines, strict=True):
            yield Trial.of(self, name, line)


class Trial(pytest.Collector):
    """A firmware tried by a spec, with the arguments of `nudgeproof trial`; it is built when the first item runs."""

    parent: RigFile
    line: argparse.Namespace
    device: Device
    settings: Settings
    what: Map
    notes: Notes
    kinds: tuple[str, ...]
    built: Prepared | None = None

    @classmethod
    def of(cls, parent: RigFile, name: str, line: argparse.Namespace) -> Self:
        """The collector of a line."""
        made = cls.from_parent(parent, name=name)
        made.line = line
        return made

    def collect(self) -> Iterable[pytest.Item]:
        """An item for each kind of stimuli that applies."""
        reading(self, self._read)
        shows_sleep = any(channel.kind == "asleep" for channel in self.settings.channels)
        applies = kinds_for(self.device, self.what, chip_of(self.settings), shows_sleep)
        self.kinds = tuple(kind for kind in self.line.kinds if kind == _STORIES or kind in applies)
        if not self.kinds:
            named = ", ".join(self.line.kinds)
            raise self.CollectError(f"{self.line.rig}: {named}: nothing of that can be done to {self.device.name}")
        for kind in self.kinds:
            yield Stimuli.of(self, kind)

    def _read(self) -> None:
        line, root = self.line, self.parent.root
        self.device = understand_spec(read_spec_bytes(file_in(root, line.spec)), line.spec)
        self.settings = read_settings(decode(read_bytes(file_in(root, line.rig)), line.rig), line.rig)
        self.what, self.notes = read_map(decode(read_bytes(file_in(root, line.map)), line.map), line.map, self.device)
        check_wires(self.what, self.settings, self.notes)

    @property
    def firmware(self) -> Prepared:
        """The firmware, ready to be run; raises `CantBuild`."""
        if self.built is None:
            self.built = prepare(self.settings, self.parent.path.parent)
        return self.built


class Stimuli(Asked):
    """All stimuli of one kind."""

    parent: Trial

    @classmethod
    def of(cls, parent: Trial, kind: str) -> Self:
        """The item of a kind."""
        made = cls.from_parent(parent, name=kind)
        made.at = Place(parent.line.rig)
        mark(made, "trial")
        return made

    def judge(self) -> None:
        """Fails unless each recording conforms, and something was shown; each kind has its share of the edges."""
        trial, line, firmware = self.parent, self.parent.line, self.parent.firmware
        perform = performer(firmware, trial.settings, trial.what, trial.notes, line.seed % 2**32)
        edges = -(-line.edges // len(trial.kinds))
        budget = BUDGETS[line.effort]
        first: Iterable[Planned] = ()
        if self.name == _STORIES:
            beside = Path(file_in(trial.parent.root, line.spec)).with_suffix(".corpus.json")
            first = story_stimuli(trial.device, trial.what.powers_up, edges, read_corpus(str(beside)))
        done = run_trials(
            trial.device, trial.what, perform, edges, line.seed, chip_of(trial.settings), budget,
            kinds=(self.name,), first=first,
        )  # fmt: skip
        if not done.stimuli:
            pytest.skip(f"nothing of this kind can be done to {trial.device.name}")
        folder = file_in(trial.parent.root, f"{line.keep}/{self.name.replace(' ', '-')}") if line.keep else ""
        kept = folder if done.failed is not None else ""
        name = trial.device.name
        refused = done.failed if done.failed is not None and done.failed.outcome is not None else None
        acceptable = accept(trial.device, trial.what, refused, perform) if refused is not None else ()
        tried = Tried(
            done, name, line.spec, line.rig, trial.what, line.seed, firmware.cant_show, FINDINGS, kept, acceptable
        )
        text = show_trials(tried, is_plain())
        if kept:
            keep(kept, done, trial.what, trial.settings, text)
        if done.failed is not None:
            raise Failed(text.partition("\n")[0], text)
        # How many lines of the chart one kind takes differs; the walks are there to take all of them.
        if done.judged_nothing if self.name == _WALKS else not done.conforming:
            self.leave_open("nothing could be judged", text)
