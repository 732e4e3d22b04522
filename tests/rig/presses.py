"""Random use of a shipped firmware's device: people, knocks, chatter, footfalls and a cell that loses contact."""

from __future__ import annotations

import random

from nudgeproof.rig.settings import SUPPLY
from nudgeproof.rig.stimulus import Change, Stimulus

BOUNCE_US = {
    "rain-cover-light": {"pad": 8_000},
    "moisture-meter": {"key": 6_000},
    "seed-tray-timer": {"go": 6_000, "plus": 6_000},
    "trail-counter": {"key": 6_000},
}
"""The buttons of each device, and how long they chatter."""

ACTS = ("tap", "two taps", "hold", "tap then hold", "knock", "together", "footfalls", "cut")
PAUSES_US = (20_000, 100_000, 300_000, 600_000, 2_000_000, 4_000_000)


def use(device: str, seed: int) -> Stimulus:
    """Three to nine acts; no two changes at one instant, chatter within its bound, and edges at least 10 us apart."""
    chance, changes = random.Random(f"{device} {seed}"), list[Change]()
    buttons = BOUNCE_US[device]

    def press(button: str, at: int, lasts: int) -> int:
        for edge, level, room in (
            (at, True, min(buttons[button] - 1, lasts - 20)),
            (at + lasts, False, buttons[button] - 1),
        ):
            changes.append(Change(edge, button, level))
            flips = 2 * chance.choice((0, 0, 1, 2, 3))
            if room > 12 * (flips + 3):
                for i, later in enumerate(sorted(chance.sample(range(12, room, 12), flips))):
                    changes.append(Change(edge + later, button, level ^ (i % 2 == 0)))
        return at + lasts

    now = 600_000
    for _ in range(chance.randint(3, 9)):
        act, button = chance.choice(ACTS), chance.choice(list(buttons))
        if act in ("tap", "two taps", "tap then hold"):
            now = press(button, now, chance.randint(60_000, 350_000))
        if act in ("two taps", "tap then hold"):
            now += chance.randint(80_000, 240_000)
            now = press(
                button,
                now,
                chance.randint(60_000, 300_000) if act == "two taps" else chance.randint(1_400_000, 2_500_000),
            )
        elif act in ("hold", "knock"):
            now = press(
                button, now, chance.randint(900_000, 2_500_000) if act == "hold" else chance.randint(40, 45_000)
            )
        elif act == "together" and len(buttons) > 1:
            later, lasts = chance.randint(1, 130_000), chance.randint(150_000, 400_000)
            press("go", now, lasts)
            now = press("plus", now + later, lasts)
        elif act == "footfalls" and device == "trail-counter":
            for _ in range(chance.randint(1, 3)):
                changes += [Change(now, "footfall", True), Change(now + 5_000, "footfall", False)]
                now += chance.randint(300_000, 500_000)
        elif act == "cut":
            lasts = chance.choice((2_000, 9_000, 30_000, 120_000))
            changes += [Change(now, SUPPLY, False), Change(now + lasts, SUPPLY, True)]
            now += lasts + chance.choice((3_000, 403_000))
        now += chance.choice(PAUSES_US)
    apart: list[Change] = []
    for change in sorted(changes, key=lambda change: change.at_us):
        at = max(change.at_us, apart[-1].at_us + 1 if apart else 0)
        apart.append(Change(at, change.channel, change.level))
    return Stimulus(tuple(apart), now + 3_000_000)
