"""Times that alone would have to be others, on the screen of a refused trial."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from nudgeproof.firmware.accepting import Acceptable
from nudgeproof.report.trials import tell_numbers
from nudgeproof.spec.edit import Edit
from nudgeproof.units import Span

EDIT = Edit(4, ("gestures", "hold", "held"), "1 s", "900 ms", 0, 3, "900 ms")
HELD = Acceptable((EDIT,), Span(900_000, 900_000), "1 s", Fraction(1, 10))


def test_a_number_is_to_be_accepted_only_if_both_recordings_conform_with_it() -> None:
    both, one = (
        " ".join(" ".join(tell_numbers(found)).split()) for found in ((HELD,), (replace(HELD, holds_other=False),))
    )
    assert "mend it, or accept the measured value: `hold: {held: 900 ms}`" in both
    assert "both were followed again" in both
    assert "accept" not in one
    assert "hardly the cause: `hold: {held: 900 ms}`" in one
    assert "only one of the two conforms" in one
    assert tell_numbers(()) == []
