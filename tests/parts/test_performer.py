"""Who does a gesture on purpose, and the witness of what became of it, by themselves."""

from __future__ import annotations

import pytest

from nudgeproof.model.tables import Local, Value
from nudgeproof.parts.chart import CHANGED, LAPSED, STARTED, STEPPED
from nudgeproof.parts.performer import (
    ACT,
    DONE,
    EXCUSED,
    FINISHED,
    LAPSED_MEANWHILE,
    LATE,
    OPEN,
    OTHER,
    STARTED_UP,
    STAYING,
    Act,
    performer,
    plan,
    witness,
)
from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import Condition
from nudgeproof.units import Span

MS = 1_000
DEVICE = read_device(
    """spec: 1
device: lamp
buttons: {pad: {bounce: up to 5 ms, debounce: 20 ms, edges apart: at least 1 ms}}
gestures:
  tap: {taps: 1, press: up to 400 ms}
  two taps: {taps: 2, press: up to 400 ms, between: up to 300 ms}
  hold: {held: 1 s}
  dim: {held: 1 s, repeats every: 100 ms}
  late hold: {held: 1 s, acts at: release}
  tap then hold: {taps: 1, then held: 1 s, press: up to 400 ms, between: up to 300 ms}
variables: {beam: [low, high]}
initial: lit
states:
  lit: {transitions: {tap: {next: beam}, two taps: dark, hold: dark}}
  dark: {transitions: {dim: {next: beam}}}
  dusk: {transitions: {late hold: lit, tap then hold: dark}}
person: {tap: 60 to 350 ms, between: 80 to 220 ms, hold: 1.2 to 2 s, answers within: 3 s}
""",
    "lamp.yaml",
)
HIGH = Condition("beam is high", (("beam", ("high",)),))


def became(act: Act, *told: tuple[str, str, str], at: Local = (0, 0, OPEN)) -> str:
    """What the witness says after these signals, each with the state and the beam at that moment."""
    part, local = witness(DEVICE, (act,), can_lose_power=True), at
    for signal, state, beam in told:
        reads: dict[str, Value] = {ACT: 0, FINISHED: False, "state": state, "value beam": beam}
        (choice,) = part.heard(local, signal, reads)
        local = choice.to
    (word,) = part.shown(local)
    return str(word)


def lit(signal: str) -> tuple[str, str, str]:
    return signal, "lit", "low"


@pytest.mark.parametrize(
    ("gesture", "signals", "expected"),
    [
        ("tap", ("gesture tap",), DONE),
        ("tap", ("gesture two taps",), OTHER),
        ("tap", ("gesture tap", "gesture tap"), OTHER),
        ("tap", ("gesture tap", LAPSED, STEPPED), DONE),
        ("dim", ("gesture dim", "gesture dim"), DONE),
        ("dim", ("gesture dim", "gesture tap"), OTHER),
        ("tap", (LAPSED, "gesture tap"), EXCUSED),
        ("tap", (STARTED, LAPSED), LAPSED_MEANWHILE),
    ],
)
def test_the_firmware_must_see_the_gesture_and_no_other(gesture: str, signals: tuple[str, ...], expected: str) -> None:
    assert became(Act("lit", (gesture,)), *map(lit, signals)) == expected


def test_a_timeout_excuses_only_before_the_first_gesture_and_of_the_state_it_began_in() -> None:
    two = Act("lit", ("tap", "hold"))
    assert became(two, lit("gesture tap")) == OPEN
    assert became(two, lit("gesture tap"), lit(LAPSED)) == LAPSED_MEANWHILE
    assert became(two, lit(STARTED)) == STARTED_UP
    assert became(two, lit("gesture tap"), lit(STARTED)) == OPEN
    assert became(two, lit("gesture tap"), lit("gesture hold")) == DONE


def test_time_that_changes_what_it_began_with_excuses() -> None:
    act = Act("lit", ("tap",), condition=HIGH)
    assert became(act, (STEPPED, "lit", "low")) == EXCUSED
    assert became(act, (STEPPED, "lit", "high")) == OPEN


def test_another_gesture_in_its_place_is_excused_by_nothing_that_comes_after() -> None:
    act = Act("lit", ("hold",), target="dark", condition=HIGH)
    first = ("gesture tap", "lit", "high")
    assert became(act, first, (STEPPED, "lit", "low")) == STARTED_UP, "the tap changed the beam, and not time"
    assert became(act, first, (CHANGED, "lit", "low"), (LAPSED, "lit", "low")) == LAPSED_MEANWHILE
    assert became(act, first, (CHANGED, "dark", "low")) == DONE, "another way there is as good"
    assert became(act, (LAPSED, "lit", "high"), first) == EXCUSED


def test_what_should_be_reached_counts_once_a_gesture_was_seen() -> None:
    act = Act("lit", ("hold",), target="dark")
    high = Act("lit", ("hold",), target="dark", ending=HIGH)
    seen = lit("gesture hold")
    assert became(act, seen) == OPEN
    assert became(act, seen, (CHANGED, "dark", "low")) == DONE
    assert became(act, ("gesture hold", "dark", "low")) == DONE, "met just then"
    assert became(act, seen, lit("gesture tap")) == OPEN, "another way there is as good"
    assert became(high, seen, (CHANGED, "dark", "low")) == OPEN
    assert became(high, seen, (CHANGED, "dark", "low"), (STEPPED, "dark", "high")) == DONE


def test_what_is_reached_must_not_be_left_too_soon() -> None:
    act = Act("lit", ("hold",), target="dark", stay_us=500)
    there = ((CHANGED, "dark", "low"),)
    assert became(act, lit("gesture hold"), *there) == STAYING
    assert became(act, lit("gesture hold"), *there, (STEPPED, "dark", "high")) == STAYING
    assert became(act, lit("gesture hold"), *there, (CHANGED, "lit", "low")) == OTHER
    assert became(act, *there, (LAPSED, "dark", "low")) == EXCUSED, "time has led there, and not the gesture"


def limits(act: Act, now: str = OPEN, finished: bool = False) -> dict[str, tuple[float, float]]:
    part = witness(DEVICE, (act,))
    return {timer.name: (timer.lo, timer.hi) for timer in part.armed((0, 0, now), {FINISHED: finished})}


def test_what_comes_just_in_time_is_in_time() -> None:
    """So a limit is over a microsecond later; and what was reached may be left at the end of its time."""
    act = Act("lit", ("hold",), target="dark", within_us=900, answer_us=70)
    assert limits(act) == {"limit": (901, 901)}
    assert limits(act, finished=True) == {"limit": (901, 901), "answer limit": (71, 71)}
    assert limits(act, now=DONE) == limits(act, now=LATE) == {}
    assert limits(Act("lit", ("hold",), target="dark", stay_us=500), now=STAYING) == {"stays": (499, 499)}


@pytest.mark.parametrize(
    ("gesture", "finished"),
    [
        ("tap", [False, True]),
        ("two taps", [False, False, False, True]),
        ("hold", [True, True]),
        ("late hold", [False, True]),
        ("tap then hold", [False, False, True, True]),
    ],
)
def test_when_all_that_is_needed_has_been_done(gesture: str, finished: list[bool]) -> None:
    """With the last release; but with the last press for a hold that is seen while the button is down."""
    part = performer(DEVICE, (Act("lit", (gesture,)),), (), "running")
    rest: dict[str, Value] = {"state": "lit", "quiet pad": True}
    rest |= {"level pad": False, "reading pad": False, "pattern pad": False}
    local, told = part.start, []
    for _ in finished:
        (timer,) = part.armed(local, rest)
        (choice,) = part.expired(local, timer.name, rest)
        local = choice.to
        told.append(part.shown(local)[part.publishes.index(FINISHED)])
    assert told == finished
    assert part.armed(local, rest) == ()


def test_pauses_and_lengths_are_those_of_the_habits() -> None:
    """Within a gesture the pause is the habit's; a further gesture comes within the time for an answer."""
    assert DEVICE.person is not None
    presses = plan(DEVICE, DEVICE.person, Act("lit", ("two taps", "hold")))
    assert [press.pause for press in presses] == [
        Span(80 * MS, 220 * MS),
        Span(80 * MS, 220 * MS),
        Span(80 * MS, 3_000 * MS),
    ]
    assert [press.stroke.down for press in presses] == [
        Span(60 * MS, 350 * MS),
        Span(60 * MS, 350 * MS),
        Span(1_200 * MS, 2_000 * MS),
    ]
