"""Which number of a spec would have to be another one: the torch's own, found from one refused recording, or none."""

from __future__ import annotations

from dataclasses import replace

import pytest

from nudgeproof.firmware.accepting import Acceptable, accept, find_acceptable, times_of
from nudgeproof.firmware.acts import Acts
from nudgeproof.firmware.mapping import Map, read_map
from nudgeproof.firmware.outcome import Result, follow
from nudgeproof.firmware.performed import PLAIN, Performed, Setup
from nudgeproof.firmware.trials import Failed, run_trials
from nudgeproof.spec.edit import Places, apply
from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import Device
from tests.measuring.torch import Torch

SPEC = """spec: 1
device: torch
buttons: {key: {bounce: up to 5 ms, debounce: 20 ms ± 2 ms}}
gestures:
  hold: {held: 1 s ± 10 ms}
  tap: {taps: 1, press: up to 400 ms ± 5 ms}
  two taps: {taps: 2, press: up to 400 ms ± 5 ms, between: up to 300 ms ± 5 ms}
  three taps: {taps: 3, press: up to 400 ms ± 5 ms, between: up to 300 ms ± 5 ms}
variables: {unused: [a, b]}
initial: dark
states:
  dark: {transitions: {hold: dim}}
  dim:
    transitions: {hold: dark, tap: bright, two taps: dark, three taps: {set: {unused: a}}, after 9 s ± 20 ms: dark}
  bright:
    transitions: {hold: dark, tap: dim, two taps: dark, three taps: {set: {unused: a}}, after 9 s ± 20 ms: dark}
power up: {takes: 50 ms ± 3 ms}
supply: {hold-up: 5 ms}
person: {tap: 60 to 300 ms, between: 80 to 200 ms, hold: 1.2 to 1.8 s}
"""
MAP = """recording: 1
sample period: 1 ms
begins: with power up
channels:
  key: {button: key, pressed when: high}
  dim: {on in: [dim], off in: all others}
  bright: {on in: [bright], off in: all others}
"""


def refuse(torch: Torch) -> tuple[Device, Map, Failed]:
    device = read_device(SPEC, "torch.yaml")
    what, _ = read_map(MAP, "map.yaml", device)
    failed = run_trials(device, what, torch.perform, 60, most=60).failed
    assert failed is not None
    return device, what, failed


def accept_of(torch: Torch) -> tuple[Acceptable, ...]:
    device, what, failed = refuse(torch)
    found = accept(device, what, failed, torch.perform)
    for one in found:
        # It is what it says: with that change alone the recording conforms.
        changed = read_device(apply(SPEC, one.edits), "torch.yaml")
        assert follow(changed, what, failed.performed.recording).result is Result.CONFORMS
    return found


def test_the_torch_conforms() -> None:
    device = read_device(SPEC, "torch.yaml")
    what, _ = read_map(MAP, "map.yaml", device)
    assert run_trials(device, what, Torch().perform, 60).failed is None


@pytest.mark.parametrize(
    ("torch", "path", "us"),
    [
        (Torch(held_us=1_300_000), ("gestures", "hold", "held"), 1_300_000),
        (Torch(held_us=700_000), ("gestures", "hold", "held"), 700_000),
        (Torch(off_us=12_000_000), ("states", "dim", "transitions"), 12_000_000),
        (Torch(filter_us=45_000), ("buttons", "key", "debounce"), 45_000),
    ],
)
def test_the_number_that_differs_is_found(torch: Torch, path: tuple[str, ...], us: int) -> None:
    found = accept_of(torch)
    one = next((one for one in found if one.edit.path[: len(path)] == path), None)
    assert one is not None, [str(one.edit) for one in found]
    assert one.measured.lo - 25_000 <= us <= one.measured.hi + 25_000 or one.beyond
    assert f"line {one.edit.line}" in one.words
    assert "the spec says" in one.words


def test_nothing_is_offered_where_no_number_is_enough() -> None:
    torch = Torch()

    def upside_down(acts: Acts, end_us: int, setup: Setup = PLAIN) -> Performed:
        performed = torch.perform(acts, end_us, setup)
        swapped = {"dim": "bright", "bright": "dim"}
        changes = tuple(replace(c, channel=swapped.get(c.channel, c.channel)) for c in performed.recording.changes)
        return replace(performed, recording=replace(performed.recording, changes=tuple(sorted(changes))))

    device = read_device(SPEC, "torch.yaml")
    what, _ = read_map(MAP, "map.yaml", device)
    failed = run_trials(device, what, upside_down, 60, most=60).failed
    assert failed is not None
    assert find_acceptable(device, what, failed.performed.recording) == ()


def test_times_of_the_supply_are_tried_too() -> None:
    chip = "{held: key, for: 8 s ± 1 s, then: stays off, closed for: 50 ms, lets go: 5 ms}"
    places = Places(tuple(SPEC.replace("{hold-up: 5 ms}", f"{{hold-up: 5 ms, cut-off: {chip}}}").split("\n")))
    found = {time.spot.path[-1]: time.words for time in times_of(places) if time.spot.path[0] == "supply"}
    assert found == {"hold-up": "5 ms", "for": "8 s ± 1 s", "closed for": "50 ms", "lets go": "5 ms"}
