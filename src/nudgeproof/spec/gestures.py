"""Gestures: how they are written, and which of them can't be told apart in one state."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from itertools import combinations, permutations
from typing import Final

from nudgeproof.diagnostics import Place
from nudgeproof.spec.chords import CHORD_KEYS, read_button_of, read_chord
from nudgeproof.spec.fields import (
    Found,
    Keys,
    TimeWanted,
    describe,
    read_mapping,
    read_name,
    read_span,
    read_time_words,
    sort_keys,
)
from nudgeproof.spec.nodes import Words
from nudgeproof.spec.notes import Notes, show
from nudgeproof.spec.types import Gesture, Transition
from nudgeproof.units import Form, Span, show_us

MOST_TAPS: Final = 9
MOST_GESTURES: Final = 64

_PRESS: Final = TimeWanted(
    (Form.UP_TO,), "it is how long a press may last to be a tap", "up to 400 ms", least_us=1, is_limit=True
)
_BETWEEN: Final = TimeWanted(
    (Form.UP_TO,), "it is how long the next press may take to come", "up to 260 ms", least_us=1, is_limit=True
)
_HELD: Final = TimeWanted(
    (Form.EXACT, Form.RANGE, Form.PLUS_MINUS, Form.AT_LEAST),
    "it is the time after which a press is a hold",
    "1.2 s",
    least_us=1,
    is_limit=True,
)
_KNOWN: Final = ("taps", "press", "between", "held", "then held", "on", *CHORD_KEYS)
_LATER: Final = ("then taps", "repeats every", "acts at")
_PRESS_TO_PRESS: Final = re.compile(r"(?P<time>.+?)(?:\s*,\s*|\s+)(?:from )?press to press")


def read_gestures(found: Found, buttons: tuple[str, ...] | None, notes: Notes) -> tuple[Gesture, ...]:
    """The section `gestures`; `buttons` None when they are not known."""
    mapping = read_mapping(found, "`gestures`", "tap: {taps: 1, press: up to 400 ms}", notes)
    if mapping is None:
        return ()
    if len(mapping.entries) > MOST_GESTURES:
        at = mapping.entries[MOST_GESTURES][0].place
        what, why = f"{len(mapping.entries)} gestures", f"more than {MOST_GESTURES} can't be explored"
        notes.complain(at, what, why, "describe the device with fewer")
    gestures = []
    for key, value in mapping.entries[:MOST_GESTURES]:
        gesture = _read_gesture(Found(key, value), buttons, notes)
        if gesture is not None:
            gestures.append(gesture)
    return tuple(gestures)


def _read_gesture(found: Found, buttons: tuple[str, ...] | None, notes: Notes) -> Gesture | None:
    name, at = read_name(found.key, "gesture", notes), found.key.place
    owner = f"gesture `{show(found.key.text)}`"
    if found.key.text.startswith("after "):
        why = "a line in `transitions` that starts with `after` is a time"
        notes.complain(at, f"the gesture name `{show(found.key.text)}` starts with `after`", why, "use another name")
    mapping = read_mapping(found, owner, "{taps: 1, press: up to 400 ms}", notes)
    if mapping is None:
        return None
    entries = [
        (key, value) for key, value in mapping.entries if key.text not in ("press to press", "from press to press")
    ]
    for key, _ in mapping.entries:
        if key.text in ("press to press", "from press to press"):
            why = "a comma inside braces ends the value"
            cure = "write `between: up to 260 ms from press to press`, without the comma"
            notes.complain(key.place, f"`{key.text}` stands alone in {owner}", why, cure)
    mapping = type(mapping)(tuple(entries), mapping.place)
    keys = sort_keys(mapping, at, owner, _KNOWN, _LATER, notes)
    if "together" in keys.found:
        return read_chord(name, keys, owner, buttons, notes)
    if "within" in keys.found:
        why, cure = "it is about two buttons pressed together", "take it out, or add `together` with two buttons"
        notes.complain(keys.found["within"].key.place, f"{owner} has `within`", why, cure)
    button = read_button_of(keys.found.get("on"), owner, at, buttons, notes)
    taps = _read_taps(keys.found.get("taps"), owner, notes)
    hold = _find_hold(keys, owner, notes)
    press = read_span(keys.found.get("press"), owner, _PRESS, notes)
    between, is_from_press = _read_between(keys.found.get("between"), owner, notes)
    held = read_span(hold, owner, _HELD, notes)
    if taps is None or (hold is None and ("held" in keys.found or "then held" in keys.found)):
        return None
    if not taps and hold is None:
        if not keys.guessed & {"taps", "held"}:
            why, cure = "a gesture is made of presses", "write `taps: 1` with `press: up to 400 ms`, or `held: 1.2 s`"
            notes.complain(at, f"{owner} has neither `taps` nor `held`", why, cure)
        return None
    _check_limits(keys, owner, taps, taps + (hold is not None), notes)
    if name is None or button is None or (hold is not None and held is None):
        return None
    return Gesture(name, button, taps, press, between, is_from_press, held, at)


def _read_taps(found: Found | None, owner: str, notes: Notes) -> int | None:
    """The number of taps, 0 when there is no such key, None after a problem."""
    if found is None:
        return 0
    value = found.value
    if isinstance(value, Words) and re.fullmatch(f"[1-{MOST_TAPS}]", value.text):
        return int(value.text)
    at = found.key.place if isinstance(value, Words) and value.is_missing else value.place
    why, cure = "it is a number of short presses", f"write a whole number from 1 to {MOST_TAPS}"
    if isinstance(value, Words) and value.text == "0":
        cure = "take it out of a gesture that is only held"
    notes.complain(at, f"`taps` of {owner} is {describe(value)}", why, cure)
    return None


def _find_hold(keys: Keys, owner: str, notes: Notes) -> Found | None:
    """The key that tells of the hold: `held` alone or `then held` after taps."""
    held, then_held, taps = (keys.found.get(key) for key in ("held", "then held", "taps"))
    if held is not None and then_held is not None:
        why, cure = "a gesture has one hold at most", "keep `held` alone, or `taps` with `then held`"
        notes.complain(then_held.key.place, f"{owner} has both `held` and `then held`", why, cure, also=held.key.place)
        return None
    if held is not None and taps is not None:
        why, cure = "`held` is a gesture by itself", "write `then held` for a hold after the taps, or take `taps` out"
        notes.complain(held.key.place, f"{owner} has `held` beside `taps`", why, cure, also=taps.key.place)
        return None
    if then_held is not None and taps is None and "taps" not in keys.guessed:
        why, cure = "a hold comes `then` only after taps", "write `held`, or add `taps: 1`"
        notes.complain(then_held.key.place, f"{owner} has `then held` without `taps`", why, cure)
        return None
    return held or then_held


def _read_between(found: Found | None, owner: str, notes: Notes) -> tuple[Span | None, bool]:
    """The limit of the gap, and whether it counts from press to press."""
    if found is None or not isinstance(found.value, Words):
        return read_span(found, owner, _BETWEEN, notes), False
    match = _PRESS_TO_PRESS.fullmatch(found.value.text)
    if match is None or found.value.block:
        return read_span(found, owner, _BETWEEN, notes), False
    subject, cure = f"`between` of {owner}", f"write `between: {_BETWEEN.example} from press to press`"
    quantity = read_time_words(match["time"], found.value.place, subject, _BETWEEN, cure, notes)
    return (None if quantity is None else quantity.span), True


def _check_limits(keys: Keys, owner: str, taps: int, presses: int, notes: Notes) -> None:
    """Note limits that are missing, and those that mean nothing for these presses."""
    for key, is_needed, wanted, needless in (
        ("press", taps > 0, _PRESS, "a gesture that is only held has no tap to limit"),
        ("between", presses > 1, _BETWEEN, "a gesture of one press has nothing in between"),
    ):
        if is_needed:
            keys.require(key, owner, wanted.meaning, f"write `{key}: {wanted.example}`", notes)
        elif key in keys.found:
            notes.complain(keys.found[key].key.place, f"{owner} has `{key}`", needless, "take it out")


def check_gestures(state: str, transitions: Sequence[Transition], gestures: dict[str, Gesture], notes: Notes) -> None:
    """Note gestures of one state that can't be told apart; those that couldn't be read are passed over."""
    used = [(gestures[t.gesture], t.at) for t in transitions if t.gesture in gestures]
    taken = set()
    for (first, first_at), (second, at) in combinations(used, 2):
        if set(first.buttons) != set(second.buttons) or second.name in taken:
            continue
        if first.chord is not None:
            taken.add(second.name)
            what = f"`{first.name}` and `{second.name}` are the same two buttons in state `{show(state)}`"
            why, cure = "once both are down only one of them could be meant", "keep one of them here"
            notes.complain(at, what, why, cure, also=first_at)
            continue
        if first.taps != second.taps or (first.held is None) != (second.held is None):
            continue
        taken.add(second.name)
        names = f"`{first.name}` and `{second.name}`"
        if first.held == second.held:
            what = f"{names} are the same presses in state `{show(state)}`"
            why, cure = "the device couldn't tell which was meant", "keep one of them here"
            notes.complain(at, what, why, cure, also=first_at)
        else:
            what = f"two lengths of one hold, {names} in state `{show(state)}`, aren't built yet"
            why, cure = "this version tells only taps from a hold", "keep one of them here for now"
            notes.complain(at, what, why, cure, also=first_at)
    for at, what, cure, also in _find_overlaps(used):
        notes.complain(at, f"in state `{show(state)}` {what}", "the device couldn't tell which was meant", cure, also)


def _find_overlaps(used: list[tuple[Gesture, Place]]) -> Iterator[tuple[Place, str, str, Place]]:
    """Presses that may be a tap of one gesture and the hold of another, after the same taps."""
    for (tapped, tapped_at), (hold, hold_at) in permutations(used, 2):
        if tapped.press is None or hold.held is None or tapped.taps <= hold.taps or tapped.buttons != hold.buttons:
            continue
        longest, shortest = int(tapped.press.hi), hold.held.lo
        if longest >= shortest:
            what = (
                f"a press of {show_us(shortest)} is both a tap of `{tapped.name}` (up to {show_us(longest)}) "
                f"and the hold of `{hold.name}` (from {show_us(shortest)})"
            )
            cure = (
                f"make `press` of `{tapped.name}` less than {show_us(shortest)}, "
                f"or the hold of `{hold.name}` more than {show_us(longest)}"
            )
            at, also = max(tapped_at, hold_at), min(tapped_at, hold_at)
            yield at, what, cure, also
