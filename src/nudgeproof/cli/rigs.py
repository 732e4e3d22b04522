"""`rig`: a maker's firmware run in virtual time."""

from __future__ import annotations

import argparse
from dataclasses import replace
from pathlib import Path

from nudgeproof.cli.files import BadFile, BadInput, file_name, read_bytes, write_file
from nudgeproof.cli.terminal import complain
from nudgeproof.diagnostics import printable


def declare_rig(parser: argparse.ArgumentParser) -> None:
    """What `rig` takes."""
    parser.add_argument("rig", metavar="RIG", help="a YAML file that says how the firmware is built and wired")
    parser.add_argument("--stimulus", metavar="FILE", type=file_name, required=True,
                        help="a table of levels: what is done to the device, and until when")  # fmt: skip
    parser.add_argument("--csv", metavar="OUT", type=file_name, help="write the recording there and not on the screen")
    parser.add_argument("--memory", metavar="FILE", type=file_name,
                        help="the bytes in memory at the first start; where it isn't there yet they are blank."
                        " The bytes at the end are written there")  # fmt: skip
    parser.add_argument("--clock", type=_milliseconds, metavar="MS",
                        help="what its running clock shows at each start, whatever RIG says of it")  # fmt: skip
    parser.add_argument("--seed", type=int, default=0, metavar="N", help="another seed, other bytes of torn writes")
    parser.set_defaults(command=rig)


def _milliseconds(text: str) -> int:
    if not (text.isascii() and text.isdigit() and len(text) <= 12):
        raise argparse.ArgumentTypeError(f"`{printable(text[:20])}` is no number of milliseconds")
    return int(text)


def rig(arguments: argparse.Namespace) -> int:
    """Make ready, run, and tell what came of it."""
    from nudgeproof import verdict
    from nudgeproof.diagnostics import SpecErrors
    from nudgeproof.rig.build import CantBuild
    from nudgeproof.rig.prepare import prepare
    from nudgeproof.rig.run import FINDINGS
    from nudgeproof.rig.settings import read_settings
    from nudgeproof.rig.stimulus import read_stimulus
    from nudgeproof.spec.read import decode

    try:
        settings = read_settings(decode(read_bytes(arguments.rig), arguments.rig), arguments.rig)
        if arguments.clock is not None:
            if settings.program:
                raise BadFile(arguments.rig, "starts a program, whose clock is its own; leave out --clock")
            settings = replace(settings, clock_starts_us=arguments.clock * 1000)
        stimulus = read_stimulus(
            decode(read_bytes(arguments.stimulus), arguments.stimulus), arguments.stimulus, settings
        )
        memory = _read_memory(arguments.memory, settings.bytes)
        firmware = prepare(settings, Path(arguments.rig).parent)
        result = firmware.run(settings, stimulus, memory, arguments.seed % 2**32)
        if arguments.csv:
            write_file(arguments.csv, result.recording.encode())
        if arguments.memory and result.finding != "breaks the rig":
            write_file(arguments.memory, result.memory)
    except (SpecErrors, BadInput, CantBuild) as error:
        complain(error)
        return verdict.EXIT_BAD_INPUT
    if not arguments.csv:
        print(result.recording, end="")
    # The recording alone is to be on the screen's first stream, so that it can be sent on.
    complain(f"{printable(arguments.rig)}: time passed {firmware.time_passes}")
    if result.said:
        complain(f"it printed: {printable(result.said[:200])}")
    if result.finding:
        detail = f"; {printable(result.detail)}" if result.detail else ""
        complain(f"FINDING  {result.finding}: {FINDINGS[result.finding]}{detail}")
        return verdict.EXIT_BROKEN
    return verdict.EXIT_OK


def _read_memory(name: str | None, size: int) -> bytes:
    if name is None or not Path(name).exists():
        return b""
    try:
        data = Path(name).read_bytes() if Path(name).stat().st_size <= size else None
    except OSError as error:
        raise BadFile(name, f"can't be read: {error.strerror or error}") from None
    if data is None:
        raise BadFile(name, f"holds more than the {size} bytes of `memory`")
    return data
