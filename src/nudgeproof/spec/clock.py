"""The firmware's clock: how far it may be off, and what that makes of the times the firmware counts.

A clock that runs fast by a share p makes a counted time T last T/(1+p), one that runs slow T/(1-p).
"""

from __future__ import annotations

import math
from dataclasses import replace
from fractions import Fraction
from typing import Final

from nudgeproof.spec.fields import Found, describe, place_value, read_mapping, sort_keys
from nudgeproof.spec.nodes import Words
from nudgeproof.spec.notes import Notes, show
from nudgeproof.spec.types import Button, Device, Gesture, Memory, State, Timeout
from nudgeproof.units import FOREVER, NotAQuantity, Span, read_share

MOST_OFF: Final = Fraction(20, 100)

_EXAMPLE: Final = "off by: 5 %"
_MEANING: Final = "it is how far the clock of the firmware may run too fast or too slow"


def read_clock(found: Found, notes: Notes) -> Fraction:
    """The section `clock`: the share by which the frequency may be off, 0 after a problem."""
    mapping = read_mapping(found, "`clock`", f"clock: {{{_EXAMPLE}}}", notes)
    if mapping is None:
        return Fraction(0)
    keys = sort_keys(mapping, found.key.place, "`clock`", ("off by",), (), notes)
    off_by = keys.require("off by", "`clock`", _MEANING, f"write `{_EXAMPLE}`", notes)
    return Fraction(0) if off_by is None else _read_off_by(off_by, notes)


def _read_off_by(found: Found, notes: Notes) -> Fraction:
    subject, at, value = "`off by` of `clock`", place_value(found), found.value
    if not isinstance(value, Words) or not value.text.strip() or value.block:
        what = "a block of text" if isinstance(value, Words) and value.block else describe(value)
        notes.complain(at, f"{subject} is {what}", _MEANING, f"write `{_EXAMPLE}`")
        return Fraction(0)
    try:
        off_by = read_share(value.text)
    except NotAQuantity as error:
        notes.complain(at, f"{subject}: {show(str(error), 120)}", _MEANING, show(error.cure, 120))
        return Fraction(0)
    if off_by > MOST_OFF:
        why = "no clock that a button is timed with is off that far"
        cure = f"write {int(MOST_OFF * 100)} % or less"
        notes.complain(at, f"{subject}: `{show(value.text)}` is too much", why, cure)
        return Fraction(0)
    return off_by


def widen(device: Device, off_by: Fraction) -> Device:
    """The device with each time that its firmware counts as wide as the clock makes it; 0 <= `off_by` < 1.

    Times of hardware, people and surroundings stay as they are.
    """
    return replace(
        device,
        buttons=tuple(_widen_button(button, off_by) for button in device.buttons),
        gestures=tuple(widen_gesture(gesture, off_by) for gesture in device.gestures),
        states=tuple(_widen_state(state, off_by) for state in device.states),
        memory=None if device.memory is None else _widen_memory(device.memory, off_by),
        cell=None if device.cell is None else replace(device.cell, every=widen_span(device.cell.every, off_by)),
    )


def widen_span(span: Span, off_by: Fraction) -> Span:
    """The real time, rounded outward, that a counted time in `span` may take; 0 <= `off_by` < 1.

    A span that is wider than a rounding to microseconds has a tolerance of its own: that one holds, and it is returned.
    """
    if span.hi == FOREVER or span.hi - span.lo > 1:
        return span
    return Span(math.floor(span.lo / (1 + off_by)), math.ceil(Fraction(int(span.hi)) / (1 - off_by)))


def _widen_any(span: Span | None, off_by: Fraction) -> Span | None:
    return None if span is None else widen_span(span, off_by)


def _widen_button(button: Button, off_by: Fraction) -> Button:
    samples = button.samples
    return replace(
        button,
        debounce=_widen_any(button.debounce, off_by),
        lockout=_widen_any(button.lockout, off_by),
        samples=None if samples is None else replace(samples, every=widen_span(samples.every, off_by)),
    )


def widen_gesture(gesture: Gesture, off_by: Fraction) -> Gesture:
    """The gesture with its times as wide as the clock makes them; 0 <= `off_by` < 1."""
    chord = gesture.chord
    return replace(
        gesture,
        chord=None if chord is None else replace(chord, within=widen_span(chord.within, off_by)),
        press=_widen_any(gesture.press, off_by),
        between=_widen_any(gesture.between, off_by),
        held=_widen_any(gesture.held, off_by),
        repeats=_widen_any(gesture.repeats, off_by),
    )


def _widen_state(state: State, off_by: Fraction) -> State:
    sleep = state.sleep
    return replace(
        state,
        sleep=None
        if sleep is None
        else replace(sleep, doze=widen_span(sleep.doze, off_by), gives_up=_widen_any(sleep.gives_up, off_by)),
        timeouts=tuple(_widen_timeout(timeout, off_by) for timeout in state.timeouts),
    )


def _widen_timeout(timeout: Timeout, off_by: Fraction) -> Timeout:
    times = tuple((value, widen_span(time, off_by)) for value, time in timeout.times)
    if times:
        return replace(timeout, after=Span(min(t.lo for _, t in times), max(t.hi for _, t in times)), times=times)
    return replace(timeout, after=widen_span(timeout.after, off_by))


def _widen_memory(memory: Memory, off_by: Fraction) -> Memory:
    return replace(memory, quiet=_widen_any(memory.quiet, off_by))
