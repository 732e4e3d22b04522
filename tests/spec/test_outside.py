"""How events, the level of the cell, depths, outputs and harm are read."""

from __future__ import annotations

import pytest

from nudgeproof.diagnostics import Place
from nudgeproof.spec.outside import CellRules, Depth, Event, Harm, Maker, Output, Sag
from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import Device
from nudgeproof.units import NotAQuantity, Span, read_volts, show_mv

MS = 1_000

PORCH = """\
spec: 1
device: porch light
buttons:
  pad: {bounce: up to 8 ms, debounce: 20 ms, edges apart: at least 10 us}
clock: {off by: 20 %}
gestures:
  hold: {held: 1.2 s}
events:
  footfall: {}
  gate: {wakes and counts: false}
cell: {low below: 2.2 V, fine above: 2400 mV, read every: 12 s}
depths:
  deep: {woken by: level}
  doze: {woken by: [edge, level]}
initial: dark
states:
  dark:
    sleep: {woken by: [gate, pad, footfall], on: edge, depth: doze, ready in: 2 ms, dozes again after: 50 to 60 ms}
    transitions: {hold: lit, footfall: lit, gate: {to: lit}}
  shut:
    sleep: {woken by: [pad, gate], on: edge, depth: deep, ready in: 2 ms, dozes again after: 50 to 60 ms}
    transitions: {hold: dark}
  lit:
    busy: up to 100 ms
    transitions: {hold: dark, cell low: shut, cell fine: lit, footfall: lit, after 4 h: dark}
outputs:
  lamp: {on in: [lit], in reset: floating}
harm:
  lamp: {what: dazzles, second means: a shade, restored: yes, why: stairs need light}
memory: {keeps: state, written: at once, write takes: 3 ms, guard: two copies, may lose: nothing, while writing: deaf}
power up: {takes: 70 ms, if blank: dark, if damaged: dark, button held: ignored until released}
supply: {hold-up: 5 ms}
surroundings:
  walkers: {makes: footfall, then none for at least: 300 ms, meant: true}
  hinge: {makes: [gate, footfall]}
  weak cell: {cell: sags and recovers, then steady at least: 1 s, meant: false}
"""


def porch(old: str = "", new: str = "") -> Device:
    assert old == "" or PORCH.count(old) == 1
    return read_device(PORCH.replace(old, new) if old else PORCH, "porch.yaml")


def at(line: int, column: int) -> Place:
    return Place("porch.yaml", line, column)


def test_every_piece_is_read() -> None:
    device = porch()
    assert device.events == (Event("footfall", True, at(9, 3)), Event("gate", False, at(10, 3)))
    assert device.event_names == ("footfall", "gate", "cell low", "cell fine")
    assert device.outputs == (Output("lamp", ("lit",), "floating", at(27, 3)),)
    assert device.harm == (Harm("lamp", "dazzles", "a shade", True, "stairs need light", at(29, 3)),)
    assert device.surroundings == (
        Maker("walkers", ("footfall",), 300 * MS, True, at(34, 3)),
        Maker("hinge", ("gate", "footfall"), 0, False, at(35, 3)),
        Sag("weak cell", 1_000 * MS, False, at(36, 3)),
    )
    assert device.meant == ("walkers",)
    assert [what.name for what in device.unmeant] == ["hinge", "weak cell"]
    assert device.memory is not None
    assert device.memory.deaf
    assert device.state("lit").busy == Span(0, 100 * MS)
    assert [t.gesture for t in device.state("lit").transitions] == ["hold", "cell low", "cell fine", "footfall"]
    assert [gesture.name for gesture in device.gestures_in(device.state("lit"))] == ["hold"]


def test_the_clock_widens_the_time_between_two_looks_at_the_cell() -> None:
    assert porch().cell == CellRules(2_200, 2_400, Span(10_000 * MS, 15_000 * MS), at(11, 1))


def test_what_wakes_hangs_on_the_depth() -> None:
    dark, shut = porch().state("dark").sleep, porch().state("shut").sleep
    assert dark is not None
    assert shut is not None
    assert dark.depth == Depth("doze", ("edge", "level"), at(14, 3))
    assert (dark.woken_by, dark.woken_by_events) == (("pad",), ("gate", "footfall"))
    assert (dark.waking_buttons, dark.waking_events) == (("pad",), ("gate", "footfall"))
    assert (shut.waking_buttons, shut.waking_events) == ((), ()), (
        "only a level wakes from there, and an event is an edge"
    )
    shallow = porch(", depth: doze", "").state("dark").sleep
    assert shallow is not None
    assert (shallow.waking_buttons, shallow.waking_events) == (("pad",), ("gate", "footfall"))


def test_defaults_are_listed() -> None:
    text = PORCH.replace(", while writing: deaf", "").replace(", meant: true", "").replace(", depth: doze", "")
    found = [assumption.text for assumption in read_device(text, "porch.yaml").assumptions]
    assert "wakes and counts: true (event footfall)" in found
    assert "meant: false (walkers in surroundings)" in found
    assert "then none for at least: 0 ms (hinge in surroundings)" in found
    assert "while writing: listens (memory)" in found
    assert "depth: one from which everything in `woken by` wakes (sleep of state dark)" in found
    assert not any("gate" in text for text in found), "what is stated is no assumption"


@pytest.mark.parametrize(
    ("text", "millivolts"), [("2.2 V", 2_200), ("900mV", 900), (".9 V", 900), ("3 V", 3_000), ("0.001 V", 1)]
)
def test_a_voltage_is_read_exactly(text: str, millivolts: int) -> None:
    assert read_volts(text) == millivolts
    assert read_volts(show_mv(millivolts)) == millivolts


@pytest.mark.parametrize(
    ("text", "cure"),
    [
        ("2.2", "write `2.2 V` or `2.2 mV`"),
        ("2,2 V", "write `2.2 V`"),
        ("2.2 A", "write such as `2.2 V`"),
        ("0.0001 V", "leave out the last digits"),
        ("9999 V", "no such cell is in a small device"),
        ("2" * 90, "write such as `2.2 V`"),
    ],
)
def test_what_is_no_voltage_gets_a_cure(text: str, cure: str) -> None:
    with pytest.raises(NotAQuantity) as caught:
        read_volts(text)
    assert caught.value.cure == cure
