"""`replay` and `fuzz`: old stories tried again, and random runs on top."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from nudgeproof.cli.files import BadFile, BadInput, alone_beside, file_name, read_bytes, read_spec, write_file
from nudgeproof.cli.terminal import can_print, complain
from nudgeproof.diagnostics import printable

if TYPE_CHECKING:
    from collections.abc import Sequence

    from nudgeproof.engines.corpus import Entry
    from nudgeproof.replay import Retold
    from nudgeproof.spec.types import Device
    from nudgeproof.verdict import Finding, Verdict


def declare_fuzz(parser: argparse.ArgumentParser) -> None:
    """What `fuzz` takes."""
    parser.add_argument("spec", metavar="SPEC", help="a YAML file that describes the device")
    parser.add_argument("--seed", type=_natural, default=0, metavar="N", help="another seed, other runs (default: 0)")
    parser.add_argument("--steps", type=_natural, default=20_000, metavar="N",
                        help="about so many steps in each environment (default: 20000)")  # fmt: skip
    parser.add_argument("--corpus", metavar="FILE", type=file_name,
                        help="failures found before, tried first, added to (default: SPEC with .corpus.json)")  # fmt: skip
    parser.add_argument("--ascii", action="store_true", help="draw waveforms in plain ASCII")
    parser.set_defaults(command=fuzz)


def _natural(text: str) -> int:
    if not text.isascii() or not text.isdigit() or len(text) > 9:
        raise argparse.ArgumentTypeError(f"`{printable(text)}` is no whole number from 0 to 999999999")
    return int(text)


def fuzz(arguments: argparse.Namespace) -> int:
    """Run at random, keep what fails, and print it."""
    from nudgeproof import verdict
    from nudgeproof.diagnostics import SpecErrors
    from nudgeproof.engines import corpus
    from nudgeproof.random_runs import run_all
    from nudgeproof.report.screen import show_rounds

    name = arguments.corpus or str(Path(arguments.spec).with_suffix(".corpus.json"))
    try:
        device = read_spec(arguments.spec)
        rounds = run_all(device, arguments.steps, arguments.seed, read_corpus(name))
    except (SpecErrors, BadInput) as error:
        complain(error)
        return verdict.EXIT_BAD_INPUT
    buttons = tuple(button.name for button in device.buttons)
    print(show_rounds(device.name, rounds, buttons, arguments.ascii or not can_print("▁█")), end="", flush=True)
    found = {entry for entries in rounds for entry in entries.entries}
    if not found:
        return verdict.EXIT_OK
    try:
        # Somebody else may have added to it meanwhile.
        with alone_beside(name):
            known = set(read_corpus(name))
            if found - known:
                write_file(name, corpus.write(known | found).encode())
    except (SpecErrors, BadInput) as error:
        complain(error)
        return verdict.EXIT_BAD_INPUT
    print(f"\nThe failures are kept in {printable(name)}, and are tried first the next time.")
    return verdict.EXIT_BROKEN


def read_corpus(name: str) -> tuple[Entry, ...]:
    """The failures kept in a file, none if there is no such file; raises `SpecErrors` and `BadInput`."""
    from nudgeproof.engines import corpus

    return corpus.read(read_bytes(name).decode("utf-8", "replace"), name) if Path(name).exists() else ()


def declare_replay(parser: argparse.ArgumentParser) -> None:
    """What `replay` takes."""
    parser.add_argument("story", metavar="HAZARD|FILE", nargs="?",
                        help="a hazard, or what `check --json FILE` wrote (default: all that the spec tells)")  # fmt: skip
    parser.add_argument("spec", metavar="SPEC", help="a YAML file that describes the device")
    parser.add_argument("--stimuli", metavar="DIR", type=file_name,
                        help="write what is done in each story there, as stimuli for `rig` and for a player; without"
                        " HAZARD|FILE also the ways to what is wanted, and the failures that `fuzz` kept")  # fmt: skip
    parser.add_argument("--map", metavar="MAP", type=file_name,
                        help="a map of recordings, whose names of buttons and events the stimuli get")  # fmt: skip
    parser.add_argument("--ascii", action="store_true", help="draw waveforms in plain ASCII")
    parser.set_defaults(command=replay)


def replay(arguments: argparse.Namespace) -> int:
    """Tell the stories of a spec or a hazard, or try those of a file again; or write them as stimuli."""
    from nudgeproof import verdict
    from nudgeproof.check import UnknownName
    from nudgeproof.diagnostics import SpecErrors
    from nudgeproof.report.screen import show_story

    ascii_only = arguments.ascii or not can_print("▁█")
    try:
        device = read_spec(arguments.spec)
        buttons = tuple(button.name for button in device.buttons)
        from_file = arguments.story is not None and Path(arguments.story).exists()
        retold = _retell(device, arguments.story) if from_file else ()
        findings, worst = ((), verdict.Verdict.HOLDS) if from_file else _check(device, arguments.story)
        if arguments.stimuli:
            kept = [old.finding for old in retold if old.finding is not None] if from_file else list(findings)
            _write_stimuli(arguments, device, kept)
    except (SpecErrors, UnknownName, BadInput) as error:
        complain(error)
        return verdict.EXIT_BAD_INPUT
    for old in retold:
        if old.finding is None:
            print(f"no longer happens   {printable(f'{old.hazard}: {old.subject}')}")
            print(f"  {printable(old.reason)}; whether another story does, `check` says")
        elif not arguments.stimuli:
            print(f"STILL HAPPENS       {show_story(old.finding, buttons, ascii_only)}", end="")
    if from_file:
        return verdict.EXIT_BROKEN if any(old.finding is not None for old in retold) else verdict.EXIT_OK
    if not arguments.stimuli:
        told = [finding for finding in findings if finding.story is not None and finding.cure]
        print("\n".join(show_story(finding, buttons, ascii_only) for finding in told), end="")
        if not told:
            of = f"{arguments.story}: " if arguments.story else ""
            print(f"{of}no failure with a story in {printable(arguments.spec)}")
    return verdict.exit_code(worst)


def _check(device: Device, hazard: str | None) -> tuple[tuple[Finding, ...], Verdict]:
    """All findings about one hazard, or about all, and the worst verdict; raises `UnknownName` and `SpecErrors`."""
    from nudgeproof.check import check, check_name

    if hazard is not None:
        check_name(hazard, "nudgeproof replay")
    report = check(device, only=[hazard] if hazard is not None else [])
    return report.findings, report.verdict


def _retell(device: Device, name: str) -> tuple[Retold, ...]:
    from nudgeproof.replay import NoStory, retell

    try:
        return retell(device, read_bytes(name).decode("utf-8", "replace"))
    except NoStory as error:
        raise BadFile(name, f"no story to replay: {error}") from None


def _write_stimuli(arguments: argparse.Namespace, device: Device, findings: Sequence[Finding]) -> None:
    """Write the stories of findings, failures first, and of the corpus if nothing else was asked for."""
    from nudgeproof.cli.stimuli import write_stories
    from nudgeproof.firmware.mapping import read_map
    from nudgeproof.firmware.stories import stage_corpus, stage_finding
    from nudgeproof.spec.read import decode

    what = None
    if arguments.map:
        what, _ = read_map(decode(read_bytes(arguments.map), arguments.map), arguments.map, device)
    told = [stage_finding(device, one) for one in sorted(findings, key=lambda finding: finding.verdict)]
    if arguments.story is None:
        told += stage_corpus(device, read_corpus(str(Path(arguments.spec).with_suffix(".corpus.json"))))
    lines = write_stories(device, [one for one in told if one is not None], arguments.stimuli, what)
    print("\n".join(lines or [f"no failure with a story in {printable(arguments.spec)}"]))
