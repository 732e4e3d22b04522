"""Closed forms against numbers that were integrated or solved in floats, on random supplies."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.integrate import quad

from nudgeproof.quantities import Amount, Band, amount, amperes, exact, farads, just, ohms, volts
from nudgeproof.supply.cells import steady
from nudgeproof.supply.charge import life
from nudgeproof.supply.hold_up import HoldUp, hold_up, left_at_most
from nudgeproof.supply.loads import Draw, Load
from nudgeproof.supply.rail import BEST, BOOST, LINEAR, WORST, Capacitor, Source, dip, lasts_until, reaches, voltage
from nudgeproof.units import FOREVER
from tests.supply.devices import SETTINGS, draws, sources
from tests.supply.truth import Pick, Specimen, during_pulse, falls, middle, picks, settle, specimen

NOW = Fraction(0)
LEVELS = st.integers(12, 30).map(lambda tenths: volts(Fraction(tenths, 10)))
SLIP = 1e-6
"""What the numbers in floats may be off by: volts, or a share of a time."""


def at_the_cells(one: Specimen, least: float = 1e-4) -> float:
    return settle(one.opened - one.resistance * one.leak, one.resistance, one.at_cells(one.mean), least)


def survives_us(one: Specimen, until: float) -> float:
    """The hold-up time of one specimen."""
    current = one.at_cells(one.mean)
    end = {"none": until, "linear": max(until + one.drops, one.works_from)}.get(one.kind, one.works_from)
    begin = at_the_cells(one, max(end, 1e-4) if one.kind in ("linear", "none") else 1e-4)
    if begin <= end or one.rail(begin) < until:
        return 0.0
    return 1e6 * falls(one, current, begin, end)


@SETTINGS
@given(draws(loose=False), sources(loose=False))
def test_the_steady_voltage_is_that_of_the_equation(draw: Draw, source: Source) -> None:
    true = at_the_cells(specimen(source, NOW, draw, middle))
    found = voltage(source, NOW, draw)
    assert float(exact(found.lo, "V")) - SLIP <= true <= float(exact(found.hi, "V")) + SLIP
    assert exact(found.hi - found.lo, "V") < Fraction(1, 10**6)


@SETTINGS
@given(draws(loose=True), sources(loose=True), picks())
def test_the_steady_voltage_of_any_specimen_is_within_the_band(draw: Draw, source: Source, pick: Pick) -> None:
    true = at_the_cells(specimen(source, NOW, draw, pick))
    found = voltage(source, NOW, draw)
    assert float(exact(found.lo, "V")) - SLIP <= true <= float(exact(found.hi, "V")) + SLIP


@SETTINGS
@given(draws(loose=True), sources(loose=True, regulated=True), picks())
def test_the_rail_behind_a_regulator_is_within_the_band(draw: Draw, source: Source, pick: Pick) -> None:
    one = specimen(source, NOW, draw, pick)
    assume(one.kind != "linear" or one.opened > one.drops + 0.1)
    least = one.drops + 1e-3 if one.kind == "linear" else 1e-4
    cells = at_the_cells(one, least)
    found = voltage(source, NOW, draw)
    low, high = float(exact(found.lo, "V")), float(exact(found.hi, "V"))
    assert low - SLIP <= one.rail(cells)
    if cells >= one.works_from:
        assert one.rail(cells) <= high + SLIP


@SETTINGS
@given(draws(loose=False), sources(loose=False), LEVELS)
def test_hold_up_is_the_integral(draw: Draw, source: Source, level: Amount) -> None:
    found = hold_up(source, NOW, draw, just(level))
    true = survives_us(specimen(source, NOW, draw, middle), float(exact(level, "V")))
    _contains(found.lo, true, found.hi)
    if true == float("inf"):
        assert found.lo == FOREVER
    elif found.hi != FOREVER:
        # Where a power comes together with a resistor the integral is taken in stretches.
        assert found.hi - found.lo <= 3 + 0.005 * true


@SETTINGS
@given(draws(loose=True), sources(loose=True), LEVELS, picks())
def test_hold_up_of_any_specimen_is_within_the_band(draw: Draw, source: Source, level: Amount, pick: Pick) -> None:
    found = hold_up(source, NOW, draw, just(level))
    true = survives_us(specimen(source, NOW, draw, pick), float(exact(level, "V")))
    _contains(found.lo, true, found.hi)


@SETTINGS
@given(draws(loose=True), sources(loose=True, regulated=True), LEVELS, picks())
def test_hold_up_behind_a_regulator_is_within_the_band(draw: Draw, source: Source, level: Amount, pick: Pick) -> None:
    one = specimen(source, NOW, draw, pick)
    found = hold_up(source, NOW, draw, just(level))
    until = float(exact(level, "V"))
    assume(one.kind != "linear" or one.opened > max(until + one.drops, one.works_from))
    _contains(found.lo, survives_us(one, until), found.hi)


@SETTINGS
@given(draws(loose=False), sources(loose=False, regulated=True), LEVELS)
def test_hold_up_behind_a_regulator_is_tight(draw: Draw, source: Source, level: Amount) -> None:
    regulator = source.regulator
    assert regulator is not None
    # Of a boost regulator that hands the cells through, or has stopped, only bounds are known.
    assume(regulator.kind != BOOST or (regulator.makes.lo > volts(4) and regulator.works_from < level))
    assume(regulator.kind != LINEAR or regulator.works_from <= level + regulator.drops.lo)
    found = hold_up(source, NOW, draw, just(level))
    true = survives_us(specimen(source, NOW, draw, middle), float(exact(level, "V")))
    _contains(found.lo, true, found.hi)
    if true not in (0, float("inf")) and found.hi != FOREVER and regulator.kind != BOOST:
        assert found.hi - found.lo <= 3 + 0.005 * true


def _contains(low: float, true: float, high: float) -> None:
    assert low <= true * (1 + 1e-5) + 2
    assert true * (1 - 1e-5) - 2 <= high


@SETTINGS
@given(draws(loose=True, pulses=True), sources(loose=True), LEVELS, picks())
def test_a_capacitor_leaves_of_a_peak_what_is_bounded(draw: Draw, source: Source, level: Amount, pick: Pick) -> None:
    one = specimen(source, NOW, draw, pick)
    assume(one.resistance > 0)
    lasting = [load.lasts for load in one.loads if load.pulses and load.lasts is not None]
    assume(lasting)
    until = float(exact(level, "V"))
    if reaches(source, NOW, draw, level, WORST):
        assert during_pulse(one, one.mean, one.top, max(lasting)) >= until - 1e-4
    if not reaches(source, NOW, draw, level, BEST):
        assert during_pulse(one, one.base, one.top, min(lasting)) < until + 1e-4


@SETTINGS
@given(draws(loose=False, kinds="i", pulses=True), sources(loose=False))
def test_the_dip_of_currents_is_that_of_the_circuit(draw: Draw, source: Source) -> None:
    one = specimen(source, NOW, draw, middle)
    lasting = [load.lasts for load in one.loads if load.pulses and load.lasts is not None]
    assume(lasting and one.resistance > 0)
    low = at_the_cells(one, -100)
    assume(one.opened - one.resistance * one.top(1) > 0.1)
    found = float(exact(dip(source, NOW, draw, volts(1), WORST), "V"))
    assert low - found == pytest.approx(during_pulse(one, one.mean, one.top, max(lasting)), abs=1e-4)


@SETTINGS
@given(draws(loose=False, pulses=True), sources(loose=False), LEVELS)
def test_without_a_capacitor_peaks_are_reckoned_exactly(draw: Draw, source: Source, level: Amount) -> None:
    bare = Source(source.cells)
    one = specimen(bare, NOW, draw, middle)
    lowest = settle(one.opened, one.resistance, one.top)
    until = float(exact(level, "V"))
    assume(abs(lowest - until) > 1e-9)
    for corner in (WORST, BEST):
        assert reaches(bare, NOW, draw, level, corner) == (lowest > until)


@SETTINGS
@given(draws(loose=False, kinds="i"), draws(loose=False, kinds="i"), sources(loose=False, series=False), st.data())
def test_what_is_left_of_the_charge_at_another_load(
    draw: Draw, other: Draw, source: Source, data: st.DataObject
) -> None:
    """A share of the hold-up time is over at one load when another comes: for currents the same share is gone of that."""
    level = data.draw(LEVELS)
    share = data.draw(st.integers(0, 9)) / 10
    one, two = specimen(source, NOW, draw, middle), specimen(source, NOW, other, middle)
    until, begin = float(exact(level, "V")), 3.0
    assume(until < begin and one.mean(3) >= two.mean(3))
    both = [falls(x, x.mean, begin, until) for x in (one, two)]
    left_at = begin - (begin - until) * share
    left = falls(two, two.mean, left_at, until)
    assert left == pytest.approx((1 - share) * both[1], rel=1e-6)
    assert falls(one, one.mean, begin, left_at) == pytest.approx(share * both[0], rel=1e-6, abs=1e-12)


@SETTINGS
@given(draws(loose=True), draws(loose=True), sources(loose=True, series=False), LEVELS, st.integers(0, 10))
def test_what_is_left_at_another_load_is_no_more_than_its_whole_hold_up(
    draw: Draw, other: Draw, source: Source, level: Amount, tenths: int
) -> None:
    """After a part of an outage at one load, what the other has left: a lighter load before leaves more than its own."""
    one, two = (specimen(source, NOW, which, middle) for which in (draw, other))
    until = float(exact(level, "V"))
    begin = at_the_cells(one)
    assume(begin > until)
    now = begin - (begin - until) * tenths / 10
    assert 1e6 * falls(two, two.mean, now, until) * (1 - 1e-5) - 2 <= left_at_most(
        source, NOW, draw, other, just(level)
    )


def test_a_lighter_load_before_leaves_more_than_the_hold_up_of_the_heavier_one() -> None:
    """3 V behind 50 ohm: 0.1 mA leaves 2.995 V, 15 mA would 2.25 V; 100 uF down to 1.8 V at 15 mA take 7.97 ms, not 3 ms."""
    capacitor = Capacitor(just(farads("100e-6")), just(ohms(0)), just(amperes(0)))
    source = Source(steady(volts(3), ohms(50)), None, capacitor)
    light, heavy = ((Load("one", current=just(amperes(i))),) for i in ("0.0001", "0.015"))
    until = just(volts("1.8"))
    assert hold_up(source, NOW, heavy, until) == HoldUp(3_000, 3_000)
    assert left_at_most(source, NOW, light, heavy, until) == 7_967
    assert left_at_most(source, NOW, heavy, light, until) == hold_up(source, NOW, light, until).hi


@SETTINGS
@given(
    st.lists(st.integers(-50, 100), min_size=2, max_size=6, unique=True).map(lambda found: sorted(found, reverse=True)),
    st.booleans(),
)
def test_the_share_until_which_something_holds(values: list[int], curved: bool) -> None:
    corners = tuple(Fraction(k, len(values) - 1) for k in range(len(values)))

    def left(used: Fraction) -> Fraction:
        k = min(int(used * (len(values) - 1)), len(values) - 2)
        part = used * (len(values) - 1) - k
        straight = values[k] + (values[k + 1] - values[k]) * part
        return straight**3 + straight if curved else straight

    found = lasts_until(left, corners)
    tried = [Fraction(k, 5_000) for k in range(5_001)]
    held = [used for used in tried if left(used) >= 0]
    if not held:
        assert found is None
        return
    assert found is not None
    assert left(found) >= 0
    assert max(held) <= found + Fraction(1, 10**7)
    assert found == 1 or found - max(held) <= Fraction(1, 5_000)


@SETTINGS
@given(st.integers(1, 300), st.integers(1, 300), st.integers(1, 100))
def test_a_life_is_the_integral_of_charge_over_current(first: int, last: int, percent: int) -> None:
    until = Fraction(percent, 100)

    def current(used: Fraction) -> Band:
        return just(amperes((first + (last - first) * used) / 1_000_000))

    found = life(amount("0.2", "A*h"), until, current)
    assert found is not None
    true, _ = quad(lambda u: 0.2 / ((first + (last - first) * u) / 1e6), 0, float(until))
    low, high = float(exact(found.lo, "h")), float(exact(found.hi, "h"))
    assert low * (1 - 1e-9) <= true <= high * (1 + 1e-9)
    assert first != last or low == pytest.approx(high)
