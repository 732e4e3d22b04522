"""A recording of a real device: levels of channels over time, and the reader of its form as CSV.

Times are whole microseconds from the beginning of the recording; a time between two of them is rounded up. Nothing is
refused for that: all limits are whole microseconds and include their ends, and what meets such limits still does when all
its times are rounded up, those that nobody saw as well (T. Henzinger, Z. Manna, A. Pnueli, "What good are digital clocks?",
ICALP 1992; from memory).
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from fractions import Fraction
from typing import Final

from nudgeproof.diagnostics import Place
from nudgeproof.spec.notes import Notes, list_names, show, split_lines, suggest

LONGEST_US: Final = 10 * 365 * 86_400_000_000
"""Ten years: a time beyond is a slip."""

_UNITS: Final[dict[str, Fraction | int]] = {
    "s": 1_000_000,
    "ms": 1_000,
    "us": 1,
    "µs": 1,
    "μs": 1,
    "ns": Fraction(1, 1_000),
}
_TIME: Final = re.compile(r"time(?:_(?P<a>s|ms|us|ns)|\s*[\[(]\s*(?P<b>s|ms|us|µs|μs|ns)\s*[\])])?", re.IGNORECASE)
_CELL: Final = re.compile(r'\s*"((?:[^"]|"")*)"\s*')
_NUMBER: Final = re.compile(r"[+-]?(?:[0-9]{1,30}(?:\.[0-9]{0,30})?|\.[0-9]{1,30})(?:[eE][+-]?[0-9]{1,2})?")
_DELIMITERS: Final = (",", ";", "\t")
_FORM: Final = "a header such as `time_us,PAD,LED`, then rows such as `1200,0,1`"


@dataclass(frozen=True, slots=True)
class Wanted:
    """A channel that is asked for, and where; `at` is a place in another file, the map."""

    name: str
    at: Place


@dataclass(frozen=True, slots=True, order=True)
class Change:
    """At `at_us` the level of a channel turned out to be another one: `level` (True is high)."""

    at_us: int
    channel: str
    level: bool


@dataclass(frozen=True, slots=True)
class Recording:
    """Channels with their level at the beginning, and each change up to the end, in the order of time.

    The changes of one channel alternate.
    """

    file: str
    first: tuple[tuple[str, bool], ...]
    changes: tuple[Change, ...]
    end_us: int

    @property
    def channels(self) -> tuple[str, ...]:
        """The names, in the order in which they were asked for."""
        return tuple(name for name, _ in self.first)


def check_wanted(wanted: Sequence[Wanted], channels: Sequence[str], map_notes: Notes, file: str) -> None:
    """Note in the map each channel that the recording doesn't have."""
    for channel in wanted:
        if channels.count(channel.name) != 1:
            many = "more than one" if channel.name in channels else "no"
            what = f"{show(file)} has {many} channel `{show(channel.name)}`"
            cure = suggest(channel.name, tuple(dict.fromkeys(channels)), "channels")
            map_notes.complain(channel.at, what, "what isn't recorded can't be compared", cure)
    map_notes.stop_if_bad()


class Levels:
    """Gathers levels into a recording; times may be fractions of a microsecond, and must not go back."""

    def __init__(self, wanted: Sequence[Wanted]) -> None:
        self.names = [channel.name for channel in wanted]
        self.begin: Fraction | int | None = None
        self.end: Fraction | int = 0
        self.now: dict[str, bool] = {}
        self.first: dict[str, bool] = {}
        self.changes: list[Change] = []

    def move_to(self, at: Fraction | int) -> str:
        """Time goes on to `at`; what is wrong with that, or ""."""
        if self.begin is None:
            self.begin = self.end = at
            return ""
        if at < self.end:
            return "goes back"
        if at - self.begin > LONGEST_US:
            return "lies more than ten years after the first"
        self.end = at
        return ""

    def missing(self) -> list[str]:
        """The channels whose level isn't known yet."""
        return [name for name in self.names if name not in self.now]

    def set(self, name: str, level: bool) -> None:
        """A channel has this level now."""
        before = self.now.get(name)
        if before is level:
            return
        self.now[name] = level
        if before is None or self._elapsed() == 0:
            self.first[name] = level
            return
        self.changes.append(Change(_round_up(self._elapsed()), name, level))

    def _elapsed(self) -> Fraction | int:
        return self.end - (self.begin or 0)

    def finish(self, file: str) -> Recording:
        """The recording, once all levels are known."""
        first = tuple((name, self.first[name]) for name in self.names)
        return Recording(file, first, tuple(self.changes), _round_up(self._elapsed()))


def _round_up(time: Fraction | int) -> int:
    return time if isinstance(time, int) else -(-time.numerator // time.denominator)


def read_csv(text: str, file: str, wanted: Sequence[Wanted], map_notes: Notes) -> Recording:
    """The channels that are wanted, out of a text of one row for each sample or each change.

    Raises `SpecErrors` with the first thing that is wrong with the recording, or with all channels that it lacks.
    """
    notes = Notes(file, split_lines(text))
    number = next((i for i, line in enumerate(notes.lines) if line.strip() and line.lstrip()[0] not in "#;"), None)
    if number is None:
        notes.complain(notes.place(0, 0), "the file holds no row", "a recording is a table of levels", f"write {_FORM}")
        notes.stop_if_bad()
    assert number is not None
    header = notes.lines[number]
    delimiter = next((d for d in _DELIMITERS if d in header), ",")
    names = [name.strip() for name in _split(header, delimiter)]
    scale = _read_scale(names[0], number, notes)
    check_wanted(wanted, names[1:], map_notes, file)
    columns = [(names.index(channel.name, 1), channel.name) for channel in wanted]
    levels = Levels(wanted)
    for row in range(number + 1, len(notes.lines)):
        line = notes.lines[row]
        if line.strip():
            _read_row(_split(line, delimiter), row, names, columns, scale, levels, notes)
    if levels.begin is None or levels.end == levels.begin:
        why, cure = "between the first row and the last one passes no time", "record for longer"
        notes.complain(notes.place(len(notes.lines), 0), "the recording ends as it begins", why, cure)
        notes.stop_if_bad()
    return levels.finish(file)


def _split(line: str, delimiter: str) -> list[str]:
    if '"' not in line:
        return line.split(delimiter)
    cells: list[str] = []
    rest = line
    while True:
        quoted = _CELL.match(rest)
        if quoted is not None and (quoted.end() == len(rest) or rest[quoted.end()] == delimiter):
            cells.append(quoted[1].replace('""', '"'))
            rest = rest[quoted.end() :]
        else:
            cell, joint, after = rest.partition(delimiter)
            cells.append(cell)
            rest = joint + after
        if not rest:
            return cells
        rest = rest[1:]


def _read_scale(name: str, number: int, notes: Notes) -> Fraction | int:
    """How many microseconds the unit of the first column is."""
    match = _TIME.fullmatch(name)
    if match is None:
        why = "the first column is the time, with its unit"
        cure = "name it `time_us`, `time_ms`, `time_s` or `Time [s]`"
        notes.complain(notes.place(number, 0), f"the first column is called `{show(name)}`", why, cure)
        notes.stop_if_bad()
    assert match is not None
    return _UNITS[(match["a"] or match["b"] or "s").lower()]


def _read_row(
    cells: list[str],
    row: int,
    names: list[str],
    columns: list[tuple[int, str]],
    scale: Fraction | int,
    levels: Levels,
    notes: Notes,
) -> None:
    def column(cell: int) -> Place:
        before = sum(len(c) + 1 for c in cells[:cell])
        return notes.place(row, before + len(cells[cell]) - len(cells[cell].lstrip()))

    def refuse(at: Place, what: str, why: str, cure: str) -> None:
        notes.complain(at, what, why, cure)
        notes.stop_if_bad()

    if len(cells) != len(names):
        what = f"the row has {len(cells)} cells, and the header {len(names)}"
        refuse(notes.place(row, 0), what, "a level would be taken for another channel's", "mend or drop the row")
    time = read_time(cells[0], scale)
    if time is None:
        why = f"the column `{show(names[0])}` is a time"
        refuse(column(0), f"`{show(cells[0].strip())}` is no time", why, "write a number such as `1200` or `0.0012`")
        return
    if wrong := levels.move_to(time):
        what = f"the time `{show(cells[0].strip())}` {wrong}"
        refuse(column(0), what, "rows stand in the order of time", "sort the rows, or split the recording there")
    for at, name in columns:
        cell = cells[at].strip()
        if cell not in ("0", "1"):
            known = list_names(("0", "1"))
            what = f"the level of `{show(name)}` is `{show(cell)}`" if cell else f"`{show(name)}` has no level here"
            refuse(column(at), what, f"a level is one of {known}", "record digital levels, one of them in each cell")
        levels.set(name, cell == "1")


def read_time(text: str, scale: Fraction | int) -> Fraction | int | None:
    """A number as a time in microseconds; None if it is none."""
    text = text.strip()
    if len(text) <= 18 and text.isascii() and text.isdigit() and isinstance(scale, int):
        return int(text) * scale
    if not text.isascii() or not _NUMBER.fullmatch(text):
        return None
    try:
        time = Fraction(Decimal(text)) * scale
    except (InvalidOperation, ValueError, OverflowError):
        return None
    return int(time) if time.denominator == 1 else time
