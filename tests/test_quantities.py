from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pint import DimensionalityError

from nudgeproof.quantities import (
    Band,
    Kind,
    amount,
    amperes,
    decimal,
    exact,
    farads,
    just,
    microseconds,
    ohms,
    read_amount,
    read_band,
    seconds,
    show,
    volts,
)
from nudgeproof.units import NotAQuantity

SETTINGS = settings(derandomize=True, database=None, deadline=None, max_examples=300)
V, A, R, C, Q, P = Kind.VOLTAGE, Kind.CURRENT, Kind.RESISTANCE, Kind.CAPACITANCE, Kind.CHARGE, Kind.POWER


@pytest.mark.parametrize(
    ("text", "kind", "low", "high"),
    [
        ("2.2 V", V, "2.2", "2.2"),
        ("2.2V", V, "2.2", "2.2"),
        (".5 V", V, "0.5", "0.5"),
        ("  2.2   V ", V, "2.2", "2.2"),
        ("0 V", V, "0", "0"),
        ("60 V", V, "60", "60"),
        ("50 mV", V, "0.05", "0.05"),
        ("9 mA", A, "0.009", "0.009"),
        ("3.2 uA", A, "0.0000032", "0.0000032"),
        ("3.2 µA", A, "0.0000032", "0.0000032"),
        ("3.2 μA", A, "0.0000032", "0.0000032"),
        ("800 nA", A, "0.0000008", "0.0000008"),
        ("47 ohm", R, "47", "47"),
        ("47 Ω", R, "47", "47"),
        ("4.7 kΩ", R, "4700", "4700"),
        ("4.7 k\u2126", R, "4700", "4700"),
        ("1 MΩ", R, "1000000", "1000000"),
        ("30 mohm", R, "0.03", "0.03"),
        ("100 uF", C, "0.0001", "0.0001"),
        ("22 pF", C, "0.000000000022", "0.000000000022"),
        ("220 mAh", Q, "0.22", "0.22"),
        ("5 mW", P, "0.005", "0.005"),
        ("2.5 to 2.9 V", V, "2.5", "2.9"),
        ("2.5 V to 2.9 V", V, "2.5", "2.9"),
        ("800 mV to 2 V", V, "0.8", "2"),
        ("2.5-2.9 V", V, "2.5", "2.9"),
        ("2.5 – 2.9 V", V, "2.5", "2.9"),
        ("2.5..2.9 V", V, "2.5", "2.9"),
        ("2 to 2 V", V, "2", "2"),
        ("up to 2 uA", A, "0", "0.000002"),
        ("at most 2 uA", A, "0", "0.000002"),
        ("max 2 uA", A, "0", "0.000002"),
        ("max. 2 uA", A, "0", "0.000002"),
        ("maximum 2 uA", A, "0", "0.000002"),
        ("<= 2 uA", A, "0", "0.000002"),
        ("100 uF ± 20 %", C, "0.00008", "0.00012"),
        ("100 uF +/- 20%", C, "0.00008", "0.00012"),
        ("2.7 V ± 0.1 V", V, "2.6", "2.8"),
        ("2.7 V ± 100 mV", V, "2.6", "2.8"),
        ("1 V ± 100 %", V, "0", "2"),
    ],
)
def test_a_band_is_read(text: str, kind: Kind, low: str, high: str) -> None:
    band = read_band(text, kind)
    assert (exact(band.lo, kind.unit), exact(band.hi, kind.unit)) == (Fraction(low), Fraction(high))


@pytest.mark.parametrize(
    ("text", "kind", "message", "cure"),
    [
        ("3", V, "`3` has no unit", "write such as `3 V`, whichever unit it is"),
        ("-3", V, "`-3` is negative", "write such as `2.2 V`"),
        ("-3 V", V, "`-3 V` is negative", "write such as `2.2 V`"),
        ("−3 V", V, "`-3 V` is negative", "write such as `2.2 V`"),
        ("3,3 V", V, "`3,3 V` has a decimal comma", "write `3.3 V`"),
        ("1,000,000 ohm", R, "`1,000,000 ohm` is not a resistance", None),
        ("3 A", V, "`3 A` is a current, not a voltage", "write such as `2.2 V`"),
        ("220 mAh", A, "`220 mAh` is a charge, not a current", "write such as `9 mA`"),
        ("3 parsec", V, "`3 parsec`: `parsec` is no unit of a voltage", "use one of V, mV"),
        ("47 k", R, "`47 k`: `k` is no unit of a resistance", "use one of ohm, mohm, kohm, Mohm"),
        ("3 v", V, "`3 v`: `v` is no unit of a voltage", "use one of V, mV"),
        ("3.5 to 2.5 V", V, "`3.5 to 2.5 V` ends before it begins", "write `2.5 V to 3.5 V`"),
        ("2 to 900 mV", V, None, None),
        ("2 V to 900 mV", V, "`2 V to 900 mV` ends before it begins", "write `900 mV to 2 V`"),
        ("1 V ± 2 V", V, "`1 V ± 2 V` begins below nought", "write a smaller tolerance"),
        ("1 V ± 101 %", V, "`1 V ± 101 %` begins below nought", "write a smaller tolerance"),
        ("1 V ± 2 A", V, "`1 V ± 2 A` is a current, not a voltage", "write such as `2.2 V`"),
        ("230 V", V, "`230 V` is more than 60 V", "no small battery device has that; check the unit"),
        ("50 V ± 50 %", V, "`50 V ± 50 %` is more than 60 V", "no small battery device has that; check the unit"),
        ("50 V ± 11 V", V, "`50 V ± 11 V` is more than 60 V", "no small battery device has that; check the unit"),
        ("220 Ah", Q, "`220 Ah` is more than 100 Ah", "no small battery device has that; check the unit"),
        ("900 Mohm", R, "`900 Mohm` is more than 100 000 000 ohm", "no small battery device has that; check the unit"),
        ("3.1234567890123 V", V, "`3.1234567890123 V` has more digits than anything is measured to",
         "leave out the last ones"),
        ("up to", A, "`up to` is not a current",
         "write `9 mA`, a range or a tolerance, such as `up to ...` or `± 5 %`"),
        ("", A, "`` is not a current", None),
        ("x" * 81, A, "a text too long for a current", "write such as `9 mA`"),
        ("1e3 mA", A, "`1e3 mA` is not a current", None),
        ("٣ V", V, "`٣ V` is not a voltage", None),
    ],
)  # fmt: skip
def test_what_is_no_quantity_says_why_and_what_to_write(text: str, kind: Kind, message: str | None, cure: str) -> None:
    if message is None:
        assert read_band(text, kind)
        return
    with pytest.raises(NotAQuantity) as caught:
        read_band(text, kind)
    assert str(caught.value) == message
    assert caught.value.cure == cure or cure is None


def test_one_value_has_no_tolerance() -> None:
    assert read_amount("3 V", V) == volts(3)
    with pytest.raises(NotAQuantity) as caught:
        read_amount("3 to 4 V", V)
    assert (str(caught.value), caught.value.cure) == ("`3 to 4 V` has a tolerance", "write one value, such as `2.2 V`")


UNITS = {
    V: ("V", "mV"),
    A: ("A", "mA", "uA", "nA"),
    R: ("ohm", "kohm"),
    C: ("F", "uF"),
    Q: ("Ah", "mAh"),
    P: ("W", "mW"),
}


@SETTINGS
@given(st.sampled_from(list(Kind)), st.integers(0, 9_999), st.integers(0, 9_999), st.integers(0, 3), st.data())
def test_what_is_written_is_read_back(kind: Kind, first: int, last: int, places: int, data: st.DataObject) -> None:
    unit = data.draw(st.sampled_from(UNITS[kind]))
    low, high = (Fraction(n, 10**places) / 1000 for n in sorted((first, last)))
    if high > kind.most:
        return
    one = read_band(f"{float(high * 1000):.{places}f} {UNITS[kind][1]}", kind)
    assert exact(one.hi, kind.unit) == read_band(f"up to {float(high * 1000):.{places}f} {UNITS[kind][1]}", kind).hi.m
    both = read_band(f"{float(low * 1000):.{places}f} to {float(high * 1000):.{places}f} {UNITS[kind][1]}", kind)
    assert both.lo <= both.hi == one.hi
    assert read_amount(f"1 {unit}", kind) == read_band(f"1{unit}", kind).lo


@SETTINGS
@given(
    st.one_of(
        st.text(max_size=90),
        st.text(alphabet="0123456789.,-+/±% toupmax<=VAFWhΩmunkM", max_size=24),
    ),
    st.sampled_from(list(Kind)),
)
def test_any_text_is_a_band_or_no_quantity(text: str, kind: Kind) -> None:
    for read in (read_band, read_amount):
        try:
            found = read(text, kind)
        except NotAQuantity:
            continue
        band = found if isinstance(found, Band) else just(found)
        assert 0 <= exact(band.lo, kind.unit) <= exact(band.hi, kind.unit) <= kind.most


@pytest.mark.parametrize(
    ("quantity", "text"),
    [
        (volts("2.8125"), "2.81 V"),
        (volts("0.0955"), "95.5 mV"),
        (volts(0), "0 V"),
        (volts("-1.5"), "-1.5 V"),
        (amperes("0.0125"), "12.5 mA"),
        (amperes("0.0000008"), "800 nA"),
        (amperes("0.9996"), "1 A"),
        (amperes("0.0009996"), "1 mA"),
        (amperes("0.0009994"), "999 uA"),
        (ohms(47), "47 ohm"),
        (ohms(4700), "4.7 kohm"),
        (ohms(2_200_000), "2.2 Mohm"),
        (farads("0.0001"), "100 uF"),
        (amount("0.22", "A*h"), "220 mAh"),
        (volts(3) * amperes("0.001"), "3 mW"),
        (ohms(1000) * farads("0.0001"), "100 ms"),
    ],
)
def test_a_quantity_is_shown(quantity: object, text: str) -> None:
    assert show(quantity) == text


def test_a_band_is_shown_and_added() -> None:
    band = Band(volts(2), volts(3)) + just(volts(1))
    assert str(band) == "3 V to 4 V"
    assert str(just(volts(1))) == "1 V"
    assert band.map(lambda v: v / 2) == Band(volts("1.5"), volts(2))


@pytest.mark.parametrize(("value", "text"), [("0.0004996", "0.0005"), ("9.995", "10"), ("1234", "1230"), ("0", "0")])
def test_a_number_is_rounded_half_up_to_three_figures(value: str, text: str) -> None:
    assert decimal(Fraction(value), 3) == text


def test_units_are_checked() -> None:
    with pytest.raises(DimensionalityError):
        volts(1) + amperes(1)
    with pytest.raises(DimensionalityError):
        exact(volts(1), "A")
    assert volts(3) / amperes("0.1") == ohms(30)
    assert microseconds(seconds("0.0015")) == 1500
    assert exact(amount(1, "A*h") / amperes(1), "s") == 3600
