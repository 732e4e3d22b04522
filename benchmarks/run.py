"""`python -m benchmarks.run` measures everything and prints one table; see README.md beside this file."""

from __future__ import annotations

import sys

from benchmarks.measures import MEASURES, Row

HEADINGS = ("group", "what", "work", "", "least ms", "middle ms", "work/s", "x first")


def to_cells(row: Row) -> tuple[str, ...]:
    """A row as printed. How much a second is reckoned with the least time; the factor is of the least times."""
    return (
        row.group,
        row.what,
        str(row.work),
        row.unit,
        f"{1000 * row.least:.1f}",
        f"{1000 * row.middle:.1f}",
        f"{row.work / row.least:.{0 if row.work > row.least * 10 else 1}f}",
        f"{row.beside:.2f}" if row.beside else "",
    )


def main() -> None:
    """Measure and print."""
    cells = [HEADINGS, *(to_cells(row) for measure in MEASURES for row in measure())]
    widths = [max(map(len, column)) for column in zip(*cells, strict=True)]
    for line in cells:
        padded = (
            cell.ljust(width) if i in (0, 1, 3) else cell.rjust(width)
            for i, (cell, width) in enumerate(zip(line, widths, strict=True))
        )
        sys.stdout.write("  ".join(padded).rstrip() + "\n")


if __name__ == "__main__":
    main()
