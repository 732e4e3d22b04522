"""A report as text: 80 columns, no colour, the failures first.

Every verdict is a sentence, never a bare tick, and says who acted. What was not asked is listed too.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from nudgeproof.diagnostics import printable
from nudgeproof.engines.story import Beat
from nudgeproof.parts.chart import CHANGED, STEPPED
from nudgeproof.parts.contact import CHATTERS, SETTLES
from nudgeproof.parts.sleep import STILL_CLOSED, WAKES
from nudgeproof.random_runs import NOT_PROMISED, Round
from nudgeproof.report.argument import as_argument
from nudgeproof.report.closest import show_closest
from nudgeproof.report.dot_text import columns
from nudgeproof.report.guesses import show_guesses
from nudgeproof.report.strip import draw_strip
from nudgeproof.report.width import cut, wrap
from nudgeproof.units import show_moment, widen
from nudgeproof.verdict import Finding, Report, Verdict

WIDTH = 80
_LABEL = 10
_COUNTS = {
    Verdict.BROKEN: ("broken", "broken"),
    Verdict.UNDECIDED: ("undecided", "undecided"),
    Verdict.VACUOUS: ("never came up", "never came up"),
    Verdict.HOLDS: ("holds", "hold"),
}


def show(report: Report, ascii_only: bool = False) -> str:
    """The whole report of one spec."""
    lines = [f"{report.device}: {count(report)}", f"({printable(report.file)})"]
    ordered = sorted(report.findings, key=lambda finding: finding.verdict)
    for finding in ordered:
        if finding.verdict is Verdict.BROKEN:
            lines += ["", *_failure(report, finding, ascii_only)]
        elif finding.verdict is not Verdict.HOLDS:
            lines += ["", *_open_question(report, finding)]
    lines += _accepted(report)
    lines += _takes(report)
    if report.closest is not None:
        lines += show_closest(report.closest, WIDTH)
    lines += _holding(ordered)
    if report.supply:
        lines += ["", "Reckoned of the supply"]
        lines += _items(report.supply)
    if report.not_asked:
        lines += ["", "Not asked"]
        required = dict.fromkeys(report.missing, " (required)")
        grouped: dict[str, list[str]] = {}
        for skip in report.not_asked:
            grouped.setdefault(skip.reason, []).append(f"{skip.hazard}{required.get(skip.hazard, '')}")
        lines += _items(f"{', '.join(names)}: {reason}" for reason, names in grouped.items())
    if report.assumptions:
        lines += ["", "Assumed, since the spec doesn't say"]
        lines += _items(report.assumptions)
    if report.guesses is not None:
        lines += show_guesses(report.guesses, WIDTH)
    lines += _next(report, ordered)
    return "\n".join(lines) + "\n"


def show_finding(report: Report, finding: Finding, ascii_only: bool = False) -> str:
    """What the screen says of one finding, and the command that tells more of it."""
    if finding.verdict is Verdict.BROKEN:
        lines = _failure(report, finding, ascii_only)
    elif finding.verdict is Verdict.HOLDS:
        lines = _holding([finding])[1:]
    else:
        lines = _open_question(report, finding)
    return "\n".join([*lines, *_next(report, [finding])]) + "\n"


def _next(report: Report, ordered: Sequence[Finding]) -> list[str]:
    """One command that leads on."""
    worst = ordered[0] if ordered else None
    if worst is None or worst.verdict is Verdict.VACUOUS:
        return []
    if worst.verdict is Verdict.BROKEN and worst.cures is None:
        command, why = "check --cures SPEC", "tries changes of the spec that cure it"
    elif worst.verdict is Verdict.BROKEN and worst.story is not None:
        command, why = f"replay {worst.hazard} SPEC", "tells every step"
    elif worst.verdict is Verdict.UNDECIDED and report.at_most:
        command, why = "fuzz SPEC", "tries random presses; it can find a failure, and never proves that there is none"
    elif worst.verdict is Verdict.UNDECIDED:
        command, why = "check --effort deep SPEC", "looks further"
    else:
        command, why = "draw SPEC -o diagram.svg", "draws the states"
    whole = f"Next: nudgeproof {command.replace('SPEC', as_argument(report.file))}"
    return ["", whole if len(whole) <= WIDTH else f"Next: nudgeproof {command}", f"      {why}."]


def count(report: Report) -> str:
    """How many questions got which verdict, e.g. `1 broken, 8 hold; 1 not asked`."""
    told = []
    for verdict in Verdict:
        number = sum(finding.verdict is verdict for finding in report.findings)
        if number:
            told.append(f"{number} {_COUNTS[verdict][number > 1]}")
    if report.accepted:
        told.append(f"{len(report.accepted)} accepted")
    text = ", ".join(told) or "nothing was asked"
    missing = f", {len(report.missing)} of them required" if report.missing else ""
    return text + (f"; {len(report.not_asked)} not asked{missing}" if report.not_asked else "")


def _failure(report: Report, finding: Finding, ascii_only: bool) -> list[str]:
    lines = [f"BROKEN  {finding.hazard}", *_wrap(finding.sentence + ".", "  ")]
    if finding.story is not None:
        times = [beat.at_us for beat in finding.story.beats]
        lines.append("")
        strip = draw_strip(finding.scenes, times, report.buttons, WIDTH - 2, ascii_only)
        lines += ["  " + row for row in strip]
        lines.append("")
        lines += list_steps(finding.story.beats)
        lines.append("")
        fewest = (
            f"{'on this specimen ' if finding.specimen else ''}no story has fewer presses and releases"
            if finding.shortest
            else "perhaps not the shortest story"
            if finding.classes
            else "found by random runs, perhaps not the shortest"
        )
        lines += _field("tried", f"{finding.surroundings}; {fewest}")
        lines += _field("where", finding.where)
        lines += _field("bench", finding.bench)
        lines += _where(report, finding)
    else:
        if finding.evidence == "reckoned":
            lines += _field("reckoned", "from the spec's figures; it needs no pressing")
        else:
            lines += _field("proof", f"every timing of {finding.surroundings} was tried")
        lines += _field("line", _quote(report, finding.place.line))
    lines += _field("harm", finding.harm)
    return [*lines, *_cures(finding)]


def _cures(finding: Finding) -> list[str]:
    """The cures that were tried, or in general words what usually helps."""
    cures = finding.cures
    if cures is None:
        return _field("usually", finding.cure)
    lines = []
    for number, cure in enumerate(cures.found):
        name = "cure" if not number else "or"
        for edit in cure.edits:
            lines += _field(name, str(edit))
            name = " "
        held = "the question asked of it" if cure.questions == 1 else f"all {cure.questions} questions asked of it"
        lines += _field(" ", f"tried: {held}; this failure is gone, and all that held still holds")
    if not cures.found:
        told = f"none found; {cures.tried} {'change was' if cures.tried == 1 else 'changes were'} tried"
        told += f", {cures.undecided} of them without an answer" if cures.undecided else ""
        told += f", {cures.untried} more left out for the effort" if cures.untried else ""
        lines += _field("cure", told)
        lines += _field("usually", finding.cure)
    if cures.wrong is not None:
        name = "no cure"
        for edit in cures.wrong.edits:
            lines += _field(name, str(edit))
            name = " "
        lines += _field(" ", f"tried: {cures.wrong.why}")
    return lines


def show_rounds(device: str, rounds: Sequence[Round], buttons: Sequence[str], ascii_only: bool = False) -> str:
    """What random runs found; finding nothing is never shown as a pass."""
    failures = sum(len(found.findings) for found in rounds)
    steps = sum(found.steps for found in rounds)
    told = f"{failures} {'failure' if failures == 1 else 'failures'}" if failures else "nothing found"
    lines = [f"{device}: {told} in {steps} random steps"]
    for found in rounds:
        lines += _wrap(
            f"{found.environment}: {found.runs} runs, {found.steps} steps, situations met: {found.met}", "  "
        )
    for found in rounds:
        for finding in found.findings:
            lines += ["", show_story(finding, buttons, ascii_only).rstrip()]
    lines += ["", *_wrap(f"Random runs prove nothing: they can miss {NOT_PROMISED}. `check` tries every timing.", "")]
    return "\n".join(lines) + "\n"


def show_story(finding: Finding, buttons: Sequence[str], ascii_only: bool = False) -> str:
    """One story with every step, also those that a person would leave out, and what is the case after each."""
    assert finding.story is not None
    beats = finding.story.beats
    lines = [f"{finding.hazard}: {finding.subject}", *_wrap(finding.sentence + ".", "  "), ""]
    lines += [
        "  " + row for row in draw_strip(finding.scenes, [b.at_us for b in beats], buttons, WIDTH - 2, ascii_only)
    ]
    lines.append("")
    for beat, scene in zip(beats, finding.scenes[1:], strict=True):
        values = "".join(f", {name} {value}" for name, value in scene.values)
        contacts = "".join(
            f", {b} {'closed' if b in scene.closed else 'open'}/{'pressed' if b in scene.pressed else 'released'}"
            for b in buttons
        )
        told = "; ".join(beat.says) or f"{beat.part}: {beat.timer}"
        lines += _wrap(f"{show_moment(beat.at_us)}  {told} ({beat.by})", "  ")
        lines += _wrap(f"{scene.state}{values}{contacts}, processor {'runs' if scene.runs else 'stopped'}", "      ")
    return "\n".join(lines) + "\n"


def _open_question(report: Report, finding: Finding) -> list[str]:
    lines = [f"{finding.verdict.word.upper()}  {finding.sentence}", *_wrap(finding.reason + ".", "  ")]
    return lines + _field("line", _quote(report, finding.place.line))


def _where(report: Report, finding: Finding) -> list[str]:
    """The spec lines that the story hangs on: those of the transitions it takes, and of steps of variables, the last one
    first."""
    assert finding.story is not None
    numbers = []
    for beat in finding.story.beats:
        for taken in beat.move.taken:
            if taken.choice.line and {CHANGED, STEPPED} & set(taken.choice.send):
                numbers.append(taken.choice.line)
    shown = list(dict.fromkeys(reversed(numbers)))[:3] or [finding.place.line]
    lines = []
    for i, number in enumerate(shown):
        lines += _field("line" if i == 0 else "", _quote(report, number))
    return lines


def _takes(report: Report) -> list[str]:
    if not report.takes:
        return []
    lines = ["", "What it would take, whoever presses"]
    lines += _wrap("With the fewest presses that can do it; each bound is necessary by itself.", "  ")
    for needed in report.takes:
        if needed.spans is None:
            told = "not found out within this effort"
        else:
            told = ", ".join(f"{'open' if i % 2 else 'press'} {widen(span)}" for i, span in enumerate(needed.spans))
        rest = "asleep" if needed.asleep else "at rest"
        by = f" by {needed.button}" if len(report.buttons) > 1 else ""
        lines += _wrap(f"{needed.hazard}{by}, {rest} in {needed.state}:", "  ")
        lines += _wrap(told or f"no pressing of {needed.button} at all can do it", "    ")
    stated = dict.fromkeys(text for needed in report.takes for text in needed.stated)
    lines += _wrap(f"The spec states {'; '.join(stated)}.", "  ")
    return lines


def _accepted(report: Report) -> list[str]:
    if not report.accepted:
        return []
    lines = ["", "Accepted"]
    for case in report.accepted:
        entry = case.entry
        lines += _wrap(f"{entry.hazard}: {', '.join(entry.by)}, in {entry.within}", "  ")
        lines += _wrap(f"because {entry.why} ({entry.who}, {entry.granted})", "    ")
        lines += _wrap(case.harm, "    ")
        if case.needed is False:
            lines += _wrap("not needed any more: this can't happen; take the entry out", "    ")
    return lines


def _quote(report: Report, line: int) -> str:
    text = report.lines[line - 1].strip() if 0 < line <= len(report.lines) else ""
    group = dict(report.shared).get(line)
    shared = f" (shared by {group})" if group is not None else ""
    room = WIDTH - 2 - _LABEL - len(str(line)) - 2 - len(shared)
    # A long name leaves the quotation a little room; the lines are then wrapped.
    room = max(room, 20)
    return f"{line}: {text if columns(text) <= room else cut(text, room - 3) + '...'}{shared}"


def list_steps(beats: Sequence[Beat], width: int = WIDTH) -> list[str]:
    """The beats a person would tell: settling contacts and the steps of going to sleep are left out."""
    told: list[tuple[int, str]] = []
    for beat in beats:
        quiet = beat.timer == SETTLES or (beat.part == "processor" and beat.timer not in (WAKES, STILL_CLOSED))
        if not beat.says or (quiet and len(beat.says) < 2):
            continue
        text = "; ".join(beat.says)
        if told and beat.timer == CHATTERS and told[-1][1].endswith(text):
            continue
        told.append((beat.at_us, text))
    stamps = [show_moment(at) for at, _ in told]
    size = max((len(stamp) for stamp in stamps), default=0)
    lines = []
    for stamp, (_, text) in zip(stamps, told, strict=True):
        first, *rest = wrap(text, width - size - 6) or [""]
        lines.append(f"  {stamp:>{size}}  {first}")
        lines += [" " * (size + 6) + more for more in rest]
    return lines


def _holding(findings: Iterable[Finding]) -> list[str]:
    holding = [finding for finding in findings if finding.verdict is Verdict.HOLDS]
    if not holding:
        return []
    lines = ["", "Holds"]
    groups: dict[tuple[str, str], list[Finding]] = {}
    for finding in holding:
        groups.setdefault((finding.hazard, finding.all_held), []).append(finding)
    for (hazard, all_held), group in groups.items():
        lines += _wrap(f"{hazard}: {'; '.join(finding.subject for finding in group)}", "  ")
        lines += _wrap(all_held if len(group) > 1 else group[0].sentence, "    ")
    lines += ["", *_wrap(HOLDS_MEANS, "  ")]
    return lines


HOLDS_MEANS = (
    "Holds means: of the device as the spec describes it, with the presses and disturbances it states, every order and"
    " every timing was covered. It says nothing of what the spec leaves out, nor of the hardware."
)


def _field(name: str, text: str) -> list[str]:
    if not text:
        return []
    first, *rest = wrap(text, WIDTH - 2 - _LABEL) or [""]
    return [f"  {name:<{_LABEL}}{first}", *(" " * (2 + _LABEL) + line for line in rest)]


def _items(texts: Iterable[str]) -> list[str]:
    return [line for text in texts for line in wrap(text, WIDTH, initial_indent="  - ", subsequent_indent="    ")]


def _wrap(text: str, indent: str) -> list[str]:
    return wrap(text, WIDTH, initial_indent=indent, subsequent_indent=indent)
