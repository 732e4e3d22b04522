"""YAML as a tree of located nodes, in which every scalar stays the words that were written.

Built from PyYAML's events, never from its objects: `on`, `yes` and `1.5` are words, nothing is looked up, called or
joined. What YAML would do behind the author's back (drop ` #2`, split at a decimal comma) is a problem here.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass, field

import yaml

from nudgeproof.diagnostics import UNSEEN, Place, ToolFault
from nudgeproof.spec.notes import Notes, put_in_quotes, show
from nudgeproof.spec.slips import explain_directive, explain_number, explain_reserved, explain_slip

DEEPEST = 32
"""Most collections inside each other."""

LARGEST_BYTES = 1_000_000
"""Largest spec, in bytes of UTF-8."""


@dataclass(frozen=True, slots=True)
class Words:
    """A scalar: its text (Unicode form NFC, a block of text on one line), and how it was written.

    `plain`: without quotes; `block`: as a block of text after `>` or `|`.
    """

    text: str
    place: Place
    plain: bool
    block: bool = False

    @property
    def is_missing(self) -> bool:
        """Nothing was written at all."""
        return self.plain and not self.text


@dataclass(frozen=True, slots=True)
class Listing:
    """A list; `place` is its first character."""

    items: tuple[Node, ...]
    place: Place


@dataclass(frozen=True, slots=True)
class Mapping:
    """Keys with values, in the order of the file; no two keys are the same."""

    entries: tuple[tuple[Words, Node], ...]
    place: Place


Node = Words | Listing | Mapping

# Left out are tabs, control characters, line separators that editors don't count, marks that reorder text, surrogates.
_FIT = "\x20-\x7e\xa0-\u2027\u202f-\u2065\u206a-\ud7ff\ue000-\ufefe\uff00-\ufffd\U00010000-\U0010ffff"
_UNFIT = re.compile(f"[^{_FIT}]|[{UNSEEN}]")
_GLUED_COMMENT = re.compile(r"[ ]+(#\S.*)")
_GLUED_KEY = re.compile(r"([^:]+):([^:/]+)")
_LINE_BREAKS = re.compile(r"\n+")
_DIGITS = tuple("0123456789")


@dataclass(slots=True)
class _Open:
    """A collection whose end hasn't come yet; the children of a mapping are key, value, key, value."""

    is_mapping: bool
    in_braces: bool
    place: Place
    children: list[Node] = field(default_factory=list)


def check_characters(notes: Notes) -> None:
    """Note each line that holds a tab or a character that can't be seen; tabs in comment lines are let pass."""
    for number, line in enumerate(notes.lines):
        for match in _UNFIT.finditer(line):
            at = notes.place(number, match.start())
            if match[0] != "\t":
                notes.complain(
                    at,
                    f"the invisible character U+{ord(match[0]):04X}",
                    "what can't be seen can't be checked by a reader",
                    "delete it, or type the text anew",
                )
            elif line.lstrip(" \t").startswith("#"):
                continue
            else:
                notes.complain(at, "a tab", "YAML takes only blanks as space", "write blanks instead of the tab")
            break


def read_nodes(text: str, notes: Notes) -> Node | None:
    """The tree of a text whose characters are fit; None when there is none or it can't be built.

    All that is wrong is noted: the caller ends the stage. Iterative, so that no depth exhausts the stack.
    """
    stack = [_Open(False, False, Place(notes.file))]
    read_to = 0
    try:
        for event in _watch_documents(yaml.parse(text, Loader=yaml.SafeLoader), text, notes):
            start, end = _get_marks(event)
            at = notes.place(start.line, start.column)
            _complain_of_marks(event, at, notes)
            if isinstance(event, yaml.CollectionStartEvent):
                if len(stack) > DEEPEST:
                    _complain_of_depth(at, notes)
                    return None
                is_mapping = isinstance(event, yaml.MappingStartEvent)
                stack.append(_Open(is_mapping, bool(event.flow_style), at))
            elif isinstance(event, yaml.CollectionEndEvent):
                closed = stack.pop()
                node = (
                    _close_mapping(closed, notes)
                    if closed.is_mapping
                    else Listing(tuple(closed.children), closed.place)
                )
                stack[-1].children.append(node)
            else:
                stack[-1].children.append(_take_words(event, at, text, notes))
            read_to = end.index
    except yaml.MarkedYAMLError as error:
        explain_slip(error, notes)
        return None
    except (ValueError, OverflowError):
        # PyYAML computes the number after `\\U` or `%YAML` without looking at its size.
        explain_number(text, read_to, notes)
        return None
    return stack[0].children[0] if stack[0].children else None


def _watch_documents(events: Iterator[yaml.Event], text: str, notes: Notes) -> Iterator[yaml.Event]:
    """The events of nodes in the first document; more documents, directives and an empty file are noted."""
    documents = 0
    for event in events:
        if isinstance(event, yaml.DocumentStartEvent):
            documents += 1
            start, _ = _get_marks(event)
            at = notes.place(start.line, start.column)
            if text.startswith("%", start.index):
                explain_directive(at, notes)
            if documents > 1:
                notes.complain(at, "a second document starts here", "a file holds one spec", "take the line `---` out")
                return
        elif isinstance(event, yaml.NodeEvent | yaml.CollectionEndEvent):
            yield event
    if not documents:
        notes.complain(
            notes.place(0, 0),
            "the file is empty",
            "a spec describes a device, its button, gestures and states",
            "begin with the lines `spec: 1` and `device: ...`",
        )


def _get_marks(event: yaml.Event) -> tuple[yaml.Mark, yaml.Mark]:
    """Start and end of an event; PyYAML's parser marks each."""
    start, end = event.start_mark, event.end_mark
    if not isinstance(start, yaml.Mark) or not isinstance(end, yaml.Mark):
        raise ToolFault("a YAML event without a place")
    return start, end


def _complain_of_marks(event: yaml.Event, at: Place, notes: Notes) -> None:
    """Note an alias, an anchor or a tag; the node itself is read on."""
    if isinstance(event, yaml.AliasEvent):
        explain_reserved("*", at, notes)
    elif isinstance(event, yaml.NodeEvent) and event.anchor is not None:
        explain_reserved("&", at, notes)
    elif isinstance(event, yaml.ScalarEvent | yaml.CollectionStartEvent) and event.tag is not None:
        explain_reserved("!", at, notes)


def _complain_of_depth(at: Place, notes: Notes) -> None:
    what = f"more than {DEEPEST} lists and groups of keys inside each other"
    notes.complain(at, what, "a spec needs five at most", "look for brackets or blanks at the start of lines too many")


def _take_words(event: yaml.Event, at: Place, text: str, notes: Notes) -> Words:
    """The words of a scalar; what YAML drops after them and what can't be seen in them is noted."""
    if not isinstance(event, yaml.ScalarEvent):
        return Words("", at, plain=False)
    words = unicodedata.normalize("NFC", event.value)
    if event.style in ("|", ">"):
        return Words(" ".join(words.split()), at, plain=False, block=True)
    if event.style is not None:
        if match := _UNFIT.search(words):
            what = f"the text in quotes holds the character `{show(match[0])}`"
            notes.complain(at, what, "what can't be seen can't be checked by a reader", "take it out")
        return Words(words, at, plain=False)
    _, end = _get_marks(event)
    if match := _GLUED_COMMENT.match(text, end.index):
        dropped = match[1].rstrip()
        quoted = put_in_quotes(f"{words} {dropped}".strip())
        notes.complain(
            notes.place(end.line, end.column + match.start(1) - match.start()),
            f"YAML drops `{show(dropped)}`",
            "after a blank, `#` starts a comment",
            f"put the text in quotes, {show(quoted, 90)}, or write a blank after the `#` of a comment",
        )
    # An empty line inside plain words would stay as a line break.
    return Words(_LINE_BREAKS.sub(" ", words), at, plain=True)


def _close_mapping(opened: _Open, notes: Notes) -> Mapping:
    """The mapping whose children are complete; keys that are no words or came before are noted and left out."""
    pairs: list[tuple[Words, Node]] = []
    for key, value in zip(opened.children[::2], opened.children[1::2], strict=True):
        if isinstance(key, Words):
            pairs.append((key, value))
        else:
            what = "a key made of brackets"
            notes.complain(
                key.place, what, "a key is a word or a few words", "put the key before the brackets: `key: [...]`"
            )
    if opened.in_braces:
        pairs = _drop_splits(pairs, notes)
    first: dict[str, Words] = {}
    entries = []
    for key, value in pairs:
        if (earlier := first.setdefault(key.text, key)) is key:
            entries.append((key, value))
        else:
            notes.complain(
                key.place,
                f"the key `{show(key.text)}` is here a second time",
                "only one of the two could hold",
                "keep one of them",
                also=earlier.place,
            )
    return Mapping(tuple(entries), opened.place)


def _drop_splits(pairs: list[tuple[Words, Node]], notes: Notes) -> list[tuple[Words, Node]]:
    """Note where braces split what was meant as one, `{held: 1,5 s}` and `{held:1.5 s}`; the other pairs are kept."""
    groups: list[list[tuple[Words, Node]]] = []
    for pair in pairs:
        if groups and _is_after_comma(groups[-1][-1], pair):
            groups[-1].append(pair)
        else:
            groups.append([pair])
    kept = []
    for group in groups:
        key, value = group[0]
        if len(group) > 1:
            written = ",".join(_get_tail(pair) for pair in group)
            notes.complain(
                key.place,
                f"`{show(written)}` has a decimal comma",
                "a comma inside braces ends the value",
                f"write `{show(written.replace(',', '.'))}`",
            )
        elif _has_no_value(group[0]) and (match := _GLUED_KEY.fullmatch(key.text)):
            notes.complain(
                key.place,
                f"`{show(key.text)}` has no blank after its `:`",
                "without the blank YAML takes all of it for a key",
                f"write `{show(f'{match[1]}: {match[2]}')}`",
            )
        else:
            kept.append((key, value))
    return kept


def _is_after_comma(before: tuple[Words, Node], pair: tuple[Words, Node]) -> bool:
    """Whether a pair is the rest of a number that a decimal comma broke in two."""
    return _has_no_value(pair) and pair[0].text[:1] in _DIGITS and _get_tail(before)[-1:] in _DIGITS


def _has_no_value(pair: tuple[Words, Node]) -> bool:
    key, value = pair
    return key.plain and bool(key.text) and isinstance(value, Words) and value.is_missing


def _get_tail(pair: tuple[Words, Node]) -> str:
    """The last words that were written of a pair."""
    key, value = pair
    if not isinstance(value, Words):
        return "]"
    return key.text if value.is_missing else value.text
