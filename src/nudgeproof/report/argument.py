"""The name of a file as it can be copied into a command line."""

from __future__ import annotations

import shlex

from nudgeproof.diagnostics import printable


def as_argument(file: str) -> str:
    """The name in quotes where a shell needs them; `SPEC` for one that can't be typed.

    A name that begins with `-` would be taken for an option.
    """
    if printable(file) != file:
        return "SPEC"
    return shlex.quote(f"./{file}" if file.startswith("-") else file)
