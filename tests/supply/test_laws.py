"""What holds of every supply, whatever its numbers: more of what is bad never helps, and units can't be mixed."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from nudgeproof.quantities import Amount, Band, amount, amperes, exact, farads, just, ohms, volts
from nudgeproof.supply.bounds import exp, ln
from nudgeproof.supply.brown_out import BrownOut, Reset, judge, lawless
from nudgeproof.supply.cells import Cells, Level, resistance_across, resistance_of, steady, under_load
from nudgeproof.supply.charge import (
    Share,
    counted_part,
    lasts_at_least,
    life,
    lying,
    mean_current,
    pulse_charge,
    steady_part,
)
from nudgeproof.supply.endurance import memory_life
from nudgeproof.supply.hold_up import E12, HoldUp, charging, discharge, hold_up, needed, preferred
from nudgeproof.supply.loads import Draw, Load, kinks, longest_pulse, surge, total
from nudgeproof.supply.rail import (
    BEST,
    BOOST,
    LINEAR,
    WORST,
    Capacitor,
    Regulator,
    Source,
    dip,
    lasts_until,
    margin,
    reaches,
    voltage,
)
from nudgeproof.units import FOREVER, Span
from tests.supply.devices import SETTINGS, draws, sources

NOW = Fraction(0)
LEVELS = st.integers(12, 30).map(lambda tenths: volts(Fraction(tenths, 10)))
VOLTS = st.integers(0, 400).map(lambda n: volts(Fraction(n, 100)))
MORE = st.sampled_from([Fraction(11, 10), Fraction(3, 2), Fraction(4)])
HARM = [Reset.NONE, Reset.POSSIBLE, Reset.CERTAIN]


def with_resistance(source: Source, factor: Fraction, fade: Fraction = Fraction(0)) -> Source:
    levels = tuple(
        Level(
            one.used,
            Band(one.open.lo * (1 - fade * one.used), one.open.hi * (1 - fade * one.used)),
            one.resistance.map(lambda r: r * factor),
        )
        for one in source.cells.levels
    )
    return replace(source, cells=Cells(levels))


@SETTINGS
@given(draws(True, pulses=True), sources(True, regulated=True), LEVELS, MORE, st.booleans(), st.booleans())
def test_more_resistance_never_helps(
    draw: Draw, source: Source, level: Amount, more: Fraction, regulated: bool, worst: bool
) -> None:
    source = source if regulated else replace(source, regulator=None)
    corner = WORST if worst else BEST
    before, after = source, with_resistance(source, more)
    if reaches(after, NOW, draw, level, corner):
        assert reaches(before, NOW, draw, level, corner)
    if not regulated and not any(load.power for load in draw):
        assert margin(after, NOW, draw, level, corner) <= margin(before, NOW, draw, level, corner)

    def share(which: Source) -> Fraction | None:
        return lasts_until(lambda used: margin(which, used, draw, level, corner), which.cells.corners)

    shares = [
        share(which)
        for which in (
            with_resistance(source, Fraction(1), Fraction(1, 2)),
            with_resistance(source, more, Fraction(1, 2)),
        )
    ]
    assert shares[1] is None or (shares[0] is not None and shares[1] <= shares[0])


@SETTINGS
@given(draws(True, pulses=True), sources(True, regulated=True), LEVELS, st.booleans())
def test_the_worst_reaches_no_more_than_the_best(draw: Draw, source: Source, level: Amount, regulated: bool) -> None:
    source = source if regulated else replace(source, regulator=None)
    for peaks in (True, False):
        if reaches(source, NOW, draw, level, WORST, peaks):
            assert reaches(source, NOW, draw, level, BEST, peaks)
    for corner in (WORST, BEST):
        if reaches(source, NOW, draw, level, corner, peaks=True):
            assert reaches(source, NOW, draw, level, corner, peaks=False)


@SETTINGS
@given(draws(True, pulses=True), sources(True), LEVELS, MORE)
def test_a_larger_capacitor_never_shortens_hold_up(draw: Draw, source: Source, level: Amount, more: Fraction) -> None:
    assert source.capacitor is not None
    larger = replace(source, capacitor=replace(source.capacitor, size=source.capacitor.size.map(lambda c: c * more)))
    before, after = (hold_up(which, NOW, draw, just(level)) for which in (source, larger))
    assert before.lo <= after.lo
    assert before.lo <= before.hi <= after.hi or any(load.pulses for load in draw)


@SETTINGS
@given(draws(True), draws(True), sources(True), LEVELS)
def test_one_load_more_never_lengthens_hold_up(draw: Draw, other: Draw, source: Source, level: Amount) -> None:
    less, more = (hold_up(source, NOW, which, just(level)) for which in (draw, draw + other))
    assert more.lo <= less.lo
    assert more.hi <= less.hi


def test_pulses_count_once_beyond_the_mean() -> None:
    """1 mA on the mean, 20 mA for 1 ms: 100 uF have 120 uC from 3.0 to 1.8 V, of which the pulse may take 19 uC."""
    load = Load("radio", just(amperes("0.001")), peak=just(amperes("0.020")), pulse=amount("0.001", "s"))
    source = Source(steady(volts(3), ohms(0)), None, Capacitor(just(farads("100e-6")), just(ohms(0)), just(amperes(0))))
    assert hold_up(source, NOW, (load,), just(volts("1.8"))) == HoldUp(101_000, 139_000)
    unknown = replace(load, pulse=None)
    assert hold_up(source, NOW, (unknown,), just(volts("1.8"))) == HoldUp(6_000, FOREVER)
    size = needed(source, NOW, (load,), just(volts("1.8")), 101_000, Fraction(1, 5))
    assert size is not None
    assert farads("125e-6") <= size <= farads("126.3e-6")


def test_of_a_pulse_of_unknown_length_a_capacitor_leaves_all_or_what_its_own_resistance_does() -> None:
    """1 mA on the mean, 20 mA at most, 10 ohm. Worst: 19 mA more, for ever. Best: 20 mA out of nothing, of which the cells
    give 1/11 at first beside 1 ohm in series with the capacitor; that is 20/11 - 1 mA more than the mean."""
    load = Load("radio", just(amperes("0.001")), peak=just(amperes("0.020")))
    source = Source(
        steady(volts(3), ohms(10)), None, Capacitor(just(farads("100e-6")), just(ohms(1)), just(amperes(0)))
    )
    assert dip(source, NOW, (load,), volts("1.8"), WORST) == volts("0.19")
    assert dip(source, NOW, (load,), volts("1.8"), BEST) == volts(Fraction(9, 1100))


@pytest.mark.parametrize(
    ("asked", "size"),
    [("1e-6", "1e-6"), ("1.01e-6", "1.2e-6"), ("8.3e-6", "10e-6"), ("181.8e-6", "220e-6"), ("0", "0")],
)
def test_the_next_size_in_the_shops(asked: str, size: str) -> None:
    assert preferred(farads(asked)) == farads(size)


@SETTINGS
@given(st.integers(1, 10**9))
def test_a_preferred_size_is_the_smallest_of_its_series_that_will_do(picofarads: int) -> None:
    asked = Fraction(picofarads, 10**12)
    found = exact(preferred(farads(asked)), "F")
    series = sorted(step * Fraction(10) ** power for step in E12 for power in range(-13, 1))
    assert found == min(one for one in series if one >= asked)


@SETTINGS
@given(VOLTS, VOLTS, VOLTS, VOLTS, st.integers(0, 20), st.integers(0, 5), st.integers(0, 12))
def test_widening_a_tolerance_only_adds_doubt(
    level: Amount, dip: Amount, wider: Amount, deeper: Amount, hysteresis: int, slow: int, lasts: int
) -> None:
    width = volts(Fraction(hysteresis, 100))
    narrow = BrownOut(just(level), width, Span(5, 5))
    wide = BrownOut(Band(level - wider / 10, level + wider / 10), width, Span(5 - slow, 5 + slow))
    first, last = judge(narrow, just(dip), lasts), judge(wide, just(dip), lasts)
    assert last in (first, Reset.POSSIBLE)
    assert judge(narrow, Band(dip, dip + deeper / 10), lasts) in (first, Reset.POSSIBLE)
    # At the same hysteresis a lower level resets no more, nor does a shorter or a shallower dip.
    lower = BrownOut(just(level - wider / 10), width, Span(5, 5))
    for milder in (
        judge(lower, just(dip), lasts),
        judge(narrow, just(dip + deeper), lasts),
        judge(narrow, just(dip), 4),
    ):
        assert HARM.index(milder) <= HARM.index(first)


def test_a_dip_to_the_level_itself_does_nothing() -> None:
    one = BrownOut(Band(volts("2.5"), volts("2.9")), volts("0.1"), Span(2, 5))
    assert judge(one, just(volts("2.85"))) is Reset.NONE
    assert judge(one, just(volts("2.849"))) is Reset.POSSIBLE
    assert judge(one, just(volts("2.45"))) is Reset.POSSIBLE
    assert judge(one, just(volts("2.449"))) is Reset.CERTAIN
    assert [judge(one, just(volts(1)), us) for us in (1, 2, 4, 5)] == [HARM[0], HARM[1], HARM[1], HARM[2]]
    assert lawless(one, volts("2.7")) == Band(volts("2.45"), volts("2.7"))
    assert lawless(one, volts("2.45")) is None
    assert lawless(None, volts("1.8")) == Band(volts(0), volts("1.8"))


@SETTINGS
@given(st.fractions(min_value=Fraction(1, 10**6), max_value=10**6), st.fractions(min_value=-100, max_value=0))
def test_bounds_are_in_order_and_close(x: Fraction, y: Fraction) -> None:
    for low, high in (ln(x), exp(y)):
        assert low <= high <= low + Fraction(1, 10**25)
        assert low < high or x == 1 or y == 0
    # ln is bounded by the first terms of its series at both ends, so neither end may lie beyond.
    assert ln(x)[0] <= x - 1
    assert ln(x)[1] >= 1 - 1 / x
    assert exp(y)[1] >= 1 + y
    assert exp(Fraction(-1000)) == (Fraction(0), Fraction(1, 10**80))
    assert exp(Fraction(0)) == (Fraction(1), Fraction(1))


def test_a_power_has_a_rail_too() -> None:
    """1 W from 3 V behind 2 ohm: `V^2 - 3 V + 2 = 0`, so 2 V; and a little more collapses above 1.125 W."""
    source = Source(steady(volts(3), ohms(2)))
    draw = (Load("p", power=just(amount(1, "W"))),)
    for corner in (WORST, BEST):
        assert margin(source, NOW, draw, volts(2), corner) == 0
        assert [reaches(source, NOW, draw, volts(v), corner) for v in ("0.5", "1", "2", "2.001")] == [True] * 3 + [
            False
        ]
    found = voltage(source, NOW, draw)
    assert found.lo <= volts(2) <= found.hi <= found.lo + volts("0.000001")
    for watts, held in (("1.125", True), ("1.1251", False)):
        assert reaches(source, NOW, (Load("p", power=just(amount(watts, "W"))),), volts(1), BEST) is held


def regulated(kind: str, works_from: str, makes: str = "3") -> Regulator:
    return Regulator(kind, just(volts(makes)), just(amperes(0)), just(volts("0.2")), volts(works_from))


def test_a_linear_regulator_works_from_its_least_input_only() -> None:
    draw = (Load("i", just(amperes("0.1"))),)
    for works_from, held in (("2.4", True), ("2.41", False)):
        source = Source(steady(volts("2.5"), ohms(1)), regulated(LINEAR, works_from))
        assert reaches(source, NOW, draw, volts("2.2"), WORST) is held
        # What it does below nobody knows: the best specimen may go on.
        assert reaches(source, NOW, draw, volts("2.2"), BEST)
        assert not reaches(source, NOW, draw, volts("2.21"), BEST)


def test_a_boost_regulator_that_stops_may_hand_the_cells_through() -> None:
    draw = (Load("i", just(amperes("0.1"))),)
    source = Source(steady(volts("2.2"), ohms(1)), regulated(BOOST, "2.15"))
    assert [reaches(source, NOW, draw, volts("1.9"), corner) for corner in (WORST, BEST)] == [False, True]
    assert not reaches(source, NOW, draw, volts("1.91"), BEST)
    # Above what it makes it loses no more than its drop.
    high = Source(steady(volts("3.5"), ohms(1)), regulated(BOOST, "2"))
    for corner in (WORST, BEST):
        assert [reaches(high, NOW, draw, volts(v), corner) for v in ("3", "3.2", "3.21")] == [True, True, False]
    assert hold_up(Source(high.cells, regulated(BOOST, "2"), CAPACITOR), NOW, draw, just(volts("3.1"))).lo == 0


CAPACITOR = Capacitor(just(farads("100e-6")), just(ohms(0)), just(amperes(0)))


def test_a_linear_regulator_holds_its_rail_until_the_drop_is_gone() -> None:
    """From 3.9 V at 10 mA down to 2.2 V and 0.2 V of drop: 15 ms; not below its least input; no rail above what it makes."""
    draw = (Load("i", just(amperes("0.01"))),)
    for works_from, until, found in (("1", "2.2", HoldUp(15_000, 15_000)), ("2.9", "2.2", HoldUp(10_000, 15_000)),
                                     ("1", "3.1", HoldUp(0, 0))):  # fmt: skip
        source = Source(steady(volts("3.9"), ohms(0)), regulated(LINEAR, works_from), CAPACITOR)
        assert hold_up(source, NOW, draw, just(volts(until))) == found


@SETTINGS
@given(st.integers(1, 100), st.integers(1, 100), st.integers(1, 100))
def test_a_larger_current_never_lengthens_a_life(first: int, last: int, more: int) -> None:
    def current(extra: int) -> Band:
        return Band(
            amperes(Fraction(min(first, last) + extra, 10**6)), amperes(Fraction(max(first, last) + extra, 10**6))
        )

    less = life(amount(1, "A*h"), Fraction(1), lambda _: current(0))
    most = life(amount(1, "A*h"), Fraction(1), lambda _: current(more))
    assert less is not None
    assert most is not None
    assert most.lo < less.lo <= less.hi
    assert most.hi < less.hi
    assert lasts_at_least(amount(1, "A*h"), Fraction(1), lambda _: current(0)) == less.lo


def test_a_life_without_a_least_current_has_a_lower_end() -> None:
    """`up to 2 uA`: at least 0.2 Ah / 2 uA, and no upper end."""
    charge, band = amount("0.2", "A*h"), Band(amperes(0), amperes("0.000002"))
    assert life(charge, Fraction(1, 2), lambda _: band) is None
    assert lasts_at_least(charge, Fraction(1, 2), lambda _: band) == amount(50_000, "h")
    assert lasts_at_least(charge, Fraction(1), lambda _: just(amperes(0))) is None
    assert life(charge, Fraction(0), lambda _: band) == just(amount(0, "h"))


def test_a_day_adds_up() -> None:
    band = Band(amperes("0.001"), amperes("0.002"))
    steady_one = steady_part("light", Fraction(2), band)
    pulse = pulse_charge(band, (1_800_000, 3_600_000))
    counted = counted_part("press", Fraction(100), pulse)
    assert steady_one == Share("light", Band(amount("0.002", "A*h"), amount("0.004", "A*h")))
    assert pulse == Band(amount("0.0000005", "A*h"), amount("0.000002", "A*h"))
    found = mean_current([steady_one, counted])
    assert (exact(found.lo, "A"), exact(found.hi, "A")) == (Fraction("0.00205") / 24, Fraction("0.0042") / 24)
    assert exact(lying(amount("0.36525", "A*h"), Fraction(1, 100)).a_day.lo, "A*h") == Fraction(1, 100_000)


def test_cells_between_what_is_known() -> None:
    cells = Cells(
        tuple(Level(Fraction(u), just(volts(v)), Band(ohms(r), ohms(2 * r))) for u, v, r in ((0, 3, 10), (1, 2, 30)))
    )
    middle = cells.at(Fraction(1, 4))
    assert (middle.open, middle.resistance) == (just(volts("2.75")), Band(ohms(15), ohms(30)))
    assert cells.at(Fraction(1)).open == just(volts(2))
    assert under_load(middle, Band(amperes("0.01"), amperes("0.02"))) == Band(volts("2.15"), volts("2.6"))
    for wrong in (Fraction(-1, 100), Fraction(101, 100)):
        with pytest.raises(ValueError, match="share"):
            cells.at(wrong)
    assert resistance_of(volts(3), volts("2.7"), amperes("0.01")) == ohms(30)
    for opened, loaded, current in ((3, 3, 1), (3, 2, 0)):
        with pytest.raises(ValueError, match="pulls"):
            resistance_of(volts(opened), volts(loaded), amperes(current))
    with pytest.raises(ValueError, match="pulls"):
        resistance_across(volts(3), volts(0), ohms(1))


def test_loads_of_all_kinds() -> None:
    led = Load("led", resistor=Band(ohms(100), ohms(200)), forward=Band(volts("1.8"), volts(2)), share=Fraction(1, 4))
    assert led.while_on(volts(3)) == Band(amperes("0.005"), amperes("0.012"))
    assert led.average(volts(3)) == Band(amperes("0.00125"), amperes("0.003"))
    assert led.surge(volts(3)) == Band(amperes("0.00375"), amperes("0.009"))
    assert led.while_on(volts("1.9")) == Band(amperes(0), amperes("0.001"))
    assert (led.threshold, longest_pulse((led,)), kinks((led,))) == (led.forward, None, (volts("1.8"), volts(2)))
    assert replace(led, needs=just(volts("2.5"))).threshold == just(volts("2.5"))
    radio = Load(
        "radio", just(amperes("0.001")), peak=Band(amperes("0.010"), amperes("0.012")), pulse=amount("0.002", "s")
    )
    power = Load("p", power=just(amount("0.006", "W")))
    draw = (led, radio, power)
    assert total(draw, volts(3)) == Band(amperes("0.00425"), amperes("0.006"))
    assert surge(draw, volts(3)) == Band(amperes("0.01275"), amperes("0.020"))
    assert longest_pulse((radio, power)) == amount("0.002", "s")
    weak = Load("weak", resistor=just(ohms(100)), peak=just(amperes("0.010")))
    assert [weak.surge(volts(v)).hi for v in (2, "0.5")] == [amperes(0), amperes("0.005")]


def test_sense_is_asked_of_numbers() -> None:
    assert memory_life(100, Fraction(10), 3) == 30
    assert memory_life(100, Fraction(0)) is None
    for endures, writes, slots in ((0, 1, 1), (1, -1, 1), (1, 1, 0)):
        with pytest.raises(ValueError, match="memory"):
            memory_life(endures, Fraction(writes), slots)
    with pytest.raises(ValueError, match="never"):
        charging(ohms(1), farads(1), volts(3), volts(3))


@SETTINGS
@given(draws(False), sources(False), LEVELS, st.integers(1_000, 100_000))
def test_the_size_that_is_needed_is_enough_and_a_little_less_is_not(
    draw: Draw, source: Source, level: Amount, loss_us: int
) -> None:
    size = needed(source, NOW, draw, just(level), loss_us, Fraction(0))
    assume(size is not None and size.magnitude > 0)
    known = source.capacitor
    assert known is not None
    assert size is not None

    def lasts(factor: str) -> float:
        capacitor = replace(known, size=just(size * Fraction(factor)))
        return hold_up(replace(source, capacitor=capacitor), NOW, draw, just(level)).lo

    assert lasts("1") >= loss_us - 1
    assert lasts("0.99") < loss_us
    assert discharge(known, None, draw, level, level, shortest=True) == 0
