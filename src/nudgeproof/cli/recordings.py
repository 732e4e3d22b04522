"""`follow`: recordings of a real device checked against its spec."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from nudgeproof.cli.files import BadInput, file_name, read_bytes, read_spec, write_file
from nudgeproof.cli.terminal import Meter, can_print, complain

if TYPE_CHECKING:
    from nudgeproof.firmware.mapping import Map
    from nudgeproof.firmware.recording import Recording
    from nudgeproof.spec.notes import Notes

BUDGETS = {"quick": 4_000, "usual": 20_000, "deep": 200_000}
"""Most classes looked at between two recorded changes, by effort."""


_IN_SHORT = {
    "REFUSED": (0, "refused", "at"),
    "LEFT": (1, "no verdict", "after"),
    "UNDECIDED": (2, "undecided", "at"),
    "NOTHING": (3, "nothing happens", ""),
    "CONFORMS": (4, "conforms", ""),
}
"""Each result, by its name, in a table: the worse, the lower; its word; what leads to its time."""


def declare_follow(parser: argparse.ArgumentParser) -> None:
    """What `follow` takes."""
    parser.add_argument("spec", metavar="SPEC", help="a YAML file that describes the device")
    parser.add_argument("recordings", nargs="+", metavar="FILE", help="a recording, VCD or CSV")
    parser.add_argument("--map", metavar="MAP", type=file_name, required=True,
                        help="a YAML file that says which recorded channel is what")  # fmt: skip
    parser.add_argument(
        "--json", metavar="FILE", type=file_name, help="also write the results as JSON (`-`: only JSON, on the screen)"
    )
    parser.add_argument("--effort", choices=tuple(BUDGETS), default="usual",
                        help="how much to look at before giving up (default: usual)")  # fmt: skip
    parser.add_argument("--ascii", action="store_true", help="draw waveforms in plain ASCII")
    parser.set_defaults(command=follow)


def follow(arguments: argparse.Namespace) -> int:
    """Follow each recording, and print or write what came of it."""
    from nudgeproof import verdict
    from nudgeproof.diagnostics import SpecErrors
    from nudgeproof.firmware.mapping import read_map
    from nudgeproof.firmware.outcome import Result
    from nudgeproof.firmware.outcome import follow as follow_it
    from nudgeproof.report.recorded import Judged, recorded_to_json, show_recorded
    from nudgeproof.report.summary import Row, show_summary
    from nudgeproof.spec.read import decode
    from nudgeproof.units import show_moment

    only_json = arguments.json == "-"
    ascii_only = arguments.ascii or not can_print("▁█")
    judged: list[Judged] = []
    rows: list[Row] = []
    failed = False
    try:
        device = read_spec(arguments.spec)
        what, notes = read_map(decode(read_bytes(arguments.map), arguments.map), arguments.map, device)
    except (SpecErrors, BadInput) as error:
        complain(error)
        return verdict.EXIT_BAD_INPUT
    for name in arguments.recordings:
        notes.problems.clear()
        meter = Meter(name)

        def tick(done: int, of: int, at_us: int, meter: Meter = meter) -> None:
            meter.say(f"followed to {show_moment(at_us)}; {done} of {of} changes")

        try:
            recorded = read_recording(name, what, notes)
            outcome = follow_it(device, what, recorded, BUDGETS[arguments.effort], progress=tick)
        except (SpecErrors, BadInput) as error:
            meter.clear()
            complain(error)
            rows.append(Row(name, -1, "bad input"))
            failed = True
            continue
        finally:
            meter.clear()
        one = Judged(name, device.name, arguments.spec, what, recorded, outcome)
        if not only_json:
            print(("\n" if judged else "") + show_recorded(one, ascii_only), end="", flush=True)
        judged.append(one)
        rank, word, joint = _IN_SHORT[outcome.result.name]
        rows.append(Row(name, rank, word, joint and f"{joint} {show_moment(outcome.at_us)}"))
    if len(rows) > 1 and not only_json:
        print("\n" + show_summary(rows, "recordings"), end="")
    if only_json:
        print(recorded_to_json(judged), end="")
    elif arguments.json:
        try:
            write_file(arguments.json, recorded_to_json(judged).encode())
        except BadInput as error:
            complain(error)
            failed = True
    if failed:
        return verdict.EXIT_BAD_INPUT
    results = {one.outcome.result for one in judged}
    if Result.REFUSED in results:
        return verdict.EXIT_BROKEN
    return verdict.EXIT_OK if results == {Result.CONFORMS} else verdict.EXIT_UNDECIDED


def read_recording(name: str, what: Map, notes: Notes) -> Recording:
    """A recording in the form that its first characters show; raises `SpecErrors` and `BadInput`."""
    from nudgeproof.firmware.recording import read_csv
    from nudgeproof.firmware.vcd import read_vcd

    data = read_bytes(name).removeprefix(b"\xef\xbb\xbf")
    if data.lstrip().startswith(b"$"):
        return read_vcd(data, name, what.wanted, notes)
    return read_csv(data.decode("utf-8", "replace"), name, what.wanted, notes)
