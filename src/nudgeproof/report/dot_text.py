"""Names and words from a spec made safe for DOT text, and wrapped.

DOT's labels know escapes (`\\N`), entities (`&amp;`) and tags; a name of a node knows ports (`a:b`) and quotes. Text
passes here before it gets there, so that it is shown as it was written and can't do anything.
"""

from __future__ import annotations

import html
import math
import re
import unicodedata
from collections.abc import Sequence

_UNSHOWN = "\ufffd"
_UNSHOWABLE = frozenset({"Cc", "Cf", "Cs", "Cn"})
_JOINERS = "\u200c\u200d"
_AMOUNT = re.compile(r"[0-9.]+ (?:us|µs|μs|ms|s|min|h|d|%)(?!\w)|\S+")

_BLANK_EM, _WIDE_EM, _LETTER_EM = 0.278, 1.05, 0.65
"""Widths in em, on the safe side: of a blank in the diagram's font, of the widest signs, of a letter beyond ASCII."""


def clean(text: str) -> str:
    """`text` on one line, runs of blanks made one, with what can't be shown replaced by U+FFFD.

    That is: controls, lone surrogates, code points that aren't assigned, and format characters (such as those that turn
    the direction of text), but not the joiners that some scripts need to be spelled.
    """
    return " ".join("".join(_shown(c) for c in text).split())


def _shown(character: str) -> str:
    if character.isspace():
        return " "
    if character not in _JOINERS and unicodedata.category(character) in _UNSHOWABLE:
        return _UNSHOWN
    return character


def escape(text: str) -> str:
    """`text` as it must stand between the tags of a label to be shown as it is; what can't be shown as in `clean`."""
    # A label is read twice: for entities and tags, then for backslashes.
    return html.escape("".join(_shown(c) for c in text).replace("\\", "\\\\"))


def padding(text: str) -> str:
    """Blanks to put after `text`, on a line of its own, so that a box drawn around both holds the whole text.

    Without font files a layout program takes each byte beyond ASCII for as wide as a blank: too narrow for most text.
    """
    short = 0.0
    for character in text:
        if not character.isascii():
            width = unicodedata.east_asian_width(character)
            wide = width in "WF" or (width == "A" and not character.isalpha())
            taken = _BLANK_EM * len(_shown(character).encode())
            short += max(0.0, (_WIDE_EM if wide else _LETTER_EM) - taken)
    return " " * math.ceil(short / _BLANK_EM)


def node_names(names: Sequence[str]) -> dict[str, str]:
    """For each of `names` (all different) the name of its node: the same where DOT takes it as it is, and unique.

    A node's name is what a picture tells of it on hovering and to those who read by ear, hence no mere number.
    """
    nodes: dict[str, str] = {}
    taken: set[str] = set()
    for name in names:
        base = node = plain(name)
        number = 2
        while node in taken:
            node, number = f"{base} {number}", number + 1
        taken.add(node)
        nodes[name] = node
    return nodes


def plain(name: str) -> str:
    """`name` with all but letters, digits, blanks and harmless signs replaced by `_`; never empty, without brackets."""
    return "".join(c if c.isalnum() or c in " -_.,+'" else "_" for c in clean(name)) or "_"


def columns(text: str) -> int:
    """How many columns `text` takes: wide characters two, combining ones none."""
    return sum(0 if unicodedata.combining(c) else 2 if unicodedata.east_asian_width(c) in "WF" else 1 for c in text)


def wrap(text: str, width: int) -> list[str]:
    """`text` cleaned, in as few lines of at most `width` columns as it needs, made about equally long.

    Lines end at blanks, never between a number and its unit; a word is broken only when longer than a line.
    """
    return wrap_pieces(_AMOUNT.findall(clean(text)), width)


def wrap_pieces(pieces: Sequence[str], width: int) -> list[str]:
    """Like `wrap`, of `pieces` that stay whole where they fit on a line."""
    lines = _fill(pieces, width)
    whole = max((w for piece in pieces if (w := columns(piece)) <= width), default=2)
    for narrower in range(max(whole, width // 3), width):
        if len(tried := _fill(pieces, narrower)) == len(lines):
            return tried
    return lines


def _fill(pieces: Sequence[str], width: int) -> list[str]:
    """Lines filled one after the other; at least one line, which may be empty."""
    lines = [""]
    for piece in pieces:
        joined = f"{lines[-1]} {piece}" if lines[-1] else piece
        if columns(joined) <= width:
            lines[-1] = joined
            continue
        if lines[-1]:
            lines.append("")
        words = piece.split(" ")
        if columns(piece) > width and len(words) > 1:
            lines[-1:] = _fill(words, width)
            continue
        for character in piece:
            if columns(lines[-1] + character) > width:
                lines.append("")
            lines[-1] += character
    return lines
