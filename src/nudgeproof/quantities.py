"""Electrical quantities with their units, exact: voltages, currents, resistances, capacitances, charges, powers.

The arithmetic of units is that of the library pint, over fractions, with no more units than a datasheet of a small device
uses. A value with a tolerance is a `Band` of two quantities. Text becomes a band here, at the edge, and nowhere else.

Forms: `9 mA`, `2.5 to 2.9 V` (also `2.5 - 2.9 V`, `2.5..2.9 V`), `up to 2 uA` (from nought; also `max`, `at most`, `<=`),
`100 uF ± 20 %` (also `+/-`), `2.7 V ± 0.1 V`.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum
from fractions import Fraction
from functools import cache
from typing import TYPE_CHECKING, Any, Final

from nudgeproof.units import NotAQuantity

if TYPE_CHECKING:
    from pint import UnitRegistry

Amount = Any
"""A quantity of pint whose magnitude is a fraction."""

_LONGEST_TEXT: Final = 80
_MOST_DIGITS: Final = 12


class Kind(Enum):
    """What is measured: the unit it is kept in, and the largest value that is taken for no slip of the pen."""

    VOLTAGE = ("V", 60, "2.2 V")
    CURRENT = ("A", 20, "9 mA")
    RESISTANCE = ("ohm", 100_000_000, "47 ohm")
    CAPACITANCE = ("F", 10, "100 uF")
    CHARGE = ("A*h", 100, "220 mAh")
    POWER = ("W", 100, "5 mW")

    @property
    def unit(self) -> str:
        """The unit it is kept in."""
        return self.value[0]

    @property
    def most(self) -> int:
        """The largest value, in that unit."""
        return self.value[1]

    @property
    def example(self) -> str:
        """How it is written."""
        return self.value[2]

    @property
    def article(self) -> str:
        """Its name with an article."""
        return f"a {self.name.lower()}"


_SYMBOLS: Final = {
    Kind.VOLTAGE: {"V": 0, "mV": -3},
    Kind.CURRENT: {"A": 0, "mA": -3, "uA": -6, "nA": -9},
    Kind.RESISTANCE: {"ohm": 0, "mohm": -3, "kohm": 3, "Mohm": 6},
    Kind.CAPACITANCE: {"F": 0, "mF": -3, "uF": -6, "nF": -9, "pF": -12},
    Kind.CHARGE: {"Ah": 0, "mAh": -3, "uAh": -6},
    Kind.POWER: {"W": 0, "mW": -3, "uW": -6},
}
_SAME: Final = str.maketrans({"µ": "u", "μ": "u", "\u03a9": "ohm", "\u2126": "ohm", "−": "-", "–": "-", "‒": "-"})

_NUMBER: Final = r"(?:[0-9]+(?:\.[0-9]+)?|\.[0-9]+)"
_UNIT: Final = r"[A-Za-z]+"
_ONE: Final = re.compile(rf"({_NUMBER})\s*({_UNIT})")
_RANGE: Final = re.compile(rf"({_NUMBER})\s*({_UNIT})?\s*(?:\bto\b|\.\.|-)\s*({_NUMBER})\s*({_UNIT})")
_UP_TO: Final = re.compile(rf"(?:up to|at most|max\.?|maximum|<=)\s*({_NUMBER})\s*({_UNIT})")
_SPREAD: Final = re.compile(rf"({_NUMBER})\s*({_UNIT})\s*(?:±|\+/-)\s*({_NUMBER})\s*({_UNIT}|%)")


@cache
def registry() -> UnitRegistry[Fraction]:
    """The units, defined once, by the first spec that states something electrical.

    They are only those of a small device, since the library's own list takes half a second to read.
    """
    from pint import UnitRegistry

    units: UnitRegistry[Fraction] = UnitRegistry(None, non_int_type=Fraction, cache_folder=None)
    for line in (
        "milli- = 1e-3 = m-",
        "micro- = 1e-6 = u-",
        "nano- = 1e-9 = n-",
        "kilo- = 1e3 = k-",
        "second = [time] = s",
        "hour = 3600 * second = h",
        "day = 24 * hour = d",
        "ampere = [current] = A",
        "volt = [voltage] = V",
        "ohm = volt / ampere",
        "farad = ampere * second / volt = F",
        "watt = volt * ampere = W",
    ):
        units.define(line)
    return units


def amount(number: int | str | Fraction, unit: str) -> Amount:
    """`number` of `unit`, e.g. `amount("2.9", "V")`; a text is taken as its exact decimal value."""
    units = registry()
    return units.Quantity(Fraction(number), unit)


def volts(number: int | str | Fraction) -> Amount:
    """A voltage."""
    return amount(number, "V")


def amperes(number: int | str | Fraction) -> Amount:
    """A current."""
    return amount(number, "A")


def ohms(number: int | str | Fraction) -> Amount:
    """A resistance."""
    return amount(number, "ohm")


def farads(number: int | str | Fraction) -> Amount:
    """A capacitance."""
    return amount(number, "F")


def seconds(number: int | str | Fraction) -> Amount:
    """A time."""
    return amount(number, "s")


def exact(quantity: Amount, unit: str) -> Fraction:
    """The number of a quantity in `unit`; raises pint's `DimensionalityError` if it measures something else."""
    return Fraction(quantity.to(unit).magnitude)


def microseconds(quantity: Amount) -> Fraction:
    """The number of microseconds of a time."""
    return exact(quantity, "s") * 1_000_000


@dataclass(frozen=True)
class Band:
    """All values from `lo` to `hi`, both included: what a tolerance leaves open."""

    lo: Amount
    hi: Amount

    @property
    def is_one(self) -> bool:
        """Whether there is no tolerance."""
        return bool(self.lo == self.hi)

    def map(self, rising: Callable[[Amount], Amount]) -> Band:
        """The band of a function that never falls."""
        return Band(rising(self.lo), rising(self.hi))

    def __add__(self, other: Band) -> Band:
        return Band(self.lo + other.lo, self.hi + other.hi)

    def __str__(self) -> str:
        low, high = show(self.lo), show(self.hi)
        return low if low == high else f"{low} to {high}"


def just(quantity: Amount) -> Band:
    """The band of one value."""
    return Band(quantity, quantity)


def read_band(text: str, kind: Kind) -> Band:
    """Parse one of the forms.

    Raises `NotAQuantity` with a message and a cure when `text` is none, has another unit or no sense.
    """
    text = " ".join(text.translate(_SAME).split())
    if len(text) > _LONGEST_TEXT:
        raise NotAQuantity(f"a text too long for {kind.article}", f"write such as `{kind.example}`")
    if m := _SPREAD.fullmatch(text):
        middle = _number(m[1], m[2], kind, text)
        spread = middle * Fraction(m[3]) / 100 if m[4] == "%" else _number(m[3], m[4], kind, text)
        low, high = middle - spread, middle + spread
        if low < 0:
            raise NotAQuantity(f"`{text}` begins below nought", "write a smaller tolerance")
        _sane(high, kind, text)
    elif m := _RANGE.fullmatch(text):
        low, high = _number(m[1], m[2] or m[4], kind, text), _number(m[3], m[4], kind, text)
        if low > high:
            raise NotAQuantity(f"`{text}` ends before it begins", f"write `{m[3]} {m[4]} to {m[1]} {m[2] or m[4]}`")
    elif m := _UP_TO.fullmatch(text):
        low, high = Fraction(0), _number(m[1], m[2], kind, text)
    elif m := _ONE.fullmatch(text):
        low = high = _number(m[1], m[2], kind, text)
    else:
        raise _complain(text, kind)
    return Band(amount(low, kind.unit), amount(high, kind.unit))


def read_amount(text: str, kind: Kind) -> Amount:
    """Parse a single value; raises `NotAQuantity`, also for one with a tolerance."""
    band = read_band(text, kind)
    if not band.is_one:
        raise NotAQuantity(f"`{text}` has a tolerance", f"write one value, such as `{kind.example}`")
    return band.lo


def _number(number: str, unit: str, kind: Kind, text: str) -> Fraction:
    power = _SYMBOLS[kind].get(unit)
    if power is None:
        other = next((k for k, symbols in _SYMBOLS.items() if unit in symbols), None)
        if other is not None:
            raise NotAQuantity(f"`{text}` is {other.article}, not {kind.article}", f"write such as `{kind.example}`")
        known = ", ".join(_SYMBOLS[kind])
        raise NotAQuantity(f"`{text}`: `{unit}` is no unit of {kind.article}", f"use one of {known}")
    if len(number.replace(".", "")) > _MOST_DIGITS:
        raise NotAQuantity(f"`{text}` has more digits than anything is measured to", "leave out the last ones")
    value = Fraction(number) * Fraction(10) ** power
    _sane(value, kind, text)
    return value


def _sane(value: Fraction, kind: Kind, text: str) -> None:
    if value > kind.most:
        most = f"{kind.most:,} {kind.unit}".replace(",", " ").replace("A*h", "Ah")
        raise NotAQuantity(f"`{text}` is more than {most}", "no small battery device has that; check the unit")


def _complain(text: str, kind: Kind) -> NotAQuantity:
    if text.startswith("-"):
        return NotAQuantity(f"`{text}` is negative", f"write such as `{kind.example}`")
    if re.fullmatch(_NUMBER, text):
        unit = next(iter(_SYMBOLS[kind]))
        return NotAQuantity(f"`{text}` has no unit", f"write such as `{text} {unit}`, whichever unit it is")
    if re.fullmatch(r"[^,]*[0-9],[0-9][^,]*", text):
        return NotAQuantity(f"`{text}` has a decimal comma", f"write `{text.replace(',', '.')}`")
    return NotAQuantity(
        f"`{text}` is not {kind.article}",
        f"write `{kind.example}`, a range or a tolerance, such as `up to ...` or `± 5 %`",
    )


_PREFIXES: Final = ((0, ""), (-3, "m"), (-6, "u"), (-9, "n"), (-12, "p"))


def show(quantity: Amount, figures: int = 3) -> str:
    """A quantity for people, to so many figures, in the unit of its kind: `2.81 V`, `12.5 mA`, `800 nA`."""
    for kind in Kind:
        if quantity.check(kind.unit if kind is not Kind.CHARGE else "A*s"):
            return _show(exact(quantity, kind.unit), {"A*h": "Ah"}.get(kind.unit, kind.unit), figures)
    return _show(exact(quantity, "s"), "s", figures)


def _show(value: Fraction, unit: str, figures: int) -> str:
    if value < 0:
        return "-" + _show(-value, unit, figures)
    if value == 0:
        return f"0 {unit}"
    if unit == "ohm" and value >= 1000:
        power, prefix = (6, "M") if value >= 1_000_000 else (3, "k")
    elif unit == "V" and value >= Fraction(1, 10):
        power, prefix = 0, ""
    else:
        # What rounds up to a thousand is one of the next unit.
        enough = 1 - Fraction(5, 10 ** (figures + 1)) if figures >= 3 else 1
        power, prefix = next(((p, s) for p, s in _PREFIXES if value >= enough * Fraction(10) ** p), _PREFIXES[-1])
    return f"{decimal(value / Fraction(10) ** power, figures)} {prefix}{unit}"


def decimal(value: Fraction, figures: int) -> str:
    """A number that isn't negative, rounded half up to `figures` figures, without nought at its end."""
    if value == 0:
        return "0"
    places = figures - 1
    size = Fraction(1)
    while value >= size * 10:
        size, places = size * 10, places - 1
    while value < size:
        size, places = size / 10, places + 1
    scale = Fraction(10) ** places
    rounded = Fraction(int(value * scale + Fraction(1, 2))) / scale
    if places <= 0:
        return str(int(rounded))
    whole, rest = divmod(int(rounded * 10**places), 10**places)
    digits = f"{rest:0{places}d}".rstrip("0")
    return f"{whole}.{digits}" if digits else str(whole)
