"""From the text of a spec to a `Device`.

Reading has three stages: characters, YAML, meaning. A stage that finds problems reads on to its end and then raises
them all; the next stage isn't begun. Nothing here opens a file.
"""

from __future__ import annotations

import hashlib
from dataclasses import replace
from typing import Final

from nudgeproof.diagnostics import Place, Problem, SpecErrors, ToolFault
from nudgeproof.spec.accepts import read_accepts
from nudgeproof.spec.asleep import check_counting
from nudgeproof.spec.buttons import read_buttons
from nudgeproof.spec.clock import Clock, check_comes_round, check_elapsed, check_ticks, read_clock, widen
from nudgeproof.spec.conflicts import check_gestures
from nudgeproof.spec.depths import read_depths
from nudgeproof.spec.events import check_events, check_weak_cells, read_cell, read_events
from nudgeproof.spec.fields import Found, Keys, describe, get_names, read_words, refer, sort_keys
from nudgeproof.spec.fixed import check_samples
from nudgeproof.spec.gestures import check_claims, check_extra_taps, check_late_looks, read_gestures
from nudgeproof.spec.loads import check_loads, read_loads, read_use
from nudgeproof.spec.names import Names
from nudgeproof.spec.nodes import LARGEST_BYTES, Mapping, Node, Words, check_characters, read_nodes
from nudgeproof.spec.notes import Notes, quote_line, show, split_lines
from nudgeproof.spec.outputs import check_harm, read_harm, read_outputs
from nudgeproof.spec.outside import CELL_FINE, CELL_LOW
from nudgeproof.spec.power import check_latch, read_memory, read_power_up, read_supply
from nudgeproof.spec.presets import fill_in
from nudgeproof.spec.queue import read_queue
from nudgeproof.spec.ram import check_ram, read_ram
from nudgeproof.spec.resets import check_causes, check_off, check_resets, read_supervisor
from nudgeproof.spec.sections import fill_holds, read_person, read_promises
from nudgeproof.spec.states import find_starts, find_states, read_states
from nudgeproof.spec.surroundings import check_outages, read_surroundings
from nudgeproof.spec.types import Accepted, Device, Group
from nudgeproof.spec.variables import read_variables

VERSION: Final = "1"
LONGEST_DEVICE_NAME: Final = 80

_KNOWN: Final = (
    "spec",
    "device",
    "buttons",
    "queue",
    "gestures",
    "variables",
    "initial",
    "states",
    "person",
    "surroundings",
    "promises",
    "clock",
    "memory",
    "power up",
    "supply",
    "supervisor",
    "ram",
    "accepts",
    "events",
    "cell",
    "depths",
    "outputs",
    "harm",
    "loads",
    "use",
)
_LATER: Final = ("scripts",)
_REQUIRED: Final = {
    "device": ("a report names the device", "add a line such as `device: clip light`"),
    "buttons": ("there is nothing to press", "add `buttons:` with a line such as `pad: {debounce: 20 ms}`"),
    "gestures": ("no press means anything", "add `gestures:` with a line such as `hold: {held: 1.2 s}`"),
    "initial": ("it is the state the device starts in", "add a line such as `initial: stowed`"),
    "states": ("they are what is checked", "add `states:` with a line for each state"),
}


def decode(data: bytes, file: str) -> str:
    """The text of a spec's bytes: UTF-8, with or without a byte order mark.

    Raises `SpecErrors` with the line and column of the first byte that is no UTF-8, or when there are too many bytes.
    """
    if len(data) > LARGEST_BYTES:
        raise SpecErrors([_complain_of_size(file)])
    try:
        return data.removeprefix(b"\xef\xbb\xbf").decode("utf-8")
    except UnicodeDecodeError as error:
        whole = data.removeprefix(b"\xef\xbb\xbf")
        before = split_lines(whole[: error.start].decode("utf-8") + ".")
        lines = split_lines(whole.decode("utf-8", errors="replace"))
        at = Place(file, len(before), len(before[-1]))
        is_wide = whole[:2] in (b"\xff\xfe", b"\xfe\xff")
        what = "the file is UTF-16" if is_wide else f"the byte {whole[error.start]:#04x} is no UTF-8 text"
        cure = "save the file as UTF-8"
        raise SpecErrors([Problem(at, what, "a spec is a text in UTF-8", cure, quote_line(lines, at))]) from None


def read_device(text: str, file: str) -> Device:
    """The device that a spec describes, with every default filled in and listed; `file` is its name in messages.

    Raises `SpecErrors` with all problems of the first stage that has any.
    """
    text = text.removeprefix("\ufeff")
    if len(text.encode("utf-8", errors="surrogatepass")) > LARGEST_BYTES:
        raise SpecErrors([_complain_of_size(file)])
    notes = Notes(file, split_lines(text))
    check_characters(notes)
    notes.stop_if_bad()
    root = read_nodes(text, notes)
    notes.stop_if_bad()
    if root is None:
        raise ToolFault("YAML gave neither a tree nor a problem")
    return _read_root(root, text, notes)


def _complain_of_size(file: str) -> Problem:
    what = f"the file is larger than {LARGEST_BYTES // 1_000_000} MB"
    return Problem(Place(file), what, "a spec is a few hundred lines", "check that this is the right file")


def _read_root(root: Node, text: str, notes: Notes) -> Device:
    """The third stage: raises `SpecErrors`, or gives a device all of whose references hold."""
    if not isinstance(root, Mapping):
        what = "the spec is " + describe(root)
        notes.complain(root.place, what, "it is made of keys with values", "begin with `spec: 1` and `device: ...`")
        notes.stop_if_bad()
        raise ToolFault("a problem got lost")
    version = next((value for key, value in root.entries if key.text == "spec"), None)
    _check_version(root, version, notes)
    root = fill_in(root, notes)
    keys = sort_keys(root, root.place, "the spec", _KNOWN, _LATER, notes)
    for key, (why, cure) in _REQUIRED.items():
        keys.require(key, "the spec", why, cure, notes)
    return _read_sections(keys, text, notes)


def _check_version(root: Mapping, version: Node | None, notes: Notes) -> None:
    """Note a version that isn't understood; one of another time ends the stage, since its keys are others too."""
    cure = f"write `spec: {VERSION}`"
    if version is None:
        why = "it says which version of this language is meant"
        notes.complain(root.place, "the spec has no `spec`", why, f"add the line `spec: {VERSION}` at the top")
        return
    if isinstance(version, Words) and version.text == VERSION and not version.block:
        return
    key = next(key for key, _ in root.entries if key.text == "spec")
    at = key.place if isinstance(version, Words) and version.is_missing else version.place
    is_number = isinstance(version, Words) and version.text.replace(".", "", 1).isdecimal()
    why = (
        f"version {VERSION} is the only one understood" if is_number else "it is the number of this language's version"
    )
    notes.complain(at, f"`spec` is {describe(version)}", why, cure)
    if is_number:
        notes.stop_if_bad()


def _read_sections(keys: Keys, text: str, notes: Notes) -> Device:
    found = keys.found
    variables = read_variables(found["variables"], notes) if "variables" in found else ()
    states_named = find_states(found.get("states"))
    events = _get_optional_names(keys, "events")
    names = Names(
        buttons=get_names(found.get("buttons")),
        gestures=get_names(found.get("gestures")),
        variables=_get_optional_names(keys, "variables"),
        states=tuple(word.text for word in states_named) or None,
        starts=find_starts(found.get("states")),
        domains={variable.name: variable for variable in variables},
        events=None if events is None or "cell" in keys.guessed else (*events, *_cell_events(found)),
        depths=_get_optional_names(keys, "depths"),
    )
    name = _read_device_name(found.get("device"), notes)
    buttons = read_buttons(found["buttons"], notes) if "buttons" in found else ()
    gestures = read_gestures(found["gestures"], names.buttons, notes) if "gestures" in found else ()
    initial = _read_initial(found.get("initial"), names, notes)
    depths = read_depths(found["depths"], notes) if "depths" in found else ()
    names = replace(names, sound_depths=depths)
    states, groups = read_states(found["states"], names, notes) if "states" in found else ((), ())
    clock = _read_clock(found.get("clock"), keys.at, notes)
    queue = read_queue(found.get("queue"), buttons, gestures, "queue" not in keys.guessed, keys.at, notes)
    by_name = {gesture.name: gesture for gesture in gestures}
    ordered = tuple(button.name for button in buttons if button.claims.first_fits)
    for state in states:
        first = {transition.gesture: transition for transition in reversed(state.transitions)}
        check_gestures(state.name, tuple(first[gesture] for gesture in state.gestures), by_name, clock, notes, ordered)
    for button_ in buttons:
        check_extra_taps(button_, gestures, notes)
        check_claims(button_, buttons, notes)
        check_late_looks(button_, gestures, notes)
    person = read_person(found["person"], names.buttons or (), gestures, notes) if "person" in found else None
    person = fill_holds(person, by_name, states, notes) if person is not None else None
    surroundings = (
        read_surroundings(found["surroundings"], names.buttons, events, states_named, notes)
        if "surroundings" in found
        else ()
    )
    check_outages(keys, notes)
    promises = read_promises(found["promises"], notes) if "promises" in found else ()
    memory = read_memory(found["memory"], names.variables, notes) if "memory" in found else None
    power_up = read_power_up(found["power up"], names, initial, notes) if "power up" in found else None
    check_counting(states, gestures, power_up, notes)
    supply = read_supply(found["supply"], names, notes) if "supply" in found else None
    supervisor = read_supervisor(found["supervisor"], notes) if "supervisor" in found else None
    ram = read_ram(found["ram"], names.variables, notes) if "ram" in found else None
    if "supply" not in keys.guessed and "power up" not in keys.guessed and not notes.problems:
        check_latch(supply, power_up, states, notes)
        check_off(supply, states, notes)
        check_resets(supply, supervisor, power_up, notes)
        if "supervisor" not in keys.guessed:
            check_causes(supply, supervisor, power_up, notes)
        check_ram(ram, power_up, notes)
    sources = _get_optional_names(keys, "surroundings")
    accepts = read_accepts(found["accepts"], sources, names.states, notes) if "accepts" in found else ()
    outside = (
        read_events(found["events"], names.gestures or (), names.buttons or (), notes) if "events" in found else ()
    )
    cell = read_cell(found["cell"], notes) if "cell" in found else None
    has_all = len(surroundings) == len(sources or ()) and "surroundings" not in keys.guessed
    draws_low = supply is not None and supply.electricity is not None
    check_events(outside, None if draws_low else cell, surroundings, states, has_all, notes)
    check_weak_cells("cell" in {*found, *keys.guessed}, surroundings, notes)
    outputs = read_outputs(found["outputs"], names.states, notes) if "outputs" in found else ()
    switched = _get_optional_names(keys, "outputs")
    harm = read_harm(found["harm"], names.states, switched, notes) if "harm" in found else ()
    loads = read_loads(found["loads"], names, groups, notes) if "loads" in found else ()
    if "loads" not in keys.guessed and "supply" not in keys.guessed and not notes.problems:
        electricity = supply.electricity if supply is not None else None
        check_loads(electricity, loads, found.get("loads"), memory is not None or "memory" in keys.guessed, notes)
    use = read_use(found["use"], names, initial, sources, notes) if "use" in found else ()
    check_harm(harm, outputs, states, memory, power_up, accepts, notes)
    notes.stop_if_bad()
    device = Device(
        file=notes.file,
        name=name,
        buttons=buttons,
        gestures=gestures,
        variables=variables,
        initial=initial,
        states=states,
        person=person,
        surroundings=surroundings,
        promises=promises,
        assumptions=tuple(sorted(notes.assumptions, key=lambda assumption: assumption.at)),
        digest=hashlib.sha256(text.encode("utf-8")).hexdigest(),
        lines=notes.lines,
        at=keys.at,
        memory=memory,
        power_up=power_up,
        supply=supply,
        supervisor=supervisor,
        ram=ram,
        accepts=tuple(_spread(entry, groups) for entry in accepts),
        groups=groups,
        events=outside,
        cell=cell,
        outputs=outputs,
        harm=harm,
        loads=loads,
        use=use,
        queue=queue,
    )
    device = widen(device, clock)
    check_samples(device, notes)
    clock_at = found["clock"].key.place if "clock" in found else keys.at
    check_elapsed(device, clock_at, notes)
    check_ticks(device, clock_at, notes)
    check_comes_round(buttons, clock, clock_at, notes)
    notes.stop_if_bad()
    return device


def _cell_events(found: dict[str, Found]) -> tuple[str, ...]:
    return (CELL_LOW, CELL_FINE) if "cell" in found else ()


def _read_clock(found: Found | None, at: Place, notes: Notes) -> Clock:
    """How far the clock may be off; without a section it is taken to be exact."""
    if found is not None:
        return read_clock(found, notes)
    notes.assume("clock: {off by: 0 %}", at)
    return Clock()


def _get_optional_names(keys: Keys, section: str) -> tuple[str, ...] | None:
    """The names of a section that may be missing, then there are none; None when its key was misspelt or it is broken."""
    if section in keys.found:
        return get_names(keys.found[section])
    return None if section in keys.guessed else ()


def _spread(entry: Accepted, groups: tuple[Group, ...]) -> Accepted:
    """What is accepted in a group, with the states that this means."""
    return replace(entry, states=next((group.states for group in groups if group.name == entry.within), ()))


def _read_device_name(found: Found | None, notes: Notes) -> str:
    if found is None:
        return ""
    words = read_words(found.value, found.key.place, "`device`", "a report names it", "device: clip light", notes)
    name = words.text.strip() if words is not None else ""
    if len(name) > LONGEST_DEVICE_NAME:
        what = f"the name `{show(name)}` is {len(name)} characters long"
        cure = f"use at most {LONGEST_DEVICE_NAME}"
        notes.complain(found.value.place, what, "it stands at the head of each report", cure)
    return name


def _read_initial(found: Found | None, names: Names, notes: Notes) -> str:
    if found is None:
        return ""
    states = names.states
    why, example = "it is the state the device starts in", f"initial: {states[0] if states else 'stowed'}"
    words = read_words(found.value, found.key.place, "`initial`", why, example, notes)
    return "" if words is None else names.entered(refer(words, states, "state", notes))
