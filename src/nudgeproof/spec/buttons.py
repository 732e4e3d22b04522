"""The section `buttons`: contacts, and how the firmware reads each of them."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Final

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
    sort_keys,
)
from nudgeproof.spec.nodes import Words
from nudgeproof.spec.notes import Notes, list_names, show
from nudgeproof.spec.types import Button, Claims, Samples
from nudgeproof.units import Form, Span

MOST_BUTTONS: Final = 4
MOST_SAMPLES: Final = 16

_VARYING: Final = (Form.EXACT, Form.RANGE, Form.PLUS_MINUS)
_BOUNCE: Final = TimeWanted((Form.UP_TO, Form.EXACT), "it is how long the contact chatters at most", "up to 10 ms")
_DEBOUNCE: Final = TimeWanted(
    _VARYING, "it is how long a level must be steady until the firmware believes it", "20 ms ± 5 ms"
)
_LOCKOUT: Final = TimeWanted(
    _VARYING,
    "it is how long the firmware is deaf after an edge that it took at once",
    "30 ms",
    least_us=1,
)
_SAMPLES: Final = TimeWanted(
    _VARYING, "it is how many equal samples make a reading, and how often one is taken", "4 every 5 ms", least_us=1
)
_EDGES_APART: Final = TimeWanted(
    (Form.AT_LEAST,), "it is the least time between two edges of chatter", "at least 10 us", least_us=1
)
_READERS: Final = {"debounce": _DEBOUNCE, "lockout": _LOCKOUT, "samples": _SAMPLES}
_EVERY: Final = re.compile(r"(?P<count>\d+)\s+every\s+(?P<time>.+)")

_RHYTHMS: Final = ("begins anew", "goes on")
_LOCKOUT_ENDS: Final = ("after its time", "at a moment of the clock")
_EXTRA_TAPS: Final = ("begin anew", "swallowed", "count as the largest")
_CLAIMS: Final = {
    "release of a hold": (
        "after_hold",
        ("nobody's", "a tap"),
        "it says whether the release of a hold that was seen also counts as that of a tap",
    ),
    "new state": (
        "new_state",
        ("forgets the press", "keeps the press", "begins it anew"),
        "it says what becomes of a press during which a state is entered",
    ),
    "hold counts from": ("hold_from", ("its press", "any press"), "it says from which press on a hold is counted"),
    "waking press": (
        "waking",
        ("counts", "no tap", "no tap until one came"),
        "it says whether the first press after waking may be a tap",
    ),
    "listens again": (
        "listens_again",
        ("looks", "waits for an edge"),
        "it says what the firmware does with the button when it listens again",
    ),
    "read in": (
        "read_in",
        ("main loop", "interrupt"),
        "it says whether the button is read while the firmware is deaf",
    ),
    "where two fit": (
        "two_fit",
        ("is refused", "the first in the file"),
        "it says what a press counts for that fits two gestures of one state",
    ),
    "length of a press": (
        "length",
        ("looked at all the while", "reckoned at the release"),
        "it says when the firmware looks how long a press lasts",
    ),
}
"""Keys for what a press counts for: the field, the words, and what the key says."""
_BOUNCE_US: Final = 10_000
_EDGES_APART_US: Final = 10


def read_buttons(found: Found, notes: Notes) -> tuple[Button, ...]:
    """The section `buttons`."""
    mapping = read_mapping(found, "`buttons`", "pad: {debounce: 20 ms}", notes)
    if mapping is None:
        return ()
    if len(mapping.entries) > MOST_BUTTONS:
        at, what = mapping.entries[MOST_BUTTONS][0].place, f"{len(mapping.entries)} buttons"
        notes.complain(at, what, f"more than {MOST_BUTTONS} can't be explored", "describe the device with fewer")
    buttons = [_read_button(Found(key, value), notes) for key, value in mapping.entries[:MOST_BUTTONS]]
    return tuple(button for button in buttons if button is not None)


def _read_button(found: Found, notes: Notes) -> Button | None:
    name, at = read_name(found.key, "button", notes), found.key.place
    owner = f"button `{show(found.key.text)}`"
    mapping = read_mapping(found, owner, "{debounce: 20 ms}", notes)
    if mapping is None:
        return None
    known = ("bounce", "edges apart", "extra taps", "lockout ends", "rhythm in sleep", *_READERS, *_CLAIMS)
    keys = sort_keys(mapping, at, owner, known, ("stuck", "pull"), notes)
    bounce = read_span(keys.found.get("bounce"), owner, _BOUNCE, notes)
    apart = read_span(keys.found.get("edges apart"), owner, _EDGES_APART, notes)
    reader = _find_reader(keys, owner, notes)
    debounce = lockout = samples = None
    if reader == "debounce":
        debounce = read_span(keys.found[reader], owner, replace(_DEBOUNCE, unit=f"debounce of {name}"), notes)
    elif reader == "lockout":
        lockout = read_span(keys.found[reader], owner, replace(_LOCKOUT, unit=f"lockout of {name}"), notes)
    elif reader == "samples":
        samples = _read_samples(keys.found[reader], owner, notes)
    if "bounce" not in keys.found:
        notes.assume(f"bounce: up to 10 ms (button {found.key.text})", at)
    if "edges apart" not in keys.found:
        notes.assume(f"edges apart: at least 10 us (button {found.key.text})", at)
    extra = None
    if "extra taps" in keys.found:
        why = "it says what taps after the largest count in use do"
        extra = read_choice(keys.found["extra taps"], owner, _EXTRA_TAPS, (), why, notes)
    if samples is not None and "listens again" in keys.found:
        why = "samples look at the level all the time, edges or not"
        notes.complain(keys.found["listens again"].key.place, f"{owner} has `listens again`", why, "take it out")
    ends = _read_lockout_ends(keys, owner, lockout, notes)
    samples = _read_rhythm(keys, owner, samples, notes)
    if name is None or (debounce or lockout or samples) is None:
        return None
    bounce_us = _BOUNCE_US if bounce is None else int(bounce.hi)
    apart_us = _EDGES_APART_US if apart is None else apart.lo
    claims = _read_claims(keys, owner, notes)
    return Button(name, bounce_us, debounce, apart_us, at, lockout, samples, extra or _EXTRA_TAPS[0], claims, ends)


def _read_lockout_ends(keys: Keys, owner: str, lockout: Span | None, notes: Notes) -> str:
    """By what the firmware knows that a lockout is over; "" where the spec doesn't say, or after a problem."""
    found = keys.found.get("lockout ends")
    if found is None:
        return ""
    if lockout is None and "lockout" not in {*keys.found, *keys.guessed}:
        what, why = f"{owner} has `lockout ends`, and no `lockout`", "it says by what a lockout is known to be over"
        notes.complain(found.key.place, what, why, "take it out")
        return ""
    why = "it says by what the firmware knows that a lockout is over"
    return read_choice(found, owner, _LOCKOUT_ENDS, (), why, notes) or ""


def _read_rhythm(keys: Keys, owner: str, samples: Samples | None, notes: Notes) -> Samples | None:
    """The samples, with what becomes of their rhythm in sleep."""
    found = keys.found.get("rhythm in sleep")
    if found is None:
        return samples
    why = "it says what becomes of the rhythm of samples while the processor sleeps"
    if samples is None:
        if not {"samples"} & {*keys.found, *keys.guessed}:
            notes.complain(found.key.place, f"{owner} has `rhythm in sleep`, and no `samples`", why, "take it out")
        return None
    return replace(samples, keeps_rhythm=read_choice(found, owner, _RHYTHMS, (), why, notes) == _RHYTHMS[1])


def _read_claims(keys: Keys, owner: str, notes: Notes) -> Claims:
    """What a press counts for that two things could lay claim to."""
    given = {
        name: read_choice(keys.found[key], owner, options, (), why, notes)
        for key, (name, options, why) in _CLAIMS.items()
        if key in keys.found
    }
    return Claims(**{name: word for name, word in given.items() if word is not None})


def _find_reader(keys: Keys, owner: str, notes: Notes) -> str:
    """The one key that says how the button is read, "" after a problem."""
    given = [key for key in keys.found if key in _READERS]
    if len(given) > 1:
        first, second = given[:2]
        what, why = f"{owner} has both `{first}` and `{second}`", "a button is read in one way"
        at, also = keys.found[second].key.place, keys.found[first].key.place
        notes.complain(at, what, why, f"keep one of {list_names(_READERS)}", also=also)
        return ""
    if not given and not keys.guessed & set(_READERS):
        why = "it must be told how the firmware reads the contact"
        cure = "write one of " + ", ".join(f"`{key}: {wanted.example}`" for key, wanted in _READERS.items())
        notes.complain(keys.at, f"{owner} has no {' or '.join(f'`{key}`' for key in _READERS)}", why, cure)
    return given[0] if given else ""


def _read_samples(found: Found, owner: str, notes: Notes) -> Samples | None:
    subject, cure = f"`samples` of {owner}", f"write `samples: {_SAMPLES.example}`"
    value = found.value
    match = _EVERY.fullmatch(value.text) if isinstance(value, Words) and not value.block else None
    if match is None:
        what = "a block of text" if isinstance(value, Words) and value.block else describe(value)
        notes.complain(place_value(found), f"{subject} is {what}", _SAMPLES.meaning, cure)
        return None
    count = int(match["count"])
    if not 1 <= count <= MOST_SAMPLES:
        what, why = f"{subject}: {count} samples", "each sample in a row is a step of its own"
        notes.complain(value.place, what, why, f"write a whole number from 1 to {MOST_SAMPLES}")
        return None
    quantity = read_time_words(match["time"], value.place, subject, _SAMPLES, cure, notes)
    return None if quantity is None else Samples(count, quantity.span)
