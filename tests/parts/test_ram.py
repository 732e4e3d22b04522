"""RAM that outlasts a short interruption: when it is whole, and what a start believes of it."""

from __future__ import annotations

import pytest

from nudgeproof.check import check
from nudgeproof.model.tables import Local
from nudgeproof.parts.chart import STARTED
from nudgeproof.parts.compile import Environment, compile_model
from nudgeproof.parts.ram import DECAYED, EMPTY, FADING, UNKNOWN, WHOLE, Cells, ram
from nudgeproof.parts.supply import BOOTS, DRAINED, RESET, RESTORE
from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import Device
from nudgeproof.verdict import Verdict

LAMP = """spec: 1
device: desk lamp
buttons:
  pad: {{bounce: up to 2 ms, debounce: 10 ms}}
gestures:
  tap:  {{taps: 1, press: up to 400 ms}}
  hold: {{held: 1 s}}
variables: {{beam: [low, high]}}
initial: dark
states:
  dark:
    sleep: {{woken by: [pad], on: edge, ready in: 1 ms, dozes again after: 30 ms}}
    transitions: {{tap: lit}}
  lit: {{shows: beam, transitions: {{tap: {{next: beam}}, hold: dark}}}}
ram: {{keeps: {keeps}, lasts: {lasts}, checked by: {check}}}
{memory}power up: {{takes: 50 ms, if blank: dark}}
supply: {{hold-up: 5 ms}}
person: {{tap: 60 to 300 ms, between: 80 to 200 ms, hold: 1.2 to 1.6 s}}
surroundings:
  rattle: {{cell gone: {gone}, then steady at least: 2 s}}
"""
MEMORY = (
    "memory: {keeps: [state, beam], written: at once, write takes: 2 ms, guard: two copies, may lose: the last 10 ms}\n"
)


def lamp(
    check: str = "marker",
    keeps: str = "[state, beam]",
    lasts: str = "200 to 900 ms",
    gone: str = "up to 1 s",
    memory: str = "",
) -> Device:
    text = LAMP.format(check=check, keeps=keeps, lasts=lasts, gone=gone, memory=memory)
    return read_device(text, "lamp.yaml")


def verdicts(device: Device, hazard: str) -> list[Verdict]:
    return [finding.verdict for finding in check(device, only=[hazard]).findings]


def hear(local: Local, signal: str, check: str = "marker") -> list[Cells]:
    device = lamp(check)
    assert device.ram is not None
    part = ram(device, device.ram, is_empty=False)
    found = [choice.to for choice in part.heard(local, signal, {"state": "lit", "value beam": "high"})]
    assert all(isinstance(cells, Cells) for cells in found)
    return [cells for cells in found if isinstance(cells, Cells)]


HELD = ("lit", "high")


def test_a_reset_leaves_the_values_as_they_were_and_they_fade_without_power() -> None:
    assert hear(Cells(WHOLE), RESET) == [Cells(WHOLE, HELD)]
    assert hear(Cells(WHOLE, HELD), DRAINED) == [Cells(FADING, HELD)]
    assert hear(Cells(FADING, HELD), BOOTS) == [Cells(WHOLE, HELD)]
    assert hear(Cells(DECAYED), BOOTS) == [Cells(DECAYED)]
    assert hear(Cells(DECAYED), DRAINED) == [Cells(DECAYED)]
    assert hear(Cells(EMPTY), DRAINED) == [Cells(EMPTY)]


def test_only_fading_values_decay_and_within_their_time() -> None:
    device = lamp()
    assert device.ram is not None
    part = ram(device, device.ram, is_empty=False)
    assert [phase for phase in (EMPTY, WHOLE, FADING, DECAYED) if part.armed(Cells(phase), {})] == [FADING]
    (timer,) = part.armed(Cells(FADING, HELD), {})
    assert (timer.lo, timer.hi) == (200_000, 900_000)
    (choice,) = part.expired(Cells(FADING, HELD), timer.name, {})
    assert choice.to == Cells(DECAYED)


def test_what_a_start_believes() -> None:
    given = {phase: [cells.gives for cells in hear(Cells(phase, HELD), RESTORE)] for phase in (WHOLE, EMPTY, DECAYED)}
    assert given[WHOLE] == [HELD]
    assert given[EMPTY] == [None]
    anything = [None, ("dark", "low"), ("dark", "high"), ("lit", "low"), ("lit", "high")]
    assert given[DECAYED] == anything
    assert [cells.gives for cells in hear(Cells(DECAYED), RESTORE, "checksum")] == [None]
    assert [cells.gives for cells in hear(Cells(UNKNOWN), RESTORE, "checksum")] == anything
    assert hear(Cells(DECAYED, gives=HELD), STARTED) == [Cells(WHOLE)], "the firmware writes it anew"


@pytest.mark.parametrize(("gone", "verdict"), [("up to 204 ms", Verdict.HOLDS), ("up to 205 ms", Verdict.BROKEN)])
def test_a_lamp_comes_back_as_it_was_while_its_ram_lasts(gone: str, verdict: Verdict) -> None:
    """The hold-up of 5 ms comes first; when both end at once the values may be gone."""
    assert verdicts(lamp("checksum", gone=gone), "accidental-off") == [verdict]


@pytest.mark.parametrize(("check", "verdict"), [("checksum", Verdict.HOLDS), ("marker", Verdict.BROKEN)])
def test_a_marker_alone_may_switch_a_lamp_on(check: str, verdict: Verdict) -> None:
    assert verdicts(lamp(check), "accidental-wake") == [verdict]
    assert verdicts(lamp(check, memory=MEMORY), "lost-state") == [verdict]


def test_whole_ram_goes_before_memory() -> None:
    """A write that the reset cuts short is made good by RAM; without RAM nothing older than 10 ms may be lost."""
    slow = MEMORY.replace("write takes: 2 ms", "write takes: 60 ms")
    assert verdicts(lamp("checksum", memory=slow, gone="up to 100 ms"), "lost-state") == [Verdict.HOLDS]
    assert verdicts(lamp("checksum", memory=slow, gone="up to 1 s"), "lost-state") == [Verdict.BROKEN]


def test_a_first_start_believes_nothing_but_with_a_button_held_anything_may_be_there() -> None:
    device = lamp("checksum")
    assert device.ram is not None
    first = compile_model(device, Environment(found="blank"))
    assert first.start[first.index("ram")] == Cells(EMPTY)
    held = compile_model(device, Environment(held="pad"))
    assert held.start[held.index("ram")] == Cells(UNKNOWN)
    running = compile_model(device, Environment(("rattle",)))
    assert running.start[running.index("ram")] == Cells(WHOLE)
    assert not compile_model(device, Environment()).publishes("ram gives")
