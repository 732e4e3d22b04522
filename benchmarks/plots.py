"""Pictures of the growth, one for each group of points; needs matplotlib, which the extra `bench` brings."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from benchmarks.growth import Point

PICTURES: dict[str, tuple[str, Callable[[Point], float]]] = {
    "modes": ("seconds of processor time", lambda point: point.seen.seconds),
    "times": ("classes or states", lambda point: point.seen.work),
    "buttons": ("classes", lambda point: point.seen.work),
    "sources": ("classes", lambda point: point.seen.work),
    "interruptions": ("classes", lambda point: point.seen.work),
    "timeout": ("classes", lambda point: point.seen.work),
}
"""For each group what is drawn upwards."""

MARKERS = "osD^v"


def draw(points: Sequence[Point], folder: Path) -> list[Path]:
    """Write two pictures: `growth-modes.png`, and `growth.png` with one field for each other group."""
    import matplotlib

    matplotlib.use("Agg")
    from matplotlib import pyplot

    pyplot.rcParams.update({"font.size": 9, "axes.grid": True, "grid.alpha": 0.3, "svg.hashsalt": "growth"})
    others = [group for group in PICTURES if group != "modes"]
    written = []
    for name, groups, across, size in (
        ("growth-modes.png", ["modes"], 1, (7.0, 4.2)),
        ("growth.png", others, 2, (9.0, 10.0)),
    ):
        down = -(-len(groups) // across)
        figure, fields = pyplot.subplots(down, across, figsize=size, squeeze=False, layout="constrained")
        for field in fields.flat[len(groups) :]:
            field.set_visible(False)
        for group, field in zip(groups, fields.flat, strict=False):
            _draw_field(field, group, [point for point in points if point.group == group])
        written.append(folder / name)
        figure.savefig(written[-1], dpi=100, metadata={"Software": None})
        pyplot.close(figure)
    return written


def _draw_field(field: Any, group: str, points: Sequence[Point]) -> None:
    upwards, height = PICTURES[group]
    for marker, way in zip(MARKERS, dict.fromkeys(point.way for point in points), strict=False):
        mine = [point for point in points if point.way == way]
        ended = [point for point in mine if point.seen.answer not in ("all", "found")]
        (line,) = field.plot([p.amount for p in mine], [height(p) for p in mine], marker=marker, label=way)
        field.plot(
            [p.amount for p in ended],
            [height(p) for p in ended],
            linestyle="none",
            marker=marker,
            markersize=9,
            markerfacecolor="white",
            markeredgecolor=line.get_color(),
        )
    field.set_yscale("log")
    amounts = sorted({point.amount for point in points})
    if group not in ("buttons", "sources"):
        field.set_xscale("log")
    if len(amounts) <= 8:
        field.set_xticks(amounts, [f"{amount:g}" if amount < 10_000 else f"{amount:,.0f}" for amount in amounts])
        field.minorticks_off()
    low, high = field.get_ylim()
    if high < 10 * low:
        field.set_ylim(low / 4, high * 4)
    field.set_xlabel(points[0].what)
    field.set_ylabel(upwards)
    field.set_title(group)
    field.legend(fontsize=8)
