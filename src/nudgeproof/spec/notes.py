"""What the reader notes on its way through a spec: problems, assumptions, and the lines it quotes from.

Everything that is shown to a person passes through `show` or `quote_line`, so that no control character of a spec ever
reaches a terminal.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Collection, Iterable
from dataclasses import dataclass, field

from nudgeproof.diagnostics import MOST_PROBLEMS, Place, Problem, SpecErrors, can_be_seen, printable
from nudgeproof.spec.types import Assumption

WIDEST_QUOTE = 100
"""Columns of a source line that are quoted under a problem."""

_LINE_BREAK = re.compile(r"\r\n|\r|\n")
_MANY = 15
_TOO_MANY_TO_COMPARE = 200


@dataclass(frozen=True, slots=True)
class Notes:
    """The problems and assumptions of one file, gathered in any order.

    `lines` are those of the text that is read; places are made from them, so that each lies within the file.
    """

    file: str
    lines: tuple[str, ...]
    problems: list[Problem] = field(default_factory=list)
    assumptions: list[Assumption] = field(default_factory=list)

    def place(self, line: int, column: int) -> Place:
        """The place of a mark that counts from 0; one past the end becomes the end of the last line."""
        if line < len(self.lines):
            return Place(self.file, line + 1, column + 1)
        return Place(self.file, len(self.lines), len(self.lines[-1]) + 1) if self.lines else Place(self.file)

    def complain(self, at: Place, what: str, why: str, cure: str, also: Place | None = None) -> None:
        """Note one problem, with the line it is on; names in the texts may hold anything. Too many end the stage."""
        self.problems.append(
            Problem(at, printable(what), printable(why), printable(cure), quote_line(self.lines, at), also)
        )
        if len(self.problems) >= MOST_PROBLEMS:
            self.stop_if_bad()

    def assume(self, text: str, at: Place) -> None:
        """Note a default that was filled in."""
        self.assumptions.append(Assumption(text, at))

    def stop_if_bad(self) -> None:
        """End the stage: raises `SpecErrors` with all problems noted so far, if there are any."""
        if self.problems:
            raise SpecErrors(self.problems)


def split_lines(text: str) -> tuple[str, ...]:
    """The lines of a text as an editor counts them: only CR, LF and CR LF end a line."""
    lines = _LINE_BREAK.split(text)
    if not lines[-1]:
        lines.pop()
    return tuple(lines)


def quote_line(lines: tuple[str, ...], at: Place) -> str:
    """The source line of a place, fit for a terminal, such that a caret under `at.column` is right.

    A long line is cut. When the place lies beyond the cut, the quote ends just before it and the caret follows it.
    """
    if not 1 <= at.line <= len(lines):
        return ""
    line = lines[at.line - 1]
    if len(line) > WIDEST_QUOTE:
        if at.column < WIDEST_QUOTE:
            line = line[: WIDEST_QUOTE - 1] + "…"
        else:
            line = "…" + line[at.column + 1 - WIDEST_QUOTE : at.column - 1]
    return "".join(_stand_in(c) for c in line)


def _stand_in(character: str) -> str:
    """One visible character for another, so that columns stay as they are."""
    if can_be_seen(character):
        return character
    if character == "\t":
        return "→"
    if character == "\u00a0":
        return " "
    return chr(0x2400 + ord(character)) if ord(character) < 0x20 else "\ufffd"


def show(text: str, longest: int = 60) -> str:
    """A text as it is shown inside a message: unprintable characters escaped, cut when long."""
    if len(text) > longest:
        text = text[: longest - 1] + "…"
    return printable(text)


def put_in_quotes(text: str) -> str:
    """The text as a quoted YAML scalar; double quotes where the text allows them."""
    if '"' not in text and "\\" not in text:
        return f'"{text}"'
    return "'" + text.replace("'", "''") + "'"


def list_names(names: Iterable[str]) -> str:
    """Names in backticks with commas between them; many are cut short."""
    every = list(names)
    more = f" and {len(every) - _MANY} more" if len(every) > _MANY else ""
    return ", ".join(f"`{show(name)}`" for name in every[:_MANY]) + more


def find_nearest(word: str, names: Collection[str]) -> str | None:
    """The name most like `word`, if any is like it at all."""
    if len(names) > _TOO_MANY_TO_COMPARE:
        return None
    found = difflib.get_close_matches(word[:60], list(names), n=1, cutoff=0.6)
    return found[0] if found else None


def suggest(word: str, names: Collection[str], kind: str) -> str:
    """A cure for a word that is none of `names`: the nearest one, and which there are. `kind` is a plural."""
    nearest = find_nearest(word, names)
    start = f"did you mean `{nearest}`? " if nearest else ""
    return f"{start}{kind}: {list_names(names)}"
