"""What is done to a device, as a table of levels: the same form as a recording, with the inputs alone or with all of it.

The first line is `time_us` and the names of inputs; then one line for each change, with all levels as 0 and 1. Columns of
outputs are passed over, so a recording can be the stimulus of the next run. The time of the last line is the end.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from nudgeproof.diagnostics import Place, Problem, SpecErrors, printable
from nudgeproof.rig.settings import SUPPLY, Settings
from nudgeproof.spec.notes import list_names, quote_line, show, split_lines, suggest

LATEST_US = 10**15
"""About thirty years."""


@dataclass(frozen=True, slots=True)
class Change:
    """An input that comes to a level (1: closed, on, or the cell is there) at a time in microseconds."""

    at_us: int
    channel: str
    level: bool


@dataclass(frozen=True, slots=True)
class Stimulus:
    """All changes in the order of time, and the end of the recording. Before them contacts are open, the cell there."""

    changes: tuple[Change, ...]
    end_us: int


def read_stimulus(text: str, file: str, settings: Settings) -> Stimulus:
    """The stimulus in a table; raises `SpecErrors` with all problems."""
    inputs = [channel.name for channel in settings.channels if channel.kind in (SUPPLY, "in")]
    return _read(text, file, inputs, [channel.name for channel in settings.channels])


def read_columns(text: str, file: str) -> tuple[tuple[str, ...], Stimulus]:
    """The columns of a table, each taken for an input, and the stimulus in it; raises `SpecErrors` with all problems."""
    first = split_lines(text.removeprefix("\ufeff"))[:1]
    names = tuple(dict.fromkeys(name.strip() for line in first for name in line.split(",")[1:]))
    return names, _read(text, file, names or (SUPPLY,), names)


def _read(text: str, file: str, inputs: Sequence[str], known: Sequence[str]) -> Stimulus:
    lines = split_lines(text.removeprefix("\ufeff"))
    problems: list[Problem] = []

    def complain(line: int, column: int, what: str, why: str, cure: str) -> None:
        at = Place(file, line, column)
        problems.append(Problem(at, printable(what), printable(why), printable(cure), quote_line(lines, at)))

    header = lines[0].split(",") if lines else [""]
    if header[0].strip() != "time_us":
        what = f"the first column is `{show(header[0])}`"
        complain(1, 1, what, "it holds the times", f"begin with a line such as `time_us,{inputs[-1]}`")
        raise SpecErrors(problems)
    names = [name.strip() for name in header[1:]]
    column = len(header[0]) + 2
    for i, name in enumerate(names):
        if not name:
            complain(1, column, "a column has no name", "it says what acts", "write one, or take the column out")
        elif name not in known:
            complain(
                1,
                column,
                f"there is no input `{show(name)}`",
                "the rig wires none of that name",
                suggest(name, inputs, "inputs"),
            )
        elif name in names[:i]:
            complain(1, column, f"the column `{show(name)}` is here a second time", "only one could hold", "keep one")
        column += len(header[i + 1]) + 1
    changes: list[Change] = []
    levels = _at_first(inputs)
    before = -1
    for number, line in enumerate(lines[1:], 2):
        cells = [cell.strip() for cell in line.split(",")]
        if not line.strip():
            continue
        if len(cells) != len(header):
            cure = "write a time and a level for each column"
            complain(number, 1, f"{len(cells)} cells under {len(header)} columns", "each column has a level", cure)
            continue
        if (
            not (cells[0].isascii() and cells[0].isdigit() and len(cells[0]) <= 16)
            or not before < int(cells[0]) <= LATEST_US
        ):
            cure = f"write a whole number of microseconds, more than {before}" if before >= 0 else "write `0`"
            complain(number, 1, f"the time `{show(cells[0])}`", "times only go on", cure)
            continue
        before = int(cells[0])
        for name, cell in zip(names, cells[1:], strict=True):
            if cell not in ("0", "1"):
                complain(
                    number, 1, f"the level `{show(cell)}` of {list_names([name])}", "a level is 0 or 1", "write 0 or 1"
                )
            elif name in levels and levels[name] != (cell == "1"):
                levels[name] = cell == "1"
                changes.append(Change(before, name, levels[name]))
    if before < 1 and not problems:
        complain(
            len(lines), 1, "the table ends at its beginning", "its last time is the end", "add a line with a later time"
        )
    if problems:
        raise SpecErrors(problems)
    return Stimulus(tuple(changes), before)


def write_stimulus(stimulus: Stimulus, settings: Settings) -> str:
    """The table that `read_stimulus` reads so, with all inputs."""
    return write_columns(stimulus, [channel.name for channel in settings.channels if channel.kind in (SUPPLY, "in")])


def write_columns(stimulus: Stimulus, names: Sequence[str]) -> str:
    """The same with columns of these names."""
    levels = _at_first(names)

    def row(at_us: int) -> str:
        return ",".join([str(at_us), *(str(int(levels[name])) for name in names)])

    rows = {0: row(0)}
    for change in stimulus.changes:
        levels[change.channel] = change.level
        rows[change.at_us] = row(change.at_us)
    rows[stimulus.end_us] = row(stimulus.end_us)
    return "\n".join([",".join(["time_us", *names]), *rows.values()]) + "\n"


def _at_first(inputs: Sequence[str]) -> dict[str, bool]:
    """Before the first line: contacts are open, and the cell is there."""
    return {name: name == SUPPLY for name in inputs}
