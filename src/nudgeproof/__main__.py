"""`python -m nudgeproof`, and the entry point of the console script."""

from __future__ import annotations

import os
import signal
from types import FrameType


def run() -> None:
    """Run the command line; an interrupt is answered from the first moment on, before anything else is imported."""
    if signal.getsignal(signal.SIGINT) is signal.default_int_handler:
        signal.signal(signal.SIGINT, _stop)
    _begin()


def _begin() -> None:
    from nudgeproof.cli import run as run_command

    run_command()


def _stop(number: int, frame: FrameType | None) -> None:
    os.write(2, b"interrupted\n")
    os._exit(130)


if __name__ == "__main__":
    run()
