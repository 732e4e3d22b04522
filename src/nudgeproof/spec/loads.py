"""The sections `loads`, what draws current and when, and `use`, how the device is used in a day."""

from __future__ import annotations

from fractions import Fraction
from typing import Final

from nudgeproof.quantities import Band, Kind, seconds
from nudgeproof.spec.amounts import read_band_key, read_positive_key, read_quantity_key, read_share_key
from nudgeproof.spec.conditions import read_condition
from nudgeproof.spec.electrical import ALWAYS, PRESSED, STARTING, WHILE, WRITING, Day, Drain, Electricity
from nudgeproof.spec.fields import (
    Found,
    Keys,
    TimeWanted,
    describe,
    place_value,
    read_choice,
    read_list,
    read_mapping,
    read_name,
    read_span,
    read_yes,
    refer,
    sort_keys,
)
from nudgeproof.spec.names import Names
from nudgeproof.spec.nodes import Mapping, Words
from nudgeproof.spec.notes import Notes, show, suggest
from nudgeproof.spec.types import Group
from nudgeproof.supply.loads import Load
from nudgeproof.units import MICROSECONDS, Form

_KINDS: Final = ("draws", "power", "resistor")
_EXAMPLE: Final = "{led: 2.1 V, resistor: 47 ohm ± 5 %, in: [glowing]}"
_QUANTITIES: Final = (
    ("draws", Kind.CURRENT, "it is the current that it draws"),
    ("power", Kind.POWER, "it is the power that it draws"),
    ("resistor", Kind.RESISTANCE, "its current follows from that"),
    ("led", Kind.VOLTAGE, "it is the forward voltage of the LED"),
    ("peak", Kind.CURRENT, "it is its largest current"),
    ("needs", Kind.VOLTAGE, "it is the voltage below which it does nothing"),
)
_PULSE: Final = TimeWanted((Form.EXACT, Form.UP_TO), "it is how long a peak lasts at most", "2 ms", least_us=1)
_HOURS: Final = TimeWanted((Form.EXACT,), "it is how long the device is in that state in a day", "90 min", least_us=1)
_DAY: Final = MICROSECONDS["d"]
_MOST: Final = 10_000_000


def read_loads(found: Found, names: Names, groups: tuple[Group, ...], notes: Notes) -> tuple[Drain, ...]:
    """The section `loads`."""
    mapping = read_mapping(found, "`loads`", f"loads: {{lamp: {_EXAMPLE}}}", notes)
    drains = (
        _read_drain(Found(*entry), names, groups, notes) for entry in (mapping.entries if mapping is not None else ())
    )
    return tuple(drain for drain in drains if drain is not None)


def _read_drain(found: Found, names: Names, groups: tuple[Group, ...], notes: Notes) -> Drain | None:
    name, at = read_name(found.key, "load", notes), found.key.place
    owner = f"load `{show(found.key.text)}`"
    mapping = read_mapping(found, owner, _EXAMPLE, notes)
    if mapping is None:
        return None
    known = (*_KINDS, "led", "share", "peak", "pulse", "needs", "in", "if", "while", "at most", "works on")
    keys = sort_keys(mapping, at, owner, known, (), notes)
    load = _read_load(name or "", keys, owner, notes)
    states: tuple[str, ...] = ()
    if "in" in keys.found:
        one, why = keys.found["in"], "it names the states in which the load is on"
        example = f"in: [{names.states[0] if names.states else 'glowing'}]"
        for word in read_list(one.value, one.key.place, f"`in` of {owner}", why, example, notes):
            refer(word, names.states, "state", notes)
            inside = next((group.states for group in groups if group.name == word.text), (word.text,))
            states += tuple(state for state in inside if state not in states)
    condition = read_condition(keys.found["if"], owner, names, notes) if "if" in keys.found else None
    when, button = _read_while(keys, owner, names, notes)
    if when == STARTING and (states or condition is not None):
        what, why = (
            f"{owner} is on `while: starting`, and only in some states",
            "before the firmware runs it isn't in any",
        )
        notes.complain(keys.found["while"].key.place, what, why, "take `in` and `if` out")
    why = "it is what it may carry"
    most = read_quantity_key(keys.found.get("at most"), owner, Kind.CURRENT, why, notes)
    works_on = keys.found.get("works on")
    why = "it says whether doing less and less at low voltage is meant"
    dims = works_on is not None and read_yes(works_on, f"`works on` of {owner}", why, notes)
    if name is None or load is None:
        return None
    allowed = condition.allowed if condition is not None else ()
    return Drain(load, states, allowed, when, button, most, bool(dims), at)


def _read_load(name: str, keys: Keys, owner: str, notes: Notes) -> Load | None:
    stated = [key for key in _KINDS if key in keys.found]
    if "led" in keys.found and "resistor" not in keys.found:
        if "resistor" not in keys.guessed:
            what, why = f"{owner} has `led`, and no `resistor`", "its current follows from the resistor before it"
            notes.complain(keys.found["led"].key.place, what, why, "add such as `resistor: 47 ohm ± 5 %`")
        return None
    why = "a load is a current, a power, a resistor, or an LED behind a resistor"
    if len(stated) != 1 and not keys.guessed.intersection(_KINDS):
        told = " and ".join(f"`{key}`" for key in stated)
        what = f"{owner} has {told or 'neither `draws` nor `power` nor `resistor`'}"
        notes.complain(keys.at, what, why, "state one of them, such as `draws: 9 mA` or `led: 2.1 V, resistor: 47 ohm`")
        return None
    bands: dict[str, Band | None] = {}
    for key, kind, means in _QUANTITIES:
        read = read_positive_key if key in ("resistor", "led", "needs") else read_band_key
        bands[key] = read(keys.found.get(key), owner, kind, means, notes)
    share = read_share_key(keys.found.get("share"), owner, "it is how much of the time its pulses take", notes)
    if share == 0:
        notes.complain(
            place_value(keys.found["share"]),
            f"`share` of {owner} is nought",
            "it would never be on",
            "write more, or take it out",
        )
    pulse = read_span(keys.found.get("pulse"), owner, _PULSE, notes)
    if pulse is not None and "peak" not in keys.found and "share" not in keys.found:
        what, why = f"{owner} has `pulse`, and neither `peak` nor `share`", "a steady load has no pulses"
        notes.complain(keys.found["pulse"].key.place, what, why, "add such as `peak: 30 mA` or `share: 50 %`")
    if any(key in keys.found and bands.get(key) is None for key in bands):
        return None
    peak, mean = bands["peak"], bands["draws"]
    if peak is not None and mean is not None and peak.hi < mean.hi:
        what = f"`peak` of {owner} is {peak}, and it draws {mean}"
        notes.complain(place_value(keys.found["peak"]), what, "a peak is more than the mean", "check the two")
    return Load(
        name=name,
        current=mean,
        resistor=bands["resistor"],
        forward=bands["led"],
        power=bands["power"],
        share=share or Fraction(1),
        peak=peak,
        pulse=None if pulse is None else seconds(Fraction(int(pulse.hi), 1_000_000)),
        needs=bands["needs"],
    )


def _read_while(keys: Keys, owner: str, names: Names, notes: Notes) -> tuple[str, str]:
    found = keys.found.get("while")
    if found is None:
        return ALWAYS, ""
    why = "it says when the load draws"
    text = found.value.text.strip() if isinstance(found.value, Words) else ""
    if text.endswith(f" {PRESSED}"):
        button = text.removesuffix(f" {PRESSED}").strip()
        refer(Words(button, place_value(found), True), names.buttons, "button", notes)
        return PRESSED, button
    buttons = names.buttons or ("pad",)
    options = (*WHILE, f"{buttons[0]} {PRESSED}")
    return read_choice(found, owner, options, (), why, notes) or ALWAYS, ""


def check_loads(
    electricity: Electricity | None, loads: tuple[Drain, ...], found: Found | None, writes: bool, notes: Notes
) -> None:
    """Note loads without cells, cells that nothing draws from, and what draws while a memory is written that isn't there."""
    for load in loads:
        if load.when == WRITING and not writes:
            what, why = (
                f"load `{show(load.load.name)}` is on `while: writing`",
                "the spec has no `memory`: nothing is written",
            )
            notes.complain(load.at, what, why, "add `memory`, or take the load out")
    if found is not None and loads and electricity is None:
        what, why = "`loads`, and `supply` has no `cells`", "what a load does follows from what feeds it"
        cure = (
            "add such as `cells: {fresh: {open: 3.1 V, resistance: 12 ohm}, spent: {open: 2.6 V, resistance: 60 ohm}}`"
        )
        notes.complain(found.key.place, what, why, f"{cure} to `supply`")
    if electricity is not None and not loads:
        why, cure = (
            "then nothing pulls their voltage down",
            "add such as `loads: {processor: {draws: 1 mA, while: running}}`",
        )
        notes.complain(electricity.cells_at, "`cells` of `supply`, and the spec has no `loads`", why, cure)


def read_use(
    found: Found, names: Names, initial: str, sources: tuple[str, ...] | None, notes: Notes
) -> tuple[Day, ...]:
    """The section `use`; `sources` None when the surroundings aren't known."""
    example = f"use: {{evenings: {{{names.states[0] if names.states else 'glowing'}: 90 min, presses: 30}}}}"
    mapping = read_mapping(found, "`use`", example, notes)
    days = (_read_day(Found(*entry), names, initial, sources, notes) for entry in (mapping.entries if mapping else ()))
    return tuple(day for day in days if day is not None)


def _read_day(found: Found, names: Names, initial: str, sources: tuple[str, ...] | None, notes: Notes) -> Day | None:
    name, at = read_name(found.key, "use", notes), found.key.place
    owner = f"use `{show(found.key.text)}`"
    if isinstance(found.value, Mapping) and not found.value.entries:  # nobody uses it: a day in a drawer
        return None if name is None else Day(name, (), initial, 0, (), None, at)
    mapping = read_mapping(found, owner, "{glowing: 90 min, presses: 30}", notes)
    if mapping is None:
        return None
    fixed = ("presses", "times", "memory for")
    states = names.states or tuple(key.text for key, _ in mapping.entries)
    keys = sort_keys(mapping, at, owner, (*fixed, *(state for state in states if state not in fixed)), (), notes)
    hours = []
    for key in keys.found:
        if key not in fixed and (span := read_span(keys.found[key], owner, _HOURS, notes)) is not None:
            hours.append((names.entered(key), span.lo))
    if sum(us for _, us in hours) > _DAY:
        notes.complain(at, f"{owner} is longer than a day", "it is what happens in one", "write shorter times")
    presses = read_count(keys.found.get("presses"), owner, "it is how many gestures are made in a day", notes) or 0
    times = []
    if "times" in keys.found:
        inner = read_mapping(keys.found["times"], f"`times` of {owner}", "times: {knocks: 400}", notes)
        for key_, value in inner.entries if inner is not None else ():
            if sources is not None and key_.text not in sources:
                what, why = f"there is no source `{show(key_.text)}`", "each source is named under `surroundings`"
                notes.complain(key_.place, what, why, suggest(key_.text, sources, "sources"))
            count = read_count(Found(key_, value), f"`times` of {owner}", "it is how often it acts in a day", notes)
            times.append((key_.text, count or 0))
    years = keys.found.get("memory for")
    lasts = None if years is None else _read_years(years, owner, notes)
    return None if name is None else Day(name, tuple(hours), initial, presses, tuple(times), lasts, at)


def read_count(found: Found | None, owner: str, why: str, notes: Notes) -> int | None:
    """A whole number from 1; None without a problem when there is no such key."""
    if found is None:
        return None
    text = found.value.text.replace(" ", "") if isinstance(found.value, Words) else ""
    if text.isascii() and text.isdecimal() and int(text[:9]) >= 1 and int(text[:9]) == int(text) and int(text) <= _MOST:
        return int(text)
    what = f"`{show(found.key.text)}` of {owner} is {describe(found.value)}"
    notes.complain(place_value(found), what, why, f"write a whole number from 1 to {_MOST:,}".replace(",", " "))
    return None


def _read_years(found: Found, owner: str, notes: Notes) -> Fraction | None:
    text = found.value.text.strip() if isinstance(found.value, Words) else ""
    number, _, unit = text.partition(" ")
    if unit in ("year", "years") and number.isascii() and number.isdecimal() and 1 <= int(number[:4]) <= 100:
        return Fraction(int(number))
    why = "it is how long the memory must last with such a day"
    what = f"`memory for` of {owner} is {describe(found.value)}"
    notes.complain(place_value(found), what, why, "write such as `memory for: 5 years`")
    return None
