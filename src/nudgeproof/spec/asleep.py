"""How a state goes to sleep and wakes: the order of its steps, an edge that comes late, and from when a press counts."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from nudgeproof.spec.fields import Found, Keys, read_choice, read_list
from nudgeproof.spec.notes import Notes, show, suggest
from nudgeproof.spec.outside import SLEEP, SLEEP_STEPS, WAKING, Sleep
from nudgeproof.spec.types import Gesture, PowerUp, State

_STEPS: Final = "steps"
_LATE: Final = "late edge"
_COUNTS: Final = "press counts from"
_PENDING: Final = "pending taps"
_UNARMED: Final = "unarmed edges"
STEPS_KEYS: Final = (_STEPS, _LATE, _COUNTS, _PENDING, _UNARMED)
LATE_EDGES: Final = ("keeps it awake", "goes unseen")
UNARMED_EDGES: Final = ("set the flag", "are lost")
COUNTS_FROM: Final = ("reading", WAKING)
PENDING_TAPS: Final = ("keep it awake", "outlast sleep", "begin anew at waking", "go on at waking")

WAKING_IS_TAKEN: Final = f"a line `{WAKING}` in `transitions` is what waking does by itself"


def read_steps(keys: Keys, owner: str, sleep: Sleep, notes: Notes) -> Sleep:
    """`sleep` with what these keys say of it; as it is after a problem, and where they say nothing."""
    late = counts = None
    if _LATE in keys.found:
        why = "it says what an edge between the last look and sleep does"
        late = read_choice(keys.found[_LATE], owner, LATE_EDGES, (), why, notes)
    if _COUNTS in keys.found:
        why = "it says from when the firmware takes the press that woke it to last"
        counts = read_choice(keys.found[_COUNTS], owner, COUNTS_FROM, (), why, notes)
    pending = None
    if _PENDING in keys.found:
        why = "it says what becomes of taps that wait for more when everything else is quiet"
        pending = read_choice(keys.found[_PENDING], owner, PENDING_TAPS, (), why, notes)
    unarmed = None
    if _UNARMED in keys.found:
        why = "it says what an edge does before the wake source is armed"
        unarmed = read_choice(keys.found[_UNARMED], owner, UNARMED_EDGES, (), why, notes)
    steps = _read_order(keys.found[_STEPS], owner, notes) if _STEPS in keys.found else ()
    return replace(
        sleep,
        steps=steps or SLEEP_STEPS,
        late_unseen=late == LATE_EDGES[1],
        counts_from_wake=counts == COUNTS_FROM[1],
        outlasts=pending in PENDING_TAPS[1:],
        begins_anew=pending == PENDING_TAPS[2],
        goes_on=pending == PENDING_TAPS[3],
        drops_unarmed=unarmed == UNARMED_EDGES[1],
    )


def spread_unarmed(states: tuple[State, ...]) -> tuple[State, ...]:
    """The states, all of which drop unarmed edges where one does: it is the chip that drops them."""
    if not any(state.sleep is not None and state.sleep.drops_unarmed for state in states):
        return states
    return tuple(
        state if state.sleep is None else replace(state, sleep=replace(state.sleep, drops_unarmed=True))
        for state in states
    )


def _read_order(found: Found, owner: str, notes: Notes) -> tuple[str, ...]:
    """The steps in their order; none after a problem."""
    subject, whole = f"`{_STEPS}` of {owner}", f"{_STEPS}: [{', '.join(SLEEP_STEPS)}]"
    why = "it is the order in which the processor goes to sleep"
    words = read_list(found.value, found.key.place, subject, why, whole, notes)
    wrong = [word for word in words if word.text not in SLEEP_STEPS]
    for word in wrong:
        what = f"`{show(word.text)}` is no step of going to sleep"
        notes.complain(word.place, what, why, suggest(word.text, SLEEP_STEPS, "known"))
    if not words or wrong:
        return ()
    if words[-1].text != SLEEP:
        where = next((word for word in words if word.text == SLEEP), words[-1])
        what = f"{subject} {'goes on behind' if where.text == SLEEP else 'has no'} `{SLEEP}`"
        notes.complain(where.place, what, "it ends with the step that puts the processor to sleep", f"write `{whole}`")
        return ()
    return tuple(word.text for word in words)


def check_counting(
    states: tuple[State, ...], gestures: tuple[Gesture, ...], power_up: PowerUp | None, notes: Notes
) -> None:
    """Note a press that counts from waking, or from power on, in a device with chords, which isn't built."""
    chord = next((gesture for gesture in gestures if gesture.chord is not None), None)
    if chord is not None and power_up is not None and power_up.counts_from_power:
        what = f"`button held: counts from power on`, and `{show(chord.name)}` is a chord"
        why = "when a press that counts from power on may be joined isn't built yet"
        notes.complain(power_up.at, what, why, "write `counts as a press`, or take the chord out", also=chord.at)
    for state in states:
        if chord is not None and state.sleep is not None and state.sleep.counts_from_wake:
            what = f"`{_COUNTS}: {WAKING}` in state `{show(state.name)}`, and `{show(chord.name)}` is a chord"
            why = "when a press that counts from waking may be joined isn't built yet"
            notes.complain(state.sleep.at, what, why, f"take `{_COUNTS}` or the chord out", also=chord.at)
