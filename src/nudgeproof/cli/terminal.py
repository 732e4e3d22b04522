"""The terminal: what it can show, and a line of progress on it."""

from __future__ import annotations

import sys
import textwrap
import time

from nudgeproof.diagnostics import printable

WIDTH = 80
_QUIET_S = 2.0


def can_print(text: str) -> bool:
    """Whether the terminal can show these characters."""
    try:
        text.encode(sys.stdout.encoding or "ascii")
    except (UnicodeEncodeError, LookupError):
        return False
    return True


def complain(error: object) -> None:
    """Say what is wrong on stderr; on a terminal without breaking words at its edge, else a line for each problem."""
    lines = str(error).splitlines()
    if sys.stderr.isatty():
        lines = [part for line in lines for part in _fold(line)]
    print("\n".join(lines), file=sys.stderr)


def _fold(line: str) -> list[str]:
    """A line in pieces no wider than a screen; what is set in from the left quotes the spec and stays as it is."""
    if line.startswith(" "):
        return [line]
    return textwrap.wrap(line, WIDTH, subsequent_indent="  ", break_long_words=False, break_on_hyphens=False) or [line]


class Meter:
    """A line of progress on a terminal, once a check has taken longer than two seconds."""

    def __init__(self, spec: str) -> None:
        self.spec, self.since, self.shown = spec, time.monotonic(), False

    def tick(self, environment: str, classes: int) -> None:
        """Say how far it is, now and then."""
        self.say(f"{environment}: {classes} classes looked at")

    def say(self, what: str) -> None:
        """Say something, now and then."""
        if sys.stderr.isatty() and time.monotonic() - self.since > _QUIET_S:
            text = f"{printable(self.spec)}: {printable(what)}"
            print(f"\r{text[:78]:<78}", end="", file=sys.stderr, flush=True)
            self.shown = True

    def clear(self) -> None:
        """Take the line away."""
        if self.shown:
            print("\r" + " " * 78 + "\r", end="", file=sys.stderr, flush=True)
            self.shown = False
