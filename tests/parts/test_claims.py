"""What a press counts for where two things could lay claim to it, at exact times on a contact without bounce or debounce."""

from __future__ import annotations

import pytest

from nudgeproof.parts.compile import Environment
from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import Device
from tests.devices import bench, can_enter, look, presses, seen
from tests.parts.test_recogniser import MS, fires_at

BOTH = "tap: {taps: 1, press: up to 400 ms}\nhold: {held: 500 ms}"
COUNTS = "tap: {TAPtaps: 1, press: up to 150 ms}\ntwo taps: {TWOtaps: 2, press: up to 150 ms, between: up to 160 ms}"
TWO = presses((0, 100 * MS), (200 * MS, 300 * MS))


def claiming(
    claims: str, gestures: str = BOTH, transitions: str = "tap: {to: idle}, hold: idle", extra: str = ""
) -> Device:
    return bench(gestures, transitions, debounce=f"0 ms, {claims}", extra=extra)


def counting(tap: str = "", two: str = "", transitions: str = "tap: there, two taps: there") -> Device:
    """A device in which every gesture leads to a state where all counting goes on as before."""
    gestures = COUNTS.replace("TAP", tap).replace("TWO", two)
    more = "variables:\n  v: [a, b]"
    return bench(gestures, transitions.replace("there", "{next: v}"), more=more)


def test_a_tap_that_waits_one_at_its_release_and_one_at_its_press() -> None:
    one = presses((0, 100 * MS))
    assert fires_at(counting(), one, "tap") == {260 * MS}
    assert fires_at(counting("acts at: pause, "), one, "tap") == {260 * MS}
    assert fires_at(counting("acts at: release, "), one, "tap") == {100 * MS}
    assert fires_at(counting("acts at: press, "), one, "tap") == {0}


def test_two_taps_are_seen_all_the_same_after_a_tap_that_didnt_wait() -> None:
    for early, tap_at in (("acts at: release, ", 100), ("acts at: press, ", 0)):
        assert fires_at(counting(early), TWO, "tap") == {tap_at * MS}
        assert fires_at(counting(early), TWO, "two taps") == {300 * MS}
    assert fires_at(counting("", "acts at: press, "), TWO, "two taps") == {200 * MS}
    assert fires_at(counting("", "acts at: press, "), TWO, "tap") == set()


def test_what_acts_at_its_press_may_last_as_long_as_it_likes_and_at_its_release_not() -> None:
    long = presses((0, 900 * MS))
    assert fires_at(counting("acts at: press, "), long, "tap") == {0}
    assert fires_at(counting("acts at: release, "), long, "tap") == set()


@pytest.mark.parametrize(("lasts", "expected"), [(300, {"tap"}), (600, {"hold", "tap"}), (5_000, {"hold", "tap"})])
def test_the_release_of_a_hold_counts_as_that_of_a_tap(lasts: int, expected: set[str]) -> None:
    one = presses((0, lasts * MS))
    there = "other:\n  transitions: {tap: idle}"
    assert seen(claiming("release of a hold: a tap", BOTH, "tap: idle, hold: other", there), one) == expected
    assert seen(claiming("release of a hold: nobody's"), one) == {"hold" if lasts > 500 else "tap"}


def test_the_release_of_a_hold_counts_in_the_state_that_it_led_to() -> None:
    there = "other:\n  transitions: {flick: idle}"
    gestures = BOTH + "\nflick: {taps: 1, press: up to 50 ms}"
    device = claiming("release of a hold: a tap", gestures, "tap: idle, hold: other", there)
    assert seen(device, presses((0, 700 * MS))) == {"hold", "flick"}
    early = gestures.replace("flick: {", "flick: {acts at: press, ")
    assert seen(claiming("release of a hold: a tap", early, "hold: other", there), presses((0, 700 * MS))) == {"hold"}


def test_the_release_of_what_repeats_counts_as_a_tap_once() -> None:
    gestures = BOTH.replace("500 ms}", "500 ms, repeats every: 200 ms}")
    stays = bench(gestures, "tap: {next: v}, hold: {next: v}", debounce="0 ms, release of a hold: a tap",
                  more="variables:\n  v: [a, b]")  # fmt: skip
    assert fires_at(stays, presses((0, 800 * MS)), "hold") == {500 * MS, 700 * MS}
    assert fires_at(stays, presses((0, 800 * MS)), "tap") == {800 * MS}


MOVED = "other:\n  transitions: {tap: idle, long: idle}"
LONG = BOTH + "\nlong: {held: 700 ms}"


def test_a_press_during_which_a_state_is_entered() -> None:
    for claims, until_600, until_1300 in (
        ("new state: forgets the press", {"hold"}, {"hold"}),
        ("new state: begins it anew", {"hold", "tap"}, {"hold", "long"}),
        ("new state: keeps the press", {"hold"}, {"hold"}),
    ):
        device = claiming(claims, LONG, "hold: other", MOVED)
        assert seen(device, presses((0, 600 * MS))) == until_600
        assert seen(device, presses((0, 1_300 * MS))) == until_1300


def test_a_press_is_kept_with_its_times_for_what_is_in_use_in_the_next_state() -> None:
    moves = "tap: idle, long: idle, after 300 ms: other"
    keeps, anew = (claiming(f"new state: {word}", LONG, moves, MOVED) for word in ("keeps the press", "begins it anew"))
    press = presses((100 * MS, 850 * MS))
    assert fires_at(keeps, press, "long") == {800 * MS}
    assert fires_at(anew, press, "long") == set()
    assert fires_at(keeps, presses((100 * MS, 450 * MS)), "tap") == {450 * MS}
    assert fires_at(keeps, presses((100 * MS, 550 * MS)), "tap") == set()
    assert fires_at(anew, presses((100 * MS, 650 * MS)), "tap") == {650 * MS}
    elsewhere = claiming("new state: keeps the press", LONG, moves, "other:\n  transitions: {hold: idle}")
    assert seen(elsewhere, press) == set()


def test_a_press_that_begins_anew_isnt_seen_at_its_press() -> None:
    gestures = "tap: {acts at: press, taps: 1, press: up to 400 ms}\nhold: {held: 500 ms}"
    device = claiming(
        "new state: begins it anew", gestures, "tap: other", "other:\n  transitions: {tap: idle, hold: idle}"
    )
    assert fires_at(device, presses((0, 450 * MS)), "tap") == {0}
    assert fires_at(device, presses((0, 900 * MS)), "hold") == {500 * MS}


FIRST = "where two fit: the first in the file"
TAP, HOLD, LONG_ONE = (
    "tap: {taps: 1, press: up to 600 ms}",
    "hold: {held: 400 ms, acts at: release}",
    "long: {held: 900 ms, acts at: release}",
)


@pytest.mark.parametrize(
    ("order", "at_300", "at_500", "at_800", "at_1000"),
    [
        ((TAP, HOLD, LONG_ONE), "tap", "tap", "hold", "hold"),
        ((HOLD, TAP, LONG_ONE), "tap", "hold", "hold", "hold"),
        ((LONG_ONE, TAP, HOLD), "tap", "tap", "hold", "long"),
        ((LONG_ONE, HOLD, TAP), "tap", "hold", "hold", "long"),
    ],
)
def test_of_two_gestures_that_a_press_fits_the_first_in_the_file_counts(
    order: tuple[str, ...], at_300: str, at_500: str, at_800: str, at_1000: str
) -> None:
    gestures = "\n".join(order)
    for transitions in ("tap: idle, hold: idle, long: idle", "long: idle, hold: idle, tap: idle"):
        device = claiming(FIRST, gestures, transitions)
        for lasts, expected in ((300, at_300), (500, at_500), (800, at_800), (1_000, at_1000)):
            assert seen(device, presses((0, lasts * MS))) == {expected}


def test_where_no_two_fit_there_may_still_be_lengths_that_are_nothing() -> None:
    device = claiming(FIRST, "tap: {taps: 1, press: up to 300 ms}\n" + HOLD, "tap: idle, hold: idle")
    assert seen(device, presses((0, 350 * MS))) == set()


def test_a_press_that_fits_two_may_go_on_as_either() -> None:
    gestures = f"""{HOLD}
row: {{held: 400 ms, then taps: 1, press: up to 600 ms, between: up to 200 ms}}
two taps: {{taps: 2, press: up to 600 ms, between: up to 300 ms}}"""
    device = claiming(FIRST, gestures, "hold: idle, row: idle, two taps: idle")
    assert seen(device, presses((0, 500 * MS), (600 * MS, 700 * MS))) == {"row"}
    assert seen(device, presses((0, 500 * MS), (750 * MS, 850 * MS))) == {"two taps"}
    assert seen(device, presses((0, 500 * MS), (850 * MS, 950 * MS))) == {"hold"}
    assert seen(device, presses((0, 300 * MS), (400 * MS, 500 * MS))) == {"two taps"}


def test_each_of_them_is_explored_to_the_end() -> None:
    for claims in ("release of a hold: a tap", "new state: begins it anew", "new state: keeps the press"):
        device = claiming(claims, LONG, "hold: other", MOVED)
        assert look(device, Environment(("anything",)), lambda model, before, move: False).complete
    two = claiming(FIRST, f"{TAP}\n{HOLD}\n{LONG_ONE}", "tap: idle, hold: idle, long: idle")
    assert look(two, Environment(("anything",)), lambda model, before, move: False).complete


TENT = """spec: 1
device: tent lamp
buttons: {pad: {bounce: up to 0 ms, debounce: 1 ms, waking press: WAKING}}
gestures:
  tap: {taps: 1, press: up to 400 ms}
  hold: {held: 500 ms}
initial: dark
states:
  dark:
    sleep: {ready in: 1 ms, dozes again after: 300 ms, each step: up to 0 ms}
    transitions: {tap: tapped, hold: lit}
  lit: {transitions: {tap: stepped}}
  stepped: {transitions: {tap: twice}}
  tapped: {}
  twice: {}
"""
HELD_THEN = ((0, 700 * MS), (1_000 * MS, 1_100 * MS), (1_300 * MS, 1_400 * MS))


def enters_by(waking: str, *pairs: tuple[int, int]) -> list[str]:
    """The states, in the order of the spec, that the lamp comes into by these presses."""
    tested = read_device(TENT.replace("WAKING", waking), "tent-lamp.yaml")
    script = Environment(script=presses(*pairs))
    return [state for state in ("lit", "stepped", "tapped", "twice") if can_enter(tested, script, state)]


def test_the_press_that_wakes_is_no_tap_and_may_be_a_hold() -> None:
    assert enters_by("counts", (0, 100 * MS)) == ["tapped"]
    assert enters_by("no tap", (0, 100 * MS)) == []
    assert enters_by("no tap until one came", (0, 100 * MS)) == []
    assert enters_by("no tap", (0, 100 * MS), (200 * MS, 300 * MS)) == ["tapped"]
    assert enters_by("no tap until one came", (0, 100 * MS), (200 * MS, 300 * MS)) == ["tapped"]


def test_a_mark_that_only_a_tap_clears_outlasts_a_hold() -> None:
    assert enters_by("counts", *HELD_THEN[:2]) == ["lit", "stepped"]
    assert enters_by("no tap", *HELD_THEN[:2]) == ["lit", "stepped"]
    assert enters_by("no tap until one came", *HELD_THEN[:2]) == ["lit"]
    assert enters_by("no tap until one came", *HELD_THEN) == ["lit", "stepped"]


def test_a_hold_that_acts_when_it_is_let_go_is_no_tap_either() -> None:
    late = TENT.replace("{held: 500 ms}", "{held: 500 ms, acts at: release}").replace("WAKING", "no tap")
    script = Environment(script=presses(HELD_THEN[0]))
    assert can_enter(read_device(late, "tent-lamp.yaml"), script, "lit")
