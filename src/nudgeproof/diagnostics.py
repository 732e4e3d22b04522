"""What goes wrong, and whose fault it is.

Faults have three owners, each with its own class, and any input gives one of them:

* the author of a spec: `SpecErrors`, a list of `Problem`, each with file, line, column, what, why and cure;
* the device described: never an exception, always a finding with a verdict (see `verdict`);
* this tool: `ToolFault`, which tells the person to report it.

This module is the lowest floor: it knows nothing of YAML, of parts or of screens.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

SHOWN_AT_ONCE = 5
"""How many problems of one stage are printed in full; the rest are counted."""


@dataclass(frozen=True, slots=True, order=True)
class Place:
    """A position in a spec file; `line` and `column` count from 1, 0 means "the file as a whole"."""

    file: str
    line: int = 0
    column: int = 0

    def __str__(self) -> str:
        return f"{self.file}:{self.line}:{self.column}" if self.line else self.file


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

    def __str__(self) -> str:
        shown = [str(p) for p in self.problems[:SHOWN_AT_ONCE]]
        rest = len(self.problems) - SHOWN_AT_ONCE
        if rest > 0:
            shown.append(f"... and {rest} more {'problem' if rest == 1 else 'problems'} in this file")
        return "\n".join(shown)


class ToolFault(Exception):
    """A fault of nudgeproof itself: a rule of the model was broken by the tool's own code."""
