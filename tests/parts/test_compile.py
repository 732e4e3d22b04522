"""Which parts a model is made of, and how they begin."""

from __future__ import annotations

from nudgeproof.parts.compile import Environment, compile_model
from nudgeproof.parts.people import LEFT
from nudgeproof.parts.script import Edge, script
from nudgeproof.parts.stroke import Stroke, next_touches
from nudgeproof.parts.supply import opened_by
from nudgeproof.spec.read import read_device
from nudgeproof.units import Span

SPEC = """spec: 1
device: lamp
buttons: {pad: {bounce: up to 0 ms, debounce: 20 ms, edges apart: at least 1 ms}}
gestures: {tap: {taps: 1, press: up to 400 ms}}
initial: OFF
states:
  off: {KIND}
  lit: {transitions: {tap: off}}
supply: {hold-up: 5 ms, latch: {closed by: [pad], lets go: up to 3 ms}}
power up: {takes: 20 ms, if blank: lit, if damaged: lit, button held: ignored until released}
surroundings:
  rattle: {cell gone: up to 40 ms, then steady at least: 2 s}
  drop: {cell gone: up to 40 s, then steady at least: 2 s}
"""


def test_a_device_that_begins_without_power_has_none() -> None:
    for initial, supply, processor in (("off", "off", "off"), ("lit", "up", "awake")):
        text = SPEC.replace("OFF", initial).replace("KIND", "unpowered: true")
        model = compile_model(read_device(text, "lamp.yaml"), Environment(("anything",)))
        assert model.start[model.index("supply")] == supply
        assert model.start[model.index("processor")] == (processor, False)


def test_each_interruption_that_acts_takes_the_cell_away() -> None:
    text = SPEC.replace("OFF", "lit").replace("KIND", "unpowered: true")
    model = compile_model(read_device(text, "lamp.yaml"), Environment(("rattle", "drop")))
    reads = model.parts[model.index("supply")].reads
    assert {opened_by("rattle"), opened_by("drop")} <= set(reads)


def test_events_that_the_device_is_not_for_wait_until_it_is_left() -> None:
    text = (
        SPEC.replace("OFF", "lit")
        .replace("KIND", "unpowered: true")
        .replace("initial:", "events: {cable: {}}\ninitial:")
    )
    text = text.replace("lit: {transitions: {tap: off", "lit: {transitions: {tap: off, cable: lit")
    cable = "  people: {makes: cable, then none for at least: 1 s"
    for meant, waits in (("", True), (", meant: true", False)):
        device = read_device(f"{text}{cable}{meant}}}\n", "lamp.yaml")
        model = compile_model(device, Environment(("people",), history="anything", left_in=("lit",)))
        assert (LEFT in model.parts[model.index("people")].reads) == waits


def test_two_fingers_begin_and_end_a_chord_in_either_order() -> None:
    chord = Stroke(("pad", "rim"), Span(60_000, 350_000), Span(0, 40_000))
    for held, opening in (((), False), (("pad", "rim"), False)):
        assert [touch.button for touch in next_touches(chord, held, opening)] == ["pad", "rim"]
    assert [touch.held for touch in next_touches(chord, ("pad", "rim"), False)] == [("rim",), ("pad",)]
    assert [touch.button for touch in next_touches(chord, ("rim",), True)] == ["rim"]


def test_a_script_leaves_the_device_after_so_many_edges() -> None:
    edges = tuple(Edge(at, "pad", closes) for at, closes in ((1, True), (2, False), (3, True)))
    part = script(edges, ("pad",), left=1)
    place = part.publishes.index("left alone")
    assert [part.shown((played, ""))[place] for played in range(4)] == [False, False, True, True]
