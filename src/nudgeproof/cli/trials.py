"""`trial`: a maker's firmware run through presses of all kinds, and each recording followed by its spec."""

from __future__ import annotations

import argparse
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from nudgeproof.cli.files import BadFile, BadInput, file_name, read_bytes, read_spec, write_file
from nudgeproof.cli.recordings import BUDGETS
from nudgeproof.cli.terminal import Meter, can_print, complain

if TYPE_CHECKING:
    from nudgeproof.firmware.acts import Acts
    from nudgeproof.firmware.mapping import Map
    from nudgeproof.firmware.performing import Perform, Spans
    from nudgeproof.firmware.trials import Trial
    from nudgeproof.rig.build import Program
    from nudgeproof.rig.settings import Settings
    from nudgeproof.rig.stimulus import Stimulus
    from nudgeproof.spec.notes import Notes

EDGES = 10_000
"""How much is tried if nothing else is said: half a minute to a minute for the firmwares in `firmware`."""

STIMULUS, RECORDING, MEMORY, TOLD = "stimulus.csv", "recording.csv", "memory.bin", "told.txt"

KINDS = (
    "walks", "random", "low walks", "high walks", "limits", "cuts", "sleeps", "held", "memory", "starts", "clock", "pauses",
    "timeouts", "chatter", "events", "pairs", "taps", "wakes", "writes",
)  # fmt: skip
"""The kinds of stimuli, as `firmware.trials` has them; here again, so that `--help` needs none of it."""


def declare_trial(parser: argparse.ArgumentParser) -> None:
    """What `trial` takes."""
    parser.add_argument("spec", metavar="SPEC", help="a YAML file that describes the device")
    parser.add_argument("--rig", metavar="RIG", type=file_name, required=True,
                        help="a YAML file that says how the firmware is built and wired")  # fmt: skip
    parser.add_argument("--map", metavar="MAP", type=file_name, required=True,
                        help="a YAML file that says which column of the rig's recording is what")  # fmt: skip
    parser.add_argument("--edges", metavar="N", type=_positive, default=EDGES,
                        help=f"how much: about so many edges of contacts, events, the cell (default: {EDGES})")  # fmt: skip
    parser.add_argument(
        "--seed", type=int, default=0, metavar="N", help="another seed, other random use and torn writes"
    )
    parser.add_argument("--kinds", type=_kinds, metavar="KIND,KIND", default=KINDS,
                        help=f"only these kinds of stimuli: {', '.join(KINDS)}")  # fmt: skip
    parser.add_argument("--keep", metavar="DIR", type=file_name,
                        help=f"write what fails there: {STIMULUS}, {RECORDING} and the screen, {TOLD}")  # fmt: skip
    parser.add_argument("--effort", choices=tuple(BUDGETS), default="usual",
                        help="how much to look at before giving up (default: usual)")  # fmt: skip
    parser.add_argument("--ascii", action="store_true", help="draw waveforms in plain ASCII")
    parser.set_defaults(command=trial)


def _positive(text: str) -> int:
    if not (text.isascii() and text.isdigit() and int(text[:9]) > 0 and len(text) < 9):
        raise argparse.ArgumentTypeError(f"`{text[:20]}` is no number from 1 to 99999999")
    return int(text)


def _kinds(text: str) -> tuple[str, ...]:
    kinds = tuple(word.strip() for word in text.split(","))
    for kind in kinds:
        if kind not in KINDS:
            raise argparse.ArgumentTypeError(f"`{kind[:20]}` is none of the kinds {', '.join(KINDS)}")
    return kinds


def trial(arguments: argparse.Namespace) -> int:
    """Build, try, and tell what came of it."""
    from nudgeproof import verdict
    from nudgeproof.diagnostics import SpecErrors
    from nudgeproof.firmware.mapping import read_map
    from nudgeproof.firmware.performing import Chip
    from nudgeproof.firmware.trials import run_trials
    from nudgeproof.report.trials import Tried, show_trials
    from nudgeproof.rig.build import CantBuild, build
    from nudgeproof.rig.run import FINDINGS
    from nudgeproof.rig.settings import read_settings
    from nudgeproof.spec.read import decode

    meter = Meter(arguments.rig)

    def tick(kind: str, done: Trial) -> None:
        meter.say(f"{done.edges} of {arguments.edges} edges; {kind}")

    try:
        device = read_spec(arguments.spec)
        settings = read_settings(decode(read_bytes(arguments.rig), arguments.rig), arguments.rig)
        what, notes = read_map(decode(read_bytes(arguments.map), arguments.map), arguments.map, device)
        _check_wires(what, settings, notes)
        program = build(settings, Path(arguments.rig).parent)
        perform = performer(program, settings, what, notes, arguments.seed % 2**32)
        power = settings.power
        chip = Chip(settings.bytes, settings.write_us, power.hold_up_us, settings.clock_bits, power.starts_us)
        budget = BUDGETS[arguments.effort]
        done = run_trials(
            device, what, perform, arguments.edges, arguments.seed, chip, budget, tick, kinds=arguments.kinds
        )
        meter.clear()
        kept = arguments.keep if done.failed is not None and arguments.keep else ""
        tried = Tried(
            done, device.name, arguments.spec, arguments.rig, what, arguments.seed, program.has_blocks, FINDINGS, kept
        )
        text = show_trials(tried, arguments.ascii or not can_print("▁█"))
        print(text, end="")
        if kept:
            _keep(kept, done, what, settings, text)
    except (SpecErrors, BadInput, CantBuild) as error:
        meter.clear()
        complain(error)
        return verdict.EXIT_BAD_INPUT
    if done.failed is not None:
        return verdict.EXIT_BROKEN
    return verdict.EXIT_UNDECIDED if done.judged_nothing else verdict.EXIT_OK


def _check_wires(what: Map, settings: Settings, notes: Notes) -> None:
    """Note each channel of the map that the rig records otherwise; raises `SpecErrors`."""
    from nudgeproof.rig.settings import SUPPLY
    from nudgeproof.spec.notes import show, suggest

    inputs = [channel.name for channel in settings.channels if channel.kind == "in"]
    outputs = [channel.name for channel in settings.channels if channel.kind in ("out", "asleep", "writing")]
    for channel in what.channels:
        names = [SUPPLY] if channel.kind == "cell" else outputs if channel.kind == "light" else inputs
        if channel.name not in names:
            kind = {"cell": "supply", "light": "output"}.get(channel.kind, "button or input")
            why = f"the recordings of `{show(settings.file)}` have its own names"
            cure = suggest(channel.name, names, "names")
            notes.complain(channel.at, f"the rig has no {kind} `{show(channel.name)}`", why, cure)
        elif not channel.high and channel.kind in ("button", "cell"):
            why = "the rig records 1 for a closed button and for a cell that is there"
            notes.complain(channel.at, f"`{show(channel.name)}` is pressed, or there, when low", why, "write `high`")
    notes.stop_if_bad()


def performer(program: Program, settings: Settings, what: Map, notes: Notes, seed: int) -> Perform:
    """The firmware on the rig as a function from acts to a recording."""
    from nudgeproof.firmware.performing import PLAIN, Performed, Setup
    from nudgeproof.firmware.recording import Recording, read_csv
    from nudgeproof.rig.run import run

    def perform(acts: Acts, end_us: int, setup: Setup = PLAIN) -> Performed:
        begun = settings if setup.clock_us < 0 else replace(settings, clock_starts_us=setup.clock_us)
        result = run(program, begun, _wire(acts, end_us, what), setup.memory, seed)
        if result.finding:
            # What led there isn't followed, and may be very long: its end is enough.
            rows = result.recording.rstrip("\n").split("\n")
            end = int(rows[-1].split(",")[0]) if len(rows) > 1 else 0
            first = tuple((channel.name, False) for channel in what.channels)
            return Performed(Recording("rig", first, (), end), result.recording, result.finding, result.detail)
        recording = read_csv(result.recording, "rig", what.wanted, notes)
        sleeps, writes = (_spans(result.recording, settings, kind) for kind in ("asleep", "writing"))
        return Performed(recording, result.recording, "", result.detail, sleeps, writes, result.memory)

    return perform


def _spans(recording: str, settings: Settings, kind: str) -> Spans:
    """From when to when the processor was deeply asleep, or memory was written, by the first column that shows it."""
    columns = (i for i, c in enumerate(settings.channels, 1) if c.kind == kind and (kind != "asleep" or c.low == 2))
    column = next(columns, None)
    if column is None:
        return ()
    found, begin, at = list[tuple[int, int]](), -1, 0
    for line in recording.splitlines()[1:]:
        cells = line.split(",")
        at = int(cells[0])
        if cells[column] == "1" and begin < 0:
            begin = at
        elif cells[column] == "0" and begin >= 0:
            found.append((begin, at))
            begin = -1
    return (*found, (begin, at)) if begin >= 0 else tuple(found)


def _wire(acts: Acts, end_us: int, what: Map) -> Stimulus:
    """Acts as changes of the rig's inputs; what the map has no channel for isn't done."""
    from nudgeproof.firmware.acts import CELL, edges_of
    from nudgeproof.rig.stimulus import Change, Stimulus

    names = {channel.made: channel.name for channel in what.channels if channel.kind != "light"}
    changes = tuple(
        Change(edge.at_us, names[edge.kind, edge.what], edge.on != (edge.kind == CELL))
        for edge in edges_of(acts)
        if (edge.kind, edge.what) in names
    )
    return Stimulus(changes, max(end_us, changes[-1].at_us + 1 if changes else 1))


def _keep(folder: str, done: Trial, what: Map, settings: Settings, text: str) -> None:
    """Write what failed; raises `BadInput`."""
    from nudgeproof.rig.stimulus import write_stimulus

    assert done.failed is not None
    try:
        Path(folder).mkdir(parents=True, exist_ok=True)
    except (OSError, ValueError) as error:
        raise BadFile(folder, f"can't be made: {getattr(error, 'strerror', None) or error}") from None
    stimulus = write_stimulus(_wire(done.failed.shrunk.acts, done.failed.shrunk.end_us, what), settings)
    for name, told in ((STIMULUS, stimulus), (RECORDING, done.failed.performed.text), (TOLD, text)):
        write_file(str(Path(folder) / name), told.encode())
    if done.failed.setup.memory:
        write_file(str(Path(folder) / MEMORY), done.failed.setup.memory)
