"""Checks against values from outside, each with its source beside it; "from memory" where none was read."""

from __future__ import annotations

from fractions import Fraction

import pytest

from nudgeproof.quantities import (
    Amount,
    Band,
    Kind,
    amount,
    amperes,
    exact,
    farads,
    just,
    ohms,
    read_band,
    seconds,
    volts,
)
from nudgeproof.supply.brown_out import BrownOut, Reset, judge
from nudgeproof.supply.cells import Cells, Level, resistance_across, steady, under_load
from nudgeproof.supply.charge import life, mean_current, steady_part
from nudgeproof.supply.endurance import in_years, memory_life
from nudgeproof.supply.hold_up import HoldUp, charging, hold_up, needed
from nudgeproof.supply.loads import Draw, Load
from nudgeproof.supply.rail import BUCK_BOOST, WORST, Capacitor, Regulator, Source, margin, voltage
from nudgeproof.units import Span

FRESH = Fraction(0)


def across(opened: str, size: str, resistance: int = 0) -> Source:
    capacitor = Capacitor(just(farads(size)), just(ohms(0)), just(amperes(0)))
    return Source(steady(volts(opened), ohms(resistance)), None, capacitor)


def drawing(milliamperes: str) -> Draw:
    return (Load("all", current=just(amperes(Fraction(milliamperes) / 1000))),)


def watts(number: str) -> Band:
    return just(amount(number, "W"))


@pytest.mark.parametrize(("power", "size_uf"), [("200", "114.29"), ("100", "57.14")])
def test_a_bulk_capacitor_for_constant_power(power: str, size_uf: str) -> None:
    """400 to 300 V in 20 ms: worked examples of vbatpower.com/formulas/holdup-time and infoneva.com (buffer modules)."""
    found = needed(
        Source(steady(volts(400), ohms(0))),
        FRESH, (Load("converter", power=watts(power)),), just(volts(300)), 20_000, Fraction(0),
    )  # fmt: skip
    assert float(exact(found, "F")) * 1e6 == pytest.approx(float(size_uf), abs=0.005)


@pytest.mark.parametrize(("begin", "end", "percent"), [("390", "300", "40.83"), ("100", "90", "19")])
def test_the_share_of_the_energy_that_can_be_used(begin: str, end: str, percent: str) -> None:
    """huntsvilleengineers.com/tools/power-supply-holdup: 41 % from 390 to 300 V, 19 % at a droop of a tenth."""
    draw = (Load("converter", power=watts("1")),)
    part, whole = (hold_up(across(begin, "0.001"), FRESH, draw, just(volts(to))).lo for to in (end, "0"))
    assert 100 * part / whole == pytest.approx(float(percent), abs=0.005)


def test_three_ways_to_empty_a_capacitor() -> None:
    """Physics: C dV / I, C (V1^2 - V2^2) / 2 P and R C ln(V1 / V2), 100 uF from 3.0 to 1.8 V."""
    source, until = across("3", "100e-6"), just(volts("1.8"))
    assert hold_up(source, FRESH, drawing("5"), until) == HoldUp(24_000, 24_000)
    assert hold_up(source, FRESH, (Load("p", power=watts("0.005")),), until) == HoldUp(57_600, 57_600)
    assert hold_up(source, FRESH, (Load("r", resistor=just(ohms(1000))),), until) == HoldUp(51_082, 51_083)
    # After R C a part of 1/e is left.
    left = just(volts("1.103638323514327"))
    assert hold_up(source, FRESH, (Load("r", resistor=just(ohms(1000))),), left).lo == pytest.approx(100_000, abs=1)


def test_a_worked_supply_dip() -> None:
    """A dip of 10 ms (a class of IEC 61000-4-29, named in reference design TIDUCC7) at 5 mA with 0.275 V to spare."""
    found = needed(Source(steady(volts(3), ohms(0))), FRESH, drawing("5"), just(volts("2.725")), 10_000, Fraction(0))
    assert float(exact(found, "F")) * 1e6 == pytest.approx(181.8, abs=0.05)


def test_charging_takes_a_time_constant_to_two_thirds() -> None:
    """Physics: `1 - 1/e` of the way after R C."""
    found = charging(ohms(1000), farads("100e-6"), volts(1), volts("0.6321205588"))
    assert float(exact(found.lo, "s")) == pytest.approx(0.1, abs=1e-9)


def test_the_life_of_a_coin_cell_at_its_standard_current() -> None:
    """230 mAh at 0.2 mA last 1150 h: the specification in "Coin Cells: the mythical milliamp-hour", Hackaday, 2017-12-22."""
    found = life(amount("0.230", "A*h"), Fraction(1), lambda _: just(amperes("0.0002")))
    assert found is not None
    assert exact(found.lo, "h") == exact(found.hi, "h") == 1150


def test_the_standard_load_of_a_coin_cell_is_its_standard_current() -> None:
    """CR2032: 15 kohm is 190 uA (a maker's sheet, manualsdump.com); standard current 0.2 mA (encyc.org/wiki/CR2032)."""
    load = Load("standard", resistor=read_band("15 kohm", Kind.RESISTANCE))
    assert float(exact(load.average(volts("2.85")).lo, "A")) == pytest.approx(190e-6, rel=0.001)
    assert float(exact(load.average(volts("3")).hi, "A")) == pytest.approx(0.2e-3, rel=0.001)


def test_twice_the_peak_uses_less_of_a_cell_and_a_capacitor_gives_most_of_it_back() -> None:
    """The rule, not its numbers (9 % and 40 %, six makers): M. Jensen, SWRA349 "Coin cells and peak current draw"."""
    inside = {u: just(ohms(10 + 9 * u)) for u in range(11)}
    rising = Cells(
        tuple(Level(Fraction(u, 10), just(volts(3) - volts(1) * Fraction(u, 50)), inside[u]) for u in range(11))
    )
    capacitor = Capacitor(just(farads("100e-6")), just(ohms(0)), just(amperes(0)))

    def usable(milliamperes: int, across: Capacitor | None) -> int:
        load = Load(
            "radio", just(amperes("0.00001")), peak=just(amperes(Fraction(milliamperes, 1000))), pulse=seconds("0.001")
        )
        shares = [Fraction(k, 100) for k in range(101)]
        return sum(margin(Source(rising, None, across), u, (load,), volts("2"), WORST) >= 0 for u in shares)

    assert usable(30, None) < usable(15, None) < usable(30, capacitor)


@pytest.mark.parametrize(("inside", "loaded"), [(10, "2.85"), (20, "2.70"), (30, "2.55"), (100, "1.50")])
def test_the_sag_of_a_coin_cell(inside: int, loaded: str) -> None:
    """E - I R at 3.0 V and 15 mA, the largest pulse of encyc.org/wiki/CR2032; the resistances are from memory."""
    source = Source(steady(volts(3), ohms(inside)))
    assert under_load(source.cells.at(FRESH), just(amperes("0.015"))) == just(volts(loaded))
    found = voltage(source, FRESH, drawing("15"))
    assert found.lo <= volts(loaded) <= found.hi
    fuse = {"2.7": brown_out("2.5", "2.9"), "1.8": brown_out("1.7", "2.0")}
    if inside == 20:
        assert judge(fuse["2.7"], just(volts(loaded))) is Reset.POSSIBLE
    if inside == 100:
        assert judge(fuse["1.8"], just(volts(loaded))) is Reset.CERTAIN


def test_the_resistance_of_an_alkaline_cell() -> None:
    """LR6: 1.60 V open, 1.45 V at 3.9 ohm, so 0.403 ohm; about 79 h at 43 ohm of 2200 mAh: sunmol-battery.com, LR6."""
    assert float(exact(resistance_across(volts("1.60"), volts("1.45"), ohms("3.9")), "ohm")) == pytest.approx(
        0.403, abs=0.0005
    )
    found = life(amount("2.2", "A*h"), Fraction(1), lambda _: just(volts("1.2") / ohms(43)))
    assert found is not None
    assert float(exact(found.lo, "h")) == pytest.approx(79, abs=0.5)


def brown_out(low: str, high: str) -> BrownOut:
    """Levels, 50 mV of hysteresis and 2 us: ATmega328PB data sheet, GUID-9FAEA36E at onlinedocs.microchip.com."""
    return BrownOut(Band(volts(low), volts(high)), volts("0.050"), Span(2, 2))


@pytest.mark.parametrize(
    ("level", "below", "above"), [("2.7", "2.675", "2.725"), ("1.8", "1.775", "1.825"), ("4.3", "4.275", "4.325")]
)
def test_a_reset_begins_half_the_hysteresis_below_and_ends_half_of_it_above(level: str, below: str, above: str) -> None:
    """The same data sheet, section 14.5."""
    one = brown_out(level, level)
    assert (one.trips, one.lets_go) == (just(volts(below)), just(volts(above)))
    assert judge(one, just(volts(0)), 1) is Reset.NONE
    assert judge(one, just(volts(0)), 2) is Reset.CERTAIN


TABLE: list[tuple[str, str, str, Reset]] = [
    ("2.5", "2.9", percent, verdict)
    for percent, verdict in (("0", Reset.CERTAIN), ("40", Reset.CERTAIN), ("70", Reset.CERTAIN), ("80", Reset.POSSIBLE),
                             ("85", Reset.POSSIBLE), ("120", Reset.NONE))
] + [
    ("1.7", "2.0", percent, verdict)
    for percent, verdict in (("0", Reset.CERTAIN), ("40", Reset.CERTAIN), ("70", Reset.NONE), ("80", Reset.NONE),
                             ("85", Reset.NONE), ("120", Reset.NONE))
]  # fmt: skip


@pytest.mark.parametrize(("low", "high", "percent", "verdict"), TABLE)
def test_standard_dips_of_a_supply_of_3v3(low: str, high: str, percent: str, verdict: Reset) -> None:
    """Levels of IEC 61000-4-29:2000 (helpfiles.keysight.com) against the spread of two fuses; 10 ms is from memory."""
    dip = just(volts("3.3") * Fraction(percent) / 100)
    assert judge(brown_out(low, high), dip, 10_000) is verdict


def test_the_reset_profile_of_road_vehicles() -> None:
    """ISO 16750-2, 4.6.2 (manual of the supply IT6015C, page 98): 5 % less each time for 5 s, 10 s between: 20 drops, 300 s.

    Once a drop may reset the device each deeper one may, and once one surely does so does each deeper one.
    """
    drops = [volts("3.0") * Fraction(100 - 5 * k, 100) for k in range(1, 21)]
    assert (len(drops), len(drops) * (5 + 10), drops[-1]) == (20, 300, volts(0))
    verdicts = [judge(brown_out("2.5", "2.9"), just(drop), 5_000_000) for drop in drops]
    order = [Reset.NONE, Reset.POSSIBLE, Reset.CERTAIN]
    assert [order.index(one) for one in verdicts] == sorted(order.index(one) for one in verdicts)
    assert verdicts[0] is Reset.POSSIBLE
    assert verdicts[3:] == [Reset.CERTAIN] * 17


@pytest.mark.parametrize(("microamperes", "years"), [("3.2", "8.02"), ("0.2", "128")])
def test_years_in_power_down(microamperes: str, years: str) -> None:
    """Currents at 3 V with and without watchdog: ATmega328PB, table of DC characteristics, GUID-7A5BF6A9; 225 mAh."""
    found = life(amount("0.225", "A*h"), Fraction(1), lambda _: just(amperes(Fraction(microamperes) / 10**6)))
    assert found is not None
    assert float(in_years(exact(found.lo, "d"))) == pytest.approx(float(years), rel=0.005)


@pytest.mark.parametrize(
    ("endures", "writes", "slots", "years"),
    [(100_000, 10, 1, "27.38"), (100_000, 50, 1, "5.476"), (10_000, 10, 1, "2.738"), (100_000, 10, 16, "438")],
)
def test_the_life_of_a_memory(endures: int, writes: int, slots: int, years: str) -> None:
    """Arithmetic; 100,000 and 10,000 writes are the rows of 8-bit Microchip families (GUID-96299F5C)."""
    found = memory_life(endures, Fraction(writes), slots)
    assert found is not None
    assert float(in_years(found)) == pytest.approx(float(years), rel=0.0002)


@pytest.mark.parametrize(
    ("colour", "forward", "lit"), [("red", "2.1", True), ("green", "3.3", False), ("blue", "3.3", False)]
)
def test_which_leds_a_coin_cell_lights(colour: str, forward: str, lit: bool) -> None:
    """Common practice, no source: red needs about 2.1 V, green and blue about 3.3 V."""
    led = Load(colour, resistor=just(ohms(100)), forward=just(volts(forward)))
    assert (led.average(volts(3)).hi > amperes(0)) == lit


def test_an_open_circuit_reading_says_little() -> None:
    """Common practice, no source: two cells that read alike without a load, and not at all with one."""
    fresh, spent = (Source(steady(volts("3.0"), ohms(inside))) for inside in (10, 120))
    assert voltage(fresh, FRESH, ()) == voltage(spent, FRESH, ())
    assert (
        voltage(spent, FRESH, drawing("10")).hi
        < volts("1.81")
        < volts("2.89")
        < voltage(fresh, FRESH, drawing("10")).lo
    )


def test_light_that_fades_costs_less_than_constant_light() -> None:
    """Common practice, no source: an even fade from full to none costs half, here in steps of a tenth."""

    def cost(share: Fraction) -> Amount:
        led = Load("light", resistor=just(ohms(100)), forward=just(volts(2)), share=share)
        return mean_current([steady_part("light", Fraction(24), led.average(volts(3)))]).hi

    constant = cost(Fraction(1))
    faded = sum((cost(Fraction(k, 10)) for k in range(11)), amperes(0)) / 11
    assert faded == constant / 2


def test_small_controllers_outlast_large_ones() -> None:
    """Common practice, no source: one that runs down to 1.8 V uses more of a cell than one that stops at 2.7 V."""
    falling = Cells(tuple(Level(Fraction(u), just(volts(v)), just(ohms(20))) for u, v in ((0, "3.0"), (1, "1.6"))))
    shares = [Fraction(k, 100) for k in range(101)]
    usable = [
        sum(margin(Source(falling), u, drawing("1"), volts(to), WORST) >= 0 for u in shares) for to in ("1.8", "2.7")
    ]
    assert usable[0] > 3 * usable[1] > 0


def test_a_regulator_draws_a_power() -> None:
    """Physics: 3.3 V at 10 mA and 80 % from 2.4 V behind 2 ohm: `V^2 - 2.4 V + 2 * 0.04125 = 0`, the upper solution."""
    regulator = Regulator(
        BUCK_BOOST, just(volts("3.3")), just(amperes(0)), just(volts(0)), volts("0.9"), (Fraction(4, 5), Fraction(4, 5))
    )
    source = Source(steady(volts("2.4"), ohms(2)), regulator)
    assert float(exact(voltage(source, FRESH, drawing("10")).lo, "V")) == pytest.approx(3.3, abs=1e-6)
    # Just under 0.9 V nothing is left: E = V + R P / V.
    least = Fraction("0.9") + 2 * Fraction("0.04125") / Fraction("0.9")
    held = [
        margin(Source(steady(volts(e), ohms(2)), regulator), FRESH, drawing("10"), volts("3.3"), WORST) >= 0
        for e in (least, least - Fraction(1, 10**9))
    ]
    assert held == [True, False]
