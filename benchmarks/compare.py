"""`python -m benchmarks.compare` looks for the same failures in five ways and prints a table; see README.md beside it.

It needs the extra `bench`. With `--plots` it also draws how each way grows, into this folder. `--only WAY` leaves out the
other ways.
"""

from __future__ import annotations

import argparse
import importlib
import platform
import sys
from collections.abc import Iterable, Sequence
from pathlib import Path

from benchmarks.cases import CASES, WAYS, Seen, look
from benchmarks.growth import GROWTH, Point

HEADINGS = ("failure", "there", "way", "answer", "seconds", "work", "")
GROWN = ("group", "what", "amount", "way", "answer", "seconds", "work", "")


def tell(what: str) -> None:
    """Progress, for whoever waits."""
    sys.stderr.write(what + "\n")
    sys.stderr.flush()


def write_table(lines: Iterable[Sequence[str]], left: frozenset[int]) -> None:
    """Columns side by side; those in `left` begin at the left."""
    cells = [tuple(line) for line in lines]
    widths = [max(map(len, column)) for column in zip(*cells, strict=True)]
    for line in cells:
        padded = (
            cell.ljust(width) if i in left else cell.rjust(width)
            for i, (cell, width) in enumerate(zip(line, widths, strict=True))
        )
        sys.stdout.write("  ".join(padded).rstrip() + "\n")


def _seen(seen: Seen) -> tuple[str, ...]:
    return seen.answer, f"{seen.seconds:.2f}", str(seen.work), seen.unit


def compare(ways: Sequence[str]) -> list[tuple[str, ...]]:
    """The rows of the table: each failure, looked for in each way."""
    for library in ("hypothesis", "z3"):
        importlib.import_module(library)  # so that the first row doesn't bear it
    rows = []
    for make in CASES:
        case = make()
        for way in ways:
            seen = look(way, case)
            tell(f"{case.name}, {way}: {seen.answer}, {seen.seconds:.1f} s")
            rows.append((case.name, "yes" if case.there else "no", way, *_seen(seen)))
    return rows


def grow() -> list[Point]:
    """All points of the growth."""
    points = []
    for part in GROWTH:
        for point in part():
            tell(f"growth: {point.what} {point.amount:g}, {point.way}: {point.seen.seconds:.1f} s")
            points.append(point)
    return points


def main() -> None:
    """Compare, grow, print, and draw if asked."""
    options = argparse.ArgumentParser(prog="python -m benchmarks.compare", description="Five ways side by side.")
    options.add_argument("--only", choices=list(WAYS), help="this way alone, and no growth")
    options.add_argument("--plots", action="store_true", help="draw the growth into this folder")
    chosen = options.parse_args()
    sys.stdout.write(f"Python {platform.python_version()}\n\n")
    rows = compare([chosen.only] if chosen.only else list(WAYS))
    write_table([HEADINGS, *rows], frozenset({0, 1, 2, 3, 6}))
    if chosen.only:
        return
    points = grow()
    sys.stdout.write("\n")
    grown = ((p.group, p.what, f"{p.amount:g}", p.way, *_seen(p.seen)) for p in points)
    write_table([GROWN, *grown], frozenset({0, 1, 3, 4, 7}))
    if chosen.plots:
        from benchmarks.plots import draw

        for path in draw(points, Path(__file__).parent):
            tell(f"drawn: {path.name}")


if __name__ == "__main__":
    main()
