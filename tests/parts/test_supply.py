"""The supply and the outputs by themselves: what a loss of contact leads to, and what a pin is meanwhile."""

from __future__ import annotations

import pytest

from nudgeproof.diagnostics import Place
from nudgeproof.model.tables import Choice, Local
from nudgeproof.parts.outputs import FLOATING, OFF, ON, output
from nudgeproof.parts.supply import BOOTS, CELL, RECOVERS, RESET, RESTORE, SAGS, opened_by, outage, supply
from nudgeproof.spec.outside import Output
from nudgeproof.spec.types import Outage, PowerUp, Supply
from nudgeproof.units import FOREVER, Span
from tests.devices import bench

MS = 1_000
AT = Place("lamp.yaml")
PART = supply(
    Supply(Span(4 * MS, 9 * MS), AT), PowerUp(Span(60 * MS, 80 * MS), "lit", "lit", True, AT), ("rattle", "drop")
)


def hear(local: Local, *gone: str) -> tuple[Local, tuple[str, ...]]:
    """What follows while these sources keep the cell away."""
    (choice,) = PART.heard(local, CELL, {opened_by(name): name in gone for name in ("rattle", "drop")})
    return choice.to, choice.send


def pass_time(local: Local, timer: str) -> tuple[Local, tuple[str, ...]]:
    (choice,) = PART.expired(local, timer, {opened_by("rattle"): True, opened_by("drop"): False})
    return choice.to, choice.send


def test_a_loss_that_the_hold_up_outlasts_is_nothing() -> None:
    assert hear("up", "rattle") == ("sagging", (SAGS,))
    assert hear("sagging", "drop") == ("sagging", ()), "the cell is there when all sources have given it back"
    assert hear("sagging") == ("up", (RECOVERS,))


def test_a_longer_one_resets_and_the_cell_starts_the_device() -> None:
    assert pass_time("sagging", "hold-up") == ("down", (RESET,))
    assert hear("down", "rattle") == ("down", ())
    assert hear("down") == ("starting", (BOOTS,))
    assert pass_time("starting", "starts") == ("up", (RESTORE,))


def test_a_loss_during_the_start_may_end_it() -> None:
    assert hear("starting", "drop") == ("sagging start", ())
    assert hear("sagging start") == ("starting", ())
    assert pass_time("sagging start", "starts") == ("sagging", (RESTORE,))
    assert pass_time("sagging start", "hold-up") == ("down", ())


@pytest.mark.parametrize(
    ("local", "runs", "powered", "steady"),
    [
        ("up", set(), True, True),
        ("sagging", {"hold-up"}, True, False),
        ("down", set(), False, False),
        ("starting", {"starts"}, False, False),
        ("sagging start", {"hold-up", "starts"}, False, False),
        ("off", set(), False, True),
    ],
)
def test_what_runs_and_what_is_told(local: str, runs: set[str], powered: bool, steady: bool) -> None:
    assert {timer.name for timer in PART.armed(local, {})} == runs
    assert PART.shown(local) == (powered, steady)


def test_an_interruption_lasts_and_keeps_its_distance_as_stated() -> None:
    part = outage(Outage("rattle", Span(MS, 14 * MS), 20 * MS, AT), waits=False)
    spans = {local: [(timer.lo, timer.hi) for timer in part.armed(local, {})] for local in ("fresh", "gone", "apart")}
    assert spans == {"fresh": [(0, FOREVER)], "gone": [(MS, 14 * MS)], "apart": [(20 * MS, FOREVER)]}


def pin(in_reset: str, local: Local, signal: str, state: str = "idle") -> Choice:
    device = bench("tap: {taps: 1, press: up to 400 ms}", "tap: hit", debounce="20 ms", extra="hit: {shows: hit}")
    (choice,) = output(device, Output("lamp", ("hit",), in_reset, AT)).heard(local, signal, {"state": state})
    return choice


@pytest.mark.parametrize("in_reset", [OFF, ON, FLOATING])
def test_a_pin_is_off_without_a_cell_then_what_the_hardware_makes_of_it_then_what_the_state_says(in_reset: str) -> None:
    assert pin(in_reset, ON, RESET).to == OFF
    assert pin(in_reset, OFF, BOOTS).to == in_reset
    assert pin(in_reset, in_reset, "changed").to == OFF
    assert pin(in_reset, in_reset, "changed", "hit").to == ON
