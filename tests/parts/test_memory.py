"""Memory by itself: what is written when, what a cut write leaves, and what a start may read."""

from __future__ import annotations

from dataclasses import replace

import pytest

from nudgeproof.model.tables import Choice, Local, Value
from nudgeproof.parts.chart import CHANGED, STEPPED
from nudgeproof.parts.memory import BLANK, DAMAGED, GARBAGE, Store, memory
from nudgeproof.parts.supply import RESET, RESTORE
from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import Device

SPEC = """spec: 1
device: lamp
buttons: {pad: {bounce: up to 0 ms, debounce: 20 ms, edges apart: at least 1 ms}}
gestures: {tap: {taps: 1, press: up to 400 ms}, hold: {held: 1 s}}
variables: {beam: [low, mid, high], pace: [5 s, 9 s], tint: [warm, cold]}
initial: lit
states:
  lit: {transitions: {tap: {next: beam}, hold: wait, after pace: wait}}
  wait: {waiting: true, transitions: {tap: lit, after 1 s: lit}}
supply: {hold-up: 5 ms}
power up: {takes: 20 ms, if blank: lit, if damaged: lit, button held: ignored until released}
memory: {keeps: [state, beam], written: at once, write takes: 1 ms, guard: GUARD, may lose: the last 10 ms}
surroundings:
  rattle: {cell gone: up to 40 ms, then steady at least: 2 s}
"""
GUARDS = ("none", "checksum", "two copies")


def lamp(guard: str) -> Device:
    return read_device(SPEC.replace("GUARD", guard), "lamp.yaml")


def hear(device: Device, local: Local, signal: str, state: str = "lit", beam: str = "low") -> Choice:
    reads: dict[str, Value] = {"state": state, "value beam": beam}
    (choice,) = memory(device).heard(local, signal, reads)
    return choice


def end_write(device: Device, local: Local) -> Store:
    (choice,) = memory(device).expired(local, "writes", {})
    assert isinstance(choice.to, Store)
    return choice.to


def read_at_start(device: Device, local: Local) -> set[Value]:
    found = set()
    for choice in memory(device).heard(local, RESTORE, {}):
        assert isinstance(choice.to, Store)
        found.add(choice.to.found)
    return found


LOW, MID, HIGH = (("lit", beam) for beam in ("low", "mid", "high"))


def test_cells_that_differ_are_written_one_after_another() -> None:
    device = lamp("none")
    begun = hear(device, Store((BLANK, BLANK)), STEPPED, beam="mid").to
    assert begun == Store((BLANK, BLANK), target=MID, at=0)
    half = end_write(device, begun)
    assert half == Store(("lit", BLANK), target=MID, at=1)
    assert end_write(device, half) == Store(MID)
    assert hear(device, Store(MID), STEPPED, beam="mid").to == Store(MID), "it stands there"
    assert hear(device, Store(MID), STEPPED, beam="high").to == Store(MID, target=HIGH, at=1)


def test_a_record_that_was_being_erased_may_read_as_blank_until_it_is_written() -> None:
    device = lamp("checksum, erases first: true")
    cut = hear(device, Store((MID,), target=HIGH), RESET).to
    assert isinstance(cut, Store)
    assert cut.torn
    assert read_at_start(device, cut) == {BLANK, DAMAGED}
    whole = end_write(device, hear(device, cut, STEPPED, beam="high").to)
    assert (whole.torn, read_at_start(device, whole)) == (False, {HIGH})
    assert hear(lamp("two copies, erases first: true"), Store((MID,), target=HIGH), RESET).to == Store((MID,))


@pytest.mark.parametrize("guard", GUARDS)
def test_of_changes_during_a_write_the_last_is_written_then(guard: str) -> None:
    device = lamp(guard)
    cells: tuple[Value, ...] = LOW if guard == "none" else (LOW,)
    local = hear(device, Store(cells), STEPPED, beam="mid").to
    for beam in ("high", "low"):
        local = hear(device, local, STEPPED, beam=beam).to
        assert isinstance(local, Store)
        assert local.wanted == ("lit", beam)
    back = hear(device, local, STEPPED, beam="mid").to
    assert isinstance(back, Store)
    assert back.wanted is None, "that is being written"
    written = end_write(device, local)
    assert written.target == LOW
    assert end_write(device, written) == Store(cells)


@pytest.mark.parametrize(
    ("guard", "cells", "after", "torn"),
    [
        ("none", LOW, ("lit", GARBAGE), True),
        ("checksum", (LOW,), (DAMAGED,), True),
        ("two copies", (LOW,), (LOW,), False),
    ],
)
def test_what_a_cut_write_leaves(guard: str, cells: tuple[Value, ...], after: tuple[Value, ...], torn: bool) -> None:
    device = lamp(guard)
    begun = hear(device, Store(cells), STEPPED, beam="mid").to
    cut = hear(device, begun, RESET).to
    assert cut == Store(after, torn=torn)
    assert hear(device, Store(cells), RESET).to == Store(cells), "nothing was being written"
    again = hear(device, cut, STEPPED, beam="high").to
    assert isinstance(again, Store)
    assert again.torn == torn, "until it is written whole"
    assert not end_write(device, again).torn


def test_what_a_start_may_read_from_cells() -> None:
    device = lamp("none")
    assert read_at_start(device, Store((BLANK, BLANK))) == {BLANK}
    assert read_at_start(device, Store(MID)) == {MID}
    assert read_at_start(device, Store((BLANK, "mid"))) == {MID}, "a cell never written reads as the first value"
    assert read_at_start(device, Store(("lit", GARBAGE))) == {LOW, MID, HIGH, DAMAGED}
    assert read_at_start(device, Store((GARBAGE, "mid"))) == {MID, ("wait", "mid"), DAMAGED}, "a waiting state too"


@pytest.mark.parametrize("guard", GUARDS)
def test_what_may_stand_there_at_all(guard: str) -> None:
    """Of a variable kept beside, on which nothing hangs, the first value; of one that says a time, each."""
    device = lamp(guard)
    assert device.memory is not None
    more = replace(device, memory=replace(device.memory, keeps=("state", "pace", "tint")))
    found = set()
    for choice in memory(more, unknown=True).heard(memory(more, unknown=True).start, RESTORE, {}):
        assert isinstance(choice.to, Store)
        found.add(choice.to.found)
    states = ("lit", "wait") if guard == "none" else ("lit",)
    expected: set[Value] = {(state, pace, "warm") for state in states for pace in ("5 s", "9 s")}
    assert found == expected | {BLANK} | (set() if guard == "two copies" else {DAMAGED})


def test_a_waiting_state_is_kept_as_the_one_it_leads_to() -> None:
    device = lamp("two copies")
    begun = hear(device, Store((MID,)), CHANGED, state="wait", beam="mid").to
    assert begun == Store((MID,)), "nothing is to be written"
