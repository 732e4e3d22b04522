"""Firmware made ready to be run, of either kind: C sources that are built, or a program that speaks the line protocol."""

from __future__ import annotations

import os
import re
import struct
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Final

from nudgeproof.rig.build import CantBuild, build
from nudgeproof.rig.lines import run_program
from nudgeproof.rig.run import Run, run
from nudgeproof.rig.settings import Settings
from nudgeproof.rig.stimulus import Stimulus

_OF_SOURCES: Final = (
    "an `int` of 16 bits that overflows: it has 32 bits here",
    "a handler that comes between the bytes of a variable: each is read in one step here",
    "how long instructions really take, so the odds of a race; and a chip's voltages and sleep",
)
_ONLY_CALLS: Final = (
    "a race between two instructions: this compiler marks no basic blocks, so time passes in calls alone"
)
_OF_LONG: Final = (
    "a `long` of 32 bits, which {} has: it has 64 here, so a clock kept in it never comes round as it does there;"
    " keep what `millis` gives in `uint32_t`"
)
_LONG: Final = re.compile(r"\blong\b(?!\s+(?:long|double)\b)(?<!\blong long)")
_COMMENT: Final = re.compile(r"/\*.*?\*/|//[^\n]*", re.DOTALL)
_OF_A_PROGRAM: Final = (
    "what the program leaves out, or does otherwise than the device: it was taken at its word, times included",
)


@dataclass(frozen=True, slots=True)
class Prepared:
    """Firmware that can be run: settings, a stimulus, the bytes in memory and a seed give a recording.

    The settings are those it was made ready with, but for what its clock shows. `time_passes`: how its time was measured;
    `cant_show`: what no run of it on this computer tells.
    """

    run: Callable[[Settings, Stimulus, bytes, int], Run]
    time_passes: str
    cant_show: tuple[str, ...]


def prepare(settings: Settings, folder: Path) -> Prepared:
    """The firmware of a `rig.yaml` that stands in `folder`; raises `CantBuild`."""
    if os.name != "posix":
        raise CantBuild("the rig needs a system with `fork`, such as Linux or macOS")
    if settings.program:
        return Prepared(partial(_speak, folder), "as the program says", _OF_A_PROGRAM)
    program = build(settings, folder)
    told = (*_OF_SOURCES, *_tell_long(settings, folder))
    if program.has_blocks:
        return Prepared(partial(run, program), "in each basic block", told)
    how = "in each call, since this compiler marks no basic blocks"
    return Prepared(partial(run, program), how, (*told, _ONLY_CALLS))


def _tell_long(settings: Settings, folder: Path) -> tuple[str, ...]:
    """That a source has a `long`: on most of these computers it is wider than on a controller."""
    if struct.calcsize("l") == 4:
        return ()
    for source in settings.sources:
        text = (folder / source).read_text(encoding="utf-8", errors="replace")
        if _LONG.search(_COMMENT.sub(" ", text)):
            return (_OF_LONG.format(source),)
    return ()


def _speak(folder: Path, settings: Settings, stimulus: Stimulus, memory: bytes, seed: int) -> Run:
    return run_program(settings, folder, stimulus, memory, seed)
