"""`check`: ask everything that applies; `audit`: check what was proved again."""

from __future__ import annotations

import argparse
import hashlib
import re
import sys
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from nudgeproof.cli.files import (
    BadFile,
    BadInput,
    file_name,
    read_bytes,
    read_spec,
    read_spec_bytes,
    understand_spec,
    write_file,
)
from nudgeproof.cli.terminal import Meter, can_print, complain
from nudgeproof.diagnostics import printable

if TYPE_CHECKING:
    from nudgeproof.answers import Proof
    from nudgeproof.spec.types import Device
    from nudgeproof.verdict import Report


def _a_file(text: str) -> str:
    if text == "-":
        raise argparse.ArgumentTypeError("`-` would be the screen, which shows the findings; name a file")
    return file_name(text)


def declare_check(parser: argparse.ArgumentParser) -> None:
    """What `check` takes."""
    parser.add_argument("specs", nargs="+", metavar="SPEC", help="a YAML file that describes the device")
    parser.add_argument(
        "--json", metavar="FILE", type=file_name, help="also write the findings as JSON (`-`: only JSON, on the screen)"
    )
    parser.add_argument(
        "--sarif", metavar="FILE", type=_a_file, help="also write what a gate stops at as SARIF 2.1.0, for code hosts"
    )
    parser.add_argument(
        "--only", metavar="NAME", action="append", default=[], help="ask only this hazard, or `promise`"
    )
    parser.add_argument(
        "--require", metavar="NAME", action="append", default=[],
        help="fail if this hazard, or `promise`, doesn't apply to the spec: a section may have got lost (`all`: every one)",
    )  # fmt: skip
    parser.add_argument("--effort", choices=("quick", "usual", "deep"), default="usual",
                        help="how much to look at before giving up (default: usual)")  # fmt: skip
    parser.add_argument("--closest", action="store_true",
                        help="also tell how close what holds is to failing (takes longer)")  # fmt: skip
    parser.add_argument("--cures", action="store_true", help="try changes of the spec that cure what is broken")
    parser.add_argument("--assumed", action="store_true", help="try on which guess a verdict hangs, and rank them")
    parser.add_argument("--certificate", metavar="DIR", type=file_name,
                        help="write a certificate for each proof, for `audit`")  # fmt: skip
    parser.add_argument("--ascii", action="store_true", help="draw waveforms in plain ASCII")
    parser.set_defaults(command=check)


def check(arguments: argparse.Namespace) -> int:
    """Check each spec, and print or write what was found."""
    from nudgeproof import verdict
    from nudgeproof.check import UnknownName
    from nudgeproof.check import check as ask_all
    from nudgeproof.diagnostics import Place, Problem, SpecErrors
    from nudgeproof.report.as_json import to_json
    from nudgeproof.report.screen import count, show
    from nudgeproof.report.summary import Row, show_summary

    only_json = arguments.json == "-"
    ascii_only = arguments.ascii or not can_print("▁█")
    reports: list[verdict.Report] = []
    rows: list[Row] = []
    problems: list[Problem] = []
    failed = False
    for spec in arguments.specs:
        meter = Meter(spec)
        try:
            data = read_spec_bytes(spec)
            device = understand_spec(data, spec)
            proofs: list[Proof] | None = [] if arguments.certificate else None
            report = ask_all(device, arguments.effort, arguments.only, meter.tick, proofs, arguments.closest)
            if proofs is not None:
                _write_proofs(Path(arguments.certificate), device, data, proofs)
            report = _look_further(device, _require(report, arguments.require), arguments, meter)
        except UnknownName as error:
            print(f"nudgeproof check: {printable(str(error))}", file=sys.stderr)
            return verdict.EXIT_BAD_INPUT
        except (SpecErrors, BadInput) as error:
            complain(error)
            rows.append(Row(spec, -1, "bad input"))
            problems += error.problems if isinstance(error, SpecErrors) else [Problem(Place(spec), str(error), "", "")]
            failed = True
            continue
        finally:
            meter.clear()
        if not only_json:
            print(("\n" if reports else "") + show(report, ascii_only), end="", flush=True)
        reports.append(report)
        told = count(report) if report.missing else count(report).partition(";")[0]
        rows.append(Row(spec, report.verdict.value, report.verdict.word, told))
    if len(rows) > 1 and not only_json:
        print("\n" + show_summary(rows, "specs"), end="")
    if only_json:
        print(to_json(reports), end="")
    elif arguments.json:
        try:
            write_file(arguments.json, to_json(reports).encode())
        except BadInput as error:
            complain(error)
            failed = True
    if arguments.sarif:
        from nudgeproof.report.sarif import to_sarif

        try:
            write_file(arguments.sarif, to_sarif(reports, problems).encode())
        except BadInput as error:
            complain(error)
            failed = True
    codes = [verdict.exit_code(report.verdict) for report in reports]
    if failed:
        return verdict.EXIT_BAD_INPUT
    return next((code for code in (verdict.EXIT_BROKEN, verdict.EXIT_UNDECIDED) if code in codes), verdict.EXIT_OK)


def _require(report: Report, names: Sequence[str]) -> Report:
    """The report, with what had to be asked and wasn't; raises `UnknownName`."""
    from nudgeproof.check import NAMES, check_name

    for name in names:
        if name != "all":
            check_name(name, "--require")
    wanted = set(NAMES) if "all" in names else set(names)
    asked = {finding.hazard for finding in report.findings}
    return replace(report, missing=tuple(name for name in NAMES if name in wanted - asked))


def _look_further(device: Device, report: Report, arguments: argparse.Namespace, meter: Meter) -> Report:
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


def _write_proofs(folder: Path, device: Device, data: bytes, proofs: Sequence[Proof]) -> None:
    """One file for each proof, and a copy of the spec's bytes that they are about, named by its digest."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise BadFile(str(folder), f"can't be made: {error.strerror or error}") from None
    write_file(str(folder / f"{device.digest[:16]}.yaml"), data)
    for proof in proofs:
        name = re.sub(r"[^0-9A-Za-z]+", "-", f"{proof.hazard} {proof.subject}").strip("-").lower()[:80]
        unique = hashlib.sha256(f"{proof.hazard}\n{proof.subject}".encode()).hexdigest()[:6]
        write_file(str(folder / f"{device.digest[:16]}-{name}-{unique}.json"), proof.text.encode())


def declare_why(parser: argparse.ArgumentParser) -> None:
    """What `why` takes."""
    parser.add_argument("spec", metavar="SPEC", help="a YAML file that describes the device")
    parser.add_argument("symptom", metavar="SYMPTOM",
                        help='what was seen: "glowing -> stowed", or "beam changes in glowing"')  # fmt: skip
    parser.add_argument("--effort", choices=("quick", "usual", "deep"), default="usual",
                        help="how much to look at before giving up (default: usual)")  # fmt: skip
    parser.set_defaults(command=why)


def why(arguments: argparse.Namespace) -> int:
    """Tell all ways in which a symptom can come about."""
    from nudgeproof import verdict
    from nudgeproof.diagnostics import SpecErrors
    from nudgeproof.report.ways import show_ways
    from nudgeproof.why import NoSymptom, find_ways, read_symptom

    meter = Meter(arguments.spec)
    try:
        device = read_spec(arguments.spec)
        ways = find_ways(device, read_symptom(device, arguments.symptom), arguments.effort, meter.tick)
    except NoSymptom as error:
        print(f"nudgeproof why: {printable(str(error))}", file=sys.stderr)
        return verdict.EXIT_BAD_INPUT
    except (SpecErrors, BadInput) as error:
        complain(error)
        return verdict.EXIT_BAD_INPUT
    finally:
        meter.clear()
    print(show_ways(device, ways), end="")
    if ways.found:
        return verdict.EXIT_OK
    return verdict.EXIT_UNDECIDED if ways.open else verdict.EXIT_BROKEN


def declare_audit(parser: argparse.ArgumentParser) -> None:
    """What `audit` takes."""
    parser.add_argument("files", nargs="+", metavar="FILE", help="a certificate that `check --certificate` wrote")
    parser.add_argument(
        "--spec", metavar="SPEC", type=file_name, help="the spec it is about (default: the copy beside it)"
    )
    parser.set_defaults(command=audit)


def audit(arguments: argparse.Namespace) -> int:
    """Check each certificate against its spec."""
    import json

    from nudgeproof import verdict
    from nudgeproof.check import audit_proof
    from nudgeproof.diagnostics import SpecErrors

    failed = False
    for name in arguments.files:
        try:
            data = read_bytes(name)
            try:
                document = json.loads(data)
                hazard, subject = str(document["hazard"]), str(document["subject"])
                digest = str(document["spec_digest"])
            except (ValueError, KeyError, TypeError, RecursionError):
                raise BadFile(name, "this is no certificate") from None
            spec = arguments.spec or str(Path(name).parent / f"{digest[:16]}.yaml")
            answer = audit_proof(read_spec(spec), hazard, subject, data)
        except (SpecErrors, BadInput) as error:
            complain(error)
            return verdict.EXIT_BAD_INPUT
        if answer.ok:
            print(f"proved   {printable(f'{hazard}: {subject}')} ({answer.classes} classes checked)")
        else:
            failed = True
            print(f"REFUSED  {printable(f'{hazard}: {subject}: {answer.reason}')}")
    return verdict.EXIT_BROKEN if failed else verdict.EXIT_OK
