from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nudgeproof.diagnostics import SpecErrors
from nudgeproof.spec.clock import Clock, widen, widen_span
from nudgeproof.spec.fixed import fixed_times
from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import Device
from nudgeproof.units import FOREVER, LONGEST_US, Span
from tests.spec.good import GOOD

SETTINGS = settings(derandomize=True, database=None, deadline=None, max_examples=200)
CLOCK = "clock: {off by: 5 %}\n"


def read_with_clock(off_by: str | None) -> Device:
    return read_device(GOOD.replace(CLOCK, "#\n" if off_by is None else f"clock: {{off by: {off_by}}}\n"), "lamp.yaml")


def test_a_window_of_half_a_second_is_as_wide_as_a_datasheet_says() -> None:
    """The ATmega328PB datasheet, clock section: the calibratable RC oscillator runs at 7.6 to 8.4 MHz, nominally 8 MHz.

    4 million periods of it, 500 ms by its own count, last from 4/8.4 to 4/7.6 s: 476.2 to 526.3 ms.
    """
    off_by = (Fraction("8.4") - 8) / 8
    assert off_by == (8 - Fraction("7.6")) / 8 == Fraction(5, 100)
    span = widen_span(Span(500_000, 500_000), Clock(off_by))
    assert span == Span(476_190, 526_316)
    assert span.lo <= Fraction(4_000_000) / Fraction("8.4") <= span.lo + 1
    assert span.hi - 1 <= Fraction(4_000_000) / Fraction("7.6") <= span.hi


@SETTINGS
@given(st.integers(0, LONGEST_US), st.fractions(0, Fraction(20, 100), max_denominator=1_000_000))
def test_a_widened_time_covers_every_clock_and_no_more_than_a_microsecond_beyond(us: int, off_by: Fraction) -> None:
    span = widen_span(Span(us, us), Clock(off_by))
    assert span.lo * (1 + off_by) <= us < (span.lo + 1) * (1 + off_by)
    assert (span.hi - 1) * (1 - off_by) < us <= span.hi * (1 - off_by)


def test_a_time_with_a_tolerance_of_its_own_stays() -> None:
    for span in (Span(15_000, 25_000), Span(0, 2), Span(600, FOREVER)):
        assert widen_span(span, Clock(Fraction(1, 10))) == span


def test_a_rounding_to_microseconds_is_no_tolerance() -> None:
    assert widen_span(Span(33_333, 33_334), Clock(Fraction(5, 100))) == Span(31_745, 35_089)


def test_nothing_is_widened_to_nothing_and_by_nothing() -> None:
    assert widen_span(Span(0, 0), Clock(Fraction(20, 100))) == Span(0, 0)
    assert widen_span(Span(7, 7), Clock()) == Span(7, 7)


def test_an_exact_clock_changes_nothing() -> None:
    device = read_with_clock(None)
    assert widen(device, Clock()) == device


def test_only_what_the_firmware_counts_is_widened() -> None:
    """Each span of the device that is not named here is the same with a clock that is off."""
    exact, off = read_with_clock(None), read_with_clock("20 %")
    changed = {"press", "between", "held", "repeats", "after", "doze", "quiet"}
    spans = dict(list_spans(exact))
    for path, span in list_spans(off):
        assert (spans[path] != span) == (spans[path].lo == spans[path].hi and path.rsplit(".", 1)[1] in changed), path
    assert off.surroundings == exact.surroundings
    assert (off.person, off.power_up, off.supply) == (exact.person, exact.power_up, exact.supply)


def list_spans(device: Device) -> list[tuple[str, Span]]:
    """Every span of a device with its path."""
    found = [(f"{b.name}.debounce", b.debounce) for b in device.buttons if b.debounce is not None]
    for gesture in device.gestures:
        for key, span in (("press", gesture.press), ("between", gesture.between), ("held", gesture.held)):
            found += [] if span is None else [(f"{gesture.name}.{key}", span)]
        if gesture.repeats is not None:
            found.append((f"{gesture.name}.repeats", gesture.repeats))
    for state in device.states:
        found += [(f"{state.name}.{timeout.text}.after", timeout.after) for timeout in state.timeouts]
        if state.sleep is not None:
            keys = (("ready", state.sleep.ready), ("doze", state.sleep.doze), ("step", state.sleep.step))
            found += [(f"{state.name}.{key}", span) for key, span in keys]
    assert device.memory is not None
    assert device.memory.quiet is not None
    return [*found, ("memory.quiet", device.memory.quiet), ("memory.write", device.memory.write)]


def test_hardware_times_without_a_tolerance_stay_too() -> None:
    exact = {"ready in: up to 2 ms": "ready in: 2 ms", "3.4 ms ± 0.2 ms": "3 ms", "70 ms ± 10 ms": "70 ms"}
    exact |= {"hold-up: 5 to 6 ms": "hold-up: 5 ms", "closes pad: 2 to 40 ms": "closes pad: 9 ms"}
    text = GOOD
    for old, new in exact.items():
        assert text.count(old) == 1
        text = text.replace(old, new)
    device = read_device(text, "lamp.yaml")
    assert device.memory is not None
    assert device.power_up is not None
    assert device.supply is not None
    sleep = device.state("stowed").sleep
    assert sleep is not None
    spans = (sleep.ready, device.memory.write, device.power_up.takes, device.supply.hold_up)
    assert spans == (Span(2_000, 2_000), Span(3_000, 3_000), Span(70_000, 70_000), Span(5_000, 5_000))
    assert device.buttons[0].bounce_us == 8_000


def test_a_debounce_time_without_a_tolerance_is_widened() -> None:
    text = GOOD.replace("debounce: 20 ms ± 5 ms", "debounce: 20 ms")
    assert read_device(text, "lamp.yaml").buttons[0].debounce == Span(19_047, 21_053)


def test_a_device_without_sleep_and_memory_is_widened_as_well() -> None:
    device = replace(read_with_clock(None), memory=None)
    assert widen(device, Clock(Fraction(5, 100))).memory is None


@pytest.mark.parametrize(
    ("written", "press"),
    [
        ("2.5 %", Span(390_243, 410_257)),
        ("2.5%", Span(390_243, 410_257)),
        ("± 2.5 %", Span(390_243, 410_257)),
        ("+/- 2.5 %", Span(390_243, 410_257)),
        ("25000 ppm", Span(390_243, 410_257)),
        ("20 ppm", Span(399_992, 400_009)),
        ("20 %", Span(333_333, 500_000)),
        (".001 %", Span(399_996, 400_005)),
    ],
)
def test_a_share_is_read_exactly(written: str, press: Span) -> None:
    device = read_with_clock(written)
    assert device.gesture("two taps").press == press
    assert device.assumptions == ()


def test_a_clock_that_is_not_stated_is_assumed_exact() -> None:
    device = read_with_clock(None)
    assert [assumption.text for assumption in device.assumptions] == ["clock: {off by: 0 %}"]
    assert device.gesture("two taps").press == Span(400_000, 400_000)


@pytest.mark.parametrize("written", ["20.001 %", "200001 ppm", "-5 %", "5", "5 ms", "up to 5 %", "1 to 2 %"])
def test_what_is_no_share_of_a_clock_is_refused(written: str) -> None:
    with pytest.raises(SpecErrors) as caught:
        read_with_clock(written)
    (problem,) = caught.value.problems
    assert problem.what.startswith("`off by` of `clock`")


def test_the_time_of_repeating_is_widened() -> None:
    text = GOOD.replace("hold: {held: 1.2 to 1.3 s}", "hold: {held: 1.2 to 1.3 s, repeats every: 200 ms}")
    assert read_device(text, "lamp.yaml").gesture("hold").repeats == Span(190_476, 210_527)


def test_what_the_firmware_counts_of_readers_and_chords_is_widened() -> None:
    text = """spec: 1
device: two pads
buttons:
  pad: {bounce: up to 8 ms, lockout: 30 ms, edges apart: at least 10 us}
  rim: {bounce: up to 8 ms, samples: 4 every 5 ms, edges apart: at least 10 us}
gestures:
  both: {together: [pad, rim], within: 60 ms, held: 1 s}
initial: off
states:
  off: {transitions: {both: off}}
person: {tap: 60 to 350 ms, between: 80 to 220 ms, together: up to 30 ms}
clock: {off by: 20 %}
"""
    device = read_device(text, "two.yaml")
    pad, rim = device.buttons
    assert pad.lockout == Span(25_000, 37_500)
    assert rim.samples is not None
    assert (rim.samples.count, rim.samples.every) == (4, Span(4_166, 6_250))
    chord = device.gesture("both").chord
    assert chord is not None
    assert chord.within == Span(50_000, 75_000)
    assert device.gesture("both").held == Span(833_333, 1_250_000)
    assert device.person is not None
    assert device.person.together == Span(0, 30_000)
    assert (pad.bounce_us, rim.bounce_us) == (8_000, 8_000)


def test_on_one_clock_all_counted_times_are_named_as_what_they_count_and_are_as_wide_as_without() -> None:
    each, one = read_with_clock("5 %"), read_with_clock("5 %, drift: one clock")
    assert (each.off_by, one.off_by) == (Fraction(0), Fraction(5, 100))
    spans, widened = dict(list_spans(each)), 0
    for path, span in list_spans(one):
        assert (span.lo, span.hi) == (spans[path].lo, spans[path].hi), path
        is_counted = spans[path] != dict(list_spans(read_with_clock(None)))[path]
        assert (span.of is not None) == is_counted, path
        widened += is_counted
        if span.of is not None:
            assert span.of.counted
            assert widen_span(Span(span.of.lo, span.of.hi), Clock(Fraction(5, 100))) == spans[path]
    assert widened >= 5


def test_one_clock_that_is_exact_and_each_time_are_what_was_there_before() -> None:
    exact, said = read_with_clock("0 %"), read_with_clock("0 %, drift: one clock")
    assert list_spans(exact) == list_spans(said)
    assert list_spans(read_with_clock("5 %")) == list_spans(read_with_clock("5 %, drift: each time"))


_PER_UNIT = (
    ("debounce: 20 ms ± 5 ms", "debounce of pad"),
    ("press: up to 400 ms ± 20 ms", "press"),
    ("held: 1.2 to 1.3 s", "held"),
    ("ready in: up to 2 ms", "ready in"),
    ("write takes: 3.4 ms ± 0.2 ms", "write takes"),
    ("takes: 70 ms ± 10 ms", "takes"),
    ("hold-up: 5 to 6 ms", "hold-up"),
)


@pytest.mark.parametrize(("written", "key"), _PER_UNIT)
def test_a_time_per_unit_is_as_wide_as_without_and_has_one_value(written: str, key: str) -> None:
    assert GOOD.count(written) == 1
    plain = read_device(GOOD, "lamp.yaml")
    device = read_device(GOOD.replace(written, f"{written} per unit"), "lamp.yaml")
    (one,) = fixed_times(device)
    assert (one.key, one.counted) == (key, False)
    assert fixed_times(plain) == ()
    assert [(span.lo, span.hi) for _, span in list_spans(device)] == [(s.lo, s.hi) for _, s in list_spans(plain)]


@pytest.mark.parametrize(
    "written",
    ["between: up to 260 ms ± 10 ms per unit from press to press", "between: up to 260 ms ± 10 ms per unit"],
)
def test_a_pause_per_unit_may_be_counted_from_press_to_press(written: str) -> None:
    device = read_device(GOOD.replace("between: up to 260 ms from press to press", written), "lamp.yaml")
    (one,) = fixed_times(device)
    assert (one.key, one.lo, one.hi) == ("between", 250_000, 270_000)
    assert device.gesture("two taps").between_presses == ("from" in written)


def test_a_timeout_per_unit_is_the_same_value_wherever_it_is_the_same_text_or_time() -> None:
    text = GOOD.replace("after 3 s with pad open", "after 3 s ± 1 s per unit with pad open")
    device = read_device(text.replace("after 4 h", "after 2 to 4 s per unit"), "lamp.yaml")
    (one,) = fixed_times(device)
    assert str(one) == "after 2 s to 4 s per unit"
