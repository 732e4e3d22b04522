"""Verdicts and findings: what was computed, and never more than that."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

from nudgeproof.diagnostics import Place
from nudgeproof.engines.story import Story
from nudgeproof.questions.ask import NotAsked
from nudgeproof.spec.edit import Edit
from nudgeproof.spec.types import Accepted
from nudgeproof.units import FOREVER, Bound, Span


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
class Cure:
    """Changes of the spec that were tried: the failure is gone, and all that held still holds.

    `questions`: how many were asked of the changed spec.
    """

    edits: tuple[Edit, ...]
    questions: int


@dataclass(frozen=True, slots=True)
class WrongCure:
    """Changes that look like a cure and are none; `why`: what happens then, as a sentence."""

    edits: tuple[Edit, ...]
    why: str


@dataclass(frozen=True, slots=True)
class Cures:
    """What came of looking for cures of one failure.

    `found`: at most two, the smallest change first. `tried`: how many changes were tried, `undecided`: for how many of them
    the effort ran out; `untried`: how many were left when it was used up.
    """

    found: tuple[Cure, ...]
    wrong: WrongCure | None
    tried: int
    undecided: int
    untried: int


@dataclass(frozen=True, slots=True)
class Finding:
    """One question's answer.

    `evidence`: `story`, `proof`, `reckoned` (from the spec's figures alone) or "". `surroundings`: who acted, in words.
    `where`: on which specimens the story happens,
    `bench`: how to try it by hand, "" if not known. `shortest`: no story has fewer actions. `exact`: nothing was
    over-approximated. `harm`: what the spec says of the harm that the story ends in. `reason`: why it is undecided or
    never came up. `scenes`: the one before the story, then one after each of its beats. `cures`: None if none were
    looked for.
    over-approximated. `reason`: why it is undecided or never came up. `scenes`: the one before the story, then one after
    each of its beats. `cures`: None if none were looked for. `specimen`: the one that it is about, in words, where the
    device has times of which each has one value; else "".
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
    cures: Cures | None = None
    harm: str = ""
    specimen: str = ""


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
class ClosestCall:
    """How far one bound of a source is from a failure, all else as stated, of a question that holds.

    `key`: the bound's name in the spec; `longest`: it bounds from above, else from below. `holds_to_us`: with the bound
    there every timing was covered and it still holds; `FOREVER`, or 0 for one from below, if no limit is needed.
    `breaks_at_us`: with the bound there a story was replayed; None if no limit is needed or none was found. Known to the
    microsecond if the two are one apart.
    """

    hazard: str
    subject: str
    source: str
    key: str
    longest: bool
    stated_us: int
    holds_to_us: Bound
    breaks_at_us: int | None

    @property
    def needs_no_limit(self) -> bool:
        """Whether it holds whatever this bound is."""
        return self.holds_to_us == (FOREVER if self.longest else 0)

    @property
    def is_exact(self) -> bool:
        """Whether it was found out to the microsecond."""
        if self.breaks_at_us is None:
            return self.needs_no_limit
        return abs(self.breaks_at_us - self.holds_to_us) == 1

    @property
    def spare_us(self) -> int | None:
        """From what is stated to where it breaks; None if that isn't known, or if it never does."""
        return None if self.breaks_at_us is None else abs(self.breaks_at_us - self.stated_us)


@dataclass(frozen=True, slots=True)
class Turned:
    """A question that is answered otherwise once a guess is; `sentence`: the answer then."""

    hazard: str
    subject: str
    was: Verdict
    now: Verdict
    sentence: str


@dataclass(frozen=True, slots=True)
class Varied:
    """A guess with another value, `words`. `known` False: for some question the effort ran out."""

    words: str
    turned: tuple[Turned, ...]
    known: bool


@dataclass(frozen=True, slots=True)
class Guess:
    """Something that nobody may have measured: a default, or what the spec states of parts and people.

    `told`: as one would write it into the spec, `line`: where it stands or would stand. `assumed`: a default.
    """

    told: str
    line: int
    assumed: bool
    varied: tuple[Varied, ...]


@dataclass(frozen=True, slots=True)
class Guesses:
    """All guesses, those first on which most verdicts hang. `untried`: what was assumed and can't be varied, or wasn't for
    the effort."""

    ranked: tuple[Guess, ...]
    untried: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Report:
    """All findings of one spec, in the order of the hazards, what was accepted, and what was not asked and why.

    `closest`: by source and bound in the order of the spec; None if they weren't asked for.
    `guesses`: None if they weren't varied. `missing`: hazards that had to be asked and weren't. `shared`: numbers of lines
    that the states of a group share, each with the group's name. `at_most`: no larger effort could have been made. `supply`:
    what was reckoned of it, in sentences.
    """

    file: str
    device: str
    buttons: tuple[str, ...]
    findings: tuple[Finding, ...]
    not_asked: tuple[NotAsked, ...]
    accepted: tuple[AcceptedCase, ...]
    takes: tuple[Needed, ...]
    assumptions: tuple[str, ...]
    lines: tuple[str, ...]
    closest: tuple[ClosestCall, ...] | None = None
    guesses: Guesses | None = None
    missing: tuple[str, ...] = ()
    shared: tuple[tuple[int, str], ...] = ()
    at_most: bool = False
    supply: tuple[str, ...] = ()

    @property
    def verdict(self) -> Verdict:
        """The worst of all; where nothing was asked, or not all that had to be, that counts as never having come up."""
        worst = min((finding.verdict for finding in self.findings), default=Verdict.VACUOUS)
        return min(worst, Verdict.VACUOUS) if self.missing else worst


EXIT_OK, EXIT_BROKEN, EXIT_BAD_INPUT, EXIT_UNDECIDED = 0, 1, 2, 3
EXIT_TOOL_FAULT, EXIT_INTERRUPTED = 70, 130


def exit_code(verdict: Verdict) -> int:
    """What a gate should see: anything but `holds` fails."""
    return {Verdict.BROKEN: EXIT_BROKEN, Verdict.HOLDS: EXIT_OK}.get(verdict, EXIT_UNDECIDED)
