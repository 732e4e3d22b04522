"""How much code stands behind an audited absence: the table at the end of `docs/not-covered.md`, counted."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Final

import nudgeproof
from tests.snapshots.screens import ROOT

PAGE: Final = ROOT / "docs" / "not-covered.md"

_SOURCE: Final = Path(nudgeproof.__file__).parents[1]
_ROOTS: Final = (
    "nudgeproof.engines.audit",
    "nudgeproof.spec.read",
    "nudgeproof.hazards",
    "nudgeproof.questions.promises",
)
"""What reads the spec, makes the question and checks the certificate; all that they import is trusted with them."""
_FUNCTION: Final = "check.audit_proof"
_ROW: Final = re.compile(r"^\| (?P<what>.*`.*) \| (?P<lines>[\d,]+) \|$", re.MULTILINE)


def count() -> dict[str, int]:
    """Lines with blank ones and docstrings: of the modules that are needed, by folder or by name; and of the function."""
    counted: dict[str, int] = {}
    for path in _needed():
        if path.name == "__init__.py" and path.parent.name == "nudgeproof":
            continue  # it holds the version, and nothing that a verdict could hang on
        parts = path.relative_to(_SOURCE / "nudgeproof").parts
        name = parts[0] if len(parts) > 1 else path.name
        counted[name] = counted.get(name, 0) + len(path.read_text(encoding="utf-8").splitlines())
    check = ast.parse((_SOURCE / "nudgeproof" / "check.py").read_text(encoding="utf-8"))
    (function,) = (n for n in check.body if isinstance(n, ast.FunctionDef) and n.name == _FUNCTION.split(".")[1])
    assert function.end_lineno is not None
    counted[_FUNCTION] = function.end_lineno - function.lineno + 1
    return counted


def rows(text: str) -> Iterator[tuple[str, int, tuple[str, ...]]]:
    """The rows of the table: as they stand, with their number and the names from `count` that they cover."""
    known = count()
    for row in _ROW.finditer(text):
        names = {name.split("/")[0] for name in re.findall("`([^`]+)`", row["what"])}
        yield row[0], int(row["lines"].replace(",", "")), tuple(sorted(names & known.keys()))


def renew(text: str) -> str:
    """The page with the numbers as they are now, to two digits, so that not each change of a line changes the page."""
    counted = count()
    for row, _, names in rows(text):
        lines = sum(counted[name] for name in names)
        size = 10 ** max(len(str(lines)) - 2, 0)
        text = text.replace(row, f"{row.rpartition(' | ')[0]} | {-(-lines // size) * size:,} |")
    return text


def _needed() -> list[Path]:
    """The modules that are imported, at the top or within a function, from `_ROOTS` on."""
    found: dict[Path, None] = {}
    waiting = [path for name in _ROOTS if (path := _path(name)) is not None]
    while waiting:
        path = waiting.pop()
        if path not in found:
            found[path] = None
            waiting += [inner for name in _imports(path) if (inner := _path(name)) is not None]
    return sorted(found)


def _imports(path: Path) -> Iterator[str]:
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module is not None:
            yield from (node.module, *(f"{node.module}.{alias.name}" for alias in node.names))
        elif isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)


def _path(module: str) -> Path | None:
    """The file of a module of this package, None if it is none."""
    if module.split(".")[0] != "nudgeproof":
        return None
    at = _SOURCE / module.replace(".", "/")
    return next((path for path in (at.with_suffix(".py"), at / "__init__.py") if path.is_file()), None)
