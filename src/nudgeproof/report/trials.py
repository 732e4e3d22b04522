"""What trials of a firmware came to, as text of 80 columns."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from nudgeproof.diagnostics import printable
from nudgeproof.firmware.accepting import Acceptable
from nudgeproof.firmware.acts import edges_of, tell_acts
from nudgeproof.firmware.mapping import Map
from nudgeproof.firmware.trials import Trial, begun_as
from nudgeproof.report.recorded import Judged, show_recorded
from nudgeproof.report.width import wrap
from nudgeproof.units import show_moment

WIDTH: Final = 80
_LABEL: Final = 11
_MOST_LINES = 12
_MOST_ACCEPTABLE = 3


@dataclass(frozen=True, slots=True)
class Tried:
    """Trials with what they were of. `meanings`: of each way to misbehave. `cant_show`: what no trial of it tells.

    `acceptable`: times of the spec that alone would have to be others.
    """

    trial: Trial
    device: str
    spec: str
    rig: str
    what: Map
    seed: int
    cant_show: tuple[str, ...]
    meanings: Mapping[str, str]
    kept: str = ""
    acceptable: tuple[Acceptable, ...] = ()


def show_trials(tried: Tried, ascii_only: bool = False) -> str:
    """The screen."""
    trial, failed = tried.trial, tried.trial.failed
    lines: list[str] = []
    if failed is not None and failed.outcome is not None:
        name = "the shortened trial below"
        what = begun_as(tried.what, failed.setup)
        judged = Judged(name, tried.device, tried.spec, what, failed.performed.recording, failed.outcome)
        lines += [*show_recorded(judged, ascii_only).splitlines(), ""]
    else:
        lines += [
            f"{tried.device}: {_headline(tried)}",
            f"({printable(tried.rig)},",
            f" by {printable(tried.what.file)})",
            "",
        ]
    if failed is not None:
        lines += _failure(tried)
    stimuli = f"{trial.stimuli} {'stimulus' if trial.stimuli == 1 else 'stimuli'}"
    lines += _field("tried", f"{stimuli} with {trial.edges} edges of contacts, events and the cell, in"
                    f" {show_moment(trial.length_us)} of the device's time, seed {tried.seed}")  # fmt: skip
    lines += _field("of these", f"{trial.conforming} conform, with {trial.turns} changes of what it shows")
    if trial.undecided:
        lines += _field("", f"{trial.undecided} undecided: more explanations were possible than were looked at")
    covered = f"{len(trial.covered)} of the {len(trial.lines)} lines of the chart were taken for sure"
    lines += _field("surely", f"{covered} in what conforms")
    missing = [line for line in trial.lines if line not in trial.taken] if failed is None else []
    for number, line in enumerate(missing[:_MOST_LINES]):
        lines += _field("" if number else "not surely", line)
    if len(missing) > _MOST_LINES:
        lines += _field("", f"and {len(missing) - _MOST_LINES} more")
    if failed is None:
        means = (
            "nothing was shown: too little of what the device does was seen for sure"
            if trial.judged_nothing
            else "whatever was tried, a device of the spec may do what this firmware did; it says nothing of other presses"
            " and other timings"
        )
        lines += _field("means", means)
    lines += ["", "The host can't show"]
    for text in tried.cant_show:
        lines += wrap(text, WIDTH, "  - ", "    ", break_on_hyphens=False)
    return "\n".join(lines) + "\n"


def _headline(tried: Tried) -> str:
    failed = tried.trial.failed
    if failed is not None:
        return f"THE FIRMWARE MISBEHAVES at {show_moment(failed.shrunk.at_us)}: {failed.performed.finding}"
    return "NOTHING COULD BE JUDGED" if tried.trial.judged_nothing else "all trials conform"


def _failure(tried: Tried) -> list[str]:
    failed = tried.trial.failed
    assert failed is not None
    lines: list[str] = []
    finding = failed.performed.finding
    if finding:
        detail = f"; {failed.performed.detail}" if failed.performed.detail else ""
        lines += _field("finding", f"{finding}: {tried.meanings.get(finding, '')}{detail}")
    if failed.setup.memory:
        lines += _field("begin with", f"memory of {failed.setup.memory[:32].hex(' ')}")
    if failed.setup.clock_us >= 0:
        lines += _field("begin with", f"its clock at {failed.setup.clock_us // 1000} ms")
    done = tell_acts(failed.shrunk.acts, failed.shrunk.end_us)
    lines += _field("do this", f"power up, {done}" if done else "power up")
    edges = len(edges_of(failed.shrunk.acts))
    told = f"{edges} {'edge' if edges == 1 else 'edges'}"
    least = "no part of it can be left out" if failed.shrunk.is_least else "shortened as far as was tried"
    lines += _field("that is", f"{told}; {least}")
    lines += _field("found by", failed.kind)
    if tried.kept:
        lines += _field("kept in", tried.kept)
    return [*lines, *tell_numbers(tried.acceptable), ""]


def tell_numbers(acceptable: tuple[Acceptable, ...]) -> list[str]:
    """The times that alone would have to be others. Without both recordings a number is told, but nothing to accept."""
    if not acceptable:
        return []
    both, lines = acceptable[0].holds_other, list[str]()
    for number, one in enumerate(acceptable[:_MOST_ACCEPTABLE]):
        head = "or:" if number else "mend it, or accept the measured value:" if both else "hardly the cause:"
        lines += _field("" if number else "a number", f"{head} {one.words}")
    return lines + _field(
        "",
        "with that alone this recording and what it was shortened from conform: both were followed again. Others may not"
        if both
        else "with that alone only one of the two conforms, this recording or what it was shortened from",
    )


def _field(label: str, text: str) -> list[str]:
    head = f"  {label:<{_LABEL}}"
    return wrap(printable(text), WIDTH, head, " " * len(head), break_on_hyphens=False)
