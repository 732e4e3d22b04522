"""Gestures: how they are written. Which of them can't be told apart in one state is in `conflicts`."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Final

from nudgeproof.spec.asleep import WAKING_IS_TAKEN
from nudgeproof.spec.chords import CHORD_KEYS, read_button_of, read_chord
from nudgeproof.spec.fields import (
    Found,
    Keys,
    TimeWanted,
    describe,
    place_value,
    read_choice,
    read_mapping,
    read_name,
    read_span,
    read_time_words,
    refuse_later,
    sort_keys,
)
from nudgeproof.spec.nodes import Listing, Words
from nudgeproof.spec.notes import Notes, list_names, show
from nudgeproof.spec.outside import WAKING
from nudgeproof.spec.types import Button, Gesture
from nudgeproof.units import Form, Span

MOST_TAPS: Final = 9
MOST_PRESSES: Final = 10
MOST_GESTURES: Final = 64

_PRESS: Final = TimeWanted(
    (Form.UP_TO,),
    "it is how long a press may last to be a tap",
    "up to 400 ms",
    least_us=1,
    is_limit=True,
    unit="press",
)
_BETWEEN: Final = TimeWanted(
    (Form.UP_TO,),
    "it is how long the next press may take to come",
    "up to 260 ms",
    least_us=1,
    is_limit=True,
    unit="between",
)
_HELD: Final = TimeWanted(
    (Form.EXACT, Form.RANGE, Form.PLUS_MINUS, Form.AT_LEAST),
    "it is the time after which a press is a hold",
    "1.2 s",
    least_us=1,
    is_limit=True,
    unit="held",
)
_ANSWER: Final = TimeWanted(
    (Form.EXACT, Form.UP_TO), "it is how soon the firmware must have seen the gesture", "300 ms", least_us=1
)
_REPEATS: Final = TimeWanted(
    (Form.EXACT, Form.RANGE, Form.PLUS_MINUS),
    "it is the time after which a gesture that is held on is seen again",
    "200 ms",
    least_us=1_000,
    unit="repeats every",
)
_KNOWN: Final = (
    "taps",
    "press",
    "between",
    "held",
    "then held",
    "then taps",
    "presses",
    "acts at",
    "repeats every",
    "answered within",
    "on",
    *CHORD_KEYS,
)
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
    if found.key.text == WAKING:
        notes.complain(at, f"a gesture named `{WAKING}`", WAKING_IS_TAKEN, "use another name")
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
    keys = sort_keys(mapping, at, owner, _KNOWN, (), notes)
    answer = read_span(keys.found.get("answered within"), owner, _ANSWER, notes)
    answer_us = None if answer is None else int(answer.hi)
    if "together" in keys.found:
        chord = read_chord(name, keys, owner, buttons, notes)
        return None if chord is None else replace(chord, answer_us=answer_us)
    for of_chords in ("within", "releases"):
        if of_chords in keys.found:
            why, cure = "it is about two buttons pressed together", "take it out, or add `together` with two buttons"
            notes.complain(keys.found[of_chords].key.place, f"{owner} has `{of_chords}`", why, cure)
    button = read_button_of(keys.found.get("on"), owner, at, buttons, notes)
    presses = _read_presses(keys, owner, notes)
    press = read_span(keys.found.get("press"), owner, _PRESS, notes)
    between, is_from_press = _read_between(keys.found.get("between"), owner, notes)
    held = read_span(keys.found.get("held", keys.found.get("then held")), owner, _HELD, notes)
    repeats = read_span(keys.found.get("repeats every"), owner, _REPEATS, notes)
    if presses is None:
        return None
    acts_at = _read_acts_at(keys.found.get("acts at"), owner, presses, notes)
    _check_limits(keys, owner, presses, notes)
    _check_end(keys, owner, presses, acts_at, notes)
    if is_from_press and between is not None and held is not None and "hold" in presses[:-1]:
        _check_hold_in_time(keys.found["between"], owner, between, held, notes)
    if name is None or button is None or ("hold" in presses and held is None):
        return None
    return Gesture(name, button, presses, press, between, is_from_press, held, at, answer_us, acts_at, repeats)


def _read_presses(keys: Keys, owner: str, notes: Notes) -> tuple[str, ...] | None:
    """The presses of the gesture, each `tap` or `hold`, None after a problem."""
    if "presses" in keys.found:
        return _read_list_of_presses(keys, owner, notes)
    taps = _read_taps(keys.found.get("taps"), owner, notes)
    then_taps = _read_taps(keys.found.get("then taps"), owner, notes)
    hold = _find_hold(keys, owner, notes)
    if taps is None or then_taps is None or (hold is None and keys.found.keys() & {"held", "then held"}):
        return None
    if hold is None and "then taps" in keys.found:
        if not keys.guessed & {"held", "then held"}:
            why, cure = "taps come `then` only after a hold", "write `held: 1.2 s` too, or `taps` in its place"
            if taps:
                cure = "write `then held: 1.2 s` between them, or count them all in `taps`"
            notes.complain(keys.found["then taps"].key.place, f"{owner} has `then taps` without a hold", why, cure)
        return None
    if not taps and hold is None:
        if not keys.guessed & {"taps", "held"}:
            why, cure = "a gesture is made of presses", "write `taps: 1` with `press: up to 400 ms`, or `held: 1.2 s`"
            notes.complain(keys.at, f"{owner} has neither `taps` nor `held`", why, cure)
        return None
    presses = ("tap",) * taps + (("hold",) if hold is not None else ()) + ("tap",) * then_taps
    if len(presses) > MOST_PRESSES:
        _complain_of_length(keys.found["then taps"], owner, len(presses), notes)
        return None
    return presses


def _read_list_of_presses(keys: Keys, owner: str, notes: Notes) -> tuple[str, ...] | None:
    """The key `presses`: a list of the words `tap` and `hold`."""
    found = keys.found["presses"]
    other = next((keys.found[key].key for key in ("taps", "then held", "then taps") if key in keys.found), None)
    if other is not None:
        why, cure = "`presses` says all of them", f"take `{other.text}` out, and write the time of the hold as `held`"
        notes.complain(other.place, f"{owner} has `{other.text}` beside `presses`", why, cure, also=found.key.place)
        return None
    why, cure = "it is the row of presses, each a `tap` or a `hold`", "write `presses: [tap, hold, tap]`"
    items = found.value.items if isinstance(found.value, Listing) else (found.value,)
    bad = next((i for i in items if not isinstance(i, Words) or i.text not in ("tap", "hold")), None)
    if not items or bad is not None:
        at = place_value(found) if not isinstance(found.value, Listing) or bad is None else bad.place
        subject = f"an entry of `presses` of {owner}" if bad is not None and bad is not found.value else None
        notes.complain(at, f"{subject or f'`presses` of {owner}'} is {describe(bad or found.value)}", why, cure)
        return None
    if len(items) > MOST_PRESSES:
        _complain_of_length(found, owner, len(items), notes)
        return None
    presses = tuple(item.text for item in items if isinstance(item, Words))
    if "hold" in presses:
        keys.require("held", owner, _HELD.meaning, f"write `held: {_HELD.example}`", notes)
    elif "held" in keys.found:
        why = "no press of it is a hold"
        notes.complain(keys.found["held"].key.place, f"{owner} has `held`", why, "take it out, or write a `hold`")
    return presses


def _complain_of_length(found: Found, owner: str, presses: int, notes: Notes) -> None:
    why, cure = f"more than {MOST_PRESSES} can't be explored", "describe a gesture of fewer"
    notes.complain(place_value(found), f"{owner} has {presses} presses", why, cure)


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
        cure = "take it out of a gesture that ends with its hold" if found.key.text == "then taps" else cure
    notes.complain(at, f"`{found.key.text}` of {owner} is {describe(value)}", why, cure)
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


def _read_acts_at(found: Found | None, owner: str, presses: tuple[str, ...], notes: Notes) -> str:
    """When the gesture is seen, "" where nothing is said or after a problem."""
    if found is None:
        return ""
    why = "it says at which moment the firmware sees the gesture"
    word = read_choice(found, owner, ("threshold", "release", "pause", "press"), (), why, notes)
    last, goes_with = presses[-1], {"threshold": "hold", "pause": "tap", "press": "tap"}
    if word is not None and goes_with.get(word, last) != last:
        what = f"{owner} ends with a {last} and has `acts at: {word}`"
        why = f"only a gesture that ends with a {goes_with[word]} can be seen then"
        others = ("threshold", "release") if last == "hold" else ("pause", "release", "press")
        notes.complain(place_value(found), what, why, f"write {list_names(others)}")
    return word or ""


def _check_limits(keys: Keys, owner: str, presses: tuple[str, ...], notes: Notes) -> None:
    """Note limits that are missing, and those that mean nothing for these presses."""
    for key, is_needed, wanted, needless in (
        ("press", "tap" in presses, _PRESS, "a gesture that is only held has no tap to limit"),
        ("between", len(presses) > 1, _BETWEEN, "a gesture of one press has nothing in between"),
    ):
        if is_needed:
            keys.require(key, owner, wanted.meaning, f"write `{key}: {wanted.example}`", notes)
        elif key in keys.found:
            notes.complain(keys.found[key].key.place, f"{owner} has `{key}`", needless, "take it out")


def _check_end(keys: Keys, owner: str, presses: tuple[str, ...], acts_at: str, notes: Notes) -> None:
    """Note what is said of the hold at the end of a gesture that has none there, or that says two things of it."""
    if presses[-1] == "tap":
        if "repeats every" in keys.found:
            why = "only what is held on can repeat, and this ends with a tap"
            notes.complain(keys.found["repeats every"].key.place, f"{owner} has `repeats every`", why, "take it out")
        return
    if acts_at == "release" and "repeats every" in keys.found:
        at, also = keys.found["repeats every"].key.place, keys.found["acts at"].key.place
        why, cure = "what is seen at the release can't repeat while it is held", "take one of the two out"
        notes.complain(at, f"{owner} has `repeats every` beside `acts at: release`", why, cure, also=also)


def _check_hold_in_time(found: Found, owner: str, between: Span, held: Span, notes: Notes) -> None:
    """Note a pause counted from press to press that is over before the press can have been a hold."""
    if between.hi <= held.lo:
        what = f"`between` of {owner}, counted from press to press, is over before its hold ({held})"
        why, cure = "nobody could ever do it", "count it from the release, without `from press to press`"
        notes.complain(place_value(found), what, why, cure)


def check_claims(button: Button, buttons: tuple[Button, ...], notes: Notes) -> None:
    """Note a button whose holds are to count from another one's press, where there is none or that looks at the release."""
    if button.claims.hold_from == "any press" and len(buttons) == 1:
        what, why = f"button `{show(button.name)}` has `hold counts from: any press`", "it is the only button"
        notes.complain(button.at, what, why, "take it out")
    elif button.claims.hold_from == "any press" and (late := _looks_late(button)):
        refuse_later(f"`hold counts from: any press` beside {late}", button.at, notes)


def _looks_late(button: Button) -> str:
    """The line by which what a press is is decided at its release, "" if there is none."""
    if button.claims.first_fits:
        return f"`where two fit: {button.claims.two_fit}`"
    return f"`length of a press: {button.claims.length}`" if button.claims.reckons_late else ""


def check_late_looks(button: Button, gestures: tuple[Gesture, ...], notes: Notes) -> None:
    """Note holds that are seen before the release, where what a press is is to be decided there."""
    late = _looks_late(button)
    for gesture in gestures if late else ():
        if gesture.button == button.name and gesture.presses[-1] == "hold" and not gesture.at_release:
            what = f"gesture `{show(gesture.name)}` doesn't act at release, and its button has {late}"
            why = "what a press is would be decided before it is known how long it is"
            cure = f"add `acts at: release`, or take {late} out"
            notes.complain(gesture.at, what, why, cure, also=button.at)


def check_extra_taps(button: Button, gestures: tuple[Gesture, ...], notes: Notes) -> None:
    """Note a button that says what extra taps do though it has no gesture after which a tap is extra, or one too early."""
    early = [g for g in gestures if g.button == button.name and g.taps > 1 and g.acts_early]
    if early and button.extra_taps != "begin anew":
        what = f"button `{show(button.name)}` has `extra taps: {button.extra_taps}` beside a gesture that doesn't wait"
        why = f"`{show(early[0].name)}` acts at {early[0].acts_early}, before a tap could be known to be extra"
        notes.complain(button.at, what, why, "take one of the two out", also=early[0].at)
        return
    if button.extra_taps == "begin anew" or any(g.taps > 1 for g in gestures if g.button == button.name):
        return
    what = f"button `{show(button.name)}` has `extra taps: {button.extra_taps}`"
    why = "taps are extra only after a gesture of two taps or more, and this button has no such gesture"
    notes.complain(button.at, what, why, "take it out")
