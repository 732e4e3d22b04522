"""Random supplies: cells, capacitors, regulators and loads as small devices have them, with or without tolerances."""

from __future__ import annotations

from fractions import Fraction

from hypothesis import Phase, settings
from hypothesis import strategies as st

from nudgeproof.quantities import Band, amount, seconds, volts
from nudgeproof.supply.cells import Cells, Level
from nudgeproof.supply.loads import Draw, Load
from nudgeproof.supply.rail import BOOST, BUCK_BOOST, LINEAR, Capacitor, Regulator, Source

SETTINGS = settings(
    derandomize=True, database=None, deadline=None, max_examples=60, phases=(Phase.explicit, Phase.generate)
)


def bands(low: int, high: int, per: int, unit: str, loose: bool) -> st.SearchStrategy[Band]:
    """Bands of whole numbers of a `per`-th of a unit, with a tolerance of up to 30 % if they may be `loose`."""
    spreads = st.sampled_from((0, 5, 20, 30)) if loose else st.just(0)

    def band(middle: int, spread: int) -> Band:
        part = Fraction(spread, 100)
        return Band(amount(Fraction(middle, per) * (1 - part), unit), amount(Fraction(middle, per) * (1 + part), unit))

    return st.builds(band, st.integers(low, high), spreads)


@st.composite
def loads(draw: st.DrawFn, loose: bool, kinds: str = "irlp", pulses: bool = False) -> Load:
    kind = draw(st.sampled_from(kinds))
    share, peak, pulse = Fraction(1), None, None
    if pulses and draw(st.booleans()):
        if draw(st.booleans()):
            share = Fraction(draw(st.integers(1, 9)), 10)
        else:
            peak = draw(bands(5, 30, 1_000, "A", loose))
        pulse = seconds(Fraction(draw(st.integers(1, 200)), 10_000))
    more = {"share": share, "peak": peak, "pulse": pulse}
    if kind == "i":
        return Load("current", current=draw(bands(1, 200, 10_000, "A", loose)), **more)  # type: ignore[arg-type]
    if kind == "p":
        return Load("power", power=draw(bands(1, 20, 1_000, "W", loose)), **more)  # type: ignore[arg-type]
    resistor = draw(bands(100, 5_000, 1, "ohm", loose))
    if kind == "r":
        return Load("resistor", resistor=resistor, **more)  # type: ignore[arg-type]
    forward = draw(bands(16, 28, 10, "V", loose))
    return Load("led", resistor=resistor, forward=forward, **more)  # type: ignore[arg-type]


def draws(loose: bool, kinds: str = "irlp", pulses: bool = False) -> st.SearchStrategy[Draw]:
    return st.lists(loads(loose, kinds, pulses), min_size=1, max_size=3).map(tuple)


@st.composite
def cells(draw: st.DrawFn, loose: bool) -> Cells:
    opened = draw(bands(26, 36, 10, "V", False))
    resistance = draw(bands(0, 60, 1, "ohm", loose))
    spread = volts(Fraction(draw(st.integers(0, 3)) if loose else 0, 20))
    band = Band(opened.lo - spread, opened.hi + spread)
    return Cells(tuple(Level(Fraction(used), band, resistance) for used in (0, 1)))


def capacitors(loose: bool, series: bool = True) -> st.SearchStrategy[Capacitor]:
    return st.builds(
        Capacitor,
        bands(10, 1_000, 1_000_000, "F", loose),
        bands(0, 40, 10, "ohm", loose) if series else st.just(Band(amount(0, "ohm"), amount(0, "ohm"))),
        bands(0, 50, 1_000_000, "A", loose),
    )


@st.composite
def regulators(draw: st.DrawFn, loose: bool, kinds: tuple[str, ...] = (LINEAR, BOOST, BUCK_BOOST)) -> Regulator:
    kind = draw(st.sampled_from(kinds))
    share = Fraction(draw(st.integers(70, 100)), 100)
    return Regulator(
        kind,
        draw(bands(18, 50, 10, "V", False)) if not loose else draw(bands(20, 40, 10, "V", True)),
        draw(bands(0, 100, 1_000_000, "A", loose)),
        draw(bands(0, 3, 10, "V", loose)) if kind == LINEAR else Band(volts(0), volts(0)),
        volts(Fraction(draw(st.integers(8, 20)), 10)),
        (share - Fraction(1, 10), share) if loose else (share, share),
    )


def sources(loose: bool, regulated: bool = False, series: bool = True) -> st.SearchStrategy[Source]:
    return st.builds(Source, cells(loose), regulators(loose) if regulated else st.none(), capacitors(loose, series))
