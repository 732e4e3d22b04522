"""The command line: files in, screens and files out, exit codes. Nothing else touches the disk or the terminal.

Whatever a command needs is imported when it runs, so that `--help` answers at once.
"""

from __future__ import annotations

import argparse
import errno
import gc
import os
import sys
import traceback
from collections.abc import Callable, Sequence
from typing import TextIO

from nudgeproof import __version__
from nudgeproof.cli.commands import build_parser
from nudgeproof.cli.stopping import stop_quietly

_NO_ROOM = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EIO)
"""What goes wrong with the place that the screen's text is sent to, and not with this tool."""


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code; never raises."""
    # Somebody may have closed either of them; what is said there is then said to nobody.
    sys.stdout = sys.stdout or open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115
    sys.stderr = sys.stderr or open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    try:
        arguments = build_parser().parse_args(argv)
        command: Callable[[argparse.Namespace], int] = arguments.command
        code = command(arguments)
        sys.stdout.flush()
        return code
    except SystemExit as stop:
        return int(stop.code or 0)
    except KeyboardInterrupt:
        print("interrupted", file=sys.stderr)
        return 130
    except BrokenPipeError:
        _give_up(sys.stdout)
        return 0
    except Exception as error:
        if isinstance(error, OSError) and error.errno in _NO_ROOM and error.filename is None:
            _give_up(sys.stdout)
            try:
                print(f"nudgeproof: what it has to say can't be written: {error.strerror}", file=sys.stderr, flush=True)
            except OSError:
                _give_up(sys.stderr)
            return 2
        return _own_fault(error)


def _give_up(stream: TextIO) -> None:
    """Send the rest nowhere, so that the interpreter has nothing left to complain about at its end."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, stream.fileno())
    os.close(nowhere)


def _own_fault(error: Exception) -> int:
    if os.environ.get("NUDGEPROOF_TRACEBACK"):
        traceback.print_exception(error)
    kind = type(error).__name__
    print(f"nudgeproof {__version__} failed, through no fault of your spec: {kind}: {error}", file=sys.stderr)
    print("please report it with the spec; NUDGEPROOF_TRACEBACK=1 shows where it happened", file=sys.stderr)
    return 70


def run() -> None:
    """Run the command of this process, and end it."""
    # Nearly all that a check makes is kept to its end, so looking for garbage as often as usual finds none and takes time.
    gc.set_threshold(50_000, 20, 20)
    stop_quietly()
    sys.exit(main())
