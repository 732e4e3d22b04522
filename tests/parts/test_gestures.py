"""What stands in for buttons only adds runs: how soon one thing may follow another is met to the microsecond.

Each device is in `close` only if a second thing is seen within a time of a first one. The shortest such time is worked
out by hand: a microsecond less can't be with the buttons, and what can be with them can be without.
"""

from __future__ import annotations

import pytest

from nudgeproof.model.step import Move
from nudgeproof.model.tables import Model, Situation
from nudgeproof.parts.compile import Environment
from nudgeproof.parts.gestures import can_stand_in
from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import Device
from tests.devices import bench, can_enter, enters, look

MS = 1_000
WITH_BUTTONS = Environment(("anything",))
ANY_GESTURE = Environment(gestures=True)

TAPS = "tap: {taps: 1, press: up to 400 ms}\ntwo taps: {taps: 2, press: up to 400 ms, between: up to 200 ms}"
PATHS = "first: {transitions: {SECOND: close, after WITHIN us: idle}}\nother: {shows: other}\nclose: {shows: close}"


def quick(reader: str, within_us: int, second: str = "tap", more: str = "") -> Device:
    """A tap is seen when the pause is over; just then another press may be accepted, so only its length keeps them apart."""
    extra = PATHS.replace("SECOND", second).replace("WITHIN", str(within_us))
    return bench(f"{TAPS}\n{more}", "tap: first, two taps: other", reader=reader, extra=extra)


@pytest.mark.parametrize(
    ("reader", "second", "more", "shortest_us"),
    [
        ("debounce: 10 to 20 ms", "tap", "", 10 * MS),
        ("lockout: 10 to 20 ms", "tap", "", 10 * MS),
        ("samples: 3 every 4 to 5 ms", "tap", "", 8 * MS),
        ("samples: 1 every 5 ms", "tap", "", 1),
        ("debounce: 10 to 20 ms", "hold", "hold: {held: 5 to 8 ms}", 5 * MS),
    ],
)
def test_two_gestures_of_a_button_come_as_close_as_its_reader_allows(
    reader: str, second: str, more: str, shortest_us: int
) -> None:
    tested = quick(reader, shortest_us, second, more)
    assert can_enter(tested, WITH_BUTTONS, "close")
    assert can_enter(tested, ANY_GESTURE, "close")
    if shortest_us > 1:
        sooner = quick(reader, shortest_us - 1, second, more)
        assert not can_enter(sooner, WITH_BUTTONS, "close")
        assert not can_enter(sooner, ANY_GESTURE, "close")


REPEATING = """spec: 1
device: volume
buttons: {pad: {bounce: up to 0 ms, debounce: 10 ms, edges apart: at least 10 us}}
gestures: {hold: {held: 100 ms, repeats every: 4 to 6 ms}}
variables: {n: [none, one, two]}
initial: idle
states:
  idle:
    transitions:
      hold: [{if: n is none, set: {n: one}, restarts: true}, {if: n is one, set: {n: two}}]
      after WITHIN us: {if: n is one, to: late}
  late: {transitions: {hold: {to: idle, set: {n: none}}}}
"""


def counts_two(model: Model, before: Situation, move: Move) -> bool:
    return model.value(move.situation, "value n") == "two"


@pytest.mark.parametrize(("within", "can"), [(4 * MS, True), (4 * MS - 1, False)])
def test_a_hold_repeats_sooner_than_any_new_one_could_come(within: int, can: bool) -> None:
    tested = read_device(REPEATING.replace("WITHIN", str(within)), "volume.yaml")
    for environment in (WITH_BUTTONS, ANY_GESTURE):
        assert (look(tested, environment, counts_two).paths[0] is not None) == can


CHORD = """spec: 1
device: two pads
buttons:
  pad: {bounce: up to 0 ms, lockout: 5 to 6 ms, edges apart: at least 1 ms}
  rim: {bounce: up to 0 ms, lockout: 5 to 6 ms, edges apart: at least 1 ms}
gestures: {both: {together: [pad, rim], within: 60 ms}}
initial: idle
states:
  idle: {transitions: {both: first}}
  first: {transitions: {both: close, after WITHIN us: idle}}
  close: {}
"""


@pytest.mark.parametrize(("within", "can"), [(10 * MS, True), (10 * MS - 1, False)])
def test_two_chords_come_as_close_as_their_buttons_allow(within: int, can: bool) -> None:
    """The button that was down last reads released and pressed again two lockouts later. The stand-in allows even less."""
    tested = read_device(CHORD.replace("WITHIN", str(within)), "pads.yaml")
    assert can_enter(tested, WITH_BUTTONS, "close") == can
    assert can_enter(tested, ANY_GESTURE, "close")


GIVES_BACK = """spec: 1
device: two pads
buttons:
  pad: {bounce: up to 0 ms, lockout: 5 to 6 ms, edges apart: at least 1 ms}
  rim: {bounce: up to 0 ms, lockout: 5 to 6 ms, edges apart: at least 1 ms}
gestures:
  both: {together: [pad, rim], within: 60 ms, releases: are taps}
  tap: {on: pad, taps: 1, press: up to 400 ms}
initial: idle
states:
  idle: {transitions: {both: first}}
  first: {transitions: {tap: close, after 1 us: idle}}
  close: {}
"""


def test_a_tap_may_come_right_after_the_chord_that_gives_it_back() -> None:
    tested = read_device(GIVES_BACK, "pads.yaml")
    for environment in (WITH_BUTTONS, ANY_GESTURE):
        assert can_enter(tested, environment, "close")


def test_a_button_may_read_pressed_while_no_gesture_comes() -> None:
    """A time that runs only with the button open is held up by a press that isn't a gesture."""
    tested = bench(
        "hold: {held: 2 s}",
        "after 1 s: late, after 500 ms with pad open: soon",
        debounce="10 ms",
        extra="late: {shows: late}\nsoon: {transitions: {hold: idle}}",
    )
    result = look(tested, Environment(), enters("late"))
    assert result.complete
    assert result.paths[0] is None, "with nobody there the other time is over first"
    assert can_enter(tested, WITH_BUTTONS, "late")
    assert can_enter(tested, ANY_GESTURE, "late")


def test_each_gesture_in_use_may_come() -> None:
    tested = quick("debounce: 10 to 20 ms", 10 * MS)
    for state in ("first", "other", "close"):
        assert can_enter(tested, ANY_GESTURE, state)


LATCHED = """spec: 1
device: meter
buttons: {key: {bounce: up to 0 ms, debounce: 10 ms, edges apart: at least 1 ms}}
gestures: {hold: {held: 1 s}}
initial: without power
states:
  without power: {unpowered: true}
  on: {transitions: {hold: without power}}
power up: {takes: 20 ms, if blank: on, if damaged: on, button held: ignored until released}
supply: {hold-up: 5 ms, latch: {closed by: [key], lets go: up to 3 ms}}
"""


def test_nothing_stands_in_for_a_key_that_feeds_the_device() -> None:
    assert can_stand_in(quick("debounce: 10 to 20 ms", 10 * MS))
    assert not can_stand_in(read_device(LATCHED, "meter.yaml"))


EVENTS = """spec: 1
device: hall light
buttons: {pad: {bounce: up to 0 ms, debounce: 10 ms, edges apart: at least 1 ms}}
gestures: {press: {held: 30 ms}}
events: {step: {}}
initial: INITIAL
states:
  dark:
    sleep: {woken by: [step], on: edge, ready in: up to 2 ms, dozes again after: 50 ms}
    transitions: {step: first}
  begun: {transitions: {press: dark}}
  first: {transitions: {SECOND, after WITHIN us: far}}
  far: {}
  close: {}
MORE
surroundings:
  walkers: {makes: step, then none for at least: 10 ms, meant: true}
"""
DEAF = (
    "power up: {takes: 20 ms, if blank: dark, if damaged: dark, button held: ignored until released}\n"
    "memory: {keeps: state, written: after 100 ms of quiet, write takes: 9 ms, guard: two copies, may lose: the last 10 s, "
    "while writing: deaf}"
)


def hall(within_us: int = 1, more: str = "", initial: str = "dark", second: str = "step: close") -> Device:
    text = EVENTS.replace("WITHIN", str(within_us)).replace("MORE", more).replace("INITIAL", initial)
    return read_device(text.replace("SECOND", second), "hall.yaml")


@pytest.mark.parametrize(("within", "can"), [(8 * MS, True), (8 * MS - 1, False)])
def test_an_event_that_is_kept_is_seen_that_much_closer_to_the_next(within: int, can: bool) -> None:
    """The first one wakes and is seen up to 2 ms later, the second one comes 10 ms after it at the soonest."""
    tested = hall(within)
    assert can_enter(tested, Environment(("walkers",)), "close") == can
    assert can_enter(tested, Environment(("walkers",), gestures=True), "close") == can


def test_an_event_that_waits_for_a_write_is_seen_just_before_the_next() -> None:
    """It comes up to 1 ms before the write begins, in sleep, and is seen when that ends, 9 ms later."""
    tested = hall(1, more=DEAF, initial="begun")
    assert can_enter(tested, Environment(("anything", "walkers")), "close")
    assert can_enter(tested, Environment(("walkers",), gestures=True), "close")


def test_an_event_may_be_lost_and_the_next_one_seen() -> None:
    """A step doesn't wake, so the door is seen first; with every step seen the door would come too late."""
    text = EVENTS.replace("WITHIN", "1").replace("MORE", "").replace("INITIAL", "dark").replace("SECOND", "press: dark")
    text = text.replace("{step: {}}", "{step: {}, door: {}}").replace("makes: step", "makes: [step, door]")
    text = text.replace("{step: first}", "{step: first, door: close}").replace("[step], on", "[door], on")
    tested = read_device(text, "hall.yaml")
    assert can_enter(tested, Environment(("walkers",)), "close")
    assert can_enter(tested, Environment(("walkers",), gestures=True), "close")


WAKES = """spec: 1
device: drawer light
buttons: {pad: {bounce: up to 0 ms, debounce: 10 ms, edges apart: at least 1 ms}}
gestures: {hold: {held: 100 ms}, long hold: {held: 1 s}}
initial: dark
states:
  dark:
    sleep: {woken by: pad, ready in: 300 ms, dozes again after: 5 ms, each step: up to 1 ms, press counts from: waking}
    transitions: {LINE: lit}
  lit: {transitions: {hold: dark, after WITHIN us: late}}
  late: {}
"""


def test_waking_by_itself_may_come_at_any_time() -> None:
    tested = read_device(WAKES.replace("LINE", "waking").replace("WITHIN", "1"), "drawer.yaml")
    assert can_enter(tested, WITH_BUTTONS, "lit")
    assert can_enter(tested, ANY_GESTURE, "lit")


def test_a_hold_that_counts_from_waking_may_follow_sooner_than_its_time() -> None:
    """Held, let go, asleep, pressed and read: 310 ms after the waking edge a hold of 100 ms is seen at once."""
    more = "again: {transitions: {hold: close, after WITHIN us: late}}\n  close: {}\n  late: {}".replace(
        "WITHIN", "WIDE"
    )
    text = WAKES.replace("LINE", "hold").replace("  late: {}\n", f"  {more}\n")
    tight = text.replace("hold: dark, after WITHIN us: late", "long hold: dark").replace("WIDE", "1")
    assert can_enter(read_device(tight.replace("{hold: lit}", "{hold: again}"), "drawer.yaml"), ANY_GESTURE, "close")
    usual = tight.replace(", press counts from: waking", "").replace("{hold: lit}", "{hold: again}")
    assert not can_enter(read_device(usual, "drawer.yaml"), ANY_GESTURE, "close")


CLAIMED = """spec: 1
device: step light
buttons: {pad: {bounce: up to 0 ms, debounce: 20 msCLAIMS}}
gestures:
  tap: {taps: 1, press: up to 400 msACTS}
  hold: {held: 500 ms}
initial: dark
states:
  dark: {transitions: {hold: lit}}
  lit: {transitions: {tap: close, after 1 ms: late}}
  close: {}
  late: {}
"""


@pytest.mark.parametrize(
    ("claims", "acts"),
    [("", ", acts at: press"), (", release of a hold: a tap", ""), (", new state: begins it anew", "")],
)
def test_what_counts_for_more_than_one_press_or_at_its_press_may_come_at_once(claims: str, acts: str) -> None:
    usual = read_device(CLAIMED.replace("CLAIMS", "").replace("ACTS", ""), "step-light.yaml")
    assert not can_enter(usual, ANY_GESTURE, "close")
    tested = read_device(CLAIMED.replace("CLAIMS", claims).replace("ACTS", acts), "step-light.yaml")
    assert can_enter(tested, ANY_GESTURE, "close")
    assert can_enter(tested, WITH_BUTTONS, "close") or acts
