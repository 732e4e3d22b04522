"""A voltage that takes a time to be all there, and a firmware that raises its brown-out level meanwhile."""

from __future__ import annotations

import pytest

from nudgeproof.check import check
from nudgeproof.parts.brown_out import BY_BROWN_OUT, RAISED_TOO_SOON, rising
from nudgeproof.parts.chart import STARTED
from nudgeproof.parts.supply import BOOTS, CUT, DRAINED
from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import Device
from nudgeproof.verdict import Verdict
from tests.snapshots.screens import ROOT

BROKEN = ROOT / "specs/failures/classes/level-raised-too-soon/broken.yaml"
PROMISE = "blank memory never reaches fault"


def gauge(**changes: str) -> Device:
    text = BROKEN.read_text(encoding="utf-8")
    for old, _, new in (change.partition(" -> ") for change in changes.values()):
        assert old in text
        text = text.replace(old, new)
    return read_device(text, "gauge.yaml")


def verdict(device: Device) -> Verdict:
    (finding,) = check(device, only=["promise"]).findings
    return finding.verdict


@pytest.mark.parametrize(
    ("takes", "rises", "expected"),
    [
        ("20 ms", "up to 80 ms", Verdict.BROKEN),
        ("80 ms", "up to 80 ms", Verdict.BROKEN),  # equality counts against the device
        ("80001 us", "up to 80 ms", Verdict.HOLDS),
        ("20 to 30 ms", "5 to 19 ms", Verdict.HOLDS),
        ("20 to 30 ms", "5 to 20 ms", Verdict.BROKEN),
    ],
)
def test_the_level_may_be_raised_only_after_the_voltage_is_there(takes: str, rises: str, expected: Verdict) -> None:
    device = gauge(takes=f"takes: 20 ms ± 5 ms -> takes: {takes}", rises=f"rises in: 40 to 80 ms -> rises in: {rises}")
    assert verdict(device) is expected


def test_without_a_higher_level_nothing_happens() -> None:
    assert verdict(gauge(raised=", raised to: 2.6 to 2.8 V -> ")) is Verdict.HOLDS


def test_so_many_tries_come_back_as_any_start() -> None:
    """Two resets take three starts of 15 ms at least: 45 ms, before 80 ms; five take 90 ms, after which nothing rises."""
    assert verdict(gauge(tries="starts in: fault -> starts in: fault, tries: 2")) is Verdict.BROKEN
    assert verdict(gauge(tries="starts in: fault -> starts in: fault, tries: 5")) is Verdict.HOLDS


def test_each_step_of_the_part() -> None:
    part = rising(gauge(), is_put_in=True)
    (timer,) = part.armed(part.start, {})
    assert (timer.lo, timer.hi) == (40_000, 80_000)
    (raised,) = part.heard(part.start, STARTED, {})
    rises, resets = part.armed(raised.to, {})
    assert rises == timer, "the voltage goes on rising"
    (reset,) = part.expired(raised.to, resets.name, {})
    assert reset.send == (BY_BROWN_OUT, CUT)
    assert part.shown(reset.to) == (True,)
    assert part.publishes == (RAISED_TOO_SOON,)
    (risen,) = part.expired(raised.to, rises.name, {})
    assert part.armed(risen.to, {}) == ()
    (again,) = part.heard(risen.to, BOOTS, {})
    assert part.armed(again.to, {}) == (), "a reset as it is takes no voltage away"
    (drained,) = part.heard(risen.to, DRAINED, {})
    (anew,) = part.heard(drained.to, BOOTS, {})
    assert part.armed(anew.to, {}) == (timer,)
    assert part.shown(drained.to) == (False,)
