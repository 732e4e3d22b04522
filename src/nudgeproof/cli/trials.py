"""`trial`: a maker's firmware, C or a program, run through presses of all kinds, and each recording followed by its spec."""

from __future__ import annotations

import argparse
import contextlib
from pathlib import Path
from typing import TYPE_CHECKING

from nudgeproof.cli.files import BadFile, BadInput, file_name, read_bytes, read_spec, write_file
from nudgeproof.cli.recordings import BUDGETS
from nudgeproof.cli.stories import read_corpus
from nudgeproof.cli.terminal import Meter, can_print, complain

if TYPE_CHECKING:
    from nudgeproof.firmware.mapping import Map
    from nudgeproof.firmware.trials import Trial
    from nudgeproof.rig.settings import Settings

EDGES = 10_000
"""How much is tried if nothing else is said: half a minute to a minute for the firmwares in `firmware`."""

STIMULUS, RECORDING, MEMORY, TOLD = "stimulus.csv", "recording.csv", "memory.bin", "told.txt"

KINDS = (
    "stories", "walks", "random", "low walks", "high walks", "limits", "cuts", "sleeps", "held", "memory", "starts", "clock",
    "pauses", "timeouts", "chatter", "events", "pairs", "taps", "wakes", "writes",
)  # fmt: skip
"""The kinds of stimuli, stories, and those that `firmware.trials` has; here again, so that `--help` needs none of it."""


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
    """Make ready, try, and tell what came of it."""
    from nudgeproof import verdict
    from nudgeproof.diagnostics import SpecErrors
    from nudgeproof.firmware.accepting import accept
    from nudgeproof.firmware.mapping import read_map
    from nudgeproof.firmware.stories import story_stimuli
    from nudgeproof.firmware.trials import run_trials
    from nudgeproof.performing import check_wires, chip_of, performer
    from nudgeproof.report.trials import Tried, show_trials
    from nudgeproof.rig.build import CantBuild
    from nudgeproof.rig.prepare import prepare
    from nudgeproof.rig.run import FINDINGS
    from nudgeproof.rig.settings import read_settings
    from nudgeproof.spec.read import decode

    meter = Meter(arguments.rig)

    def tick(kind: str, done: Trial) -> None:
        meter.say(f"{done.edges} of {arguments.edges} edges; {kind}")

    def seek(environment: str) -> None:
        meter.say(f"looking for stories: {environment}")

    try:
        device = read_spec(arguments.spec)
        settings = read_settings(decode(read_bytes(arguments.rig), arguments.rig), arguments.rig)
        what, notes = read_map(decode(read_bytes(arguments.map), arguments.map), arguments.map, device)
        check_wires(what, settings, notes)
        firmware = prepare(settings, Path(arguments.rig).parent)
        perform = performer(firmware, settings, what, notes, arguments.seed % 2**32)
        budget = BUDGETS[arguments.effort]
        # A quarter of the edges for stories, so that the walks are never starved by them.
        corpus = read_corpus(str(Path(arguments.spec).with_suffix(".corpus.json")))
        told = story_stimuli(device, what.powers_up, arguments.edges // 4, corpus, seek)
        done = run_trials(
            device, what, perform, arguments.edges, arguments.seed, chip_of(settings), budget, tick,
            kinds=arguments.kinds, first=told if "stories" in arguments.kinds else (),
        )  # fmt: skip
        refused = done.failed if done.failed is not None and done.failed.outcome is not None else None
        acceptable = (
            accept(device, what, refused, perform, lambda words: meter.say(f"another time than {words}"))
            if refused is not None
            else ()
        )
        meter.clear()
        kept = arguments.keep if done.failed is not None and arguments.keep else ""
        tried = Tried(
            done,
            device.name,
            arguments.spec,
            arguments.rig,
            what,
            arguments.seed,
            firmware.cant_show,
            FINDINGS,
            kept,
            acceptable,
        )
        text = show_trials(tried, arguments.ascii or not can_print("▁█"))
        print(text, end="")
        if kept:
            keep(kept, done, what, settings, text)
    except (SpecErrors, BadInput, CantBuild) as error:
        meter.clear()
        complain(error)
        return verdict.EXIT_BAD_INPUT
    if done.failed is not None:
        return verdict.EXIT_BROKEN
    return verdict.EXIT_UNDECIDED if done.judged_nothing else verdict.EXIT_OK


def keep(folder: str, done: Trial, what: Map, settings: Settings, text: str) -> None:
    """Write what failed; raises `BadInput`."""
    from nudgeproof.performing import wire
    from nudgeproof.rig.stimulus import write_stimulus

    assert done.failed is not None
    try:
        Path(folder).mkdir(parents=True, exist_ok=True)
    except (OSError, ValueError) as error:
        raise BadFile(folder, f"can't be made: {getattr(error, 'strerror', None) or error}") from None
    stimulus = write_stimulus(wire(done.failed.shrunk.acts, done.failed.shrunk.end_us, what), settings)
    for name, told in ((STIMULUS, stimulus), (RECORDING, done.failed.performed.text), (TOLD, text)):
        write_file(str(Path(folder) / name), told.encode())
    if done.failed.setup.memory:
        write_file(str(Path(folder) / MEMORY), done.failed.setup.memory)
    else:
        # One that an earlier trial left there would be taken for this one's.
        with contextlib.suppress(OSError):
            (Path(folder) / MEMORY).unlink(missing_ok=True)
