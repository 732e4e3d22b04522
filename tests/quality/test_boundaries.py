"""Boundaries derived on paper, met to the microsecond on both sides.

Notation: reader `[dmin, dmax]`, chatter `b`, limit of the pause between taps `g`, limit of a tap `p`, hold time `h`.
All times of the surroundings run from first edge to first edge.
"""

import pytest

from nudgeproof.parts.compile import Environment
from nudgeproof.spec.types import Device
from nudgeproof.units import show_us
from tests.devices import bench, can_enter

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
