"""Reports as JSON, format 1: the public contract for other programs. The same input gives the same bytes."""

from __future__ import annotations

import json
from collections.abc import Sequence

from nudgeproof.engines.story import Beat
from nudgeproof.spec.edit import Edit
from nudgeproof.units import FOREVER
from nudgeproof.verdict import AcceptedCase, ClosestCall, Cures, Finding, Guess, Guesses, Report, Scene

FORMAT = 1


def to_json(reports: Sequence[Report]) -> str:
    """All reports as one document that ends in a newline."""
    document = {"format": FORMAT, "specs": [_spec(report) for report in reports]}
    return json.dumps(document, indent=1, ensure_ascii=False) + "\n"


def _spec(report: Report) -> dict[str, object]:
    return {
        "file": report.file.encode("utf-8", "replace").decode("utf-8"),
        "device": report.device,
        "verdict": report.verdict.name.lower(),
        "not_asked": [{"hazard": skipped.hazard, "reason": skipped.reason} for skipped in report.not_asked],
        "required_but_not_asked": list(report.missing),
        "accepted": [_accepted(case) for case in report.accepted],
        "findings": [_finding(report, finding) for finding in report.findings],
        "closest": None if report.closest is None else [_closest(call) for call in report.closest],
        **_guesses(report.guesses),
    }


def _closest(call: ClosestCall) -> dict[str, object]:
    """One bound of one source, in whole microseconds; `holds_to_us` null: it holds however long."""
    return {
        "hazard": call.hazard,
        "subject": call.subject,
        "source": call.source,
        "bound": call.key,
        "side": "longest" if call.longest else "shortest",
        "stated_us": call.stated_us,
        "holds_to_us": None if call.holds_to_us == FOREVER else call.holds_to_us,
        "breaks_at_us": call.breaks_at_us,
        "spare_us": call.spare_us if call.is_exact else None,
        "no_limit_needed": call.needs_no_limit,
    }


def _guesses(guesses: Guesses | None) -> dict[str, object]:
    """The guesses, the one to measure first at the head; nothing if they weren't varied."""
    if guesses is None:
        return {}
    return {"guesses": [_guess(guess) for guess in guesses.ranked], "guesses_untried": list(guesses.untried)}


def _guess(guess: Guess) -> dict[str, object]:
    return {
        "guess": guess.told,
        "line": guess.line,
        "assumed": guess.assumed,
        "tried": [
            {
                "value": varied.words,
                "known": varied.known,
                "turned": [
                    {
                        "hazard": turned.hazard,
                        "subject": turned.subject,
                        "was": turned.was.name.lower(),
                        "now": turned.now.name.lower(),
                        "sentence": turned.sentence,
                    }
                    for turned in varied.turned
                ],
            }
            for varied in guess.varied
        ],
    }


def _accepted(case: AcceptedCase) -> dict[str, object]:
    entry = case.entry
    return {
        "hazard": entry.hazard,
        "by": list(entry.by),
        "in": entry.within,
        "why": entry.why,
        "who": entry.who,
        "granted": entry.granted,
        "line": entry.at.line,
        "needed": case.needed,
    }


def _finding(report: Report, finding: Finding) -> dict[str, object]:
    story = finding.story
    pairs = zip(story.beats, finding.scenes[1:], strict=True) if story is not None else ()
    return {
        "hazard": finding.hazard,
        "verdict": finding.verdict.name.lower(),
        "evidence": finding.evidence,
        "subject": finding.subject,
        "surroundings": finding.surroundings,
        "line": finding.place.line,
        "column": finding.place.column,
        "sentence": finding.sentence,
        "needs": _needs(report, finding),
        "where": finding.where,
        "bench": finding.bench,
        **_cures(finding.cures),
        "exact": finding.exact,
        "shortest": finding.shortest,
        "assumptions": list(report.assumptions),
        "reason": finding.reason,
        "story": [_beat(beat, scene) for beat, scene in pairs],
    }


def _cures(cures: Cures | None) -> dict[str, object]:
    """The cures that were tried; what was found wrong only if cures were looked for."""
    if cures is None:
        return {"cures": []}
    found = [
        {"changes": [_edit(edit) for edit in cure.edits], "tried": True, "questions": cure.questions}
        for cure in cures.found
    ]
    wrong = cures.wrong
    return {
        "cures": found,
        "no_cure": None if wrong is None else {"changes": [_edit(edit) for edit in wrong.edits], "why": wrong.why},
        "changes_tried": cures.tried,
        "changes_undecided": cures.undecided,
        "changes_left_out": cures.untried,
    }


def _edit(edit: Edit) -> dict[str, object]:
    return {
        "line": edit.line,
        "path": list(edit.path),
        "old": edit.old,
        "new": edit.new,
        "old_key": edit.was_key,
        "says": str(edit),
    }


def _needs(report: Report, finding: Finding) -> list[dict[str, object]]:
    """What the hazard would take, as bounds on presses and pauses in turn; `FOREVER` is null."""
    return [
        {
            "from": needed.state,
            "button": needed.button,
            "presses_and_pauses_us": [[span.lo, None if span.hi == FOREVER else span.hi] for span in needed.spans],
        }
        for needed in report.takes
        if needed.hazard == finding.hazard and needed.spans is not None
    ]


def _beat(beat: Beat, scene: Scene) -> dict[str, object]:
    chatter = any(taken.choice.chatter for taken in beat.move.taken)
    return {
        "at_us": beat.at_us,
        "kind": "action" if beat.actions else "chatter" if chatter else "reaction",
        "button": beat.button,
        "part": beat.part,
        "timer": beat.timer,
        "choice": beat.choice,
        "by": beat.by,
        "line": beat.line,
        "says": list(beat.says),
        "situation": {
            "state": scene.state,
            "values": dict(scene.values),
            "closed": list(scene.closed),
            "pressed": list(scene.pressed),
            "runs": scene.runs,
            "cell": scene.cell,
            "power": scene.power,
        },
    }
