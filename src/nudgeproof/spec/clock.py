"""The firmware's clock: how far it may be off, and what that makes of the times the firmware counts.

A clock that runs fast by a share p makes a counted time T last T/(1+p), one that runs slow T/(1-p). Each time by itself, or,
with `drift: one clock`, all times of a specimen by one and the same share.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Final

from nudgeproof.diagnostics import Place
from nudgeproof.spec.fields import (
    Found,
    Keys,
    TimeWanted,
    describe,
    place_value,
    read_choice,
    read_mapping,
    read_span,
    refuse_later,
    sort_keys,
)
from nudgeproof.spec.nodes import Words
from nudgeproof.spec.notes import Notes, show
from nudgeproof.spec.outside import Ticks
from nudgeproof.spec.types import Button, Device, Gesture, Memory, State, Timeout
from nudgeproof.units import FOREVER, Fixed, Form, NotAQuantity, Span, read_share

DRIFTS: Final = ("each time", "one clock")
MOST_OFF: Final = Fraction(20, 100)

_EXAMPLE: Final = "off by: 5 %"
_ELAPSED: Final = TimeWanted(
    (Form.EXACT,), "it is the time after which an elapsed time is nothing again", "65.536 s", least_us=1_000
)
_TICK: Final = TimeWanted(
    (Form.EXACT,), "it is in what steps the firmware counts a pause that sleep interrupts", "10 ms", least_us=1_000
)
_TICK_ASLEEP: Final = TimeWanted(
    (Form.EXACT,), "it is in what steps a clock counts that runs in sleep", "1 s", least_us=1_000
)
MOST_TICKS: Final = 64
_COMES_ROUND: Final = ("at any moment",)
_MEANING: Final = "it is how far the clock of the firmware may run too fast or too slow"


@dataclass(frozen=True, slots=True)
class Clock:
    """`off_by`: the share by which the frequency may be off. `is_one`: by one share on each specimen, for a whole story.

    `elapsed`: the time after which an elapsed time is nothing again; None if it always fits its type. `comes_round`: the
    running clock itself, which counts from the start, comes round once, at any moment. `ticks`: see `Device`.
    """

    off_by: Fraction = Fraction(0)
    is_one: bool = False
    elapsed: Span | None = None
    comes_round: bool = False
    ticks: Ticks | None = None


def read_clock(found: Found, notes: Notes) -> Clock:
    """The section `clock`; an exact one after a problem."""
    mapping = read_mapping(found, "`clock`", f"clock: {{{_EXAMPLE}}}", notes)
    if mapping is None:
        return Clock()
    known = ("off by", "drift", "elapsed up to", "comes round", "tick", "tick asleep")
    keys = sort_keys(mapping, found.key.place, "`clock`", known, (), notes)
    off_by = keys.require("off by", "`clock`", _MEANING, f"write `{_EXAMPLE}`", notes)
    drift = keys.found.get("drift")
    why = "it says whether all times of one specimen are off by one share, or each time by its own"
    is_one = drift is not None and read_choice(drift, "`clock`", DRIFTS, (), why, notes) == DRIFTS[1]
    elapsed = read_span(keys.found.get("elapsed up to"), "`clock`", _ELAPSED, notes)
    rounds = keys.found.get("comes round")
    why = "it says when the running clock is at nothing again"
    comes_round = rounds is not None and read_choice(rounds, "`clock`", _COMES_ROUND, (), why, notes) is not None
    ticks = _read_ticks(keys, notes)
    return Clock(Fraction(0) if off_by is None else _read_off_by(off_by, notes), is_one, elapsed, comes_round, ticks)


def _read_ticks(keys: Keys, notes: Notes) -> Ticks | None:
    """The keys `tick` and `tick asleep`; None where there is no sound `tick`."""
    tick = read_span(keys.found.get("tick"), "`clock`", _TICK, notes)
    asleep = read_span(keys.found.get("tick asleep"), "`clock`", _TICK_ASLEEP, notes)
    if "tick asleep" in keys.found and not {"tick"} & {*keys.found, *keys.guessed}:
        what, why = (
            "`clock` has `tick asleep`, and no `tick`",
            "what is counted in sleep is added to what was counted awake",
        )
        notes.complain(keys.found["tick asleep"].key.place, what, why, "add such as `tick: 10 ms`")
    if tick is None or asleep is None:
        return None if tick is None else Ticks(tick)
    if asleep.lo % tick.lo:
        what, why = f"`tick asleep` of `clock` is no whole multiple of {tick}", "it counts as so many whole ticks"
        notes.complain(place_value(keys.found["tick asleep"]), what, why, "write a whole multiple of `tick`")
        return None
    return Ticks(tick, asleep, asleep.lo // tick.lo)


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


def widen(device: Device, clock: Clock) -> Device:
    """The device with each time that its firmware counts as wide as the clock makes it; 0 <= `clock.off_by` < 1.

    Times of hardware, people and surroundings stay as they are.
    """
    return replace(
        device,
        buttons=tuple(_widen_button(button, clock) for button in device.buttons),
        gestures=tuple(widen_gesture(gesture, clock) for gesture in device.gestures),
        states=tuple(_widen_state(state, clock) for state in device.states),
        memory=None if device.memory is None else _widen_memory(device.memory, clock),
        cell=None if device.cell is None else replace(device.cell, every=widen_span(device.cell.every, clock)),
        off_by=clock.off_by if clock.is_one else Fraction(0),
        elapsed=_widen_any(clock.elapsed, clock),
        ticks=None if clock.ticks is None else _widen_ticks(clock.ticks, clock),
    )


def check_elapsed(device: Device, at: Place, notes: Notes) -> None:
    """Note an elapsed time that comes round and that nothing looks at late, or that comes round before a limit is over.

    `at`: where the clock is described.
    """
    saying = next((button for button in device.buttons if button.claims.length), None)
    if device.elapsed is None:
        if saying is not None:
            what = f"button `{show(saying.name)}` has `length of a press`, and `clock` no `elapsed up to`"
            why = "it matters only where elapsed time comes round"
            notes.complain(saying.at, what, why, "take it out, or add such as `elapsed up to: 65.536 s` to `clock`")
        return
    late = next((button for button in device.buttons if button.claims.reckons_late), None)
    if late is not None and device.power_up is not None and device.power_up.counts_from_power:
        what = f"`button held: counts from power on` beside `length of a press: {late.claims.length}`"
        refuse_later(what, device.power_up.at, notes)
    outlasts = any(state.sleep is not None and state.sleep.outlasts for state in device.states)
    if not outlasts and saying is None:
        what = "`clock` has `elapsed up to`"
        why = "it matters only where taps wait for more while the processor sleeps, or to the length of a press"
        cure = (
            "take it out, write `pending taps: outlast sleep` where a state sleeps, or `length of a press` at a button"
        )
        notes.complain(at, what, why, cure)
    for gesture in device.gestures:
        _check_press_in_time(device, gesture, device.elapsed, notes)
        if outlasts and gesture.between is not None and gesture.between.hi >= device.elapsed.lo:
            what = f"`between` of gesture `{show(gesture.name)}` isn't over before elapsed time comes round"
            why, cure = "such a pause would never end", "write a longer `elapsed up to`, or a shorter `between`"
            notes.complain(gesture.at, what, why, cure)


def _check_press_in_time(device: Device, gesture: Gesture, elapsed: Span, notes: Notes) -> None:
    """Note a limit of a press that isn't over before elapsed time comes round, where that is what its length is."""
    if not gesture.button or not device.button(gesture.button).claims.reckons_late:
        return
    for key, span, why in (
        ("press", gesture.press, "no press would ever be too long for a tap"),
        ("held", gesture.held, "no press would ever be long enough"),
    ):
        if span is not None and span.hi >= elapsed.lo:
            what = f"`{key}` of gesture `{show(gesture.name)}` isn't over before elapsed time comes round"
            notes.complain(gesture.at, what, why, f"write a longer `elapsed up to`, or a shorter `{key}`")


def check_ticks(device: Device, at: Place, notes: Notes) -> None:
    """Note pauses that go on after sleep and can't be counted in ticks, and ticks that count nothing.

    `at`: where the clock is described.
    """
    state = next((state for state in device.states if state.sleep is not None and state.sleep.goes_on), None)
    if state is None or device.ticks is None:
        if device.ticks is not None:
            what, why = "`clock` has `tick`", "it matters only where a pause of taps goes on after sleep"
            notes.complain(at, what, why, "take it out, or write `pending taps: go on at waking` where a state sleeps")
        elif state is not None and state.sleep is not None:
            what, why = (
                f"taps go on at waking in state `{show(state.name)}`",
                "it isn't said in what steps they are counted",
            )
            notes.complain(state.sleep.at, what, why, "add such as `tick: 10 ms` to `clock`")
        return
    for gesture in device.gestures:
        if gesture.between is None:
            continue
        subject, why = (
            f"`between` of gesture `{show(gesture.name)}`",
            "a pause that goes on after sleep is counted in ticks",
        )
        if gesture.between_presses:
            what = f"{subject} counts from press to press"
            notes.complain(gesture.at, what, f"{why} from the release on", "let it count from the release")
        elif gesture.between.of is not None:
            refuse_later(f"{subject} with one value on each specimen, counted in ticks", gesture.at, notes)
        elif (most := count_ticks(device.ticks, gesture.between)) > MOST_TICKS:
            what, cure = f"{subject} takes up to {most} ticks", "write a longer `tick`"
            notes.complain(gesture.at, what, f"each tick is a step of its own, at most {MOST_TICKS}", cure)


def count_ticks(ticks: Ticks, span: Span) -> int:
    """After how many ticks a time in `span` is over for sure."""
    return math.ceil(Fraction(int(span.hi), ticks.awake.lo))


def check_comes_round(buttons: tuple[Button, ...], clock: Clock, at: Place, notes: Notes) -> None:
    """Note a clock that comes round where no lockout says how it ends, and the other way round. `at`: where the clock is."""
    saying = next((button for button in buttons if button.lockout_ends), None)
    if clock.comes_round and saying is None:
        what, why = "`clock` has `comes round`", "no button says whether its lockout ends by that clock"
        cure = "take it out, or write `lockout ends: at a moment of the clock` or `lockout ends: after its time` at a button"
        notes.complain(at, what, why, cure)
    if saying is not None and not clock.comes_round:
        what = f"button `{show(saying.name)}` has `lockout ends`, and `clock` no `comes round`"
        why, cure = (
            "it matters only where the clock comes round",
            "take it out, or add `comes round: at any moment` to `clock`",
        )
        notes.complain(saying.at, what, why, cure)


def widen_span(span: Span, clock: Clock) -> Span:
    """The real time, rounded outward, that a counted time in `span` may take; 0 <= `clock.off_by` < 1.

    A span that is wider than a rounding to microseconds has a tolerance of its own: that one holds, and it is returned.
    """
    if span.hi == FOREVER or span.hi - span.lo > 1:
        return span
    fixed = Fixed("", span.lo, int(span.hi), counted=True) if clock.is_one and clock.off_by else None
    low, high = span.lo / (1 + clock.off_by), Fraction(int(span.hi)) / (1 - clock.off_by)
    return Span(math.floor(low), math.ceil(high), fixed)


def _widen_ticks(ticks: Ticks, clock: Clock) -> Ticks:
    return replace(ticks, awake=widen_span(ticks.awake, clock), asleep=_widen_any(ticks.asleep, clock))


def _widen_any(span: Span | None, clock: Clock) -> Span | None:
    return None if span is None else widen_span(span, clock)


def _widen_button(button: Button, clock: Clock) -> Button:
    samples = button.samples
    return replace(
        button,
        debounce=_widen_any(button.debounce, clock),
        lockout=_widen_any(button.lockout, clock),
        samples=None if samples is None else replace(samples, every=widen_span(samples.every, clock)),
    )


def widen_gesture(gesture: Gesture, clock: Clock) -> Gesture:
    """The gesture with its times as wide as the clock makes them; 0 <= `clock.off_by` < 1."""
    chord = gesture.chord
    return replace(
        gesture,
        chord=None if chord is None else replace(chord, within=widen_span(chord.within, clock)),
        press=_widen_any(gesture.press, clock),
        between=_widen_any(gesture.between, clock),
        held=_widen_any(gesture.held, clock),
        repeats=_widen_any(gesture.repeats, clock),
    )


def _widen_state(state: State, clock: Clock) -> State:
    sleep = state.sleep
    return replace(
        state,
        sleep=None
        if sleep is None
        else replace(sleep, doze=widen_span(sleep.doze, clock), gives_up=_widen_any(sleep.gives_up, clock)),
        timeouts=tuple(_widen_timeout(timeout, clock) for timeout in state.timeouts),
    )


def _widen_timeout(timeout: Timeout, clock: Clock) -> Timeout:
    times = tuple((value, widen_span(time, clock)) for value, time in timeout.times)
    if times:
        return replace(timeout, after=Span(min(t.lo for _, t in times), max(t.hi for _, t in times)), times=times)
    return replace(timeout, after=widen_span(timeout.after, clock))


def _widen_memory(memory: Memory, clock: Clock) -> Memory:
    return replace(memory, quiet=_widen_any(memory.quiet, clock))
