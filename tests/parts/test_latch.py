"""The power latch: who feeds the device, what a short press can start, and what happens around switching off."""

from dataclasses import replace
from pathlib import Path

import pytest

from nudgeproof.again import ask_again
from nudgeproof.check import BUDGETS, check
from nudgeproof.parts.chart import CHANGED, STARTED
from nudgeproof.parts.latch import CLOSED, OPEN, OPENING, latch
from nudgeproof.parts.supply import CELL, RESET
from nudgeproof.spec.read import read_device
from nudgeproof.verdict import Finding, Verdict

METER = """spec: 1
device: moisture meter
buttons:
  key: {{bounce: up to 6 ms, debounce: 15 ms}}
gestures:
  hold: {{held: 1 s}}
initial: without power
states:
  without power: {{unpowered: true{extra}}}
  measuring:
    shows: a number
    transitions: {{hold: without power, after 30 s: without power}}
memory: {{keeps: [unit], written: at once, write takes: 4 ms, guard: two copies, may lose: nothing}}
variables: {{unit: [percent, grade]}}
power up: {{takes: 30 to 50 ms, if blank: measuring, if damaged: measuring, button held: ignored until released}}
supply: {{hold-up: 5 ms, latch: {{closed by: [key], lets go: up to 3 ms}}}}
person: {{tap: 100 to 400 ms, between: 100 to 400 ms, hold: 1.3 to 3 s}}
surroundings:
  knocks: {{closes key: {knocks}, then open at least: 200 ms}}
  rattle: {{cell gone: up to 20 ms, then steady at least: 1 s}}
promises:
  - from without power, hold reaches measuring within {within}
"""


def meter(knocks: str = "up to 10 ms", within: str = "1 s", extra: str = "") -> dict[tuple[str, str], Finding]:
    text = METER.format(knocks=knocks, within=within, extra=extra)
    report = check(read_device(text, "meter.yaml"), only=["accidental-wake", "accidental-off", "promise"])
    return {(finding.hazard, finding.subject.split(",")[0]): finding for finding in report.findings}


@pytest.mark.parametrize(("longest", "verdict"), [("19 ms", Verdict.BROKEN), ("18999 us", Verdict.HOLDS)])
def test_the_shortest_knock_that_can_start_it(longest: str, verdict: Verdict) -> None:
    """It is fed for the knock, the chatter after it (6 ms) and the hold-up (5 ms): together the shortest start of 30 ms."""
    assert meter(knocks=f"up to {longest}")["accidental-wake", "knocks"].verdict is verdict


def test_a_cell_that_rattles_opens_the_latch() -> None:
    off = meter()["accidental-off", "rattle"]
    assert off.verdict is Verdict.BROKEN
    assert "measuring -> without power" in off.sentence
    assert meter()["accidental-wake", "rattle"].verdict is Verdict.HOLDS


def test_a_press_before_the_latch_has_opened_starts_nothing() -> None:
    """The firmware runs on in the state without power for as long as the key is down, and knows no gesture there."""
    found = meter()["promise", "from without power"]
    assert found.verdict is Verdict.BROKEN
    assert found.story is not None
    assert any("the latch opens" in beat.says for beat in found.story.beats)


def test_a_gesture_known_without_power_mends_it() -> None:
    """It takes at most the chatter (6 ms), the longest start (50 ms) or the debounce (15 ms) and the hold."""
    extra = ", transitions: {hold: measuring}"
    assert meter(within="1100 ms", extra=extra)["promise", "from without power"].verdict is Verdict.HOLDS


def test_a_start_that_gives_up_is_no_excuse() -> None:
    """The press starts the firmware in a state that knows no gesture and gives up by itself, so nothing comes of any press.

    Only a time of the state that the press began in excuses that it isn't seen.
    """
    path = Path(__file__).resolve().parents[2] / "specs" / "moisture-meter.yaml"
    device = read_device(path.read_text(encoding="utf-8"), "meter.yaml")
    asked = [("missed-gesture", "hold in off")]
    asked.append(("promise", "from off with unit grade, hold reaches measuring with unit grade within 1.1 s"))
    deaf = replace(device.state("starting"), transitions=())
    changed = replace(device, states=tuple(deaf if state.name == "starting" else state for state in device.states))
    for given, verdict in ((device, Verdict.HOLDS), (changed, Verdict.BROKEN)):
        again = ask_again(given, BUDGETS["usual"], wanted=lambda question: (question.hazard, question.subject) in asked)
        assert again is not None
        assert {key: again.verdict(key) for key in asked} == dict.fromkeys(asked, verdict)


@pytest.mark.parametrize(
    ("local", "signal", "state", "to", "send"),
    [
        (CLOSED, CHANGED, "without power", OPENING, ()),
        (OPENING, CHANGED, "without power", OPENING, ()),
        (OPEN, CHANGED, "without power", OPEN, ()),
        (OPENING, CHANGED, "measuring", CLOSED, ()),
        (OPEN, CHANGED, "measuring", CLOSED, (CELL,)),
        (OPEN, STARTED, "measuring", CLOSED, (CELL,)),
        (OPEN, STARTED, "without power", OPENING, (CELL,)),
        (CLOSED, RESET, "measuring", OPEN, ()),
        (OPENING, RESET, "without power", OPEN, ()),
    ],
)
def test_who_holds_the_latch(local: str, signal: str, state: str, to: str, send: tuple[str, ...]) -> None:
    """The firmware, in powered states; entering another one, or starting there, it lets go; a reset opens it at once."""
    device = read_device(METER.format(knocks="up to 10 ms", within="1 s", extra=""), "meter.yaml")
    assert device.supply is not None
    assert device.supply.latch is not None
    part = latch(device, device.supply.latch)
    (choice,) = part.heard(local, signal, {"state": state})
    assert (choice.to, choice.send) == (to, send)
    assert part.shown(to) == (to != OPEN,)
    assert [timer.hi for timer in part.armed(to, {})] == ([3_000] if to == OPENING else [])
