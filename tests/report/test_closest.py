"""The table of closest calls: what stands where, and rounding that never tells of more spare than there is."""

from __future__ import annotations

import re

from hypothesis import given, settings
from hypothesis import strategies as st

from nudgeproof.report.closest import show_closest
from nudgeproof.units import FOREVER, LONGEST_US, Bound, read_quantity
from nudgeproof.verdict import ClosestCall

SETTINGS = settings(derandomize=True, database=None, deadline=None, max_examples=300)
MS = 1_000


def call(
    stated: int,
    holds: Bound,
    breaks: int | None,
    longest: bool = True,
    hazard: str = "accidental-wake",
    key: str = "closes pad",
    subject: str = "knocks",
) -> ClosestCall:
    return ClosestCall(hazard, subject, "knocks", key, longest, stated, holds, breaks)


def test_the_smallest_spare_comes_first_and_equal_rows_are_joined() -> None:
    calls = (
        call(40 * MS, 1_125_856, 1_125_857),
        call(40 * MS, 1_125_856, 1_125_857, hazard="promise", subject="knocks never reach lit"),
        call(300 * MS, 291_686, 291_685, longest=False, key="then open at least"),
        call(2 * MS, 0, None, longest=False),
        call(2 * MS, 0, None, longest=False, hazard="promise", subject="knocks never reach lit"),
        call(300 * MS, 0, None, longest=False, key="then open at least", hazard="promise"),
    )
    assert (
        "\n".join(show_closest(calls, 80)[6:])
        == """\
  knocks                it would take   you state  spare
    then open at least  292 ms or less  300 ms     8.31 ms (2 %)
      accidental-wake
    closes pad          1.12 s or more  40 ms      1.08 s (2714 %)
      accidental-wake, promise: knocks never reach lit
    no limit needed: closes pad, however short; then open at least, however
      short (promise)"""
    )


def test_what_was_not_found_out_is_said_with_what_is_known() -> None:
    calls = (
        call(40 * MS, 40 * MS, None),
        call(40 * MS, 61_999, None, hazard="accidental-off"),
        call(300 * MS, 250_001, 100_009, longest=False, key="then open at least"),
    )
    assert (
        "\n".join(show_closest(calls, 80)[6:])
        == """\
  knocks
    not found out: closes pad, longer (accidental-wake); closes pad, longer,
      holds at 61.9 ms or less (accidental-off); then open at least, shorter,
      holds at 251 ms or more, happens at 100 ms or less"""
    )


def test_no_calls_are_said_to_be_none() -> None:
    assert show_closest((), 80)[2].startswith("  Nothing that holds is about")


def test_long_names_stay_within_the_width() -> None:
    calls = (call(40 * MS, 50_000, 50_001, key="closes a button with quite a long name of its own"),)
    lines = show_closest(calls, 80)
    assert max(map(len, lines)) <= 80
    assert any(line.strip().startswith("50 ms or more") for line in lines)


@SETTINGS
@given(st.integers(1, LONGEST_US), st.integers(1, LONGEST_US), st.booleans())
def test_rounding_never_tells_of_more_spare_than_there_is(stated: int, spare: int, longest: bool) -> None:
    breaks = stated + spare if longest else stated - spare
    if not 0 <= breaks <= LONGEST_US:
        return
    step = -1 if longest else 1
    lines = show_closest((call(stated, breaks + step, breaks, longest),), 80)
    row = next(line for line in lines if " or more" in line or " or less" in line)
    found = re.search(r"pad +(.*?) or (more|less)  +(.*?)  +(.*?) \((\d+) %\)", row)
    assert found is not None
    taken, told, left = (read_quantity(found[i]).span.lo for i in (1, 3, 4))
    assert told == stated
    assert stated < taken <= breaks if longest else breaks <= taken < stated
    assert 0 < left <= spare
    assert 100 * left >= 99 * spare
    assert int(found[5]) * stated <= 100 * spare


@SETTINGS
@given(st.integers(1, LONGEST_US), st.integers(1, LONGEST_US), st.booleans())
def test_what_is_only_partly_known_is_never_said_to_hold_or_happen_where_it_may_not(
    stated: int, reach: int, longest: bool
) -> None:
    holds = stated + reach if longest else stated - reach
    if not 0 < holds <= LONGEST_US:
        return
    text = " ".join(show_closest((call(stated, holds, None, longest),), 200))
    found = re.search(r"holds at (.*?) or (more|less)", text)
    assert found is not None
    told = read_quantity(found[1]).span.lo
    assert stated < told <= holds if longest else holds <= told < stated


def test_forever_needs_no_limit() -> None:
    assert call(40 * MS, FOREVER, None).needs_no_limit
    assert call(40 * MS, FOREVER, None).is_exact
    assert not call(40 * MS, 0, None).needs_no_limit
    assert call(40 * MS, 99, 100).spare_us == 40 * MS - 100
