"""Firmware for tests: the shipped ones with and without a planted fault, and small ones written in a test."""

from __future__ import annotations

import fcntl
import shutil
import time
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from nudgeproof.rig.build import Program, build
from nudgeproof.rig.run import Limits, Run, run
from nudgeproof.rig.settings import SUPPLY, Settings, read_settings
from nudgeproof.rig.stimulus import Change, Stimulus

ROOT = Path(__file__).resolve().parents[2]
FIRMWARE = ROOT / "firmware"

Act = tuple[float, float, str]
"""An input that is closed (or a cell that is gone) from a time, for a time, both in ms."""


def settings_of(device: str) -> Settings:
    path = FIRMWARE / device / "rig.yaml"
    return read_settings(path.read_text(encoding="utf-8"), str(path))


def changed_by(patch: str) -> str:
    """The file that a patch changes; what stands before its first line `---` is about it."""
    return patch[patch.index("--- ") :].split()[1]


def apply_patch(text: str, patch: str) -> str:
    """The text with a unified diff applied; each hunk must stand exactly where it says, with its context."""
    lines, done, at = text.splitlines(keepends=True), [], 0
    for line in patch[patch.index("--- ") :].splitlines(keepends=True):
        if line.startswith(("---", "+++")):
            continue
        if line.startswith("@@"):
            start = int(line.split()[1].removeprefix("-").split(",")[0]) - 1
            done += lines[at:start]
            at = start
        elif line.startswith("+"):
            done.append(line[1:])
        else:
            assert lines[at] == line[1:], f"line {at + 1} is {lines[at]!r}"
            done += [lines[at]] if line.startswith(" ") else []
            at += 1
    return "".join(done + lines[at:])


def build_shipped(device: str, folder: Path, fault: str = "") -> Program:
    """The firmware of a device, with a fault if one is named."""
    settings = settings_of(device)
    for name in settings.sources:
        shutil.copy(FIRMWARE / device / name, folder / name)
    if fault:
        patch = (FIRMWARE / device / "faults" / f"{fault}.patch").read_text(encoding="utf-8")
        source = folder / changed_by(patch)
        source.write_text(apply_patch(source.read_text(encoding="utf-8"), patch), encoding="utf-8")
    return build(settings, folder)


def act(acts: Sequence[Act], until_ms: float = 0) -> Stimulus:
    """The stimulus of some acts; without `until_ms` it goes on for 5 s after the last."""
    changes = []
    for at, lasts, channel in acts:
        begin, end = round(at * 1000), round((at + lasts) * 1000)
        changes += [Change(begin, channel, channel != SUPPLY), Change(end, channel, channel == SUPPLY)]
    last = max((change.at_us for change in changes), default=0)
    return Stimulus(tuple(sorted(changes, key=lambda c: c.at_us)), round(until_ms * 1000) or last + 5_000_000)


SMALL = """rig: 1
sources: [a.c]
entry: {entry}
buttons: {{key: {{pin: 2}}}}
outputs: {{lamp: {{pin: 5}}}}
memory: {{bytes: 4, write takes: 1 ms}}
{more}
"""


def small(
    code: str,
    folder: Path,
    acts: Sequence[Act] = (),
    until_ms: float = 1000,
    entry: str = "main",
    more: str = "",
    use_blocks: bool = True,
    memory: bytes = b"",
    limits: Limits | None = None,
    source: str = "a.c",
    **changes: int,
) -> Run:
    """A run of a few lines of C with one key on pin 2 (closed is low) and one lamp on pin 5."""
    header = {"sketch": "sketch.h"}.get(entry, "rig.h")
    (folder / source).write_text(f'#include "{header}"\n{code}\n', encoding="utf-8")
    text = SMALL.format(entry=entry, more=more).replace("a.c", source)
    settings = replace(read_settings(text, "rig.yaml"), **changes)  # type: ignore[arg-type]
    program = build(settings, folder, use_blocks)
    assert program.has_blocks is use_blocks
    return run(program, settings, act(acts, until_ms), memory, 0, limits)


def rows(result: Run) -> list[tuple[int, ...]]:
    """The recording as numbers."""
    return [tuple(map(int, line.split(","))) for line in result.recording.splitlines()[1:]]


def turns(result: Run, channel: str) -> list[tuple[int, int]]:
    """When one channel changed, and to what."""
    names = result.recording.split("\n", 1)[0].split(",")
    column, before, found = names.index(channel), 0, []
    for row in rows(result):
        if row[column] != before:
            before = row[column]
            found.append((row[0], before))
    return found


def becomes_free(path: Path) -> bool:
    """Whether nobody has the lock of a file any more, soon: who had it is gone."""
    with path.open() as held:
        for _ in range(500):
            try:
                fcntl.flock(held, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except BlockingIOError:
                time.sleep(0.01)
            else:
                return True
    return False
