"""A story as a strip of waveform, in characters.

For each button a row for its contact and one for what the firmware reads; where the supply can be interrupted, one for the
contact of the cell; where power is lost or everything is reset, one for power; one for the device's state. Time runs to the
right but not to scale: a longer wait is drawn longer, on a logarithmic scale, so that a bounce of microseconds and a hold of
seconds can both be seen. The times stand in the list of steps beside it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from nudgeproof.report.dot_text import columns
from nudgeproof.report.width import cut, pad
from nudgeproof.verdict import Scene

ASCII = ("_", "#")
BLOCKS = ("▁", "█")


@dataclass(frozen=True, slots=True)
class _Stretch:
    """Columns `start` to `end` (exclusive) in which `scene` is the case."""

    scene: Scene
    start: int
    end: int


def draw_strip(
    scenes: Sequence[Scene], times_us: Sequence[int], buttons: Sequence[str], width: int, ascii_only: bool
) -> list[str]:
    """Rows of at most `width` columns; `scenes` has one more entry than `times_us`, the one before the first."""
    low, high = ASCII if ascii_only else BLOCKS
    label = max(columns(name) for name in ("firmware", "device", *buttons)) + 2
    stretches = _lay_out(scenes, times_us, width - label)
    rows = []
    for button in buttons:
        rows.append((button, "".join(_level(button in s.scene.closed, s, low, high) for s in stretches)))
        rows.append(("firmware", "".join(_level(button in s.scene.pressed, s, low, high) for s in stretches)))
    if scenes[0].cell is not None:
        rows.append(("cell", "".join(_level(bool(s.scene.cell), s, low, high) for s in stretches)))
    # A story without an interruption may have resets too: used cells that a load pulls down, a power chip, a supervisor.
    if scenes[0].cell is not None or any(scene.power is False for scene in scenes):
        rows.append(("power", "".join(_level(bool(s.scene.power), s, low, high) for s in stretches)))
    rows.append(("device", _name_states(stretches)))
    return [f"{pad(name, label)}{row}".rstrip() for name, row in rows]


def _level(closed: bool, stretch: _Stretch, low: str, high: str) -> str:
    return (high if closed else low) * (stretch.end - stretch.start)


def _lay_out(scenes: Sequence[Scene], times_us: Sequence[int], width: int) -> list[_Stretch]:
    """Merge what happens at one instant, then share the columns out by the logarithm of each wait."""
    kept: list[tuple[Scene, float]] = []
    before = times_us[0] if times_us else 0
    kept.append((scenes[0], 2.0))
    for scene, at, until in zip(scenes[1:], times_us, [*times_us[1:], None], strict=True):
        assert at >= before
        before = at
        if until is None:
            kept.append((scene, 4.0))
        elif until > at:
            kept.append((scene, math.log10(1 + (until - at) / 100)))
    last = columns(scenes[-1].state) + 2
    kept = kept[-max(width - last, 1) :]  # of a story too long for the screen the end is shown
    room = max(width - last - len(kept), 0)
    total = sum(weight for _, weight in kept)
    stretches = []
    column = 0
    for i, (scene, weight) in enumerate(kept):
        size = last if i == len(kept) - 1 else 1 + int(room * weight / total)
        stretches.append(_Stretch(scene, column, column + size))
        column += size
    return stretches


def _name_states(stretches: Sequence[_Stretch]) -> str:
    """Each state's name where it begins, cut if the next one begins too soon."""
    row = ""
    regions: list[tuple[str, int, int]] = []
    for stretch in stretches:
        if regions and regions[-1][0] == stretch.scene.state:
            regions[-1] = (stretch.scene.state, regions[-1][1], stretch.end)
        else:
            regions.append((stretch.scene.state, stretch.start, stretch.end))
    for name, start, end in regions:
        size = end - start
        text = "|" + name
        fits = columns(text) <= size
        row += pad(text, size) if fits else pad(cut(text, max(size - 1, 1)), size - 1) + ("~" if size > 1 else "")
    return row
