"""What a loss of power does to the device: the sections `memory`, `power up` and `supply`."""

from __future__ import annotations

import re
from typing import Final

from nudgeproof.diagnostics import Place
from nudgeproof.quantities import Kind
from nudgeproof.spec.amounts import read_quantity_key
from nudgeproof.spec.cells import ELECTRICAL, read_electricity
from nudgeproof.spec.fields import (
    Found,
    Keys,
    TimeWanted,
    describe,
    place_value,
    read_choice,
    read_list,
    read_mapping,
    read_span,
    read_time_words,
    read_words,
    read_yes,
    refer,
    refuse_later,
    sort_keys,
)
from nudgeproof.spec.names import Names
from nudgeproof.spec.nodes import Words
from nudgeproof.spec.notes import Notes, show, suggest
from nudgeproof.spec.powered import Latch
from nudgeproof.spec.resets import read_causes, read_cut_off
from nudgeproof.spec.types import READ_AS_IS, RECOGNISED, Memory, PowerUp, State, Supply
from nudgeproof.units import Form, Span

GUARDS: Final = ("none", "checksum", "two copies")
STATE: Final = "state"
BUTTON_HELD: Final = ("ignored until released", "counts as a press", "counts from power on")
_WRITING: Final = "while writing"

_VARYING: Final = (Form.EXACT, Form.RANGE, Form.PLUS_MINUS)
_QUIET: Final = TimeWanted(_VARYING, "it is how long nothing must change until it is written", "2 s", least_us=1)
_WRITE: Final = TimeWanted(
    (*_VARYING, Form.UP_TO), "it is how long one write takes", "3.4 ms ± 0.2 ms", reaches_us=1, unit="write takes"
)
_LOST: Final = TimeWanted((Form.EXACT,), "it is how old a change may be that needn't be kept", "the last 10 ms")
_TAKES: Final = TimeWanted(
    (*_VARYING, Form.UP_TO), "it is the time from power to running firmware", "70 ms ± 10 ms", unit="takes"
)
_HOLD_UP: Final = TimeWanted(_VARYING, "it is how long the device runs on without its cell", "5 ms", unit="hold-up")

_LETS_GO: Final = TimeWanted(
    (*_VARYING, Form.UP_TO), "it is how long it takes to open the switch", "up to 5 ms", unit="lets go"
)

_WRITTEN: Final = re.compile(r"after (?P<time>.+) of quiet")
_MAY_LOSE: Final = re.compile(r"the last (?P<time>.+)")


def read_memory(found: Found, variables: tuple[str, ...] | None, notes: Notes) -> Memory | None:
    """The section `memory`; `variables` None when they are not known."""
    owner, at = "`memory`", found.key.place
    mapping = read_mapping(found, owner, "memory: {keeps: state, write takes: 4 ms, guard: two copies}", notes)
    if mapping is None:
        return None
    known = (
        "keeps",
        "written",
        "write takes",
        "guard",
        "may lose",
        "old layout",
        _WRITING,
        "endures",
        "write needs",
        _ERASES,
    )
    keys = sort_keys(mapping, at, owner, known, ("records", "order", "slots"), notes)
    keeps = read_keeps(keys, owner, variables, notes)
    quiet = _read_written(keys, at, notes)
    write_takes = keys.require("write takes", owner, _WRITE.meaning, f"write `write takes: {_WRITE.example}`", notes)
    write = read_span(write_takes, owner, _WRITE, notes)
    why = "it says what a write that is cut short leaves behind"
    guarded = keys.require("guard", owner, why, "write `guard: none`, `guard: checksum` or `guard: two copies`", notes)
    guard = None if guarded is None else read_choice(guarded, owner, GUARDS, ("copies unchecked",), why, notes)
    lost_us = _read_may_lose(keys, at, notes)
    why = "it says whether the firmware sees presses while it writes"
    writing = keys.found.get(_WRITING)
    deaf = writing is not None and read_choice(writing, owner, ("listens", "deaf"), (), why, notes) == "deaf"
    if writing is None and _WRITING not in keys.guessed:
        notes.assume(f"{_WRITING}: listens (memory)", at)
    if write is None or guard is None:
        return None
    old = ""
    if "old layout" in keys.found:
        why = "it says what is made of a memory that an older firmware wrote"
        old = read_choice(keys.found["old layout"], owner, (RECOGNISED, READ_AS_IS), (), why, notes) or ""
    endures = _read_endures(keys, owner, notes)
    why = "it is the lowest voltage at which it is written"
    needs = read_quantity_key(keys.found.get("write needs"), owner, Kind.VOLTAGE, why, notes)
    return Memory(
        keeps, quiet, write, guard, lost_us, at, old, deaf, endures, needs, _read_erases(keys, owner, guard, notes)
    )


def _read_erases(keys: Keys, owner: str, guard: str, notes: Notes) -> bool:
    """Whether a write begins with an erase; that is of a record, or of the copy that is written."""
    found = keys.found.get(_ERASES)
    if found is None:
        return False
    why = "it says whether a write that was cut may also leave the record blank"
    erases = bool(read_yes(found, f"`{_ERASES}` of {owner}", why, notes))
    if erases and guard == "none":
        what, why = (
            f"{owner} has `{_ERASES}`, and `guard: none`",
            "each thing is a cell of its own, which can't be erased",
        )
        notes.complain(found.key.place, what, why, "take it out, or write `guard: checksum`")
    return erases


_ERASES: Final = "erases first"
_ENDURES: Final = re.compile(r"(?P<number>[0-9][0-9 ]*) writes")


def _read_endures(keys: Keys, owner: str, notes: Notes) -> int | None:
    found = keys.found.get("endures")
    if found is None:
        return None
    text = found.value.text.strip() if isinstance(found.value, Words) else ""
    match = _ENDURES.fullmatch(text)
    number = 0 if match is None else int(match["number"].replace(" ", "")[:20])
    if not 1 <= number <= 10**16:
        what, why = f"`endures` of {owner} is {describe(found.value)}", "it is how many writes a cell bears"
        notes.complain(place_value(found), what, why, "write such as `endures: 100 000 writes`")
        return None
    return number


def read_keeps(keys: Keys, owner: str, variables: tuple[str, ...] | None, notes: Notes) -> tuple[str, ...]:
    """The key `keeps` of a section; `variables` None when they are not known."""
    why = "it names what is still there after a loss of power"
    example = f"keeps: [{', '.join((STATE, *(variables or ())[:1]))}]"
    found = keys.require("keeps", owner, why, f"write `{example}`", notes)
    if found is None:
        return ()
    words = read_list(found.value, found.key.place, f"`keeps` of {owner}", why, example, notes)
    for word in words:
        if word.text == STATE and variables is not None and STATE in variables:
            why, cure = "the state of the device and a variable have this name", "give the variable another name"
            notes.complain(word.place, f"`keeps` of {owner} names `state`", why, cure)
        elif word.text != STATE and variables is not None and word.text not in variables:
            what, why = f"there is no variable `{show(word.text)}`", "memory keeps the state and variables"
            notes.complain(word.place, what, why, suggest(word.text, (STATE, *variables), "what it can keep"))
    return tuple(word.text for word in words)


def _read_written(keys: Keys, at: Place, notes: Notes) -> Span | None:
    """How long it must be quiet before a write, None for `at once`."""
    found = keys.found.get("written")
    if found is None:
        if "written" not in keys.guessed:
            notes.assume("written: at once (memory)", at)
        return None
    subject, cure = "`written` of `memory`", "write `at once` or `after 2 s of quiet`"
    text = found.value.text if isinstance(found.value, Words) else ""
    if text == "at once":
        return None
    if text == "on leaving":
        refuse_later("`written: on leaving`", place_value(found), notes)
        return None
    if match := _WRITTEN.fullmatch(text):
        cure = "write `after 2 s of quiet`"
        quantity = read_time_words(match["time"], place_value(found), subject, _QUIET, cure, notes)
        return None if quantity is None else quantity.span
    why = "it says when a change is written"
    notes.complain(place_value(found), f"{subject} is {describe(found.value)}", why, cure)
    return None


def _read_may_lose(keys: Keys, at: Place, notes: Notes) -> int:
    """How old a change may be that is lost, in microseconds."""
    found = keys.found.get("may lose")
    if found is None:
        if "may lose" not in keys.guessed:
            notes.assume("may lose: nothing (memory)", at)
        return 0
    subject, cure = "`may lose` of `memory`", "write `nothing` or `the last 10 ms`"
    text = found.value.text if isinstance(found.value, Words) else ""
    if text == "nothing":
        return 0
    if match := _MAY_LOSE.fullmatch(text):
        quantity = read_time_words(match["time"], place_value(found), subject, _LOST, cure, notes)
        return 0 if quantity is None else quantity.span.lo
    why = "it says what may be gone after a loss of power"
    notes.complain(place_value(found), f"{subject} is {describe(found.value)}", why, cure)
    return 0


def read_power_up(found: Found, names: Names, initial: str, notes: Notes) -> PowerUp | None:
    """The section `power up`; `initial` is the state the device starts in."""
    owner, at = "`power up`", found.key.place
    mapping = read_mapping(found, owner, f"power up: {{takes: {_TAKES.example}}}", notes)
    if mapping is None:
        return None
    keys = sort_keys(
        mapping, at, owner, ("takes", "if blank", "if damaged", "button held", "starts in", "causes"), (), notes
    )
    needed = keys.require("takes", owner, _TAKES.meaning, f"write `takes: {_TAKES.example}`", notes)
    takes = read_span(needed, owner, _TAKES, notes)
    if_blank = _read_start(keys, "if blank", "memory holds nothing yet", initial, names, notes)
    if_damaged = _read_start(keys, "if damaged", "memory holds nothing readable", if_blank, names, notes)
    held, held_ignored, from_power = keys.found.get("button held"), True, False
    if held is not None:
        why = "it says what a button that is down at the start does"
        told = read_choice(held, owner, BUTTON_HELD, (), why, notes)
        held_ignored, from_power = told == BUTTON_HELD[0], told == BUTTON_HELD[2]
    elif "button held" not in keys.guessed:
        notes.assume("button held: ignored until released (power up)", at)
    starts_in, left = read_causes(keys, names, notes)
    if takes is None:
        return None
    return PowerUp(takes, if_blank, if_damaged, held_ignored, at, starts_in, left, from_power)


def _read_start(keys: Keys, key: str, when: str, default: str, names: Names, notes: Notes) -> str:
    """The state that `key` names; `default`, which is then an assumption, if there is no such key."""
    found = keys.found.get(key)
    if found is None:
        if key not in keys.guessed and default:
            notes.assume(f"{key}: {default} (power up)", keys.at)
        return default
    states = names.states
    why, example = f"it is the state the device starts in when {when}", f"{key}: {states[0] if states else 'stowed'}"
    words = read_words(found.value, found.key.place, f"`{key}` of `power up`", why, example, notes)
    return "" if words is None else names.entered(refer(words, states, "state", notes))


def read_supply(found: Found, names: Names, notes: Notes) -> Supply | None:
    """The section `supply`."""
    owner = "`supply`"
    mapping = read_mapping(found, owner, f"supply: {{hold-up: {_HOLD_UP.example}}}", notes)
    if mapping is None:
        return None
    buttons = names.buttons
    keys = sort_keys(mapping, found.key.place, owner, ("hold-up", "latch", "cut-off", *ELECTRICAL), (), notes)
    electricity = read_electricity(keys, names, notes)
    reset = electricity.reset if electricity is not None else None
    hold_up, is_computed = _read_hold_up(keys, owner, reset.rules.responds if reset is not None else None, notes)
    latch = _read_latch(keys.found["latch"], buttons, notes) if "latch" in keys.found else None
    cut_off = read_cut_off(keys.found["cut-off"], buttons, notes) if "cut-off" in keys.found else None
    if hold_up is None:
        return None
    return Supply(hold_up, found.key.place, latch, cut_off, electricity, is_computed)


def _read_hold_up(keys: Keys, owner: str, responds: Span | None, notes: Notes) -> tuple[Span | None, bool]:
    """The hold-up as stated; else whether it is to be reckoned from a capacitor. Without one it is as long as the brown-out
    reset takes to respond.
    """
    if "hold-up" in keys.found or not {"cells", "capacitor"}.intersection((*keys.found, *keys.guessed)):
        needed = keys.require("hold-up", owner, _HOLD_UP.meaning, f"write `hold-up: {_HOLD_UP.example}`", notes)
        return read_span(needed, owner, _HOLD_UP, notes), False
    if "capacitor" not in keys.found:
        if "hold-up" not in keys.guessed:
            notes.assume("hold-up: 0 ms, without a capacitor (supply)", keys.at)
        return responds or Span(0, 0), False
    if "brown-out" not in keys.found and "hold-up" not in keys.guessed:
        why, cure = (
            "how long a capacitor holds it up hangs on the voltage at which it is reset",
            "add `hold-up` or `brown-out`",
        )
        notes.complain(keys.at, f"{owner} has a `capacitor`, and neither `hold-up` nor `brown-out`", why, cure)
        return None, False
    return Span(0, 0), True


def _read_latch(found: Found, buttons: tuple[str, ...] | None, notes: Notes) -> Latch | None:
    owner = "`latch` of `supply`"
    example = f"{{closed by: [{buttons[0] if buttons else 'key'}], lets go: {_LETS_GO.example}}}"
    mapping = read_mapping(found, owner, example, notes)
    if mapping is None:
        return None
    keys = sort_keys(mapping, found.key.place, owner, ("closed by", "lets go"), (), notes)
    why, cure = "only a key brings power back", f"write `closed by: [{buttons[0] if buttons else 'key'}]`"
    needed = keys.require("closed by", owner, why, cure, notes)
    words = read_list(needed.value, needed.key.place, f"`closed by` of {owner}", why, cure, notes) if needed else ()
    timed = keys.require("lets go", owner, _LETS_GO.meaning, f"write `lets go: {_LETS_GO.example}`", notes)
    lets_go = read_span(timed, owner, _LETS_GO, notes)
    closed_by = tuple(refer(word, buttons, "button", notes) for word in words)
    return None if lets_go is None or not closed_by else Latch(closed_by, lets_go, found.key.place)


def check_latch(supply: Supply | None, power_up: PowerUp | None, states: tuple[State, ...], notes: Notes) -> None:
    """Note states without power where no latch could take it away, and a latch that no state lets go of."""
    unpowered = [state for state in states if state.unpowered]
    latch = supply.latch if supply is not None else None
    if latch is None and supply is not None and supply.cut_off is not None and supply.cut_off.off is not None:
        return
    if latch is None:
        for state in unpowered:
            what, why = f"state `{show(state.name)}` is `unpowered`", "nothing in the spec switches the power off"
            notes.complain(
                state.at, what, why, "add `supply: {hold-up: 5 ms, latch: {closed by: [key], lets go: 5 ms}}`"
            )
        return
    if not unpowered:
        why, cure = "the firmware would never let go of it", "mark the state that is off with `unpowered: true`"
        notes.complain(latch.at, "`latch` of `supply`, and no state is `unpowered`", why, cure)
    if power_up is None:
        why, cure = "a key starts the device, and it isn't said how", "add such as `power up: {takes: 70 ms ± 10 ms}`"
        notes.complain(latch.at, "`latch` of `supply`, and the spec has no `power up`", why, cure)
