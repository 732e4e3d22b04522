"""A press that is reckoned at its release, in a type that is too small, at exact times on a contact without bounce."""

from __future__ import annotations

import pytest

from nudgeproof.parts.compile import Environment
from nudgeproof.spec.types import Device
from tests.devices import bench, look, presses, seen
from tests.parts.test_recogniser import MS, fires_at

GESTURES = """tap: {taps: 1, press: up to 400 ms}
hold: {held: 1 s, acts at: release}"""
STAYS = "variables:\n  v: [a, b]"


def late(
    gestures: str = GESTURES,
    transitions: str = "tap: {next: v}, hold: {next: v}",
    claims: str = "length of a press: reckoned at the release",
    extra: str = "",
) -> Device:
    more = f"{STAYS}\nclock: {{off by: 0 %, elapsed up to: 4 s}}"
    return bench(gestures, transitions, debounce=f"0 ms, {claims}", more=more, extra=extra)


@pytest.mark.parametrize(
    ("lasts", "expected"),
    [
        (300, {"tap"}),
        (700, set()),
        (1_200, {"hold"}),
        (3_999, {"hold"}),
        (4_001, {"tap"}),
        (4_300, {"tap"}),
        (4_700, set()),
        (5_200, {"hold"}),
        (8_300, {"tap"}),
        (9_300, {"hold"}),
    ],
)
def test_a_press_that_is_longer_than_its_type_holds_passes_for_a_short_one(lasts: int, expected: set[str]) -> None:
    assert seen(late(), presses((0, lasts * MS))) == expected


def test_what_was_nobodys_by_then_is_somebodys_again() -> None:
    taps = "tap: {taps: 1, press: up to 400 ms}\ntwo taps: {taps: 2, press: up to 400 ms, between: up to 300 ms}"
    device = late(taps, "tap: {next: v}, two taps: {next: v}")
    assert seen(device, presses((0, 2_000 * MS))) == set()
    assert fires_at(device, presses((0, 4_200 * MS)), "tap") == {4_500 * MS}
    assert fires_at(device, presses((0, 100 * MS), (200 * MS, 4_400 * MS)), "two taps") == {4_400 * MS}


def test_a_limit_from_press_to_press_that_still_runs_begins_anew_as_well() -> None:
    row = "row: {held: 1 s, then taps: 1, press: up to 400 ms, between: up to 6 s from press to press}"
    device = late(f"{GESTURES}\n{row}", "hold: {next: v}, row: {next: v}")
    assert seen(device, presses((0, 5_200 * MS), (9_000 * MS, 9_100 * MS))) == {"row"}
    assert fires_at(device, presses((0, 5_200 * MS)), "hold") == {10_000 * MS}


def test_what_acts_at_its_press_does_so_once() -> None:
    device = late("tap: {taps: 1, press: up to 400 ms, acts at: press}\nhold: {held: 1 s, acts at: release}")
    assert fires_at(device, presses((0, 4_200 * MS)), "tap") == {0}
    assert fires_at(device, presses((0, 5_200 * MS)), "hold") == {5_200 * MS}


def test_a_press_during_which_a_state_is_entered() -> None:
    there = "there:\n  transitions: {tap: idle}"
    for word, tap_at_4300, tap_at_4700 in (
        ("forgets the press", False, False),
        ("keeps the press", True, False),
        ("begins it anew", False, True),
    ):
        claims = f"length of a press: reckoned at the release, new state: {word}"
        device = late(transitions="tap: {next: v}, hold: {next: v}, after 500 ms: there", claims=claims, extra=there)
        assert (seen(device, presses((0, 4_300 * MS))) == {"tap"}) == tap_at_4300
        assert (seen(device, presses((0, 4_700 * MS))) == {"tap"}) == tap_at_4700


def test_a_press_that_is_kept_comes_round_only_as_what_is_in_use_there() -> None:
    there = "there:\n  transitions: {hold: idle}"
    claims = "length of a press: reckoned at the release, new state: keeps the press"
    device = late(transitions="tap: {next: v}, hold: {next: v}, after 500 ms: there", claims=claims, extra=there)
    assert seen(device, presses((0, 4_300 * MS))) == set()
    assert seen(device, presses((0, 5_300 * MS))) == {"hold"}


def test_it_is_explored_to_the_end() -> None:
    assert look(late(), Environment(("anything",)), lambda model, before, move: False).complete
