"""Devices for the comparison; between them they use every rule of the reference page."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from typing import Final

from nudgeproof.spec.outside import Ticks
from nudgeproof.spec.powered import CutOff, Latch, Ram, StaysOff, Supervisor
from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import (
    Button,
    Chord,
    Claims,
    Device,
    Disturbance,
    Gesture,
    Memory,
    Outage,
    PowerUp,
    Samples,
    State,
    Supply,
    Transition,
)
from nudgeproof.units import Span

MS: Final = 1_000

_PAD: Final = "pad: {bounce: up to 8 ms, debounce: 15.1 to 25.3 ms, edges apart: at least 100 us}"
_GESTURES: Final = """
  tap:           {taps: 1, press: up to 400 ms ± 20 ms}
  two taps:      {taps: 2, press: up to 400 ms ± 20 ms, between: up to 260 ms ± 11 ms}
  three taps:    {taps: 3, press: up to 310 ms, between: up to 231 ms ± 7 ms}
  hold:          {held: 1.2 s ± 30 ms}
  tap then hold: {taps: 1, then held: 900 ms ± 20 ms, press: up to 400 ms ± 20 ms, between: up to 260 ms ± 11 ms}"""
_TWO_VALUES: Final = """
  beam: [low, high, blink]
  warmth: [warm, cold]"""
_LAMP: Final = """
initial: stowed
states:
  stowed:
    SLEEP
    transitions: {hold: armed, tap: {next: warmth}}
  armed:
    waiting: true
    shows: a faint glow
    transitions: {two taps: {to: glowing, next: [beam, warmth]}, after 1.3 to 1.5 s with pad open: stowed}
  glowing:
    shows: beam
    transitions:
      tap: {next: beam, restarts: true}
      two taps: {next: warmth}
      three taps: glowing
      tap then hold: stowed
      hold: {to: armed, next: warmth}
      after 2.9 to 3.3 s: stowed
      after 1.6 to 2.1 s with pad open: {to: glowing}
"""
_SURROUNDINGS: Final = """
surroundings:
  knocks:  {closes pad: 2 to 40 ms, then open at least: 30 ms}
  squeeze: {closes pad: 20 ms to 1.5 s, then open at least: 50 ms}
"""


def _dropping(device: Device) -> Device:
    """The device on a chip that drops edges until its wake source is armed."""
    return replace(device, states=tuple(_drops(state) for state in device.states))


def _drops(state: State) -> State:
    return state if state.sleep is None else replace(state, sleep=replace(state.sleep, drops_unarmed=True))


def _in_ticks(device: Device, ticks: Ticks, *names: str) -> Device:
    """The device whose pauses of taps, where they begin anew at waking, go on instead; in the states of these names."""
    states = []
    for state in device.states:
        goes_on = state.sleep is not None and state.sleep.begins_anew and state.name in (names or (state.name,))
        sleep = replace(state.sleep, begins_anew=False, goes_on=True) if goes_on and state.sleep else state.sleep
        states.append(replace(state, sleep=sleep))
    return replace(device, states=tuple(states), ticks=ticks)


def _lamp(
    sleep: str, pad: str = _PAD, gestures: str = _GESTURES, rest: str = _LAMP, values: str = _TWO_VALUES
) -> Device:
    text = f"spec: 1\ndevice: lamp\nbuttons:\n  {pad}\ngestures:{gestures}\nvariables:{values}\n{rest}{_SURROUNDINGS}"
    return read_device(text.replace("SLEEP", sleep), "lamp.yaml")


def _fitting(button: str) -> str:
    """The line of a button of which a press may fit two gestures."""
    return button.removesuffix("}") + ", where two fit: the first in the file}"


def _per_unit(text: str) -> str:
    """The same with one value on each specimen for every time that has a tolerance and takes it."""
    text = re.sub(r"(?<=after )[0-9.]+ (?:ms |s )?to [0-9.]+ m?s(?= with|:)", r"\g<0> per unit", text)
    keys = "press|between|held|debounce|ready in|dozes again after|repeats every"
    varying = r"(?:up to )?[0-9.]+ m?s ± [0-9.]+ m?s|[0-9.]+ (?:ms |s )?to [0-9.]+ m?s"
    return re.sub(rf"(?<![a-z])({keys}): ({varying})", r"\1: \2 per unit", text)


def _with_power(device: Device, guard: str, keeps: tuple[str, ...], quiet: Span | None, ignored: bool) -> Device:
    at = device.at
    return replace(
        device,
        memory=Memory(keeps, quiet, Span(31 * MS, 290 * MS), guard, 0, at),
        power_up=PowerUp(Span(60 * MS, 80 * MS), "stowed", "glowing", ignored, at),
        supply=Supply(Span(4 * MS, 9 * MS), at),
        surroundings=(
            *device.surroundings,
            Outage("rattle", Span(MS, 14 * MS), 20 * MS, at),
            Outage("drop", Span(5 * MS, 900 * MS), 300 * MS, at),
        ),
    )


def _erases(device: Device) -> Device:
    """A write begins with an erase; a blank memory leads to another state than a damaged one."""
    assert device.memory is not None
    return replace(device, memory=replace(device.memory, erases_first=True))


def _cut_off(device: Device, button: str = "pad") -> Device:
    """A power chip that resets it once a button was down for a while."""
    assert device.supply is not None
    chip = CutOff(button, Span(400 * MS, 550 * MS), device.at)
    return replace(device, supply=replace(device.supply, cut_off=chip))


def _switched_off(device: Device, on_by: tuple[str, ...], closed_for: Span, ends: str = "hold") -> Device:
    """A power chip that leaves it without power, in a state that a gesture leads to from the first state as well."""
    device = _cut_off(device)
    assert device.supply is not None
    assert device.supply.cut_off is not None
    off = StaysOff(on_by, closed_for, Span(0, 30 * MS))
    first, *others = device.states
    stored = replace(first, name="stored", sleep=None, unpowered=True, timeouts=(), transitions=(), on_entering=())
    lines = (replace(line, target="stored") if line.gesture == ends else line for line in first.transitions)
    chip = replace(device.supply.cut_off, off=off)
    return replace(
        device,
        states=(replace(first, transitions=tuple(lines)), *others, stored),
        supply=replace(device.supply, cut_off=chip),
    )


_NOT_FED: Final = Span(250 * MS, 320 * MS)


def supervised(device: Device, in_sleep: bool, after: Span = _NOT_FED) -> Device:
    """A supervisor that waits for less than the longest time in which the firmware is busy."""
    return replace(device, supervisor=Supervisor(after, in_sleep, device.at))


def with_ram(device: Device, keeps: tuple[str, ...], is_checked: bool) -> Device:
    return replace(device, ram=Ram(keeps, Span(60 * MS, 200 * MS), is_checked, device.at))


def _side(device: Device) -> Button:
    return Button("side", 3 * MS, Span(7 * MS, 19 * MS), 50, device.at)


def _idle_button(device: Device) -> Device:
    """A second button that is read but means nothing, doesn't wake, and is touched all the time."""
    return _rubbed(_add_side(device))


def _rubbed(device: Device) -> Device:
    rubs = Disturbance("rubs", "side", Span(5 * MS, 30 * MS), MS, device.at)
    return replace(device, surroundings=(*device.surroundings, rubs))


def _add_side(device: Device) -> Device:
    return replace(device, buttons=(*device.buttons, _side(device)))


def _two_buttons(device: Device) -> Device:
    """A second, slower button with gestures of its own, some of which do something in sleep."""
    at = device.at
    gestures = tuple(
        replace(gesture, name=f"side {gesture.name}", button="side")
        for gesture in device.gestures
        if gesture.name in ("tap", "two taps", "hold")
    )
    extra = {
        "stowed": (
            Transition("side two taps", "glowing", (), False, at),
            Transition("side tap", None, ("beam",), False, at),
        ),
        "armed": (Transition("side tap", "armed", (), False, at),),
        "glowing": (
            Transition("side hold", "stowed", ("beam",), False, at),
            Transition("side tap", None, (), True, at),
        ),
    }
    states = tuple(replace(s, transitions=(*s.transitions, *extra[s.name])) for s in device.states)
    return replace(
        device, buttons=(*device.buttons, _side(device)), gestures=(*device.gestures, *gestures), states=states
    )


def _early(device: Device, acts: Mapping[str, str]) -> Device:
    """The device with gestures that don't wait whether more presses come."""
    return replace(device, gestures=tuple(replace(g, acts_at=acts.get(g.name, g.acts_at)) for g in device.gestures))


def claiming(device: Device, **words: str) -> Device:
    """The device with buttons whose presses count for more than one thing."""
    return replace(device, buttons=tuple(replace(button, claims=Claims(**words)) for button in device.buttons))


def _comes_round(device: Device, **words: str) -> Device:
    """The device with presses that are reckoned at their release, in a type that holds less than a second."""
    late = claiming(device, length="reckoned at the release", **words)
    buttons = (late.buttons[0], *device.buttons[1:])
    return replace(late, buttons=buttons, elapsed=Span(900 * MS, 930 * MS))


def by_moments(device: Device) -> Device:
    """The device with lockouts that end at a moment of a clock that comes round."""
    buttons = (replace(b, lockout_ends="at a moment of the clock") if b.lockout else b for b in device.buttons)
    return replace(device, buttons=tuple(buttons))


def _starting_by(device: Device, *causes: str, left: bool = False) -> Device:
    """The device that starts in one state or another by the cause of the reset; in this order the first one counts."""
    assert device.power_up is not None
    names = [state.name for state in device.states if not state.unpowered]
    starts = tuple((cause, names[-1 - number % len(names)]) for number, cause in enumerate(causes))
    return replace(device, power_up=replace(device.power_up, starts_in=starts, causes_left=left))


def _latched(device: Device, lets_go: Span) -> Device:
    """The lamp with a power latch closed by its pad: its first state has no power instead of sleeping."""
    device = device if device.memory is not None else _with_power(device, "two copies", ("beam",), None, True)
    assert device.supply is not None
    assert device.power_up is not None
    off, *others = device.states
    on = others[-1].name
    return replace(
        device,
        states=(replace(off, sleep=None, unpowered=True, timeouts=()), *others),
        supply=replace(device.supply, latch=Latch(("pad",), lets_go, device.at)),
        power_up=replace(device.power_up, if_blank=on, if_damaged=on),
    )


def _from_power(device: Device, takes: Span) -> Device:
    """The device with a slow start, in which a button that is closed at its end counts as down since power came."""
    assert device.power_up is not None
    return replace(device, power_up=replace(device.power_up, takes=takes, held_ignored=False, counts_from_power=True))


def _read_otherwise(device: Device, **readers: Button) -> Device:
    return replace(device, buttons=tuple(readers.get(button.name, button) for button in device.buttons))


def _at_their_press(device: Device) -> Device:
    """Single taps count when they begin, and at one instant a tap and a chord may."""
    single = [gesture.name for gesture in device.gestures if gesture.presses == ("tap",) and gesture.chord is None]
    gestures = tuple(replace(g, acts_at="press") if g.name in single else g for g in device.gestures)
    return replace(device, gestures=gestures)


def with_chords(device: Device, pairs: tuple[tuple[str, str], ...], held: Span | None, within: Span) -> Device:
    """A device of two buttons or more with these chords, the first of them `held`."""
    at = device.at
    chords = tuple(
        Gesture(
            f"{one} and {two}",
            "",
            ("hold",) if held is not None and not i else ("tap",),
            None,
            None,
            False,
            None if i else held,
            at,
            chord=Chord((one, two), within),
        )
        for i, (one, two) in enumerate(pairs)
    )
    leads = (None, "glowing", "stowed")
    states = []
    for i, state in enumerate(device.states):
        extra = tuple(Transition(c.name, leads[(i + j) % 3], ("warmth",), False, at) for j, c in enumerate(chords))
        states.append(replace(state, transitions=(*state.transitions, *(extra[1:] if i == 1 else extra))))
    return replace(device, gestures=(*device.gestures, *chords), states=tuple(states))


def _giving_back(device: Device) -> Device:
    """The device with chords whose releases are taps."""
    gestures = tuple(
        g if g.chord is None else replace(g, chord=replace(g.chord, gives_back=True)) for g in device.gestures
    )
    return replace(device, gestures=gestures)


def _third(device: Device) -> Device:
    """A third button, that has no gesture of its own."""
    third = Button("rim", 2 * MS, None, 50, device.at, lockout=Span(10 * MS, 14 * MS))
    return replace(device, buttons=(*device.buttons, third))


_ON_EDGE: Final = (
    "sleep: {woken by: [pad], on: edge, ready in: 1 to 3 ms, dozes again after: 40 to 60 ms, each step: up to 9 ms}"
)
_OUTLASTING: Final = (
    "sleep: {woken by: [pad], on: edge, ready in: 1 to 3 ms, dozes again after: 20 to 30 ms, each step: up to 2 ms,"
    " pending taps: outlast sleep}"
)
_BEGINNING_ANEW: Final = _OUTLASTING.replace("outlast sleep", "begin anew at waking")
_LAMP_OF_PAIRS: Final = """
initial: stowed
states:
  stowed:
    SLEEP
    transitions: {tap: {next: warmth}, two taps: {next: beam}, tap then hold: glowing, hold: {next: warmth}}
  glowing:
    SLEEP
    transitions: {two taps: stowed, three taps: {next: beam}, hold: stowed, tap: {next: warmth, restarts: true}}
"""
_ON_LEVEL: Final = (
    "sleep: {woken by: [pad], on: level, ready in: 1 to 30 ms, dozes again after: 90 to 99 ms, each step: up to 7 ms}"
)
_PRESS_TO_PRESS: Final = """
  tap:           {taps: 1, press: up to 150 ms ± 5 ms}
  two taps:      {taps: 2, press: up to 150 ms ± 5 ms, between: up to 300 ms ± 9 ms from press to press}
  three taps:    {taps: 3, press: up to 350 ms, between: up to 300 ms ± 9 ms from press to press}
  hold:          {held: 700 to 720 ms}
  tap then hold: {taps: 1, then held: 400 ms ± 20 ms, press: up to 150 ms ± 5 ms, between: up to 260 ms ± 8 ms}"""
_QUICK_PAD: Final = "pad: {bounce: up to 1 ms, debounce: 0.2 to 3 ms, edges apart: at least 40 us}"
_NO_PAUSE: Final = """
  tap:  {taps: 1, press: up to 400 ms ± 20 ms}
  hold: {held: 500 ms ± 30 ms}
  tap then hold: {taps: 1, then held: 450 to 470 ms, press: up to 200 ms, between: up to 200 ms ± 10 ms}"""
_TORCH: Final = """
initial: stowed
states:
  stowed: {shows: nothing, transitions: {tap: {to: glowing, next: beam}, hold: armed}}
  armed: {waiting: true, transitions: {tap: {next: [beam, warmth]}, after 300 to 700 ms: settling, hold: stowed}}
  settling: {waiting: true, transitions: {after 200 to 300 ms with pad open: glowing}}
  glowing: {shows: beam, transitions: {tap: {next: [warmth]}, hold: stowed, tap then hold: {next: beam, restarts: true},
    after 900 ms to 1 s: glowing}}
"""
_BLINKING: Final = """
initial: glowing
states:
  glowing: {shows: beam, transitions: {hold: {next: beam}, tap: {next: warmth}, after 700 to 900 ms: stowed}}
  stowed: {transitions: {tap: glowing, after 100 to 200 ms: glowing}}
"""

_TWO_SLEEPS: Final = """
initial: stowed
states:
  stowed:
    sleep: {woken by: [pad], on: edge, ready in: 1 to 3 ms, dozes again after: 20 to 50 ms, each step: up to 60 ms,
            ignores a held button after: 0.3 to 1 s}
    transitions: {tap: armed, hold: night}
  night:
    sleep: {woken by: [pad], on: level, ready in: 2 to 5 ms, dozes again after: 30 to 40 ms, each step: up to 80 ms,
            ignores a held button after: 200 ms}
    transitions: {tap: {to: stowed, next: beam}}
  armed:
    transitions: {tap: {next: warmth}, hold: night, after 40 to 90 ms: stowed}
"""
_TAP_OR_HOLD: Final = """
  tap:  {taps: 1, press: up to 100 ms}
  hold: {held: 110 to 150 ms}"""
_ONE_SLEEP: Final = """
initial: stowed
states:
  stowed:
    sleep: {woken by: [pad], on: edge, ready in: 1 to 3 ms, dozes again after: 20 to 50 ms, each step: up to 60 ms}
    transitions: {tap: armed}
  armed:
    transitions: {tap: {next: warmth}, after 40 to 90 ms: stowed}
"""
_ODD_SLEEPS: Final = """
initial: stowed
states:
  stowed:
    sleep: {woken by: [pad], on: edge, ready in: 1 to 30 ms, dozes again after: 20 to 50 ms, each step: up to 60 ms,
            ignores a held button after: 0.3 to 1 s, STEPS}
    transitions: {waking: {next: beam}, tap: armed, hold: night}
  night:
    sleep: {woken by: [pad], on: level, ready in: 2 to 5 ms, dozes again after: 30 to 40 ms, each step: up to 80 ms,
            ignores a held button after: 200 ms, NIGHT}
    transitions: {tap: {to: stowed, next: beam}, waking: WAKING}
  armed:
    transitions: {tap: {next: warmth}, hold: night, after 40 to 90 ms: stowed}
"""
_BLIND_SLEEP: Final = """
initial: stowed
states:
  stowed:
    sleep: {woken by: [pad], on: edge, ready in: 20 to 300 ms, dozes again after: 20 to 50 ms, each step: up to 9 ms,
            press counts from: waking}
    transitions: {tap: armed, short hold: armed, long hold: {to: night, next: beam}, hold then tap: {next: warmth}}
  night:
    sleep: {woken by: [pad], on: level, ready in: 100 to 400 ms, dozes again after: 30 to 40 ms, each step: up to 9 ms,
            press counts from: waking, ignores a held button after: 200 ms}
    transitions: {short hold: {to: stowed, next: beam}, waking: {next: warmth}}
  armed:
    transitions: {tap: {next: warmth}, short hold: night, after 400 to 900 ms: stowed}
"""
_BLIND_LAMP: Final = """
initial: stowed
states:
  stowed: {transitions: {long hold: glowing}}
  armed: {waiting: true, transitions: {short hold: glowing, tap: {next: beam}, after 1 to 1.2 s: stowed}}
  glowing:
    transitions: {tap: {next: warmth}, long hold: {next: beam}, short hold: {next: warmth}, hold then tap: stowed}
"""
_BLIND: Final = """
  tap:           {taps: 1, press: up to 100 ms}
  short hold:    {held: 150 to 190 ms}
  long hold:     {held: 400 to 500 ms, repeats every: 100 to 150 ms}
  hold then tap: {held: 150 to 190 ms, then taps: 1, press: up to 200 ms, between: up to 160 ms}"""
_HOLDS: Final = """
  tap:           {taps: 1, press: up to 300 ms ± 10 ms}
  short hold:    {held: 500 ms ± 20 ms}
  long hold:     {held: 1.1 to 1.2 s}
  late hold:     {held: 1.1 to 1.2 s, acts at: release}
  hold then tap: {held: 500 ms ± 20 ms, then taps: 1, press: up to 300 ms ± 10 ms, between: up to 260 ms ± 9 ms}
  dim:           {taps: 1, then held: 400 ms ± 15 ms, press: up to 300 ms ± 10 ms, between: up to 260 ms ± 9 ms,
                  repeats every: 180 to 220 ms}
  knock knock:   {presses: [tap, hold, tap], held: 400 ms ± 15 ms, press: up to 300 ms ± 10 ms,
                  between: up to 700 ms ± 30 ms from press to press}"""
_HOLDS_FROM_PRESS: Final = _HOLDS.replace(
    "up to 260 ms ± 9 ms}\n  dim", "up to 900 ms ± 30 ms from press to press}\n  dim"
)
_HELD_LAMP: Final = """
initial: stowed
states:
  stowed:
    SLEEP
    transitions: {short hold: {next: warmth}, long hold: glowing, tap: armed}
  armed:
    waiting: true
    transitions:
      {hold then tap: glowing, short hold: {next: beam}, late hold: stowed, after 3.5 to 4 s with pad open: stowed}
  glowing:
    shows: beam
    transitions: {tap: {next: warmth}, hold then tap: armed, long hold: stowed, dim: {next: beam}, after 4.1 to 4.3 s: armed}
"""
_FLASHER: Final = """
initial: stowed
states:
  stowed: {transitions: {knock knock: glowing, late hold: {next: beam}, hold then tap: {next: warmth}, tap: glowing}}
  glowing: {shows: beam, transitions: {dim: {next: beam}, hold then tap: {next: warmth}, short hold: {next: beam},
    tap: {next: warmth, restarts: true}, after 1.9 to 2.1 s: stowed}}
"""
_COUNTS: Final = """
  tap:           {taps: 1, press: up to 200 ms ± 10 ms}
  two taps:      {taps: 2, press: up to 200 ms ± 10 ms, between: up to 260 ms ± 11 ms}
  three taps:    {taps: 3, press: up to 310 ms, between: up to 400 ms ± 9 ms from press to press}
  hold:          {held: 700 ms ± 30 ms, repeats every: 400 to 450 ms}
  two then hold: {taps: 2, then held: 500 ms ± 20 ms, press: up to 310 ms, between: up to 350 ms ± 7 ms}"""
_COUNTING: Final = """
initial: stowed
states:
  stowed:
    SLEEP
    transitions: {two taps: glowing, hold: {next: warmth}}
  glowing:
    shows: beam
    transitions:
      {tap: {next: beam}, two taps: {next: warmth}, three taps: blinking, hold: stowed, after 3.1 to 3.3 s: stowed}
  blinking:
    transitions: {tap: {next: warmth}, two taps: {next: beam, restarts: true}, two then hold: stowed, hold: stowed,
      after 2.2 to 2.5 s with pad open: stowed}
"""
_BANDS: Final = """
  tap:           {taps: 1, press: up to 300 ms ± 20 ms}
  long hold:     {held: 620 to 780 ms, acts at: release}
  late hold:     {held: 650 to 800 ms, acts at: release}
  short hold:    {held: 150 to 260 ms, acts at: release}
  hold then tap: {held: 150 to 260 ms, then taps: 1, press: up to 340 ms, between: up to 240 ms ± 9 ms}
  two taps:      {taps: 2, press: up to 430 ms, between: up to 240 ms ± 9 ms}
  dim:           {taps: 1, then held: 200 to 400 ms, press: up to 300 ms ± 20 ms, between: up to 240 ms ± 9 ms,
                  acts at: release}"""
_BANDED: Final = """
initial: stowed
states:
  stowed:
    SLEEP
    transitions: {late hold: {next: warmth}, short hold: {next: beam}, long hold: glowing, tap: armed}
  armed:
    transitions: {short hold: {next: beam}, two taps: glowing, late hold: stowed, hold then tap: {next: warmth},
      after 3.5 to 4 s with pad open: stowed}
  glowing:
    transitions: {dim: {next: beam}, two taps: armed, hold then tap: stowed, tap: {next: warmth}}
"""
_LATE: Final = """
  tap:        {taps: 1, press: up to 200 ms ± 10 ms}
  two taps:   {taps: 2, press: up to 200 ms ± 10 ms, between: up to 300 ms ± 9 ms BETWEEN}
  short hold: {held: 300 to 340 ms, acts at: release}
  long hold:  {held: 500 to 560 ms, acts at: release}
  dim:        {taps: 1, then held: 300 to 340 ms, press: up to 250 ms ± 10 ms, between: up to 300 ms ± 9 ms BETWEEN,
               acts at: release}"""
_LATE_LAMP: Final = """
initial: stowed
states:
  stowed:
    SLEEP
    transitions: {long hold: glowing, tap: armed, two taps: {next: warmth}}
  armed:
    transitions: {tap: {next: beam}, two taps: glowing, after 2.5 to 3 s: stowed}
  glowing:
    transitions: {dim: {next: beam}, long hold: stowed, short hold: armed, two taps: {next: warmth},
      after 1.6 to 2 s: {to: armed, next: warmth}}
"""
_STEADY_PAD: Final = (
    "pad: {bounce: up to 3 ms, debounce: 5.1 to 9.7 ms, edges apart: at least 100 us, extra taps: EXTRA}"
)

_VALUES: Final = """
  beam: [low, high, blink]
  left: 0 to 4
  pace: {values: [300 ms, 700 ms, 1.1 s], starts as: 700 ms, at the ends: stop}
  warmth: {values: [warm, cold], starts as: cold}"""
_GROUPS: Final = """
initial: INITIAL
states:
  stowed:
    SLEEP
    transitions: {hold: lit, tap: {next: pace}, two taps: {to: glowing, previous: beam}}
  lit:
    starts in: timed
    states:
      glowing:
        transitions:
          two taps: {to: timed, set: {left: 3}, keep: left}
          tap: [{if: beam is low or blink, next: beam}, {if: beam is high and left is at least 1, to: glowing, next: pace}]
          hold: {set: {pace: 300 ms}, restarts: true}
          after 800 to 900 ms with pad open: {if: left is at most 2, to: waning}
      timed:
        on entering: {set: {left: 2, warmth: warm}}
        transitions:
          every 400 to 500 ms: [{if: left is at least 1, previous: left}, {if: left is 0, to: glowing, next: warmth}]
          three taps: {previous: [beam, pace]}
          tap: {set: {left: 4, beam: high}, restarts: true}
          after 1.9 to 2 s: {to: timed, keep: left}
      waning:
        waiting: true
        transitions: {tap: {next: pace}, after pace with pad open: [{if: warmth is cold, previous: pace, restarts: true},
          {if: warmth is warm and beam is not high, to: timed}, {if: warmth is warm and beam is high, to: stowed}]}
    shows: beam
    transitions:
      two taps: {next: [beam, left]}
      hold: stowed
      tap then hold: {to: lit, next: beam}
      three taps: {set: {warmth: cold}, restarts: true}
      every 1.3 s: {next: warmth}
      after 2.6 to 3 s: {to: glowing, next: pace}
"""


def _groups(sleep: str = "", initial: str = "lit") -> Device:
    """A group whose states share lines, with conditions, numbers, and times that begin anew or that a variable says."""
    return _lamp(sleep, rest=_GROUPS.replace("INITIAL", initial), values=_VALUES)


_EVENTS: Final = """
events: {footfall: {}, bump: {wakes and counts: false}, plugged: {}, unplugged: {}}
cell: {low below: 2.2 V, fine above: 2.4 V, read every: 150 to 250 ms}
depths: {deep: {woken by: [level]}, doze: {woken by: [edge, level]}}
initial: stowed
states:
  stowed:
    sleep: {woken by: [pad, footfall, bump, plugged], on: edge, depth: DEPTH, ready in: 1 to 60 ms,
            dozes again after: 40 to 60 ms, each step: up to 60 ms}
    busy: up to 50 ms
    transitions: {hold: glowing, tap: {next: warmth}, footfall: {next: beam}, plugged: glowing, bump: resting}
  resting:
    sleep: {woken by: [pad, footfall], on: level, depth: deep, ready in: 2 to 5 ms, dozes again after: 30 to 40 ms,
            each step: up to 80 ms}
    transitions: {footfall: glowing, tap: stowed}
  glowing:
    busy: 100 to 400 ms
    transitions: {tap: {next: warmth}, two taps: resting, footfall: {to: stowed, next: beam}, unplugged: stowed,
                  cell low: dim, bump: {next: warmth}, after 1.5 to 2 s: resting}
  dim:
    transitions: {tap: stowed, hold: resting, cell fine: glowing, footfall: {next: [beam, warmth]}, plugged: warning,
                  after 2.5 to 3 s: stowed}
  warning:
    busy: 200 to 900 ms
    transitions: {after 100 to 150 ms: dim}
surroundings:
  knocks:  {closes pad: 2 to 40 ms, then open at least: 30 ms}
  walkers: {makes: footfall, then none for at least: 1 ms}
  bumpers: {makes: [bump, footfall], then none for at least: 20 ms}
  cable:   {makes: [plugged, unplugged], then none for at least: 50 ms}
  weak cell: {cell: sags and recovers, then steady at least: 10 ms}
"""


def _eventful(depth: str, pad: str = _PAD, initial: str = "stowed", waking: str = "") -> Device:
    text = f"spec: 1\ndevice: step light\nbuttons:\n  {pad}\ngestures:{_GESTURES}\n"
    text += "variables:\n  beam: [low, high, blink]\n  warmth: [warm, cold]\n" + _EVENTS.replace("DEPTH", depth)
    text = text.replace("initial: stowed", f"initial: {initial}").replace("bump: resting}", f"bump: resting{waking}}}")
    return read_device(text, "step-light.yaml")


def deaf(device: Device) -> Device:
    assert device.memory is not None
    return replace(device, memory=replace(device.memory, deaf=True))


def _busy(device: Device, *names: str) -> Device:
    """A firmware that is busy for long when it enters a state; in all states, or those of these names."""
    long = Span(300 * MS, 1_300 * MS)
    return replace(
        device, states=tuple(replace(s, busy=long) if s.name in (names or (s.name,)) else s for s in device.states)
    )


def _in_interrupt(device: Device, queue: int, *names: str) -> Device:
    """Buttons that are read in an interrupt, all of them or those of these names, and a queue."""
    buttons = (
        replace(b, claims=replace(b.claims, read_in="interrupt")) if b.name in (names or (b.name,)) else b
        for b in device.buttons
    )
    return replace(device, buttons=tuple(buttons), queue=queue)


def _read_asleep(device: Device, steps: tuple[str, ...], late_unseen: bool) -> Device:
    """Another way of going to sleep in each state that sleeps."""
    states = (
        s if s.sleep is None else replace(s, sleep=replace(s.sleep, steps=steps, late_unseen=late_unseen))
        for s in device.states
    )
    return replace(device, states=tuple(states))


def _oddly(steps: str, night: str, waking: str = "armed", pad: str = _QUICK_PAD) -> Device:
    """Two states that go to sleep in their own ways, and know that they woke."""
    rest = _ODD_SLEEPS.replace("STEPS", steps).replace("NIGHT", night).replace("WAKING", waking)
    return _lamp("", pad=pad, gestures=_TAP_OR_HOLD, rest=rest)


_LOCKOUT: Final = "pad: {bounce: up to 8 ms, lockout: 21.3 to 30.1 ms, edges apart: at least 100 us}"
_SHORT_LOCKOUT: Final = "pad: {bounce: up to 8 ms, lockout: 3.3 to 6.1 ms, edges apart: at least 100 us}"
_SAMPLED: Final = "pad: {bounce: up to 8 ms, samples: 4 every 4.9 to 5.3 ms, edges apart: at least 100 us}"
_SAMPLED_ONCE: Final = "pad: {bounce: up to 1 ms, samples: 1 every 7 ms, edges apart: at least 40 us}"

_PAIR: Final = (("pad", "side"),)
_QUICK: Final = Span(50 * MS, 60 * MS)
_ON_CLOCK: Final = "clock: {off by: 7 %, drift: one clock}"
_EXACT: Final = """
  tap:           {taps: 1, press: up to 400 ms}
  two taps:      {taps: 2, press: up to 400 ms, between: up to 261 ms}
  three taps:    {taps: 3, press: up to 310 ms, between: up to 231 ms}
  hold:          {held: 1.2 s}
  tap then hold: {taps: 1, then held: 410 ms, press: up to 399 ms, between: up to 261 ms}"""
_EXACT_LAMP: Final = re.sub(r"(?<=after )([0-9.]+) to [0-9.]+ s", r"\1 s", _LAMP)

_STOPPING: Final = """
initial: stowed
states:
  stowed:
    transitions: {tap: {next: beam}, two taps: {previous: beam}, hold: glowing,
      after 500 to 700 ms: {if: beam is blink, to: glowing}}
  glowing:
    transitions: {tap: {previous: beam}, two taps: {next: beam}, hold: stowed,
      after 800 to 900 ms: {if: beam is low, to: stowed}}
"""
_STOPPING_VALUES: Final = "\n  beam: {values: [low, high, blink], at the ends: stop}"

ON_EDGE: Final = _lamp(_ON_EDGE)
ON_LEVEL: Final = _lamp(_ON_LEVEL, gestures=_PRESS_TO_PRESS)
ALL: Final = {
    "sleeps on edge": ON_EDGE,
    "sleeps on level, press to press": ON_LEVEL,
    "sleeps on level, slow steps": _lamp(_ON_LEVEL.replace("7 ms", "50 ms"), gestures=_PRESS_TO_PRESS),
    "quick reader": _lamp(_ON_EDGE.replace("9 ms", "30 ms"), pad=_QUICK_PAD, gestures=_PRESS_TO_PRESS),
    "never sleeps": _lamp("", gestures=_NO_PAUSE, rest=_TORCH),
    "two buttons": _two_buttons(ON_EDGE),
    "two buttons, level": _two_buttons(ON_LEVEL),
    "an idle button, slow steps": _idle_button(_lamp(_ON_EDGE.replace("9 ms", "60 ms"))),
    "cells": _with_power(ON_EDGE, "none", ("state", "beam", "warmth"), None, True),
    "cells of values, quiet": _with_power(ON_LEVEL, "none", ("warmth", "beam"), Span(100 * MS, 130 * MS), False),
    "checksum": _with_power(ON_LEVEL, "checksum", ("beam", "state"), None, False),
    "checksum, never sleeps": _with_power(
        _lamp("", gestures=_NO_PAUSE, rest=_TORCH), "checksum", ("state", "warmth"), Span(70 * MS, 90 * MS), True
    ),
    "two copies": _with_power(_two_buttons(ON_EDGE), "two copies", ("state", "beam", "warmth"), None, False),
    "two copies, never sleeps": _with_power(
        _lamp("", gestures=_PRESS_TO_PRESS, rest=_LAMP), "two copies", ("beam", "state"), Span(20 * MS, 250 * MS), True
    ),
    "no memory": replace(_with_power(ON_EDGE, "none", ("state",), None, True), memory=None),
    "events": _eventful("doze"),
    "events, deep sleep": _eventful("deep", _QUICK_PAD, "glowing"),
    "events, deaf writes": deaf(_with_power(_eventful("doze"), "two copies", ("state", "beam"), None, True)),
    "events, deaf writes of cells": deaf(
        _with_power(_eventful("doze", _QUICK_PAD), "none", ("state", "warmth", "beam"), Span(100 * MS, 130 * MS), False)
    ),
    "in an interrupt": _in_interrupt(_busy(ON_EDGE), 2),
    "in an interrupt, never asleep": _in_interrupt(_busy(_lamp("", gestures=_NO_PAUSE, rest=_TORCH)), 1),
    "in an interrupt, never asleep, room for three": _in_interrupt(
        _busy(_lamp("", gestures=_NO_PAUSE, rest=_TORCH)), 3
    ),
    "in an interrupt, events": _in_interrupt(_eventful("doze", _QUICK_PAD), 3),
    "in an interrupt, one of two buttons": _in_interrupt(_busy(_two_buttons(ON_LEVEL)), 2, "side"),
    "in an interrupt, one of two buttons, lockout": _in_interrupt(
        _busy(_two_buttons(_lamp(_ON_EDGE, pad=_LOCKOUT))), 2, "side"
    ),
    "in an interrupt, two buttons, lockout, deaf writes": _in_interrupt(
        deaf(_with_power(_two_buttons(_lamp(_ON_EDGE, pad=_LOCKOUT)), "none", ("state", "beam"), None, False)), 2
    ),
    "in an interrupt, samples, press begins anew": _in_interrupt(
        claiming(_busy(_lamp(_ON_EDGE, pad=_SAMPLED, gestures=_HOLDS, rest=_HELD_LAMP)), new_state="begins it anew"), 2
    ),
    "in an interrupt, taps outlast sleep": _in_interrupt(
        _busy(_lamp(_OUTLASTING, gestures=_COUNTS, rest=_COUNTING)), 4
    ),
    "in an interrupt, counts from waking, no check": _in_interrupt(
        deaf(
            _with_power(
                _lamp(
                    _ON_EDGE.replace("ready in:", "press counts from: waking, steps: [clear, sleep], ready in:"),
                    gestures=_HOLDS,
                    rest=_HELD_LAMP,
                ),
                *("checksum", ("state", "beam"), Span(60 * MS, 80 * MS), False),
            )
        ),
        2,
    ),
    "in an interrupt, supervised": _in_interrupt(
        supervised(
            _busy(_with_power(_lamp("", gestures=_NO_PAUSE, rest=_TORCH), "two copies", ("state", "beam"), None, True)),
            *(False, Span(900 * MS, 1_250 * MS)),
        ),
        2,
    ),
    "latch": _latched(ON_EDGE, Span(0, 30 * MS)),
    "latch, cells, press counts": _latched(
        _with_power(ON_LEVEL, "none", ("warmth", "beam"), None, False), Span(1 * MS, 400 * MS)
    ),
    "cut off": _cut_off(_with_power(ON_EDGE, "none", ("state", "beam", "warmth"), None, True)),
    "cut off, press counts": _cut_off(
        _with_power(_two_buttons(ON_LEVEL), "checksum", ("beam", "state"), Span(100 * MS, 130 * MS), False)
    ),
    "cut off, latch": _cut_off(_latched(ON_EDGE, Span(0, 30 * MS))),
    "cut off by another key than the latch's": _cut_off(
        _latched(_with_power(_two_buttons(ON_EDGE), "two copies", ("beam", "state"), None, False), Span(0, 30 * MS)),
        "side",
    ),
    "supervised in sleep": supervised(
        _with_power(_lamp(_ON_EDGE.replace("9 ms", "60 ms")), "none", ("state", "beam", "warmth"), None, False), True
    ),
    "supervised, busy": supervised(
        deaf(_with_power(_eventful("doze", _QUICK_PAD), "two copies", ("state", "beam"), None, True)), False
    ),
    "supervised in sleep, busy": supervised(
        _cut_off(_with_power(_eventful("doze"), "none", ("beam",), None, True)), True
    ),
    "causes cleared": _starting_by(
        _cut_off(_with_power(ON_EDGE, "none", ("beam", "warmth"), None, True)), "cut-off", "cell"
    ),
    "causes left": _starting_by(
        _cut_off(_with_power(_two_buttons(ON_LEVEL), "two copies", ("beam",), None, False)),
        "cut-off",
        "cell",
        left=True,
    ),
    "causes of three kinds": _starting_by(
        supervised(_cut_off(_with_power(_eventful("doze"), "none", ("beam",), None, True)), True),
        *("cell", "supervisor", "cut-off"),
    ),
    "causes left of three kinds": _starting_by(
        supervised(_cut_off(_with_power(_eventful("doze"), "checksum", ("beam",), None, True)), True),
        *("supervisor", "cut-off", "cell"),
        left=True,
    ),
    "causes, latch": _starting_by(
        _cut_off(
            _latched(_with_power(_two_buttons(ON_EDGE), "two copies", ("beam",), None, False), Span(0, 30 * MS)), "side"
        ),
        *("cut-off", "cell"),
    ),
    "RAM with a marker": with_ram(
        _cut_off(_with_power(ON_EDGE, "two copies", ("state", "beam"), Span(500 * MS, 600 * MS), True)),
        ("warmth", "state"),
        is_checked=False,
    ),
    "RAM with a checksum": with_ram(
        supervised(_with_power(_two_buttons(ON_LEVEL), "none", ("beam", "warmth"), None, False), True),
        ("beam", "state"),
        is_checked=True,
    ),
    "RAM, latch": with_ram(_latched(ON_EDGE, Span(0, 30 * MS)), ("warmth",), is_checked=False),
    "RAM and no memory": with_ram(
        replace(_with_power(ON_EDGE, "none", ("state",), None, True), memory=None), ("state", "beam"), is_checked=True
    ),
    "several holds": _lamp(_ON_EDGE, gestures=_HOLDS, rest=_HELD_LAMP),
    "several holds, cells": _with_power(
        _lamp(_ON_LEVEL, gestures=_HOLDS, rest=_HELD_LAMP), "none", ("state", "beam", "warmth"), None, True
    ),
    "holds at release": _lamp("", gestures=_HOLDS_FROM_PRESS, rest=_FLASHER),
    "taps swallowed": _lamp(
        _ON_EDGE.replace("up to 9 ms", "up to 9 ms, ignores a held button after: 150 to 400 ms"),
        pad=_STEADY_PAD.replace("EXTRA", "swallowed"),
        gestures=_COUNTS,
        rest=_COUNTING,
    ),
    "taps that count": _lamp(
        _ON_EDGE, pad=_STEADY_PAD.replace("EXTRA", "count as the largest"), gestures=_COUNTS, rest=_COUNTING
    ),
    "groups": _groups(_ON_EDGE),
    "groups, never asleep": _groups(),
    "groups, cells": _with_power(_groups(_ON_EDGE), "none", ("left", "state", "pace"), None, True),
    "groups, cells of values": _with_power(_groups(), "none", ("warmth", "left"), Span(80 * MS, 90 * MS), False),
    "groups, two copies": _with_power(
        _groups(_ON_LEVEL, "stowed"), "two copies", ("state", "left", "beam"), Span(300 * MS, 320 * MS), False
    ),
    "lockout": _lamp(_ON_EDGE, pad=_LOCKOUT),
    "lockout, level, slow steps": _two_buttons(_lamp(_ON_LEVEL.replace("7 ms", "50 ms"), pad=_LOCKOUT)),
    "lockout shorter than the chatter": _lamp("", pad=_SHORT_LOCKOUT, gestures=_PRESS_TO_PRESS),
    "the clock comes round": by_moments(_lamp(_ON_EDGE, pad=_LOCKOUT)),
    "the clock comes round, two buttons": by_moments(_two_buttons(_lamp("", pad=_SHORT_LOCKOUT))),
    "the clock comes round, checksum": by_moments(
        _with_power(_lamp(_ON_LEVEL, pad=_LOCKOUT), "checksum", ("beam", "state"), None, False)
    ),
    "the clock comes round, deaf, waits for an edge": by_moments(
        claiming(
            deaf(_with_power(_lamp(_ON_EDGE, pad=_SHORT_LOCKOUT), "none", ("state", "beam"), None, False)),
            listens_again="waits for an edge",
        )
    ),
    "lockout, checksum": _with_power(_lamp(_ON_LEVEL, pad=_LOCKOUT), "checksum", ("beam", "state"), None, False),
    "samples": _lamp(_ON_EDGE, pad=_SAMPLED),
    "samples, slow steps": _two_buttons(_lamp(_ON_EDGE.replace("9 ms", "60 ms"), pad=_SAMPLED)),
    "one sample": _lamp("", pad=_SAMPLED_ONCE, gestures=_NO_PAUSE, rest=_TORCH),
    "samples, two copies": _with_power(
        _lamp(_ON_EDGE, pad=_SAMPLED), "two copies", ("state", "beam", "warmth"), None, True
    ),
    "two buttons, one rubbed, slow steps": _read_otherwise(
        _rubbed(_two_buttons(_lamp(_ON_EDGE.replace("9 ms", "60 ms")))),
        side=Button("side", 3 * MS, None, 50, ON_EDGE.at, lockout=Span(9 * MS, 25 * MS)),
    ),
    "an idle sampled button, slow steps": _read_otherwise(
        _idle_button(_lamp(_ON_EDGE.replace("9 ms", "60 ms"))),
        side=Button("side", 3 * MS, None, 50, ON_EDGE.at, samples=Samples(3, Span(4 * MS, 5 * MS))),
    ),
    "an idle button with a lockout, slow steps": _read_otherwise(
        _idle_button(_lamp(_ON_EDGE.replace("9 ms", "60 ms"))),
        side=Button("side", 3 * MS, None, 50, ON_EDGE.at, lockout=Span(20 * MS, 25 * MS)),
    ),
    "a chord": with_chords(_two_buttons(ON_EDGE), _PAIR, None, _QUICK),
    "a chord, taps at their press": _at_their_press(with_chords(_two_buttons(ON_EDGE), _PAIR, None, _QUICK)),
    "a chord held": with_chords(_two_buttons(_lamp("")), _PAIR, Span(300 * MS, 320 * MS), _QUICK),
    "a slow chord": with_chords(
        _add_side(_lamp("", gestures=_NO_PAUSE, rest=_BLINKING)), _PAIR, None, Span(1300 * MS, 1400 * MS)
    ),
    "a chord in sleep, slow steps": with_chords(
        _two_buttons(_lamp(_ON_EDGE.replace("9 ms", "60 ms"))), _PAIR, None, _QUICK
    ),
    "two chords of three buttons": with_chords(
        _third(_two_buttons(_lamp("", gestures=_PRESS_TO_PRESS))),
        (("side", "rim"), ("pad", "rim")),
        Span(200 * MS, 220 * MS),
        _QUICK,
    ),
    "a chord, two copies": _with_power(
        with_chords(_two_buttons(_lamp(_ON_LEVEL, pad=_LOCKOUT)), _PAIR, None, _QUICK),
        "two copies",
        ("state", "beam"),
        None,
        False,
    ),
    "a chord while memory is written, deaf": deaf(
        _with_power(
            with_chords(_two_buttons(_lamp(_ON_EDGE)), _PAIR, Span(100 * MS, 120 * MS), _QUICK),
            "none",
            ("state", "beam", "warmth"),
            None,
            False,
        )
    ),
    "a chord, releases are taps": _giving_back(with_chords(_two_buttons(ON_EDGE), _PAIR, None, _QUICK)),
    "a chord held, releases are taps": _giving_back(
        with_chords(_two_buttons(_lamp("")), _PAIR, Span(100 * MS, 120 * MS), _QUICK)
    ),
    "a chord, releases are taps, waking press leaves a mark": _giving_back(
        with_chords(
            claiming(_two_buttons(ON_EDGE), new_state="keeps the press", waking="no tap until one came"),
            _PAIR,
            None,
            _QUICK,
        )
    ),
    "two may fit": claiming(_lamp(_ON_EDGE, _fitting(_PAD), _BANDS, _BANDED), two_fit="the first in the file"),
    "two may fit, press is kept": claiming(
        _lamp("", _fitting(_PAD), _BANDS, _BANDED), two_fit="the first in the file", new_state="keeps the press"
    ),
    "two may fit, waking press leaves a mark": claiming(
        _lamp(_ON_LEVEL, _fitting(_LOCKOUT), _BANDS, _BANDED),
        two_fit="the first in the file",
        waking="no tap until one came",
        new_state="begins it anew",
    ),
    "two may fit, counts from waking": _lamp(
        _ON_EDGE.replace("ready in: 1 to 3 ms", "ready in: 50 to 300 ms, press counts from: waking"),
        _fitting(_PAD),
        _BANDS,
        _BANDED,
    ),
    "press comes round": _comes_round(_lamp(_ON_EDGE, _PAD, _LATE.replace(" BETWEEN", ""), _LATE_LAMP)),
    "press comes round, is kept": _comes_round(
        _lamp(
            "",
            _fitting(_PAD),
            _BANDS,
            _BANDED.replace("tap: {next: warmth}}\n", "tap: {next: warmth}, after 1 to 1.6 s: armed}\n"),
        ),
        two_fit="the first in the file",
        new_state="keeps the press",
    ),
    "press comes round, begins anew, waking press": _comes_round(
        _lamp(_ON_LEVEL, _LOCKOUT, _LATE.replace(" BETWEEN", ""), _LATE_LAMP),
        waking="no tap until one came",
        new_state="begins it anew",
    ),
    "press comes round, taps outlast sleep": _comes_round(
        _lamp(_OUTLASTING, _PAD, _LATE.replace(" BETWEEN", " from press to press"), _LATE_LAMP)
    ),
    "press comes round, counts from waking, ignored": _comes_round(
        _lamp(
            _ON_EDGE.replace(
                "ready in: 1 to 3 ms",
                "ready in: 50 to 300 ms, press counts from: waking, ignores a held button after: 600 ms",
            ),
            _PAD,
            _LATE.replace(" BETWEEN", ""),
            _LATE_LAMP,
        )
    ),
    "press comes round, a chord, releases are taps": _comes_round(
        _giving_back(
            with_chords(
                _two_buttons(_lamp(_ON_EDGE, _PAD, _LATE.replace(" BETWEEN", ""), _LATE_LAMP)), _PAIR, None, _QUICK
            )
        )
    ),
    "press comes round, cells": _comes_round(
        _with_power(
            _lamp(_ON_EDGE, _PAD, _LATE.replace(" BETWEEN", ""), _LATE_LAMP), "none", ("state", "beam"), None, False
        )
    ),
    "one value of each time": _lamp(
        _per_unit(_ON_EDGE), pad=_per_unit(_PAD), gestures=_per_unit(_GESTURES), rest=_per_unit(_LAMP)
    ),
    "one value of each time, several holds": _lamp(
        _per_unit(_ON_LEVEL), pad=_per_unit(_PAD), gestures=_per_unit(_HOLDS), rest=_per_unit(_HELD_LAMP)
    ),
    "one clock, sleeps on edge": _lamp(_ON_EDGE, gestures=_EXACT, rest=_ON_CLOCK + _EXACT_LAMP),
    "one clock and one value": _with_power(
        _lamp(_per_unit(_ON_LEVEL), pad=_per_unit(_PAD), gestures=_EXACT, rest=_ON_CLOCK + _EXACT_LAMP),
        "two copies",
        ("beam", "state"),
        None,
        True,
    ),
    "taps that don't wait": _early(
        _lamp(_ON_EDGE), {"tap": "release", "two taps": "press", "tap then hold": "release"}
    ),
    "taps at the press, never asleep": _early(
        _lamp("", gestures=_PRESS_TO_PRESS), {"tap": "press", "three taps": "release"}
    ),
    "holds and taps at once": _early(_lamp(_ON_LEVEL, gestures=_HOLDS, rest=_HELD_LAMP), {"hold then tap": "press"}),
    "release is a tap": claiming(_lamp(_ON_EDGE, gestures=_HOLDS, rest=_HELD_LAMP), after_hold="a tap"),
    "release is a tap, never asleep": claiming(_two_buttons(_lamp("")), after_hold="a tap"),
    "release of what repeats is a tap": claiming(_lamp(_ON_EDGE, gestures=_COUNTS, rest=_COUNTING), after_hold="a tap"),
    "press begins anew": claiming(_lamp(_ON_EDGE, gestures=_HOLDS, rest=_HELD_LAMP), new_state="begins it anew"),
    "press begins anew, never asleep": claiming(_early(_lamp(""), {"tap": "press"}), new_state="begins it anew"),
    "press is kept": claiming(_lamp(_ON_EDGE, gestures=_HOLDS, rest=_HELD_LAMP), new_state="keeps the press"),
    "press is kept, never asleep": claiming(
        _lamp("", gestures=_PRESS_TO_PRESS), new_state="keeps the press", after_hold="a tap"
    ),
    "holds of any press": claiming(_two_buttons(_lamp("")), hold_from="any press"),
    "holds of any press, several": claiming(
        _third(_two_buttons(_lamp("", gestures=_HOLDS, rest=_HELD_LAMP))), hold_from="any press"
    ),
    "waking press is no tap": claiming(_lamp(_ON_EDGE), waking="no tap"),
    "waking press leaves a mark": claiming(
        _early(_lamp(_ON_LEVEL), {"two taps": "press"}), waking="no tap until one came", after_hold="a tap"
    ),
    "waking press, cells": claiming(
        _with_power(_lamp(_ON_EDGE), "none", ("state", "beam"), None, False), waking="no tap until one came"
    ),
    "waits for an edge": claiming(_lamp(_ON_EDGE), listens_again="waits for an edge"),
    "waits for an edge, lockout, deaf": claiming(
        deaf(_with_power(_lamp(_ON_EDGE, pad=_LOCKOUT), "checksum", ("state", "beam"), None, False)),
        listens_again="waits for an edge",
    ),
    "counts from waking, no tap, taps at the press": claiming(
        _early(
            _lamp(
                _ON_EDGE.replace("ready in:", "press counts from: waking, ready in:"), gestures=_HOLDS, rest=_HELD_LAMP
            ),
            {"tap": "press"},
        ),
        waking="no tap until one came",
        after_hold="a tap",
    ),
    "taps outlast sleep": _lamp(_OUTLASTING, gestures=_COUNTS, rest=_COUNTING),
    "taps outlast sleep, level, press to press": _lamp(
        _OUTLASTING.replace("edge", "level"), gestures=_PRESS_TO_PRESS, rest=_LAMP_OF_PAIRS
    ),
    "taps begin anew at waking": _lamp(
        _OUTLASTING.replace("outlast sleep", "begin anew at waking"), gestures=_PRESS_TO_PRESS, rest=_LAMP_OF_PAIRS
    ),
    "taps go on at waking": _in_ticks(
        _lamp(_BEGINNING_ANEW, gestures=_COUNTS, rest=_COUNTING), Ticks(Span(20 * MS, 20 * MS))
    ),
    "taps go on at waking, a clock in sleep": _in_ticks(
        _lamp(_BEGINNING_ANEW.replace("edge", "level"), rest=_LAMP_OF_PAIRS),
        Ticks(Span(9_800, 10_300), Span(98 * MS, 103 * MS), 10),
    ),
    "taps go on at waking, count from waking, cells": _in_ticks(
        _with_power(
            _lamp(_BEGINNING_ANEW.replace("ready in", "press counts from: waking, ready in"), rest=_LAMP_OF_PAIRS),
            *("none", ("state", "beam"), None, False),
        ),
        Ticks(Span(30 * MS, 31 * MS), Span(30 * MS, 31 * MS), 1),
    ),
    "taps go on at waking, or begin anew, no tap": claiming(
        _in_ticks(
            _lamp(_BEGINNING_ANEW, pad=_LOCKOUT, rest=_LAMP_OF_PAIRS),
            Ticks(Span(7 * MS, 7 * MS), Span(70 * MS, 71 * MS), 10),
            "stowed",
        ),
        waking="no tap",
    ),
    "taps outlast sleep and count from waking": _lamp(
        _OUTLASTING.replace("ready in: 1 to 3 ms", "press counts from: waking, ready in: 1 to 30 ms"),
        gestures=_PRESS_TO_PRESS,
        rest=_LAMP_OF_PAIRS,
    ),
    "taps outlast sleep, waking press is no tap": claiming(
        _lamp(_OUTLASTING, gestures=_PRESS_TO_PRESS, rest=_LAMP_OF_PAIRS), waking="no tap until one came"
    ),
    "elapsed time comes round": replace(
        _lamp(_OUTLASTING, gestures=_PRESS_TO_PRESS, rest=_LAMP_OF_PAIRS), elapsed=Span(700 * MS, 720 * MS)
    ),
    "elapsed time comes round, lockout, cells": replace(
        _with_power(
            _lamp(_OUTLASTING, pad=_LOCKOUT, gestures=_COUNTS, rest=_COUNTING), "none", ("state", "beam"), None, False
        ),
        elapsed=Span(900 * MS, 910 * MS),
    ),
    "counts from power on": _from_power(
        _with_power(_lamp(_ON_EDGE, gestures=_HOLDS, rest=_HELD_LAMP), "none", ("state", "beam"), None, False),
        Span(200 * MS, 700 * MS),
    ),
    "counts from power on, latch, cut off": _from_power(
        _cut_off(
            _latched(
                _with_power(
                    _lamp("", pad=_QUICK_PAD, gestures=_BLIND, rest=_BLIND_LAMP), "checksum", ("beam",), None, False
                ),
                Span(0, 30 * MS),
            )
        ),
        Span(100 * MS, 700 * MS),
    ),
    "counts from power on, two buttons, press to press": _from_power(
        _early(
            supervised(
                _with_power(
                    _two_buttons(_lamp(_ON_LEVEL, gestures=_PRESS_TO_PRESS)), "two copies", ("state",), None, False
                ),
                True,
            ),
            {"tap": "press", "three taps": "release"},
        ),
        Span(100 * MS, 400 * MS),
    ),
    "counts from power on and from waking, lockout": _from_power(
        _with_power(
            _lamp("", pad=_SHORT_LOCKOUT, gestures=_BLIND, rest=_BLIND_SLEEP.replace("armed", "glowing")),
            *("none", ("state", "beam"), None, False),
        ),
        Span(100 * MS, 600 * MS),
    ),
    "stops at the ends, quiet": _with_power(
        _lamp("", rest=_STOPPING, values=_STOPPING_VALUES), "none", ("beam", "state"), Span(300 * MS, 320 * MS), False
    ),
    "slow steps": _lamp("", pad=_QUICK_PAD, gestures=_TAP_OR_HOLD, rest=_ONE_SLEEP),
    "slow steps, two sleeping states": _lamp("", pad=_QUICK_PAD, gestures=_TAP_OR_HOLD, rest=_TWO_SLEEPS),
    "old flags": _oddly("steps: [arm, check, sleep]", "steps: [check, arm, clear, sleep]"),
    "old flags, unseen": _oddly("steps: [check, sleep], late edge: goes unseen", "steps: [sleep]", "{next: warmth}"),
    "late edges unseen": _oddly("late edge: goes unseen", "steps: [clear, sleep], late edge: goes unseen"),
    "unarmed edges are lost": _dropping(_oddly("steps: [check, arm, sleep]", "steps: [clear, check, arm, sleep]")),
    "unarmed edges are lost, or armed for good": _dropping(
        _oddly("steps: [clear, check, sleep]", "steps: [arm, clear, check, sleep]", "{next: warmth}")
    ),
    "events, unarmed ones are lost": _dropping(
        _read_asleep(_eventful("doze", _QUICK_PAD), ("check", "clear", "arm", "sleep"), False)
    ),
    "never armed anew": _oddly("steps: [clear, arm, sleep]", "steps: [clear, check, sleep]", "{next: warmth}"),
    "events, waking": _eventful("doze", _QUICK_PAD, waking=", waking: glowing"),
    "events, old flags": _read_asleep(_eventful("doze"), ("arm", "check", "sleep"), False),
    "events, unseen": _read_asleep(_eventful("doze", _QUICK_PAD), ("check", "clear", "sleep"), True),
    "counts from waking": _lamp("", pad=_QUICK_PAD, gestures=_BLIND, rest=_BLIND_SLEEP),
    "counts from waking, lockout": _lamp("", pad=_SHORT_LOCKOUT, gestures=_BLIND, rest=_BLIND_SLEEP),
    "counts from waking, cells": _with_power(
        _lamp("", pad=_PAD, gestures=_BLIND, rest=_BLIND_SLEEP.replace("armed", "glowing")),
        "none",
        ("state", "beam"),
        None,
        True,
    ),
    "switched off": _switched_off(
        _with_power(ON_EDGE, "two copies", ("beam", "warmth"), None, True), ("pad",), Span(0, 0), "tap"
    ),
    "switched off, cells, press counts": _switched_off(
        _with_power(ON_LEVEL, "none", ("state", "beam"), None, False), ("pad",), Span(5 * MS, 40 * MS)
    ),
    "switched off, on by either button": _switched_off(
        _with_power(_two_buttons(ON_EDGE), "checksum", ("beam",), None, True), ("pad", "side"), Span(30 * MS, 60 * MS)
    ),
    "switched off, causes, RAM, two buttons": with_ram(
        _starting_by(
            _switched_off(
                _with_power(_two_buttons(ON_EDGE), "none", ("beam", "warmth"), None, True), ("side",), Span(0, 20 * MS)
            ),
            *("cut-off", "cell"),
        ),
        ("beam", "warmth"),
        False,
    ),
    "checksum, erases first": _erases(
        _with_power(
            _lamp("", gestures=_NO_PAUSE, rest=_TORCH), "checksum", ("state", "warmth"), Span(70 * MS, 90 * MS), True
        )
    ),
}
