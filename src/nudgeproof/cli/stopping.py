"""How a command ends that somebody stops: at once, without a word too much, and with no unfinished file, and no
process that it started, left behind.

The process ends where it stands. Raising an exception there instead would be printed, or lost, wherever Python can't pass
one on.
"""

from __future__ import annotations

import os
import signal
import sys
from contextlib import suppress
from types import FrameType

from nudgeproof.rig.started import kill_all

UNFINISHED: set[str] = set()
"""Files under a name for the time being, to be taken away if the command is stopped."""

_STOPS = ("SIGTERM", "SIGHUP")


def stop_quietly() -> None:
    """From now on an interrupt, or being told to end, is answered as this module says; what is ignored stays ignored."""
    if signal.getsignal(signal.SIGINT) is not signal.SIG_IGN:
        signal.signal(signal.SIGINT, _interrupt)
    for name in _STOPS:
        number = getattr(signal, name, None)
        if number is not None and signal.getsignal(number) is signal.SIG_DFL:
            signal.signal(number, _end)


def _tidy() -> None:
    kill_all()
    for name in UNFINISHED:
        with suppress(OSError):
            os.unlink(name)


def _interrupt(number: int, frame: FrameType | None) -> None:
    _tidy()
    with suppress(OSError, ValueError):
        # A line of progress may stand there.
        os.write(2, (f"\r{' ' * 78}\r" if sys.stderr.isatty() else "").encode() + b"interrupted\n")
    os._exit(130)


def _end(number: int, frame: FrameType | None) -> None:
    _tidy()
    signal.signal(number, signal.SIG_DFL)
    os.kill(os.getpid(), number)
