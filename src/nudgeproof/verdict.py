"""Verdicts and findings: what was computed, and never more than that."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

from nudgeproof.diagnostics import Place
from nudgeproof.engines.story import Story
from nudgeproof.questions.ask import NotAsked
from nudgeproof.spec.types import Accepted
from nudgeproof.units import Span


class Verdict(IntEnum):
    """Worst first. A verdict is never stronger than what was computed."""

    BROKEN = 0
    """Evidence: a replayed story, or a proof that something wanted can't happen."""
    UNDECIDED = 1
    """The effort ran out, or time can stop in the model: neither yes nor no."""
    VACUOUS = 2
    """No failure, but what the question is about never came up, so the answer means nothing."""
    HOLDS = 3
    """Every timing was covered, in the stated environment, and the question did come up on a replayed run."""

    @property
    def word(self) -> str:
        """As printed."""
        return "never came up" if self is Verdict.VACUOUS else self.name.lower()


@dataclass(frozen=True, slots=True)
class Scene:
    """What is the case after one beat of a story, in the device's own names.

    `values`: (variable, value). `closed`, `pressed`: buttons whose contact is closed, that the firmware takes as pressed.
    `cell`, `power`: whether the cell has contact and the device has power; None where the supply is steady throughout.
    """

    state: str
    values: tuple[tuple[str, str], ...]
    closed: tuple[str, ...]
    pressed: tuple[str, ...]
    runs: bool
    cell: bool | None
    power: bool | None


@dataclass(frozen=True, slots=True)
class Finding:
    """One question's answer.

    `evidence`: `story`, `proof` or "". `surroundings`: who acted, in words. `where`: on which specimens the story happens,
    `bench`: how to try it by hand, "" if not known. `shortest`: no story has fewer actions. `exact`: nothing was
    over-approximated. `harm`: what the spec says of the harm that the story ends in. `reason`: why it is undecided or
    never came up. `scenes`: the one before the story, then one after
    each of its beats.
    """

    hazard: str
    subject: str
    verdict: Verdict
    evidence: str
    surroundings: str
    place: Place
    sentence: str
    where: str
    bench: str
    all_held: str
    cure: str
    reason: str
    story: Story | None
    scenes: tuple[Scene, ...]
    classes: int
    exact: bool = True
    shortest: bool = True
    harm: str = ""


@dataclass(frozen=True, slots=True)
class AcceptedCase:
    """An entry of `accepts`; `needed`: the step it accepts can happen (None: that was not decided).

    `harm`: what can come of it, and what else prevents that; "" where the spec says of no harm.
    """

    entry: Accepted
    needed: bool | None
    harm: str = ""


@dataclass(frozen=True, slots=True)
class Needed:
    """What a hazard would take from rest in `state` (`asleep`: the processor sleeps), whoever presses `button`.

    `spans`: length of press 1, pause, length of press 2, ...; each bound is necessary. None: it wasn't found out; empty: no
    pressing at all can do it. `stated`: what the spec says of those that press this button without meaning it.
    """

    hazard: str
    button: str
    state: str
    asleep: bool
    spans: tuple[Span, ...] | None
    stated: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Report:
    """All findings of one spec, in the order of the hazards, what was accepted, and what was not asked and why."""

    file: str
    device: str
    buttons: tuple[str, ...]
    findings: tuple[Finding, ...]
    not_asked: tuple[NotAsked, ...]
    accepted: tuple[AcceptedCase, ...]
    takes: tuple[Needed, ...]
    assumptions: tuple[str, ...]
    lines: tuple[str, ...]

    @property
    def verdict(self) -> Verdict:
        """The worst of all; a spec of which nothing was asked counts as never having come up."""
        return min((finding.verdict for finding in self.findings), default=Verdict.VACUOUS)


EXIT_OK, EXIT_BROKEN, EXIT_BAD_INPUT, EXIT_UNDECIDED = 0, 1, 2, 3
EXIT_TOOL_FAULT, EXIT_INTERRUPTED = 70, 130


def exit_code(verdict: Verdict) -> int:
    """What a gate should see: anything but `holds` fails."""
    return {Verdict.BROKEN: EXIT_BROKEN, Verdict.HOLDS: EXIT_OK}.get(verdict, EXIT_UNDECIDED)
