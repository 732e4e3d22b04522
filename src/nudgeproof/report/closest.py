"""Closest calls as text: for each source what it would take, what is stated, and the spare; the smallest spare first.

Times are rounded to three figures, or as many more as tell them from what is stated, and never so that there seems to be
more spare than there is.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction

from nudgeproof.report.width import wrap
from nudgeproof.units import FOREVER, round_us, show_us
from nudgeproof.verdict import ClosestCall

_MEANS = (
    "What it would take if this one bound were worse than stated and all else as stated. There it happens, and a"
    " microsecond nearer to what is stated it can't: both were computed."
)
_NOTHING = "Nothing that holds is about knocks, squeezes or a cell that loses contact for a limited time."
_WIDEST_LABEL = 30


def show_closest(calls: Sequence[ClosestCall], width: int) -> list[str]:
    """The whole section, a table for each source."""
    lines = ["", "Closest calls", *_wrap(_MEANS if calls else _NOTHING, "  ", width)]
    for source in dict.fromkeys(call.source for call in calls):
        mine = [call for call in calls if call.source == source]
        lines += ["", *_table(source, [call for call in mine if call.is_exact and call.spare_us is not None], width)]
        lines += _list("no limit needed", [call for call in mine if call.needs_no_limit], mine, _side, width)
        lines += _list("not found out", [call for call in mine if not call.is_exact], mine, _known, width)
    return lines


def _table(source: str, calls: Sequence[ClosestCall], width: int) -> list[str]:
    if not calls:
        return _wrap(source, "  ", width)
    groups: dict[tuple[str, str, str, str], list[ClosestCall]] = {}
    for call in sorted(calls, key=_margin):
        groups.setdefault((call.key, _takes(call), show_us(call.stated_us), _spare(call)), []).append(call)
    rows = [("", "it would take", "you state", "spare"), *groups]
    label = min(max(len(source), *(len(row[0]) + 2 for row in rows)), _WIDEST_LABEL)
    takes, stated = (max(len(row[i]) for row in rows) for i in (1, 2))

    def line(name: str, indent: str, row: tuple[str, str, str, str]) -> list[str]:
        told = f"{row[1]:<{takes}}  {row[2]:<{stated}}  {row[3]}"
        if len(indent) + len(name) > label + 2:
            return [*_wrap(name, indent, width), " " * (label + 4) + told]
        return [f"{indent + name:<{label + 2}}  {told}"]

    lines = line(source, "  ", rows[0])
    for row, group in groups.items():
        lines += [*line(row[0], "    ", row), *_wrap(", ".join(_name(call) for call in group), "      ", width)]
    return lines


def _list(
    title: str,
    calls: Sequence[ClosestCall],
    all_of_source: Sequence[ClosestCall],
    words: Callable[[ClosestCall], str],
    width: int,
) -> list[str]:
    """Bounds without a place in the table, each with what it is about unless that is everything."""
    groups: dict[str, list[ClosestCall]] = {}
    for call in calls:
        groups.setdefault(words(call), []).append(call)
    told = []
    for text, group in groups.items():
        same = [call for call in all_of_source if (call.key, call.longest) == (group[0].key, group[0].longest)]
        about = "" if len(group) == len(same) else f" ({', '.join(_name(call) for call in group)})"
        told.append(text + about)
    return _wrap(f"{title}: {'; '.join(told)}", "    ", width, "      ") if told else []


def _margin(call: ClosestCall) -> Fraction | float:
    """The spare as a share of what is stated."""
    assert call.spare_us is not None
    return Fraction(call.spare_us, call.stated_us) if call.stated_us else FOREVER


def _takes(call: ClosestCall) -> str:
    assert call.breaks_at_us is not None
    shown = _show_beside(call.breaks_at_us, not call.longest, call.stated_us)
    return f"{shown} or {'more' if call.longest else 'less'}"


def _spare(call: ClosestCall) -> str:
    assert call.spare_us is not None
    share = f" ({100 * call.spare_us // call.stated_us} %)" if call.stated_us else ""
    return show_us(round_us(call.spare_us, up=False)) + share


def _show_beside(us: int, up: bool, stated_us: int) -> str:
    """Rounded to three figures, or as many more as it needs not to reach or pass what is stated."""
    figures = 3
    while (rounded := round_us(us, up, figures)) != us and (rounded - stated_us) * (us - stated_us) <= 0:
        figures += 1
    return show_us(rounded)


def _side(call: ClosestCall) -> str:
    return f"{call.key}, however {'long' if call.longest else 'short'}"


def _known(call: ClosestCall) -> str:
    """What is known of a bound that wasn't found out to the end."""
    told = f"{call.key}, {'longer' if call.longest else 'shorter'}"
    more, less = ("more", "less") if call.longest else ("less", "more")
    known = []
    if call.holds_to_us != call.stated_us:
        known.append(f"holds at {_show_beside(int(call.holds_to_us), not call.longest, call.stated_us)} or {less}")
    if call.breaks_at_us is not None:
        known.append(f"happens at {show_us(round_us(call.breaks_at_us, up=call.longest))} or {more}")
    return ", ".join((told, *known))


def _name(call: ClosestCall) -> str:
    return call.hazard if call.subject == call.source else f"{call.hazard}: {call.subject}"


def _wrap(text: str, indent: str, width: int, rest: str | None = None) -> list[str]:
    return wrap(
        text, width, initial_indent=indent, subsequent_indent=indent if rest is None else rest, break_on_hyphens=False
    )
