"""Several files at once: a table at the end, the worst first, so that a long screen needn't be looked through."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

from nudgeproof.diagnostics import printable
from nudgeproof.report.dot_text import columns
from nudgeproof.report.width import pad, wrap

WIDTH = 80
_WIDEST = 52


@dataclass(frozen=True, slots=True)
class Row:
    """One file. `rank`: the lower, the worse; `word`: what came of it, `told`: more of that."""

    file: str
    rank: int
    word: str
    told: str = ""


def show_summary(rows: Sequence[Row], what: str) -> str:
    """A table of at least two rows; `what` they are, in the plural. Rows that came out the same stay in their order."""
    ordered = sorted(rows, key=lambda row: row.rank)
    counts = [(word, len(list(group))) for word, group in groupby(row.word for row in ordered)]
    lines = [f"{len(rows)} {what}: {', '.join(f'{number} {word}' for word, number in counts)}"]
    names = [printable(row.file) for row in ordered]
    widths = min(_WIDEST, max(map(columns, names))), max(len(row.word) for row in ordered)
    for name, row in zip(names, ordered, strict=True):
        head = f"  {pad(row.word, widths[1])}  {pad(name, widths[0])}  "
        # A long name takes a line of its own, so that what was found stays in its column.
        if columns(name) > widths[0] and row.told:
            lines.append(f"  {pad(row.word, widths[1])}  {name}")
            head = " " * (widths[0] + widths[1] + 6)
        lines += wrap(row.told, WIDTH, head, " " * columns(head)) if row.told else [head.rstrip()]
    return "\n".join(lines) + "\n"
