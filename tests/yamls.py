"""YAML read and written by the compiled library where PyYAML has it, ten times as fast; the tool itself never does so.

What the tests build specs from is plain enough for both to agree.
"""

from __future__ import annotations

import yaml

BaseLoader: type = getattr(yaml, "CBaseLoader", yaml.BaseLoader)
SafeLoader: type = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
SafeDumper: type = getattr(yaml, "CSafeDumper", yaml.SafeDumper)


def load(text: str) -> object:
    """The tree of a text, whose scalars stay the words that were written: `on` is no truth value."""
    return yaml.load(text, BaseLoader)


def dump(tree: object) -> str:
    """The text of a tree, with all keys in their order."""
    text: str = yaml.dump(tree, Dumper=SafeDumper, sort_keys=False, allow_unicode=True, width=1000)
    return text
