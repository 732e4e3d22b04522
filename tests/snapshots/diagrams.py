"""The diagrams in `diagrams/`, one for each device in `specs/`, as DOT and SVG."""

from __future__ import annotations

from pathlib import Path

from nudgeproof.report.diagram import render, to_dot
from nudgeproof.spec.read import read_device

ROOT = Path(__file__).resolve().parents[2]


def wanted() -> dict[Path, bytes]:
    """Every file of `diagrams/` as it should be now."""
    files = {}
    for spec in sorted((ROOT / "specs").glob("*.yaml")):
        dot = to_dot(read_device(spec.read_text(encoding="utf-8"), f"specs/{spec.name}"))
        files[ROOT / "diagrams" / f"{spec.stem}.dot"] = dot.encode()
        files[ROOT / "diagrams" / f"{spec.stem}.svg"] = render(dot, "svg")
    return files
