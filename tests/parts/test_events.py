"""Events while the firmware runs, sleeps, wakes, is busy or deaf; the weak cell; depths of sleep. Met to the microsecond."""

from __future__ import annotations

import pytest

from nudgeproof.model.step import Move
from nudgeproof.model.tables import Model, Situation
from nudgeproof.parts import cell_level
from nudgeproof.parts.attention import HEARS, LISTENING, STOPS_HEARING, WHILE_RUNNING, Attention, Hearing, attention
from nudgeproof.parts.cell_level import ABOVE, BELOW, BETWEEN, LEVEL_CHANGES, gauge, level_of
from nudgeproof.parts.chart import CHANGED
from nudgeproof.parts.compile import Environment
from nudgeproof.parts.events import When, delivery, maker, may_act
from nudgeproof.parts.people import LEFT
from nudgeproof.parts.script import Edge
from nudgeproof.parts.sleep import RUNNING
from nudgeproof.parts.supply import RESET
from nudgeproof.spec.outside import Maker, Sag
from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import Device
from nudgeproof.units import FOREVER
from tests.devices import can_enter, enters, look

MS = 1_000

SPEC = """spec: 1
device: hall light
buttons:
  pad: {bounce: up to 0 ms, debounce: 10 ms, edges apart: at least 10 us}
gestures:
  press: {held: 30 ms}
events:
  step: {}
  nudge: {wakes and counts: false}
  door: {}
cell: {low below: 2.2 V, fine above: 2.4 V, read every: 100 ms}
depths: {deep: {woken by: [level]}, doze: {woken by: [edge, level]}}
initial: INITIAL
states:
  dark:
    sleep: {woken by: [pad, step, nudge], on: edge, depth: doze, ready in: 2 ms, dozes again after: 50 ms}
    transitions: {step: lit, press: lit, door: open, nudge: nudged}
  lit:
    busy: 20 to 40 ms
    transitions: {step: again, press: pressed, door: open}
  idle: {transitions: {cell low: low, press: pressed, step: stepped}}
  stepped: {}
  low: {transitions: {cell fine: fine}}
  fine: {}
  again: {}
  pressed: {}
  open: {}
  nudged: {}
surroundings:
  walkers: {makes: [step, door, nudge], then none for at least: 1 ms, meant: true}
  weak cell: {cell: sags and recovers, then steady at least: 1 ms, meant: true}
"""


def device(initial: str = "dark", *pairs: tuple[str, str]) -> Device:
    text = SPEC.replace("INITIAL", initial)
    for old, new in pairs:
        assert text.count(old) == 1
        text = text.replace(old, new)
    return read_device(text, "hall.yaml")


def happen(*events: tuple[int, str]) -> Environment:
    return Environment(script=tuple(Edge(at, "", True, event=event) for at, event in events))


def sag(*levels: tuple[int, str]) -> Environment:
    return Environment(script=tuple(Edge(at, "", True, level=level) for at, level in levels))


def press(down: int, up: int, *events: tuple[int, str]) -> Environment:
    edges = [Edge(down, "pad", True), Edge(up, "pad", False)]
    return Environment(script=tuple(sorted([*edges, *(Edge(at, "", True, event=event) for at, event in events)])))


def test_an_event_that_wakes_is_seen_when_the_processor_is_ready() -> None:
    assert can_enter(device(), happen((0, "step")), "lit")
    result = look(device(), happen((0, "step")), enters("lit"))
    path = result.paths[0]
    assert path is not None
    assert [taken.cause for step in path for taken in step.move.taken if "event step" in taken.choice.send] == [
        "signal hears"
    ]


def test_an_event_that_does_not_wake_is_lost_in_sleep() -> None:
    assert not can_enter(device(), happen((0, "door")), "open")


def test_while_it_wakes_one_event_is_kept_and_it_is_the_first_that_wakes() -> None:
    assert not can_enter(device(), happen((0, "nudge"), (MS, "door")), "open")
    assert can_enter(device(), happen((0, "nudge"), (MS, "step")), "lit")
    assert not can_enter(device(), happen((0, "step"), (MS, "step")), "again"), "the second one is lost, not seen twice"


def test_of_two_that_wake_the_first_is_seen() -> None:
    tested = device("dark", ("woken by: [pad, step, nudge]", "woken by: [pad, step, door]"))
    both = happen((0, "step"), (MS, "door"))
    assert can_enter(tested, both, "lit")
    assert not can_enter(tested, both, "open")


def test_an_event_that_only_wakes_is_not_seen_but_what_comes_then_is() -> None:
    assert not can_enter(device(), happen((0, "nudge")), "nudged")
    assert can_enter(device(), happen((0, "nudge"), (3 * MS, "nudge")), "nudged")
    assert can_enter(device(), happen((0, "nudge"), (3 * MS, "door")), "open")


def test_an_event_keeps_the_processor_from_falling_asleep_or_wakes_it() -> None:
    """Ready at 2 ms, dozes 50 ms later, four steps of at most 20 us: whenever it comes, the event isn't lost."""
    for at in range(51 * MS, 53 * MS, 10):
        result = look(device(), happen((0, "nudge"), (at, "step")), enters("lit"), _over_in_the_dark)
        assert result.paths[0] is not None
        assert result.paths[1] is None, at


def _over_in_the_dark(model: Model, before: Situation, move: Move) -> bool:
    return move.taken[0].cause == "timer over" and model.value(before, "state") == "dark"


def test_a_busy_firmware_loses_events() -> None:
    lit = device("dark", ("{step: lit, press: lit, door: open, nudge: nudged}", "{step: lit}"))
    seen_at = 2 * MS
    assert not can_enter(lit, happen((0, "step"), (seen_at + 20 * MS - 1, "door")), "open")
    assert can_enter(lit, happen((0, "step"), (seen_at + 20 * MS, "door")), "open")
    for late, may_be_lost in ((40 * MS, True), (40 * MS + 1, False)):
        result = look(lit, happen((0, "step"), (seen_at + late, "door")), _lost)
        assert (result.paths[0] is not None) == may_be_lost


def test_a_state_that_is_entered_again_makes_busy_anew() -> None:
    part = attention(device("lit"), can_lose_power=True)
    (entered,) = part.heard(Attention(True), CHANGED, {"state": "lit"})
    assert (entered.to, entered.send) == (Attention(True, "lit"), (STOPS_HEARING,))
    (again,) = part.heard(entered.to, CHANGED, {"state": "lit"})
    assert (again.to, again.send, again.restart) == (entered.to, (), ("busy in lit",))
    (other,) = part.heard(entered.to, CHANGED, {"state": "open"})
    assert (other.to, other.send, other.restart) == (entered.to, (), ()), "another state doesn't end it"


def test_entering_a_sleeping_state_again_begins_the_time_before_it_dozes_anew() -> None:
    """Awake from 2 ms on, it would sleep at 52 ms; entered again at 30 ms it sleeps at 80 ms, and then sees no door."""
    again = device("dark", ("{step: lit, press: lit, door: open, nudge: nudged}", "{step: dark, door: open}"))
    for late, is_seen in ((79 * MS, True), (81 * MS, False)):
        events = happen((0, "nudge"), (30 * MS, "step"), (late, "door"))
        assert can_enter(again, events, "open") == is_seen


def _lost(model: Model, before: Situation, move: Move) -> bool:
    return any(" is lost: " in taken.choice.says for taken in move.taken)


def test_a_press_while_the_firmware_is_busy_counts_from_when_it_listens() -> None:
    """Busy from 2 ms for 20 to 40 ms; then 10 ms of debounce; then the hold. Let go before that is nothing at all."""
    assert not can_enter(device(), press(3 * MS, 22 * MS - 1, (0, "step")), "pressed")
    earliest = 2 + 20 + 30
    assert can_enter(device(), press(3 * MS, earliest * MS, (0, "step")), "pressed")
    assert not can_enter(device(), press(3 * MS, earliest * MS - 1, (0, "step")), "pressed")


DEAF = """spec: 1
device: deaf writer
buttons:
  pad: {bounce: up to 0 ms, debounce: 10 ms, edges apart: at least 10 us}
gestures:
  press: {held: 30 ms}
events: {step: {}}
initial: idle
states:
  idle: {transitions: {press: pressed, step: stepped}}
  stepped: {transitions: {press: pressed, step: again}}
  pressed: {}
  again: {}
memory: {keeps: state, written: at once, write takes: 15 ms, guard: two copies, may lose: nothing, while writing: WRITING}
surroundings:
  walkers: {makes: step, then none for at least: 1 ms, meant: true}
"""


@pytest.mark.parametrize(("writing", "hears"), [("listens", True), ("deaf", False)])
def test_writing_makes_deaf_if_the_spec_says_so(writing: str, hears: bool) -> None:
    """The write of `stepped` goes on from 0 to 15 ms, also where nothing interrupts the supply."""
    tested = read_device(DEAF.replace("WRITING", writing), "deaf.yaml")
    assert can_enter(tested, happen((0, "step"), (14 * MS, "step")), "again") == hears
    assert can_enter(tested, happen((0, "step"), (16 * MS, "step")), "again")
    assert can_enter(tested, press(MS, 1 * MS + 30 * MS, (0, "step")), "pressed") == hears
    assert can_enter(tested, press(MS, 15 * MS + 30 * MS, (0, "step")), "pressed")


def test_the_cell_is_read_every_so_often_and_between_the_levels_nothing_changes() -> None:
    idle = device("idle")
    assert not can_enter(idle, sag((0, BETWEEN)), "low")
    assert can_enter(idle, sag((10 * MS, BELOW), (11 * MS, BETWEEN)), "low"), "it may be read just then"
    assert can_enter(idle, sag((10 * MS, BELOW), (101 * MS, ABOVE)), "low")
    assert not can_enter(idle, sag((0, BELOW), (150 * MS, BETWEEN)), "fine")
    assert can_enter(idle, sag((0, BELOW), (150 * MS, BETWEEN), (250 * MS, ABOVE)), "fine")


def test_nobody_reads_the_cell_in_sleep() -> None:
    asleep = device("dark", ("{step: lit, press: lit, door: open, nudge: nudged}", "{cell low: low}"))
    assert not can_enter(asleep, sag((0, BELOW)), "low")


@pytest.mark.parametrize(("on", "depth", "wakes"), [
    ("edge", "doze", True), ("edge", "deep", False), ("level", "deep", True), ("level", "doze", True),
])  # fmt: skip
def test_what_wakes_from_a_depth(on: str, depth: str, wakes: bool) -> None:
    tested = device("dark", ("on: edge, depth: doze", f"on: {on}, depth: {depth}"))
    assert can_enter(tested, press(0, 200 * MS), "lit") == wakes
    assert can_enter(tested, happen((0, "step")), "lit") == (depth == "doze"), "an event wakes as an edge does"


def test_the_alternating_source_keeps_its_order() -> None:
    """`step` comes before `door`, which comes before `nudge`, so the door can't be the first thing that happens."""
    idle = device(
        "idle", ("press: pressed, step: stepped", "door: open"), ("stepped: {}", "stepped: {transitions: {}}")
    )
    result = look(idle, Environment(("walkers",)), enters("open"))
    assert result.paths[0] is not None
    events = [step.move.taken[0].choice.says for step in result.paths[0] if step.move.actions]
    assert events == ["walkers: step", "walkers: door"]


WIDE = """spec: 1
device: wide hall light
buttons:
  pad: {bounce: up to 0 ms, debounce: 10 ms, edges apart: at least 1 ms}
gestures:
  press: {held: 30 ms}
events: {step: {}, door: {}}
cell: {low below: 2.2 V, fine above: 2.4 V, read every: 100 ms}
initial: dark
states:
  dark:
    sleep: {woken by: [step, door], on: edge, ready in: 2 ms, dozes again after: 50 ms}
    transitions: {step: lit, door: open}
  lit: {transitions: {step: again, cell low: low, press: pressed}}
  low: {transitions: {cell fine: fine}}
  open: {transitions: {step: dark}}
  fine: {}
  again: {}
  pressed: {}
power up: {takes: 20 ms, if blank: dark, if damaged: dark, button held: ignored until released}
supply: {hold-up: 5 ms}
surroundings:
  walkers: {makes: [step, door], then none for at least: 300 ms, meant: true}
  weak cell: {cell: sags and recovers, then steady at least: 300 ms, meant: true}
  rattle: {cell gone: 10 ms, then steady at least: 500 ms}
"""


def test_any_event_only_adds_runs() -> None:
    """Every state that is entered with a latch and a gauge is entered with the stand-ins for them too."""
    tested = read_device(WIDE, "wide.yaml")
    tests = [enters(state.name) for state in tested.states]
    sources = ("walkers", "weak cell", "rattle")
    narrow = look(tested, Environment(("anything", *sources)), *tests)
    wide = look(tested, Environment(sources, gestures=True), *tests)
    assert all(path is not None for path in narrow.paths)
    assert all(path is not None for path in wide.paths)


def test_only_a_processor_that_sleeps_or_wakes_keeps_an_event() -> None:
    """One that runs and is busy loses it, also in a state that sleeps."""
    part = delivery(device(), ("step",), Hearing(LISTENING, HEARS, STOPS_HEARING), can_lose_power=False)
    for runs, kept in ((True, ""), (False, "step")):
        (choice,) = part.heard("", "outside step", {"state": "dark", RUNNING: runs, LISTENING: False})
        assert choice.to == kept


def test_of_several_weak_cells_the_lowest_level_counts() -> None:
    tested = device()
    assert tested.cell is not None
    part = gauge(tested.cell, ("one", "other"), WHILE_RUNNING, can_lose_power=True)
    for one, other, lowest in ((BELOW, ABOVE, BELOW), (ABOVE, BETWEEN, BETWEEN), (ABOVE, ABOVE, ABOVE)):
        (choice,) = part.heard((True, ABOVE), LEVEL_CHANGES, {level_of("one"): one, level_of("other"): other})
        assert choice.to == (True, lowest)
    (reset,) = part.heard((True, BELOW), RESET, {})
    assert reset.to == (False, BELOW), "what was seen is forgotten"


def test_a_source_keeps_its_distance() -> None:
    tested = device()
    assert tested.cell is not None
    walkers, weak = tested.surroundings
    assert isinstance(walkers, Maker)
    assert isinstance(weak, Sag)
    for part, level in ((maker(walkers, "always"), 1), (cell_level.sag(weak, tested.cell, "always"), BELOW)):
        waits = [[(timer.lo, timer.hi) for timer in part.armed((acted, level), {})] for acted in (False, True)]
        assert waits == [[(0, FOREVER)], [(MS, FOREVER)]]


@pytest.mark.parametrize(("when", "before", "after"), [
    ("always", True, True), ("until left", True, False), ("once left", False, True),
])  # fmt: skip
def test_when_a_source_may_act(when: When, before: bool, after: bool) -> None:
    assert (may_act(when, {LEFT: False}), may_act(when, {LEFT: True})) == (before, after)
