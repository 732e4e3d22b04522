"""The table of keys says exactly what the reader takes."""

from __future__ import annotations

import ast
import re
import sys
from pathlib import Path

import pytest

import nudgeproof.spec
from nudgeproof.check import ask
from nudgeproof.diagnostics import SpecErrors
from nudgeproof.questions import grammar
from nudgeproof.spec import fields
from nudgeproof.spec.keys import SECTIONS, YES, Key, Section
from nudgeproof.spec.outside import WAKING
from nudgeproof.spec.power import GUARDS
from nudgeproof.spec.presets import CHIPS, HABIT, HABITS
from nudgeproof.spec.read import read_device
from tests.spec.every_key import each, write
from tests.spec.good import GOOD

FOLDER = Path(nudgeproof.spec.__file__).parent
OWNERS = (
    ("the spec", ""),
    ("button `[^`]*`", "buttons.BUTTON"),
    ("variable `[^`]*`", "variables.VARIABLE"),
    ("group `[^`]*`", "states.GROUP"),
    ("gesture `[^`]*`", "gestures.GESTURE"),
    ("state `[^`]*`", "states.STATE"),
    ("`sleep` of state `[^`]*`", "states.STATE.sleep"),
    ("`on entering` of state `[^`]*`", "states.STATE.on entering"),
    ("(?:a case of )?`(?:after|every) [^`]*` in (?:state|group) `[^`]*`", "states.STATE.transitions.after TIME"),
    ("(?:a case of )?`[^`]*` in (?:state|group) `[^`]*`", "states.STATE.transitions.GESTURE"),
    ("`[^`]*` in `surroundings`", "surroundings.SOURCE"),
    ("event `[^`]*`", "events.EVENT"),
    ("depth `[^`]*`", "depths.DEPTH"),
    ("output `[^`]*`", "outputs.OUTPUT"),
    ("`[^`]*` in `harm`", "harm.HARMFUL"),
    ("an entry of `accepts`", "accepts"),
    ("`latch` of `supply`", "supply.latch"),
    ("`cut-off` of `supply`", "supply.cut-off"),
    ("`starts in` of `power up`", "power up.starts in"),
    ("`(cells|regulator|capacitor|brown-out)` of `supply`", r"supply.\1"),
    ("`(fresh|spent|[^`]* used)` of `cells`", "supply.cells.LEVEL"),
    ("load `[^`]*`", "loads.LOAD"),
    ("use `[^`]*`", "use.USE"),
    ("`(person|clock|memory|power up|supply|supervisor|ram|cell)`", r"\1"),
)
"""How the reader calls each section, and its path in the table."""
PLACEHOLDERS = (
    ("^closes .*", "closes BUTTON"),
    ("^with .*A$", "with CURRENT"),
    ("^with .*ohm$", "with RESISTANCE"),
    ("^.* % used$", "SHARE used"),
)
"""Keys with a name or a quantity in them, as the reader meets them and as the table calls them."""


def _read_every_form(monkeypatch: pytest.MonkeyPatch) -> tuple[dict[str, set[str]], set[tuple[str, int]]]:
    """For each path the keys that the reader takes there, and the places in the code that said so."""
    taken: dict[str, set[str]] = {}
    places = set()
    real = fields.sort_keys

    def listen(mapping, at, owner, known, later, notes):  # type: ignore[no-untyped-def]
        caller = sys._getframe(1)
        places.add((Path(caller.f_code.co_filename).name, caller.f_lineno))
        path = next((re.sub(words, path, owner) for words, path in OWNERS if re.fullmatch(words, owner)), owner)
        names = set(known)
        for written, name in PLACEHOLDERS:
            names = {re.sub(written, name, one) for one in names}
        if path == "use.USE":
            names = {"STATE" if name in ("stowed", "glowing") else name for name in names}
        # A person's own time for a gesture is a key by the gesture's name.
        taken.setdefault(path, set()).update("GESTURE" if name == "tap then hold" else name for name in names)
        return real(mapping, at, owner, known, later, notes)

    for module in list(sys.modules.values()):
        if module.__name__.startswith("nudgeproof.spec.") and hasattr(module, "sort_keys"):
            monkeypatch.setattr(module, "sort_keys", listen)
    read_device(GOOD, "lamp.yaml")
    for section, key, form in each():
        try:
            ask(read_device(write(section, key, form), "lamp.yaml"))
        except Exception as error:
            pytest.fail(f"{section.path}, {key.name}, {form}: {error}")
    # Two keys are read before all others, since they stand for lines that are then read as if they were written.
    taken[""].add("chip")
    taken["person"].add(HABIT)
    return taken, places


def test_every_form_of_the_table_is_read_and_the_reader_takes_nothing_else(monkeypatch: pytest.MonkeyPatch) -> None:
    taken, places = _read_every_form(monkeypatch)
    table = {section.path: {key.name for key in section.keys} for section in SECTIONS}
    assert {path: table.get(path) for path in taken} == taken
    table["states.STATE.transitions"].remove(WAKING)  # it has a name of its own, but is read like a gesture
    named = {path for path, names in table.items() if all(re.search("[A-Z]", name) for name in names)}
    assert set(table) - set(taken) == {"promises"} | named
    assert table["promises"] == {name for names in grammar._SETS for name in names}
    assert places == {place for source in FOLDER.glob("*.py") for place in _where_keys_are_sorted(source)}


def _where_keys_are_sorted(source: Path) -> set[tuple[str, int]]:
    """Where a source calls `sort_keys`: its name, and the line."""
    return {
        (source.name, node.lineno)
        for node in ast.walk(ast.parse(source.read_text(encoding="utf-8")))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "sort_keys"
    }


@pytest.mark.parametrize(("section", "key"), [(s, k) for s in SECTIONS for k in s.keys], ids=lambda x: x.path if
                         isinstance(x, Section) else x.name)  # fmt: skip
def test_what_is_needed_is_missed_and_what_counts_otherwise_is_said(section: Section, key: Key) -> None:
    """Without a key that is needed a problem names it; without any other the spec is read, and its default is listed."""
    if key.name == "BUTTON" or (key.name.isupper() and key.required):
        return  # an empty section has a test of its own in `bad`
    if (section.path, key.name) == ("states.GROUP", "states"):
        return  # it is what makes it a group: without it there is a state
    text = write(section, key, None)
    if key.required:
        with pytest.raises(SpecErrors) as caught:
            ask(read_device(text, "lamp.yaml"))
        assert key.required != YES or key.name in str(caught.value)
        return
    device = read_device(text, "lamp.yaml")
    for assumption in device.assumptions:
        name, _, value = assumption.text.partition(": ")
        if name == key.name and not key.default.startswith(("the one of", "every")):
            assert value.partition(" (")[0] in (key.default, key.default.partition(" for ")[0])


def test_each_assumption_of_the_reader_has_its_default_in_the_table() -> None:
    bare = read_device(
        "spec: 1\ndevice: x\nbuttons: {pad: {debounce: 20 ms}}\ngestures: {tap: {taps: 1, press: up to 1 s}}\n"
        "initial: a\nstates: {a: {sleep: {ready in: 1 ms, dozes again after: 1 ms}, transitions: {tap: b}}, b: {}}\n"
        "surroundings: {k: {closes pad: 1 ms}, c: {cell gone: 1 ms}}\nmemory: {keeps: state, write takes: 1 ms, guard:"
        " none}\npower up: {takes: 1 ms}\nsupply: {hold-up: 1 ms}\n",
        "x.yaml",
    )
    defaults = {key.name for section in SECTIONS for key in section.keys if key.default}
    assert len(bare.assumptions) == 14
    assert {assumption.text.partition(": ")[0] for assumption in bare.assumptions} <= defaults


def test_each_assumption_about_the_electricity_has_its_default_in_the_table() -> None:
    text = (
        "spec: 1\ndevice: x\nbuttons: {pad: {bounce: 1 ms, debounce: 20 ms}}\ngestures: {tap: {taps: 1, press: up to 1 s}}\n"
        "initial: a\nstates: {a: {transitions: {tap: a}}}\nloads: {a: {draws: 1 mA}}\nsupply:\n  cells: {fresh: {open: 3 V,"
        " resistance: 1 ohm}, spent: {open: 2 V, resistance: 9 ohm}}\n  regulator: {kind: linear, makes: 2 V}\n"
    )
    bare = read_device(text, "x.yaml")
    more = read_device(f"{text}  capacitor: {{size: 1 uF}}\n  brown-out: {{level: 2 V}}\n", "x.yaml")
    told = {section.path.rpartition(".")[2]: {key.name: key.default for key in section.keys} for section in SECTIONS}
    found = dict.fromkeys(assumption.text for device in (bare, more) for assumption in device.assumptions)
    names = set()
    for name, _, rest in (text.partition(": ") for text in found):
        value, _, section = rest.removesuffix(")").rpartition(" (")
        if section in ("cells", "regulator", "capacitor", "brown-out"):
            assert told[section][name] == value
            names.add(name)
    assert sorted(names) == [
        "asleep", "drops", "hysteresis", "leaks", "resistance", "responds in", "takes", "used until"
    ]  # fmt: skip


def test_choices_are_those_of_the_reader() -> None:
    forms = {(s.path, k.name): k.forms for s in SECTIONS for k in s.keys if k.takes == "choice"}
    assert forms["memory", "guard"] == GUARDS
    assert forms["", "chip"] == tuple(chip.name for chip in CHIPS)
    assert forms["person", HABIT] == tuple(habit.name for habit in HABITS)
    for (path, name), options in forms.items():
        section = next(s for s in SECTIONS if s.path == path)
        key = next(k for k in section.keys if k.name == name)
        with pytest.raises(SpecErrors) as caught:
            read_device(write(section, key, "elsewise"), "lamp.yaml")
        assert all(option in str(caught.value) for option in options)
