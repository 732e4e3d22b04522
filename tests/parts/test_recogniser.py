"""Which presses make which gesture, at exact times on a contact without bounce read without debounce."""

import pytest

from nudgeproof.engines.concrete import Run
from nudgeproof.parts.compile import Environment, compile_model
from nudgeproof.parts.script import Edge
from nudgeproof.spec.types import Device
from tests.devices import bench, look, presses, seen

MS = 1_000


def device(gestures: str, names: str) -> Device:
    return bench(gestures, ", ".join(f"{name}: idle" for name in names.split(", ")))


def fires_at(device: Device, edges: tuple[Edge, ...], name: str) -> set[int]:
    """When this gesture fires, in microseconds, on a device all of whose times are exact."""
    run, found = Run(compile_model(device, Environment(script=edges))), set()
    while run.timers:
        ends = [since + int(timer.hi) for (_, timer), since in zip(run.timers, run.since, strict=True)]
        run.advance(min(ends) - run.now)
        move = run.take(ends.index(min(ends)), 0)
        if any(f"gesture {name}" in taken.choice.send for taken in move.taken):
            found.add(run.now)
    return found


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


HOLDS = device(
    "short hold: {held: 800 ms}\nlong hold: {held: 3 s}\ntap: {taps: 1, press: up to 400 ms}",
    "short hold, long hold, tap",
)


@pytest.mark.parametrize(
    ("lasts", "expected"),
    [
        (400, {"tap"}),
        (799, set()),
        (800, {"short hold"}),
        (2_999, {"short hold"}),
        (3_001, {"long hold"}),
        (9_000, {"long hold"}),
    ],
)
def test_of_several_holds_the_longest_reached_counts(lasts: int, expected: set[str]) -> None:
    assert seen(HOLDS, presses((0, lasts * MS))) == expected


def test_a_shorter_hold_is_seen_at_the_release_and_the_longest_at_its_time() -> None:
    assert fires_at(HOLDS, presses((0, 1_000 * MS)), "short hold") == {1_000 * MS}
    assert fires_at(HOLDS, presses((0, 9_000 * MS)), "long hold") == {3_000 * MS}
    alone = device("short hold: {held: 800 ms}\nlong hold: {held: 3 s}", "short hold")
    assert fires_at(alone, presses((0, 1_000 * MS)), "short hold") == {800 * MS}


def test_a_hold_that_acts_at_release_waits_for_it() -> None:
    late = device("short hold: {held: 800 ms}\nlong hold: {held: 3 s, acts at: release}", "short hold, long hold")
    assert fires_at(late, presses((0, 9_000 * MS)), "long hold") == {9_000 * MS}
    assert seen(late, presses((0, 2_000 * MS))) == {"short hold"}


HOLD_TAP = "hold then tap: {held: 1 s, then taps: 1, press: up to 400 ms, between: up to 260 ms}\nhold: {held: 1 s}"


def test_a_hold_then_a_tap() -> None:
    both, alone = device(HOLD_TAP, "hold, hold then tap"), device(HOLD_TAP, "hold then tap")
    held_tapped = presses((0, 1_200 * MS), (1_400 * MS, 1_500 * MS))
    assert seen(both, held_tapped) == seen(alone, held_tapped) == {"hold then tap"}
    assert fires_at(both, presses((0, 1_200 * MS)), "hold") == {1_460 * MS}
    assert seen(alone, presses((0, 1_200 * MS))) == set()
    assert seen(alone, presses((0, 900 * MS), (1_000 * MS, 1_100 * MS))) == set()
    assert seen(both, presses((0, 1_200 * MS), (1_400 * MS, 2_000 * MS))) == set()
    assert seen(both, presses((0, 1_200 * MS), (1_400 * MS, 2_500 * MS))) == set()


def test_a_longer_hold_takes_the_place_of_one_that_would_go_on() -> None:
    gestures = HOLD_TAP + "\nlong hold: {held: 3 s}"
    three = device(gestures, "hold then tap, long hold")
    assert seen(three, presses((0, 3_500 * MS), (3_600 * MS, 3_700 * MS))) == {"long hold"}
    assert seen(three, presses((0, 2_900 * MS), (3_000 * MS, 3_100 * MS))) == {"hold then tap"}


def test_a_hold_that_waits_fires_while_down_when_nothing_longer_may_come() -> None:
    between = HOLD_TAP.replace("up to 260 ms", "up to 1.5 s from press to press")
    both = device(between, "hold, hold then tap")
    assert fires_at(both, presses((0, 5_000 * MS)), "hold") == {1_500 * MS}
    assert fires_at(both, presses((0, 1_200 * MS)), "hold") == {1_500 * MS}


def test_a_row_of_presses_of_all_kinds() -> None:
    row = device("row: {presses: [tap, hold, tap], held: 1 s, press: up to 400 ms, between: up to 260 ms}", "row")
    assert seen(row, presses((0, 100 * MS), (200 * MS, 1_300 * MS), (1_400 * MS, 1_500 * MS))) == {"row"}
    assert seen(row, presses((0, 100 * MS), (200 * MS, 1_100 * MS), (1_200 * MS, 1_300 * MS))) == set()
    assert seen(row, presses((0, 100 * MS), (200 * MS, 1_300 * MS))) == set()


def test_a_hold_repeats_until_it_is_let_go() -> None:
    dim = bench(
        "dim: {held: 500 ms, repeats every: 200 ms}", "dim: {next: level}", more="variables: {level: [a, b, c, d, e]}"
    )
    assert fires_at(dim, presses((0, 499 * MS)), "dim") == set()
    assert fires_at(dim, presses((0, 1_050 * MS)), "dim") == {500 * MS, 700 * MS, 900 * MS}
    on = bench("dim: {held: 500 ms, repeats every: 200 ms}", "dim: there", extra="there:\n  transitions: {dim: idle}")
    assert fires_at(on, presses((0, 5_000 * MS)), "dim") == {500 * MS}


FIVE = presses(*((i * 200 * MS, (i * 200 + 100) * MS) for i in range(5)))
COUNTS = "tap: {taps: 1, press: up to 150 ms}\ntwo taps: {taps: 2, press: up to 150 ms, between: up to 160 ms}"


def counting(extra: str, transitions: str = "tap: idle, two taps: idle") -> Device:
    return bench(COUNTS, transitions, debounce=f"0 ms, extra taps: {extra}")


def test_five_taps_where_two_are_the_most() -> None:
    ends = [(i * 200 + 100) * MS for i in range(5)]
    anew, swallowed, count = (counting(e) for e in ("begin anew", "swallowed", "count as the largest"))
    assert fires_at(anew, FIVE, "two taps") == {ends[1], ends[3]}
    assert fires_at(anew, FIVE, "tap") == {ends[4] + 160 * MS}
    assert fires_at(swallowed, FIVE, "two taps") == {ends[1]}
    assert fires_at(swallowed, FIVE, "tap") == set()
    assert fires_at(count, FIVE, "two taps") == {ends[4] + 160 * MS}
    assert fires_at(count, FIVE, "tap") == set()


def test_taps_are_swallowed_for_the_pause_after_each_and_no_longer() -> None:
    two = ((0, 100 * MS), (200 * MS, 300 * MS))
    device_ = counting("swallowed")
    assert seen(device_, presses(*two, (461 * MS, 500 * MS))) == {"two taps", "tap"}
    assert seen(device_, presses(*two, (459 * MS, 5_000 * MS))) == {"two taps"}
    assert seen(device_, presses(*two, (400 * MS, 900 * MS), (1_059 * MS, 1_100 * MS))) == {"two taps"}
    assert seen(device_, presses(*two, (400 * MS, 900 * MS), (1_061 * MS, 1_100 * MS))) == {"two taps", "tap"}


def test_taps_are_swallowed_in_the_state_that_the_largest_led_to() -> None:
    for extra, expected in (("swallowed", {"two taps"}), ("begin anew", {"two taps", "tap"})):
        moving = bench(
            COUNTS, "two taps: other", debounce=f"0 ms, extra taps: {extra}", extra="other:\n  transitions: {tap: idle}"
        )
        assert seen(moving, presses((0, 100 * MS), (200 * MS, 300 * MS), (400 * MS, 500 * MS))) == expected


def test_a_single_tap_is_never_the_largest() -> None:
    for extra in ("swallowed", "count as the largest"):
        assert fires_at(counting(extra, "tap: idle"), FIVE, "tap") == {(i * 200 + 100) * MS for i in range(5)}


def test_an_extra_tap_that_is_too_long_takes_the_others_with_it() -> None:
    two = ((0, 100 * MS), (200 * MS, 300 * MS))
    assert seen(counting("count as the largest"), presses(*two, (400 * MS, 900 * MS))) == set()


def test_any_number_of_extra_taps_is_explored_and_it_ends() -> None:
    for extra in ("swallowed", "count as the largest"):
        found = look(counting(extra), Environment(("anything",)), lambda model, before, move: False)
        assert found.complete
