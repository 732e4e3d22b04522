"""Slips of the pen in YAML, in plain words.

PyYAML says where it lost the thread, in the terms of its grammar; here that becomes what the author most likely did and
what to write instead.
"""

from __future__ import annotations

import re
from typing import Final

import yaml

from nudgeproof.diagnostics import Place
from nudgeproof.spec.notes import Notes, put_in_quotes, show

_RESERVED: Final = {
    "*": "a reference to another place in the file",
    "&": "a label for other places to refer to",
    "!": "the type of a value",
    "%": "an order to itself",
    "?": "the start of a key",
    "@": "a sign of its own",
    "`": "a sign of its own",
}
_BRACKETS: Final = {"{": "}", "[": "]"}
_ENDS: Final = ("'", '"', "}", "]")
_COLON: Final = "YAML takes `: ` for the end of a key"
_LINE_BREAK = re.compile(r"\r\n|\r|\n")
_GLUED = re.compile(r"([^:]+):([^:/ ][^:]*)")
_TOO_BIG = re.compile(r"\\U[0-9A-Fa-f]{8}")


def explain_slip(error: yaml.MarkedYAMLError, notes: Notes) -> None:
    """Note the one problem that stopped PyYAML, unless one next to it has been noted already: that is its cause."""
    mark = error.problem_mark or error.context_mark
    line, column = (mark.line, mark.column) if mark is not None else (0, 0)
    at = notes.place(line, column)
    if any(abs(problem.place.line - at.line) <= 1 for problem in notes.problems):
        return
    start = error.context_mark
    opened = (start.line, start.column) if start is not None else (line, column)
    _explain(error.context or "", error.problem or "", opened, (line, column), notes)


def explain_reserved(sign: str, at: Place, notes: Notes) -> None:
    """Note a value that starts with a character YAML keeps for itself."""
    value = _cut_value(notes, at.line - 1, at.column - 1)
    name = "a backtick" if sign == "`" else f"`{sign}`"
    cure = f"put quotes around it, {show(put_in_quotes(value))}, or write it without {name}"
    if sign in "&!":
        label = value.split(" ")[0]
        cure = f"take `{show(label)}` out, or put the whole value in quotes if it belongs to the text"
    notes.complain(
        at,
        f"{show(value)} starts with {name}" if sign == "`" else f"`{show(value)}` starts with {name}",
        f"YAML takes that for {_RESERVED[sign]}",
        cure,
    )


def explain_directive(at: Place, notes: Notes) -> None:
    """Note a line that YAML takes for an order to itself."""
    notes.complain(at, "a line that starts with `%`", "YAML takes it for an order to itself", "take the line out")


def explain_number(text: str, start: int, notes: Notes) -> None:
    """Note the escape after `start` whose number is no character; `start` counts characters of the text."""
    match = _TOO_BIG.search(text, start)
    index = match.start() if match else start
    line = len(_LINE_BREAK.findall(text, 0, index))
    column = index - max((m.end() for m in _LINE_BREAK.finditer(text, 0, index)), default=0)
    if match:
        _explain_backslash(notes.place(line, column), match[0], notes)
    else:
        explain_directive(notes.place(line, column), notes)


def _explain(context: str, problem: str, opened: tuple[int, int], met: tuple[int, int], notes: Notes) -> None:
    """Tell slips apart by what PyYAML was doing (`context`) and by what it met; positions count from 0."""
    rest = _get_rest(notes, *met)
    if "cannot start any token" in problem and rest[:1] in (">", "|"):
        _explain_text_block(met, notes)
    elif "cannot start any token" in problem and rest[:1] in _RESERVED:
        explain_reserved(rest[:1], notes.place(*met), notes)
    elif "block scalar" in context:
        _explain_text_block(opened, notes)
    elif "quoted scalar" in context and "escape" in problem:
        _explain_backslash(notes.place(*met), "\\" + rest[:1], notes)
    elif "quoted scalar" in context:
        _explain_open_quote(opened, notes)
    elif sign := next((s for w, s in (("alias", "*"), ("anchor", "&"), ("tag", "!")) if w in context + problem), None):
        explain_reserved(sign, notes.place(*opened), notes)
    elif "flow" in context or "expected the node content" in problem:
        _explain_brackets(problem, opened, met, notes)
    elif "mapping values are not allowed" in problem:
        _explain_colon(met, notes)
    elif "simple key" in context:
        _explain_no_colon(opened, notes)
    elif "mapping keys are not allowed" in problem:
        explain_reserved("?", notes.place(*met), notes)
    elif "directive" in context + problem or "incompatible" in problem:
        explain_directive(notes.place(*met), notes)
    elif "sequence entries are not allowed" in problem:
        what = f"a list item, `{show(rest.strip())}`, on the line of its key"
        notes.complain(notes.place(*met), what, "YAML wants such a list below the key", "write `[one, another]`")
    elif "expected <block end>" in problem:
        _explain_order(problem, met, notes)
    elif "document start" in problem:
        _explain_no_colon((max(0, met[0] - 1), 0), notes)
    else:
        _explain_nothing(notes.place(*met), rest, notes)


def _explain_nothing(at: Place, rest: str, notes: Notes) -> None:
    """A slip none of the others fits."""
    words = show(rest.strip())
    notes.complain(
        at,
        f"`{words}` can't be read here" if words else "the text can't be read here",
        "it breaks the order of keys, blanks, quotes and brackets",
        "look for a missing quote or bracket, or put the value in quotes",
    )


def _explain_colon(met: tuple[int, int], notes: Notes) -> None:
    """A `:` where no key may be: in the middle of a sentence, or in a line that is indented by mistake."""
    line, column = met
    before = notes.lines[line][:column] if line < len(notes.lines) else ""
    start = len(before) - len(before.lstrip(" -"))
    if before.rstrip().endswith(_ENDS) and ": " in before:
        _explain_order("", met, notes)
        return
    if ": " in before:
        dash = before.lstrip(" ").startswith("- ")
        start = start if dash else before.index(": ") + 2
        _explain_sentence((line, start), notes)
        return
    above = next((n for n in range(line - 1, -1, -1) if _is_telling(notes.lines[n])), None)
    key = show(before.strip())
    if above is None:
        what, cure = f"a `:` after `{key}`", "write `key: value`, the key without quotes or brackets"
        notes.complain(notes.place(line, start), what, "there is no key before it", cure)
    elif ":" in notes.lines[above] or notes.lines[above].lstrip().startswith("- "):
        notes.complain(
            notes.place(line, start),
            f"`{key}` is indented as if it belonged to the line above",
            "that line has its value already",
            "start both lines in the same column",
            also=notes.place(above, len(notes.lines[above]) - len(notes.lines[above].lstrip())),
        )
    else:
        _explain_no_colon((above, 0), notes)


def _explain_sentence(start: tuple[int, int], notes: Notes) -> None:
    sentence = _cut_value(notes, *start)
    notes.complain(
        notes.place(*start),
        f"`{show(sentence)}` holds a `: `",
        _COLON,
        f"put the whole sentence in quotes: `{show(put_in_quotes(sentence), 90)}`",
    )


def _explain_no_colon(start: tuple[int, int], notes: Notes) -> None:
    """A line that should be `key: value` and isn't."""
    line = notes.lines[start[0]] if start[0] < len(notes.lines) else ""
    words = line.strip()
    at = notes.place(start[0], len(line) - len(line.lstrip()))
    if words == "...":
        notes.complain(at, "a line `...` before the end", "YAML takes it for the end of the spec", "take the line out")
    elif match := _GLUED.fullmatch(words):
        what = f"`{show(words)}` has no blank after its `:`"
        cure = f"write `{show(f'{match[1]}: {match[2]}')}`"
        notes.complain(at, what, "without the blank YAML takes all of it for one word", cure)
    else:
        what = f"the line `{show(words)}` is no key with a value" if words else "a line that is no key with a value"
        notes.complain(at, what, "each line here is `key: value`", "add the `:`, or take the line out")


def _explain_text_block(start: tuple[int, int], notes: Notes) -> None:
    """`> 600 ms`, which was meant as a comparison."""
    value = _cut_value(notes, *start)
    sign, rest = value[:1], value[1:].lstrip("= ")
    if not rest[:1].isdigit():
        cure = f"write the value in quotes, `{show(put_in_quotes(value))}`, or without the `{sign}`"
    elif sign == ">":
        cure = f"write `at least {show(rest)}`"
    else:
        cure = f"write `{show(rest)}`"
    notes.complain(
        notes.place(*start),
        f"`{show(value)}` is no value",
        f"YAML takes `{sign}` for the start of a block of text",
        cure,
    )


def _explain_backslash(at: Place, written: str, notes: Notes) -> None:
    notes.complain(
        at,
        f"`{show(written)}` inside double quotes",
        "there a backslash starts a code for a character, and this code means nothing",
        "use single quotes, or write the backslash twice",
    )


def _explain_open_quote(opened: tuple[int, int], notes: Notes) -> None:
    sign = _get_rest(notes, *opened)[:1]
    notes.complain(
        notes.place(*opened),
        f"the quote {sign} isn't closed",
        "all the rest of the file was read as part of it",
        f"put a {sign} where the text ends",
    )


def _explain_brackets(problem: str, opened: tuple[int, int], met: tuple[int, int], notes: Notes) -> None:
    """Something out of order inside brackets, or a bracket without its partner."""
    rest = _get_rest(notes, *met)
    before = notes.lines[met[0]][: met[1]] if met[0] < len(notes.lines) else ""
    sign = _get_rest(notes, *opened)[:1]
    at = notes.place(*met)
    value_start = max((before.rfind(s) + len(s) for s in (": ", ", ", "{", "[") if s in before), default=0)
    if rest.startswith(":") and ": " in before:
        _explain_sentence((met[0], value_start), notes)
    elif sign in _BRACKETS and (not rest or met[0] != opened[0]):
        notes.complain(
            notes.place(*opened),
            f"the bracket `{sign}` isn't closed",
            "the lines after it were read as part of it",
            f"put a `{_BRACKETS[sign]}` where it ends",
        )
    elif rest[:1] in ("}", "]"):
        cure = "take it out, or write what belongs before it"
        notes.complain(at, f"the bracket `{rest[0]}` has nothing to close here", "brackets come in pairs", cure)
    elif rest.startswith(","):
        cure = "take the comma out, or write what belongs before it"
        notes.complain(at, "a comma with nothing before it", "commas stand between entries", cure)
    elif not rest:
        notes.complain(at, "the file ends inside brackets", "brackets come in pairs", "close the bracket")
    else:
        what = f"`{show(_cut_value(notes, *met))}` where a comma or a closing bracket belongs"
        cure = "put a comma before it, or quotes around the whole value"
        notes.complain(at, what, "inside brackets each entry ends with one of them", cure)


def _explain_order(problem: str, met: tuple[int, int], notes: Notes) -> None:
    """A line, or the rest of one, that doesn't belong where it stands."""
    rest = _get_rest(notes, *met)
    before = notes.lines[met[0]][: met[1]].rstrip() if met[0] < len(notes.lines) else ""
    at, shown = notes.place(*met), show(rest.strip())
    if before.endswith(_ENDS):
        what = f"`{shown}` after the closing `{before[-1]}`"
        notes.complain(at, what, "the value ended there", "put it inside, or take it out")
    elif rest.startswith("-"):
        cure = "start it in the column of the list items it belongs with, or take the `-` out"
        notes.complain(at, f"the list item `{shown}` outside a list", "the indent says what belongs to what", cure)
    elif "'?'" in problem:
        cure = "start the line with `- `, or indent it as the key it belongs to"
        notes.complain(at, f"`{shown}` among list items", "a list and keys don't mix", cure)
    else:
        cure = "start it in the same column as the other keys it belongs with"
        notes.complain(at, f"`{shown}` is indented like no line above it", "the indent says what belongs to what", cure)


def _get_rest(notes: Notes, line: int, column: int) -> str:
    return notes.lines[line][column:] if line < len(notes.lines) else ""


def _cut_value(notes: Notes, line: int, column: int) -> str:
    """The value that starts at a position: to the end of the line, a comment, or, inside brackets, of the entry."""
    before, rest = notes.lines[line][:column], _get_rest(notes, line, column)
    in_brackets = sum(before.count(s) for s in "{[") > sum(before.count(s) for s in "}]")
    return re.split(r" #|[,}\]]" if in_brackets else r" #", rest, maxsplit=1)[0].strip()


def _is_telling(line: str) -> bool:
    """Whether a line is neither blank nor a comment."""
    return bool(line.strip()) and not line.lstrip().startswith("#")
