"""The engine under another name, with one line of its source changed; nothing is written to disk."""

from __future__ import annotations

import sys
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path
from types import ModuleType

ORDER = ("nudgeproof.model.tables", "nudgeproof.model.step", "nudgeproof.engines.matrix", "nudgeproof.engines.explore")
"""The modules of the engine, each after those it imports."""


@dataclass(frozen=True, slots=True)
class Engine:
    """A copy of the four modules, importing each other and nothing else of the engine."""

    tables: ModuleType
    step: ModuleType
    matrix: ModuleType
    explore: ModuleType


def source_of(module: str) -> str:
    """The source text of a module of the engine."""
    spec = find_spec(module)
    assert spec is not None
    assert spec.origin is not None
    return Path(spec.origin).read_text(encoding="utf-8")


def build(changed: str = "", old: str = "", new: str = "") -> Engine:
    """A fresh copy of the engine in which `old`, found once in the module named `changed`, reads `new`."""
    made: dict[str, ModuleType] = {}
    try:
        for name in ORDER:
            text = source_of(name)
            if name.endswith(f".{changed}"):
                assert text.count(old) == 1, f"`{old}` is in {name} {text.count(old)} times; mend the list of mutants"
                text = text.replace(old, new)
            for other in ORDER:
                text = text.replace(f"from {other} import", f"from {_alias(other)} import")
            module = ModuleType(_alias(name))
            sys.modules[_alias(name)] = made[name] = module  # the imports and dataclasses of the copy look there
            exec(compile(text, f"<copy of {name}>", "exec"), module.__dict__)
    finally:
        for name in made:
            del sys.modules[_alias(name)]
    return Engine(*(made[name] for name in ORDER))


def _alias(name: str) -> str:
    return name.replace("nudgeproof.", "copy_of_").replace(".", "_")
