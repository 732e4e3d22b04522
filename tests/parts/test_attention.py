"""Buttons that are read in an interrupt, and gestures that wait until the firmware is free; at exact times."""

from __future__ import annotations

import pytest

from nudgeproof.check import check
from nudgeproof.model.tables import Choice
from nudgeproof.parts.attention import (
    GESTURES_WAIT,
    GOES_ON,
    HEARS,
    LISTENING,
    RECOGNISED,
    STOPS_HEARING,
    TAKES,
    WRITES,
    WROTE,
    Attention,
    attention,
    hearing,
)
from nudgeproof.parts.chart import CHANGED
from nudgeproof.parts.compile import Environment, compile_model
from nudgeproof.parts.gestures import any_gesture
from nudgeproof.parts.resets import UNFED, supervisor
from nudgeproof.parts.script import Edge
from nudgeproof.parts.sleep import ASLEEP, DEAF, READY
from nudgeproof.parts.supply import RESET
from nudgeproof.spec.powered import Supervisor
from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import Device
from nudgeproof.units import Span
from nudgeproof.verdict import Verdict
from tests.devices import can_enter, presses
from tests.parts.test_recogniser import MS, fires_at

COUNTER = """spec: 1
device: counter
buttons:
  pad: {bounce: up to 0 ms, debounce: 0 ms, edges apart: at least 10 us, read in: interrupt}
  rim: {bounce: up to 0 ms, debounce: 0 ms, edges apart: at least 10 us}
queue: 2
gestures:
  tap: {on: pad, taps: 1, press: up to 150 ms}
  hold: {on: pad, held: 400 ms}
  rub: {on: rim, held: 50 ms}
initial: idle
states:
  idle: {transitions: {tap: first}}
  first: {busy: 1 s, transitions: {tap: second, hold: held, rub: rubbed}}
  second: {busy: 500 ms, transitions: {tap: third, rub: idle}}
  third: {}
  held: {}
  rubbed: {}
"""
ONE = presses((0, 100 * MS))


def counter(*pairs: tuple[str, str]) -> Device:
    text = COUNTER
    for old, new in pairs:
        assert text.count(old) == 1
        text = text.replace(old, new)
    return read_device(text, "counter.yaml")


def enters(device: Device, *edges: Edge) -> set[str]:
    """The states that can be entered."""
    script = Environment(script=tuple(sorted(edges)))
    return {state.name for state in device.states if can_enter(device, script, state.name)}


def test_what_is_recognised_while_the_firmware_is_busy_is_seen_when_it_is_free() -> None:
    two = presses((0, 100 * MS), (300 * MS, 400 * MS))
    assert fires_at(counter(), two, "tap") == {100 * MS, 1_100 * MS}
    assert fires_at(counter(("interrupt", "main loop"), ("queue: 2\n", "")), two, "tap") == {100 * MS}


def test_a_press_is_as_long_as_it_is_and_not_as_long_as_it_is_looked_at() -> None:
    """It goes down at 1 s, and the firmware is busy until 1.1 s."""
    across = presses((0, 100 * MS), (1_000 * MS, 1_200 * MS))
    assert fires_at(counter(), across, "tap") == {100 * MS}
    assert fires_at(counter(("interrupt", "main loop"), ("queue: 2\n", "")), across, "tap") == {100 * MS, 1_200 * MS}


@pytest.mark.parametrize(("queue", "reached"), [(1, {"first", "second"}), (2, {"first", "second", "third"})])
def test_what_waits_is_done_in_order_and_what_comes_to_a_full_queue_is_lost(queue: int, reached: set[str]) -> None:
    three = presses((0, 100 * MS), (300 * MS, 400 * MS), (600 * MS, 700 * MS))
    assert enters(counter(("queue: 2", f"queue: {queue}")), *three) == reached
    if "third" in reached:
        assert fires_at(counter(), three, "tap") == {100 * MS, 1_100 * MS, 1_600 * MS}


def test_what_makes_it_busy_again_lets_the_others_wait_and_what_does_not_is_followed_at_once() -> None:
    three = presses((0, 100 * MS), (300 * MS, 400 * MS), (600 * MS, 700 * MS))
    at_once = counter(("busy: 500 ms, ", ""))
    assert fires_at(at_once, three, "tap") == {100 * MS, 1_100 * MS}
    assert "third" in enters(at_once, *three)


def test_a_gesture_is_done_by_the_state_that_the_device_is_in_by_then() -> None:
    """A tap and a hold wait; the tap leads on, and there the hold means nothing any more."""
    then_hold = presses((0, 100 * MS), (200 * MS, 300 * MS), (400 * MS, 900 * MS))
    assert fires_at(counter(), then_hold, "hold") == {1_600 * MS}
    assert enters(counter(), *then_hold) == {"first", "second"}


def test_entering_a_state_forgets_what_was_begun_but_not_what_waits() -> None:
    """The third press is down when the second one, which waited, leads on at 1.1 s."""
    over = presses((0, 100 * MS), (300 * MS, 400 * MS), (1_050 * MS, 1_150 * MS))
    assert fires_at(counter(), over, "tap") == {100 * MS, 1_100 * MS}
    kept = counter(("read in: interrupt", "new state: keeps the press, read in: interrupt"))
    assert fires_at(kept, over, "tap") == {100 * MS, 1_100 * MS, 1_600 * MS}


def test_another_button_is_looked_at_only_when_nothing_waits() -> None:
    """Rim closes at 500 ms and stays so; it is read at 1.1 s, or at 1.6 s if a tap leads on to another busy time."""
    rubs = Edge(500 * MS, "rim", True)
    assert fires_at(counter(), tuple(sorted([*ONE, rubs])), "rub") == {1_150 * MS}
    more = presses((300 * MS, 400 * MS))
    assert fires_at(counter(), tuple(sorted([*ONE, *more, rubs])), "rub") == {1_650 * MS}


def choose(now: Attention, signal: str, state: str = "idle") -> Choice:
    (choice,) = attention(counter(), can_lose_power=True).heard(now, signal, {"state": state})
    return choice


def go_on(now: Attention) -> Choice:
    part = attention(counter(), can_lose_power=True)
    assert [timer.name for timer in part.armed(now, {"state": "idle"})] == [GOES_ON]
    (choice,) = part.expired(now, GOES_ON, {"state": "idle"})
    return choice


def test_it_listens_when_the_last_one_is_done() -> None:
    waiting = Attention(True, queue=("tap",))
    part = attention(counter(), can_lose_power=True)
    assert part.publishes == (LISTENING, DEAF, GESTURES_WAIT)
    assert part.shown(waiting) == (False, True, ("tap",))
    taken = go_on(waiting)
    assert (taken.to, taken.send) == (Attention(True, does=True), (TAKES, "gesture tap"))
    assert part.shown(taken.to) == (False, True, ())
    assert isinstance(taken.to, Attention)
    after = go_on(taken.to)
    assert (after.to, after.send) == (Attention(True), (HEARS,))
    assert part.armed(after.to, {"state": "idle"}) == ()


def test_it_goes_on_only_when_it_runs_and_is_neither_busy_nor_deaf_from_writing() -> None:
    part = attention(counter(), can_lose_power=True)
    for now in (Attention(False, queue=("tap",)), Attention(True, writes=True, queue=("tap",))):
        assert part.armed(now, {"state": "first"}) == ()
    (timer,) = part.armed(Attention(True, "first", queue=("tap",)), {"state": "first"})
    assert timer.name == "busy in first"


def test_what_it_does_may_make_it_busy_or_deaf_and_the_rest_is_still_there() -> None:
    doing = Attention(True, queue=("hold",), does=True)
    assert choose(doing, CHANGED, "second").to == Attention(True, "second", queue=("hold",))
    assert choose(doing, CHANGED, "third").to == doing
    assert choose(doing, WRITES).to == Attention(True, writes=True, queue=("hold",))
    assert choose(Attention(True, writes=True, queue=("hold",)), WROTE).to == Attention(True, queue=("hold",))
    assert choose(Attention(True), CHANGED, "second").send == (STOPS_HEARING,)


def test_what_waits_outlasts_sleep_and_not_a_reset() -> None:
    waiting = Attention(True, writes=True, queue=("hold",))
    asleep = choose(waiting, ASLEEP).to
    assert asleep == Attention(False, writes=True, queue=("hold",))
    assert isinstance(asleep, Attention)
    assert choose(asleep, READY).to == waiting
    assert choose(waiting, RESET).to == Attention(False)


def test_a_recognised_gesture_is_seen_waits_or_is_lost_and_each_is_told() -> None:
    seen = choose(Attention(True), RECOGNISED + "tap")
    assert (seen.to, seen.send, seen.says) == (Attention(True), ("gesture tap",), "the firmware sees tap")
    waits = choose(Attention(True, does=True), RECOGNISED + "tap")
    assert (waits.to, waits.send) == (Attention(True, queue=("tap",), does=True), ())
    assert waits.says == "an interrupt recognises tap, which waits until the firmware is free"
    full = Attention(True, "first", queue=("tap", "hold"))
    lost = choose(full, RECOGNISED + "tap")
    assert (lost.to, lost.send) == (full, ())
    assert lost.says == "an interrupt recognises tap, and the queue is full: it is lost"
    assert {seen.line, waits.line, lost.line} == {8}


def test_taking_one_that_waits_feeds_a_supervisor() -> None:
    part = supervisor(Supervisor(Span(1, 1), False, counter().at), hearing(counter()))
    assert set(part.takes) == {HEARS, TAKES}
    assert part.heard("counting", TAKES, {})[0].restart == (UNFED,)


def test_where_nothing_makes_it_deaf_the_setting_changes_nothing() -> None:
    pairs = (("busy: 1 s, ", ""), ("busy: 500 ms, ", ""))
    models = [
        compile_model(counter(*pairs, *more), Environment(script=ONE))
        for more in ((), (("interrupt", "main loop"), ("queue: 2\n", "")))
    ]
    names = [[part.name for part in model.parts] for model in models]
    assert names[0] == names[1]
    assert [part.takes for part in models[0].parts] == [part.takes for part in models[1].parts]


def test_gestures_that_waited_may_come_all_at_once() -> None:
    """So what stands in for the button must not keep them apart."""
    timers = [any_gesture(counter(), button, False).armed(False, {"state": "first"}) for button in counter().buttons]
    assert [timer.lo for (timer,) in timers] == [0, 0]
    slower = counter(
        (
            "debounce: 0 ms, edges apart: at least 10 us, read in",
            "debounce: 20 ms, edges apart: at least 10 us, read in",
        )
    )
    (timer,) = any_gesture(slower, slower.button("pad"), False).armed(False, {"state": "first"})
    assert timer.lo == 0


JAMMED = """spec: 1
device: jammed feeder
buttons: {pad: {bounce: up to 0 ms, debounce: 20 ms, edges apart: at least 1 ms, read in: interrupt}}
gestures: {hold: {held: 400 ms, repeats every: 100 ms}}
variables: {side: {values: [left, right], at the ends: stop}}
initial: idle
states:
  idle: {transitions: {hold: [{if: side is left, next: side}, {if: side is right, to: work}]}}
  work: {busy: 1 s, transitions: {hold: pause}}
  pause: {busy: 1 s, transitions: {hold: work}}
memory: {keeps: [side], write takes: 1 s, guard: checksum, while writing: deaf}
surroundings: {jam: {closes pad: for good}}
"""


def test_a_device_that_works_off_what_waits_settles() -> None:
    """It comes to the same states again and again, but each time less is left to do."""
    found = check(read_device(JAMMED, "feeder.yaml"), only=["never-settles"]).findings
    assert {finding.subject: finding.verdict for finding in found} == {
        "left alone": Verdict.HOLDS,
        "jam": Verdict.HOLDS,
    }


def test_a_gesture_that_waits_is_neither_missed_nor_at_rest() -> None:
    person = "person: {tap: 60 to 100 ms, between: 80 to 220 ms, hold: 1.2 to 2 s}\n"
    for queue in (1, 2):
        device = read_device(
            COUNTER.replace("queue: 2", f"queue: {queue}").replace(", rub: rubbed", "") + person, "counter.yaml"
        )
        for hazard in ("missed-gesture", "misread-gesture"):
            found = check(device, only=[hazard]).findings
            assert {f.subject: f.verdict for f in found if "tap" in f.subject} == {
                f"tap in {state}": Verdict.HOLDS for state in ("idle", "first", "second")
            }
