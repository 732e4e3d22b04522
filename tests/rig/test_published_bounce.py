"""The shipped firmwares against contact bounce as it was logged and published: a press that begins with it is a press.

The vector is that of `tests/published/test_bounce.py`: 22 logged entries over 638 us (CC0-1.0). The bursts are as long as
published: 1557 us, the mean of the switches in J. Ganssle, A Guide to Debouncing, and 6200 us, the most of all but two of
them. What is beyond a device's stated `bounce` isn't promised to be one press, so no burst is longer than that.
"""

from __future__ import annotations

from random import Random

import pytest

from nudgeproof.firmware.acts import BUTTON, Act
from nudgeproof.firmware.monitor import BUDGET
from nudgeproof.firmware.outcome import Result, follow
from tests.firmware.soak import Soaked
from tests.published.test_bounce import logged

USES = {
    "rain-cover-light": (("pad", 700, 1500), ("pad", 2600, 150), ("pad", 2950, 150), ("pad", 4500, 150)),
    "moisture-meter": (("key", 700, 900), ("key", 3000, 150), ("key", 5000, 900)),
    "seed-tray-timer": (("plus", 600, 150), ("go", 1600, 1400), ("go", 5000, 150), ("plus", 6000, 150)),
    "trail-counter": (("key", 700, 1450), ("key", 3500, 150), ("key", 3850, 1450)),
}
"""Presses in ms that take each firmware through its states; the last light must show it."""

TURNS = {"rain-cover-light": 5, "moisture-meter": 4, "seed-tray-timer": 4, "trail-counter": 2}
MEAN_US, MOST_US = 1_557, 6_200


def vector() -> tuple[int, ...]:
    """When the contact flips after the first edge, as logged; equal levels in a row are an edge that the logger missed."""
    flips, level = [], True
    for at, closed in logged()[1:]:
        if closed != level:
            flips.append(at)
            level = closed
    return tuple(flips)


def burst(rng: Random, lasts_us: int, least_us: int) -> tuple[int, ...]:
    """Flips all over that time, the last one at its very end, so many that they are there and back."""
    room = lasts_us // least_us - 1
    number = 2 * rng.randint(1, min(12, room // 2)) - 1
    return (*(least_us * at for at in sorted(rng.sample(range(1, room), number))), lasts_us)


@pytest.mark.parametrize("name", USES)
def test_presses_that_bounce_as_published_are_what_they_are_without(name: str) -> None:
    one, rng = Soaked(name, 0), Random(name)
    plain = None
    assert len(vector()) == 14
    for kind in ("none", "vector", "mean", "most", "most"):
        acts = []
        for button, at, lasts in USES[name]:
            stated = one.device.button(button).bounce_us
            if kind == "vector":
                closing = opening = vector()
            elif kind == "none":
                closing = opening = ()
            else:
                longest = min(stated, MEAN_US if kind == "mean" else MOST_US)
                closing, opening = (burst(rng, longest, 40) for _ in range(2))
            acts.append(Act(BUTTON, button, at * 1000, lasts * 1000, closing, opening))
        performed = one.perform(tuple(acts), 9_000_000)
        assert not performed.finding
        outcome = follow(one.device, one.what, performed.recording, BUDGET, grounds=one.grounds)
        assert outcome.result is Result.CONFORMS, (kind, outcome)
        lights = {channel.name for channel in one.what.of("light")}
        shown = [(c.channel, c.level) for c in performed.recording.changes if c.channel in lights]
        plain = shown if plain is None else plain
        assert shown == plain, kind
        assert outcome.turns >= TURNS[name]
        edges = sum(c.channel not in lights for c in performed.recording.changes)
        assert (edges == 2 * len(acts)) == (kind == "none")
