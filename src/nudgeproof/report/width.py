"""Text fitted into columns of a screen: wide characters take two of them, marks on others none."""

from __future__ import annotations

import re
import textwrap

from nudgeproof.report.dot_text import columns


def pad(text: str, width: int) -> str:
    """The text with blanks after it, so that it takes `width` columns."""
    return text + " " * max(0, width - columns(text))


def cut(text: str, width: int) -> str:
    """As much of the text's beginning as fits into `width` columns."""
    while columns(text) > width:
        text = text[:-1]
    return text


def wrap(
    text: str, width: int, initial_indent: str = "", subsequent_indent: str = "", break_on_hyphens: bool = True
) -> list[str]:
    """The text in lines of at most `width` columns, broken at blanks, a word only if it is longer than a line."""
    if text.isascii() or columns(text) == len(text):
        return textwrap.wrap(
            text,
            width,
            initial_indent=initial_indent,
            subsequent_indent=subsequent_indent,
            break_on_hyphens=break_on_hyphens,
        )
    lines = [initial_indent]
    room = True
    for word in re.split(r"\s+", text.strip()):
        if not room and columns(f"{lines[-1]} {word}") <= width:
            lines[-1] += f" {word}"
            continue
        if not room:
            lines.append(subsequent_indent)
        for character in word:
            if columns(lines[-1] + character) > width:
                lines.append(subsequent_indent)
            lines[-1] += character
        room = False
    return lines
