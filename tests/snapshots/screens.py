"""The screens that are pinned: what people read, for the demos and for the pair of each hazard."""

from __future__ import annotations

import contextlib
import io
import os
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

from nudgeproof.cli import main
from nudgeproof.hazards import HAZARDS

ROOT = Path(__file__).resolve().parents[2]
KEPT = Path(__file__).resolve().parent / "kept"


def specs() -> list[str]:
    """The demos and the pair of each hazard, relative to the project's root: the specs whose screens are pinned."""
    pairs = [path for hazard in HAZARDS for path in (ROOT / "specs" / "failures" / hazard.NAME).glob("*.yaml")]
    return sorted(path.relative_to(ROOT).as_posix() for path in [*(ROOT / "specs").glob("*.yaml"), *pairs])


class _Terminal(io.StringIO):
    """A screen that can show every character."""

    encoding = "utf-8"


def run(*arguments: str) -> tuple[int, str, str]:
    """Exit code, output and errors of one command, run in the project's root on a Unicode terminal."""
    out, err = _Terminal(), io.StringIO()
    before = Path.cwd()
    os.chdir(ROOT)
    try:
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            code = main(arguments)
    finally:
        os.chdir(before)
    return code, out.getvalue(), err.getvalue()


def name_of(spec: str, ending: str) -> Path:
    """Where the snapshot of a spec is kept."""
    return KEPT / (spec.removeprefix("specs/").removesuffix(".yaml").replace("/", "-") + ending)


@cache
def both(spec: str) -> tuple[str, str]:
    """The screen of a spec and its findings as JSON, of one and the same check."""
    with TemporaryDirectory() as folder:
        target = Path(folder) / "findings.json"
        screen = run("check", "--ascii", "--json", str(target), spec)[1]
        return screen, target.read_text(encoding="utf-8")


def wanted() -> dict[Path, str]:
    """Every snapshot as it should be now."""
    texts = {}
    for spec in specs():
        texts[name_of(spec, ".txt")], texts[name_of(spec, ".json")] = both(spec)
    return texts
