"""The README and the page about recordings quote files and real output; this puts them there anew.

A line `<!-- output: ARGUMENTS -->` is followed by what `nudgeproof ARGUMENTS` prints, `<!-- file: PATH -->` by a file.
"""

from __future__ import annotations

import re
import shlex

from tests.snapshots.screens import ROOT, run

README = ROOT / "README.md"
SUPPLY = ROOT / "docs" / "supply.md"
RECORDINGS = ROOT / "docs" / "recordings.md"
_QUOTE = re.compile(r"^<!-- (output|file): (.*?) -->\n(?:\n```\w*\n.*?\n```\n)?", re.MULTILINE | re.DOTALL)


def renew(text: str) -> str:
    """A page with every quotation as it should be now."""

    def quote(match: re.Match[str]) -> str:
        kind, what = match[1], match[2]
        quoted = run(*shlex.split(what))[1] if kind == "output" else (ROOT / what).read_text(encoding="utf-8")
        language = "text" if kind == "output" else "yaml"
        return f"<!-- {kind}: {what} -->\n\n```{language}\n{quoted.rstrip()}\n```\n"

    return _QUOTE.sub(quote, text)
