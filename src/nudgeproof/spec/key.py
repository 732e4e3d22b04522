"""The shape of the table of keys: a key with its meaning and forms, and a section of them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

Takes = Literal[
    "words", "name", "names", "values", "values or keys", "time", "share", "quantity", "number", "yes", "choice", "keys",
    "cases", "entries", "sentences", "name or keys",
]  # fmt: skip
"""The shape of a value: words; a name given elsewhere, or a list of such; values as a list or as whole numbers; a time; a
percentage; an electrical quantity; a whole number; yes or no; one of its forms as they stand; keys of their own; a name,
such keys, or a list of them as cases; a list of keys; a list of sentences or of keys."""

YES: Final = "yes"


@dataclass(frozen=True, slots=True)
class Key:
    """One key. Words in capitals stand for a name, a time or a quantity: `closes BUTTON`.

    `forms`: values as they may be written, the usual one first. `required`: `YES`, "" for a key that may be left out, or
    when it is needed. `default`: what counts without it, "" if nothing does. `like`: the path of the section whose keys
    stand in it, "" if that is its own.
    """

    name: str
    meaning: str
    forms: tuple[str, ...]
    takes: Takes
    required: str = ""
    default: str = ""
    like: str = ""


@dataclass(frozen=True, slots=True)
class Section:
    """The keys that stand together. `path`: the keys that lead there, with dots between; "" for the spec itself."""

    path: str
    title: str
    keys: tuple[Key, ...]
