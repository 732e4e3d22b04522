"""What resets the device although its cell is there: `cut-off` of `supply`, and the section `supervisor`."""

from __future__ import annotations

from typing import Final

from nudgeproof.diagnostics import Place
from nudgeproof.spec.fields import (
    Found,
    Keys,
    TimeWanted,
    read_choice,
    read_list,
    read_mapping,
    read_span,
    read_words,
    refer,
    sort_keys,
)
from nudgeproof.spec.names import Names
from nudgeproof.spec.notes import Notes, show
from nudgeproof.spec.powered import CutOff, StaysOff, Supervisor
from nudgeproof.spec.types import CAUSES, CELL_CAUSE, CUT_OFF_CAUSE, SUPERVISOR_CAUSE, PowerUp, State, Supply
from nudgeproof.units import Form, Span

_VARYING: Final = (Form.EXACT, Form.RANGE, Form.PLUS_MINUS)
_FOR: Final = TimeWanted(_VARYING, "it is how long the button is down until the chip resets", "8 s ± 1 s", least_us=1)
_AFTER: Final = TimeWanted(
    _VARYING, "it is how long it waits to be fed until it resets the device", "8 s ± 20 %", least_us=1
)
_CLOSED_FOR: Final = TimeWanted(
    (*_VARYING, Form.UP_TO), "it is how long a button is closed until the chip switches on", "50 ms ± 10 ms"
)
_LETS_GO: Final = TimeWanted(
    (*_VARYING, Form.UP_TO), "it is how long the chip takes to switch off for the firmware", "up to 5 ms"
)
_THEN: Final = ("starts again", "stays off")
_OF_OFF: Final = ("switched on by", "closed for", "lets go")
_IN_SLEEP: Final = ("runs", "stops")
_STARTS: Final = "starts in"
_CAUSES: Final = "causes"
_READ: Final = ("read and cleared", "left set")


def read_cut_off(found: Found, buttons: tuple[str, ...] | None, notes: Notes) -> CutOff | None:
    """The key `cut-off` of `supply`; `buttons` None when they are not known."""
    owner, button = "`cut-off` of `supply`", buttons[0] if buttons else "pad"
    mapping = read_mapping(found, owner, f"cut-off: {{held: {button}, for: {_FOR.example}}}", notes)
    if mapping is None:
        return None
    keys = sort_keys(mapping, found.key.place, owner, ("held", "for", "then", *_OF_OFF), (), notes)
    why, example = "it is the button that the power chip watches", f"held: {button}"
    held = keys.require("held", owner, why, f"write `{example}`", notes)
    words = None if held is None else read_words(held.value, held.key.place, f"`held` of {owner}", why, example, notes)
    name = "" if words is None else refer(words, buttons, "button", notes)
    timed = keys.require("for", owner, _FOR.meaning, f"write `for: {_FOR.example}`", notes)
    after = read_span(timed, owner, _FOR, notes)
    off = _read_off(keys, owner, name, buttons, notes)
    return None if after is None or not name else CutOff(name, after, found.key.place, off)


def _read_off(keys: Keys, owner: str, held: str, buttons: tuple[str, ...] | None, notes: Notes) -> StaysOff | None:
    """The keys that say that the chip stays off, and how it comes on again."""
    why = "it says whether the device then starts, or stays without power until a button closes anew"
    told = keys.found.get("then")
    then = None if told is None else read_choice(told, owner, _THEN, (), why, notes)
    if then != _THEN[1]:
        for key in _OF_OFF:
            if key in keys.found and "then" not in keys.guessed and (told is None or then is not None):
                what, why = f"{owner} has `{key}`, and the device starts again by itself", "nothing hangs on it"
                notes.complain(keys.found[key].key.place, what, why, f"take it out, or write `then: {_THEN[1]}`")
        return None
    on_by: tuple[str, ...] = (held,)
    if "switched on by" in keys.found:
        found = keys.found["switched on by"]
        why, example = "only a button switches it on", f"switched on by: [{held or 'pad'}]"
        words = read_list(
            found.value, found.key.place, f"`switched on by` of {owner}", why, f"write `{example}`", notes
        )
        on_by = tuple(dict.fromkeys(refer(word, buttons, "button", notes) for word in words))
    spans = []
    for key, wanted in (("closed for", _CLOSED_FOR), ("lets go", _LETS_GO)):
        if key not in keys.found and key not in keys.guessed:
            notes.assume(f"{key}: at once (cut-off)", keys.at)
        span = read_span(keys.found[key], owner, wanted, notes) if key in keys.found else Span(0, 0)
        spans.append(span or Span(0, 0))
    return StaysOff(on_by, *spans)


def read_supervisor(found: Found, notes: Notes) -> Supervisor | None:
    """The section `supervisor`."""
    owner = "`supervisor`"
    mapping = read_mapping(found, owner, f"supervisor: {{after: {_AFTER.example}, in sleep: stops}}", notes)
    if mapping is None:
        return None
    keys = sort_keys(mapping, found.key.place, owner, ("after", "in sleep"), (), notes)
    timed = keys.require("after", owner, _AFTER.meaning, f"write `after: {_AFTER.example}`", notes)
    after = read_span(timed, owner, _AFTER, notes)
    why = "it says whether a sleeping device, which feeds it no more, is reset"
    told = keys.require("in sleep", owner, why, "write `in sleep: runs` or `in sleep: stops`", notes)
    in_sleep = None if told is None else read_choice(told, owner, _IN_SLEEP, (), why, notes)
    return None if after is None or in_sleep is None else Supervisor(after, in_sleep == "runs", found.key.place)


def read_causes(keys: Keys, names: Names, notes: Notes) -> tuple[tuple[tuple[str, str], ...], bool]:
    """The keys `starts in` and `causes` of `power up`: causes with their states, in their order, and whether they stay."""
    why = "it says what becomes of the causes that a start has read"
    told = keys.found.get(_CAUSES)
    left = told is not None and read_choice(told, "`power up`", _READ, (), why, notes) == _READ[1]
    found, owner = keys.found.get(_STARTS), f"`{_STARTS}` of `power up`"
    if found is None:
        if told is not None and _STARTS not in keys.guessed:
            what, why = f"`power up` has `{_CAUSES}`, and no `{_STARTS}`", "nothing hangs on the causes of resets"
            notes.complain(told.key.place, what, why, "take it out, or add such as `starts in: {supervisor: off}`")
        return (), left
    example = f"{_STARTS}: {{supervisor: {names.states[0] if names.states else 'off'}}}"
    mapping = read_mapping(found, owner, example, notes)
    if mapping is None:
        return (), left
    sort_keys(mapping, found.key.place, owner, CAUSES, (), notes)
    starts = []
    for key, value in mapping.entries:
        if key.text in CAUSES:
            why = "it is the state the device starts in after a reset of this cause"
            words = read_words(value, key.place, f"`{key.text}` of {owner}", why, example, notes)
            starts.append(
                (key.text, "" if words is None else names.entered(refer(words, names.states, "state", notes)))
            )
    return tuple(starts), left


def check_causes(supply: Supply | None, supervisor: Supervisor | None, power_up: PowerUp | None, notes: Notes) -> None:
    """Note causes that nothing in the spec can bring about."""
    if power_up is None:
        return
    cut_off = supply is not None and supply.cut_off is not None
    there = {CELL_CAUSE: True, CUT_OFF_CAUSE: cut_off, SUPERVISOR_CAUSE: supervisor is not None}
    for cause, _ in power_up.starts_in:
        if not there[cause]:
            what, why = f"`{_STARTS}` of `power up` has `{cause}`", "nothing in the spec resets the device so"
            notes.complain(power_up.at, what, why, f"take it out, or describe the `{cause}`")


def check_off(supply: Supply | None, states: tuple[State, ...], notes: Notes) -> None:
    """Note what doesn't go with states without power, or with a power chip that leaves the device there."""
    unpowered = [state for state in states if state.unpowered]
    if supply is not None and supply.is_computed and unpowered:
        what = f"state `{show(unpowered[0].name)}` is `unpowered`, and the hold-up hangs on a `capacitor`"
        why = "what is drawn until the power is off isn't reckoned"
        notes.complain(unpowered[0].at, what, why, "state it, such as `hold-up: 5 ms`", also=supply.at)
    cut_off = supply.cut_off if supply is not None else None
    if supply is None or cut_off is None or cut_off.off is None:
        return
    what = "`cut-off` of `supply` stays off"
    if supply.latch is not None:
        why, cure = "two switches would feed one device, in a row", "take one of the two out"
        notes.complain(cut_off.at, f"{what}, and there is a `latch`", why, cure, also=supply.latch.at)
        return
    if not unpowered:
        why, cure = (
            "it isn't said in which state the device then is",
            "mark the state that is off with `unpowered: true`",
        )
        notes.complain(cut_off.at, f"{what}, and no state is `unpowered`", why, cure)
    for state in unpowered:
        for line in state.transitions[:1]:
            what, why = f"`{show(line.gesture)}` in state `{show(state.name)}`", "only the power chip acts there"
            cure = "take the line out; `switched on by` of `cut-off` says what brings power back"
            notes.complain(line.at, what, why, cure, also=state.at)


def check_resets(supply: Supply | None, supervisor: Supervisor | None, power_up: PowerUp | None, notes: Notes) -> None:
    """Note what resets the device where nothing says how it then starts."""
    if power_up is None and supply is not None and supply.cut_off is not None:
        _complain(supply.cut_off.at, "`cut-off` of `supply`", notes)
    if power_up is None and supervisor is not None:
        _complain(supervisor.at, "`supervisor`", notes)


def _complain(at: Place, what: str, notes: Notes) -> None:
    why, cure = "it isn't said how the device then starts", "add such as `power up: {takes: 70 ms ± 10 ms}`"
    notes.complain(at, f"{what}, and the spec has no `power up`", why, cure)
