"""The engine under another name, with one line of its source changed; nothing is written to disk."""

from __future__ import annotations

import sys
from dataclasses import dataclass
from functools import cache
from importlib.util import find_spec
from pathlib import Path
from types import CodeType, ModuleType

ORDER = (
    "nudgeproof.model.tables",
    "nudgeproof.model.step",
    "nudgeproof.engines.matrix",
    "nudgeproof.engines.space",
    "nudgeproof.engines.passes",
    "nudgeproof.engines.explore",
)
"""The modules of the engine, each after those it imports."""


@dataclass(frozen=True, slots=True)
class Engine:
    """A copy of these modules, importing each other and nothing else of the engine."""

    tables: ModuleType
    step: ModuleType
    matrix: ModuleType
    space: ModuleType
    passes: ModuleType
    explore: ModuleType


def source_of(module: str) -> str:
    """The source text of a module of the engine."""
    spec = find_spec(module)
    assert spec is not None
    assert spec.origin is not None
    return Path(spec.origin).read_text(encoding="utf-8")


def build(changed: str = "", old: str = "", new: str = "", within: str = "") -> Engine:
    """A fresh copy of the engine in which `old`, found once in the module named `changed`, reads `new`.

    It is looked for behind the first `within`, up to the next function.
    """
    made: dict[str, ModuleType] = {}
    try:
        for name in ORDER:
            text = source_of(name)
            if name.endswith(f".{changed}"):
                begin = text.index(within)
                end = text.find("\ndef ", begin) if within else len(text)
                before, here, after = text[:begin], text[begin:end], text[end:]
                assert here.count(old) == 1, f"`{old}` is in {name} {here.count(old)} times; mend the list of mutants"
                text = before + here.replace(old, new) + after
            for other in ORDER:
                text = text.replace(f"from {other} import", f"from {_alias(other)} import")
            module = ModuleType(_alias(name))
            sys.modules[_alias(name)] = made[name] = module  # the imports and dataclasses of the copy look there
            exec(_compile(text, f"<copy of {name}>"), module.__dict__)
    finally:
        for name in made:
            del sys.modules[_alias(name)]
    return Engine(*(made[name] for name in ORDER))


@cache
def _compile(text: str, name: str) -> CodeType:
    return compile(text, name, "exec")


def _alias(name: str) -> str:
    return name.replace("nudgeproof.", "copy_of_").replace(".", "_")
