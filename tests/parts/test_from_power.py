"""A press that counts from power on, on a device whose times are exact and worked out by hand.

The cell is back at 0 and the firmware starts at 300 ms; a level is accepted once it was steady for 10 ms. The device has
contact at first and loses it 200 ms before.
"""

from __future__ import annotations

import pytest

from nudgeproof.parts.compile import Environment
from nudgeproof.parts.script import Edge
from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import Device
from tests.devices import can_enter, presses

MS = 1_000
LOST, BACK = 1_000 * MS, 1_200 * MS

LIGHT = """spec: 1
device: pen light
buttons: {pad: {bounce: up to 0 ms, READER, edges apart: at least 10 us}}
gestures:
  tap: {taps: 1, press: up to 400 ms}
  hold: {held: 600 ms}
  late: {held: 900 ms, repeats every: 100 ms}
initial: dark
states:
  dark: {transitions: {FROM}}
  idle: {}
  lit: {}
supply: {hold-up: 1 ms}
power up: {takes: 300 ms, if blank: START, if damaged: START, button held: HELD}
surroundings: {rattle: {cell gone: up to 200 ms, then steady at least: 1 s}}
"""
CREDITED, READ = "counts from power on", "counts as a press"


def light(held: str, line: str = "hold: lit", start: str = "dark", reader: str = "debounce: 10 ms") -> Device:
    text = LIGHT.replace("HELD", held).replace("FROM", line).replace("START", start).replace("READER", reader)
    return read_device(text, "light.yaml")


def after_power(*pairs: tuple[int, int], gone: tuple[tuple[int, int], ...] = ()) -> Environment:
    """Presses in milliseconds from when the cell is back, which it loses again where it is `gone`."""
    edges = [Edge(LOST, "", False), Edge(BACK, "", True)]
    edges += presses(*((BACK + down * MS, BACK + up * MS) for down, up in pairs))
    edges += [Edge(BACK + at * MS, "", back) for span in gone for at, back in zip(span, (False, True), strict=True)]
    return Environment(script=tuple(sorted(edges)))


def lights(device: Device, *pairs: tuple[int, int], gone: tuple[tuple[int, int], ...] = ()) -> bool:
    return can_enter(device, after_power(*pairs, gone=gone), "lit")


@pytest.mark.parametrize(("held", "least_ms"), [(CREDITED, 590), (READ, 900)])
def test_a_hold_counts_from_power_on_or_from_when_it_is_read(held: str, least_ms: int) -> None:
    """Press and release are accepted alike 10 ms late; a press that is down at 300 ms is accepted at 310 ms."""
    assert lights(light(held), (50, least_ms))
    assert not lights(light(held), (50, least_ms - 1))


def test_two_short_presses_add_up_only_if_the_second_is_there_at_the_start() -> None:
    assert lights(light(CREDITED), (20, 120), (299, 590))
    assert not lights(light(CREDITED), (20, 120), (301, 900))
    assert lights(light(CREDITED), (20, 120), (301, 901))


def test_what_is_open_for_a_moment_before_it_is_accepted_counts_from_when_it_is_read() -> None:
    assert not lights(light(CREDITED), (20, 305), (306, 905))
    assert lights(light(CREDITED), (20, 305), (306, 906))


def test_a_reader_that_believes_at_once_accepts_it_at_the_start() -> None:
    assert lights(light(CREDITED, reader="lockout: 10 ms"), (299, 600))
    assert not lights(light(CREDITED, reader="lockout: 10 ms"), (299, 599))


def test_a_tap_may_be_too_long_by_the_time_that_nobody_looked() -> None:
    assert lights(light(CREDITED, "tap: lit"), (250, 390))
    assert not lights(light(CREDITED, "tap: lit"), (250, 391))
    assert lights(light(READ, "tap: lit"), (250, 700))


def test_the_time_begins_anew_where_the_start_does() -> None:
    """Lost after 100 ms for 50 ms, so power came 150 ms later; a loss that the hold-up bears changes nothing."""
    assert not lights(light(CREDITED), (20, 739), gone=((100, 150),))
    assert lights(light(CREDITED), (20, 740), gone=((100, 150),))
    short = Edge(BACK + 100 * MS, "", False), Edge(BACK + 100 * MS + 500, "", True)
    unseen = Environment(script=tuple(sorted((*after_power((20, 590)).script, *short))))
    assert can_enter(light(CREDITED), unseen, "lit")


def test_what_has_lasted_before_it_is_accepted_is_seen_then() -> None:
    """Started at 1 s: a hold of 900 ms is over by then, but seen when the press is accepted."""
    text = LIGHT.replace("HELD", CREDITED).replace("FROM", "late: lit").replace("START", "dark")
    slow = read_device(text.replace("takes: 300 ms", "takes: 1 s").replace("READER", "debounce: 10 ms"), "slow.yaml")
    assert can_enter(slow, after_power((20, 1_010)), "lit")
    assert not can_enter(slow, after_power((20, 1_009)), "lit")


def test_a_state_that_is_entered_before_it_is_accepted_forgets_it() -> None:
    """It starts in `idle` and is in `dark` 5 ms later; the press is accepted 10 ms after the start."""
    text = "\n".join(light(CREDITED, start="idle").lines)
    moved = read_device(text.replace("idle: {}", "idle: {transitions: {after 5 ms: dark}}"), "light.yaml")
    assert not lights(moved, (20, 899))
    assert lights(moved, (20, 900))


@pytest.mark.parametrize(
    ("held", "limit_ms", "seen"), [(CREDITED, 301, True), (CREDITED, 299, False), (READ, 601, False), (READ, 611, True)]
)
def test_a_button_held_while_power_comes_up_for_the_first_time_counts_from_then(
    held: str, limit_ms: int, seen: bool
) -> None:
    """Left so long after the start, `dark` sees the hold only before that."""
    device = light(held, f"hold: lit, after {limit_ms} ms: idle")
    assert can_enter(device, Environment(held="pad"), "lit") == seen
