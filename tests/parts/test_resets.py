"""What resets a device that has its cell: a power chip, a supervisor, and what follows from them."""

from __future__ import annotations

from dataclasses import replace

import pytest

from nudgeproof.check import check
from nudgeproof.diagnostics import Place
from nudgeproof.model.tables import Local, Value
from nudgeproof.parts.attention import HEARS, LISTENING, STOPS_HEARING, Hearing
from nudgeproof.parts.compile import Environment, compile_model
from nudgeproof.parts.resets import (
    BY_CUT_OFF,
    BY_SUPERVISOR,
    COUNTING,
    SPENT,
    UNFED,
    cut_off,
    cut_off_by,
    power_switch,
    supervisor,
)
from nudgeproof.parts.sleep import RUNNING
from nudgeproof.parts.supply import (
    BOOTS,
    CELL,
    CUT,
    DRAINED,
    FED,
    HELD,
    IS_OFF,
    POWERED,
    RESET,
    SAGS,
    STEADY,
    SWITCH_OFF,
    SWITCH_ON,
    WENT_OFF,
    opened_by,
    supply,
)
from nudgeproof.spec.powered import CutOff, Latch, StaysOff, Supervisor
from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import PowerUp, Supply
from nudgeproof.units import Span
from nudgeproof.verdict import Finding, Verdict

MS = 1_000
AT = Place("lamp.yaml")
CHIP = cut_off(CutOff("pad", Span(700 * MS, 900 * MS), AT))
RULES = Supply(Span(4 * MS, 9 * MS), AT)
START = PowerUp(Span(60 * MS, 80 * MS), "lit", "lit", True, AT)
PART = supply(RULES, START, ("rattle",), is_minded=True)
LATCHED = supply(Supply(RULES.hold_up, AT, Latch(("key",), Span(0, 0), AT)), START, (), is_minded=True)


def runs(local: Local, closed: bool, fed: bool) -> bool:
    return bool(CHIP.armed(local, {"level pad": closed, FED: fed}))


def hear(local: Local, signal: str, closed: bool) -> Local:
    (choice,) = CHIP.heard(local, signal, {"level pad": closed, FED: True})
    return choice.to


def test_the_chip_counts_while_it_has_power_and_the_contact_is_closed() -> None:
    assert [(closed, fed) for closed in (True, False) for fed in (True, False) if runs(COUNTING, closed, fed)] == [
        (True, True)
    ]
    assert not runs(SPENT, closed=True, fed=True)
    (timer,) = CHIP.armed(COUNTING, {"level pad": True, FED: True})
    assert (timer.lo, timer.hi) == (700 * MS, 900 * MS)


def test_it_cuts_once_until_the_contact_opens_or_its_own_power_goes() -> None:
    (choice,) = CHIP.expired(COUNTING, "cuts off", {"level pad": True, FED: True})
    assert (choice.to, choice.send) == (SPENT, (BY_CUT_OFF, CUT))
    assert CHIP.shown(SPENT) == (True,)
    assert hear(SPENT, "edge pad", closed=True) == SPENT
    assert hear(SPENT, "edge pad", closed=False) == COUNTING
    assert hear(SPENT, DRAINED, closed=True) == COUNTING


@pytest.mark.parametrize(
    ("local", "gone", "to", "sends"),
    [
        ("up", False, "starting", (SAGS, RESET, BOOTS)),
        ("up", True, "sagging start", (SAGS, RESET, BOOTS)),
        ("sagging", True, "sagging start", (RESET, BOOTS)),
        ("starting", False, "starting", ()),
        ("sagging start", True, "sagging start", ()),
        ("down", True, "down", ()),
    ],
)
def test_a_cut_resets_what_runs_and_starts_it_at_once(local: str, gone: bool, to: str, sends: tuple[str, ...]) -> None:
    (choice,) = PART.heard(local, CUT, {opened_by("rattle"): gone})
    assert (choice.to, choice.send) == (to, sends)
    assert choice.restart == (() if local == "down" else ("starts",))


@pytest.mark.parametrize(("key", "to"), [(True, "starting"), (False, "sagging start")])
def test_a_cut_opens_a_latch(key: bool, to: str) -> None:
    (choice,) = LATCHED.heard("up", CUT, {HELD: True, "level key": key})
    assert choice.to == to


def test_a_supply_without_power_tells_the_chip() -> None:
    for local in ("sagging", "sagging start"):
        (choice,) = PART.expired(local, "hold-up", {opened_by("rattle"): True})
        assert DRAINED in choice.send
    told = (
        dict(zip(PART.publishes, PART.shown("down"), strict=True)),
        dict(zip(PART.publishes, PART.shown("sagging start"), strict=True)),
    )
    assert [one[FED] for one in told] == [False, True]


STAYS = cut_off(CutOff("pad", Span(700 * MS, 900 * MS), AT, StaysOff(("pad",), Span(0, 0), Span(0, 0))))
SWITCHED = supply(
    replace(RULES, cut_off=CutOff("pad", Span(MS, MS), AT, StaysOff(("pad",), Span(0, 0), Span(0, 0)))),
    START,
    ("rattle",),
    is_minded=True,
)


@pytest.mark.parametrize(
    ("local", "gone", "to", "sends"),
    [
        ("up", False, IS_OFF, (SAGS, RESET, DRAINED, WENT_OFF)),
        ("sagging", True, "down", (RESET, DRAINED, WENT_OFF)),
        ("starting", False, IS_OFF, (DRAINED, WENT_OFF)),
        ("sagging start", True, "down", (DRAINED, WENT_OFF)),
    ],
)
def test_a_chip_that_stays_off_takes_all_power(local: str, gone: bool, to: str, sends: tuple[str, ...]) -> None:
    (choice,) = SWITCHED.heard(local, SWITCH_OFF, {opened_by("rattle"): gone})
    assert (choice.to, choice.send) == (to, sends)


def test_a_device_that_is_switched_off_starts_by_its_switch_or_by_another_cell() -> None:
    (choice,) = SWITCHED.heard(IS_OFF, SWITCH_ON, {opened_by("rattle"): False})
    assert (choice.to, choice.send) == ("starting", (BOOTS,))
    (choice,) = SWITCHED.heard(IS_OFF, CELL, {opened_by("rattle"): True})
    assert (choice.to, choice.send) == ("down", ()), "the chip forgets it"
    told = dict(zip(SWITCHED.publishes, SWITCHED.shown(IS_OFF), strict=True))
    assert (told[POWERED], told[STEADY], told[FED], told[IS_OFF]) == (False, True, False, True)
    (choice,) = STAYS.expired(COUNTING, "cuts off", {"level pad": True, FED: True})
    assert choice.send == (BY_CUT_OFF, SWITCH_OFF)


@pytest.mark.parametrize("closed", [{"pad"}, {"rim"}, {"pad", "rim"}, set()])
def test_only_a_button_that_was_open_since_switches_it_on(closed: set[str]) -> None:
    device = read_device(TENT.format(more=", switched on by: [pad, rim], closed for: 30 ms"), "lamp.yaml")
    assert device.supply is not None
    assert device.supply.cut_off is not None
    assert device.stays_off is not None
    part = power_switch(device, device.supply.cut_off, device.stays_off)

    def told(names: set[str]) -> dict[str, Value]:
        return {f"level {name}": name in names for name in ("pad", "rim")} | {
            IS_OFF: True,
            POWERED: False,
            "state": "stored",
        }

    (choice,) = part.heard((), DRAINED, told({"pad"}))
    assert choice.to == ("pad",), "pad is still down"
    timers = [timer.name for timer in part.armed(choice.to, told(closed))]
    assert timers == [f"{name} switches on" for name in sorted(closed) if name != "pad"]
    (choice,) = part.heard(choice.to, "edge pad", told(set()))
    assert [timer.name for timer in part.armed(choice.to, told(closed))] == [f"{n} switches on" for n in sorted(closed)]
    assert not part.armed(choice.to, told(closed) | {IS_OFF: False}), "it has power, or has lost its cell"


TENT = """spec: 1
device: tent lamp
buttons:
  pad: {{bounce: up to 5 ms, debounce: 20 ms}}
  rim: {{bounce: up to 5 ms, debounce: 20 ms}}
gestures:
  hold: {{on: pad, held: 1 s}}
initial: lit
states:
  lit: {{transitions: {{hold: stored}}}}
  stored: {{unpowered: true}}
power up: {{takes: 70 ms, if blank: lit}}
supply: {{hold-up: 5 ms, cut-off: {{held: rim, for: 3 s, then: stays off{more}}}}}
person: {{tap: 60 to 300 ms, between: 80 to 200 ms, hold: 1.2 to 1.6 s}}
surroundings:
  strap:  {{closes rim: up to 4 s, then open at least: 1 s}}
  knocks: {{closes pad: up to 20 ms, then open at least: 1 s}}
  rattle: {{cell gone: up to 20 ms, then steady at least: 1 s}}
"""


def tent(hazard: str, more: str) -> dict[str, Verdict]:
    report = check(read_device(TENT.format(more=more), "lamp.yaml"), only=[hazard])
    return {finding.subject: finding.verdict for finding in report.findings if finding.hazard == hazard}


def test_a_strap_switches_it_off_and_does_not_switch_it_on_again() -> None:
    """The chip watches rim, and only pad switches on; a cell that rattles does, too."""
    found = tent("accidental-off", ", switched on by: pad, lets go: 5 ms")
    assert found == {"strap": Verdict.BROKEN, "knocks": Verdict.HOLDS, "rattle": Verdict.HOLDS}


@pytest.mark.parametrize(("closed_for", "verdict"), [("20 ms", Verdict.BROKEN), ("20001 us", Verdict.HOLDS)])
def test_a_knock_that_is_long_enough_switches_it_on(closed_for: str, verdict: Verdict) -> None:
    """Chatter closes the contact once more, but not without a break."""
    found = tent("accidental-wake", f", switched on by: pad, closed for: {closed_for}, lets go: 5 ms")
    assert found == {"strap": Verdict.HOLDS, "knocks": verdict, "rattle": Verdict.BROKEN}


LAMP = """spec: 1
device: desk lamp
buttons:
  pad: {{bounce: up to 2 ms, debounce: 10 ms}}
gestures:
  tap:  {{taps: 1, press: up to 400 ms}}
  hold: {{held: {held}}}
variables: {{beam: [low, high]}}
initial: dark
states:
  dark:
    sleep: {{woken by: [pad], on: edge, ready in: 1 ms, dozes again after: 30 ms}}
    transitions: {{tap: lit}}
  lit: {{shows: beam, transitions: {{tap: {{next: beam}}, hold: dark}}}}
memory: {{keeps: {keeps}, written: at once, write takes: 2 ms, guard: two copies, may lose: the last 5 ms}}
power up: {{takes: 50 ms, if blank: dark}}
supply: {{hold-up: 5 ms, cut-off: {{held: pad, for: {cut}}}}}
outputs: {{lamp: {{on in: lit, in reset: {pin}}}}}
person: {{tap: 60 to 300 ms, between: 80 to 200 ms, hold: 1.2 to 1.6 s}}
surroundings:
  squeeze: {{closes pad: {squeeze}, then open at least: 1 s}}
  jammed:  {{closes pad: for good, then asleep within: 1 h}}
"""


def lamp(
    hazard: str,
    held: str = "1 s",
    keeps: str = "[state, beam]",
    cut: str = "3 s ± 0.2 s",
    squeeze: str = "up to 2 s",
    pin: str = "off",
) -> dict[str, Finding]:
    device = read_device(LAMP.format(held=held, keeps=keeps, cut=cut, squeeze=squeeze, pin=pin), "lamp.yaml")
    return {finding.subject: finding for finding in check(device, only=[hazard]).findings if finding.hazard == hazard}


@pytest.mark.parametrize(("cut", "verdict"), [("1 s", Verdict.BROKEN), ("1.02 s", Verdict.HOLDS)])
def test_a_hold_must_be_seen_before_the_chip_cuts(cut: str, verdict: Verdict) -> None:
    """The firmware sees it a debounce (10 ms) and at most the chatter (2 ms) after its 1 s."""
    found = lamp("missed-gesture", cut=cut, squeeze="up to 20 ms")
    assert found["hold in lit"].verdict is verdict
    assert found["tap in lit"].verdict is Verdict.HOLDS


@pytest.mark.parametrize(("squeeze", "verdict"), [("up to 750 ms", Verdict.BROKEN), ("up to 649 ms", Verdict.HOLDS)])
def test_a_squeeze_may_be_long_enough_for_the_chip(squeeze: str, verdict: Verdict) -> None:
    """Beginning to end it lasts 649 ms and 2 ms of chatter; the chip waits 652 ms at least."""
    found = lamp("accidental-off", cut="652 to 700 ms", squeeze=squeeze, keeps="beam")
    assert found["squeeze"].verdict is verdict
    if verdict is Verdict.BROKEN:
        story = found["squeeze"].story
        assert story is not None
        assert story.actions == 3, "a tap lights it, and the squeeze need not end"


def test_what_memory_keeps_comes_back_after_a_cut() -> None:
    assert lamp("accidental-off", cut="652 to 700 ms", squeeze="750 ms")["squeeze"].verdict is Verdict.HOLDS


@pytest.mark.parametrize(("keeps", "verdict"), [("[state, beam]", Verdict.HOLDS), ("beam", Verdict.HOLDS)])
def test_a_cut_is_an_interruption_like_another(keeps: str, verdict: Verdict) -> None:
    """Asked although nothing takes the cell away."""
    assert lamp("lost-state", keeps=keeps)["the cut-off by pad"].verdict is verdict
    assert lamp("torn-memory", keeps=keeps)["the cut-off by pad"].verdict is Verdict.HOLDS


def test_a_change_shortly_before_a_cut_is_lost() -> None:
    """A hold is seen 8 ms or more before the chip cuts; writing it takes 20 ms, and only the last 5 ms may be lost."""
    text = LAMP.format(held="1 s", keeps="[state, beam]", cut="1.02 s", squeeze="up to 20 ms", pin="off").replace(
        "write takes: 2 ms", "write takes: 20 ms"
    )
    (finding,) = check(read_device(text, "lamp.yaml"), only=["lost-state"]).findings
    assert finding.verdict is Verdict.BROKEN


@pytest.mark.parametrize(("pin", "verdict"), [("on", Verdict.BROKEN), ("off", Verdict.HOLDS)])
def test_a_pin_is_looked_at_after_a_cut(pin: str, verdict: Verdict) -> None:
    assert lamp("output-in-reset", pin=pin, cut="1.1 s")["lamp, the cut-off by pad"].verdict is verdict


def test_a_jammed_button_is_minded_off_once_and_no_more() -> None:
    assert lamp("never-settles")["jammed"].verdict is Verdict.HOLDS
    assert lamp("never-settles")["left alone"].verdict is Verdict.HOLDS


def test_whoever_acts_the_chip_is_there_but_not_where_a_button_is_held_at_the_first_start() -> None:
    device = read_device(LAMP.format(held="1 s", keeps="beam", cut="3 s", squeeze="1 s", pin="off"), "lamp.yaml")
    assert compile_model(device, Environment()).publishes(cut_off_by("pad"))
    assert not compile_model(device, Environment(held="pad")).publishes(cut_off_by("pad"))


def waits(in_sleep: bool, powered: bool, running: bool, listening: bool) -> bool:
    part = supervisor(Supervisor(Span(MS, 2 * MS), in_sleep, AT), Hearing(LISTENING, HEARS, STOPS_HEARING))
    return bool(part.armed(COUNTING, {POWERED: powered, RUNNING: running, LISTENING: listening}))


@pytest.mark.parametrize("in_sleep", [True, False])
def test_a_supervisor_waits_while_nothing_feeds_it(in_sleep: bool) -> None:
    assert waits(in_sleep, powered=True, running=True, listening=False), "the firmware is busy"
    assert not waits(in_sleep, powered=True, running=True, listening=True)
    assert waits(in_sleep, powered=True, running=False, listening=False) == in_sleep
    assert not waits(in_sleep, powered=False, running=False, listening=False)


def test_an_instant_of_listening_feeds_it() -> None:
    part = supervisor(Supervisor(Span(MS, 2 * MS), True, AT), Hearing(LISTENING, HEARS, STOPS_HEARING))
    (choice,) = part.heard(COUNTING, HEARS, {POWERED: True, RUNNING: True, LISTENING: False})
    assert choice.restart == (UNFED,)
    (choice,) = part.expired(COUNTING, UNFED, {})
    assert choice.send == (BY_SUPERVISOR, CUT)


METER = """spec: 1
device: soil meter
buttons:
  key: {{debounce: 20 ms}}
gestures:
  tap: {{taps: 1, press: up to 500 ms}}
initial: {initial}
states:
  asleep:
    sleep: {{woken by: [key], ready in: 2 ms, dozes again after: 50 ms}}
    transitions: {{tap: showing}}
  showing:
    busy: up to {busy}
    transitions: {{tap: asleep}}
power up: {{takes: 70 ms, if blank: {initial}}}
supervisor: {{after: 1 s, in sleep: {in_sleep}}}
"""


def meter(in_sleep: str, busy: str = "100 ms", initial: str = "asleep") -> Verdict:
    text = METER.format(in_sleep=in_sleep, busy=busy, initial=initial)
    (finding,) = check(read_device(text, "meter.yaml"), only=["never-settles"]).findings
    return finding.verdict


def test_a_supervisor_that_counts_on_in_sleep_wakes_the_device_for_ever() -> None:
    assert meter("runs") is Verdict.BROKEN
    assert meter("stops") is Verdict.HOLDS


@pytest.mark.parametrize(("busy", "verdict"), [("999 ms", Verdict.HOLDS), ("1 s", Verdict.BROKEN)])
def test_a_start_that_keeps_the_firmware_busy_for_too_long_goes_round(busy: str, verdict: Verdict) -> None:
    """Each start leads to the state it was in and never to another, yet the device never comes to rest."""
    assert meter("stops", busy, initial="showing") is verdict


def test_what_a_supervisor_does_by_itself_takes_no_press_and_has_no_bounds_of_one() -> None:
    text = METER.format(in_sleep="runs", busy="100 ms", initial="asleep")
    knocks = "surroundings: {knocks: {closes key: up to 5 ms, then open at least: 1 s}}\n"
    device = read_device(text.replace("if blank: asleep", "if blank: showing") + knocks, "meter.yaml")
    report = check(device, only=["accidental-wake"])
    assert [finding.verdict for finding in report.findings] == [Verdict.BROKEN]
    assert [(needed.state, needed.spans) for needed in report.takes] == [("asleep", None)]
