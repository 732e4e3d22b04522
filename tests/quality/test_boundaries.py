"""Boundaries derived on paper, met to the microsecond on both sides.

Notation: reader `[dmin, dmax]`, chatter `b`, limit of the pause between taps `g`, limit of a tap `p`, hold time `h`.
All times of the surroundings run from first edge to first edge.
"""

import pytest

from nudgeproof.parts.compile import Environment
from nudgeproof.parts.train import Train
from nudgeproof.spec.types import Device
from nudgeproof.units import Span, show_us
from tests.devices import bench, can_enter, presses

MS = 1_000
DMIN, DMAX, B, G, P, H = 15 * MS, 25 * MS, 8 * MS, 260 * MS, 400 * MS, 1_200 * MS


def three_taps(closes: str, apart_us: int) -> Device:
    return bench(
        f"three taps: {{taps: 3, press: up to {show_us(P)}, between: up to {show_us(G)}}}",
        "three taps: hit",
        bounce=f"up to {show_us(B)}",
        debounce=f"{show_us(DMIN)} to {show_us(DMAX)}",
        extra="hit: {shows: hit}",
        more=f"surroundings:\n  knocks: {{closes pad: {closes}, then open at least: {apart_us} us}}",
    )


@pytest.mark.parametrize("beyond", [0, 1])
def test_three_knocks_count_as_three_taps_up_to_this_spacing_and_not_a_microsecond_more(beyond: int) -> None:
    """A release is accepted at most dmax + b after its first edge, a press at least dmin after its own.

    So the pause the firmware measures is at least (spacing + dmin) - (dmax + b), and it counts up to g:
    spacing <= g + (dmax - dmin) + b.
    """
    spacing = G + (DMAX - DMIN) + B + beyond
    knocks = Environment(("knocks",))
    assert can_enter(three_taps("2 to 40 ms", spacing), knocks, "hit") == (beyond == 0)


@pytest.mark.parametrize("beyond", [0, 1])
def test_a_knock_counts_as_a_tap_from_the_shortest_debounce_on(beyond: int) -> None:
    """A level must be steady for dmin, and a press is steady for at most its own length."""
    longest = DMIN - 1 + beyond
    device = three_taps(f"1 ms to {show_us(longest)}", 50 * MS)
    assert can_enter(device, Environment(("knocks",)), "hit") == (beyond == 1)


@pytest.mark.parametrize("beyond", [0, 1])
def test_a_press_counts_as_a_tap_up_to_this_length(beyond: int) -> None:
    """Accepted at dmin at the earliest and released, for the firmware, at L + dmin at the earliest after a press
    accepted at dmax + b at the latest: it measures at least L + dmin - (dmax + b), and that counts up to p."""
    shortest = P + (DMAX - DMIN) + B + beyond
    device = three_taps(f"{show_us(shortest)} to 2 s", 50 * MS)
    assert can_enter(device, Environment(("knocks",)), "hit") == (beyond == 0)


def held(longest_us: int) -> Device:
    return bench(
        f"hold: {{held: {show_us(H)}}}",
        "hold: hit",
        bounce=f"up to {show_us(B)}",
        debounce=f"{show_us(DMIN)} to {show_us(DMAX)}",
        extra="hit: {shows: hit}",
        more=f"surroundings:\n  squeeze: {{closes pad: 20 ms to {longest_us} us, then open at least: 2 s}}",
    )


@pytest.mark.parametrize("beyond", [0, 1])
def test_a_squeeze_counts_as_a_hold_from_this_length_on(beyond: int) -> None:
    """Accepted at dmin at the earliest; the release is accepted at most dmax + b after its first edge, and at that very
    instant the hold may still be first: L + dmax + b - dmin >= h."""
    longest = H - (DMAX - DMIN) - B - 1 + beyond
    assert can_enter(held(longest), Environment(("squeeze",)), "hit") == (beyond == 1)


@pytest.mark.parametrize("beyond", [0, 1])
def test_a_sleeping_device_wakes_by_a_hold_this_much_longer(beyond: int) -> None:
    """Asleep, the level is first read when the processor is ready: at the earliest `ready` after the edge."""
    ready_lo = 1 * MS
    longest = H + ready_lo - (DMAX - DMIN) - B - 1 + beyond
    from nudgeproof.spec.read import read_device

    device = read_device(
        f"""spec: 1
device: sleeper
buttons:
  pad: {{bounce: up to 8 ms, debounce: 15 to 25 ms, edges apart: at least 10 us}}
gestures:
  hold: {{held: {show_us(H)}}}
initial: stowed
states:
  stowed:
    sleep: {{woken by: [pad], on: edge, ready in: 1 to 3 ms, dozes again after: 50 ms, each step: up to 20 us}}
    transitions: {{hold: hit}}
  hit: {{shows: hit}}
surroundings:
  squeeze: {{closes pad: 20 ms to {longest} us, then open at least: 2 s}}
""",
        "sleeper.yaml",
    )
    assert can_enter(device, Environment(("squeeze",)), "hit") == (beyond == 1)


def read_by(reader: str, bounce: str = "up to 0 ms") -> Device:
    """In `hit` after any press that was accepted and released, in `missed` if nothing was for a while."""
    return bench(
        "tap: {taps: 1, press: up to 5 s}",
        "tap: hit, after 2 s: missed",
        bounce=bounce,
        reader=reader,
        extra="hit: {shows: hit}\nmissed: {shows: nothing}",
    )


def accepts(device: Device, length_us: int) -> tuple[bool, bool]:
    """Whether one press of this length may be accepted, and whether it may be missed."""
    script = Environment(script=presses((MS, MS + length_us)))
    return can_enter(device, script, "hit"), can_enter(device, script, "missed")


@pytest.mark.parametrize(("count", "every_us"), [(4, 5 * MS), (1, 7 * MS), (2, 3)])
def test_samples_accept_a_press_surely_from_n_periods_on_and_perhaps_from_one_less(count: int, every_us: int) -> None:
    """The first sample comes within a period, so the nth is n - 1 to n periods after the edge."""
    device = read_by(f"samples: {count} every {every_us} us")
    perhaps, surely = (count - 1) * every_us, count * every_us
    if perhaps:
        assert accepts(device, perhaps - 1) == (False, True)
    assert accepts(device, perhaps) == (True, True)
    assert accepts(device, surely) == (True, True)
    assert accepts(device, surely + 1) == (True, False)


@pytest.mark.parametrize("beyond", [0, 1])
def test_samples_of_an_uneven_clock_accept_by_the_span_of_the_period(beyond: int) -> None:
    device = read_by("samples: 4 every 4 to 6 ms")
    assert accepts(device, 12 * MS - 1 + beyond) == (beyond == 1, True)
    assert accepts(device, 24 * MS + beyond) == (True, beyond == 0)


@pytest.mark.parametrize("beyond", [0, 1])
def test_chatter_can_stretch_a_press_for_samples(beyond: int) -> None:
    """After the release chatter may close the contact again for up to b, just when a sample is taken; and before, up to b
    after the press, it may open it."""
    device = read_by("samples: 4 every 5 ms", bounce="up to 8 ms")
    assert accepts(device, 3 * 5 * MS - 8 * MS - 1 + beyond) == (beyond == 1, True)
    assert accepts(device, 4 * 5 * MS + 8 * MS + beyond) == (True, beyond == 0)


@pytest.mark.parametrize("length_us", [1, 10 * MS, 30 * MS, 31 * MS])
@pytest.mark.parametrize("bounce", ["up to 0 ms", "up to 8 ms"])
def test_a_lockout_accepts_even_the_shortest_press(length_us: int, bounce: str) -> None:
    assert accepts(read_by("lockout: 20 to 30 ms", bounce), length_us) == (True, False)


@pytest.mark.parametrize(("limit_us", "possible"), [(20 * MS - 1, False), (20 * MS, True)])
def test_with_a_lockout_no_press_is_measured_shorter_than_it(limit_us: int, possible: bool) -> None:
    device = bench(
        f"tap: {{taps: 1, press: up to {limit_us} us}}",
        "tap: hit",
        reader="lockout: 20 to 30 ms",
        extra="hit: {shows: hit}",
    )
    assert can_enter(device, Environment(script=presses((MS, MS + 1))), "hit") == possible


@pytest.mark.parametrize("beyond", [0, 1])
def test_a_press_in_a_lockout_is_seen_if_it_outlasts_it(beyond: int) -> None:
    """Let go after 40 ms, and 3 ms later pressed again: 20 to 30 ms after the release it must still be held."""
    device = bench(
        "two taps: {taps: 2, press: up to 5 s, between: up to 5 s}",
        "two taps: hit, after 2 s: missed",
        reader="lockout: 20 to 30 ms",
        extra="hit: {shows: hit}\nmissed: {shows: nothing}",
    )

    def second(length_us: int) -> Environment:
        return Environment(script=presses((MS, 41 * MS), (44 * MS, 44 * MS + length_us)))

    assert can_enter(device, second(17 * MS - 1 + beyond), "hit") == (beyond == 1)
    assert can_enter(device, second(27 * MS + beyond), "missed") == (beyond == 0)


def test_chatter_that_outlasts_a_lockout_makes_two_presses_of_one() -> None:
    gestures = "two taps: {taps: 2, press: up to 400 ms, between: up to 300 ms}"
    for bounce, possible in (("up to 19 ms", False), ("up to 21 ms", True)):
        device = bench(gestures, "two taps: hit", bounce=bounce, reader="lockout: 20 ms", extra="hit: {shows: hit}")
        assert can_enter(device, Environment(script=presses((MS, 101 * MS))), "hit") == possible
        assert can_enter(device, Environment(train=Train("pad", (Span(100 * MS, 100 * MS),))), "hit") == possible
