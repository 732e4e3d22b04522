"""The key `queue`: how many gestures wait that an interrupt recognised while the firmware was deaf."""

from __future__ import annotations

from typing import Final

from nudgeproof.diagnostics import Place
from nudgeproof.spec.fields import Found, describe, place_value
from nudgeproof.spec.nodes import Words
from nudgeproof.spec.notes import Notes, show
from nudgeproof.spec.types import Button, Gesture

MOST_WAITING: Final = 16
_USUAL: Final = 4
_NUMBERS: Final = tuple(str(number) for number in range(1, MOST_WAITING + 1))


def read_queue(
    found: Found | None,
    buttons: tuple[Button, ...],
    gestures: tuple[Gesture, ...],
    assume: bool,
    at: Place,
    notes: Notes,
) -> int:
    """How many gestures the queue takes; the usual number after a problem, or where it isn't said; listed if `assume`.

    Notes a queue that no button puts anything into, and a chord of a button that is read in an interrupt, which isn't built.
    """
    read = [button for button in buttons if button.in_interrupt]
    for chord in (gesture for gesture in gestures if gesture.chord is not None):
        for button in (one for one in read if one.name in chord.buttons):
            what = f"button `{show(button.name)}` has `read in: interrupt`, and `{show(chord.name)}` is a chord of it"
            why = "when two presses are joined while the firmware is deaf isn't built yet"
            notes.complain(button.at, what, why, "write `read in: main loop`, or take the chord out", also=chord.at)
    if found is None:
        if read and assume:
            notes.assume(f"queue: {_USUAL}", at)
        return _USUAL
    value = found.value
    if not isinstance(value, Words) or value.block or value.text not in _NUMBERS:
        what, why = f"`queue` is {describe(value)}", "it is how many gestures may wait while the firmware is deaf"
        notes.complain(place_value(found), what, why, f"write a whole number from 1 to {MOST_WAITING}")
        return _USUAL
    if not read and not notes.problems:
        why = "only what an interrupt recognises is put there, and no button has `read in: interrupt`"
        notes.complain(
            found.key.place, "the spec has `queue`", why, "give a button `read in: interrupt`, or take it out"
        )
    return int(value.text)
