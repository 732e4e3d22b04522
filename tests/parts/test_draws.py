"""Configurations, what draws in each, and the voltages that follow, reckoned by hand on the cells of `tests.weak`."""

from __future__ import annotations

from fractions import Fraction

import pytest

from nudgeproof.parts.draws import (
    IN_RESET,
    NOTHING,
    Config,
    config_of,
    configs,
    drawn,
    stays_above,
    stays_at,
    survives,
    trips,
    volts_in,
)
from nudgeproof.quantities import exact, volts
from nudgeproof.supply.rail import BEST, WORST
from nudgeproof.units import FOREVER
from tests.weak import weak

SLEEPS = "sleep: {ready in: 1 ms, dozes again after: 50 ms}, transitions: {hold: glowing}"
LOADS = (
    "standby: {draws: 2 uA}, processor: {draws: 1 mA, while: running}, lamp: {draws: 9 mA, in: glowing, if: beam is high},"
    " pull: {draws: 50 uA, while: pad pressed}, store: {draws: 3 mA, while: writing}, start: {draws: 4 mA, while: starting},"
    " doze: {draws: 1 uA, while: asleep}"
)
STARTING, ASLEEP, STOWED = Config("starting"), Config("asleep", "stowed"), Config("running", "stowed")
LOW, HIGH = (Config("running", "glowing", (("beam", value),)) for value in ("low", "high"))


def test_the_configurations_are_told_apart_by_what_loads_ask_about() -> None:
    assert configs(weak(loads=LOADS, stowed=SLEEPS)) == (STARTING, STOWED, ASLEEP, LOW, HIGH)
    assert configs(weak()) == (STARTING, STOWED, Config("running", "glowing")), "no load asks about a variable"
    values = {"beam": "high", "left": "3"}
    assert config_of(weak(loads=LOADS), "glowing", values, "running") == HIGH
    assert config_of(weak(loads=LOADS), "stowed", values, "running") == STOWED
    assert [str(config) for config in (STARTING, ASLEEP, HIGH)] == [
        "starting",
        "stowed, asleep",
        "glowing with beam high",
    ]


@pytest.mark.parametrize(
    ("config", "least", "most"),
    [
        (STARTING, "standby start", "standby start pull"),
        (STOWED, "standby processor", "standby processor pull store"),
        (ASLEEP, "standby doze", "standby doze pull"),
        (LOW, "standby processor", "standby processor pull store"),
        (HIGH, "standby processor lamp", "standby processor lamp pull store"),
        (IN_RESET, "standby", "standby pull"),
        (NOTHING, "", ""),
    ],
    ids=str,
)
def test_what_surely_draws_and_what_may(config: Config, least: str, most: str) -> None:
    loads = drawn(weak(loads=LOADS, stowed=SLEEPS), config)
    assert " ".join(load.name for load in loads.least) == least
    assert " ".join(load.name for load in loads.most) == most
    assert (loads.at(WORST), loads.at(BEST)) == (loads.most, loads.least)


def test_a_state_without_power_has_no_configuration() -> None:
    device = weak(
        stowed="unpowered: yes, transitions: {hold: glowing}",
        supply="brown-out: {level: 2.7 V}, latch: {closed by: [pad], lets go: 5 ms}",
    )
    assert configs(device) == (STARTING, Config("running", "glowing"))


GLOWING = Config("running", "glowing")


def test_how_long_a_voltage_is_held() -> None:
    """2.85 - 1.15 u is 2.7 V at 3/23, 2.85 V with fresh cells; 1.7 V is what spent ones give."""
    device = weak()
    assert stays_at(device, GLOWING, volts("2.7"), WORST) == Fraction(3, 23)
    assert stays_above(device, GLOWING, Fraction(2700), BEST) == Fraction(3, 23)
    assert stays_at(device, GLOWING, volts("2.85"), WORST) == 0
    assert stays_at(device, GLOWING, volts("2.8501"), WORST) is None
    assert stays_at(device, GLOWING, volts("1.7"), WORST) == 1
    at = volts_in(device, GLOWING, Fraction(1, 2))
    assert exact(at.lo, "V") <= Fraction("2.275") <= exact(at.hi, "V"), "2.85 - 0.575"
    assert exact(at.hi - at.lo, "V") < Fraction(1, 100_000)


def test_peaks_count_for_resets_and_not_for_readings() -> None:
    device = weak(loads="lamp: {draws: 5 mA, peak: 15 mA, in: glowing}")
    assert stays_at(device, GLOWING, volts("2.7"), WORST) == Fraction(3, 23)
    # 3.0 - 0.4 u - 0.005 (10 + 50 u) = 2.95 - 0.65 u
    assert stays_at(device, GLOWING, volts("2.7"), WORST, peaks=False) == Fraction(5, 13)


def test_where_the_reset_lies() -> None:
    band = trips(weak(supply="brown-out: {level: 2.6 to 2.8 V, hysteresis: 50 mV}"), GLOWING)
    assert band is not None
    assert (exact(band.lo, "V"), exact(band.hi, "V")) == (Fraction("2.575"), Fraction("2.775"))
    device = weak(supply="brown-out: {level: 2.7 V, asleep: off}", stowed=SLEEPS)
    assert trips(device, ASLEEP) is None
    assert trips(device, STOWED) is not None
    assert trips(weak(supply="hold-up: 5 ms"), GLOWING) is None


def test_how_long_a_capacitor_feeds_each_configuration() -> None:
    """From the steady voltage to 2.0 V. Glowing draws 1 mA: 2.99 V with fresh cells and 2.54 V with spent ones, so 0.99 V
    and 0.54 V times 100 uF / 1 mA, and the reset responds 2 us later. In the other ones nothing draws.
    """
    device = weak(
        loads="lamp: {draws: 1 mA, in: glowing}",
        supply="capacitor: {size: 100 uF}, brown-out: {level: 2 V, responds in: 2 us}",
    )
    span = survives(device, GLOWING)
    assert 53_995 <= span.lo <= 54_002
    assert 99_000 <= span.hi <= 99_010
    assert survives(device, STOWED).hi == FOREVER
    assert survives(device, STOWED).lo > 10**9
