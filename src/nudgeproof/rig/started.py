"""Processes that were started and are not yet gone: a command that is stopped takes them along."""

from __future__ import annotations

import contextlib
import os
import signal

_GROUPS: set[int] = set()


def note_group(number: int) -> None:
    """A process has begun that leads a group of its own."""
    _GROUPS.add(number)


def kill_group(number: int) -> None:
    """End the group of a process at once, with whatever it has started that didn't leave the group."""
    with contextlib.suppress(ProcessLookupError, PermissionError):
        os.killpg(number, signal.SIGKILL)
    _GROUPS.discard(number)


def kill_all() -> None:
    """End all of them."""
    for number in tuple(_GROUPS):
        kill_group(number)
