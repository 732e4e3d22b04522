"""The observers of what must come in time, and of what must come to rest, by themselves."""

from __future__ import annotations

import pytest

from nudgeproof.model.tables import Local, Part, Value
from nudgeproof.parts.chart import CHANGED
from nudgeproof.parts.limits import REACH, SLEEP, STAY, Limit, limit, settling
from nudgeproof.parts.people import LEFT
from nudgeproof.parts.sleep import ASLEEP, READY
from nudgeproof.parts.supply import RESET
from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import Condition

DEVICE = read_device(
    """spec: 1
device: lamp
buttons: {pad: {bounce: up to 5 ms, debounce: 20 ms, edges apart: at least 1 ms}}
gestures: {tap: {taps: 1, press: up to 400 ms}, hold: {held: 1 s}}
events: {cable: {}, door: {}}
variables: {beam: [low, high]}
initial: dark
states:
  dark: {transitions: {hold: lit}}
  lit: {transitions: {tap: {next: beam}, cable: {next: beam}, door: {next: beam}, after 9 s: dark}}
  blink: {repeats: true, transitions: {after 1 s: lit}}
surroundings:
  people: {makes: [cable, door], then none for at least: 1 s}
""",
    "lamp.yaml",
)
HIGH = Condition("beam is high", (("beam", ("high",)),))
WITHIN = 700


def hear(part: Part, local: Local, signal: str, **reads: Value) -> tuple[Local, tuple[str, ...]]:
    given = {name.replace("_", " "): value for name, value in reads.items()}
    (choice,) = part.heard(local, signal, given)
    return choice.to, choice.restart


def runs(part: Part, local: Local, **reads: Value) -> list[tuple[float, float]]:
    given = {name.replace("_", " "): value for name, value in reads.items()}
    return [(timer.lo, timer.hi) for timer in part.armed(local, given)]


OVER = [(WITHIN + 1, WITHIN + 1)]
"""What comes just in time is in time."""


def test_reach_counts_from_when_the_device_is_left_alone() -> None:
    part = limit(DEVICE, Limit(REACH, WITHIN, ("dark",), ending=HIGH), can_lose_power=False)
    assert runs(part, "open", left_alone=False) == []
    assert runs(part, "open", left_alone=True) == OVER
    assert runs(part, "met", left_alone=True) == []
    here = {"state": "dark", "value_beam": "high"}
    assert hear(part, "open", CHANGED, left_alone=True, **here) == ("met", ())
    assert hear(part, "open", CHANGED, left_alone=False, **here) == ("open", ())
    assert hear(part, "open", CHANGED, left_alone=True, state="dark", value_beam="low") == ("open", ())
    assert hear(part, "open", CHANGED, left_alone=True, state="lit", value_beam="high") == ("open", ())


def test_sleep_counts_from_when_the_button_sticks() -> None:
    part = limit(DEVICE, Limit(SLEEP, WITHIN, source="book", button="pad"), can_lose_power=False)
    held = "book holds pad"
    assert runs(part, "open", book_holds_pad=False) == []
    assert runs(part, "open", book_holds_pad=True) == OVER
    assert hear(part, "open", ASLEEP, book_holds_pad=False) == ("open", ()), "asleep before it stuck"
    assert hear(part, "open", ASLEEP, book_holds_pad=True) == ("met", ())
    for awake, word in ((True, "late"), (False, "met")):
        (choice,) = part.expired("open", "the limit", {held: True, "running": awake})
        assert choice.to == word


@pytest.mark.parametrize(
    ("local", "signal", "reads", "to", "anew"),
    [
        ("out", CHANGED, {"state": "lit"}, "in", True),
        ("in", CHANGED, {"state": "lit"}, "in", False),
        ("in", CHANGED, {"state": "dark"}, "out", False),
        ("in", "gesture tap", {"state": "lit"}, "in", True),
        ("in", "event cable", {"state": "lit"}, "in", True),
        ("in", CHANGED, {"state": "lit", "restored": ("lit",)}, "in", False),
        ("in", "gesture tap", {"state": "lit", "restored": ("lit",)}, "in", False),
        ("over", CHANGED, {"state": "lit", "powered": False}, "over", False),
        ("over", CHANGED, {"state": "lit"}, "late", False),
        ("over", CHANGED, {"state": "dark"}, "out", False),
        ("in", RESET, {"state": "lit", "powered": False}, "in", False),
    ],
)
def test_stay_counts_from_entering_or_the_last_use(
    local: str, signal: str, reads: dict[str, Value], to: str, anew: bool
) -> None:
    """A start that brings the state back is neither; nor is an event of the source that is asked about."""
    part = limit(DEVICE, Limit(STAY, WITHIN, ("lit",), no_use=("door",)), can_lose_power=True)
    given: dict[str, Value] = {"restored": None, "powered": True, **reads}
    assert hear(part, local, signal, **given) == (to, ("the limit",) if anew else ())
    assert runs(part, "in") == OVER
    assert "event cable" in part.takes
    assert "event door" not in part.takes


def test_time_without_power_is_late_only_if_the_state_comes_back() -> None:
    part = limit(DEVICE, Limit(STAY, WITHIN, ("lit",)), can_lose_power=True)
    for powered, word in ((True, "late"), (False, "over")):
        (choice,) = part.expired("in", "the limit", {"powered": powered})
        assert choice.to == word


def alone(**more: Value) -> dict[str, Value]:
    reads: dict[str, Value] = {LEFT: True, "state": "lit", "value beam": "low", "reading pad": False}
    reads |= {"pattern pad": False, "sleeping": False, "book holds pad": True, "quiet pad": True}
    return reads | {name.replace("_", " "): value for name, value in more.items()}


def test_what_is_left_and_met_again_never_settles() -> None:
    part = settling(DEVICE, (("book", "pad"),))
    assert [timer.name for timer in part.armed(part.start, alone())] == ["notes"]
    for waits in ("left_alone", "book_holds_pad", "quiet_pad"):
        assert part.armed(part.start, alone(**{waits: False})) == ()
    (noted,) = part.expired(part.start, "notes", alone())

    def after(*steps: tuple[str, dict[str, Value]]) -> Value:
        local = noted.to
        for signal, reads in steps:
            (choice,) = part.heard(local, signal, reads)
            local = choice.to
        return part.shown(local)[0]

    away = (CHANGED, alone(state="dark"))
    back = (CHANGED, alone())
    assert after(away) == after(back) == "noted"
    assert after(away, back) == "again"
    assert after((ASLEEP, alone(sleeping=True)), (READY, alone())) == "again"
    assert after((CHANGED, alone(value_beam="high")), back) == "again"
    assert after((CHANGED, alone(state="blink")), back) == "exempt"
