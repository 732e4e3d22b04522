"""Writes the expected message beside each spec of the corpus `bad`; read the difference before keeping it.

Run from anywhere: `python tests/spec/regenerate.py`.
"""

from __future__ import annotations

from pathlib import Path

from nudgeproof.diagnostics import SpecErrors
from nudgeproof.questions.grammar import read_promises
from nudgeproof.spec.read import decode, read_device

BAD = Path(__file__).parent / "bad"


def read(spec: Path) -> None:
    """Read a spec with its promises; raises `SpecErrors`."""
    read_promises(read_device(decode(spec.read_bytes(), spec.name), spec.name))


def write(errors: SpecErrors) -> str:
    """All problems of a bad spec, one after the other."""
    return "\n".join(str(problem) for problem in errors.problems) + "\n"


def explain(spec: Path) -> str:
    """The problems of a spec, or a line saying that there is none."""
    try:
        read(spec)
    except SpecErrors as errors:
        return write(errors)
    return "nothing is wrong\n"


if __name__ == "__main__":
    for path in sorted(BAD.glob("*.yaml")):
        path.with_suffix(".txt").write_text(explain(path), encoding="utf-8", newline="\n")
