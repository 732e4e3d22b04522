"""Values that come from a datasheet or from people: `chip: small 8-bit` and `person: slow` fill in lines that a spec
leaves out.

A preset only ever adds lines that are missing, where the section they belong to is there, so each can be overridden by
writing the line. Every line that was added is listed as an assumption, with where it comes from.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from nudgeproof.diagnostics import Place
from nudgeproof.spec.fields import describe
from nudgeproof.spec.nodes import Mapping, Node, Words
from nudgeproof.spec.notes import Notes, show, suggest

EACH: Final = "*"
"""In a path: every entry of the section."""

HABIT: Final = "habit"


@dataclass(frozen=True, slots=True)
class Given:
    """One line: the keys that lead to it, its value as written in a spec, and where the value comes from."""

    path: tuple[str, ...]
    value: str
    source: str


@dataclass(frozen=True, slots=True)
class Preset:
    """A chip or a habit: its name, what it is in a few words, and its lines."""

    name: str
    about: str
    given: tuple[Given, ...]


_MEMORY: Final = ("memory", "write takes")
_START: Final = ("power up", "takes")
_READY: Final = ("states", EACH, "sleep", "ready in")
_CLOCK: Final = ("clock", "off by")

CHIPS: Final = (
    Preset(
        "small 8-bit",
        "an 8-bit microcontroller with byte-wise data memory and a calibrated RC clock of 8 MHz",
        (
            Given(_MEMORY, "3.3 to 3.4 ms", "ATmega328P datasheet, EEPROM write time (from memory)"),
            Given(_START, "65 ms to 75 ms", "ATmega48PB/88PB/168PB datasheet, 14.5: 19 clocks and 65 ms (slow supply)"),
            Given(_READY, "up to 6 us", "ATmega328PB datasheet, 11.5: 6 clocks from power-down, at 1 MHz"),
            Given(_CLOCK, "5 %", "ATmega328PB datasheet: calibrated RC oscillator 7.6 to 8.4 MHz"),
        ),
    ),
    Preset(
        "paged 8-bit",
        "an 8-bit microcontroller whose data memory is erased and written by the page",
        (
            Given(_MEMORY, "4 ms", "Microchip UPDI-programmed 8-bit parts, table Programming Time: page erase-write"),
            Given(_CLOCK, "5 %", "taken as that of the older family: no value read"),
        ),
    ),
    Preset(
        "slow 8-bit",
        "an 8-bit microcontroller with data memory that is erased before each write",
        (
            Given(
                _MEMORY,
                "10 to 11.8 ms",
                "Microchip 8-bit family, Memory Programming Specifications: erase 10 to 11.7 ms, byte write up to 75 us",
            ),
        ),
    ),
    Preset(
        "32-bit flash page",
        "a 32-bit microcontroller that keeps settings in a page of its program memory",
        (
            Given(
                _MEMORY, "43 us to 87.6 ms", "nRF5340 product specification, NVMC: word write 43 us, page erase 87.5 ms"
            ),
        ),
    ),
    Preset(
        "low-power 32-bit",
        "a 32-bit microcontroller with byte-wise data memory and a stop mode",
        (
            Given(_MEMORY, "3.2 ms", "STM32L053, data EEPROM programming time (from memory)"),
            Given(_READY, "up to 5 us", "STM32L053 product page: wake-up from stop, 3.5 us from RAM, 5 us from flash"),
        ),
    ),
    Preset(
        "ferroelectric 16-bit",
        "a 16-bit microcontroller with ferroelectric memory, written as fast as it is read",
        (
            Given(
                _MEMORY, "up to 1 us", "MSP430FR2311 datasheet SLASE58E: written as fast as it is read; 1 us is ample"
            ),
        ),
    ),
)

_USUAL: Final = (
    "tap, hold and answer: common practice, no source; between: AOSP ViewConfiguration, two taps at "
    "least 40 ms and at most 300"
    " ms from the first release to the second press"
)
_SLOW: Final = (
    "the usual habits 1.8 times as long: Irwin and Sesto 2012, doi 10.1016/j.apergo.2012.03.003, find 1.8 times as many taps"
    " without impairment as with a fine-motor one; that lengths scale so is our use of it"
)
_SHAKY: Final = (
    "from the shortest usual times to 2.8 times the longest: Irwin and Sesto 2012, doi "
    "10.1016/j.apergo.2012.03.003, find 2.8"
    " times as many taps without impairment as with a gross-motor one; that lengths scale so is our use of it"
)


def _habit(name: str, about: str, source: str, tap: str, between: str, hold: str, answers: str) -> Preset:
    lines = {"tap": tap, "between": between, "hold": hold, "answers within": answers}
    return Preset(name, about, tuple(Given(("person", key), value, source) for key, value in lines.items()))


HABITS: Final = (
    _habit("usual", "most people", _USUAL, "50 to 350 ms", "60 to 280 ms", "1.2 to 3 s", "1.5 s"),
    _habit("slow", "stiff, cold or gloved fingers", _SLOW, "90 to 630 ms", "108 to 504 ms", "2.16 to 5.4 s", "2.7 s"),
    _habit(
        "shaky", "unsteady hands: now quick, now slow", _SHAKY, "50 to 980 ms", "60 to 784 ms", "1.2 to 8.4 s", "4.2 s"
    ),
)


def fill_in(root: Mapping, notes: Notes) -> Mapping:
    """The spec with the lines that its `chip` and its person's habit give; notes an unknown name."""
    entries = dict(root.entries)
    chip = next((key for key in entries if key.text == "chip"), None)
    if chip is not None:
        preset = _choose(entries[chip], chip, "`chip`", "chip", CHIPS, notes)
        root = Mapping(tuple(entry for entry in root.entries if entry[0] is not chip), root.place)
        root = _apply(root, preset, chip.place, notes)
    person = next((key for key in entries if key.text == "person"), None)
    if person is not None:
        root = _fill_in_person(root, person, notes)
    return root


def _fill_in_person(root: Mapping, key: Words, notes: Notes) -> Mapping:
    value = dict(root.entries)[key]
    if isinstance(value, Words) and not value.is_missing:
        preset, rest = _choose(value, key, "`person`", "habit", HABITS, notes), Mapping((), value.place)
        if preset is None:
            return Mapping(tuple(entry for entry in root.entries if entry[0] is not key), root.place)
    elif isinstance(value, Mapping) and (habit := next((k for k, _ in value.entries if k.text == HABIT), None)):
        preset = _choose(dict(value.entries)[habit], habit, "`habit` of `person`", "habit", HABITS, notes)
        rest = Mapping(tuple(entry for entry in value.entries if entry[0] is not habit), value.place)
    elif isinstance(value, Mapping) and (habit := next((k for k, v in value.entries if _is_bare_habit(k, v)), None)):
        what, why = f"the habit `{habit.text}` in braces", "there it is a key, and has no value"
        notes.complain(
            habit.place, what, why, f"write `person: {habit.text}`, or `{HABIT}: {habit.text}` beside other keys"
        )
        return Mapping(tuple(entry for entry in root.entries if entry[0] is not key), root.place)
    else:
        return root
    return _apply(_put(root, key, rest), preset, key.place, notes)


def _is_bare_habit(key: Words, value: Node) -> bool:
    return isinstance(value, Words) and value.is_missing and key.text in {preset.name for preset in HABITS}


def _choose(node: Node, key: Words, owner: str, kind: str, known: tuple[Preset, ...], notes: Notes) -> Preset | None:
    name = node.text if isinstance(node, Words) and not node.block else ""
    for preset in known:
        if preset.name == name:
            return preset
    at = key.place if isinstance(node, Words) and node.is_missing else node.place
    why = "a preset fills in lines by its name"
    names = tuple(preset.name for preset in known)
    cure = suggest(name, names, f"{kind}s") if name else f"write such as `{show(key.text)}: {names[0]}`"
    what = f"there is no {kind} `{show(name)}`" if name else f"{owner} is {describe(node)}"
    notes.complain(at, what, why, cure)
    return None


def _apply(root: Mapping, preset: Preset | None, at: Place, notes: Notes) -> Mapping:
    told: set[str] = set()
    for given in preset.given if preset is not None else ():
        root, added = _add(root, given.path, given.value, at)
        if added:
            assert preset is not None
            where = given.path[-2] if given.path[0] == "states" else given.path[0]
            source = "as above" if given.source in told else given.source
            told.add(given.source)
            notes.assume(f"{given.path[-1]}: {given.value} ({where}, as {preset.name}; {source})", at)
    return root


def _add(node: Mapping, path: tuple[str, ...], value: str, at: Place) -> tuple[Mapping, bool]:
    """The mapping with the line added where it is missing, and whether it was missing anywhere."""
    if len(path) == 1:
        if any(key.text == path[0] for key, _ in node.entries):
            return node, False
        return Mapping((*node.entries, (Words(path[0], at, True), Words(value, at, True))), node.place), True
    keys = [key for key, inner in node.entries if path[0] in (EACH, key.text) and isinstance(inner, Mapping)]
    if not keys and path[0] == "clock" and all(key.text != "clock" for key, _ in node.entries):
        node = Mapping((*node.entries, (Words("clock", at, True), Mapping((), at))), node.place)
        keys = [node.entries[-1][0]]
    added = False
    for key in keys:
        inner = dict(node.entries)[key]
        assert isinstance(inner, Mapping)
        filled, here = _add(inner, path[1:], value, at)
        node, added = _put(node, key, filled), added or here
    return node, added


def _put(node: Mapping, key: Words, value: Node) -> Mapping:
    return Mapping(tuple((k, value if k is key else v) for k, v in node.entries), node.place)
