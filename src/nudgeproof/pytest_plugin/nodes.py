"""What all items have in common: how they fail, what they are marked with, and how a mistake in a file is told."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any, TypeVar

import pytest

from nudgeproof.cli.files import BadInput
from nudgeproof.diagnostics import Place, SpecErrors, printable
from nudgeproof.pytest_plugin import ASKED, SKIP
from nudgeproof.rig.build import CantBuild

_MISTAKES = (SpecErrors, BadInput, CantBuild)
_T = TypeVar("_T")


class Stopped(Exception):
    """An item ends here: `summary` is one line, `text` what the terminal would show."""

    def __init__(self, summary: str, text: str) -> None:
        super().__init__(text)
        self.summary, self.text = summary, text


class Failed(Stopped):
    """What was asked for isn't so."""


class Mistaken(Stopped):
    """Nothing could be asked: a file has a mistake, can't be read, or can't be built."""


class _At:
    """Where and why, as pytest's summary and its XML ask for it."""

    def __init__(self, path: str, line: int, message: str) -> None:
        self.path, self.lineno, self.message = path, line, message


class Told:
    """The text of a failure, in place of a traceback."""

    def __init__(self, text: str, at: _At) -> None:
        self.text, self.reprcrash = text.rstrip("\n"), at

    def __str__(self) -> str:
        return self.text

    def toterminal(self, writer: Any) -> None:
        """As pytest asks for it."""
        for line in self.text.split("\n"):
            writer.line(line)


class Asked(pytest.Item):
    """An item that nudgeproof judges; `at`: the place that it is about."""

    at: Place

    def judge(self) -> None:
        """Raises `Failed`, or what a mistake in a file raises, if it isn't as it should be."""
        raise NotImplementedError

    def runtest(self) -> None:
        """As pytest asks for it."""
        try:
            self.judge()
        except _MISTAKES as error:
            raise Mistaken(str(error).partition("\n")[0], str(error)) from None

    def leave_open(self, summary: str, text: str) -> None:
        """What becomes of an answer that is neither yes nor no."""
        if self.config.getini("nudgeproof_undecided") == SKIP:
            pytest.skip(summary)
        raise Failed(summary, text)

    def repr_failure(self, excinfo: pytest.ExceptionInfo[BaseException], style: Any = None) -> Any:
        """The text of the terminal; for a fault of nudgeproof itself a traceback, since that is to be reported."""
        if isinstance(excinfo.value, Stopped):
            return Told(excinfo.value.text, _At(self.at.file, self.at.line, excinfo.value.summary))
        return super().repr_failure(excinfo)

    def reportinfo(self) -> tuple[os.PathLike[str] | str, int | None, str]:
        """The place, counted from 0, and what stands over the failure."""
        names = [
            node.name for node in self.listchain() if not isinstance(node, pytest.Session | pytest.Dir | pytest.File)
        ]
        return self.path, max(0, self.at.line - 1), ": ".join(names)


def mark(item: pytest.Item, name: str) -> None:
    """Mark an item with `nudgeproof` and with a name, which may hold hyphens; and as known to fail, if it is."""
    if not any(line.partition(":")[0] == name for line in item.config.getini("markers")):
        item.config.addinivalue_line("markers", f"{name}: what nudgeproof asks of that name")
    item.add_marker("nudgeproof")
    item.add_marker(name)
    if item.nodeid in item.config.stash[ASKED].known:
        item.add_marker(pytest.mark.xfail(raises=Failed, strict=True, reason="known"))


def node_name(text: str) -> str:
    """A name as a part of an item's address: what would cut it in two is written otherwise."""
    return printable(text).replace("::", ":").replace("[", "(").replace("]", ")")


def apart(names: Iterable[str]) -> list[str]:
    """The names, those that are there already with a number."""
    seen: dict[str, int] = {}
    told = []
    for name in names:
        seen[name] = seen.get(name, 0) + 1
        told.append(name if seen[name] == 1 else f"{name} ({seen[name]})")
    return told


def reading(collector: pytest.Collector, read: Callable[[], _T]) -> _T:
    """What `read` gives; a mistake in a file is an error of the collector, told without a traceback."""
    try:
        return read()
    except _MISTAKES as error:
        raise collector.CollectError(str(error)) from None


def file_in(root: Path, name: str) -> str:
    """A file below the root folder, by its way from where the process is."""
    return os.path.relpath(root / name)


def shown_name(path: Path, root: Path) -> str:
    """A file as it is called in messages: from the root folder, if it is below it."""
    return path.relative_to(root).as_posix() if path.is_relative_to(root) else str(path)


def is_plain() -> bool:
    """Whether the terminal can't show blocks; what pytest captures has another encoding, so the real one is asked."""
    try:
        "▁█".encode(getattr(sys.__stdout__, "encoding", None) or "ascii")
    except (UnicodeEncodeError, LookupError):
        return True
    return False
