"""Which buttons a gesture is made on: one, or two pressed together (a chord)."""

from __future__ import annotations

from collections.abc import Collection
from typing import Final

from nudgeproof.diagnostics import Place
from nudgeproof.spec.fields import Found, Keys, TimeWanted, read_choice, read_list, read_span, read_words, refer
from nudgeproof.spec.notes import Notes, list_names
from nudgeproof.spec.types import Chord, Gesture
from nudgeproof.units import Form, Span

CHORD_KEYS: Final = ("together", "within", "releases")

_RELEASES: Final = ("belong to the chord", "are taps")

_WITHIN: Final = TimeWanted(
    (Form.EXACT, Form.PLUS_MINUS, Form.RANGE, Form.UP_TO),
    "it is how long after the first button the second may come",
    "60 ms",
    least_us=1,
    is_limit=True,
    unit="within",
)
_HELD: Final = TimeWanted(
    (Form.EXACT, Form.RANGE, Form.PLUS_MINUS, Form.AT_LEAST),
    "it is the time that both must stay down",
    "1 s",
    least_us=1,
    is_limit=True,
    unit="held",
)


def read_button_of(
    found: Found | None, owner: str, at: Place, buttons: tuple[str, ...] | None, notes: Notes
) -> str | None:
    """The key `on`: the button of a gesture, which goes without saying where there is one; None after a problem.

    `buttons` None: they aren't known, and nothing is noted of them.
    """
    if found is not None:
        example = f"on: {buttons[0] if buttons else 'pad'}"
        why = "it is the button that the gesture is made on"
        words = read_words(found.value, found.key.place, f"`on` of {owner}", why, example, notes)
        return None if words is None else refer(words, buttons, "button", notes)
    if buttons is not None and len(buttons) > 1:
        cure = f"write `on: {buttons[0]}`; buttons: {list_names(buttons)}"
        notes.complain(at, f"{owner} has no `on`", "the device has several buttons", cure)
        return None
    return buttons[0] if buttons else ""


def read_chord(
    name: str | None, keys: Keys, owner: str, buttons: tuple[str, ...] | None, notes: Notes
) -> Gesture | None:
    """A gesture with the key `together`."""
    for key in keys.found:
        if key not in (*CHORD_KEYS, "held", "answered within"):
            why = "a chord is made of the two buttons alone"
            cure = f"take it out, or take `together` out; a chord has {list_names((*CHORD_KEYS, 'held'))}"
            also = keys.found["together"].key.place
            notes.complain(keys.found[key].key.place, f"{owner} has `{key}` beside `together`", why, cure, also=also)
    pair = _read_pair(keys.found["together"], owner, buttons, notes)
    within = keys.require("within", owner, _WITHIN.meaning, f"write `within: {_WITHIN.example}`", notes)
    limit = read_span(within, owner, _WITHIN, notes)
    held = keys.found.get("held")
    span: Span | None = read_span(held, owner, _HELD, notes)
    releases = keys.found.get("releases")
    why = "it says whose the releases of a chord are that was seen"
    gives_back = releases is not None and read_choice(releases, owner, _RELEASES, (), why, notes) == _RELEASES[1]
    if name is None or pair is None or limit is None or (held is not None and span is None):
        return None
    presses = ("tap",) if span is None else ("hold",)
    return Gesture(name, "", presses, None, None, False, span, keys.at, chord=Chord(pair, limit, gives_back))


def _read_pair(found: Found, owner: str, buttons: Collection[str] | None, notes: Notes) -> tuple[str, str] | None:
    why, names = "it names the two buttons of a chord", tuple(buttons or ())
    pair = names[:2] if len(names) > 1 else ("pad", "rim")
    example = f"together: [{', '.join(pair)}]"
    words = read_list(found.value, found.key.place, f"`together` of {owner}", why, example, notes)
    for word in words:
        refer(word, buttons, "button", notes)
    if len(words) == 2:
        return words[0].text, words[1].text
    if words:
        what = f"`together` of {owner} names {len(words)} button{'' if len(words) == 1 else 's'}"
        notes.complain(found.value.place, what, why, f"write such as `{example}`")
    return None
