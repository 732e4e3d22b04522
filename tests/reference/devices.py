"""Devices for the comparison; between them they use every rule of the reference page."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import (
    Button,
    Chord,
    Device,
    Disturbance,
    Gesture,
    Memory,
    Outage,
    PowerUp,
    Samples,
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


def _lamp(sleep: str, pad: str = _PAD, gestures: str = _GESTURES, rest: str = _LAMP) -> Device:
    text = f"spec: 1\ndevice: lamp\nbuttons:\n  {pad}\ngestures:{gestures}\n"
    text += "variables:\n  beam: [low, high, blink]\n  warmth: [warm, cold]\n" + rest + _SURROUNDINGS
    return read_device(text.replace("SLEEP", sleep), "lamp.yaml")


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


def _read_otherwise(device: Device, **readers: Button) -> Device:
    return replace(device, buttons=tuple(readers.get(button.name, button) for button in device.buttons))


def _with_chords(device: Device, pairs: tuple[tuple[str, str], ...], held: Span | None, within: Span) -> Device:
    """A device of two buttons or more with these chords, the first of them `held`."""
    at = device.at
    chords = tuple(
        Gesture(f"{one} and {two}", "", 0, None, None, False, None if i else held, at, chord=Chord((one, two), within))
        for i, (one, two) in enumerate(pairs)
    )
    leads = (None, "glowing", "stowed")
    states = []
    for i, state in enumerate(device.states):
        extra = tuple(Transition(c.name, leads[(i + j) % 3], ("warmth",), False, at) for j, c in enumerate(chords))
        states.append(replace(state, transitions=(*state.transitions, *(extra[1:] if i == 1 else extra))))
    return replace(device, gestures=(*device.gestures, *chords), states=tuple(states))


def _third(device: Device) -> Device:
    """A third button, that has no gesture of its own."""
    third = Button("rim", 2 * MS, None, 50, device.at, lockout=Span(10 * MS, 14 * MS))
    return replace(device, buttons=(*device.buttons, third))


_ON_EDGE: Final = (
    "sleep: {woken by: [pad], on: edge, ready in: 1 to 3 ms, dozes again after: 40 to 60 ms, each step: up to 9 ms}"
)
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
    sleep: {woken by: [pad], on: edge, ready in: 1 to 3 ms, dozes again after: 20 to 50 ms, each step: up to 60 ms}
    transitions: {tap: armed, hold: night}
  night:
    sleep: {woken by: [pad], on: level, ready in: 2 to 5 ms, dozes again after: 30 to 40 ms, each step: up to 80 ms}
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

_LOCKOUT: Final = "pad: {bounce: up to 8 ms, lockout: 21.3 to 30.1 ms, edges apart: at least 100 us}"
_SHORT_LOCKOUT: Final = "pad: {bounce: up to 8 ms, lockout: 3.3 to 6.1 ms, edges apart: at least 100 us}"
_SAMPLED: Final = "pad: {bounce: up to 8 ms, samples: 4 every 4.9 to 5.3 ms, edges apart: at least 100 us}"
_SAMPLED_ONCE: Final = "pad: {bounce: up to 1 ms, samples: 1 every 7 ms, edges apart: at least 40 us}"

_PAIR: Final = (("pad", "side"),)
_QUICK: Final = Span(50 * MS, 60 * MS)

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
    "lockout": _lamp(_ON_EDGE, pad=_LOCKOUT),
    "lockout, level, slow steps": _two_buttons(_lamp(_ON_LEVEL.replace("7 ms", "50 ms"), pad=_LOCKOUT)),
    "lockout shorter than the chatter": _lamp("", pad=_SHORT_LOCKOUT, gestures=_PRESS_TO_PRESS),
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
    "a chord": _with_chords(_two_buttons(ON_EDGE), _PAIR, None, _QUICK),
    "a chord held": _with_chords(_two_buttons(_lamp("")), _PAIR, Span(300 * MS, 320 * MS), _QUICK),
    "a slow chord": _with_chords(
        _add_side(_lamp("", gestures=_NO_PAUSE, rest=_BLINKING)), _PAIR, None, Span(1300 * MS, 1400 * MS)
    ),
    "a chord in sleep, slow steps": _with_chords(
        _two_buttons(_lamp(_ON_EDGE.replace("9 ms", "60 ms"))), _PAIR, None, _QUICK
    ),
    "two chords of three buttons": _with_chords(
        _third(_two_buttons(_lamp("", gestures=_PRESS_TO_PRESS))),
        (("side", "rim"), ("pad", "rim")),
        Span(200 * MS, 220 * MS),
        _QUICK,
    ),
    "a chord, two copies": _with_power(
        _with_chords(_two_buttons(_lamp(_ON_LEVEL, pad=_LOCKOUT)), _PAIR, None, _QUICK),
        "two copies",
        ("state", "beam"),
        None,
        False,
    ),
    "slow steps": _lamp("", pad=_QUICK_PAD, gestures=_TAP_OR_HOLD, rest=_ONE_SLEEP),
    "slow steps, two sleeping states": _lamp("", pad=_QUICK_PAD, gestures=_TAP_OR_HOLD, rest=_TWO_SLEEPS),
}
