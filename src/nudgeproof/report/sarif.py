"""What a gate stops at as SARIF, so that a code host can show it at the line of the spec that it hangs on.

SARIF 2.1.0 is the OASIS standard of 2020 for results of static analysis; section numbers below are its own. What holds is
left out. What is broken and a mistake in a spec are errors; what is undecided, never came up, or should have been asked is
a warning. The same input gives the same bytes.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Sequence
from pathlib import PurePath
from typing import Final
from urllib.parse import quote

from nudgeproof import __version__
from nudgeproof.diagnostics import Place, Problem
from nudgeproof.hazards import HAZARDS
from nudgeproof.questions.promises import HAZARD as PROMISE
from nudgeproof.verdict import Finding, Report, Verdict

SCHEMA: Final = "https://docs.oasis-open.org/sarif/sarif/v2.1.0/os/schemas/sarif-schema-2.1.0.json"
SPEC: Final = "spec"
_RULES: Final = (
    *((hazard.NAME, hazard.MEANS) for hazard in HAZARDS),
    (PROMISE, "a promise of the spec is broken"),
    (SPEC, "a mistake in a spec, or a file that can't be read"),
)
_FINGERPRINT: Final = "question/v1"


def to_sarif(reports: Sequence[Report], problems: Sequence[Problem]) -> str:
    """One run as a document that ends in a newline."""
    results = [_problem(problem) for problem in problems]
    for report in reports:
        results += [_finding(finding) for finding in report.findings if finding.verdict is not Verdict.HOLDS]
        results += _missing(report)
    driver = {
        "name": "nudgeproof",
        "semanticVersion": __version__,
        "rules": [{"id": name, "shortDescription": {"text": means}} for name, means in _RULES],
    }
    # Columns are counted in characters (3.14.17).
    run = {"tool": {"driver": driver}, "columnKind": "unicodeCodePoints", "results": results}
    return json.dumps({"$schema": SCHEMA, "version": "2.1.0", "runs": [run]}, indent=1, ensure_ascii=False) + "\n"


def _finding(finding: Finding) -> dict[str, object]:
    if finding.verdict is not Verdict.BROKEN:
        told = f"{finding.verdict.word}: {finding.sentence}: {finding.reason}"
        return _result(finding.hazard, "warning", [told], finding.place, finding.subject)
    more = [f"{name}: {text}" for name, text in (("bench", finding.bench), ("usually", finding.cure)) if text]
    return _result(finding.hazard, "error", [finding.sentence, *more], finding.place, finding.subject)


def _missing(report: Report) -> Iterable[dict[str, object]]:
    reasons = {skipped.hazard: skipped.reason for skipped in report.not_asked}
    for name in report.missing:
        told = f"{name} is required and isn't asked: {reasons.get(name, 'the spec asks nothing of it')}"
        yield _result(name, "warning", [told], Place(report.file), "required")


def _problem(problem: Problem) -> dict[str, object]:
    told = "; ".join(filter(None, (problem.what, problem.why, problem.cure)))
    return _result(SPEC, "error", [told], problem.place, problem.what)


def _result(rule: str, level: str, told: Sequence[str], at: Place, subject: str) -> dict[str, object]:
    """One result (3.27). Its fingerprint stays when lines move, so that a host knows it again."""
    region = {"region": {"startLine": at.line, "startColumn": at.column}} if at.line else {}
    where = {"artifactLocation": {"uri": quote(PurePath(_text(at.file)).as_posix())}, **region}
    return {
        "ruleId": rule,
        "ruleIndex": [name for name, _ in _RULES].index(rule),
        "level": level,
        "message": {"text": _text("\n".join(told))},
        "locations": [{"physicalLocation": where}],
        "partialFingerprints": {_FINGERPRINT: hashlib.sha256(_text(f"{rule}\n{subject}").encode()).hexdigest()[:32]},
    }


def _text(text: str) -> str:
    return text.encode("utf-8", "replace").decode("utf-8")
