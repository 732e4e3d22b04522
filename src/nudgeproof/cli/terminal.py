"""The terminal: what it can show, and a line of progress on it."""

from __future__ import annotations

import sys
import time

_QUIET_S = 2.0


def can_print(text: str) -> bool:
    """Whether the terminal can show these characters."""
    try:
        text.encode(sys.stdout.encoding or "ascii")
    except (UnicodeEncodeError, LookupError):
        return False
    return True


class Meter:
    """A line of progress on a terminal, once a check has taken longer than two seconds."""

    def __init__(self, spec: str) -> None:
        self.spec, self.since, self.shown = spec, time.monotonic(), False

    def tick(self, environment: str, classes: int) -> None:
        """Say how far it is, now and then."""
        if sys.stderr.isatty() and time.monotonic() - self.since > _QUIET_S:
            text = f"{self.spec}: {environment}: {classes} classes looked at"
            print(f"\r{text[:78]:<78}", end="", file=sys.stderr, flush=True)
            self.shown = True

    def clear(self) -> None:
        """Take the line away."""
        if self.shown:
            print("\r" + " " * 78 + "\r", end="", file=sys.stderr, flush=True)
            self.shown = False
