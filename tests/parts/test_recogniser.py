"""Which presses make which gesture, at exact times on a contact without bounce read without debounce."""

import pytest

from nudgeproof.spec.types import Device
from tests.devices import bench, presses, seen

MS = 1_000


def device(gestures: str, names: str) -> Device:
    return bench(gestures, ", ".join(f"{name}: idle" for name in names.split(", ")))


TAPS = device(
    "tap: {taps: 1, press: up to 400 ms}\ntwo taps: {taps: 2, press: up to 400 ms, between: up to 260 ms}",
    "tap, two taps",
)


def test_a_short_press_is_a_tap() -> None:
    assert seen(TAPS, presses((0, 100 * MS))) == {"tap"}


def test_a_press_up_to_the_limit_is_a_tap_and_a_longer_one_nobodys() -> None:
    assert seen(TAPS, presses((0, 400 * MS - 1))) == {"tap"}
    assert seen(TAPS, presses((0, 400 * MS + 1))) == set()


def test_at_the_very_limit_both_are_possible() -> None:
    alone = device("tap: {taps: 1, press: up to 400 ms}\nhold: {held: 500 ms}", "tap, hold")
    assert seen(alone, presses((0, 500 * MS))) == {"hold"}
    assert seen(alone, presses((0, 500 * MS - 1))) == set()
    tolerant = device("tap: {taps: 1, press: up to 400 ms ± 20 ms}", "tap")
    assert seen(tolerant, presses((0, 380 * MS - 1))) == {"tap"}
    assert seen(tolerant, presses((0, 400 * MS))) == {"tap"}
    assert seen(tolerant, presses((0, 420 * MS + 1))) == set()


@pytest.mark.parametrize(("gap", "expected"), [(259, {"two taps"}), (260, {"tap", "two taps"}), (261, {"tap"})])
def test_two_taps_count_as_two_up_to_the_limit_between_them(gap: int, expected: set[str]) -> None:
    assert seen(TAPS, presses((0, 100 * MS), ((100 + gap) * MS, (200 + gap) * MS))) == expected


def test_the_pause_runs_from_release_to_press_or_from_press_to_press() -> None:
    """Flutter's constants measure a double tap from press to press, older Android from release to press.

    The same train (down 0, up 150, down 350 ms) with a limit of 300 ms is a double tap in one convention (pause 200) and
    not in the other (350). Sources: flutter/packages/flutter/lib/src/gestures/constants.dart; AOSP ViewConfiguration.java.
    """
    train = presses((0, 150 * MS), (350 * MS, 450 * MS))
    released = device("two taps: {taps: 2, press: up to 400 ms, between: up to 300 ms}", "two taps")
    pressed = device("two taps: {taps: 2, press: up to 400 ms, between: up to 300 ms from press to press}", "two taps")
    assert seen(released, train) == {"two taps"}
    assert seen(pressed, train) == set()
    assert seen(pressed, presses((0, 100 * MS), (299 * MS, 350 * MS))) == {"two taps"}


def test_a_hold_fires_while_down_and_owns_its_release() -> None:
    both = device("tap: {taps: 1, press: up to 400 ms}\nhold: {held: 1 s}", "tap, hold")
    assert seen(both, presses((0, 5_000 * MS))) == {"hold"}
    assert seen(both, presses((0, 999 * MS))) == set()


def test_a_tap_then_a_hold_is_not_a_tap_and_not_a_hold() -> None:
    all_three = device(
        "tap: {taps: 1, press: up to 400 ms}\nhold: {held: 1 s}\n"
        "tap then hold: {taps: 1, then held: 1 s, press: up to 400 ms, between: up to 260 ms}",
        "tap, hold, tap then hold",
    )
    assert seen(all_three, presses((0, 100 * MS), (200 * MS, 1_500 * MS))) == {"tap then hold"}
    assert seen(all_three, presses((0, 100 * MS), (500 * MS, 1_700 * MS))) == {"tap", "hold"}
    # begun and failed: a second press of 600 ms is neither a tap nor a hold, and takes the first with it
    assert seen(all_three, presses((0, 100 * MS), (200 * MS, 800 * MS))) == set()


def test_a_shorter_pattern_waits_only_where_a_longer_one_is_in_use() -> None:
    gestures = "tap: {taps: 1, press: up to 400 ms}\ntwo taps: {taps: 2, press: up to 400 ms, between: up to 260 ms}"
    unused = device(gestures, "tap")
    assert seen(unused, presses((0, 100 * MS), (200 * MS, 300 * MS))) == {"tap"}
    only_two = device(gestures, "two taps")
    assert seen(only_two, presses((0, 100 * MS))) == set()


def test_taps_beyond_the_largest_count_begin_anew() -> None:
    three = presses((0, 100 * MS), (200 * MS, 300 * MS), (400 * MS, 500 * MS))
    assert seen(TAPS, three) == {"tap", "two taps"}


def test_a_press_belongs_to_the_state_it_began_in() -> None:
    moving = bench(
        "hold: {held: 1 s}\ntap: {taps: 1, press: up to 2 s}",
        "hold: other, after 500 ms: other",
        extra="other:\n  transitions: {tap: idle}",
    )
    # the state changes at 500 ms with the finger down: neither the hold nor, in the new state, the tap is seen
    assert seen(moving, presses((0, 1_500 * MS))) == set()
    assert seen(moving, presses((0, 1_500 * MS), (1_600 * MS, 1_700 * MS))) == {"tap"}
