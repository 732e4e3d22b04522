"""Quantities as datasheets write them, kept exactly.

Time inside nudgeproof is a whole number of microseconds. Text becomes a number here, at the edge, and nowhere else;
what is finer than a microsecond is rounded *outward* (a span never shrinks), so a verdict over the rounded span covers
the one that was written.

Forms: `20 ms`, `60 to 350 ms`, `60 ms to 2 s`, `up to 300 ms` (also `max`, `maximum`, `at most`, `<=`), `at least 600 ms`
(also `min`, `minimum`, `>=`), `20 ms ± 5 ms` (also `+/-`), `1.5 s ± 5 %`. Shares: `2.5 %`, `20 ppm`.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from enum import Enum
from fractions import Fraction
from typing import Final

FOREVER: Final = math.inf
"""An upper bound that is no bound. A value of its own: no finite number, however large, equals it."""

Bound = int | float
"""A whole number of microseconds, or `FOREVER` (the only float that is ever stored)."""

MICROSECONDS: Final = {
    "us": 1,
    "µs": 1,
    "μs": 1,
    "ms": 1_000,
    "s": 1_000_000,
    "min": 60_000_000,
    "h": 3_600_000_000,
    "d": 86_400_000_000,
}
"""Time units by symbol (ISO 80000-3 symbols; both code points of the micro sign are taken)."""

LONGEST_US: Final = 366 * MICROSECONDS["d"]
"""Longest time a spec may state, a leap year; more is taken for a slip of the pen."""


class Form(Enum):
    """How a quantity was written, since `up to 300 ms` and `0 to 300 ms` may mean different things to a key."""

    EXACT = "exact"
    RANGE = "range"
    UP_TO = "up to"
    AT_LEAST = "at least"
    PLUS_MINUS = "plus-minus"


@dataclass(frozen=True, slots=True)
class Fixed:
    """A time of which each specimen has one value for a whole story, somewhere from `lo` to `hi` microseconds as written.

    `key`: its key in the spec; times that have the same key and the same ends are one. `counted`: the firmware counts it, by
    a clock that is off by a share of the specimen's own; `lo` and `hi` are what it counts, and `key` is "".
    """

    key: str
    lo: int
    hi: int
    counted: bool = False

    def __str__(self) -> str:
        """What tells it from all others of a device."""
        return (
            f"{Span(self.lo, self.hi)} by the clock"
            if self.counted
            else f"{self.key} {Span(self.lo, self.hi)} per unit"
        )


@dataclass(frozen=True, slots=True)
class Span:
    """A closed interval of time, `lo` to `hi` in microseconds; `hi` may be `FOREVER`.

    `of`: the time of which a specimen has one value in it; None if it is drawn anew each time.
    """

    lo: int
    hi: Bound
    of: Fixed | None = None

    @property
    def width_us(self) -> int:
        """From end to end; the span must have an end."""
        return int(self.hi) - self.lo

    def __str__(self) -> str:
        if self.lo == self.hi:
            return show_us(self.lo)
        if self.hi == FOREVER:
            return f"at least {show_us(self.lo)}"
        if self.lo == 0:
            return f"up to {show_us(int(self.hi))}"
        return f"{show_us(self.lo)} to {show_us(int(self.hi))}"


@dataclass(frozen=True, slots=True)
class Quantity:
    """A quantity as written: its form and the span it stands for."""

    form: Form
    span: Span


class NotAQuantity(ValueError):
    """The text is no time; the message says what was expected, `cure` what to write."""

    def __init__(self, what: str, cure: str) -> None:
        super().__init__(what)
        self.cure = cure


_NUMBER = r"(?P<{0}>[0-9]+(?:\.[0-9]+)?|\.[0-9]+)"
_UNIT = r"(?P<{0}>us|µs|μs|ms|s|min|h|d)"
_ONE = re.compile(rf"{_NUMBER.format('n')}\s*{_UNIT.format('u')}")
_RANGE = re.compile(
    rf"{_NUMBER.format('a')}\s*(?:{_UNIT.format('ua')})?\s*(?:to|\.\.|-|–)\s*{_NUMBER.format('b')}\s*{_UNIT.format('ub')}"
)
_PLUS_MINUS = re.compile(
    rf"{_NUMBER.format('n')}\s*{_UNIT.format('u')}\s*(?:±|\+/-|\+-)\s*{_NUMBER.format('t')}\s*(?P<tu>us|µs|μs|ms|s|min|h|d|%)"
)
_UP_TO = re.compile(r"(?:up to|max(?:imum|\.)?|at most|<=|≤)(?![a-z])\s*(?P<rest>.+)")
_AT_LEAST = re.compile(r"(?:at least|min(?:imum|\.)?|>=|≥)(?![a-z])\s*(?P<rest>[0-9.].*)")
_STRICT = re.compile(r"[<>]\s*[0-9.]")
_SHARE = re.compile(rf"(?:(?:±|\+/-|\+-)\s*)?{_NUMBER.format('n')}\s*(?P<u>%|ppm)")
_VOLTS = re.compile(rf"{_NUMBER.format('n')}\s*(?P<u>mV|V)")
_MOST_MV = 1_000_000
_BARE = re.compile(_NUMBER.format("n"))
_COMMA = re.compile(r"(?<=[0-9]),(?=[0-9])")
_THOUSANDS = re.compile(r"(?<![0-9,])[1-9][0-9]{0,2}(?:,[0-9]{3})+(?![0-9,])")
_LONGEST_TEXT = 80


def read_quantity(text: str) -> Quantity:
    """Parse one quantity of time.

    Raises `NotAQuantity` with a message and a cure when `text` is none, is longer than `LONGEST_US`, or is a range
    whose ends are the wrong way round.
    """
    text = " ".join(text.split())
    if len(text) > _LONGEST_TEXT:
        raise NotAQuantity("a text too long for a time", "write a time such as `20 ms ± 5 ms`")
    if _STRICT.match(text):
        raise NotAQuantity(f"`{text}` is a strict limit", "write `up to` or `at least`: limits here include their end")
    if m := _UP_TO.fullmatch(text):
        return Quantity(Form.UP_TO, Span(0, _read_bound(m["rest"], text, "up to 300 ms").hi))
    if m := _AT_LEAST.fullmatch(text):
        return Quantity(Form.AT_LEAST, Span(_read_bound(m["rest"], text, "at least 600 ms").lo, FOREVER))
    if m := _ONE.fullmatch(text):
        exact = _us(m["n"], m["u"], text)
        return Quantity(Form.EXACT, Span(math.floor(exact), math.ceil(exact)))
    if m := _RANGE.fullmatch(text):
        low, high = _us(m["a"], m["ua"] or m["ub"], text), _us(m["b"], m["ub"], text)
        if low > high:
            raise NotAQuantity(f"the range `{text}` ends before it begins", "write the smaller time first")
        return Quantity(Form.RANGE, Span(math.floor(low), math.ceil(high)))
    if m := _PLUS_MINUS.fullmatch(text):
        middle = _us(m["n"], m["u"], text)
        width = middle * Fraction(m["t"]) / 100 if m["tu"] == "%" else _us(m["t"], m["tu"], text)
        if width > middle:
            raise NotAQuantity(f"`{text}` reaches below zero", "write a tolerance smaller than the value")
        if middle + width > LONGEST_US:
            raise NotAQuantity(f"`{text}` reaches beyond a year", "write a shorter time or a smaller tolerance")
        return Quantity(Form.PLUS_MINUS, Span(math.floor(middle - width), math.ceil(middle + width)))
    raise NotAQuantity(*_complaint(text))


def read_limit(text: str) -> Span:
    """The span in which a limit lies: `up to 400 ms ± 20 ms` and `at least 400 ms ± 20 ms` give 380 to 420 ms.

    A time without `up to` or `at least` is its own span. Raises `NotAQuantity` as `read_quantity` does.
    """
    quantity = read_quantity(text)
    text = " ".join(text.split())
    match = _UP_TO.fullmatch(text) or _AT_LEAST.fullmatch(text)
    return quantity.span if match is None else read_quantity(match["rest"]).span


def read_share(text: str) -> Fraction:
    """Parse a share such as `2.5 %` or `20 ppm`, with or without a `±` before it, exactly.

    Raises `NotAQuantity` with a message and a cure when `text` is none.
    """
    text = " ".join(text.split())
    if len(text) > _LONGEST_TEXT:
        raise NotAQuantity("a text too long for a percentage", "write such as `2.5 %`")
    if m := _SHARE.fullmatch(text):
        return Fraction(m["n"]) / (100 if m["u"] == "%" else 1_000_000)
    if _BARE.fullmatch(text):
        raise NotAQuantity(f"`{text}` has no unit", f"write `{text} %` or `{text} ppm`")
    if (mended := _COMMA.sub(".", text)) != text and _SHARE.fullmatch(mended):
        raise NotAQuantity(f"`{text}` has a decimal comma", f"write `{mended}`")
    raise NotAQuantity(f"`{text}` is no percentage", "write such as `2.5 %` or `20 ppm`")


def find_middle(text: str) -> int | None:
    """The time in words such as `up to 400 ms` or `after 2 s of quiet`, rounded up; of `20 ms ± 5 ms` the first, of a
    range its upper end. None if they hold none."""
    found = _search(text)
    if found is None:
        return None
    value, unit = ("b", "ub") if "b" in found.groupdict() else ("n", "u")
    return math.ceil(_us(found[value], found[unit], text))


def find_tolerance(text: str) -> Fraction:
    """The tolerance after a `±`, as a share of the time before it; 0 if there is none."""
    found = _search(text)
    if found is None or "tu" not in found.groupdict():
        return Fraction(0)
    if found["tu"] == "%":
        return Fraction(found["t"]) / 100
    middle = _us(found["n"], found["u"], text)
    return _us(found["t"], found["tu"], text) / middle if middle else Fraction(0)


def move(text: str, middle_us: int) -> str:
    """The same words with another time in them: `middle_us` in place of what `find_middle` gives.

    The tolerance, or the lower end of the range, moves in proportion. Raises ValueError if there is no time, or it is 0.
    """
    found, was = _search(text), find_middle(text)
    if found is None or not was:
        raise ValueError(text)
    groups = found.groupdict()
    if "b" in groups:
        low = math.floor(_us(found["a"], found["ua"] or found["ub"], text) * middle_us / was)
        told = f"{show_us(low)} to {show_us(middle_us)}"
    elif groups.get("tu") == "%":
        told = f"{show_us(middle_us)} ± {found['t']} %"
    elif "tu" in groups:
        told = f"{show_us(middle_us)} ± {show_us(math.ceil(_us(found['t'], found['tu'], text) * middle_us / was))}"
    else:
        told = show_us(middle_us)
    return text[: found.start()] + told + text[found.end() :]


def scale(text: str, low: Fraction, high: Fraction) -> str | None:
    """The same words with the ends of their range times `low` and `high`; of a time that is no range all times `high`.

    None if they hold no time.
    """
    found, middle = _search(text), find_middle(text)
    if found is None or middle is None:
        return None
    if "b" not in found.groupdict():
        return move(text, math.ceil(middle * high)) if middle else None
    ends = (math.floor(_us(found["a"], found["ua"] or found["ub"], text) * low), math.ceil(middle * high))
    return f"{text[: found.start()]}{show_us(ends[0])} to {show_us(ends[1])}{text[found.end() :]}"


def loosen(text: str, percent: int) -> str | None:
    """The same words with twice the tolerance, or one of `percent` where none is written; None if that has no meaning."""
    found = _search(text)
    if found is None or "b" in found.groupdict():
        return None
    share = f"{percent} %"
    if found.groupdict().get("tu") == "%":
        share = f"{_decimal(math.ceil(Fraction(found['t']) * 2_000_000), 1_000_000)} %"
    elif "tu" in found.groupdict():
        share = show_us(math.ceil(_us(found["t"], found["tu"], text) * 2))
    return f"{text[: found.start()]}{found['n']} {found['u']} ± {share}{text[found.end() :]}"


def _search(text: str) -> re.Match[str] | None:
    return next((found for form in (_PLUS_MINUS, _RANGE, _ONE) if (found := form.search(text))), None)


def read_volts(text: str) -> int:
    """Parse a voltage such as `2.2 V` or `900 mV`, in whole millivolts.

    Raises `NotAQuantity` with a message and a cure when `text` is none, or is finer than a millivolt.
    """
    text = " ".join(text.split())
    if len(text) > _LONGEST_TEXT:
        raise NotAQuantity("a text too long for a voltage", "write such as `2.2 V`")
    if m := _VOLTS.fullmatch(text):
        millivolts = Fraction(m["n"]) * (1000 if m["u"] == "V" else 1)
        if millivolts.denominator != 1:
            raise NotAQuantity(f"`{text}` is finer than a millivolt", "leave out the last digits")
        if millivolts > _MOST_MV:
            raise NotAQuantity(f"`{text}` is more than {_MOST_MV // 1000} V", "no such cell is in a small device")
        return int(millivolts)
    if _BARE.fullmatch(text):
        raise NotAQuantity(f"`{text}` has no unit", f"write `{text} V` or `{text} mV`")
    if (mended := _COMMA.sub(".", text)) != text and _VOLTS.fullmatch(mended):
        raise NotAQuantity(f"`{text}` has a decimal comma", f"write `{mended}`")
    raise NotAQuantity(f"`{text}` is no voltage", "write such as `2.2 V`")


def show_mv(millivolts: int) -> str:
    """A voltage in volts, e.g. `2.2 V`."""
    return f"{_decimal(millivolts, 1000)} V"


def _read_bound(rest: str, text: str, example: str) -> Span:
    """The span of the one time that a limit names; `text` is the whole limit."""
    inner = read_quantity(rest)
    if inner.form not in (Form.EXACT, Form.PLUS_MINUS):
        raise NotAQuantity(f"`{text}` limits a range", f"write `{example}` or a range, not both")
    return inner.span


def _complaint(text: str) -> tuple[str, str]:
    """What to say of a text that is no quantity; the commonest slips have words of their own."""
    if _BARE.fullmatch(text):
        return f"`{text}` has no unit", f"write `{text} ms` or `{text} s`"
    if _COMMA.search(text):
        decimal, joined = _COMMA.sub(".", text), _THOUSANDS.sub(lambda m: m[0].replace(",", ""), text)
        meant = [f"`{one}`" for one in (joined, decimal) if not _COMMA.search(one) and _is_quantity(one)]
        if meant:
            what = "a comma in a number" if joined != text else "a decimal comma"
            return f"`{text}` has {what}", f"write {' or '.join(meant)}"
    if re.search(r"[0-9]\s*(?:sec|seconds?|msec|milliseconds?|minutes?|hours?|days?|m)\b", text):
        return f"`{text}` has a unit in words", "use us, ms, s, min, h or d"
    if not text:
        return "no time is given", "write a time such as `20 ms ± 5 ms`"
    return (
        f"`{text}` is not a time",
        "write `20 ms`, `60 to 350 ms`, `up to 300 ms`, `at least 600 ms` or `20 ms ± 5 ms`",
    )


def _is_quantity(text: str) -> bool:
    """Whether a text without commas is a time; used only to tell that its commas were the slip."""
    try:
        read_quantity(text)
    except NotAQuantity:
        return False
    return True


def _us(number: str, unit: str, text: str) -> Fraction:
    value = Fraction(number) * MICROSECONDS[unit]
    if value > LONGEST_US:
        raise NotAQuantity(f"`{text}` is more than a year", "write a shorter time")
    return value


def round_us(us: int, up: bool, figures: int = 3) -> int:
    """A time that isn't negative, rounded up or down to so many figures of its decimal number, for people to read."""
    step: int = 10 ** max(0, len(str(us)) - figures)
    return -(-us // step) * step if up else us // step * step


def widen(span: Span) -> Span:
    """The span with its ends rounded outward to three figures."""
    high = span.hi if span.hi == FOREVER else round_us(int(span.hi), up=True)
    return Span(round_us(span.lo, up=False), high)


def show_us(us: int) -> str:
    """A time in the largest unit that needs at most three decimals, else in s from 10 s on: `1.25 s`, `80 ms`, `10 us`."""
    if us < 0:
        return "-" + show_us(-us)
    if us == 0:
        return "0 ms"
    for unit in ("d", "h", "min", "s", "ms"):
        size = MICROSECONDS[unit]
        if us >= size and us * (1 if unit in ("d", "h", "min") else 1000) % size == 0:
            return f"{_decimal(us, size)} {unit}"
    if us >= 10 * MICROSECONDS["s"]:
        return f"{_decimal(us, MICROSECONDS['s'])} s"
    return f"{us} us" if us < 1000 else f"{_decimal(us, 1000)} ms"


def show_moment(us: int) -> str:
    """A moment of a story, exactly: in ms below 1 s, then in h, min and s: `1.514099 s`, `3 h 58 min 2.5 s`."""
    minutes, rest = divmod(us, MICROSECONDS["min"])
    if not minutes:
        return show_us(us) if us < MICROSECONDS["s"] else f"{_decimal(us, MICROSECONDS['s'])} s"
    hours, minutes = divmod(minutes, 60)
    told = [f"{hours} h"] if hours else []
    told += [f"{minutes} min"] if minutes else []
    told += [f"{_decimal(rest, MICROSECONDS['s'])} s"] if rest else []
    return " ".join(told)


def _decimal(us: int, size: int) -> str:
    whole, rest = divmod(us, size)
    digits = f"{rest * 10**6 // size:06d}".rstrip("0")
    return f"{whole}.{digits}" if digits else str(whole)
