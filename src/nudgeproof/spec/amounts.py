"""Electrical quantities and shares as values of keys: read at their place, with what is wrong with them."""

from __future__ import annotations

import re
from decimal import Decimal
from fractions import Fraction
from typing import Final

from nudgeproof.diagnostics import Place
from nudgeproof.quantities import Amount, Band, Kind, read_band
from nudgeproof.spec.fields import Found, describe, place_value
from nudgeproof.spec.nodes import Words
from nudgeproof.spec.notes import Notes, show
from nudgeproof.units import NotAQuantity, read_share

_EXAMPLES: Final = {
    "hysteresis": "50 mV", "drops": "150 mV", "takes": "2 uA", "leaks": "1 uA", "at most": "20 mA", "loses a year": "3 %",
    "share": "25 %",
}  # fmt: skip
"""What is usual for a key, where it isn't what is usual for its kind of quantity."""
_A_SHARE: Final = "80 %"
_FRACTION: Final = re.compile(r"0?\.[0-9]{1,12}")
"""A share that isn't written in percent."""


def read_band_key(found: Found | None, owner: str, kind: Kind, why: str, notes: Notes) -> Band | None:
    """An electrical quantity with or without a tolerance; None without a problem when there is no such key."""
    if found is None:
        return None
    subject, value = _subject(found, owner), found.value
    if not isinstance(value, Words) or not value.text.strip() or value.block:
        cure = f"write `{show(found.key.text)}: {_example(found, kind)}`"
        notes.complain(place_value(found), f"{subject} is {describe(value)}", why, cure)
        return None
    try:
        return read_band(value.text, kind)
    except NotAQuantity as error:
        cure = error.cure.replace(f"`{kind.example}`", f"`{_example(found, kind)}`")
        notes.complain(value.place, f"{subject}: {show(str(error), 120)}", why, show(cure, 120))
        return None


def read_positive_key(found: Found | None, owner: str, kind: Kind, why: str, notes: Notes) -> Band | None:
    """The same, of which no value may be nought."""
    band = read_band_key(found, owner, kind, why, notes)
    if band is not None and found is not None and band.lo.magnitude <= 0:
        word = "is" if band.is_one else "may be"
        cure = f"write more than nought, such as `{_example(found, kind)}`"
        notes.complain(place_value(found), f"{_subject(found, owner)} {word} nought", why, cure)
        return None
    return band


def read_quantity_key(found: Found | None, owner: str, kind: Kind, why: str, notes: Notes) -> Amount | None:
    """An electrical quantity without a tolerance, more than nought."""
    band = read_band_key(found, owner, kind, why, notes)
    if band is None or found is None:
        return None
    if not band.is_one:
        what = f"{_subject(found, owner)} isn't one value"
        notes.complain(place_value(found), what, why, f"write one, such as `{_example(found, kind)}`")
        return None
    return None if read_positive_key(found, owner, kind, why, notes) is None else band.hi


def read_share_key(found: Found | None, owner: str, why: str, notes: Notes) -> Fraction | None:
    """A share such as `80 %`; None without a problem when there is no such key."""
    if found is None:
        return None
    text = found.value.text if isinstance(found.value, Words) and not found.value.block else ""
    if not text.strip():
        cure = f"write `{show(found.key.text)}: {_EXAMPLES.get(found.key.text, _A_SHARE)}`"
        notes.complain(place_value(found), f"{_subject(found, owner)} is {describe(found.value)}", why, cure)
        return None
    return read_share_text(text, _subject(found, owner), place_value(found), notes)


def read_share_text(text: str, subject: str, at: Place, notes: Notes) -> Fraction | None:
    """A share, from its words alone."""
    why, text = "a share is written in percent", text.strip()
    try:
        share = read_share(text)
    except NotAQuantity as error:
        cure = f"write `{_percent(text)} %`" if _FRACTION.fullmatch(text) else show(error.cure, 120)
        notes.complain(at, f"{subject}: {show(str(error), 120)}", why, cure)
        return None
    if share > 1:
        notes.complain(at, f"{subject}: `{show(text)}` is more than the whole", why, "write at most `100 %`")
        return None
    return share


def _percent(text: str) -> str:
    """A fraction such as `0.85` in percent."""
    return f"{Decimal(text) * 100:f}".rstrip("0").rstrip(".")


def _subject(found: Found, owner: str) -> str:
    return f"`{show(found.key.text)}` of {owner}"


def _example(found: Found, kind: Kind) -> str:
    return _EXAMPLES.get(found.key.text, kind.example)
