"""The command line: files in, screens and files out, exit codes. Nothing else touches the disk or the terminal.

Whatever a command needs is imported when it runs, so that `--help` answers at once.
"""

from __future__ import annotations

import argparse
import gc
import os
import sys
import traceback
from collections.abc import Callable, Sequence

from nudgeproof import __version__
from nudgeproof.cli.commands import build_parser


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code; never raises."""
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
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except Exception as error:
        return _own_fault(error)


def _own_fault(error: Exception) -> int:
    if os.environ.get("NUDGEPROOF_TRACEBACK"):
        traceback.print_exception(error)
    kind = type(error).__name__
    print(f"nudgeproof {__version__} failed, through no fault of your spec: {kind}: {error}", file=sys.stderr)
    print("please report it with the spec; NUDGEPROOF_TRACEBACK=1 shows where it happened", file=sys.stderr)
    return 70


def run() -> None:
    """Entry point of the console script."""
    # Nearly all that a check makes is kept to its end, so looking for garbage as often as usual finds none and takes time.
    gc.set_threshold(50_000, 20, 20)
    sys.exit(main())
