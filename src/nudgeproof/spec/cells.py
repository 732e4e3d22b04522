"""The electrical keys of `supply`: `cells`, `regulator`, `capacitor`, `brown-out` and what hangs on them."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from typing import Final

from nudgeproof.diagnostics import Place
from nudgeproof.quantities import Amount, Band, Kind, amperes, just, ohms, read_amount, show, volts
from nudgeproof.spec.amounts import (
    read_band_key,
    read_positive_key,
    read_quantity_key,
    read_share_key,
    read_share_text,
)
from nudgeproof.spec.electrical import Electricity, Reset
from nudgeproof.spec.fields import (
    Found,
    Keys,
    TimeWanted,
    describe,
    place_value,
    read_choice,
    read_mapping,
    read_span,
    read_words,
    refer,
    sort_keys,
)
from nudgeproof.spec.names import Names
from nudgeproof.spec.nodes import Words
from nudgeproof.spec.notes import Notes
from nudgeproof.spec.notes import show as show_text
from nudgeproof.supply.brown_out import BrownOut
from nudgeproof.supply.cells import Cells, Level, resistance_across, resistance_of
from nudgeproof.supply.rail import BOOST, BUCK_BOOST, KINDS, LINEAR, Capacitor, Regulator, Source
from nudgeproof.units import Form, NotAQuantity, Span

ELECTRICAL: Final = (
    "cells",
    "regulator",
    "capacitor",
    "brown-out",
    "works from",
    "rides through",
    "rises in",
    "at most",
)

_USED: Final = re.compile(r"(?P<share>.+%) used")
_WITH: Final = re.compile(r"with (?P<load>.+)")
_CELLS: Final = "cells: {fresh: {open: 3.1 V, resistance: 12 ohm}, spent: {open: 2.6 V, resistance: 60 ohm}}"
_RESPONDS: Final = TimeWanted(
    (Form.EXACT, Form.RANGE, Form.UP_TO, Form.PLUS_MINUS),
    "it is how long the voltage must be below the level until it resets",
    "2 us",
)
_RIDES: Final = TimeWanted(
    (Form.EXACT, Form.UP_TO), "it is the longest loss of contact that must go unnoticed", "up to 20 ms", least_us=1
)
_RISES: Final = TimeWanted(
    (Form.EXACT, Form.RANGE, Form.UP_TO, Form.PLUS_MINUS),
    "it is how long the voltage takes to be all there, once cells are put in",
    "up to 80 ms",
    reaches_us=1,
)
_MOST_TRIES: Final = 99


def read_electricity(keys: Keys, names: Names, notes: Notes) -> Electricity | None:
    """The electrical keys of the section `supply`; None if there are none, or after a problem."""
    found = keys.found
    there = [found[key] for key in ELECTRICAL if key in found]
    if not there:
        return None
    if "cells" not in found:
        if "cells" not in keys.guessed:
            why = "without the cells no voltage can be reckoned"
            notes.complain(
                there[0].key.place, f"`supply` has `{there[0].key.text}`, and no `cells`", why, f"add `{_CELLS}`"
            )
        return None
    cells, until = _read_cells(found["cells"], notes)
    regulator = _read_regulator(found["regulator"], notes) if "regulator" in found else None
    capacitor = _read_capacitor(found["capacitor"], notes) if "capacitor" in found else None
    reset = _read_reset(found["brown-out"], names, notes) if "brown-out" in found else None
    works = read_quantity_key(found.get("works from"), "`supply`", Kind.VOLTAGE, "it is the processor's lowest", notes)
    most = read_quantity_key(found.get("at most"), "`supply`", Kind.CURRENT, "it is what the processor may draw", notes)
    rides = read_span(found.get("rides through"), "`supply`", _RIDES, notes)
    rises = read_span(found.get("rises in"), "`supply`", _RISES, notes)
    at = keys.at
    if works is None and "works from" not in found:
        notes.assume(
            "works from: not stated, so what happens below the processor's lowest voltage isn't asked (supply)", at
        )
    if cells is None:
        return None
    if "regulator" not in found or regulator is not None:
        _check_voltages(found, cells, regulator, reset, works, notes)
    source = Source(cells, regulator, capacitor)
    limit = None if rides is None else int(rides.hi)
    return Electricity(source, until, reset, works, limit, most, at, found["cells"].key.place, rises)


def _check_voltages(
    found: dict[str, Found],
    cells: Cells,
    regulator: Regulator | None,
    reset: Reset | None,
    works: Amount | None,
    notes: Notes,
) -> None:
    """Note what fresh cells are too weak for."""
    fresh = cells.at(Fraction(0)).open.hi
    told, rail = f"fresh cells have {show(fresh)}", fresh
    if regulator is not None and (regulator.kind != LINEAR or regulator.makes.hi < fresh):
        rail = max(regulator.makes.hi, fresh) if regulator.kind == BOOST else regulator.makes.hi
        told = f"the regulator makes {show(regulator.makes.hi)}" if rail != fresh else told
    if regulator is not None and regulator.works_from > fresh:
        what = f"the regulator works from {show(regulator.works_from)}, and fresh cells have {show(fresh)}"
        notes.complain(found["regulator"].key.place, what, "it could never work", "check both")
    if works is not None and works > rail:
        what = f"`works from` is {show(works)}, and {told}"
        notes.complain(place_value(found["works from"]), what, "the device could never run", "check both")
    if reset is not None and reset.rules.lets_go.lo > rail:
        what = f"the brown-out reset lets go at {show(reset.rules.lets_go.lo)}, and {told}"
        notes.complain(reset.at, what, "the device could never start", "check both")


def _read_cells(found: Found, notes: Notes) -> tuple[Cells | None, Fraction]:
    owner = "`cells` of `supply`"
    mapping = read_mapping(found, owner, _CELLS, notes)
    if mapping is None:
        return None, Fraction(1)
    others = [key.text for key, _ in mapping.entries if _USED.fullmatch(key.text)]
    keys = sort_keys(
        mapping, found.key.place, owner, ("fresh", "spent", "charge", "loses a year", "used until", *others), (), notes
    )
    levels: list[tuple[Level | None, Place]] = []
    for key, example in (
        ("fresh", "{open: 3.1 V, resistance: 12 ohm}"),
        ("spent", "{open: 2.6 V, resistance: 60 ohm}"),
    ):
        why = "between the two the voltage falls and the resistance grows"
        one = keys.require(key, owner, why, f"write `{key}: {example}`", notes)
        if one is not None:
            levels.append((_read_level(one, Fraction(key == "spent"), notes), one.key.place))
    for key in others:
        place = keys.found[key].key.place
        share = read_share_text(key.removesuffix(" used"), f"`{show_text(key)}` of `cells`", place, notes)
        levels.append((None if share is None else _read_level(keys.found[key], share, notes), place))
    why = "it is what fresh cells hold"
    charge = read_quantity_key(keys.found.get("charge"), owner, Kind.CHARGE, why, notes)
    loses = read_share_key(keys.found.get("loses a year"), owner, "it is what they lose by lying", notes)
    until = read_share_key(
        keys.found.get("used until"), owner, "it is how far they are used until they are changed", notes
    )
    if until is None and "used until" not in keys.guessed:
        notes.assume("used until: 100 % (cells)", found.key.place)
    if until == 0:
        what, why = "`used until` of `cells` is nought", "then they are never used"
        notes.complain(place_value(keys.found["used until"]), what, why, "write a share such as `80 %`")
    sound = [(level, place) for level, place in levels if level is not None]
    if "fresh" not in keys.found or "spent" not in keys.found or len(sound) < len(levels):
        return None, Fraction(1)
    sound.sort(key=lambda one: one[0].used)
    if not _check_order(sound, notes):
        return None, Fraction(1)
    cells = Cells(tuple(level for level, _ in sound), charge, loses or Fraction(0))
    return cells, Fraction(1) if until is None else until


def _check_order(levels: list[tuple[Level, Place]], notes: Notes) -> bool:
    """Whether cells only get weaker; all comparisons rest on that."""
    for (before, first), (after, at) in pairwise(levels):
        if before.used == after.used:
            what = f"two lines of `cells` for {_share(before.used)} used"
            notes.complain(at, what, "each counts once", "take one out", also=first)
            return False
        rises = after.open.lo > before.open.lo or after.open.hi > before.open.hi
        if rises or after.resistance.lo < before.resistance.lo or after.resistance.hi < before.resistance.hi:
            values = (before.open, after.open) if rises else (before.resistance, after.resistance)
            span = f"from {_share(before.used)} to {_share(after.used)} used"
            what = f"{span} the cells get better: {values[0]}, then {values[1]}"
            why = "a cell's voltage never rises while it is used up, and its resistance never falls"
            notes.complain(at, what, why, "put the readings the other way round, or smooth them", also=first)
            return False
    return True


def _share(used: Fraction) -> str:
    return f"{float(used * 100):g} %"


def _read_level(found: Found, used: Fraction, notes: Notes) -> Level | None:
    owner = f"`{show_text(found.key.text)}` of `cells`"
    example = "{open: 3.1 V, resistance: 12 ohm}"
    mapping = read_mapping(found, owner, example, notes)
    if mapping is None:
        return None
    loaded = [key.text for key, _ in mapping.entries if _WITH.fullmatch(key.text)]
    keys = sort_keys(mapping, found.key.place, owner, ("open", "resistance", *loaded), (), notes)
    why = "it is the voltage without a load"
    needed = keys.require("open", owner, why, "write `open: 3.1 V`", notes)
    opened = read_positive_key(needed, owner, Kind.VOLTAGE, why, notes)
    stated = [*loaded, *(["resistance"] if "resistance" in keys.found else [])]
    if len(stated) > 1:
        what, why = f"{owner} has `{show_text(stated[0])}` and `{show_text(stated[1])}`", "one follows from the other"
        notes.complain(keys.found[stated[1]].key.place, what, why, "take one of the two out")
        return None
    if loaded:
        resistance = _read_loaded(keys.found[loaded[0]], owner, opened, notes)
    else:
        why = "without it no load would pull the voltage down"
        cure = "write `resistance: 12 ohm`, or a second reading such as `with 9 mA: 2.8 V`"
        needed = keys.require("resistance", owner, why, cure, notes)
        resistance = read_band_key(needed, owner, Kind.RESISTANCE, why, notes)
    return None if opened is None or resistance is None else Level(used, opened, resistance)


def _read_loaded(found: Found, owner: str, opened: Band | None, notes: Notes) -> Band | None:
    """The resistance from a second reading, with a load of a current or of a resistor."""
    why = "the two readings give the resistance of the cells"
    reading = read_band_key(found, owner, Kind.VOLTAGE, why, notes)
    text = found.key.text.removeprefix("with ")
    kind = Kind.RESISTANCE if re.search(r"ohm|Ω|\u2126", text) else Kind.CURRENT
    try:
        load = read_amount(text, kind)
    except NotAQuantity as error:
        subject = f"`{show_text(found.key.text)}` of {owner}"
        notes.complain(
            found.key.place, f"{subject}: {show_text(str(error), 120)}", why, "write such as `with 9 mA: 2.8 V`"
        )
        return None
    if opened is None or reading is None:
        return None
    find = resistance_of if kind is Kind.CURRENT else resistance_across
    if load.magnitude == 0:
        what = f"`{show_text(found.key.text)}` of {owner} is no load"
        notes.complain(found.key.place, what, why, "write such as `with 9 mA: 2.8 V`")
        return None
    try:
        # The lower reading of the one belongs to the lower of the other; which of the two falls more isn't said.
        ends = sorted((find(opened.lo, reading.lo, load), find(opened.hi, reading.hi, load)))
    except ValueError:
        what = f"{owner}: {reading} with a load, and {opened} without one"
        notes.complain(place_value(found), what, "a load pulls the voltage down", "check the two readings")
        return None
    return Band(*ends)


def _read_regulator(found: Found, notes: Notes) -> Regulator | None:
    owner = "`regulator` of `supply`"
    example = "{kind: boost, makes: 3.3 V, takes: 20 uA, efficiency: 80 to 90 %, works from: 0.9 V}"
    mapping = read_mapping(found, owner, f"regulator: {example}", notes)
    if mapping is None:
        return None
    known = ("kind", "makes", "takes", "drops", "efficiency", "works from")
    keys = sort_keys(mapping, found.key.place, owner, known, (), notes)
    why = "it says how the current that it takes follows from the one it gives"
    told = keys.require("kind", owner, why, "write `kind: linear`, `kind: boost` or `kind: buck-boost`", notes)
    kind = None if told is None else read_choice(told, owner, KINDS, (), why, notes)
    why = "it is the voltage that it makes"
    needed = keys.require("makes", owner, why, "write `makes: 3.3 V`", notes)
    makes = read_positive_key(needed, owner, Kind.VOLTAGE, why, notes)
    takes = read_band_key(keys.found.get("takes"), owner, Kind.CURRENT, "it is its own current", notes)
    if "takes" not in keys.found:
        notes.assume("takes: 0 uA (regulator)", found.key.place)
    drops = read_band_key(keys.found.get("drops"), owner, Kind.VOLTAGE, "it is what it needs on top", notes)
    works = read_quantity_key(keys.found.get("works from"), owner, Kind.VOLTAGE, "below that it stops", notes)
    low = high = Fraction(1)
    if kind == LINEAR and drops is None and "drops" not in keys.found:
        notes.assume("drops: 0 mV (regulator)", found.key.place)
    for other, key, told_why in (
        (LINEAR, "efficiency", "it takes from the cells the current that it gives"),
        (BUCK_BOOST, "drops", "it makes its voltage from less, too"),
    ):
        if kind == other and key in keys.found:
            what = f"{owner} is `{kind}`, and has `{key}`"
            notes.complain(keys.found[key].key.place, what, told_why, f"take `{key}` out, or write another kind")
    if kind in KINDS and kind != LINEAR:
        why = "it says what a switching regulator loses"
        share = keys.require("efficiency", owner, why, "write `efficiency: 80 to 90 %`", notes)
        low, high = _read_efficiency(share, owner, why, notes) if share is not None else (low, high)
        keys.require("works from", owner, "below that voltage it stops", "write `works from: 0.9 V`", notes)
    if kind is None or makes is None or (kind != LINEAR and works is None):
        return None
    no_volts, no_amperes = just(volts(0)), just(amperes(0))
    return Regulator(
        kind, makes, takes or no_amperes, drops or no_volts, works if works is not None else volts(0), (low, high)
    )


_SHARES: Final = re.compile(r"([0-9.]+)(?:\s*%)?\s+to\s+([0-9.]+\s*%)")


def _read_efficiency(found: Found, owner: str, why: str, notes: Notes) -> tuple[Fraction, Fraction]:
    text = found.value.text if isinstance(found.value, Words) else ""
    subject = f"`efficiency` of {owner}"
    if m := _SHARES.fullmatch(text.strip()):
        ends = [read_share_text(one, subject, place_value(found), notes) for one in (f"{m[1]} %", m[2])]
    else:
        ends = [read_share_key(found, owner, why, notes)] * 2
    low, high = ends
    if low is None or high is None:
        return Fraction(1), Fraction(1)
    if low > high or low == 0:
        what = f"{subject} is `{show_text(text)}`"
        notes.complain(
            place_value(found), what, why, "write the smaller one first, more than nought, such as `80 to 90 %`"
        )
        return Fraction(1), Fraction(1)
    return low, high


def _read_capacitor(found: Found, notes: Notes) -> Capacitor | None:
    owner = "`capacitor` of `supply`"
    mapping = read_mapping(found, owner, "capacitor: {size: 100 uF ± 20 %}", notes)
    if mapping is None:
        return None
    keys = sort_keys(mapping, found.key.place, owner, ("size", "resistance", "leaks"), (), notes)
    why = "it is what feeds the device when its cells lose contact"
    needed = keys.require("size", owner, why, "write `size: 100 uF ± 20 %`", notes)
    size = read_positive_key(needed, owner, Kind.CAPACITANCE, why, notes)
    series = read_band_key(keys.found.get("resistance"), owner, Kind.RESISTANCE, "it is its series resistance", notes)
    leaks = read_band_key(keys.found.get("leaks"), owner, Kind.CURRENT, "it is what it draws by itself", notes)
    for key, told in (("resistance", "0 ohm"), ("leaks", "0 uA")):
        if key not in keys.found and key not in keys.guessed:
            notes.assume(f"{key}: {told} (capacitor)", found.key.place)
    if size is None:
        return None
    return Capacitor(size, series or just(ohms(0)), leaks or just(amperes(0)))


def _read_reset(found: Found, names: Names, notes: Notes) -> Reset | None:
    owner = "`brown-out` of `supply`"
    mapping = read_mapping(found, owner, "brown-out: {level: 2.5 to 2.9 V, hysteresis: 50 mV}", notes)
    if mapping is None:
        return None
    known = ("level", "hysteresis", "responds in", "asleep", "starts in", "tries", "raised to")
    keys = sort_keys(mapping, found.key.place, owner, known, (), notes)
    why = "it is where the processor is reset; it varies from part to part"
    needed = keys.require("level", owner, why, "write `level: 2.5 to 2.9 V`, as the datasheet has it", notes)
    level = read_positive_key(needed, owner, Kind.VOLTAGE, why, notes)
    hysteresis = read_quantity_key(
        keys.found.get("hysteresis"), owner, Kind.VOLTAGE, "it lets go above the level", notes
    )
    responds = read_span(keys.found.get("responds in"), owner, _RESPONDS, notes)
    asleep = keys.found.get("asleep")
    why = "it says whether it works while the processor sleeps"
    told = None if asleep is None else read_choice(asleep, owner, ("works", "off"), (), why, notes)
    for key, default in (("hysteresis", "0 mV"), ("responds in", "0 ms"), ("asleep", "works")):
        if key not in keys.found and key not in keys.guessed:
            notes.assume(f"{key}: {default} (brown-out)", found.key.place)
    starts_in = None
    if "starts in" in keys.found:
        one = keys.found["starts in"]
        example = f"starts in: {names.states[0] if names.states else 'stowed'}"
        words = read_words(one.value, one.key.place, f"`starts in` of {owner}", "it is a state", example, notes)
        starts_in = None if words is None else names.entered(refer(words, names.states, "state", notes))
    tries = _read_tries(keys, owner, notes)
    if level is None:
        return None
    rules = BrownOut(level, hysteresis if hysteresis is not None else volts(0), responds or Span(0, 0), told != "off")
    if rules.trips.lo.magnitude <= 0:
        what = f"half of `hysteresis` of {owner} is no less than its level"
        notes.complain(place_value(keys.found["hysteresis"]), what, "nothing would ever reset it", "check the two")
        return None
    return Reset(rules, starts_in, tries, found.key.place, _read_raised(keys, owner, rules, notes))


def _read_raised(keys: Keys, owner: str, rules: BrownOut, notes: Notes) -> BrownOut | None:
    """The level that the firmware sets when it starts; None if it leaves it as it is."""
    found, why = keys.found.get("raised to"), "it is the level that the firmware sets when it starts"
    level = read_band_key(found, owner, Kind.VOLTAGE, why, notes)
    if found is None or level is None:
        return None
    if level.lo < rules.level.lo or level.hi <= rules.level.hi:
        what, why = f"`raised to` of {owner} is {level}, and `level` {rules.level}", "nothing would be raised"
        notes.complain(place_value(found), what, why, "write a higher level, or take it out")
        return None
    return replace(rules, level=level)


def _read_tries(keys: Keys, owner: str, notes: Notes) -> int:
    found = keys.found.get("tries")
    if found is None:
        return 0
    if "starts in" not in keys.found and "starts in" not in keys.guessed:
        why = "nothing is said of what comes after them"
        notes.complain(
            found.key.place, f"`tries` of {owner}, and no `starts in`", why, "add such as `starts in: stowed`"
        )
    text = found.value.text.strip() if isinstance(found.value, Words) else ""
    if not re.fullmatch("[1-9][0-9]?", text):
        why = "it is how many brown-outs in a row come back as any start does"
        cure = f"write a whole number from 1 to {_MOST_TRIES}, such as `tries: 2`"
        notes.complain(place_value(found), f"`tries` of {owner} is {describe(found.value)}", why, cure)
        return 0
    return int(text)
