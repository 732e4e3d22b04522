"""What a hazard, a verdict, a promise or a key of the spec means, as text for a terminal."""

from __future__ import annotations

import difflib
import textwrap
from collections.abc import Iterable
from dataclasses import dataclass
from types import ModuleType
from typing import Final

from nudgeproof.hazards import HAZARDS
from nudgeproof.questions.promises import HAZARD as PROMISE
from nudgeproof.report.screen import HOLDS_MEANS, WIDTH
from nudgeproof.spec.keys import SECTIONS, YES, Key, Section, get_below, tell_path

PROMISES: Final = "promises"
CONDITIONS: Final = "conditions"
SCHEMA: Final = "schema"

VERDICTS: Final = {
    "broken": (
        "There is a story: presses, knocks or interruptions with times, replayed step by step, at whose end the thing"
        " that must not happen has happened. Or, where something is wanted (a mode that can be reached), a proof that"
        " no timing brings it about. Exit code 1."
    ),
    "undecided": (
        "Neither yes nor no: the effort ran out before everything was looked at (`--effort deep` looks further), or time can"
        " stop in the device as it is described, so that nothing after it could be looked at. It is never a pass."
        " Exit code 3."
    ),
    "never came up": (
        "No failure was found, but what the question is about can't happen at all: a knock that never finds the"
        " device in the state it is asked about, say. So the answer means nothing, and it is never a pass: look for a"
        " slip in the spec. Exit code 3."
    ),
    "holds": f"{HOLDS_MEANS} Exit code 0, if nothing else is broken or undecided.",
    "not asked": (
        "The hazard doesn't apply, because the spec has no such part or states no such thing; the reason stands beside it."
        " It has no effect on the exit code. So look at the list: a gate doesn't notice that a section was deleted."
    ),
    "accepted": (
        "A failure that the maker knows and takes: the section `accepts` names the hazard, the source, the state, the"
        " reason and who decided. It is listed, not hidden; everything else about the hazard is still asked. An entry"
        " that isn't needed any more is said to be so."
    ),
}
"""What each verdict claims."""

PROMISE_FORMS: Final = (
    (
        "SOURCES never reach STATE",
        "the sources, each by itself, never bring the device into the state; with a variable: `glowing with beam high`",
        "knocks and bag squeeze never reach glowing",
    ),
    (
        "SOURCES, together, never reach STATE",
        "the same, with all of them acting at once",
        "knocks and bag squeeze, together, never reach glowing",
    ),
    (
        "SOURCES never change THINGS",
        "what is named (`state`, variables) stays as it was, but for the device's own times; after an interruption it comes"
        " back as it was",
        "cell rattle never changes state or beam",
    ),
    (
        "..., while someone uses it",
        "after any use, for an interruption also during it; without these words a promise begins with a device that nobody"
        " has used",
        "cell rattle never changes state or beam, while someone uses it",
    ),
    (
        "from STATE, GESTURES reaches STATE within TIME",
        "the gestures (or events), done as the person does them, always lead there, by that time from the first touch if one"
        " is given; either state may have a variable: `from glowing with beam low, tap reaches glowing with beam high`",
        "from glowing, tap then hold reaches stowed within 3.5 s",
    ),
    (
        "from STATE, GESTURES takes VARIABLE from VALUE to VALUE to ...",
        "from each of these values to the next, and the state stays; with `within TIME` too",
        "from glowing, tap takes beam from low to high to slow blink to low",
    ),
    (
        "from STATE, GESTURES stays in STATE for TIME",
        "the gestures lead there, and with nobody doing any more it isn't left before that time",
        "from glowing, tap stays in glowing for 2 s",
    ),
    (
        "from STATE, GESTURES answers within TIME",
        "the gestures, done as the person does them, are seen in time, from the last release or for a hold from its press",
        "from glowing, tap answers within 700 ms",
    ),
    (
        "left alone, STATE reaches STATE within TIME",
        "with nobody doing anything the device gets there by itself in time; either state may have a variable: `left alone,"
        " watering with left 2 reaches watering with left 1 within 1.1 min`",
        "left alone, armed reaches stowed within 3.5 s",
    ),
    (
        "STATE always shows WORDS",
        "whenever it is in the state, it shows this; with a variable: `glowing with beam high`",
        "glowing always shows beam",
    ),
    (
        "cells last at least TIME in USE",
        "with a day of this use after the other the cells last so long, on every unit; `h`, `d`, `months` or `years`",
        "cells last at least 40 d in evenings",
    ),
)
"""Each form of a promise: its grammar, what it says, an example."""


CONDITION_FORMS: Final = (
    ("VARIABLE is VALUE", "it has this value", "beam is high"),
    ("VARIABLE is VALUE or VALUE", "it has one of these values", "beam is low or high"),
    ("VARIABLE is not VALUE", "it has any other value", "beam is not high"),
    ("VARIABLE is at least NUMBER", "for whole numbers: this one or more", "left is at least 1"),
    ("VARIABLE is at most NUMBER", "for whole numbers: this one or less", "left is at most 3"),
    ("CONDITION and CONDITION", "all of them hold", "beam is high and left is at least 1"),
)
"""Each form of a condition: its grammar, what it says, an example."""


@dataclass(frozen=True, slots=True)
class UnknownTopic(Exception):
    """Nothing of this name can be explained; `near` is the most similar name, "" if none is."""

    name: str
    near: str


def list_topics() -> str:
    """Everything that can be explained, by kind."""
    keys = dict.fromkeys(key.name for section in SECTIONS for key in section.keys if not key.name.isupper())
    lines = ["What can be explained: nudgeproof explain NAME"]
    for title, names in (
        ("hazards", [hazard.NAME for hazard in HAZARDS]),
        ("verdicts", list(VERDICTS)),
        ("promises", [PROMISES]),
        ("conditions", [CONDITIONS]),
        ("keys of the spec", list(keys)),
        ("for editors", [SCHEMA]),
    ):
        lines += ["", title, *_wrap(", ".join(names), "  ")]
    return "\n".join(lines) + "\n"


def explain(name: str) -> str:
    """The text for one name, in any case of letters; raises `UnknownTopic`. Waveforms in it are drawn with blocks.

    A key may also be asked for with the keys that lead there: `supply.cells`.
    """
    wanted = " ".join(name.lower().split())
    wanted = PROMISES if wanted == PROMISE else wanted
    blocks = [_tell_hazard(hazard) for hazard in HAZARDS if wanted == hazard.NAME]
    if wanted in VERDICTS:
        blocks.append([f"{wanted} (a verdict)", *_wrap(VERDICTS[wanted], "  ")])
    if wanted == PROMISES:
        blocks.append(_tell_promises())
    if wanted == CONDITIONS:
        blocks.append(_tell_conditions())
    for section in SECTIONS:
        blocks += [_tell_key(section, key) for key in section.keys if wanted in (key.name.lower(), _path(section, key))]
    if not blocks:
        near = difflib.get_close_matches(wanted, _names(), 1)
        raise UnknownTopic(name, near[0] if near else "")
    return "\n\n".join("\n".join(block) for block in blocks) + "\n"


def _path(section: Section, key: Key) -> str:
    """Where a key stands, as one may ask for it: `supply.cells`."""
    return f"{section.path}.{key.name}".lower() if section.path else ""


def _names() -> list[str]:
    keys = [name for section in SECTIONS for key in section.keys for name in (key.name, _path(section, key)) if name]
    return [*(hazard.NAME for hazard in HAZARDS), *VERDICTS, PROMISES, CONDITIONS, SCHEMA, *keys]


def _tell_hazard(hazard: ModuleType) -> list[str]:
    return [
        f"{hazard.NAME} (a hazard)",
        *_wrap(f"{hazard.MEANS}.", "  "),
        "",
        *(f"  {row}" for row in hazard.SHOWN.splitlines()),
        "",
        *_field("asked if", f"the spec states {hazard.ASKED_IF}"),
        *_field("usually", hazard.CURE),
        *_field("tempting", f"but wrong: {hazard.TEMPTING}"),
        *_field("how exact", hazard.EXACT),
        *_field("example", f"specs/failures/{hazard.NAME} has a device that shows it, and the same one mended"),
    ]


def _tell_promises() -> list[str]:
    lines = ["promises (sentences in the section `promises`, each a question of its own)"]
    for grammar, says, example in PROMISE_FORMS:
        lines += ["", *_wrap(grammar, "  "), *_wrap(says, "    "), *_wrap(f"- {example}", "    ")]
    rest = (
        "Names are those of the spec. SOURCES are names of `surroundings`, `person`, `anything` (any press of any"
        " length), `blank memory` or `damaged memory` (power comes, and the first start finds it so), with `and` between"
        " them. A promise may also be written as keys:"
    )
    lines += ["", *_wrap(rest, "  ")]
    for example in (
        "- {by: [knocks], never reaches: glowing, together: no, in use: yes}",
        "- {by: cell rattle, never changes: [state, beam], in use: yes}",
        "- {from: glowing, gestures: tap then hold, reaches: stowed, within: 3.5 s}",
        "- {from: glowing, gestures: tap, takes: beam, through: [low, high, low]}",
        "- {from: glowing, gestures: tap, stays in: glowing, for: 2 s}",
        "- {from: glowing, gestures: tap, answers within: 700 ms}",
        "- {left alone: armed, reaches: stowed, within: 3.5 s}",
        "- {in: glowing, always shows: beam}",
        "- {cells last: 40 d, use: evenings}",
    ):
        lines.append(f"    {example}")
    return lines


def _tell_conditions() -> list[str]:
    lines = ["conditions (what stands after `if` in a line of `transitions`)"]
    for grammar, says, example in CONDITION_FORMS:
        lines += ["", *_wrap(grammar, "  "), *_wrap(says, "    "), *_wrap(f"if: {example}", "    ")]
    rest = (
        "One gesture or time may have a list of cases, each with its `if`. They must exclude each other; where none holds"
        " nothing happens. What counts are the values before the line does anything."
    )
    example = "tap: [{if: beam is high, to: stowed}, {if: beam is not high, next: beam}]"
    return [*lines, "", *_wrap(rest, "  "), f"    {example}"]


def _tell_key(section: Section, key: Key) -> list[str]:
    below = get_below(section, key)
    above = section.path.rpartition(".")[2]
    lines = [f"{key.name} (a key of {section.title})", *_wrap(f"{key.meaning}.", "  "), ""]
    lines += _field("belongs", f"at {tell_path(section.path)}" if above else "at the top of the spec")
    for number, form in enumerate(key.forms):
        lines += _field("write" if number == 0 else "or", f"{key.name}: {form}")
    lines += _field("needed", "yes" if key.required == YES else key.required or "no")
    lines += _field("default", key.default)
    if below is not None:
        lines += _field("keys in it", ", ".join(one.name for one in below.keys))
    return lines


def _wrap(text: str, indent: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=indent, subsequent_indent=indent, break_on_hyphens=False)


def _field(name: str, text: str) -> Iterable[str]:
    if not text:
        return []
    return textwrap.wrap(
        text, WIDTH, initial_indent=f"  {name:<12}", subsequent_indent=" " * 14, break_on_hyphens=False
    )
