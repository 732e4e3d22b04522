"""Whoever closes a contact, by themselves: their pauses and lengths, and when a device is left alone."""

from __future__ import annotations

from dataclasses import replace

from nudgeproof.model.tables import Choice, Local, Part, Value
from nudgeproof.parts.people import LEFT, anything, disturbance, leaving, person
from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import Condition, Disturbance
from nudgeproof.units import FOREVER, Span

MS = 1_000
DEVICE = read_device(
    """spec: 1
device: lamp
buttons: {pad: {bounce: up to 5 ms, debounce: 20 ms, edges apart: at least 1 ms}}
gestures: {tap: {taps: 1, press: up to 400 ms}, hold: {held: 1 s}}
variables: {beam: [low, high]}
initial: lit
states: {lit: {transitions: {tap: {next: beam}, hold: dark}}, dark: {transitions: {hold: lit}}}
person: {tap: 60 to 350 ms, between: 80 to 220 ms, hold: 1.2 to 2 s}
surroundings:
  knocks: {closes pad: 2 to 40 ms, then open at least: 30 ms}
""",
    "lamp.yaml",
)


def spans(part: Part, local: Local, left: bool = False) -> list[tuple[float, float]]:
    return [(timer.lo, timer.hi) for timer in part.armed(local, {LEFT: left})]


def next_of(part: Part, local: Local) -> tuple[Choice, ...]:
    (timer,) = part.armed(local, {LEFT: False})
    return part.expired(local, timer.name, {})


def test_a_person_taps_or_holds_as_long_and_pauses_as_long_as_the_habits_say() -> None:
    assert DEVICE.person is not None
    part = person(DEVICE.person, ("pad",), (), leaves=True)
    assert spans(part, part.start) == [(0, FOREVER)]
    pressed = next_of(part, part.start)
    assert [spans(part, choice.to) for choice in pressed] == [[(60 * MS, 350 * MS)], [(1_200 * MS, 2_000 * MS)]]
    (let_go,) = next_of(part, pressed[0].to)
    assert spans(part, let_go.to) == [(80 * MS, FOREVER)]
    assert spans(part, let_go.to, left=True) == [], "who left presses no more"


def test_a_person_with_holds_of_several_lengths_makes_each_of_them() -> None:
    assert DEVICE.person is not None
    habits = replace(DEVICE.person, holds=(("long", Span(3_000 * MS, 4_000 * MS)),))
    part = person(habits, ("pad",), (), leaves=False)
    assert [spans(part, choice.to)[0][0] for choice in next_of(part, part.start)] == [60 * MS, 1_200 * MS, 3_000 * MS]


def test_a_knock_lasts_and_pauses_as_stated_and_waits_until_the_device_is_left() -> None:
    (what,) = DEVICE.surroundings
    assert isinstance(what, Disturbance)
    part = disturbance(what, waits=True)
    assert (spans(part, part.start), spans(part, part.start, left=True)) == ([], [(0, FOREVER)])
    free = disturbance(what, waits=False)
    (pressed,) = next_of(free, free.start)
    assert spans(free, pressed.to) == [(2 * MS, 40 * MS)]
    (let_go,) = next_of(free, pressed.to)
    assert spans(free, let_go.to) == [(30 * MS, FOREVER)]


def test_any_press_has_any_length_and_any_pause() -> None:
    part = anything(("pad",), leaves=False)
    (pressed,) = next_of(part, part.start)
    (let_go,) = next_of(part, pressed.to)
    assert spans(part, pressed.to) == spans(part, let_go.to) == [(0, FOREVER)]


def test_a_device_is_left_alone_at_rest_where_and_as_it_should_be() -> None:
    rest: dict[str, Value] = {
        "level pad": False,
        "quiet pad": True,
        "reading pad": False,
        "pattern pad": False,
        "steady": True,
        "state": "lit",
        "value beam": "high",
        "an event waits": False,
    }
    wanted = Condition("beam is high", (("beam", ("high",)),))
    part = leaving(DEVICE, ("lit",), True, ("an event waits",), wanted)
    assert [timer.name for timer in part.armed("", rest)] == ["leaves"]
    assert part.armed("lit", rest) == (), "once"
    others: dict[str, Value] = {"quiet pad": False, "steady": False, "state": "dark", "value beam": "low"}
    for name, value in {**{name: not value for name, value in rest.items() if value is False}, **others}.items():
        assert part.armed("", {**rest, name: value}) == (), name
