"""The hazards about weak cells, each with figures that were reckoned by hand, and each of its verdicts.

The cells of `tests.weak`: with a current I drawn, at the share u used, 3.0 - 0.4 u - I (10 + 50 u) volts.
"""

from __future__ import annotations

import pytest

from nudgeproof.verdict import Finding, Verdict
from tests.weak import CELLS, found, reason

STEADY = "lamp: {draws: 15 mA, in: glowing}"
PEAK = "lamp: {draws: 1 mA, peak: 15 mA, pulse: 2 ms, in: glowing}"


def one(hazard: str, **changes: str) -> Finding:
    (finding,) = found(hazard, **changes).values()
    return finding


def test_a_boot_loop_begins_at_the_share_reckoned_by_hand() -> None:
    """3.0 - 0.4 u - 0.015 (10 + 50 u) = 2.85 - 1.15 u is 2.7 at u = 0.15 / 1.15 = 3/23, which is 13.043... %."""
    loop = one("boot-loop")
    assert loop.verdict is Verdict.BROKEN
    assert loop.sentence.startswith("once 13.04 % of the cells is used, the device can go round for ever")
    assert one("boot-loop", cells=f"{CELLS}, used until: 13.04 %").verdict is Verdict.HOLDS
    assert one("boot-loop", cells=f"{CELLS}, used until: 13.05 %").verdict is Verdict.BROKEN


def test_units_differ_by_their_level() -> None:
    """2.85 - 1.15 u is 2.75 at u = 2/23 = 8.695... %, and 2.65 at 4/23 = 17.391... %."""
    loop = one("boot-loop", supply="brown-out: {level: 2.65 to 2.75 V}")
    assert loop.sentence.startswith("once 8.69 % of the cells is used, on some units (on every one from 17.39 %), ")


@pytest.mark.parametrize("rules", ["starts in: stowed", "starts in: stowed, tries: 2"])
def test_a_start_without_the_load_cures_it(rules: str) -> None:
    assert one("boot-loop", supply=f"brown-out: {{level: 2.7 V, {rules}}}").verdict is Verdict.HOLDS


def test_to_start_where_the_load_is_on_is_no_cure() -> None:
    assert one("boot-loop", supply="brown-out: {level: 2.7 V, starts in: glowing}").verdict is Verdict.BROKEN


def test_a_capacitor_cures_it_where_the_load_is_a_short_peak() -> None:
    """Without one the peak of 15 mA counts, as if it were steady. With 1 mF the 14 mA above the mean come through by
    1 - exp(-2 ms / (35 ohm * 1 mF)) = 0.056 at u = 0.5: 14 mA * 35 ohm * 0.056 = 27 mV below 3.0 - 0.2 - 0.035 = 2.765 V, so
    2.738 V are left.
    """
    cells = f"{CELLS}, used until: 50 %"
    assert one("boot-loop", loads=PEAK, cells=cells).sentence.startswith("once 13.04 %")
    cured = one("boot-loop", loads=PEAK, cells=cells, supply="brown-out: {level: 2.7 V}, capacitor: {size: 1 mF}")
    assert cured.verdict is Verdict.HOLDS
    assert cured.sentence == "no load pulls the supply below its brown-out level until 50 % of the cells is used"


def test_a_capacitor_is_no_cure_where_the_load_is_steady() -> None:
    """It only takes longer until the voltage is down; at which share doesn't change."""
    loop = one("boot-loop", supply="brown-out: {level: 2.7 V}, capacitor: {size: 1 mF}")
    assert loop.verdict is Verdict.BROKEN
    assert loop.sentence.startswith("once 13.04 %")


def test_without_memory_of_the_state_it_comes_back_without_the_load() -> None:
    assert one("boot-loop", memory="keeps: [beam], write takes: 1 ms, guard: two copies").verdict is Verdict.HOLDS


def test_a_device_that_cannot_even_start_goes_round() -> None:
    """The same 15 mA while it starts; it needs no memory for that."""
    loop = one("boot-loop", loads="start: {draws: 15 mA, while: starting}")
    assert loop.verdict is Verdict.HOLDS, "nothing resets a device that runs, so it never starts"
    loop = one("boot-loop", loads="start: {draws: 15 mA, while: starting}, lamp: {draws: 16 mA, in: glowing}")
    assert loop.verdict is Verdict.BROKEN


def test_too_many_loads_that_lie_close_to_each_other_are_undecided() -> None:
    """Five loads on one variable of 21 values, each drawing anything up to 15 mA: more kinds of units than are tried."""
    loads = ", ".join(f"lamp {name}: {{draws: up to 15 mA, in: glowing, if: left is {n}}}" for n, name in enumerate(
        "abcdefghijklmnopq"))  # fmt: skip
    text = {"loads": loads, "supply": "brown-out: {level: 2.6 to 2.8 V}"}
    loop = one("boot-loop", **text, more="", glowing="transitions: {hold: stowed, tap: {next: left}}")
    assert loop.verdict is Verdict.UNDECIDED
    assert "too many loads lie too close to each other" in loop.reason


def test_a_boot_loop_is_not_asked_about_without_a_reset() -> None:
    assert reason("boot-loop", supply="hold-up: 5 ms") == "`supply` has no `brown-out`"
