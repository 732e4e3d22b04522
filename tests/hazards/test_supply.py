"""The other hazards about the supply: each verdict, with figures that were reckoned by hand.

The cells of `tests.weak`: with a current I drawn, at the share u used, 3.0 - 0.4 u - I (10 + 50 u) volts; with the lamp's
15 mA that is 2.85 - 1.15 u.
"""

from __future__ import annotations

import pytest

from nudgeproof.verdict import Finding, Verdict
from tests.weak import CELLS, found, reason

BROKEN, HOLDS, UNDECIDED = Verdict.BROKEN, Verdict.HOLDS, Verdict.UNDECIDED
PLAIN = "hold-up: 5 ms"
RATTLE = "surroundings: {rattle: {cell gone: up to 40 ms, then steady at least: 2 s}}"


def one(hazard: str, subject: str = "", **changes: str) -> Finding:
    findings = found(hazard, **changes)
    return findings[subject] if subject else next(iter(findings.values()))


READS = """cell: {low below: 2.5 V, fine above: FINE, read every: 1 s}
surroundings: {weak cell: {cell: sags and recovers, meant: true}}"""
OFF_WHEN_LOW = {
    "supply": PLAIN,
    "stowed": "transitions: {hold: glowing, cell fine: glowing}",
    "glowing": "transitions: {hold: stowed, cell low: stowed, tap: {next: beam}}",
}


def test_cells_that_recover_without_the_load_switch_it_on_again() -> None:
    """Below 2.5 V from u = 0.35 / 1.15 = 7/23 = 30.43 % on; without the load it is 2.6 V or more up to the end."""
    chatter = one("chatter-off", more=READS.replace("FINE", "2.55 V"), **OFF_WHEN_LOW)
    assert chatter.verdict is BROKEN
    assert chatter.sentence.startswith("once 30.43 % of the cells is used, ")
    assert one("chatter-off", more=READS.replace("FINE", "3.1 V"), **OFF_WHEN_LOW).verdict is HOLDS
    stays_off = {**OFF_WHEN_LOW, "stowed": "transitions: {hold: glowing}"}
    assert one("chatter-off", more=READS.replace("FINE", "2.55 V"), **stays_off).verdict is HOLDS


def test_where_no_load_pulls_the_cells_that_low_nothing_chatters() -> None:
    fresh = {**OFF_WHEN_LOW, "cells": f"{CELLS}, used until: 30 %"}
    assert one("chatter-off", more=READS.replace("FINE", "2.55 V"), **fresh).sentence == (
        "no load pulls the cells below `low below` until 30 % of them is used"
    )
    assert "the spec has no `cell`" in reason("chatter-off")


def test_a_band_between_the_lowest_voltage_and_the_reset() -> None:
    """Below 2.75 V from u = 0.1 / 1.15 = 2/23 = 8.695... % on, and reset at 2.7 V only."""
    wild = one("undefined-voltage", "used cells", supply="brown-out: {level: 2.7 V}, works from: 2.75 V")
    assert wild.verdict is BROKEN
    assert wild.sentence.startswith("once 8.69 % of the cells is used, the voltage in glowing is below 2.75 V")
    assert one("undefined-voltage", supply="brown-out: {level: 2.7 V}, works from: 2.7 V").verdict is HOLDS
    assert (
        one("undefined-voltage", supply="brown-out: {level: 2.7 V, hysteresis: 2 mV}, works from: 2.7 V").verdict
        is BROKEN
    )
    assert "works from" in reason("undefined-voltage")


def test_a_falling_voltage_passes_the_band_too() -> None:
    supply = "capacitor: {size: 100 uF}, brown-out: {level: LEVEL}, works from: 1.8 V"
    falls = one("undefined-voltage", "rattle", supply=supply.replace("LEVEL", "1.7 to 2.0 V"), more=RATTLE)
    assert falls.verdict is BROKEN
    assert "from 1.8 V down to 1.7 V" in falls.sentence
    assert (
        one("undefined-voltage", "rattle", supply=supply.replace("LEVEL", "1.8 to 2.0 V"), more=RATTLE).verdict is HOLDS
    )


@pytest.mark.parametrize(("needs", "verdict"), [("2.7 V", HOLDS), ("2.8 V", BROKEN)])
def test_a_write_below_what_it_needs(needs: str, verdict: Verdict) -> None:
    memory = f"keeps: [state], write takes: 1 ms, guard: two copies, write needs: {needs}"
    supply = "brown-out: {level: 2.7 V}, works from: 2.7 V"
    assert one("undefined-voltage", "writes", supply=supply, memory=memory).verdict is verdict


@pytest.mark.parametrize(("size", "verdict"), [("39.9 uF", BROKEN), ("40.1 uF", HOLDS)])
def test_how_large_a_capacitor_must_be(size: str, verdict: Verdict) -> None:
    """1 mA from spent cells: 2.6 - 0.06 = 2.54 V, and 0.5 V above the level. C = 20 ms * 1 mA / 0.5 V = 40 uF."""
    supply = f"capacitor: {{size: {size}}}, brown-out: {{level: 2.04 V}}, rides through: 20 ms"
    lost = one("short-hold-up", supply=supply, loads="lamp: {draws: 1 mA, in: glowing}")
    assert lost.verdict is verdict
    if verdict is BROKEN:
        assert "a capacitor of 47 uF would do" in lost.sentence, "the next size of E12"


def test_a_hold_up_that_is_stated_counts_as_it_is() -> None:
    assert one("short-hold-up", supply="hold-up: 20 ms, rides through: 20 ms").verdict is BROKEN
    assert one("short-hold-up", supply="hold-up: 21 ms, rides through: 20 ms").verdict is HOLDS
    assert "rides through" in reason("short-hold-up")


def ram(lasts: str, new: str = "5 s") -> str:
    return f"ram: {{keeps: [state], lasts: {lasts}, checked by: marker, blips: up to 300 ms, new cells: {new}}}"


def test_what_is_left_in_ram_tells_a_blip_from_new_cells_or_not() -> None:
    assert one("indistinct-outage", "blips", more=ram("200 to 900 ms")).verdict is BROKEN
    assert one("indistinct-outage", "blips", more=ram("301 to 900 ms")).verdict is HOLDS
    assert one("indistinct-outage", "new cells", more=ram("301 to 900 ms")).verdict is HOLDS
    assert one("indistinct-outage", "new cells", more=ram("301 to 900 ms", "900 ms")).verdict is BROKEN
    assert reason("indistinct-outage") == "the spec has no `ram`"


def test_a_load_that_needs_more_voltage_than_there_is() -> None:
    """It needs 2.5 V, and has 2.85 - 1.15 u: dark from 7/23 = 30.43 % on, if no reset comes before."""
    loads = "lamp: {draws: 15 mA, in: glowing, needs: 2.5 V}"
    dark = one("unlit-output", "lamp", loads=loads, supply=PLAIN)
    assert dark.verdict is BROKEN
    assert dark.sentence.startswith("once 30.43 % of the cells is used, the lamp does nothing in glowing")
    assert one("unlit-output", loads=loads, supply="brown-out: {level: 2.7 V}").verdict is HOLDS, "it is reset before"
    assert one("unlit-output", loads=loads, supply="brown-out: {level: 2.4 V}").verdict is BROKEN
    assert one("unlit-output", loads=loads, supply=PLAIN, cells=f"{CELLS}, used until: 30 %").verdict is HOLDS
    faint = loads.replace("needs", "works on: yes, needs")
    assert "no load has `led` or `needs`" in reason("unlit-output", loads=faint, supply=PLAIN)


def test_an_led_is_dark_only_where_the_cells_without_it_are_too_weak() -> None:
    """It begins to draw at its forward voltage, so what counts is 3.0 - 0.4 u: below 2.7 V from 75 % on."""
    loads = "lamp: {led: 2.7 V, resistor: 10 ohm, in: glowing}"
    assert one("unlit-output", loads=loads, supply=PLAIN).sentence.startswith("once 75 % of the cells is used")


@pytest.mark.parametrize(("resistor", "verdict"), [("39 ohm", BROKEN), ("41 ohm", HOLDS)])
def test_an_led_before_fresh_cells(resistor: str, verdict: Verdict) -> None:
    """(3.0 - 2.0) V / (10 ohm + R): 20.4 mA with 39 ohm, 19.6 mA with 41 ohm."""
    loads = f"lamp: {{led: 2 V, resistor: {resistor}, in: glowing, at most: 20 mA}}"
    assert one("over-limit", "lamp", loads=loads).verdict is verdict
    assert one("over-limit", "all loads", loads=loads, supply=f"{PLAIN}, at most: 20 mA").verdict is verdict
    assert reason("over-limit") == "nothing states what it carries `at most`"


KNOCKS = """surroundings: {knocks: {closes pad: up to 40 ms, then open at least: 300 ms}}
use: {days: {times: {knocks: 20 000}}}
promises: [cells last at least TIME in days]"""
SLEEPS = "sleep: {woken by: [pad], on: edge, ready in: 2 ms, dozes again after: 50 ms}, transitions: {hold: glowing}"


@pytest.mark.parametrize(
    ("time", "verdict", "words"),
    [("300 d", BROKEN, "the cells last 255 to"), ("250 d", HOLDS, "the cells last 255 to"),
     ("1000 d", HOLDS, "even if nothing wakes the processor")],
)  # fmt: skip
def test_knocks_that_wake_the_processor_for_nothing(time: str, verdict: Verdict, words: str) -> None:
    """At most 40 ms closed, 2 ms to wake, 50 ms until it dozes and twice 10 ms of debounce make 112 ms at 1 mA more than in
    sleep, 31.1 nAh; 20 000 of them 0.622 mAh. With 10 uA all day, 0.24 mAh, that is 0.862 mAh of 220 mAh a day: 255 days,
    and 917 days without them.
    """
    drained = one(
        "drained-by-presses",
        loads="standby: {draws: 10 uA}, processor: {draws: 1 mA, while: running}",
        cells=f"{CELLS}, charge: 220 mAh",
        supply=PLAIN,
        stowed=SLEEPS,
        more=KNOCKS.replace("TIME", time),
    )
    assert drained.verdict is verdict
    assert words in drained.sentence


def test_without_a_charge_nobody_knows_how_long_cells_last() -> None:
    loads = "standby: {draws: 10 uA}, processor: {draws: 1 mA, while: running}"
    text = {"loads": loads, "supply": PLAIN, "stowed": SLEEPS, "more": KNOCKS.replace("TIME", "300 d")}
    for hazard in ("drained-by-presses", "promise"):
        assert one(hazard, **text).verdict is UNDECIDED
        assert one(hazard, **text).reason == "`cells` don't say what `charge` they hold"


@pytest.mark.parametrize(
    ("processor", "hazards"), [("1 mA", ["drained-by-presses"]), ("up to 1 mA", ["drained-by-presses", "promise"])]
)
def test_where_a_specimen_may_draw_nothing_that_is_the_reason(processor: str, hazards: list[str]) -> None:
    """Without knocks the cells would last for ever then, with them for ever too if the processor may draw nothing."""
    text = {
        "loads": f"standby: {{draws: up to 10 uA}}, processor: {{draws: {processor}, while: running}}",
        "cells": f"{CELLS}, charge: 220 mAh",
        "supply": PLAIN,
        "stowed": SLEEPS,
        "more": KNOCKS.replace("TIME", "300 d"),
    }
    for hazard in hazards:
        found = one(hazard, **text)
        assert (found.verdict, found.reason) == (UNDECIDED, "a specimen may draw nothing as long as nobody uses it")


@pytest.mark.parametrize(
    ("time", "verdict"), [("916 d", HOLDS), ("917 d", BROKEN), ("22000 h", HOLDS), ("2.51 years", BROKEN)]
)
def test_a_promise_about_the_cells(time: str, verdict: Verdict) -> None:
    """220 mAh / 10 uA = 22 000 h, which is 916.7 days, or 2.5097 years of 8766 hours."""
    kept = one(
        "promise",
        loads="standby: {draws: 10 uA}",
        cells=f"{CELLS}, charge: 220 mAh",
        supply=PLAIN,
        more=f"use: {{drawer: {{}}}}\npromises: [cells last at least {time} in drawer]",
    )
    assert kept.verdict is verdict


@pytest.mark.parametrize(("guard", "years", "verdict"), [
    ("two copies", 27, HOLDS), ("two copies", 28, BROKEN), ("checksum", 13, HOLDS), ("checksum", 14, BROKEN)])  # fmt: skip
def test_a_memory_that_each_press_wears(guard: str, years: int, verdict: Verdict) -> None:
    """20 gestures a day, each a write: 100 000 / 20 days are 13.7 years, and twice that where two copies take turns."""
    worn = one(
        "worn-memory",
        memory=f"keeps: [state], write takes: 1 ms, guard: {guard}, endures: 100 000 writes",
        more=f"use: {{evenings: {{presses: 20, memory for: {years} years}}}}",
    )
    assert worn.verdict is verdict


def test_writes_that_time_makes_and_that_nobody_can_count() -> None:
    memory = "keeps: [state], write takes: 1 ms, guard: two copies, endures: 100 000 writes"
    more = "use: {evenings: {presses: 20, memory for: 5 years}}"
    round_ = {
        "glowing": "transitions: {hold: stowed, after 3 s: stowed}",
        "stowed": "transitions: {hold: glowing, after 3 s: glowing}",
    }
    assert one("worn-memory", memory=memory, more=more, **round_).verdict is UNDECIDED
    assert reason("worn-memory") == "`memory` doesn't say how many writes it `endures`"
    assert "memory for" in reason("worn-memory", memory=memory)


def test_a_line_that_comes_every_so_often_writes_all_day() -> None:
    """Every 10 s in the state of the rest of the day: 8640 writes a day, so 100 000 of two copies last 23 days."""
    worn = one(
        "worn-memory",
        memory="keeps: [beam], write takes: 1 ms, guard: two copies, endures: 100 000 writes",
        stowed="transitions: {hold: glowing, every 10 s: {next: beam}}",
        more="use: {evenings: {memory for: 1 year}}",
    )
    assert worn.verdict is BROKEN
    assert "up to 8640 times a day" in worn.sentence
