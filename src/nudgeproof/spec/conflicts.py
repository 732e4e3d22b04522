"""Gestures that can't be told apart in one state, as far as the clock lets their times vary."""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import combinations

from nudgeproof.diagnostics import Place
from nudgeproof.spec.clock import Clock, widen_gesture
from nudgeproof.spec.notes import Notes, show
from nudgeproof.spec.types import Gesture, Transition
from nudgeproof.units import Span, show_us

_WHY = "the device couldn't tell which was meant"


@dataclass(frozen=True, slots=True)
class _Use:
    """A gesture used in a state: as it is written, with its times as wide as the clock makes them, and where."""

    written: Gesture
    real: Gesture
    at: Place


def check_gestures(
    state: str,
    transitions: Sequence[Transition],
    gestures: dict[str, Gesture],
    clock: Clock,
    notes: Notes,
    ordered: Collection[str] = (),
) -> None:
    """Note gestures of one state that can't be told apart; those that couldn't be read are passed over.

    `gestures` are as written; `clock`: how far it may be off; `ordered`: buttons of which one press may fit two gestures.
    """
    used = [
        _Use(gestures[t.gesture], widen_gesture(gestures[t.gesture], clock), t.at)
        for t in transitions
        if t.gesture in gestures
    ]
    taken = set()
    for pair in combinations(used, 2):
        if set(pair[0].written.buttons) != set(pair[1].written.buttons):
            continue
        found = _compare(*pair, clock) if pair[0].written.chord is None else _same_chord(*pair)
        if found is not None and not found.is_same and pair[0].written.button in ordered:
            continue
        # One gesture that is like several others is told of once.
        if found is None or (found.is_same and pair[1].written.name in taken):
            continue
        if found.is_same:
            taken.add(pair[1].written.name)
        first, second = sorted(pair, key=lambda use: use.at)
        what = f"{found.what} in state `{show(state)}`" if found.is_same else f"in state `{show(state)}` {found.what}"
        notes.complain(second.at, what, found.why, found.cure, also=first.at)


_OR_FIRST = "; firmware that takes the first that fits says so: `where two fit` of the button"


@dataclass(frozen=True, slots=True)
class _Conflict:
    """Why two gestures can't be used together. `is_same`: they are the same presses."""

    what: str
    cure: str
    why: str = _WHY
    is_same: bool = False


def _same_chord(one: _Use, other: _Use) -> _Conflict:
    what = f"`{one.written.name}` and `{other.written.name}` are the same two buttons"
    return _Conflict(what, "keep one of them here", "once both are down only one of them could be meant", is_same=True)


def _compare(one: _Use, other: _Use, clock: Clock) -> _Conflict | None:
    """Follow both gestures press by press up to the first that tells them apart for sure."""
    names = f"`{one.written.name}` and `{other.written.name}`"
    for place in range(max(len(one.written.presses), len(other.written.presses))):
        kinds = [use.written.presses[place : place + 1] for use in (one, other)]
        if () in kinds:
            return _check_repeating(one, other) or _check_repeating(other, one)
        if kinds[0] != kinds[1]:
            tapped, hold = (one, other) if kinds[0] == ("tap",) else (other, one)
            return _check_tap(tapped, hold, clock.off_by)
        if kinds[0] == ("hold",) and one.written.held != other.written.held:
            return _check_holds(one, other, clock.off_by) or _check_longer(place, one, other)
    return _Conflict(f"{names} are the same presses", "keep one of them here", is_same=True)


def _check_tap(tapped: _Use, hold: _Use, off_by: Fraction) -> _Conflict | None:
    """A press that may be a tap of one gesture and the hold of another, after the same presses."""
    if tapped.real.press is None or hold.real.held is None:
        return None
    if _share_a_clock(tapped.real.press, hold.real.held):
        return _check_tap(replace(tapped, real=tapped.written), replace(hold, real=hold.written), Fraction(0))
    longest, shortest = int(tapped.real.press.hi), hold.real.held.lo
    if longest < shortest:
        return None
    is_widened = tapped.real.press != tapped.written.press
    tap_below = show_us(math.floor(shortest * (1 - off_by)) if is_widened else shortest)
    hold_above = _written_above(longest, hold.written.held, hold.real.held, off_by)
    return _Conflict(
        f"a press of {show_us(shortest)} is both a tap of `{tapped.written.name}` (up to {show_us(longest)}) "
        f"and the hold of `{hold.written.name}` (from {show_us(shortest)})" + _tell_clock(off_by),
        f"make `press` of `{tapped.written.name}` less than {tap_below}, "
        f"or the hold of `{hold.written.name}` more than {hold_above}{_OR_FIRST}",
    )


def _share_a_clock(one: Span, other: Span) -> bool:
    """Whether both are off by one and the same share, so that as written they compare as they do on every specimen."""
    return all(span.of is not None and span.of.counted for span in (one, other))


def _check_holds(one: _Use, other: _Use, off_by: Fraction) -> _Conflict | None:
    """Two holds of different lengths, after the same presses, of which either may be reached first."""
    assert one.real.held is not None
    assert other.real.held is not None
    if _share_a_clock(one.real.held, other.real.held):
        return _check_holds(replace(one, real=one.written), replace(other, real=other.written), Fraction(0))
    if one.real.held.hi < other.real.held.lo or other.real.held.hi < one.real.held.lo:
        return None
    names = f"`{one.written.name}` ({one.real.held}) and `{other.written.name}` ({other.real.held})"
    short, long = sorted((one, other), key=lambda use: use.real.held.lo if use.real.held is not None else 0)
    assert short.real.held is not None
    above = _written_above(int(short.real.held.hi), long.written.held, long.real.held, off_by)
    cure = f"make the hold of `{long.written.name}` more than {above}"
    cure += ", or keep one of them here" if one.written.presses == other.written.presses else ", or both the same"
    return _Conflict(f"the holds of {names} overlap{_tell_clock(off_by)}", cure + _OR_FIRST)


def _check_longer(place: int, one: _Use, other: _Use) -> _Conflict | None:
    """A hold that repeats beside a longer one."""
    assert one.written.held is not None
    assert other.written.held is not None
    short, long = (one, other) if one.written.held.lo < other.written.held.lo else (other, one)
    return _check_repeating(short, long) if place + 1 == len(short.written.presses) else None


def _check_repeating(short: _Use, long: _Use) -> _Conflict | None:
    """A gesture that repeats while it is held on, though it must wait for another one."""
    if short.written.repeats is None or len(short.written.presses) > len(long.written.presses):
        return None
    names = f"`{short.written.name}` repeats, and `{long.written.name}` begins with the same presses and goes on"
    return _Conflict(
        names,
        f"take `repeats every` of `{short.written.name}` out, or use only one of the two here",
        "what has to wait for a longer one can't repeat meanwhile",
    )


def _written_above(us: int, written: Span | None, real: Span | None, off_by: Fraction) -> str:
    """What a hold must be written with more than for the real one to be more than `us`."""
    return show_us(math.ceil(us * (1 + off_by)) if written != real else us)


def _tell_clock(off_by: Fraction) -> str:
    return f", as far as the clock may be off ({float(off_by * 100):g} %)" if off_by else ""
