"""`rig.yaml`: what makes the firmware, how it is entered or started, and what is wired to it; read as a spec is.

The firmware is C sources, or a program that speaks the line protocol (`protocol`): that one has no pins, and its times
are its own.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

from nudgeproof.diagnostics import Place, ToolFault
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
    read_words,
    refer,
    sort_keys,
)
from nudgeproof.spec.nodes import Listing, Mapping, Words, check_characters, read_nodes
from nudgeproof.spec.notes import Notes, show, split_lines
from nudgeproof.units import Form

VERSION: Final = "1"
MOST_CHANNELS: Final = 64
MOST_PINS: Final = 64
MOST_BYTES: Final = 65_536
SUPPLY: Final = "supply"

_KNOWN: Final = (
    "rig", "program", "answers within", "sources", "entry", "headers", "flags", "buttons", "inputs", "outputs", "memory",
    "power", "wakes in", "clock", "each block", "each call", "external interrupts",
)  # fmt: skip
_OF_SOURCES: Final = (
    "sources", "entry", "headers", "flags", "wakes in", "clock", "each block", "each call", "external interrupts",
)  # fmt: skip
_PIN: Final = re.compile(r"P(?P<port>[A-H])(?P<bit>[0-7])")
_STEP: Final = re.compile(r"step every (?P<time>.+)")
_SPAN: Final = re.compile(r"(?P<low>[0-9]{1,3})(?: to (?P<high>[0-9]{1,3}))?")
_C_FILE: Final = (".c", ".cc", ".cpp", ".cxx", ".ino")


def _exact(meaning: str, example: str, least_us: int = 0) -> TimeWanted:
    return TimeWanted((Form.EXACT,), meaning, example, least_us)


@dataclass(frozen=True, slots=True)
class Channel:
    """One column of a recording. `kind`: `supply`, `in`, `out`, `asleep` or `writing`.

    An input is 1 where its pin is `high` (0 or 1). An output is 1 while its pin's level (0 to 255) is from `low` to `high`.
    `asleep` is 1 in sleep that is at least as deep as `low` (1: any, 2: deep); `writing` while a byte of memory is written.
    `is_button`: it is one of `buttons`.
    """

    name: str
    kind: str
    pin: int = 0
    low: int = 0
    high: int = 0
    is_button: bool = False


@dataclass(frozen=True, slots=True)
class Power:
    """How the controller is fed; times in microseconds; `latch`: the pin that holds power, `closed_by`: what else does.

    A program has no pins: there `latch` counts its outputs, from 0.
    """

    hold_up_us: int = 0
    starts_us: int = 0
    latch: int | None = None
    closed_by: tuple[str, ...] = ()
    lets_go_us: int = 0


@dataclass(frozen=True, slots=True)
class Settings:
    """A whole `rig.yaml`; times in microseconds; `entry`: `main`, `sketch` or `step`.

    `program`: the words of a command, empty if the firmware is C. `answers_us`: how long, on the wall, each of its answers
    may take, 0 if nothing is said.
    """

    file: str
    sources: tuple[str, ...]
    entry: str
    step_us: int
    headers: tuple[str, ...]
    flags: tuple[str, ...]
    channels: tuple[Channel, ...]
    bytes: int
    write_us: int
    power: Power
    wakes_us: int
    clock_bits: int
    clock_starts_us: int
    block_us: int
    call_us: int
    external: tuple[int, int]
    program: tuple[str, ...] = ()
    answers_us: int = 0


def read_settings(text: str, file: str) -> Settings:
    """The settings in a text; raises `SpecErrors` with all problems of the first stage that has any."""
    text = text.removeprefix("\ufeff")
    notes = Notes(file, split_lines(text))
    check_characters(notes)
    notes.stop_if_bad()
    root = read_nodes(text, notes)
    notes.stop_if_bad()
    if root is None:
        raise ToolFault("YAML gave neither a tree nor a problem")
    if not isinstance(root, Mapping):
        why, cure = "it says how the firmware is built and wired", "begin with the lines `rig: 1` and `sources: [...]`"
        notes.complain(root.place, f"the rig is {describe(root)}", why, cure)
        notes.stop_if_bad()
        raise ToolFault("a problem got lost")
    settings = _read_root(sort_keys(root, Place(file, 1, 1), "the rig", _KNOWN, (), notes), notes)
    notes.stop_if_bad()
    return settings


def _read_root(keys: Keys, notes: Notes) -> Settings:
    why = "it says how this file is to be read"
    version = keys.require("rig", "the rig", why, f"add the line `rig: {VERSION}`", notes)
    if version is not None:
        read_choice(version, "the rig", (VERSION,), (), why, notes)
    is_program = "program" in keys.found
    program = _read_program(keys, notes)
    entry, step_us = ("", 0) if is_program else _read_entry(keys, notes)
    channels = (Channel(SUPPLY, SUPPLY), *_read_channels(keys, is_program, notes))
    if len(channels) > MOST_CHANNELS:
        what = f"{len(channels)} channels with the supply"
        notes.complain(keys.at, what, f"a recording has at most {MOST_CHANNELS}", "take some out")
    size, write_us = _read_memory(keys.found.get("memory"), notes)
    if not write_us and any(channel.kind == "writing" for channel in channels):
        what, why = "an output `writes: memory`, and no write takes time", "it is on while a byte is written"
        notes.complain(keys.at, what, why, "write such as `memory: {bytes: 8, write takes: 850 us}`")
    bits, starts_us = _read_clock(keys.found.get("clock"), notes)
    ready = _exact("from the interrupt that wakes it until it runs", "2 ms")
    cost = _exact("time must pass, or a loop would never end", "1 us", 1)
    return Settings(
        notes.file,
        () if is_program else _read_sources(keys, notes),
        entry,
        step_us,
        _read_words(keys, "headers", "the harness's calls stand in for those headers", "headers: [board.h]", notes),
        _read_words(keys, "flags", "the compiler is given them", "flags: [-DBOARD=2]", notes),
        channels,
        size,
        write_us,
        _read_power(keys.found.get("power"), channels, is_program, notes),
        _read_us(keys, "wakes in", "the rig", ready, 0, notes),
        bits,
        starts_us,
        _read_us(keys, "each block", "the rig", cost, 1, notes),
        _read_us(keys, "each call", "the rig", cost, 1, notes),
        _read_external(keys.found.get("external interrupts"), notes),
        program,
        _read_us(keys, "answers within", "the rig", _exact("how long an answer may take", "30 s", 1), 0, notes),
    )


def _read_us(keys: Keys, key: str, owner: str, wanted: TimeWanted, default: int, notes: Notes) -> int:
    span = read_span(keys.found.get(key), owner, wanted, notes)
    return default if span is None else span.lo


def _read_words(keys: Keys, key: str, why: str, example: str, notes: Notes) -> tuple[str, ...]:
    found = keys.found.get(key)
    if found is None:
        return ()
    words = read_list(found.value, found.key.place, f"`{key}`", why, example, notes)
    for word in words if key == "headers" else ():
        if word.text.startswith("/") or ".." in word.text.split("/"):
            cure = "write what stands between the brackets after `#include`"
            notes.complain(word.place, f"the header `{show(word.text)}`", "it is looked for by its name", cure)
    return tuple(word.text for word in words)


def _read_program(keys: Keys, notes: Notes) -> tuple[str, ...]:
    found = keys.found.get("program")
    if found is None:
        if "answers within" in keys.found:
            what, why = "`answers within` without `program`", "C firmware isn't waited for"
            notes.complain(keys.found["answers within"].key.place, what, why, "take it out, or name a `program`")
        return ()
    for key in _OF_SOURCES:
        if key in keys.found:
            what, why = (
                f"`{key}` beside `program`",
                "it is for C sources; a program is run as it is, in times of its own",
            )
            notes.complain(keys.found[key].key.place, what, why, "take one of them out", also=found.key.place)
    why = "it is the command that is run, word by word"
    example = "program: [python3, light.py]"
    return tuple(
        word.text for word in read_list(found.value, found.key.place, "`program`", why, example, notes, may_repeat=True)
    )


def _read_sources(keys: Keys, notes: Notes) -> tuple[str, ...]:
    why = "they are what is tested"
    cure = "add a line such as `sources: [light.c]`, or `program: [python3, light.py]`"
    found = keys.require("sources", "the rig", why, cure, notes)
    if found is None:
        return ()
    words = read_list(found.value, found.key.place, "`sources`", why, "sources: [light.c]", notes)
    for word in words:
        if not word.text.endswith(_C_FILE):
            cure = f"name files that end with {', '.join(_C_FILE)}"
            notes.complain(word.place, f"the source `{show(word.text)}`", "sources are C or C++", cure)
    return tuple(word.text for word in words)


def _read_entry(keys: Keys, notes: Notes) -> tuple[str, int]:
    why = "it says what the rig calls"
    cure = "write `entry: main`, `entry: sketch` (setup and loop) or `entry: step every 1 ms` (start and step)"
    found = keys.require("entry", "the rig", why, cure, notes)
    if found is None:
        return "main", 0
    word = found.value.text if isinstance(found.value, Words) else ""
    if word in ("main", "sketch"):
        return word, 0
    if isinstance(found.value, Words) and (match := _STEP.fullmatch(word)):
        time = Found(found.key, Words(match["time"], found.value.place, plain=True))
        span = read_span(time, "the rig", _exact("the time between two steps", "step every 1 ms", 1), notes)
        return "step", 1 if span is None else span.lo
    notes.complain(place_value(found), f"`entry` is {describe(found.value)}", why, cure)
    return "main", 0


def _read_channels(keys: Keys, is_program: bool, notes: Notes) -> list[Channel]:
    channels: list[Channel] = []
    places: dict[str, Place] = {}
    pins: dict[int, Place] = {}
    for section in ("buttons", "inputs", "outputs"):
        found = keys.found.get(section)
        if found is None:
            if section == "outputs":
                cure = f"add `outputs: {{lamp: {'{}' if is_program else '{pin: 5}'}}}`"
                keys.require(section, "the rig", "without one nothing would be seen", cure, notes)
            continue
        example = f"{section}: {{lamp: {'{}' if is_program else '{pin: 5}'}}}"
        mapping = read_mapping(found, f"`{section}`", example, notes)
        for key, value in mapping.entries if mapping is not None else ():
            one = Found(key, value)
            channel = _read_named(section, one, notes) if is_program else _read_channel(section, one, pins, notes)
            if key.text in places or key.text == SUPPLY:
                what = f"the name `{show(key.text)}` is taken"
                notes.complain(key.place, what, "each column has its own", "use another one", also=places.get(key.text))
            places[key.text] = key.place
            channels.extend([channel] if channel is not None else [])
    return channels


def _read_named(section: str, found: Found, notes: Notes) -> Channel | None:
    """A channel of a program, which has its name alone, or shows when the processor sleeps."""
    name, owner = read_name(found.key, section.removesuffix("s"), notes), f"`{show(found.key.text)}`"
    kind = "out" if section == "outputs" else "in"
    is_bare = found.value.entries == () if isinstance(found.value, Mapping) else False
    if not is_bare and not (isinstance(found.value, Words) and found.value.is_missing):
        why, cure = "a program tells and is told 1 for what is on or closed", f"write `{show(found.key.text)}: {{}}`"
        mapping = found.value if isinstance(found.value, Mapping) else None
        if kind == "in" or mapping is None or [key.text for key, _ in mapping.entries] != ["asleep"]:
            cure += " or `sleep: {asleep: deeply}`" if kind == "out" else ""
            notes.complain(place_value(found), f"{owner} says more than its name", why, cure)
            return None
        depth = read_choice(
            Found(*mapping.entries[0]), owner, ("deeply", "at all"), (), "it says which sleep is shown", notes
        )
        return None if name is None or depth is None else Channel(name, "asleep", 0, 2 if depth == "deeply" else 1)
    return None if name is None else Channel(name, kind, 0, 1, 1, section == "buttons")


def _read_channel(section: str, found: Found, pins: dict[int, Place], notes: Notes) -> Channel | None:
    kind = section.removesuffix("s")
    name = read_name(found.key, kind, notes)
    owner = f"{kind} `{show(found.key.text)}`"
    active = "closed" if section == "buttons" else "on"
    mapping = read_mapping(found, owner, f"{{pin: 2, {active}: low}}", notes)
    if mapping is None:
        return None
    known = ("pin", active, "level", "asleep", "writes") if section == "outputs" else ("pin", active)
    keys = sort_keys(mapping, found.key.place, owner, known, (), notes)
    if "writes" in keys.found and len(keys.found) == 1:
        why = "it shows when memory is written"
        read_choice(keys.found["writes"], owner, ("memory",), (), why, notes)
        return None if name is None else Channel(name, "writing")
    if "asleep" in keys.found and len(keys.found) == 1:
        depth = read_choice(
            keys.found["asleep"], owner, ("deeply", "at all"), (), "it says which sleep is shown", notes
        )
        return None if name is None or depth is None else Channel(name, "asleep", 0, 2 if depth == "deeply" else 1)
    for key, what_it_shows, example in (("asleep", "the processor", "deeply"), ("writes", "memory", "memory")):
        if key in keys.found:
            what, why = f"{owner} has `{key}` beside other keys", f"it shows {what_it_shows}, not a pin"
            cure = f"give it a line of its own: `{'sleep' if key == 'asleep' else 'saves'}: {{{key}: {example}}}`"
            notes.complain(keys.found[key].key.place, what, why, cure)
    pin = _read_pin(keys.require("pin", owner, "it is wired somewhere", "write such as `pin: 2`", notes), owner, notes)
    side = keys.found.get(active)
    why = f"it says which level of the pin means {active}"
    default = "low" if section == "buttons" else "high"
    level = default if side is None else read_choice(side, owner, ("low", "high"), (), why, notes)
    if name is None or pin is None or level is None:
        return None
    if section != "outputs":
        if pin in pins:
            what = f"{owner} is wired to a pin that has an input"
            notes.complain(found.key.place, what, "one contact drives it", "use another pin", also=pins[pin])
        pins[pin] = found.key.place
        return Channel(name, "in", pin, 0, int(level == "high"), section == "buttons")
    low, high = _read_levels(keys, owner, level, notes)
    return Channel(name, "out", pin, low, high)


def _read_levels(keys: Keys, owner: str, on: str, notes: Notes) -> tuple[int, int]:
    found = keys.found.get("level")
    if found is None:
        return (0, 127) if on == "low" else (128, 255)
    word = found.value.text if isinstance(found.value, Words) else ""
    match = _SPAN.fullmatch(word)
    low, high = (int(match["low"]), int(match["high"] or match["low"])) if match else (1, 0)
    if not low <= high <= 255 or "on" in keys.found:
        what = f"`level` of {owner} is {describe(found.value)}" + (" beside `on`" if "on" in keys.found else "")
        cure = "write such as `level: 1 to 80`, and no `on`"
        notes.complain(place_value(found), what, "PWM goes from 0 to 255", cure)
    return low, high


def _read_pin(found: Found | None, owner: str, notes: Notes) -> int | None:
    if found is None:
        return None
    word = found.value.text if isinstance(found.value, Words) else ""
    if match := _PIN.fullmatch(word):
        return 8 * (ord(match["port"]) - ord("A")) + int(match["bit"])
    if word.isascii() and word.isdigit() and int(word) < MOST_PINS:
        return int(word)
    what = f"the pin of {owner} is {describe(found.value)}"
    notes.complain(
        place_value(found), what, f"there are pins 0 to {MOST_PINS - 1}", "write such as `pin: 5` or `pin: PB2`"
    )
    return None


def _read_number(found: Found | None, owner: str, least: int, most: int, notes: Notes) -> int | None:
    if found is None:
        return None
    word = found.value.text if isinstance(found.value, Words) else ""
    if word.isascii() and word.isdigit() and len(word) < 10 and least <= int(word) <= most:
        return int(word)
    key = found.key.text
    what = f"`{key}` of {owner} is {describe(found.value)}"
    notes.complain(
        place_value(found), what, f"it is a number from {least} to {most}", f"write such as `{key}: {least}`"
    )
    return None


def _read_memory(found: Found | None, notes: Notes) -> tuple[int, int]:
    mapping = read_mapping(found, "`memory`", "memory: {bytes: 64, write takes: 3.4 ms}", notes) if found else None
    if found is None or mapping is None:
        return 0, 0
    keys = sort_keys(mapping, found.key.place, "`memory`", ("bytes", "write takes"), (), notes)
    size = keys.require("bytes", "`memory`", "a byte beyond them is a fault", "write such as `bytes: 64`", notes)
    takes = _exact("how long one byte takes to write", "3.4 ms")
    return _read_number(size, "`memory`", 1, MOST_BYTES, notes) or 0, _read_us(
        keys, "write takes", "`memory`", takes, 0, notes
    )


def _read_clock(found: Found | None, notes: Notes) -> tuple[int, int]:
    mapping = read_mapping(found, "`clock`", "clock: {bits: 32, starts at: 49 d}", notes) if found else None
    if found is None or mapping is None:
        return 32, 0
    keys = sort_keys(mapping, found.key.place, "`clock`", ("bits", "starts at"), (), notes)
    bits = keys.found.get("bits")
    why = "it says when the clock comes round"
    width = read_choice(bits, "`clock`", ("16", "32"), (), why, notes) if bits is not None else "32"
    starts = _exact("what the clock shows at a start", "4294900 s")
    return int(width or 32), _read_us(keys, "starts at", "`clock`", starts, 0, notes)


def _read_power(found: Found | None, channels: tuple[Channel, ...], is_program: bool, notes: Notes) -> Power:
    mapping = read_mapping(found, "`power`", "power: {hold-up: 5 ms, starts in: 70 ms}", notes) if found else None
    if found is None or mapping is None:
        return Power()
    known = ("hold-up", "starts in", "latch", "closed by", "lets go")
    keys = sort_keys(mapping, found.key.place, "`power`", known, (), notes)
    closed = keys.found.get("closed by")
    buttons = [channel.name for channel in channels if channel.kind == "in"]
    by: tuple[str, ...] = ()
    if closed is not None:
        why = "they say what feeds the controller before it holds the latch"
        words = read_list(closed.value, closed.key.place, "`closed by`", why, "closed by: [key]", notes)
        by = tuple(refer(word, buttons, "button", notes) for word in words)
    if ("latch" in keys.found) != ("closed by" in keys.found):
        what, why = "`latch` and `closed by` of `power` need each other", "one begins what the other goes on with"
        notes.complain(found.key.place, what, why, "write `latch: 7, closed by: [key]`")
    held = keys.found.get("latch")
    if is_program and held is not None:
        outputs = [channel.name for channel in channels if channel.kind in ("out", "asleep")]
        word = read_words(
            held.value, held.key.place, "`latch`", "it is an output that holds power", "latch: hold", notes
        )
        named = refer(word, outputs, "output", notes) if word is not None else ""
        latch = outputs.index(named) if named in outputs else None
    else:
        latch = _read_pin(held, "`latch`", notes)
    return Power(
        _read_us(keys, "hold-up", "`power`", _exact("how long it runs on without the cell", "5 ms"), 0, notes),
        _read_us(keys, "starts in", "`power`", _exact("from power until the firmware runs", "70 ms"), 0, notes),
        latch,
        by,
        _read_us(keys, "lets go", "`power`", _exact("from the pin until there is no power", "3 ms"), 0, notes),
    )


def _read_external(found: Found | None, notes: Notes) -> tuple[int, int]:
    """The pins of the two external interrupts of the register-style calls."""
    pins = [26, 27]
    if found is None:
        return pins[0], pins[1]
    items = found.value.items if isinstance(found.value, Listing) else (found.value,)
    if not 1 <= len(items) <= 2:
        what, why = f"`external interrupts` has {len(items)} pins", "there are two such interrupts"
        notes.complain(found.key.place, what, why, "write such as `external interrupts: [PD2, PD3]`")
    for i, item in enumerate(items[:2]):
        word = read_words(item, found.key.place, "a pin", "it is wired somewhere", "PD2", notes)
        pin = _read_pin(Found(found.key, word), "`external interrupts`", notes) if word is not None else None
        pins[i] = pins[i] if pin is None else pin
    return pins[0], pins[1]
