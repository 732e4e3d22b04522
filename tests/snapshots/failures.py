"""The pages about the kinds of failure met in the field: their list, their pairs, and what the tool says of them."""

from __future__ import annotations

import re
from collections.abc import Iterable
from difflib import ndiff
from functools import cache
from pathlib import Path
from typing import Final

import yaml

from tests.snapshots.screens import ROOT, run

PAGES: Final = ROOT / "docs" / "failures"
INDEX: Final = ROOT / "docs" / "failures.md"
LIST: Final = ROOT / "specs" / "failures" / "index.yaml"

GROUPS: Final = {
    "G": ("gestures", "Presses and gestures"),
    "W": ("sleep", "Waking, sleeping, locking"),
    "P": ("power", "Power, reset, memory"),
}
_NEXT: Final = (
    "BROKEN ",
    "NEVER CAME UP ",
    "UNDECIDED ",
    "Accepted",
    "What it would take",
    "How close",
    "Holds",
    "Not asked",
)
_MADE: Final = (
    "Made from `specs/failures/index.yaml`, its pairs of specs and what `nudgeproof check` says of them, by `python -m"
    " tests.snapshots.renew`; don't edit it here."
)


@cache
def rows() -> dict[str, dict[str, str]]:
    """The list of kinds by id; those that have a pair are those with a folder."""
    listed: dict[str, dict[str, str]] = yaml.load(LIST.read_text(encoding="utf-8"), Loader=yaml.BaseLoader)
    return listed


def folder(kind: str) -> Path:
    """Where the pair of a kind is, if it has one."""
    return LIST.parent / "classes" / rows()[kind]["name"]


def shown() -> list[str]:
    """The kinds that have a pair."""
    return [kind for kind in rows() if folder(kind).exists()]


def said_on_top(kind: str, which: str) -> str:
    """The comment at the head of one of the two specs."""
    lines = (folder(kind) / f"{which}.yaml").read_text(encoding="utf-8").splitlines()
    top = [line.removeprefix("#").strip() for line in lines[: next(i for i, x in enumerate(lines) if x[:1] != "#")]]
    return " ".join(top)


def difference(kind: str) -> list[str]:
    """What the mend changes, as lines with `-` and `+`; comments don't count."""
    texts = [(folder(kind) / f"{which}.yaml").read_text(encoding="utf-8") for which in ("broken", "mended")]
    before, after = ([line for line in text.splitlines() if not line.startswith("#")] for text in texts)
    return [line for line in ndiff(before, after) if line[:2] in ("- ", "+ ")]


def screen(kind: str, which: str) -> str:
    """What `nudgeproof check` prints about one of the two specs."""
    return run("check", (folder(kind) / f"{which}.yaml").relative_to(ROOT).as_posix())[1]


def _blocks(text: str) -> dict[str, str]:
    """The parts of a screen by how they begin; of several alike the first."""
    found: dict[str, list[str]] = {}
    here: list[str] = []
    for line in text.splitlines():
        if line.startswith(_NEXT):
            start = next(start for start in _NEXT if line.startswith(start))
            here = []
            found.setdefault(start.strip(), here)
        here.append(line)
    return {start: "\n".join(lines).rstrip() for start, lines in found.items()}


def section(kind: str) -> str:
    """All about one kind, with the checks run."""
    row, broken = rows()[kind], _blocks(screen(kind, "broken"))
    told = broken["BROKEN"]
    takes = broken.get("What it would take", "")
    verdict = screen(kind, "mended").splitlines()[0].partition(": ")[2]
    also = row.get("also")
    lines = [f"## {row['name']}", "", said_on_top(kind, "broken"), "", "```text", told, "```", ""]
    if isinstance(also, dict) and also:
        lines += ["It is told as well:", *(f"- `{hazard}`: {why}" for hazard, why in also.items()), ""]
    if takes:
        lines += ["```text", takes, "```", ""]
    lines += [f"**Mended.** {said_on_top(kind, 'mended')}", "", "```diff", *difference(kind), "```", ""]
    lines += [f"`check` says of the mended one: {verdict}."]
    return "\n".join(lines)


def page(group: str, kinds: Iterable[str]) -> str:
    """The page of one group of kinds."""
    parts = [
        f"# {GROUPS[group][1]}",
        _MADE,
        "[All kinds of failure](../failures.md)",
        *(section(kind) for kind in kinds),
    ]
    return "\n\n".join(parts) + "\n"


def index() -> str:
    """The list of all kinds, those that wait for something too; runs no check."""
    lines = ["# Failures met in the field", "", _MADE, "", *_INTRODUCTION]
    for letter, (file, title) in GROUPS.items():
        lines += ["", f"## {title}", "", "| kind | what happens | told as | actions, at most |", "|---|---|---|---|"]
        waiting = []
        for kind, row in rows().items():
            if not kind.startswith(letter):
                continue
            if folder(kind).exists():
                link = f"[{row['name']}](failures/{file}.md#{row['name']})"
                hazard = "a promise" if row["hazard"] == "promise" else f"`{row['hazard']}`"
                lines.append(f"| {link} | {said_on_top(kind, 'broken')} | {hazard} | {row['actions']} |")
            else:
                why = row.get("why", "the language can't say it yet")
                waiting.append(f"- {row['name']}: {why}")
        if waiting:
            lines += ["", "Not shown yet:", "", *waiting]
    return "\n".join(lines) + "\n"


_INTRODUCTION: Final = (
    "Each of these has been met in devices that worked on the bench. For each there are two small specs in",
    "`specs/failures/classes`: `broken.yaml` fails as described, and `mended.yaml` is the same device with the usual cure.",
    "The page behind the name shows the shortest story of the failure with its waveform, how to try it on a bench, and the",
    "lines that the cure changes. To look at one yourself:",
    "",
    "    nudgeproof check specs/failures/classes/squeezed-on/broken.yaml",
    "",
    "The devices are invented and small. The times in them are plausible, not measured; write your own into a copy.",
    "What counts as an action is a press, a release, a loss or return of power, or an event; the number was written down",
    "before the specs were.",
)


def wanted() -> dict[Path, str]:
    """Every page by its path, with all checks run."""
    kinds = {letter: [kind for kind in shown() if kind.startswith(letter)] for letter in GROUPS}
    return {INDEX: index(), **{PAGES / f"{GROUPS[g][0]}.md": page(g, some) for g, some in kinds.items()}}


def sections_of(text: str) -> dict[str, str]:
    """The sections of a page by name."""
    parts = re.split(r"^## ", text, flags=re.MULTILINE)[1:]
    return {part.partition("\n")[0]: "## " + part.rstrip() for part in parts}
