"""The command line: files in, screens and files out, exit codes. Nothing else touches the disk or the terminal.

Whatever a command needs is imported when it runs, so that `--help` answers at once.
"""

from __future__ import annotations

import argparse
import gc
import hashlib
import os
import re
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from nudgeproof import __version__

if TYPE_CHECKING:
    from nudgeproof.answers import Proof
    from nudgeproof.spec.types import Device
    from nudgeproof.verdict import Report

_EXITS = """exit codes: 0 everything holds; 1 something is broken; 2 bad input;
3 something is undecided or never came up; 70 a fault of nudgeproof itself;
130 interrupted"""
_JOB = "Checks how a small battery device wakes, takes presses and sleeps,\nover every order and every timing."
_QUIET_S = 2.0


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code; never raises."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    try:
        arguments = _parser().parse_args(argv)
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
        raise error
    kind = type(error).__name__
    print(f"nudgeproof {__version__} failed, through no fault of your spec: {kind}: {error}", file=sys.stderr)
    print("please report it with the spec; NUDGEPROOF_TRACEBACK=1 shows where it happened", file=sys.stderr)
    return 70


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="nudgeproof",
        description=_JOB,
        epilog=_EXITS,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument("--version", action="version", version=f"nudgeproof {__version__}")
    commands = parser.add_subparsers(title="commands", metavar="COMMAND", required=True)

    check = commands.add_parser(
        "check", help="ask every question that applies to a spec", epilog=_EXITS, allow_abbrev=False,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )  # fmt: skip
    check.add_argument("specs", nargs="+", metavar="SPEC", help="a YAML file that describes the device")
    check.add_argument("--json", metavar="FILE", help="also write the findings as JSON (`-`: only JSON, on the screen)")
    check.add_argument("--only", metavar="NAME", action="append", default=[], help="ask only this hazard, or `promise`")
    check.add_argument("--effort", choices=("quick", "usual", "deep"), default="usual",
                       help="how much to look at before giving up (default: usual)")  # fmt: skip
    check.add_argument("--closest", action="store_true",
                       help="also tell how close what holds is to failing (takes longer)")  # fmt: skip
    check.add_argument("--cures", action="store_true", help="try changes of the spec that cure what is broken")
    check.add_argument("--assumed", action="store_true", help="try on which guess a verdict hangs, and rank them")
    check.add_argument("--certificate", metavar="DIR", help="write a certificate for each proof, for `audit`")
    check.add_argument("--ascii", action="store_true", help="draw waveforms in plain ASCII")
    check.set_defaults(command=_check)

    fuzz = commands.add_parser(
        "fuzz", help="random presses, chatter and interruptions on top", epilog=_EXITS, allow_abbrev=False,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )  # fmt: skip
    fuzz.add_argument("spec", metavar="SPEC", help="a YAML file that describes the device")
    fuzz.add_argument("--seed", type=_natural, default=0, metavar="N", help="another seed, other runs (default: 0)")
    fuzz.add_argument("--steps", type=_natural, default=20_000, metavar="N",
                      help="about so many steps in each environment (default: 20000)")  # fmt: skip
    fuzz.add_argument("--corpus", metavar="FILE",
                      help="failures found before, tried first and added to (default: SPEC with .corpus.json)")  # fmt: skip
    fuzz.add_argument("--ascii", action="store_true", help="draw waveforms in plain ASCII")
    fuzz.set_defaults(command=_fuzz)

    replay = commands.add_parser(
        "replay", help="tell a story step by step, or try old stories again", epilog=_EXITS, allow_abbrev=False,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )  # fmt: skip
    replay.add_argument("story", metavar="HAZARD|FILE", help="a hazard, or what `check --json FILE` wrote")
    replay.add_argument("spec", metavar="SPEC", help="a YAML file that describes the device")
    replay.add_argument("--ascii", action="store_true", help="draw waveforms in plain ASCII")
    replay.set_defaults(command=_replay)

    audit = commands.add_parser(
        "audit", help="check a certificate again, without the explorer", epilog=_EXITS, allow_abbrev=False,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )  # fmt: skip
    audit.add_argument("files", nargs="+", metavar="FILE", help="a certificate that `check --certificate` wrote")
    audit.add_argument("--spec", metavar="SPEC", help="the spec it is about (default: the copy beside it)")
    audit.set_defaults(command=_audit)

    draw = commands.add_parser(
        "draw", help="draw the state diagram", epilog=_EXITS, allow_abbrev=False,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )  # fmt: skip
    draw.add_argument("spec", metavar="SPEC", help="a YAML file that describes the device")
    draw.add_argument("-o", "--output", metavar="FILE", required=True, help="FILE.svg, FILE.png or FILE.dot")
    draw.add_argument(
        "--findings", metavar="FILE", help="mark the states that failures in FILE (of `check --json`) touch"
    )
    draw.add_argument("--dot", action="store_true", help="let the system's own `dot` lay it out")
    draw.set_defaults(command=_draw)
    return parser


def _natural(text: str) -> int:
    if not text.isascii() or not text.isdigit() or len(text) > 9:
        raise argparse.ArgumentTypeError(f"`{text}` is no whole number from 0 to 999999999")
    return int(text)


class _BadInput(Exception):
    """A file can't be read or written, or an argument can't be used; the message is one line."""


def _check(arguments: argparse.Namespace) -> int:
    from nudgeproof import verdict
    from nudgeproof.check import UnknownName, check
    from nudgeproof.diagnostics import SpecErrors
    from nudgeproof.report.as_json import to_json
    from nudgeproof.report.screen import show

    only_json = arguments.json == "-"
    ascii_only = arguments.ascii or not _can_print("▁█")
    reports: list[verdict.Report] = []
    failed = False
    for spec in arguments.specs:
        meter = _Meter(spec)
        try:
            device = _read(spec)
            proofs: list[Proof] | None = [] if arguments.certificate else None
            report = check(device, arguments.effort, arguments.only, meter.tick, proofs, arguments.closest)
            if proofs is not None:
                _write_proofs(Path(arguments.certificate), device, proofs)
            report = _look_further(device, report, arguments, meter)
        except UnknownName as error:
            print(f"nudgeproof check: --only: {error}", file=sys.stderr)
            return verdict.EXIT_BAD_INPUT
        except (SpecErrors, _BadInput) as error:
            print(error, file=sys.stderr)
            failed = True
            continue
        finally:
            meter.clear()
        if not only_json:
            print(("\n" if reports else "") + show(report, ascii_only), end="", flush=True)
        reports.append(report)
    if only_json:
        print(to_json(reports), end="")
    elif arguments.json:
        try:
            _write(arguments.json, to_json(reports).encode())
        except _BadInput as error:
            print(error, file=sys.stderr)
            failed = True
    codes = [verdict.exit_code(report.verdict) for report in reports]
    if failed:
        return verdict.EXIT_BAD_INPUT
    return next((code for code in (verdict.EXIT_BROKEN, verdict.EXIT_UNDECIDED) if code in codes), verdict.EXIT_OK)


def _look_further(device: Device, report: Report, arguments: argparse.Namespace, meter: _Meter) -> Report:
    """What is asked for beyond the verdicts: cures, and the guesses that they hang on."""
    from nudgeproof.check import BUDGETS

    each = BUDGETS[arguments.effort]
    if arguments.cures:
        from nudgeproof import cures

        report = cures.find_all(device, report, cures.CHECKS * each, each, meter.tick)
    if arguments.assumed:
        from nudgeproof import assumed

        report = assumed.rank(device, report, assumed.CHECKS * each, each, meter.tick)
    return report


def _write_proofs(folder: Path, device: Device, proofs: Sequence[Proof]) -> None:
    """One file for each proof, and a copy of the spec they are about, named by its digest."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise _BadInput(f"{folder}: can't be made: {error.strerror or error}") from None
    _write(str(folder / f"{device.digest[:16]}.yaml"), _read_bytes(device.file))
    for proof in proofs:
        name = re.sub(r"[^0-9A-Za-z]+", "-", f"{proof.hazard} {proof.subject}").strip("-").lower()[:80]
        unique = hashlib.sha256(f"{proof.hazard}\n{proof.subject}".encode()).hexdigest()[:6]
        _write(str(folder / f"{device.digest[:16]}-{name}-{unique}.json"), proof.text.encode())


def _audit(arguments: argparse.Namespace) -> int:
    import json

    from nudgeproof import verdict
    from nudgeproof.check import audit_proof
    from nudgeproof.diagnostics import SpecErrors

    failed = False
    for name in arguments.files:
        try:
            data = _read_bytes(name)
            try:
                document = json.loads(data)
                hazard, subject = str(document["hazard"]), str(document["subject"])
                digest = str(document["spec_digest"])
            except (ValueError, KeyError, TypeError, RecursionError):
                raise _BadInput(f"{name}: this is no certificate") from None
            spec = arguments.spec or str(Path(name).parent / f"{digest[:16]}.yaml")
            answer = audit_proof(_read(spec), hazard, subject, data)
        except (SpecErrors, _BadInput) as error:
            print(error, file=sys.stderr)
            return verdict.EXIT_BAD_INPUT
        if answer.ok:
            print(f"proved   {hazard}: {subject} ({answer.classes} classes checked)")
        else:
            failed = True
            print(f"REFUSED  {hazard}: {subject}: {answer.reason}")
    return verdict.EXIT_BROKEN if failed else verdict.EXIT_OK


def _fuzz(arguments: argparse.Namespace) -> int:
    from nudgeproof import verdict
    from nudgeproof.diagnostics import SpecErrors
    from nudgeproof.engines import corpus
    from nudgeproof.random_runs import run_all
    from nudgeproof.report.screen import show_rounds

    name = arguments.corpus or str(Path(arguments.spec).with_suffix(".corpus.json"))
    try:
        device = _read(arguments.spec)
        known = corpus.read(_read_bytes(name).decode("utf-8", "replace"), name) if Path(name).exists() else ()
        rounds = run_all(device, arguments.steps, arguments.seed, known)
        found = tuple(entry for entries in rounds for entry in entries.entries)
        if set(found) - set(known):
            _write(name, corpus.write({*known, *found}).encode())
    except (SpecErrors, _BadInput) as error:
        print(error, file=sys.stderr)
        return verdict.EXIT_BAD_INPUT
    buttons = tuple(button.name for button in device.buttons)
    print(show_rounds(device.name, rounds, buttons, arguments.ascii or not _can_print("▁█")), end="")
    if found:
        print(f"\nThe failures are kept in {name}, and are tried first the next time.")
    return verdict.EXIT_BROKEN if found else verdict.EXIT_OK


def _replay(arguments: argparse.Namespace) -> int:
    from nudgeproof import verdict
    from nudgeproof.check import NAMES, UnknownName, check
    from nudgeproof.diagnostics import SpecErrors
    from nudgeproof.replay import NoStory, retell
    from nudgeproof.report.screen import show_story

    ascii_only = arguments.ascii or not _can_print("▁█")
    try:
        device = _read(arguments.spec)
        buttons = tuple(button.name for button in device.buttons)
        if not Path(arguments.story).exists():
            if arguments.story not in NAMES:
                check(device, only=[arguments.story])
            report = check(device, only=[arguments.story])
            told = [finding for finding in report.findings if finding.story is not None and finding.cure]
            print("\n".join(show_story(finding, buttons, ascii_only) for finding in told), end="")
            if not told:
                print(f"{arguments.story}: no failure with a story in {arguments.spec}")
            return verdict.exit_code(report.verdict)
        try:
            retold = retell(device, _read_bytes(arguments.story).decode("utf-8", "replace"))
        except NoStory as error:
            raise _BadInput(f"{arguments.story}: no story to replay: {error}") from None
    except (SpecErrors, UnknownName, _BadInput) as error:
        print(error, file=sys.stderr)
        return verdict.EXIT_BAD_INPUT
    for old in retold:
        if old.finding is None:
            print(
                f"no longer happens   {old.hazard}: {old.subject}\n  {old.reason}; whether another story does, `check` says"
            )
        else:
            print(f"STILL HAPPENS       {show_story(old.finding, buttons, ascii_only)}", end="")
    return verdict.EXIT_BROKEN if any(old.finding is not None for old in retold) else verdict.EXIT_OK


def _draw(arguments: argparse.Namespace) -> int:
    from nudgeproof.diagnostics import SpecErrors
    from nudgeproof.report.diagram import DrawingError, render, to_dot

    form = Path(arguments.output).suffix
    try:
        if form not in (".svg", ".png", ".dot"):
            raise _BadInput(f"{arguments.output}: the name must end in .svg, .png or .dot")
        device = _read(arguments.spec)
        dot = to_dot(device, _touched(device, arguments.findings) if arguments.findings else frozenset())
        drawn = dot.encode() if form == ".dot" else render(dot, form[1:], system_dot=arguments.dot)
        _write(arguments.output, drawn)
    except (SpecErrors, _BadInput, DrawingError) as error:
        print(error, file=sys.stderr)
        return 2
    return 0


def _touched(device: Device, name: str) -> frozenset[str]:
    from nudgeproof.replay import NoStory, touched

    try:
        return touched(device, _read_bytes(name).decode("utf-8", "replace"))
    except NoStory as error:
        raise _BadInput(f"{name}: no findings to mark: {error}") from None


def _read(spec: str) -> Device:
    from nudgeproof.spec.nodes import LARGEST_BYTES
    from nudgeproof.spec.read import decode, read_device

    return read_device(decode(_read_bytes(spec, LARGEST_BYTES + 1), spec), spec)


def _read_bytes(name: str, most: int = -1) -> bytes:
    try:
        with open(name, "rb") as stream:
            return stream.read(most)
    except OSError as error:
        raise _BadInput(f"{name}: can't be read: {error.strerror or error}") from None
    except ValueError as error:
        raise _BadInput(f"{name!r}: can't be read: {error}") from None


def _write(name: str, data: bytes) -> None:
    """Write a file whole or not at all."""
    path = Path(name)
    temporary = ""
    try:
        if path.exists() and not path.is_file():
            path.write_bytes(data)
            return
        handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=".nudgeproof-")
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
        umask = os.umask(0)
        os.umask(umask)
        os.chmod(temporary, 0o666 & ~umask)
        os.replace(temporary, path)
        temporary = ""
    except OSError as error:
        raise _BadInput(f"{name}: can't be written: {error.strerror or error}") from None
    finally:
        if temporary and os.path.exists(temporary):
            os.unlink(temporary)


def _can_print(text: str) -> bool:
    try:
        text.encode(sys.stdout.encoding or "ascii")
    except (UnicodeEncodeError, LookupError):
        return False
    return True


class _Meter:
    """A line of progress on a terminal, once a check has taken longer than two seconds."""

    def __init__(self, spec: str) -> None:
        self.spec, self.since, self.shown = spec, time.monotonic(), False

    def tick(self, environment: str, classes: int) -> None:
        if sys.stderr.isatty() and time.monotonic() - self.since > _QUIET_S:
            text = f"{self.spec}: {environment}: {classes} classes looked at"
            print(f"\r{text[:78]:<78}", end="", file=sys.stderr, flush=True)
            self.shown = True

    def clear(self) -> None:
        if self.shown:
            print("\r" + " " * 78 + "\r", end="", file=sys.stderr, flush=True)
            self.shown = False


def run() -> None:
    """Entry point of the console script."""
    # Nearly all that a check makes is kept to its end, so looking for garbage as often as usual finds none and takes time.
    gc.set_threshold(50_000, 20, 20)
    sys.exit(main())
