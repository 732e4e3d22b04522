"""What goes wrong, and whose fault it is.

Faults have three owners, each with its own class, and any input gives one of them:

* the author of a spec: `SpecErrors`, a list of `Problem`, each with file, line, column, what, why and cure;
* the device described: never an exception, always a finding with a verdict (see `verdict`);
* this tool: `ToolFault`, which tells the person to report it.

This module is the lowest floor: it knows nothing of YAML, of parts or of screens.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field

SHOWN_AT_ONCE = 5
"""How many problems of one stage are printed in full; the rest are counted."""

MOST_PROBLEMS = 1_000
"""With so many the stage ends: a file that is no spec at all is not to take long."""


UNSEEN = (
    "\xad\u034f\u061c\u115f\u1160\u17b4\u17b5\u180b-\u180f\u200b\u200e\u200f\u2060-\u2065\u3164\uffa0\ufff0-\ufffb"
    "\U0001bca0-\U0001bca3\U0001d173-\U0001d17a\U000e0000-\U000e0fff"
)
"""Characters that can't be seen, as in a class of a regular expression: those that Unicode says to ignore where they can't
be shown, but for the joiners that some scripts need and the marks that choose between a sign and its picture.
"""

_UNSEEN = re.compile(f"[{UNSEEN}]")


def can_be_seen(character: str) -> bool:
    """Whether the character is text, and shows."""
    return character.isprintable() and not _UNSEEN.match(character)


def printable(text: str) -> str:
    """The text with escapes for what a terminal would obey or not show: nothing in it is then more than text."""
    if text.isascii() and text.isprintable():
        return text
    return "".join(c if can_be_seen(c) else _escape(c) for c in text)


def _escape(character: str) -> str:
    return character.encode("unicode_escape").decode("ascii")


@dataclass(frozen=True, slots=True, order=True)
class Place:
    """A position in a spec file; `line` and `column` count from 1, 0 means "the file as a whole"."""

    file: str
    line: int = 0
    column: int = 0

    def __str__(self) -> str:
        file = printable(self.file)
        return f"{file}:{self.line}:{self.column}" if self.line else file


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing the author of a spec must mend.

    `what` names the value met, `why` says why it matters, `cure` says what to write instead.
    `also` points at the other line of a conflict.
    """

    place: Place
    what: str
    why: str
    cure: str
    source: str = field(default="", compare=False)
    also: Place | None = None

    def __str__(self) -> str:
        parts = [f"{self.place}: {self.what}; {self.why}; {self.cure}"]
        if self.also is not None:
            parts.append(f"  see also {self.also}")
        if self.source:
            parts.append(f"    {self.source}")
            parts.append("    " + _pad(self.source, self.place.column) + "^")
        return "\n".join(parts)


def _pad(source: str, column: int) -> str:
    """Blanks that put a caret under `column` (from 1), keeping tabs so that the columns line up."""
    return "".join("\t" if c == "\t" else " " for c in source[: max(0, column - 1)])


class SpecErrors(Exception):
    """All problems of one stage of reading a spec, in the order of the file."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        if not problems:
            raise ToolFault("an empty list of spec problems was raised")
        self.problems = tuple(sorted(problems, key=lambda p: p.place))
        super().__init__(str(self))

    def __reduce__(self) -> tuple[type[SpecErrors], tuple[tuple[Problem, ...]]]:
        """So that it comes whole out of another process; an exception is else made anew of its text."""
        return type(self), (self.problems,)

    def __str__(self) -> str:
        shown = [str(p) for p in self.problems[:SHOWN_AT_ONCE]]
        rest = len(self.problems) - SHOWN_AT_ONCE
        if rest > 0:
            told = f"at least {rest}" if len(self.problems) >= MOST_PROBLEMS else str(rest)
            shown.append(f"... and {told} more {'problem' if rest == 1 else 'problems'} in this file")
        return "\n".join(shown)


class ToolFault(Exception):
    """A fault of nudgeproof itself: a rule of the model was broken by the tool's own code."""
