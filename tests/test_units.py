from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nudgeproof.units import (
    FOREVER,
    LONGEST_US,
    MICROSECONDS,
    Form,
    NotAQuantity,
    Quantity,
    Span,
    find_middle,
    find_tolerance,
    loosen,
    move,
    read_limit,
    read_quantity,
    read_share,
    round_us,
    scale,
    show_moment,
    show_us,
    widen,
)

SETTINGS = settings(derandomize=True, database=None, deadline=None, max_examples=200)


@pytest.mark.parametrize(
    ("text", "form", "lo", "hi"),
    [
        ("20 ms", Form.EXACT, 20_000, 20_000),
        ("20ms", Form.EXACT, 20_000, 20_000),
        ("0 ms", Form.EXACT, 0, 0),
        (".5 s", Form.EXACT, 500_000, 500_000),
        ("1.25 s", Form.EXACT, 1_250_000, 1_250_000),
        ("10 us", Form.EXACT, 10, 10),
        ("10 µs", Form.EXACT, 10, 10),
        ("10 μs", Form.EXACT, 10, 10),
        ("5 min", Form.EXACT, 300_000_000, 300_000_000),
        ("4 h", Form.EXACT, 14_400_000_000, 14_400_000_000),
        ("366 d", Form.EXACT, LONGEST_US, LONGEST_US),
        ("  1   s ", Form.EXACT, 1_000_000, 1_000_000),
        ("60 to 350 ms", Form.RANGE, 60_000, 350_000),
        ("60 ms to 2 s", Form.RANGE, 60_000, 2_000_000),
        ("60..350 ms", Form.RANGE, 60_000, 350_000),
        ("60-350 ms", Form.RANGE, 60_000, 350_000),
        ("60 – 350 ms", Form.RANGE, 60_000, 350_000),
        ("5 to 5 ms", Form.RANGE, 5_000, 5_000),
        ("up to 300 ms", Form.UP_TO, 0, 300_000),
        ("max 300 ms", Form.UP_TO, 0, 300_000),
        ("max. 300 ms", Form.UP_TO, 0, 300_000),
        ("max300 ms", Form.UP_TO, 0, 300_000),
        ("maximum 300 ms", Form.UP_TO, 0, 300_000),
        ("at most 300 ms", Form.UP_TO, 0, 300_000),
        ("<= 300 ms", Form.UP_TO, 0, 300_000),
        ("≤300 ms", Form.UP_TO, 0, 300_000),
        ("up to 300 ms ± 10 ms", Form.UP_TO, 0, 310_000),
        ("at least 600 ms", Form.AT_LEAST, 600_000, FOREVER),
        ("min 600 ms", Form.AT_LEAST, 600_000, FOREVER),
        ("minimum 600 ms", Form.AT_LEAST, 600_000, FOREVER),
        (">= 600 ms", Form.AT_LEAST, 600_000, FOREVER),
        ("≥ 600 ms", Form.AT_LEAST, 600_000, FOREVER),
        ("at least 600 ms ± 5 %", Form.AT_LEAST, 570_000, FOREVER),
        ("20 ms ± 5 ms", Form.PLUS_MINUS, 15_000, 25_000),
        ("20 ms +/- 5 ms", Form.PLUS_MINUS, 15_000, 25_000),
        ("20 ms +- 500 us", Form.PLUS_MINUS, 19_500, 20_500),
        ("1.5 s ± 5 %", Form.PLUS_MINUS, 1_425_000, 1_575_000),
        ("20 ms ± 100%", Form.PLUS_MINUS, 0, 40_000),
    ],
)
def test_every_form_is_read_exactly(text: str, form: Form, lo: int, hi: float) -> None:
    quantity = read_quantity(text)
    assert quantity == Quantity(form, Span(lo, hi))
    assert isinstance(quantity.span.lo, int)
    assert quantity.span.hi == FOREVER or isinstance(quantity.span.hi, int)


@pytest.mark.parametrize(
    ("text", "lo", "hi"),
    [
        ("0.5 us", 0, 1),
        ("1.0001 ms", 1_000, 1_001),
        ("0.0004 to 0.0016 ms", 0, 2),
        ("up to 1.0001 ms", 0, 1_001),
        ("at least 1.0009 ms", 1_000, FOREVER),
        ("1 ms ± 0.0001 ms", 999, 1_001),
        ("7 us ± 10 %", 6, 8),
    ],
)
def test_what_is_finer_than_a_microsecond_widens_the_span(text: str, lo: int, hi: float) -> None:
    assert read_quantity(text).span == Span(lo, hi)


@pytest.mark.parametrize(
    ("text", "what", "cure"),
    [
        ("20", "`20` has no unit", "write `20 ms` or `20 s`"),
        ("1,5 s", "`1,5 s` has a decimal comma", "write `1.5 s`"),
        ("2 seconds", "`2 seconds` has a unit in words", "use us, ms, s, min, h or d"),
        ("5 m", "`5 m` has a unit in words", "use us, ms, s, min, h or d"),
        ("", "no time is given", "write a time such as `20 ms ± 5 ms`"),
        ("> 600 ms", "`> 600 ms` is a strict limit", "write `up to` or `at least`: limits here include their end"),
        ("<5 ms", "`<5 ms` is a strict limit", "write `up to` or `at least`: limits here include their end"),
        ("2 to 1 s", "the range `2 to 1 s` ends before it begins", "write the smaller time first"),
        ("5 ms ± 6 ms", "`5 ms ± 6 ms` reaches below zero", "write a tolerance smaller than the value"),
        ("5 ms ± 101 %", "`5 ms ± 101 %` reaches below zero", "write a tolerance smaller than the value"),
        ("367 d", "`367 d` is more than a year", "write a shorter time"),
        ("up to 1 to 2 s", "`up to 1 to 2 s` limits a range", "write `up to 300 ms` or a range, not both"),
        ("at least 1 to 2 s", "`at least 1 to 2 s` limits a range", "write `at least 600 ms` or a range, not both"),
        (".5", "`.5` has no unit", "write `.5 ms` or `.5 s`"),
        ("0,06 to 0,35 s", "`0,06 to 0,35 s` has a decimal comma", "write `0.06 to 0.35 s`"),
        ("up to 1,5 s", "`1,5 s` has a decimal comma", "write `1.5 s`"),
        ("20 ms ± 0,5 ms", "`20 ms ± 0,5 ms` has a decimal comma", "write `20 ms ± 0.5 ms`"),
        ("1,200 ms", "`1,200 ms` has a comma in a number", "write `1200 ms` or `1.200 ms`"),
        ("80 to 1,000 ms", "`80 to 1,000 ms` has a comma in a number", "write `80 to 1000 ms`"),
        (
            "300 d ± 100 d",
            "`300 d ± 100 d` reaches beyond a year",
            "write a shorter time or a smaller tolerance",
        ),
        ("x" * 81, "a text too long for a time", "write a time such as `20 ms ± 5 ms`"),
    ],
)
def test_what_is_no_time_says_why(text: str, what: str, cure: str) -> None:
    with pytest.raises(NotAQuantity) as caught:
        read_quantity(text)
    assert (str(caught.value), caught.value.cure) == (what, cure)


@pytest.mark.parametrize(
    "text",
    [
        "soon",
        "-5 ms",
        "5 MS",
        "1e3 ms",
        "５ ms",
        "5 ms 6 ms",
        "1. s",
        "up to",
        "± 5 ms",
        "inf s",
        ".",
        "...",
        "1.",
        "1.2.3",
        "maximal 5 ms",
        "minimal 5 ms",
        "1,2,3 s",
        "5 , 6 s",
    ],
)
def test_other_texts_are_no_time(text: str) -> None:
    with pytest.raises(NotAQuantity, match="is not a time") as caught:
        read_quantity(text)
    assert caught.value.cure.startswith("write `20 ms`, `60 to 350 ms`")


@pytest.mark.parametrize(
    ("text", "lo", "hi"),
    [
        ("up to 400 ms", 400_000, 400_000),
        ("up to 400 ms ± 20 ms", 380_000, 420_000),
        ("at most  400 ms", 400_000, 400_000),
        ("maximum 400 ms", 400_000, 400_000),
        ("<= 1.0001 ms", 1_000, 1_001),
        ("at least 1.2 s", 1_200_000, 1_200_000),
        ("minimum 600 ms ± 5 %", 570_000, 630_000),
        ("1.2 s", 1_200_000, 1_200_000),
        ("1.2 to 1.3 s", 1_200_000, 1_300_000),
        ("20 ms ± 5 ms", 15_000, 25_000),
    ],
)
def test_a_limit_lies_where_its_tolerance_says(text: str, lo: int, hi: int) -> None:
    assert read_limit(text) == Span(lo, hi)


@pytest.mark.parametrize(
    "text", ["up to 1 to 2 s", "up to", "at least up to 5 ms", "up to up to 5 ms", "soon", "> 5 ms"]
)
def test_what_is_no_limit_is_refused(text: str) -> None:
    with pytest.raises(NotAQuantity):
        read_limit(text)


@pytest.mark.parametrize(
    ("text", "share"),
    [
        ("5 %", Fraction(1, 20)),
        ("2.5%", Fraction(1, 40)),
        ("20 ppm", Fraction(1, 50_000)),
        ("± .5 %", Fraction(1, 200)),
        ("+/-100 ppm", Fraction(1, 10_000)),
        ("0 %", Fraction(0)),
    ],
)
def test_a_share_is_read_exactly(text: str, share: Fraction) -> None:
    assert read_share(text) == share


@pytest.mark.parametrize(
    ("text", "what", "cure"),
    [
        ("5", "`5` has no unit", "write `5 %` or `5 ppm`"),
        ("2,5 %", "`2,5 %` has a decimal comma", "write `2.5 %`"),
        ("5 ms", "`5 ms` is no percentage", "write such as `2.5 %` or `20 ppm`"),
        ("", "`` is no percentage", "write such as `2.5 %` or `20 ppm`"),
        ("9" * 81, "a text too long for a percentage", "write such as `2.5 %`"),
    ],
)
def test_what_is_no_share_says_why(text: str, what: str, cure: str) -> None:
    with pytest.raises(NotAQuantity) as caught:
        read_share(text)
    assert (str(caught.value), caught.value.cure) == (what, cure)


@pytest.mark.parametrize(
    ("us", "shown"),
    [
        (0, "0 ms"),
        (10, "10 us"),
        (999, "999 us"),
        (1_000, "1 ms"),
        (1_500, "1.5 ms"),
        (80_000, "80 ms"),
        (1_250_000, "1.25 s"),
        (1_234_567, "1234.567 ms"),
        (60_000_000, "1 min"),
        (90_000_000, "90 s"),
        (14_400_000_000, "4 h"),
        (86_400_000_000, "1 d"),
        (-1_500, "-1.5 ms"),
    ],
)
def test_times_are_shown_in_the_largest_unit_that_is_exact(us: int, shown: str) -> None:
    assert show_us(us) == shown


@SETTINGS
@given(st.integers(0, LONGEST_US))
def test_what_is_shown_reads_back_as_the_same_time(us: int) -> None:
    assert read_quantity(show_us(us)) == Quantity(Form.EXACT, Span(us, us))


@SETTINGS
@given(st.decimals(0, 1000, places=7), st.decimals(0, 1000, places=7), st.sampled_from(sorted(MICROSECONDS)))
def test_a_span_covers_what_was_written_and_no_more_than_a_microsecond_beyond(
    one: object, other: object, unit: str
) -> None:
    low, high = sorted((Fraction(str(one)), Fraction(str(other))))
    size = MICROSECONDS[unit]
    if high * size > LONGEST_US:
        return
    span = read_quantity(f"{float_free(low)} to {float_free(high)} {unit}").span
    assert span.lo <= low * size < span.lo + 1
    assert span.hi - 1 < high * size <= span.hi


def float_free(number: Fraction) -> str:
    """A decimal with seven places, without a detour over floats."""
    whole, rest = divmod(int(number * 10**7), 10**7)
    return f"{whole}.{rest:07d}"


@pytest.mark.parametrize(
    ("span", "shown"),
    [
        (Span(0, 0), "0 ms"),
        (Span(5_000, 5_000), "5 ms"),
        (Span(0, 300_000), "up to 300 ms"),
        (Span(600_000, FOREVER), "at least 600 ms"),
        (Span(60_000, 2_000_000), "60 ms to 2 s"),
    ],
)
def test_a_span_is_shown_as_it_could_be_written(span: Span, shown: str) -> None:
    assert str(span) == shown
    assert read_quantity(shown).span == span


@pytest.mark.parametrize(
    ("us", "down", "up"),
    [
        (0, 0, 0),
        (7, 7, 7),
        (999, 999, 999),
        (1_001, 1_000, 1_010),
        (439_053, 439_000, 440_000),
        (1_125_857, 1_120_000, 1_130_000),
        (99_999, 99_900, 100_000),
    ],
)
def test_a_time_is_rounded_to_three_figures(us: int, down: int, up: int) -> None:
    assert (round_us(us, up=False), round_us(us, up=True)) == (down, up)


@SETTINGS
@given(st.integers(0, LONGEST_US), st.one_of(st.just(FOREVER), st.integers(0, LONGEST_US)))
def test_a_span_for_people_leaves_nothing_out(low: int, more: int | float) -> None:
    span = Span(low, FOREVER if more == FOREVER else low + int(more))
    rounded = widen(span)
    assert rounded.lo <= span.lo
    assert rounded.hi >= span.hi
    assert 100 * rounded.lo >= 99 * span.lo
    assert rounded.hi == FOREVER or 100 * rounded.hi <= 101 * span.hi


@pytest.mark.parametrize(
    ("text", "middle", "tolerance", "moved"),
    [
        ("20 ms ± 5 ms", 20_000, Fraction(1, 4), "40 ms ± 10 ms"),
        ("1.5 s ± 5 %", 1_500_000, Fraction(1, 20), "40 ms ± 5 %"),
        ("60 to 350 ms", 350_000, Fraction(0), "6.857 ms to 40 ms"),
        ("up to 260 ms from press to press", 260_000, Fraction(0), "up to 40 ms from press to press"),
        ("after 2 s of quiet", 2_000_000, Fraction(0), "after 40 ms of quiet"),
        ("after 3 s +/- 1 s with pad open", 3_000_000, Fraction(1, 3), "after 40 ms ± 13.334 ms with pad open"),
    ],
)
def test_the_time_in_words_is_found_and_moved(text: str, middle: int, tolerance: Fraction, moved: str) -> None:
    assert find_middle(text) == middle
    assert find_tolerance(text) == tolerance
    assert move(text, 40_000) == moved
    assert find_middle("at once") is None
    with pytest.raises(ValueError, match="at once"):
        move("at once", 1)


def test_a_time_is_scaled_and_loosened() -> None:
    assert scale("60 to 350 ms", Fraction(1, 2), Fraction(2)) == "30 ms to 700 ms"
    assert scale("up to 40 ms", Fraction(1, 2), Fraction(2)) == "up to 80 ms"
    assert scale("0 ms", Fraction(2), Fraction(2)) is None
    assert scale("nothing", Fraction(2), Fraction(2)) is None
    assert loosen("2 s", 10) == "2 s ± 10 %"
    assert loosen("after 2 s ± 5 % of quiet", 10) == "after 2 s ± 10 % of quiet"
    assert loosen("20 ms ± 5 ms", 10) == "20 ms ± 10 ms"
    assert loosen("60 to 350 ms", 10) is None


@pytest.mark.parametrize(
    ("us", "shown"),
    [
        (0, "0 ms"),
        (250, "250 us"),
        (1_250, "1.25 ms"),
        (1_514_099, "1.514099 s"),
        (60_000_000, "1 min"),
        (212_020_000, "3 min 32.02 s"),
        (14_258_459_841, "3 h 57 min 38.459841 s"),
        (90_000_000_000, "25 h"),
    ],
)
def test_a_moment_of_a_story_is_told_as_on_a_clock(us: int, shown: str) -> None:
    assert show_moment(us) == shown
