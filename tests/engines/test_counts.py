"""How much the explorer keeps on fixed devices, and how that grows.

A pinned number is no promise: a change that alters one must be looked at. It may be a better abstraction, or a part that
no longer does what it did, or a timer too many. All but the shipped ones stand here, so that a change of `specs/` alters
little. A number that is changed on purpose is taken from the message of the test that failed.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest

from benchmarks.devices import make_ladder, make_lantern, make_pads, make_timer
from nudgeproof.check import check
from nudgeproof.engines.explore import Exploration, explore
from nudgeproof.engines.matrix import Timings
from nudgeproof.hazards import missed_gesture
from nudgeproof.model.step import Move
from nudgeproof.model.tables import Model, Situation
from nudgeproof.parts.compile import Environment, compile_model
from nudgeproof.parts.performer import Act
from nudgeproof.parts.script import Edge
from nudgeproof.parts.train import Train
from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import Device, Samples, Transition
from nudgeproof.units import Span
from nudgeproof.verdict import Verdict
from tests.amount import amount
from tests.snapshots.screens import ROOT

BUDGET = 60_000
MS = 1_000
Count = tuple[int, int]
"""Classes and situations."""

ANY_PRESSES = Environment(("anything",))


def never(model: Model, before: Situation, move: Move) -> bool:
    """A test that no step meets, so that every class is looked at."""
    return False


@cache
def alone(name: str) -> Exploration:
    """Everything there is of one that is pinned, with nothing known from others."""
    device, environment, _ = PINNED[name]
    return explore(compile_model(device, environment), (never,), BUDGET, keep=True)


def count(device: Device, environment: Environment) -> Count:
    """Everything there is; the whole space must have been covered."""
    return sizes(explore(compile_model(device, environment), (never,), BUDGET))


def sizes(found: Exploration) -> Count:
    assert found.complete
    assert not found.stuck
    return found.classes, found.situations


def dial(modes: int = 4, bounce: str = "up to 8 ms", debounce: str = "15 to 25 ms", timeout: str = "8 h") -> Device:
    """Three taps lead from each mode to the next one; after a while it is the first again."""
    states = "".join(
        f"  mode {i}:\n    transitions: {{three taps: mode {(i + 1) % modes}, after {timeout}: mode 0}}\n"
        for i in range(modes)
    )
    return read_device(
        f"""spec: 1
device: dial
buttons:
  pad: {{bounce: {bounce}, debounce: {debounce}, edges apart: at least 10 us}}
gestures:
  three taps: {{taps: 3, press: up to 400 ms, between: up to 260 ms}}
initial: mode 0
states:
{states}""",
        "dial.yaml",
    )


BEACON = read_device(
    """spec: 1
device: beacon
buttons:
  pad: {bounce: up to 8 ms, debounce: 15 to 25 ms, edges apart: at least 10 us}
gestures:
  tap: {taps: 1, press: up to 400 ms}
  hold: {held: 1.2 s}
variables:
  glow: [low, high]
initial: stowed
states:
  stowed:
    sleep: {woken by: [pad], on: edge, ready in: 1 to 3 ms, dozes again after: 50 ms, each step: up to 20 us}
    transitions: {hold: lit}
  lit:
    shows: glow
    transitions: {tap: {next: glow}, hold: stowed, after 4 h: stowed}
memory:
  keeps: [state, glow]
  written: at once
  write takes: 3.2 to 3.6 ms
  guard: two copies
  may lose: the last 10 ms
power up: {takes: 60 to 80 ms, if blank: stowed, if damaged: stowed, button held: ignored until released}
supply: {hold-up: 5 ms}
person: {tap: 60 to 350 ms, between: 80 to 220 ms, hold: 1.4 to 2.5 s}
surroundings:
  knocks: {closes pad: 2 to 40 ms, then open at least: 300 ms}
  rattle: {cell gone: up to 40 ms, then steady at least: 2 s}
""",
    "beacon.yaml",
)

TWO_PADS = read_device(
    """spec: 1
device: two pads
buttons:
  pad: {bounce: up to 8 ms, debounce: 15 to 25 ms, edges apart: at least 10 us}
  rim: {bounce: up to 8 ms, debounce: 15 to 25 ms, edges apart: at least 10 us}
gestures:
  two taps: {on: pad, taps: 2, press: up to 400 ms, between: up to 260 ms}
  hold: {on: pad, held: 1.2 s}
  rim two taps: {on: rim, taps: 2, press: up to 400 ms, between: up to 260 ms}
  rim hold: {on: rim, held: 1.2 s}
  both: {together: [pad, rim], within: 80 ms}
variables:
  glow: [low, high]
initial: stowed
states:
  stowed:
    sleep: {woken by: [pad], on: edge, ready in: 1 to 3 ms, dozes again after: 50 ms, each step: up to 20 us}
    transitions: {hold: lit}
  lit:
    shows: glow
    transitions: {two taps: {next: glow}, rim two taps: {next: glow}, hold: stowed, rim hold: stowed}
person: {tap: 60 to 350 ms, between: 80 to 220 ms, hold: 1.4 to 2.5 s, fingers: 2}
surroundings:
  knocks: {closes pad: 2 to 40 ms, then open at least: 300 ms}
""",
    "two-pads.yaml",
)


def add_chord(device: Device) -> Device:
    """The chord leads from each of two states to the other one."""
    first, second = device.states
    leads = [Transition("both", target, (), False, device.at) for target in (second.name, first.name)]
    pairs = zip(device.states, leads, strict=True)
    return replace(device, states=tuple(replace(s, transitions=(*s.transitions, more)) for s, more in pairs))


CHORD = add_chord(TWO_PADS)
SAMPLED = replace(
    dial(), buttons=(replace(dial().buttons[0], debounce=None, samples=Samples(4, Span(5 * MS, 5 * MS))),)
)
LOCKED_OUT = replace(dial(), buttons=(replace(dial().buttons[0], debounce=None, lockout=Span(20 * MS, 30 * MS)),))

PINNED: dict[str, tuple[Device, Environment, Count]] = {
    "any presses": (dial(), ANY_PRESSES, (521, 169)),
    "any presses, no chatter": (dial(bounce="up to 0 ms"), ANY_PRESSES, (108, 57)),
    "any presses, no debounce": (dial(debounce="0 ms"), ANY_PRESSES, (521, 166)),
    "any presses, an exact debounce": (dial(debounce="20 ms"), ANY_PRESSES, (365, 169)),
    "a train": (dial(), Environment(train=Train("pad", (Span(0, 40 * MS),) * 5)), (1_161, 86)),
    "a script": (dial(), Environment(script=(Edge(0, "pad", True), Edge(90 * MS, "pad", False))), (27, 11)),
    "asleep, any presses": (BEACON, ANY_PRESSES, (653, 241)),
    "asleep, the person": (BEACON, Environment(("person",)), (883, 183)),
    "asleep, knocks": (BEACON, Environment(("knocks",)), (57, 22)),
    "asleep, knocks after any use": (BEACON, Environment(("knocks",), "person", ("stowed", "lit")), (2_000, 563)),
    "a hold on purpose": (BEACON, Environment((), "anything", acts=(Act("stowed", ("hold",)),)), (951, 341)),
    "memory, any gesture": (BEACON, Environment(("rattle",), watched=True, gestures=True), (609, 245)),
    "any presses, samples": (SAMPLED, ANY_PRESSES, (567, 225)),
    "any presses, a lockout": (LOCKED_OUT, ANY_PRESSES, (131, 79)),
    "two buttons, any presses": (TWO_PADS, ANY_PRESSES, (4_172, 520)),
    "two buttons, only one pressed": (TWO_PADS, Environment(("anything",), only="pad"), (129, 89)),
    "two buttons, two fingers, no chatter": (TWO_PADS, Environment(("person",), calm=True), (8_066, 1_489)),
    "two buttons, knocks after any use": (
        TWO_PADS,
        Environment(("knocks",), "anything", ("stowed", "lit")),
        (4_723, 716),
    ),
    "two buttons, a hold on purpose": (
        TWO_PADS,
        Environment((), "anything", acts=(Act("stowed", ("hold",)),)),
        (4_389, 590),
    ),
    "a chord, any presses": (CHORD, ANY_PRESSES, (8_046, 760)),
    "a chord on purpose": (CHORD, Environment((), "anything", acts=(Act("lit", ("both",)),)), (8_532, 866)),
    "memory, left alone": (BEACON, Environment(("rattle",), "person", ("stowed", "lit"), watched=True), (2_544, 675)),
}


@pytest.mark.parametrize("name", PINNED)
def test_what_is_kept_is_what_was_kept(name: str) -> None:
    assert sizes(alone(name)) == PINNED[name][2]


SHIPPED = {
    "rain-cover-light": (2_985, 1_163),
    "seed-tray-timer": (10_465, 1_373),
    "moisture-meter": (1_016, 472),
    "trail-counter": (4_797, 1_325),
}
"""Of each shipped device its hardest environment but one or two: every gesture as the person does it, after any use."""


@pytest.mark.parametrize("name", SHIPPED)
def test_the_shipped_devices_take_what_they_took(name: str) -> None:
    device = read_device((ROOT / f"specs/{name}.yaml").read_text(encoding="utf-8"), name)
    assert count(device, Environment((), "anything", acts=missed_gesture.acts(device))) == SHIPPED[name]


def test_explorations_may_share_what_follows_from_each_matrix() -> None:
    """Other devices and other environments: what one left behind changes nothing for the next."""
    timings = Timings()
    # Of those with two buttons, which are large, one.
    names = [name for name in PINNED if PINNED[name][2][0] < amount(2_500, BUDGET)]
    for name in [*names, *reversed(names)]:
        model = compile_model(*PINNED[name][:2])
        assert explore(model, (never,), BUDGET, keep=True, timings=timings) == alone(name)


def test_it_grows_with_the_modes_along_a_line() -> None:
    """Each mode costs the same, since nothing is remembered of the modes before. Exact: 97 classes, 42 situations."""
    counts = {modes: count(dial(modes), ANY_PRESSES) for modes in (4, 8, 16, 32)}
    assert counts == {modes: (133 + 97 * modes, 1 + 42 * modes) for modes in counts}


@pytest.mark.parametrize("timeout", ["1 s", "1 min", "8 h", "7 d", "49 d"])
def test_the_length_of_a_timer_costs_nothing(timeout: str) -> None:
    """Eight hours are no more classes than a second: sets of times are kept, not times."""
    assert count(dial(timeout=timeout), ANY_PRESSES) == count(dial(), ANY_PRESSES)


LONG_AND_SHORT = """spec: 1
device: hedge counter
buttons: {pad: {bounce: up to 6 ms, samples: 3 every 10 ms}}
gestures:
  tap: {taps: 1, press: up to 400 ms}
  hold: {held: 1.5 s}
variables: {laps: 0 to 3}
initial: stowed
states:
  stowed: {sleep: {ready in: 2 ms, dozes again after: 50 ms}, transitions: {hold: counting}}
  counting: {shows: laps, transitions: {tap: {next: laps}, hold: stowed, after 8 h: stowed, every 49 d: {set: {laps: 0}}}}
clock: {off by: 3 %}
person: {tap: 80 to 350 ms, between: 80 to 220 ms, hold: 1.7 to 3 s}
surroundings: {knocks: {closes pad: 2 to 40 ms, then open at least: 300 ms}}
"""


def test_hours_and_weeks_beside_a_reader_of_ten_milliseconds_stay_small() -> None:
    found = check(read_device(LONG_AND_SHORT, "hedge-counter.yaml")).findings
    assert Verdict.UNDECIDED not in {finding.verdict for finding in found}
    assert sum(classes for _, classes in {(finding.surroundings, finding.classes) for finding in found}) == 15_189


@pytest.mark.parametrize(
    ("bounce_ms", "classes"), [(0, 108), (1, 365), (4, 365), (8, 521), (14, 642), (16, 1_517), (26, 1_450)]
)
def test_chatter_costs_a_few_times_as_much_unless_it_outlasts_the_debounce(bounce_ms: int, classes: int) -> None:
    """From the shortest debounce on (15 ms) one press may be read as several, and every split of it is looked at."""
    assert count(dial(bounce=f"up to {bounce_ms} ms"), ANY_PRESSES)[0] == classes


@pytest.mark.parametrize("modes", [2, 8, 32])
def test_a_ladder_of_modes_grows_along_a_line(modes: int) -> None:
    """Exact, although a time runs over all of them: 48 classes and 13 situations for each mode."""
    assert count(make_ladder(modes), Environment(("person",))) == (16 + 48 * modes, 17 + 13 * modes)


@pytest.mark.parametrize(
    ("gone_ms", "classes"), [(1, 615), (10, 1_176), (100, 1_306), (1_000, 1_361), (100_000, 1_361)]
)
def test_how_long_an_interruption_lasts_costs_little(gone_ms: int, classes: int) -> None:
    device = make_timer(gone=f"up to {gone_ms} ms")
    assert count(device, Environment(("person", "rattle"), watched=True))[0] == classes


@pytest.mark.parametrize(("sources", "classes"), [(1, 57), (2, 1_730)])
def test_sources_that_are_free_of_each_other_multiply(sources: int, classes: int) -> None:
    """A third one is beyond 60,000 classes."""
    environment = Environment(("knocks", "rattle", "squeeze")[:sources], watched=True)
    assert count(make_lantern(), environment)[0] == classes


@pytest.mark.parametrize(("buttons", "any_presses", "a_person"), [(1, 147, 51), (2, 1_233, 1_669)])
def test_buttons_multiply(buttons: int, any_presses: int, a_person: int) -> None:
    """A third one takes ten times as much again with two fingers and no chatter (18,218), or is beyond 60,000 classes."""
    device = make_pads(buttons)
    assert count(device, ANY_PRESSES)[0] == any_presses
    assert count(device, Environment(("person",), calm=True))[0] == a_person


@pytest.mark.parametrize("apart_us", [1, 10, 100])
def test_how_many_edges_fit_into_a_burst_costs_nothing(apart_us: int) -> None:
    """They are times of one set; nothing counts them."""
    device = dial()
    finer = replace(device, buttons=(replace(device.buttons[0], edges_apart_us=apart_us),))
    assert count(finer, ANY_PRESSES) == count(device, ANY_PRESSES)


def test_a_device_of_two_buttons_is_decided_within_few_classes() -> None:
    """Double taps and holds of both buttons, two free fingers: some 12,000 classes in all."""
    told: dict[str, int] = {}
    report = check(TWO_PADS, progress=lambda environment, classes: told.update({environment: classes}))
    assert all(finding.verdict is Verdict.HOLDS for finding in report.findings)
    assert sum(told.values()) <= 14_000
