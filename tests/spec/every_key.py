"""A spec for every form of every key of the table, the other keys as they must be beside it."""

from __future__ import annotations

import copy
from collections.abc import Iterator
from typing import Any, Final

from nudgeproof.spec.keys import SECTIONS, YES, Key, Section
from tests.yamls import dump, load

BASE: Final = """\
spec: 1
device: desk lamp
buttons:
  pad: {debounce: 20 ms}
gestures:
  tap: {taps: 1, press: up to 400 ms}
  two taps: {taps: 2, press: up to 400 ms, between: up to 260 ms}
  hold: {held: 1.2 s}
  tap then hold: {taps: 1, then held: 1.2 s, press: up to 400 ms, between: up to 260 ms}
variables:
  beam: [low, high]
  minutes: [1 min, 5 min]
initial: stowed
states:
  stowed: {transitions: {hold: glowing}}
  glowing: {shows: a faint glow, transitions: {hold: stowed}}
surroundings:
  knocks: {closes pad: 2 to 40 ms, then open at least: 300 ms}
  cell rattle: {cell gone: up to 40 ms, then steady at least: 2 s}
person: {tap: 60 to 350 ms, between: 80 to 220 ms, hold: 1.4 to 2.5 s}
memory: {keeps: [state], write takes: 3 ms, guard: two copies}
power up: {takes: 70 ms}
supply: {hold-up: 5 ms}
"""
_NAMES: Final = {
    "BUTTON": "pad", "GESTURE": "tap", "VARIABLE": "beam", "STATE": "glowing", "SOURCE": "knocks", "after TIME": "after 3 s",
    "after TIME with BUTTON open": "after 3 s with pad open", "closes BUTTON": "closes pad", "EVENT": "footfall",
    "DEPTH": "deep", "OUTPUT": "lamp", "HARMFUL": "glowing", "GROUP": "lit",
    "after VARIABLE": "after minutes", "every TIME": "every 3 s", "LEVEL": "fresh", "SHARE used": "40 % used",
    "with CURRENT": "with 9 mA", "with RESISTANCE": "with 330 ohm", "LOAD": "lamp", "USE": "evenings",
}  # fmt: skip
_OWN_NAMES: Final = {("person", "GESTURE"): "tap then hold", ("states.GROUP.states", "STATE"): "low"}
_TAPPED: Final = {"taps": "1", "press": "up to 400 ms"}
_LEAVES: Final = {"after 3 s": "stowed"}
_BESIDE: Final[dict[tuple[str, str], dict[str, Any]]] = {
    ("memory", "erases first"): {"guard": "checksum"},
    ("supply.cut-off", "switched on by"): {"then": "stays off"},
    ("supply.cut-off", "closed for"): {"then": "stays off"},
    ("supply.cut-off", "lets go"): {"then": "stays off"},
    ("buttons.BUTTON", "bounce"): {"debounce": "20 ms"},
    ("buttons.BUTTON", "edges apart"): {"debounce": "20 ms"},
    ("buttons.BUTTON", "extra taps"): {"debounce": "20 ms"},
    ("buttons.BUTTON", "release of a hold"): {"debounce": "20 ms"},
    ("buttons.BUTTON", "new state"): {"debounce": "20 ms"},
    ("buttons.BUTTON", "hold counts from"): {"debounce": "20 ms"},
    ("buttons.BUTTON", "waking press"): {"debounce": "20 ms"},
    ("buttons.BUTTON", "listens again"): {"debounce": "20 ms"},
    ("buttons.BUTTON", "read in"): {"debounce": "20 ms"},
    ("buttons.BUTTON", "where two fit"): {"debounce": "20 ms"},
    ("buttons.BUTTON", "length of a press"): {"debounce": "20 ms"},
    ("buttons.BUTTON", "lockout ends"): {"lockout": "20 ms"},
    ("buttons.BUTTON", "rhythm in sleep"): {"samples": "4 every 5 ms"},
    ("gestures.GESTURE", "on"): _TAPPED,
    ("gestures.GESTURE", "together"): {"within": "60 ms"},
    ("gestures.GESTURE", "within"): {"together": ["pad", "rim"]},
    ("gestures.GESTURE", "releases"): {"together": ["pad", "rim"], "within": "60 ms"},
    ("gestures.GESTURE", "taps"): {"press": "up to 400 ms"},
    ("gestures.GESTURE", "press"): {"taps": "1"},
    ("gestures.GESTURE", "between"): {"taps": "2", "press": "up to 400 ms"},
    ("gestures.GESTURE", "then held"): {**_TAPPED, "between": "up to 260 ms"},
    ("gestures.GESTURE", "presses"): {"press": "up to 400 ms", "held": "1.2 s", "between": "up to 260 ms"},
    ("gestures.GESTURE", "then taps"): {"held": "1.2 s", "press": "up to 400 ms", "between": "up to 260 ms"},
    ("gestures.GESTURE", "acts at"): {"held": "1.2 s"},
    ("gestures.GESTURE", "repeats every"): {"held": "1.2 s"},
    ("gestures.GESTURE", "answered within"): _TAPPED,
    ("states.STATE", "waiting"): {"transitions": _LEAVES},
    ("states.STATE.transitions.GESTURE", "restarts"): {"next": "beam"},
    ("states.STATE.transitions.GESTURE", "if"): {"next": "beam"},
    ("states.STATE.transitions.GESTURE", "keep"): {"to": "stowed"},
    ("states.STATE.transitions.after TIME", "keep"): {"to": "stowed"},
    ("states.STATE.transitions.after TIME", "if"): {"to": "stowed"},
    ("states.STATE.transitions.after TIME", "next"): {"to": "stowed"},
    ("states.STATE.transitions.after TIME", "previous"): {"to": "stowed"},
    ("states.STATE.transitions.after TIME", "set"): {"to": "stowed"},
    ("states.STATE.transitions.after TIME", "restarts"): {"next": "beam"},
    ("power up.starts in", "cell"): {"supervisor": "stowed"},
    ("power up.starts in", "cut-off"): {"cell": "stowed"},
    ("power up.starts in", "supervisor"): {"cell": "stowed"},
    ("power up", "causes"): {"starts in": {"cell": "stowed"}},
    ("clock", "drift"): {"off by": "5 %"},
    ("clock", "elapsed up to"): {"off by": "5 %"},
    ("clock", "tick"): {"off by": "5 %"},
    ("clock", "tick asleep"): {"off by": "5 %", "tick": "10 ms"},
    ("clock", "comes round"): {"off by": "5 %"},
    ("surroundings.SOURCE", "then open at least"): {"closes pad": "2 to 40 ms"},
    ("surroundings.SOURCE", "then steady at least"): {"cell gone": "up to 40 ms"},
    ("promises", "by"): {"never reaches": "glowing"},
    ("promises", "never reaches"): {"by": "knocks"},
    ("promises", "with"): {"by": "knocks", "never reaches": "glowing"},
    ("promises", "never changes"): {"by": "knocks"},
    ("promises", "together"): {"by": "knocks", "never reaches": "glowing"},
    ("promises", "in use"): {"by": "knocks", "never reaches": "glowing"},
    ("promises", "from"): {"gestures": "hold", "reaches": "glowing"},
    ("promises", "gestures"): {"from": "stowed", "reaches": "glowing"},
    ("promises", "reaches"): {"left alone": "stowed", "within": "4 s"},
    ("promises", "within"): {"left alone": "glowing", "reaches": "stowed"},
    ("promises", "stays in"): {"from": "glowing", "gestures": "tap", "for": "2 s"},
    ("promises", "for"): {"from": "glowing", "gestures": "tap", "stays in": "glowing"},
    ("promises", "takes"): {"from": "glowing", "gestures": "tap", "through": ["low", "high"]},
    ("promises", "through"): {"from": "glowing", "gestures": "tap", "takes": "beam"},
    ("promises", "answers within"): {"from": "stowed", "gestures": "hold"},
    ("promises", "left alone"): {"reaches": "stowed", "within": "4 s"},
    ("promises", "in"): {"always shows": "a faint glow"},
    ("promises", "always shows"): {"in": "glowing"},
    ("surroundings.SOURCE", "then asleep within"): {"closes pad": "for good"},
    ("surroundings.SOURCE", "then none for at least"): {"makes": "footfall"},
    ("surroundings.SOURCE", "meant"): {"makes": "footfall"},
    ("harm.HARMFUL", "why"): {"restored": "true"},
    ("promises", "cells last"): {"use": "evenings"},
    ("promises", "use"): {"cells last": "4 d"},
    ("ram", "blips"): {"new cells": "at least 5 s"},
    ("ram", "new cells"): {"blips": "up to 300 ms"},
    ("supply", "cells"): {"hold-up": "5 ms", "works from": "1.8 V"},
    ("supply", "capacitor"): {"hold-up": "5 ms"},
    ("supply.cells.LEVEL", "open"): {"resistance": "12 ohm"},
    ("supply.cells.LEVEL", "with CURRENT"): {"open": "3.1 V"},
    ("supply.cells.LEVEL", "with RESISTANCE"): {"open": "3.1 V"},
    ("supply.regulator", "kind"): {"efficiency": "85 %", "works from": "0.9 V"},
    ("supply.regulator", "efficiency"): {"kind": "boost", "works from": "0.9 V"},
    ("supply.regulator", "works from"): {"kind": "boost", "efficiency": "85 %"},
    ("supply.brown-out", "starts in"): {"tries": "2"},
    ("supply.brown-out", "tries"): {"starts in": "stowed"},
    ("supply.brown-out", "raised to"): {"level": "1.8 to 2.0 V"},
    **{
        ("loads.LOAD", key): {"draws": "9 mA"}
        for key in ("share", "peak", "needs", "in", "if", "while", "at most", "works on")
    },
    ("loads.LOAD", "led"): {"resistor": "47 ohm"},
    ("loads.LOAD", "pulse"): {"draws": "9 mA", "peak": "30 mA"},
}
_NEEDED: Final = (YES, "without `chip`", "without `habit`", "without `cells`")
"""What is always needed in the base spec, which has neither a chip nor a habit nor cells."""
_ELECTRICAL: Final = (
    "cells",
    "regulator",
    "capacitor",
    "brown-out",
    "works from",
    "rides through",
    "rises in",
    "at most",
)
_CELLS: Final = {"fresh": {"open": "3.1 V", "resistance": "12 ohm"}, "spent": {"open": "2.6 V", "resistance": "60 ohm"}}
_LISTS: Final = ("promises", "accepts")


def each() -> Iterator[tuple[Section, Key, str]]:
    """Every form of every key."""
    for section in SECTIONS:
        for key in section.keys:
            for form in key.forms:
                yield section, key, form


def write(section: Section, key: Key, form: str | None) -> str:
    """The spec with `key` written in this form; None leaves it out."""
    spec = _load(BASE)
    if section.path == "":
        spec.pop(key.name, None)
        here = spec
    else:
        here = {
            other.name: _load(other.forms[0]) for other in section.keys if other.required in _NEEDED and other != key
        }
        here = {name: value for name, value in here.items() if name not in _NAMES}
        here.update(copy.deepcopy(_beside(section, key, form)))
        if all(other.name in _NAMES for other in section.keys):
            here.update(_at(spec, section.path))
        _put(spec, section.path, here)
    if (section.path, key.name, form) != ("", "events", None):
        _join(spec, section, key)
    _feed(spec, section, key, form)
    _match(spec, section, key, form)
    _add_rim(spec, section, key)
    if form is not None:
        here[_OWN_NAMES.get((section.path, key.name)) or _NAMES.get(key.name, key.name)] = _load(form)
    return dump(spec)


def _match(spec: dict[str, Any], section: Section, key: Key, form: str | None) -> None:
    """What belongs together across sections: a state without power and a latch, what is kept and what is set."""
    if (section.path, key.name) == ("states.STATE", "unpowered") and form in ("true", "yes"):
        spec["supply"]["latch"] = {"closed by": "pad", "lets go": "5 ms"}
    if section.path == "supply.latch" or (section.path, key.name) == ("supply", "latch"):
        spec["states"]["stowed"]["unpowered"] = "true"
    if section.path == "supply.cut-off" and (key.name not in ("held", "for", "then") or form == "stays off"):
        spec["states"]["stowed"]["unpowered"] = "true"
        spec["states"]["stowed"].pop("transitions", None)
    if (section.path, key.name, form) == ("supply.regulator", "kind", "linear"):
        del spec["supply"]["regulator"]["efficiency"]
        del spec["supply"]["regulator"]["works from"]
    if (section.path, key.name) == ("states.STATE.transitions", "waking"):
        spec["states"]["glowing"]["sleep"] = {"ready in": "2 ms", "dozes again after": "50 ms"}
    if (section.path, key.name) == ("clock", "elapsed up to") and form is not None:
        asleep = {"ready in": "2 ms", "dozes again after": "50 ms", "pending taps": "outlast sleep"}
        spec["states"]["stowed"]["sleep"] = asleep
    if section.path == "clock" and key.name.startswith("tick"):
        asleep = {"ready in": "2 ms", "dozes again after": "50 ms", "pending taps": "go on at waking"}
        spec["states"]["stowed"]["sleep"] = asleep
    if form == "go on at waking":
        spec["clock"] = {"off by": "5 %", "tick": "10 ms"}
    if (section.path, key.name) == ("clock", "comes round") and form is not None:
        spec["buttons"]["pad"] = {"lockout": "20 ms", "lockout ends": "at a moment of the clock"}
    if (section.path, key.name) == ("buttons.BUTTON", "lockout ends") and form is not None:
        spec["clock"] = {"off by": "5 %", "comes round": "at any moment"}
    if section.path == "power up.starts in" or (section.path, key.name) == ("power up", "starts in"):
        spec["supply"]["cut-off"] = {"held": "pad", "for": "8 s ± 1 s"}
        spec["supervisor"] = {"after": "8 s ± 20 %", "in sleep": "stops"}
    if (section.path, key.name) == ("", "queue"):
        spec["buttons"]["pad"]["read in"] = "interrupt"
    if (section.path, key.name) == ("buttons.BUTTON", "length of a press") and form is not None:
        spec["clock"] = {"off by": "5 %", "elapsed up to": "65.536 s"}
    if (section.path, key.name) in (("buttons.BUTTON", "where two fit"), ("buttons.BUTTON", "length of a press")):
        for held in ("hold", "tap then hold"):
            spec["gestures"][held]["acts at"] = "release"
    if key.name == "keep":
        spec["states"]["stowed"]["on entering"] = {"set": {"beam": "low"}}


def _add_rim(spec: dict[str, Any], section: Section, key: Key) -> None:
    """A second button, for what is said of two."""
    here = (section.path, key.name)
    if here in (
        ("buttons.BUTTON", "hold counts from"),
        ("gestures.GESTURE", "on"),
        ("gestures.GESTURE", "together"),
        ("gestures.GESTURE", "within"),
        ("gestures.GESTURE", "releases"),
        ("person", "fingers"),
        ("person", "together"),
    ):
        spec["buttons"]["rim"] = {"debounce": "20 ms"}
        for name, gesture in spec["gestures"].items():
            if section.path in ("person", "buttons.BUTTON") or name != "tap":
                gesture["on"] = "pad"
    if here == ("person", "together"):
        spec["gestures"]["both"] = {"together": ["pad", "rim"], "within": "60 ms"}


def _join(spec: dict[str, Any], section: Section, key: Key) -> None:
    """What an event, a weak cell, a depth and harm need elsewhere."""
    here = (section.path, key.name)
    if section.path.startswith("events") or here == ("", "events"):
        spec["surroundings"]["walkers"] = {"makes": "footfall"}
    if section.path == "surroundings.SOURCE" and key.name in ("makes", "then none for at least", "meant"):
        spec["events"] = {"footfall": {}}
    if section.path == "cell" or here == ("", "cell"):
        spec["surroundings"]["weak cell"] = {"cell": "sags and recovers"}
    if here == ("surroundings.SOURCE", "cell"):
        spec["cell"] = {"low below": "2.2 V", "fine above": "2.4 V", "read every": "10 s"}
    if here == ("states.STATE.sleep", "depth"):
        spec["depths"] = {"deep": {"woken by": "level"}}
    if section.path.startswith("harm") or here == ("", "harm"):
        spec["memory"]["keeps"] = "beam"
    if here == ("harm.HARMFUL", "second means"):
        spec["accepts"] = [
            {
                "hazard": "accidental-change",
                "by": "knocks",
                "in": "glowing",
                "why": "x",
                "who": "y",
                "granted": "2026-11-20",
            }
        ]


def _feed(spec: dict[str, Any], section: Section, key: Key, form: str | None) -> None:
    """Cells, and a load that draws from them, for what is said of the electricity."""
    here = (section.path, key.name)
    electrical = key.name in _ELECTRICAL if section.path == "supply" else section.path.startswith("supply.")
    electrical = electrical and section.path not in ("supply.latch", "supply.cut-off")
    if not (electrical or section.path.startswith("loads") or here == ("", "loads") or here in _PROMISED):
        return
    if here != ("", "loads"):
        spec.setdefault("loads", {"processor": {"draws": "1 mA"}})
    if here in _PROMISED:
        spec["use"] = {"evenings": {"glowing": "90 min"}}
    if here != ("supply", "cells"):
        cells = spec["supply"].setdefault("cells", {})
        for level, value in _CELLS.items():
            if here != ("supply.cells", level):
                cells.setdefault(level, dict(value))


_PROMISED: Final = (("promises", "cells last"), ("promises", "use"))


def _beside(section: Section, key: Key, form: str | None) -> dict[str, Any]:
    if (section.path, key.name, form) == ("gestures.GESTURE", "taps", "2"):
        return {"press": "up to 400 ms", "between": "up to 260 ms"}
    if (section.path, key.name, form) == ("gestures.GESTURE", "then held", None):
        return _TAPPED
    if (section.path, key.name, form) == ("gestures.GESTURE", "then taps", None):
        return {"held": "1.2 s"}
    if (section.path, key.name) == ("gestures.GESTURE", "acts at") and form in ("pause", "press"):
        return _TAPPED
    if (section.path, key.name) == ("harm.HARMFUL", "restored") and form in ("true", "yes"):
        return {"why": "a pot must not dry out"}
    return _BESIDE.get((section.path, key.name), {})


def _load(text: str) -> Any:
    """YAML whose values are all words."""
    return load(text)


def _steps(path: str) -> list[str]:
    return [_NAMES.get(step, step) for step in path.split(".")]


def _at(spec: dict[str, Any], path: str) -> dict[str, Any]:
    for step in _steps(path):
        spec = spec.get(step, {})
    return spec


def _put(spec: dict[str, Any], path: str, here: dict[str, Any]) -> None:
    if path in _LISTS:
        spec[path] = [here]
        return
    *above, last = _steps(path)
    for step in above:
        spec = spec.setdefault(step, {})
    spec[last] = here
