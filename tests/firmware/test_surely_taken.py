"""Lines of the chart that every explanation of a recording takes."""

from __future__ import annotations

import pytest

from nudgeproof.firmware.mapping import read_map
from nudgeproof.firmware.outcome import Result, follow
from nudgeproof.firmware.recording import read_csv
from tests.firmware.lamp import MAP, lamp, table

BLIND = MAP.replace("{{on in: lit, off in: dark}}", "{{on in: lit, on when: low}}")
"""A light that is on whatever the device does, so that the contact alone is seen."""


def lines(presses: list[tuple[int, int]], lights: list[tuple[int, int]], text: str = MAP) -> tuple[str, ...]:
    changes = [(at, "KEY", level) for begin, end in presses for at, level in ((begin, 1), (end, 0))]
    changes += [(at, "LAMP", level) for at, level in lights]
    device = lamp()
    what, notes = read_map(text.format(period=0), "map.yaml", device)
    recorded = read_csv(table(changes, 9_000_000), "lamp.csv", what.wanted, notes)
    outcome = follow(device, what, recorded, keeps_sure=True)
    assert outcome.result is Result.CONFORMS
    assert follow(device, what, recorded).lines == ()
    return tuple(line for line in outcome.lines if line.startswith("hold: "))


ON, OFF = "hold: dark -> lit", "hold: lit -> dark"
# A hold counts for sure from 1.010 s of the contact on, and surely not below 0.990 s: readings follow within 15 to 25 ms.


@pytest.mark.parametrize(
    ("presses", "sure"),
    [
        ([(100_000, 1_085_000)], ()),
        ([(100_000, 1_100_000)], ()),
        ([(100_000, 1_115_000)], (ON,)),
        # Each may count or not, so in the end it may be dark without having been lit.
        ([(100_000, 1_100_000), (3_000_000, 4_000_000)], ()),
        # It goes on by the second press, if it didn't by the first.
        ([(100_000, 1_100_000), (3_000_000, 4_500_000)], (ON,)),
        ([(100_000, 1_600_000), (3_000_000, 4_000_000)], (ON,)),
        # It goes off by the third, if it didn't by the second.
        ([(100_000, 1_600_000), (3_000_000, 4_000_000), (5_000_000, 6_500_000)], (ON, OFF)),
        ([(100_000, 1_600_000), (3_000_000, 4_500_000)], (ON, OFF)),
    ],
)
def test_what_the_contact_alone_makes_sure(presses: list[tuple[int, int]], sure: tuple[str, ...]) -> None:
    assert lines(presses, [], BLIND) == sure


def test_a_light_makes_sure_what_the_contact_leaves_open() -> None:
    press = [(100_000, 1_100_000)]
    assert lines(press, []) == ()
    assert lines(press, [(1_117_000, 1)]) == (ON,)
    assert lines([*press, (3_000_000, 4_000_000)], [(1_117_000, 1), (4_020_000, 0)]) == (ON, OFF)
