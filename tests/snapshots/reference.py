"""What is made of the table of keys: the page of reference and the schema for editors."""

from __future__ import annotations

from pathlib import Path

from nudgeproof.report.reference import write_reference
from nudgeproof.spec.schema import write_schema

ROOT = Path(__file__).resolve().parents[2]


def wanted() -> dict[Path, str]:
    """Both files as they should be now."""
    return {
        ROOT / "docs" / "spec-reference.md": write_reference(),
        ROOT / "src" / "nudgeproof" / "spec" / "spec.schema.json": write_schema(),
    }


if __name__ == "__main__":
    for path, text in wanted().items():
        path.write_text(text, encoding="utf-8")
