"""A lamp whose times can be added up by hand, and recordings of it."""

from __future__ import annotations

from collections.abc import Sequence

from nudgeproof.firmware.mapping import read_map
from nudgeproof.firmware.monitor import BUDGET
from nudgeproof.firmware.outcome import Outcome, follow
from nudgeproof.firmware.recording import read_csv
from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import Device

TEXT = """\
spec: 1
device: lamp
buttons: {key: {bounce: up to 5 ms, debounce: 20 ms ± 5 ms}}
gestures: {hold: {held: 1 s}}
initial: dark
states:
  dark: {transitions: {hold: lit}}
  lit: {transitions: {hold: dark}}
"""
LEAST_US, MOST_US = 15_000 + 1_000_000, 25_000 + 1_000_000
"""From the contact's last edge to the light."""

MAP = """\
recording: 1
sample period: {period} us
channels:
  KEY: {{button: key, pressed when: high}}
  LAMP: {{on in: lit, off in: dark}}
"""


def lamp(text: str = TEXT) -> Device:
    return read_device(text, "lamp.yaml")


def rows(*rows: tuple[int, int, int], header: str = "time_us,KEY,LAMP") -> str:
    return "\n".join([header, *(",".join(map(str, row)) for row in rows)]) + "\n"


def judge(csv: str, period: int = 0, text: str = TEXT, what: str = MAP, budget: int = BUDGET) -> Outcome:
    device = lamp(text)
    read, notes = read_map(what.format(period=period), "map.yaml", device)
    return follow(device, read, read_csv(csv, "lamp.csv", read.wanted, notes), budget)


def press(on_at: int | None, end: int = 3_000_000, pressed: int = 100_000, released: int = 2_000_000) -> str:
    """One long press, and when the light comes on, if it does."""
    changes: list[tuple[int, str, int]] = [(pressed, "KEY", 1), (released, "KEY", 0)]
    changes += [(on_at, "LAMP", 1)] if on_at is not None else []
    return table(changes, end)


def table(changes: Sequence[tuple[int, str, int]], end: int) -> str:
    now = {"KEY": 0, "LAMP": 0}
    told = [(0, 0, 0)]
    for at, channel, level in sorted(changes):
        now[channel] = level
        told.append((at, now["KEY"], now["LAMP"]))
    return rows(*told, (end, now["KEY"], now["LAMP"]))
