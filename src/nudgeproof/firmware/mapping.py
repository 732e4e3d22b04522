"""The map: which recorded channel is which button, light, event or contact of the cell; read as a spec is.

A light need not be told of in every state: where nothing is said it may have either level.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from nudgeproof.diagnostics import Place, ToolFault
from nudgeproof.firmware.recording import Wanted
from nudgeproof.parts.recorded import ASLEEP, SAVES, When
from nudgeproof.spec.fields import (
    Found,
    Keys,
    TimeWanted,
    describe,
    read_choice,
    read_list,
    read_mapping,
    read_span,
    read_words,
    sort_keys,
)
from nudgeproof.spec.nodes import Mapping, Words, check_characters, read_nodes
from nudgeproof.spec.notes import Notes, show, split_lines, suggest
from nudgeproof.spec.outside import CELL_FINE, CELL_LOW, Maker, Sag
from nudgeproof.spec.types import Device, Disturbance, Outage
from nudgeproof.units import Form

VERSION: Final = "1"
AT_REST, POWER_UP, USED = "at rest", "with power up", "with power up after use"
BLANK, DAMAGED = "blank", "damaged"
LEVELS: Final = ("high", "low")
EDGES: Final = ("goes high", "goes low", "either")
ALL_OTHERS: Final = "all others"

_KNOWN: Final = ("recording", "sample period", "begins", "memory", "channels", "unseen")
_CHANNEL: Final = (
    "button", "pressed when", "event", "happens when", "cell there when", "cell low when", "cell fine when", "output",
    "on when", "on in", "off in", "asleep when", "saves when", "within", "pulses up to",
)  # fmt: skip
_LEVELS_OF_THE_CELL: Final = {"cell low when": CELL_LOW, "cell fine when": CELL_FINE}
_SHOWS: Final = {"asleep when": ASLEEP, "saves when": SAVES}
_SAMPLES: Final = TimeWanted((Form.EXACT,), "it is how much later than the edge a level may be recorded", "10 us")
_PULSES: Final = TimeWanted((Form.EXACT,), "it is the longest gap between two pulses that still count as on", "10 ms")
_WITHIN: Final = TimeWanted((Form.EXACT,), "it is how far from what the spec says that may come", "100 ms")
_EXAMPLE: Final = "PAD: {button: pad, pressed when: low}"


@dataclass(frozen=True, slots=True)
class Channel:
    """One channel. `kind`: `button`, `event`, `level` (of the cell's voltage), `cell` or `light`; `target`: the button's or
    event's name.

    `high`: the level that is pressed, there or on is high. `edges`: of an event, which ones make it. A light is on and off
    as listed, or as the `output` of the spec; gaps up to `pulses_us` between pulses count as on. `shows`: it shows no
    state, but that the processor sleeps or that memory is written, `within_us` from what the spec says.
    """

    name: str
    at: Place
    kind: str
    target: str = ""
    high: bool = True
    edges: str = ""
    output: str = ""
    on: tuple[When, ...] = ()
    off: tuple[When, ...] = ()
    pulses_us: int = 0
    shows: str = ""
    within_us: int = 0

    @property
    def made(self) -> tuple[str, str]:
        """Its kind and target as whoever acts on it names them: a level of the cell is an event while it lasts."""
        return ("event" if self.kind == "level" else self.kind), self.target


@dataclass(frozen=True, slots=True)
class Map:
    """A whole map; `unseen` names surroundings that may act although nothing of them is recorded.

    `powers_up`: the device gets power as the recording begins; `used`: and its memory holds what some use left there;
    `damaged`: what its memory holds then is damaged.
    """

    file: str
    period_us: int
    powers_up: bool
    used: bool
    channels: tuple[Channel, ...]
    unseen: tuple[str, ...]
    damaged: bool = False

    @property
    def wanted(self) -> tuple[Wanted, ...]:
        """The channels to look for in the recording."""
        return tuple(Wanted(channel.name, channel.at) for channel in self.channels)

    def of(self, kind: str) -> tuple[Channel, ...]:
        """The channels of one kind."""
        return tuple(channel for channel in self.channels if channel.kind == kind)

    @property
    def telling(self) -> frozenset[str]:
        """The names of the lights that tell of states."""
        return frozenset(channel.name for channel in self.of("light") if not channel.shows)


def read_map(text: str, file: str, device: Device) -> tuple[Map, Notes]:
    """The map in a text; the notes are for what a recording turns out to lack.

    Raises `SpecErrors` with all problems of the first stage that has any.
    """
    notes = Notes(file, split_lines(text.removeprefix("\ufeff")))
    if all(not line.strip() or line.lstrip().startswith("#") for line in notes.lines):
        why, cure = "a map says which channel is what", "begin with the lines `recording: 1` and `channels:`"
        notes.complain(Place(file, 1, 1), "the map is empty", why, cure)
    check_characters(notes)
    notes.stop_if_bad()
    root = read_nodes(text.removeprefix("\ufeff"), notes)
    notes.stop_if_bad()
    if root is None:
        raise ToolFault("YAML gave neither a tree nor a problem")
    if not isinstance(root, Mapping):
        why, cure = "a map says which channel is what", "begin with the lines `recording: 1` and `channels:`"
        notes.complain(root.place, f"the map is {describe(root)}", why, cure)
        notes.stop_if_bad()
    assert isinstance(root, Mapping)
    result = _read_root(sort_keys(root, Place(file, 1, 1), "the map", _KNOWN, (), notes), device, notes)
    notes.stop_if_bad()
    assert result is not None
    return result, notes


def _read_root(keys: Keys, device: Device, notes: Notes) -> Map | None:
    why = "it says how this file is to be read"
    version = keys.require("recording", "the map", why, f"add the line `recording: {VERSION}`", notes)
    if version is not None:
        read_choice(version, "the map", (VERSION,), (), why, notes)
    sampled = keys.require(
        "sample period", "the map", _SAMPLES.meaning, "add a line such as `sample period: 10 us`", notes
    )
    period = read_span(sampled, "the map", _SAMPLES, notes)
    begins = keys.found.get("begins")
    why = "it says what the device is doing when the recording begins"
    begin = AT_REST if begins is None else read_choice(begins, "the map", (AT_REST, POWER_UP, USED), (), why, notes)
    feeds = device.power_up is not None and (device.supply is not None or device.supervisor is not None)
    if begins is not None and begin in (POWER_UP, USED) and (not feeds or device.is_latched):
        what = f"the recording `begins: {begin}`"
        why = (
            "a device with a latch has no power until a button gives it"
            if device.is_latched
            else "the spec doesn't say what happens then"
        )
        cure = f"write `begins: {AT_REST}`" + (
            "" if device.is_latched else ", or add `power up` and `supply` to the spec"
        )
        notes.complain(begins.value.place, what, why, cure)
    found = keys.found.get("memory")
    why = "it says what memory holds when the recording begins"
    holds = BLANK if found is None else read_choice(found, "the map", (BLANK, DAMAGED), (), why, notes)
    if found is not None and holds == DAMAGED and (begin == USED or device.memory is None):
        what = "`memory: damaged`" + (
            f" beside `begins: {USED}`" if begin == USED else ", and the spec has no `memory`"
        )
        notes.complain(found.value.place, what, "a memory holds one thing or the other", "take it out")
    channels = _read_channels(keys, device, notes)
    unseen = _read_unseen(keys.found.get("unseen"), channels, device, notes)
    if period is None or begin is None:
        return None
    return Map(notes.file, int(period.hi), begin != AT_REST, begin == USED, channels, unseen, holds == DAMAGED)


def _read_channels(keys: Keys, device: Device, notes: Notes) -> tuple[Channel, ...]:
    why = "they say what was recorded"
    found = keys.require("channels", "the map", why, f"add `channels:` with a line such as `{_EXAMPLE}`", notes)
    mapping = read_mapping(found, "`channels`", f"channels: {{{_EXAMPLE}}}", notes) if found is not None else None
    if mapping is None:
        return ()
    read = (_read_channel(Found(*entry), device, notes) for entry in mapping.entries)
    channels = tuple(channel for channel in read if channel is not None)
    first: dict[tuple[str, str], Channel] = {}
    for channel in channels:
        if channel.kind == "light" and not channel.shows:
            continue
        earlier = first.setdefault((channel.kind, channel.target or channel.shows), channel)
        if earlier is not channel and channel.kind != "event":
            what = f"channel `{show(channel.name)}` is the same as `{show(earlier.name)}`"
            notes.complain(channel.at, what, "two levels of one contact could differ", "take one out", earlier.at)
    if not notes.problems and not any(channel.kind == "light" for channel in channels):
        at = found.key.place if found is not None else keys.at
        why, cure = (
            "there is nothing to compare with the spec",
            "add one such as `LED: {on in: glowing, off in: stowed}`",
        )
        notes.complain(at, "no channel shows what the device does", why, cure)
    return channels


def _read_channel(found: Found, device: Device, notes: Notes) -> Channel | None:
    name, at = found.key.text, found.key.place
    owner = f"channel `{show(name)}`"
    mapping = read_mapping(found, owner, f"{{{_EXAMPLE.partition('{')[2]}", notes)
    if mapping is None:
        return None
    keys = sort_keys(mapping, at, owner, _CHANNEL, (), notes)
    kinds = {
        "button": ("button", "pressed when"),
        "event": ("event", "happens when"),
        "cell there when": ("cell there when",),
        **{key: (key,) for key in _LEVELS_OF_THE_CELL},
        "asleep when": ("asleep when", "within"),
        "saves when": ("saves when", "within", "pulses up to"),
        "output": ("output", "on when", "pulses up to"),
        "on in": ("on in", "off in", "on when", "pulses up to"),
        "off in": ("on in", "off in", "on when", "pulses up to"),
    }
    kind = next((kind for kind in kinds if kind in keys.found), None)
    if kind is None:
        cure = f"write such as `{_EXAMPLE}` or `LED: {{on in: glowing, off in: stowed}}`"
        notes.complain(at, f"{owner} doesn't say what it is", "a level alone means nothing", cure)
        return None
    for key, other in keys.found.items():
        if key not in kinds[kind]:
            what = f"`{key}` of {owner} doesn't go with `{kind}`"
            notes.complain(other.key.place, what, "a channel is one thing", "take one of them out")
    if kind == "button":
        names = tuple(button.name for button in device.buttons)
        target = _read_reference(keys.found[kind], owner, names, "button", notes)
        why = "it says at which level the contact is closed"
        pressed = keys.require(
            "pressed when", owner, why, "write `pressed when: low` if a closed contact pulls it down", notes
        )
        level = None if pressed is None else read_choice(pressed, owner, LEVELS, (), why, notes)
        return Channel(name, at, "button", target, level == "high") if target else None
    if kind == "event":
        names = tuple(event.name for event in device.events)
        target = _read_reference(keys.found[kind], owner, names, "event", notes)
        why = "it says which edge makes the event"
        happens = keys.require("happens when", owner, why, "write `happens when: goes high`", notes)
        edges = None if happens is None else read_choice(happens, owner, EDGES, (), why, notes)
        return Channel(name, at, "event", target, edges=edges or "") if target else None
    if kind == "cell there when":
        why = "it says at which level the cell has contact"
        return Channel(name, at, "cell", high=read_choice(keys.found[kind], owner, LEVELS, (), why, notes) == "high")
    if kind in _LEVELS_OF_THE_CELL:
        return _read_voltage(keys.found[kind], name, owner, device, notes)
    if kind in _SHOWS:
        return _read_observed(keys, kind, name, owner, device, notes)
    return _read_light(keys, name, owner, device, notes)


def _read_voltage(found: Found, name: str, owner: str, device: Device, notes: Notes) -> Channel | None:
    """A channel that tells of the cell's voltage."""
    key = found.key.text
    level = read_choice(found, owner, LEVELS, (), "it says at which level the voltage is there", notes)
    if device.cell is None:
        cure = "add `cell` to the spec, or take it out here"
        notes.complain(found.key.place, f"the spec has no `cell`, and {owner} says `{key}`", "nothing reads it", cure)
        return None
    return Channel(name, found.key.place, "level", _LEVELS_OF_THE_CELL[key], level == "high")


def _read_observed(keys: Keys, kind: str, name: str, owner: str, device: Device, notes: Notes) -> Channel | None:
    """A channel that shows no state: that the processor sleeps, or that memory is written."""
    found = keys.found[kind]
    high = read_choice(found, owner, LEVELS, (), "it says at which level that is so", notes) == "high"
    within = read_span(keys.found.get("within"), owner, _WITHIN, notes)
    pulses = read_span(keys.found.get("pulses up to"), owner, _PULSES, notes)
    if _SHOWS[kind] == ASLEEP and not any(state.sleep is not None for state in device.states):
        what, cure = f"{owner} shows sleep, and no state of the spec sleeps", "give one a `sleep`, or take it out here"
        notes.complain(keys.at, what, "it could never be on", cure)
        return None
    if _SHOWS[kind] == SAVES and device.memory is None:
        what, cure = f"{owner} shows saves, and the spec keeps nothing", "add `memory` to the spec, or take it out here"
        notes.complain(keys.at, what, "it could never be on", cure)
        return None
    pulses_us = int(pulses.hi) if pulses is not None else 0
    within_us = int(within.hi) if within is not None else 0
    return Channel(name, keys.at, "light", high=high, pulses_us=pulses_us, shows=_SHOWS[kind], within_us=within_us)


def _read_light(keys: Keys, name: str, owner: str, device: Device, notes: Notes) -> Channel | None:
    why = "it says at which level it is on"
    when = keys.found.get("on when")
    high = when is None or read_choice(when, owner, LEVELS, (), why, notes) == "high"
    pulses = read_span(keys.found.get("pulses up to"), owner, _PULSES, notes)
    pulses_us = int(pulses.hi) if pulses is not None else 0
    if (output := keys.found.get("output")) is not None:
        names = tuple(one.name for one in device.outputs)
        target = _read_reference(output, owner, names, "output", notes)
        return Channel(name, keys.at, "light", high=high, output=target, pulses_us=pulses_us) if target else None
    on = _read_whens(keys.found.get("on in"), owner, device, notes)
    off = _read_whens(keys.found.get("off in"), owner, device, notes)
    if on is None and off is None:
        what, cure = f"{owner} is `{ALL_OTHERS}` twice", "name the states of one of the two"
        notes.complain(keys.at, what, "then it says nothing", cure)
        return None
    on = _others(off or (), device) if on is None else on
    off = _others(on, device) if off is None else off
    for one in on:
        for other in off:
            if shared := _overlap(one, other, device):
                what = f"{owner} is on and off in {shared}"
                cure = "take it out of one of the two, or name a value: `glowing with beam high`"
                notes.complain(keys.found["off in"].key.place, what, "it can't be both", cure)
                return None
    return Channel(name, keys.at, "light", high=high, on=on, off=off, pulses_us=pulses_us)


def _read_reference(found: Found, owner: str, names: tuple[str, ...], kind: str, notes: Notes) -> str:
    """The name of something in the spec; "" after a problem."""
    words = read_words(found.value, found.key.place, f"`{kind}` of {owner}", f"it names the {kind}", kind, notes)
    if words is None:
        return ""
    if words.text not in names:
        what = f"the spec has no {kind} `{show(words.text)}`"
        cure = suggest(words.text, names, f"{kind}s") if names else f"add `{kind}s` to the spec, or take it out here"
        notes.complain(words.place, what, "the map is about the device of the spec", cure)
        return ""
    return words.text


def _read_whens(found: Found | None, owner: str, device: Device, notes: Notes) -> tuple[When, ...] | None:
    """States and values; None for all that aren't named by the other key."""
    if found is None:
        return ()
    key = found.key.text
    if isinstance(found.value, Words) and found.value.text == ALL_OTHERS:
        return None
    why = "it names states, perhaps with a value: `glowing with beam high`"
    entries = read_list(found.value, found.key.place, f"`{key}` of {owner}", why, f"{key}: {device.initial}", notes)
    whens = (_read_when(words, device, notes) for words in entries)
    return tuple(when for when in whens if when is not None)


def _read_when(words: Words, device: Device, notes: Notes) -> When | None:
    state, joint, rest = words.text.partition(" with ")
    names = (*(state.name for state in device.states), *(group.name for group in device.groups))
    if state not in names:
        what = f"there is no state `{show(state)}`"
        notes.complain(words.place, what, "the map is about the device of the spec", suggest(state, names, "states"))
        return None
    states = frozenset(device.states_of(state))
    if not joint:
        return When(states)
    for variable in device.variables:
        value = rest.removeprefix(f"{variable.name} ")
        if value != rest and value in variable.values:
            return When(states, variable.name, (value,))
    known = [f"{variable.name} {value}" for variable in device.variables for value in variable.values]
    what = f"`{show(rest)}` is no variable with one of its values"
    cure = suggest(rest, known, "values") if known else "the spec has no variables: name the state alone"
    notes.complain(words.place, what, "after `with` comes a variable and its value", cure)
    return None


def _others(named: Sequence[When], device: Device) -> tuple[When, ...]:
    """All states and values but those named."""
    found = []
    for state in device.states:
        here = [when for when in named if state.name in when.states]
        if any(not when.variable for when in here):
            continue
        alone = {when.variable for when in here}
        if not here:
            found.append(When(frozenset((state.name,))))
        elif len(alone) == 1:
            variable = device.variable(here[0].variable)
            taken = {value for when in here for value in when.values}
            left = tuple(value for value in variable.values if value not in taken)
            found += [When(frozenset((state.name,)), variable.name, left)] if left else []
    return tuple(found)


def _overlap(one: When, other: When, device: Device) -> str:
    """A state, perhaps with a value, in which both are met; "" if there is none."""
    states = [state.name for state in device.states if state.name in one.states & other.states]
    if not states:
        return ""
    if not one.variable or not other.variable or one.variable != other.variable:
        return f"`{states[0]}`"
    values = [value for value in one.values if value in other.values]
    return f"`{states[0]} with {one.variable} {values[0]}`" if values else ""


def _read_unseen(found: Found | None, channels: Sequence[Channel], device: Device, notes: Notes) -> tuple[str, ...]:
    """Surroundings that may act although nothing of them is recorded."""
    if found is None:
        return ()
    why, example = "it names surroundings that act and aren't recorded", "unseen: [a surrounding]"
    names = tuple(what.name for what in device.surroundings)
    taken = {(channel.kind, channel.target) for channel in channels}
    unseen = []
    for words in read_list(found.value, found.key.place, "`unseen`", why, example, notes):
        what = next((one for one in device.surroundings if one.name == words.text), None)
        if what is None:
            cure = suggest(words.text, names, "surroundings") if names else "take it out"
            told = f"the spec has no surroundings `{show(words.text)}`"
            notes.complain(words.place, told, "the map is about the device of the spec", cure)
            continue
        recorded = (
            (isinstance(what, Disturbance) and ("button", what.button) in taken)
            or (isinstance(what, Outage) and ("cell", "") in taken)
            or (isinstance(what, Maker) and any(("event", event) in taken for event in what.events))
        )
        if recorded:
            told = f"`{show(words.text)}` is recorded"
            notes.complain(words.place, told, "what acts there can be seen in the recording", "take it out of `unseen`")
        elif isinstance(what, Outage) and device.power_up is None:
            told = f"`{show(words.text)}` takes the cell away"
            notes.complain(words.place, told, "the spec has no `power up`", "take it out of `unseen`")
        else:
            unseen.append(words.text)
    return tuple(unseen)


def taken_for_granted(device: Device, what: Map) -> tuple[str, ...]:
    """What isn't recorded and is taken not to happen, and when times began that nobody saw begin; in words."""
    taken = {(channel.kind, channel.target) for channel in what.channels}
    acting = [one for one in device.surroundings if one.name in what.unseen]
    told = [
        f"`{button.name}` is never pressed"
        for button in device.buttons
        if ("button", button.name) not in taken
        and not any(isinstance(one, Disturbance) and one.button == button.name for one in acting)
    ]
    told += [
        f"`{event.name}` never happens"
        for event in device.events
        if ("event", event.name) not in taken
        and not any(isinstance(one, Maker) and event.name in one.events for one in acting)
    ]
    if device.supply is not None and ("cell", "") not in taken and not any(isinstance(o, Outage) for o in acting):
        told.append("the cell never loses contact")
    if device.cell is not None and not what.of("level") and not any(isinstance(one, Sag) for one in acting):
        told.append("the voltage of the cell stays high")
    told = [f"{one}, since it isn't recorded" for one in told]
    if not what.powers_up and device.state(device.initial).timeouts:
        told.append(f"the times of `{device.initial}` began with the recording")
    return tuple(told)
