"""Which sets of configurations a device resets in, or reads low, and from which cells on; reckoned by hand."""

from __future__ import annotations

from fractions import Fraction

import pytest

from nudgeproof.parts.behaviours import RESETS, TooMany, brown_outs, readings
from nudgeproof.parts.draws import Config
from tests.weak import CELLS, weak

LOW, HIGH = (Config("running", "glowing", (("beam", value),)) for value in ("low", "high"))
STOWED = Config("running", "stowed")
TWO = "faint: {draws: LOW, in: glowing, if: beam is low}, bright: {draws: HIGH, in: glowing, if: beam is high}"


def two(low: str, high: str) -> str:
    return TWO.replace("LOW", low).replace("HIGH", high)


def sets(**changes: str) -> list[tuple[tuple[Config, ...], Fraction, Fraction | None]]:
    found = brown_outs(weak(**changes))
    assert all(what == RESETS for one in found for _, what in one.what)
    return [(tuple(config for config, _ in one.what), one.begins, one.everywhere) for one in found]


def test_without_tolerances_there_is_one_kind_of_unit_and_each_turn_adds_a_configuration() -> None:
    """15 mA: 2.85 - 1.15 u is 2.7 at 3/23. 10 mA: 2.9 - 0.9 u is 2.7 at 2/9."""
    assert sets(loads=two("10 mA", "15 mA")) == [
        ((HIGH,), Fraction(3, 23), Fraction(3, 23)),
        ((LOW, HIGH), Fraction(2, 9), Fraction(2, 9)),
    ]


def test_units_differ_but_what_draws_more_resets_first() -> None:
    """The level is from 2.65 to 2.75 V: 15 mA reset from 2/23 on (all from 4/23), 10 mA from 1/6 (all from 5/18)."""
    assert sets(loads=two("10 mA", "15 mA"), supply="brown-out: {level: 2.65 to 2.75 V}") == [
        ((HIGH,), Fraction(2, 23), Fraction(4, 23)),
        ((LOW, HIGH), Fraction(1, 6), Fraction(5, 18)),
    ]


def test_loads_whose_tolerances_overlap_may_reset_each_without_the_other() -> None:
    kinds = {configs for configs, _, _ in sets(loads=two("10 to 16 mA", "15 to 17 mA"))}
    assert kinds == {(LOW,), (HIGH,), (LOW, HIGH)}
    kinds = {configs for configs, _, _ in sets(loads=two("10 to 14 mA", "15 to 17 mA"))}
    assert kinds == {(HIGH,), (LOW, HIGH)}


def test_cells_that_are_changed_before_or_that_never_let_go_are_left_out() -> None:
    assert sets(loads=two("10 mA", "15 mA"), cells=f"{CELLS}, used until: 20 %") == [
        ((HIGH,), Fraction(3, 23), Fraction(3, 23))
    ]
    # Once reset, it lets go at 2.95 V: without a load 3.0 - 0.4 u is that at 1/8, before 3/23.
    assert sets(loads=two("10 mA", "15 mA"), supply="brown-out: {level: 2.825 V, hysteresis: 250 mV}") == []


def test_a_reset_that_is_off_in_sleep() -> None:
    stowed = "sleep: {ready in: 1 ms, dozes again after: 50 ms}, transitions: {hold: glowing}"
    loads = "leak: {draws: 15 mA, while: asleep}, lamp: {draws: 15 mA, in: glowing}"
    asleep = Config("asleep", "stowed")
    both = [configs for configs, _, _ in sets(loads=loads, stowed=stowed)]
    assert both == [(asleep, Config("running", "glowing"))]
    off = [
        configs for configs, _, _ in sets(loads=loads, stowed=stowed, supply="brown-out: {level: 2.7 V, asleep: off}")
    ]
    assert off == [(Config("running", "glowing"),)]


def many(current: str) -> dict[str, str]:
    loads = ", ".join(f"lamp {'abcdefghijklmnopqrstu'[n]}: {{draws: {current}, if: left is {n}}}" for n in range(21))
    return {"loads": loads, "supply": "brown-out: {level: 2.6 to 2.8 V}"}


def test_more_kinds_than_can_be_asked_about_are_said_to_be() -> None:
    with pytest.raises(TooMany):
        brown_outs(weak(**many("up to 15 mA")))


READS = """cell: {low below: 2.5 V, fine above: 2.55 V, read every: 1 s}
surroundings: {weak cell: {cell: sags and recovers, meant: true}}"""
EVENTS = {
    "glowing": "transitions: {hold: stowed, cell low: stowed}",
    "stowed": "transitions: {hold: glowing, cell fine: stowed}",
}


def test_what_is_read_of_the_cells() -> None:
    """15 mA: 2.85 - 1.15 u is 2.55 at 6/23 and 2.5 at 7/23. Without a load it is never below 2.6 V."""
    found = readings(weak(more=READS, supply="hold-up: 5 ms", **EVENTS))
    assert [(one.begins, one.of(STOWED), one.of(Config("running", "glowing"))) for one in found] == [
        (Fraction(7, 23), "above", "below")
    ]


def test_nobody_reads_them() -> None:
    assert readings(weak()) == ()
    assert brown_outs(weak(supply="hold-up: 5 ms")) == ()
