"""The table of keys as a schema for editors: JSON Schema, draft 2020-12.

It never refuses a spec that the reader takes. It is looser: whether names exist, times are sound and gestures can be told
apart only the reader knows.
"""

from __future__ import annotations

import json
import re
from typing import Final

from nudgeproof.spec.keys import SECTIONS, YES, Key, Section, get_below, get_section, is_placeholder

Schema = dict[str, object]

_WORDS: Final = ["string", "number", "boolean"]
"""An editor reads `12` and `true` as other things than words; the reader doesn't."""
_TIME: Final = r"[0-9]\s*(us|µs|μs|ms|s|min|h|d|%)(?![A-Za-z])"
_SHARE: Final = r"[0-9]\s*(%|ppm)\s*$"
_QUANTITY: Final = r"[0-9]\s*([munpk\u00b5\u03bc]?(V|A|F|W|Ah|ohm|\u03a9|\u2126)|M(ohm|\u03a9|\u2126))(?![A-Za-z])"
_NUMBERS: Final = "^[0-9]+ to [0-9]+$"


def to_schema() -> Schema:
    """The schema of a whole spec."""
    top = get_section("")
    assert top is not None
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "nudgeproof spec, version 1",
        "description": "How a small battery device wakes, takes presses and sleeps",
        **_mapping(top),
        "$defs": {_slug(path): _mapping(section) for path in _shared() if (section := get_section(path)) is not None},
    }


def write_schema() -> str:
    """The schema as text in ASCII that ends in a newline."""
    return json.dumps(to_schema(), indent=1) + "\n"


def _mapping(section: Section) -> Schema:
    fixed: Schema = {}
    patterns: Schema = {}
    named: list[Schema] = []
    for key in section.keys:
        value = {"description": _describe(key), **_value(section, key)}
        if is_placeholder(key.name):
            named.append(value)
        elif key.name != key.name.lower():
            # `after TIME` also covers `after VARIABLE` and `after TIME with BUTTON open`.
            patterns.setdefault(_pattern(key.name), value)
        else:
            fixed[key.name] = value
    needed = [key.name for key in section.keys if key.required == YES and not is_placeholder(key.name)]
    return {
        "type": "object",
        **({"properties": fixed} if fixed else {}),
        **({"patternProperties": patterns} if patterns else {}),
        "additionalProperties": {"anyOf": named} if len(named) > 1 else named[0] if named else False,
        **({"required": needed} if needed else {}),
        **({"minProperties": 1} if any(is_placeholder(key.name) and key.required for key in section.keys) else {}),
    }


def _pattern(name: str) -> str:
    """Which keys are meant by a name with a word in capitals: those that begin as it does, or that end so."""
    begins, ends = re.split("[A-Z]+", name)[0].rstrip(), re.split("[A-Z]+", name)[-1].lstrip()
    return f"^{begins}(\\s|$)" if begins else f"\\s{ends}$"


def _describe(key: Key) -> str:
    forms = " | ".join(key.forms)
    return f"{key.meaning}. {key.name}: {forms}" + (f" (default: {key.default})" if key.default else "")


def _value(section: Section, key: Key) -> Schema:
    below = _below(section, key)
    if key.takes == "entries":
        return {"type": "array", "items": below}
    if key.takes == "sentences":
        return {"type": "array", "items": {"anyOf": [{"type": "string"}, below]}}
    if key.takes == "keys":
        return below
    if key.takes == "name or keys":
        return {"anyOf": [{"type": _WORDS}, below]}
    if key.takes == "cases":
        return {"anyOf": [{"type": _WORDS}, below, {"type": "array", "items": below, "minItems": 1}]}
    if key.takes == "names":
        return {"anyOf": [{"type": _WORDS}, {"type": "array", "items": {"type": _WORDS}, "minItems": 1}]}
    if key.takes in ("values", "values or keys"):
        listed: Schema = {
            "type": "array",
            "items": {"type": _WORDS},
            "minItems": 2,
            "maxItems": 32,
            "uniqueItems": True,
        }
        forms = [listed, {"type": "string", "pattern": _NUMBERS}]
        return {"anyOf": [*forms, below] if key.takes == "values or keys" else forms}
    if key.takes == "time":
        words = [form for form in key.forms if not re.search("[0-9]", form)]
        timed: Schema = {"type": "string", "pattern": _TIME}
        return {"anyOf": [timed, {"enum": words}]} if words else timed
    if key.takes == "share":
        return {"type": "string", "pattern": _SHARE}
    if key.takes == "quantity":
        return {"type": "string", "pattern": _QUANTITY}
    if key.takes == "number":
        return {"enum": [*range(1, 10), *(str(n) for n in range(1, 10))]}
    if key.takes == "yes":
        return {"enum": [True, False, "true", "false", "yes", "no"]}
    if key.takes == "choice":
        numbers = [int(form) for form in key.forms if form.isdigit()]
        return {"enum": [*numbers, *key.forms]}
    return {"type": _WORDS}


def _below(section: Section, key: Key) -> Schema:
    """The schema of a value made of keys of its own; an empty one where the table has none."""
    found = get_below(section, key)
    if found is None:
        return {"type": "object"}
    return {"$ref": f"#/$defs/{_slug(found.path)}"} if found.path in _shared() else _mapping(found)


def _shared() -> tuple[str, ...]:
    """The sections whose keys stand in several places; each is written out once."""
    return tuple(dict.fromkeys(key.like for section in SECTIONS for key in section.keys if key.like))


def _slug(path: str) -> str:
    """A path as a name that needs no escape in a reference."""
    return path.replace(" ", "-")
