"""A sample of `reference_campaign`, and what it found, shrunk to the smallest device: parts and rules must say the same."""

from __future__ import annotations

import pytest

from nudgeproof.parts.script import Edge
from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import Device
from tests.agreement.reference_campaign import KINDS, compare_one, compare_script, first_difference
from tests.devices import presses

DEVICES = 12
SAMPLED = 3
"""Of the kinds; the supply has a comparison of its own, `test_reference_of_supply`."""
SCRIPTS = 2
RUNS = 12
MS = 1_000
SLEEP = "woken by: pad, on: edge, ready in: 1 ms, dozes again after: 50 ms, each step: up to 1 ms"
COUNTS = "press counts from: waking"
WALKERS = "events: {footfall: {}}\nsurroundings: {walkers: {makes: footfall, then none for at least: 1 s}}"


def device(gestures: str, states: str, button: str = "", more: str = "") -> Device:
    return read_device(
        f"""spec: 1
device: shrunk piece
buttons: {{pad: {{bounce: up to 0 ms, debounce: 10 ms{button}}}}}
gestures: {{{gestures}}}
initial: dark
states: {{{states}}}
{more}
""",
        "shrunk.yaml",
    )


DEAD_LIMIT = device(
    "tap: {taps: 1, press: up to 300 ms}, hold: {held: 400 ms}, "
    "tap then hold: {taps: 1, then held: 400 ms, press: up to 300 ms, between: up to 400 ms from press to press}",
    "dark: {transitions: {tap: dark, hold: lit, tap then hold: dark}}, lit: {transitions: {tap: dark}}",
)
SWITCHED_ON = device(
    "hold: {held: 600 ms}",
    "off: {unpowered: true}, dark: {transitions: {hold: lit}}, lit: {transitions: {hold: dark}}",
    more="supply: {hold-up: 5 ms, cut-off: {held: pad, for: 2 s, then: stays off, closed for: 20 ms, lets go: 5 ms}}\n"
    "power up: {takes: 500 ms, if blank: dark, button held: counts from power on}",
)
OVER_EARLY = device(
    "hold: {held: 300 ms}",
    f"dark: {{sleep: {{{SLEEP}, {COUNTS}}}, transitions: {{hold: lit}}}}, lit: {{transitions: {{hold: dark}}}}",
    ", release of a hold: a tap, listens again: waits for an edge",
)
LEFT_EARLY = device(
    "tap: {taps: 1, press: up to 100 ms}, hold: {held: 150 ms}",
    f"dark: {{sleep: {{{SLEEP}, {COUNTS}}}, transitions: {{tap: dark, waking: on}}}}, "
    "on: {transitions: {tap: on, hold: on, after 60 ms: lit}}, lit: {transitions: {tap: lit, hold: dark}}",
    ", new state: keeps the press",
)
OLD_FLAG = device(
    "tap: {taps: 1, press: up to 200 ms}",
    f"dark: {{sleep: {{{SLEEP.replace('edge', 'level').replace('up to 1 ms', 'up to 60 ms')}}}, transitions: {{tap: on}}}}, "
    f"on: {{sleep: {{{SLEEP.replace('edge', 'level')}, steps: [arm, check, sleep]}}, transitions: {{waking: lit}}}}, "
    "lit: {}",
)
LATE_TAP = device(
    "tap: {taps: 1, press: up to 200 ms}, two taps: {taps: 2, press: up to 200 ms, between: up to 200 ms}",
    f"dark: {{sleep: {{{SLEEP.replace('pad', '[pad, footfall]')}, pending taps: outlast sleep}}, "
    "transitions: {tap: on, two taps: on, footfall: dark}}, on: {transitions: {footfall: lit}}, lit: {}",
    more=WALKERS,
)
LATE_AND_BUSY = device(
    "tap: {taps: 1, press: up to 200 ms}, two taps: {taps: 2, press: up to 200 ms, between: up to 200 ms}",
    f"dark: {{sleep: {{{SLEEP.replace('pad', '[pad, footfall]')}, pending taps: outlast sleep}}, "
    "transitions: {tap: on, two taps: on, footfall: dark}}, on: {busy: 100 ms, transitions: {footfall: lit}}, lit: {}",
    more=WALKERS,
)
TAPPED_THEN_WALKED = (*presses((0, 50 * MS)), Edge(1_000 * MS, "", True, event="footfall"))
CUT_OFF = presses((100 * MS, 2_500 * MS), (3_000 * MS, 4_000 * MS))


@pytest.mark.parametrize(
    ("tested", "edges", "seen"),
    [
        pytest.param(
            DEAD_LIMIT, presses((0, 900 * MS)), (410 * MS, "fired hold"), id="a limit that no pattern has any more"
        ),
        pytest.param(SWITCHED_ON, CUT_OFF, (3_620 * MS, "fired hold"), id="a press that counts from being switched on"),
        pytest.param(
            LATE_TAP, TAPPED_THEN_WALKED, (1_001 * MS, "entered lit"), id="a late tap comes before a kept event"
        ),
        pytest.param(
            LATE_AND_BUSY,
            TAPPED_THEN_WALKED,
            None,
            id="a firmware that a late tap makes busy finds nothing before it is over",
        ),
        pytest.param(OVER_EARLY, presses((0, 900 * MS))[:1], None, id="an early press that is over is no pattern"),
        pytest.param(
            LEFT_EARLY, presses((0, 900 * MS)), (161 * MS, "fired hold"), id="an early press ends at a new state"
        ),
        pytest.param(
            OLD_FLAG, presses((0, 5 * MS), (115 * MS, 127 * MS)), None, id="an old flag where only levels wake"
        ),
    ],
)
def test_what_the_campaign_found(tested: Device, edges: tuple[Edge, ...], seen: tuple[int, str] | None) -> None:
    for number in range(RUNS):
        one = compare_script(tested, edges, (), number)
        assert not first_difference(one), one
        assert seen is None or seen in one.parts


@pytest.mark.parametrize("seed", range(0, 4 * DEVICES, 4))
@pytest.mark.parametrize("kind", range(SAMPLED), ids=lambda number: KINDS[number].__name__)
def test_random_devices_show_the_same(kind: int, seed: int) -> None:
    _, _, did, against = compare_one((kind, seed, SCRIPTS))
    assert not against
    assert did
