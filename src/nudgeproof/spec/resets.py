"""What resets the device although its cell is there: `cut-off` of `supply`, and the section `supervisor`."""

from __future__ import annotations

from typing import Final

from nudgeproof.diagnostics import Place
from nudgeproof.spec.fields import (
    Found,
    Keys,
    TimeWanted,
    read_choice,
    read_mapping,
    read_span,
    read_words,
    refer,
    sort_keys,
)
from nudgeproof.spec.names import Names
from nudgeproof.spec.notes import Notes
from nudgeproof.spec.powered import CutOff, Supervisor
from nudgeproof.spec.types import CAUSES, CELL_CAUSE, CUT_OFF_CAUSE, SUPERVISOR_CAUSE, PowerUp, Supply
from nudgeproof.units import Form

_VARYING: Final = (Form.EXACT, Form.RANGE, Form.PLUS_MINUS)
_FOR: Final = TimeWanted(_VARYING, "it is how long the button is down until the chip resets", "8 s ± 1 s", least_us=1)
_AFTER: Final = TimeWanted(
    _VARYING, "it is how long it waits to be fed until it resets the device", "8 s ± 20 %", least_us=1
)
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
    keys = sort_keys(mapping, found.key.place, owner, ("held", "for"), (), notes)
    why, example = "it is the button that the power chip watches", f"held: {button}"
    held = keys.require("held", owner, why, f"write `{example}`", notes)
    words = None if held is None else read_words(held.value, held.key.place, f"`held` of {owner}", why, example, notes)
    name = "" if words is None else refer(words, buttons, "button", notes)
    timed = keys.require("for", owner, _FOR.meaning, f"write `for: {_FOR.example}`", notes)
    after = read_span(timed, owner, _FOR, notes)
    return None if after is None or not name else CutOff(name, after, found.key.place)


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


def check_resets(supply: Supply | None, supervisor: Supervisor | None, power_up: PowerUp | None, notes: Notes) -> None:
    """Note what resets the device where nothing says how it then starts."""
    if power_up is None and supply is not None and supply.cut_off is not None:
        _complain(supply.cut_off.at, "`cut-off` of `supply`", notes)
    if power_up is None and supervisor is not None:
        _complain(supervisor.at, "`supervisor`", notes)


def _complain(at: Place, what: str, notes: Notes) -> None:
    why, cure = "it isn't said how the device then starts", "add such as `power up: {takes: 70 ms ± 10 ms}`"
    notes.complain(at, f"{what}, and the spec has no `power up`", why, cure)
