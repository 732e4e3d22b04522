"""Wide characters and marks take the columns that a terminal gives them."""

from __future__ import annotations

import textwrap

from hypothesis import given, settings
from hypothesis import strategies as st

from nudgeproof.check import check
from nudgeproof.report.card import make_card, to_text
from nudgeproof.report.dot_text import columns
from nudgeproof.report.screen import show
from nudgeproof.report.width import cut, pad, wrap
from nudgeproof.spec.read import read_device
from tests.snapshots.screens import ROOT

SPEC = (ROOT / "specs/failures/accidental-wake/broken.yaml").read_text(encoding="utf-8")
LETTERS = st.text("ab光し\u0301 -ש", max_size=60)


@settings(derandomize=True, database=None, deadline=None, max_examples=150)
@given(LETTERS, st.integers(6, 30))
def test_lines_fit_and_nothing_is_lost(text: str, width: int) -> None:
    lines = wrap(text, width, "> ", "  ")
    assert all(columns(line) <= width for line in lines)
    assert "".join("".join(lines).split()).removeprefix(">") == "".join(text.split())
    assert columns(cut(text, width)) <= width
    assert columns(pad(cut(text, width), width)) == width


def test_narrow_text_is_wrapped_as_ever() -> None:
    text = "a light ± 5 ms -> lit, and a well-known word " * 3
    assert wrap(text, 30, "  ", " ") == textwrap.wrap(text, 30, initial_indent="  ", subsequent_indent=" ")


def test_screens_of_wide_names_stay_within_eighty_columns() -> None:
    wide = (
        SPEC.replace("pad", "押" * 12)
        .replace("lit", "光" * 20)
        .replace("hold", "長" * 15)
        .replace("squeeze", "圧" * 20)
    )
    device = read_device(wide, "x.yaml")
    for text in (show(check(device, "quick")), to_text(make_card(device))):
        assert max(columns(line) for line in text.splitlines()) <= 80
    rows = [
        line for line in show(check(device, "quick", ["accidental-wake"])).splitlines() if "█" in line or "|" in line
    ]
    begins = {columns(row[: min(row.find(c) for c in "▁█|" if c in row)]) for row in rows}
    assert len(begins) == 1
