"""A clock that comes round, and a lockout that ends at a moment of it, on a device whose times are exact."""

from __future__ import annotations

from nudgeproof.check import check
from nudgeproof.model.tables import Choice
from nudgeproof.parts.attention import WHILE_RUNNING
from nudgeproof.parts.comes_round import COMES_ROUND, FOR_GOOD, STORED, by_moments, running_clock
from nudgeproof.parts.compile import Environment, compile_model
from nudgeproof.parts.reader import reader
from nudgeproof.parts.script import Edge
from nudgeproof.parts.sleep import RUNNING
from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import Device
from nudgeproof.verdict import Verdict
from tests.devices import can_enter, presses
from tests.snapshots.screens import ROOT

MS = 1_000

BELL = """spec: 1
device: gate bell
buttons: {pad: {bounce: up to 0 ms, lockout: 100 ms, lockout ends: ENDS}}
gestures: {tap: {taps: 1, press: up to 80 ms}, hold: {held: 90 ms}}
clock: {off by: 0 %, comes round: at any moment}
initial: none
states:
  none: {transitions: {tap: none, hold: one, after 9 s: unseen}}
  one: {transitions: {tap: one, hold: two, after 5 s: late}}
  two: {transitions: {hold: three}}
  three: {}
  late: {}
  unseen: {}
person: {tap: 20 to 70 ms, between: 80 to 220 ms, hold: 100 to 200 ms}
"""
POWER = """supply: {hold-up: 1 ms}
power up: {takes: 10 ms}
memory: {keeps: [state], write takes: 1 ms, guard: checksum}
surroundings: {cell rattle: {cell gone: up to 50 ms}}
"""
MOMENT, TIME = "at a moment of the clock", "after its time"


def bell(ends: str = MOMENT, more: str = "") -> Device:
    return read_device(BELL.replace("ENDS", ends) + more, "bell.yaml")


def held(*begin_ms: int) -> tuple[Edge, ...]:
    return presses(*((at * MS, (at + 150) * MS) for at in begin_ms))


def may_be_late(device: Device, edges: tuple[Edge, ...]) -> bool:
    return can_enter(device, Environment(script=edges), "late")


def test_the_first_press_is_always_seen() -> None:
    assert not can_enter(bell(), Environment(script=held(500)), "unseen")
    assert can_enter(bell(), Environment(script=held(500)), "one")


def test_a_press_after_a_lockout_may_be_missed_once_the_clock_has_come_round() -> None:
    edges = held(500, 1500)
    assert may_be_late(bell(), edges)
    assert can_enter(bell(), Environment(script=edges), "two")
    assert not may_be_late(bell(TIME), edges)


def test_a_lockout_that_runs_just_then_ends_as_usual() -> None:
    """From the first edge to the last one lockout follows the other: nobody can be deaf for good between them."""
    device = bell()
    edges = presses((0, 80 * MS), (180 * MS, 280 * MS))
    assert not may_be_late(device, edges)
    assert can_enter(device, Environment(script=edges), "two")
    assert may_be_late(device, presses((0, 80 * MS), (201 * MS, 280 * MS)))


def test_it_stays_deaf_while_a_button_is_down_too() -> None:
    """The release isn't seen either; the reading stays closed and whatever that means goes on."""
    device = bell()
    model = compile_model(device, Environment(script=presses((0, 1000 * MS))))
    assert model.receivers["the clock comes round"] == (model.index("reader pad"),)
    assert may_be_late(device, (*presses((0, 1000 * MS)), *held(2000)))


def test_sleep_changes_nothing_of_it() -> None:
    button = bell().buttons[0]
    part = by_moments(reader(button), button)
    reads = {"level pad": True, RUNNING: True}
    for signal in ("edge pad", WHILE_RUNNING.begins, WHILE_RUNNING.ends):
        (choice,) = part.heard((FOR_GOOD, (False, False)), signal, reads)
        assert choice == Choice((FOR_GOOD, (False, False)))
    (choice,) = part.heard((STORED, (True, True)), WHILE_RUNNING.ends, reads)
    assert choice.to == (STORED, (True, False))


def test_only_a_moment_that_is_over_lies_ahead_again() -> None:
    button = bell().buttons[0]
    part = by_moments(reader(button), button)
    reads = {"level pad": True, RUNNING: True}
    for inner in ((True, True), (False, True)):
        assert part.heard((STORED, inner), COMES_ROUND, reads) == (Choice((STORED, inner)),)
        assert part.heard((STORED, (inner[0], False)), COMES_ROUND, reads)[0].to == (FOR_GOOD, (inner[0], False))
        assert part.heard((inner[0], False), COMES_ROUND, reads) == (Choice((inner[0], False)),)


def test_what_must_happen_at_the_bench_names_the_clock() -> None:
    text = (ROOT / "specs/failures/classes/clock-comes-round/broken.yaml").read_text(encoding="utf-8")
    broken = [finding for finding in check(read_device(text, "lamp.yaml")).findings if finding.story is not None]
    missed = next(finding for finding in broken if finding.verdict is Verdict.BROKEN)
    assert "; it needs the clock to come round at " in missed.bench


def test_a_reset_ends_it() -> None:
    """Power is gone between two presses, so no lockout has begun since the start when the second one comes."""
    device = bell(more=POWER)
    outage = (Edge(1000 * MS, "", False), Edge(1100 * MS, "", True))
    assert may_be_late(device, held(500, 1500))
    assert not may_be_late(device, (*held(500), *outage, *held(1500)))


def test_it_is_nobodys_act_and_comes_once() -> None:
    clock = running_clock()
    (timer,) = clock.armed(clock.start, {})
    (choice,) = clock.expired(clock.start, timer.name, {})
    assert choice.actions == 0
    assert clock.armed(choice.to, {}) == ()


def test_left_alone_a_device_with_such_a_clock_settles() -> None:
    settles = [finding for finding in check(bell()).findings if finding.hazard == "never-settles"]
    assert [finding.verdict for finding in settles] == [Verdict.HOLDS]


def test_only_a_device_with_such_a_lockout_has_the_clock() -> None:
    def names(device: Device, environment: Environment) -> list[str]:
        return [part.name for part in compile_model(device, environment).parts]

    assert "running clock" in names(bell(), Environment(("person",)))
    assert "running clock" not in names(bell(TIME), Environment(("person",)))
    assert "running clock" not in names(bell(), Environment(gestures=True))
