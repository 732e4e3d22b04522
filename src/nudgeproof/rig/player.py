"""The table of a player: stimuli as rows of waits and levels, for a spare board that does them to the real device.

The player knows nothing but rows: it sets all lines, waits, and goes on. So what a stimulus is, where it begins and how long
the device rests without power between two is decided here, and the code on the board is the same for all.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from nudgeproof.diagnostics import printable
from nudgeproof.rig.settings import SUPPLY
from nudgeproof.rig.stimulus import Stimulus
from nudgeproof.units import show_moment

MOST_LINES: Final = 7
"""The eighth bit of a row is the mark that a stimulus runs."""

PAUSE_US: Final = 3_000_000
"""Between two stimuli, without the cell. A device that sleeps on its capacitor for longer needs more."""

BYTES_A_ROW: Final = 5
_SYNC: Final = 0x80
_LONGEST_WAIT_US: Final = 1 << 30


@dataclass(frozen=True, slots=True)
class Row:
    """All lines are set to `levels` (a bit each, the highest is the mark) and stay so for `wait_us`. `says`: in words."""

    wait_us: int
    levels: int
    says: str


@dataclass(frozen=True, slots=True)
class Deeds:
    """What stimuli do together: how often each line closes, and how often the cell is cut and the device gets power."""

    closings: tuple[tuple[str, int], ...]
    cuts: int
    starts: int
    length_us: int

    @property
    def presses(self) -> int:
        """All closings, whatever the line."""
        return sum(times for _, times in self.closings)


def order_lines(columns: Sequence[str]) -> tuple[str, ...]:
    """The lines of a player for these columns: the supply first, if it is there."""
    return tuple(sorted(columns, key=lambda name: name != SUPPLY))


def count(stimuli: Sequence[Stimulus], lines: Sequence[str]) -> Deeds:
    """What is done to the device by all of them, one after the other, each from its own power-up on."""
    changes = [change for stimulus in stimuli for change in stimulus.changes]
    closings = tuple(
        (name, sum(change.level for change in changes if change.channel == name)) for name in lines if name != SUPPLY
    )
    cuts = sum(change.channel == SUPPLY and not change.level for change in changes)
    returns = sum(change.channel == SUPPLY and change.level for change in changes)
    return Deeds(closings, cuts, len(stimuli) + returns, sum(stimulus.end_us for stimulus in stimuli))


def rows_of(stimuli: Sequence[Stimulus], lines: Sequence[str], pause_us: int = PAUSE_US) -> tuple[Row, ...]:
    """All rows of a round; after each stimulus contacts are open and the cell is away for the pause."""
    rows: list[Row] = []
    for stimulus in stimuli:
        on = {SUPPLY} & set(lines)
        now, says = 0, ["it begins"]
        for change in stimulus.changes:
            if change.at_us > now:
                rows += _wait(change.at_us - now, _bits(on, lines), says)
                now, says = change.at_us, []
            on = on | {change.channel} if change.level else on - {change.channel}
            says.append(_say(change.channel, change.level))
        rows += _wait(stimulus.end_us - now, _bits(on, lines), says)
        rows += _wait(pause_us, 0, ["it ends"])
    return tuple(rows)


def _wait(us: int, levels: int, says: Sequence[str]) -> list[Row]:
    """Rows of one wait: a counter of microseconds in 32 bits comes round within 72 minutes."""
    rows, text = [], ", ".join(says)
    while us > _LONGEST_WAIT_US:
        rows.append(Row(_LONGEST_WAIT_US, levels, text))
        us, text = us - _LONGEST_WAIT_US, "and on"
    return [*rows, Row(us, levels, text)]


def _bits(on: set[str], lines: Sequence[str]) -> int:
    return _SYNC | sum(1 << bit for bit, name in enumerate(lines) if name in on)


def _say(channel: str, level: bool) -> str:
    if channel == SUPPLY:
        return "the cell is there" if level else "the cell is gone"
    return f"{channel} {'closes' if level else 'opens'}"


def write_header(
    stimuli: Sequence[tuple[str, Stimulus]], lines: Sequence[str], pause_us: int = PAUSE_US, rounds: int = 1
) -> str:
    """A header for C and C++ with the rows of named stimuli, what each of its lines is, and how often all are played."""
    told = [
        "/* What the player does, made by `nudgeproof stimulus`. Make it anew instead of changing it.",
        " *",
        " * The pins in player.ino stand in this order:",
        *(f" *   {number}  {_comment(name)}" for number, name in enumerate(lines)),
        " */",
        f"#define STORY_LINES {len(lines)}",
        f"#define STORY_ROUNDS {rounds}u",
        "static const struct Row STORY[] STORY_PLACE = {",
    ]
    for name, stimulus in stimuli:
        told.append(f"  /* {_comment(name)}, {show_moment(stimulus.end_us)} */")
        told += (
            f"  {{{row.wait_us}u, 0x{row.levels:02x}}}, /* {_comment(row.says)} */"
            for row in rows_of([stimulus], lines, pause_us)
        )
    return "\n".join([*told, "};"]) + "\n"


def _comment(text: str) -> str:
    """Names come from files of anybody's: none ends a comment, or begins one."""
    return printable(text).replace("*/", "* /").replace("/*", "/ *")
