"""What a reader accepts: the first edge may come any time, and chatter lasts at most `bounce`."""

from nudgeproof.parts.compile import Environment
from nudgeproof.spec.types import Device
from tests.devices import bench, can_enter, presses

MS = 1_000


def device(bounce: str, debounce: str) -> Device:
    return bench(
        "tap: {taps: 1, press: up to 10 s}", "tap: hit", bounce=bounce, debounce=debounce, extra="hit: {shows: hit}"
    )


def hit(tested: Device, length: int) -> bool:
    return can_enter(tested, Environment(script=presses((MS, MS + length))), "hit")


def test_nothing_shorter_than_the_minimum_is_ever_accepted() -> None:
    tested = device("up to 0 ms", "20 ms ± 5 ms")
    assert not hit(tested, 15 * MS - 1)
    assert hit(tested, 15 * MS)


def test_between_minimum_and_maximum_a_press_may_be_missed_and_above_it_is_not() -> None:
    missing = bench(
        "tap: {taps: 1, press: up to 10 s}",
        "tap: hit, after 5 s: missed",
        debounce="20 ms ± 5 ms",
        extra="hit: {shows: hit}\nmissed: {shows: nothing}",
    )
    for length, may_miss in ((25 * MS, True), (25 * MS + 1, False)):
        assert can_enter(missing, Environment(script=presses((MS, MS + length))), "missed") == may_miss


def test_chatter_never_stretches_a_press() -> None:
    """Lengths run from first edge to first edge, so chatter can only break a press up, not make it longer."""
    tested = device("up to 8 ms", "20 ms")
    assert not hit(tested, 20 * MS - 1)
    assert hit(tested, 20 * MS)


def test_chatter_longer_than_the_debounce_makes_two_presses_of_one() -> None:
    """A contact that chatters longer than the window can be accepted twice; common practice, no source."""
    tested = bench(
        "two taps: {taps: 2, press: up to 400 ms, between: up to 300 ms}",
        "two taps: hit",
        bounce="up to 30 ms",
        debounce="10 ms",
        extra="hit: {shows: hit}",
    )
    assert can_enter(tested, Environment(script=presses((MS, 101 * MS))), "hit")
    quiet = bench(
        "two taps: {taps: 2, press: up to 400 ms, between: up to 300 ms}",
        "two taps: hit",
        bounce="up to 9 ms",
        debounce="10 ms",
        extra="hit: {shows: hit}",
    )
    assert not can_enter(quiet, Environment(script=presses((MS, 101 * MS))), "hit")
