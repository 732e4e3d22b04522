"""The recordings in `recordings`, made anew: `python -m tests.firmware.example`.

Nobody recorded them. The naive simulator plays one specimen of the rain-cover clip light, and what a logic analyser would
show of it is written down, the low beam as pulses. The second one is of a firmware whose hold is too short.
"""

from __future__ import annotations

from pathlib import Path

from nudgeproof.parts.script import Edge
from nudgeproof.spec.read import read_device
from tests.reference.simulator import simulate
from tests.reference.specimen import play

ROOT = Path(__file__).resolve().parents[2]
SPEC = ROOT / "specs/rain-cover-light.yaml"
FOLDER = ROOT / "recordings"
PERIOD_US = 10
PULSE_US, GAP_US = 1_000, 4_000
END_US = 8_500_000

# Held until it glows, two taps, a tap to the high beam, one to the slow blink; the cell rattles; a tap and a hold.
EDGES = (
    (500_000, 1_950_000),
    (2_600_000, 2_710_000),
    (2_850_000, 2_980_000),
    (3_800_000, 3_950_000),
    (4_900_000, 5_020_000),
    (6_100_000, 6_220_000),
    (6_360_000, 7_900_000),
)
CELL = ((5_600_000, False), (5_602_500, True))


def make(text: str, seed: int) -> str:
    """The recording of one specimen as CSV."""
    device = read_device(text, SPEC.name)
    edges = [Edge(at, "pad", closes) for pair in EDGES for at, closes in zip(pair, (True, False), strict=True)]
    edges += [Edge(at, "", there) for at, there in CELL]
    tool = play(device, tuple(sorted(edges)), (), END_US, seed)
    seen = simulate(device, tool.levels, tool.cell, tool.end_us, tool.draw)
    state, beam = device.initial, "low"
    changes: list[tuple[int, str, bool]] = [(at, "PAD", not closed) for at, closed in tool.levels["pad"]]
    changes += [(at, "BAT", there) for at, there in tool.cell]
    moments = [(0, state, beam)]
    for at, what in seen:
        if what.startswith("entered "):
            state = what.removeprefix("entered ")
        if what.startswith("beam = "):
            beam = what.removeprefix("beam = ")
        moments.append((at, state, beam))
    for (at, state, beam), until in zip(moments, [*(at for at, _, _ in moments[1:]), END_US], strict=True):
        changes.append((at, "GLOW", state == "armed"))
        changes.append((at, "BEAM", state == "glowing"))
        pulse = at + PULSE_US
        while state == "glowing" and beam == "low" and pulse < until:
            changes += [(pulse, "BEAM", False)]
            changes += [(pulse + GAP_US, "BEAM", True)] if pulse + GAP_US < until else []
            pulse += PULSE_US + GAP_US
    return as_rows(changes, {"PAD": True, "BAT": True, "GLOW": False, "BEAM": False})


def as_rows(changes: list[tuple[int, str, bool]], levels: dict[str, bool]) -> str:
    """A row for each sample in which something changed."""
    rows = [",".join(["time_us", *levels]), _row(0, levels)]
    by_sample: dict[int, dict[str, bool]] = {}
    for at, channel, level in sorted(changes, key=lambda change: change[0]):
        by_sample.setdefault(-(-at // PERIOD_US) * PERIOD_US, {})[channel] = level
    for at, new in sorted(by_sample.items()):
        if any(levels[channel] != level for channel, level in new.items()):
            levels.update(new)
            rows.append(_row(at, levels))
    return "\n".join([*rows, _row(END_US, levels)]) + "\n"


def _row(at: int, levels: dict[str, bool]) -> str:
    return ",".join([str(at), *(str(int(level)) for level in levels.values())])


def texts() -> dict[str, str]:
    """By name what stands in each file."""
    spec = SPEC.read_text(encoding="utf-8")
    too_short = spec.replace("hold:     {held: 1.2 s}", "hold:     {held: 1 s}")
    return {"rain-cover-light.csv": make(spec, 7), "rain-cover-light-hold-too-short.csv": make(too_short, 7)}


if __name__ == "__main__":
    for name, text in texts().items():
        (FOLDER / name).write_text(text, encoding="utf-8")
