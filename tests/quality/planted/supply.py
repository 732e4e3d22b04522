"""Faults in electrical quantities and in what the supply does."""

from __future__ import annotations

from tests.quality.planted.fault import into

QUANTITIES = "tests/test_quantities.py"
LAWS = "tests/supply/test_laws.py"
PUBLISHED = "tests/supply/test_published.py"
INTEGRATED = "tests/supply/test_integrated.py"

_quantities = into("quantities", QUANTITIES)
_bounds = into("supply/bounds", LAWS)
_brown_out = into("supply/brown_out", LAWS, PUBLISHED)
_cells = into("supply/cells", LAWS, PUBLISHED)
_charge = into("supply/charge", LAWS, PUBLISHED, INTEGRATED)
_endurance = into("supply/endurance", PUBLISHED)
_flow = into("supply/flow", LAWS, INTEGRATED)
_hold_up = into("supply/hold_up", LAWS, PUBLISHED, INTEGRATED)
_intake = into("supply/intake", LAWS, INTEGRATED)
_loads = into("supply/loads", LAWS)
_rail = into("supply/rail", LAWS, INTEGRATED)

FAULTS = (
    _quantities("a milliampere is a microampere", '"A": 0, "mA": -3, "uA": -6', '"A": 0, "mA": -6, "uA": -6'),
    _quantities("a tolerance is a share of one", "middle * Fraction(m[3]) / 100", "middle * Fraction(m[3])"),
    _quantities("a tolerance may go anywhere", "        _sane(high, kind, text)\n    elif", "    elif"),
    _quantities("up to begins where it ends", "low, high = Fraction(0), _number(", "low, high = Fraction(1), _number("),
    _quantities("a negative number is asked for its unit", 'if text.startswith("-"):', 'if text.startswith("--"):'),
    _quantities("a thousand of a unit", "Fraction(5, 10 ** (figures + 1)) if", "0 if"),
    _bounds(
        "a logarithm is rounded inward", "return value - slack, value + slack", "return value + slack, value - slack"
    ),
    _bounds("a power of e is above itself", "value + _SLACK\n", "value - _SLACK\n", within="def exp("),
    _brown_out(
        "half of the hysteresis is dropped",
        "Band(self.level.lo - self.hysteresis / 2, self.level.hi - self.hysteresis / 2)",
        "Band(self.level.lo, self.level.hi)",
    ),
    _brown_out(
        "the whole hysteresis lies above",
        "Band(self.level.lo + self.hysteresis / 2, self.level.hi + self.hysteresis / 2)",
        "Band(self.level.lo + self.hysteresis, self.level.hi + self.hysteresis)",
    ),
    _brown_out(
        "a dip to the level resets", "if voltage.lo >= brown_out.trips.hi:", "if voltage.lo > brown_out.trips.hi:"
    ),
    _brown_out("what some do all do", "voltage.hi < brown_out.trips.lo and", "voltage.hi < brown_out.trips.hi and"),
    _brown_out(
        "the slowest response is forgotten",
        "lasts_us >= brown_out.responds.hi",
        "lasts_us >= brown_out.responds.lo",
    ),
    _brown_out("the best level keeps all lawful", "trips = brown_out.trips.lo if", "trips = brown_out.trips.hi if"),
    _cells("what is between is the one before", "part = (used - start) / (end - start)", "part = (used - start) * 0"),
    _cells("the ends of the current don't turn", "level.open.lo - current.hi", "level.open.lo - current.lo"),
    _cells("a divider is upside down", "(opened / loaded - 1)", "(1 - loaded / opened)"),
    _charge("the largest current lasts longest", "low += part / max(", "low += part / min("),
    _charge("a year has a day less", 'Fraction("365.25")', 'Fraction("364.25")'),
    _charge("the shorter pulse twice", "current.hi * longer", "current.hi * shorter"),
    _charge("no lower end without a least current", "if any(max(pair) <= 0 for", "if any(max(pair) >= 0 for"),
    _endurance("slots don't take turns", "Fraction(endures) * slots", "Fraction(endures)"),
    _flow("a power draws as much at any voltage", "sum((p / v - (p", "sum((p - (p"),
    _flow("only the level itself is looked at", "if not flow.powers or resistance == 0:", "if True:"),
    _flow("an LED draws below its voltage", "if v > foot), ZERO)", "), ZERO)"),
    _flow("the summit is twice as high", "(room**2 - 4 * resistance", "(room**2 - 2 * resistance"),
    _hold_up(
        "shortest and longest change places",
        "size[not shortest], leaks[shortest]",
        "size[shortest], leaks[shortest]",
    ),
    _hold_up("leakage doesn't drain", "piece.current(lower) + leak\n    if", "piece.current(lower)\n    if"),
    _hold_up(
        "the logarithm the wrong way",
        "ln((a + b * upper) / (a + b * lower))",
        "ln((a + b * lower) / (a + b * upper))",
    ),
    _hold_up("half of the energy", "(upper**2 - lower**2) / (2 * p)", "(upper**2 - lower**2) / p"),
    _hold_up(
        "its own resistance lowers nothing at once",
        "_settles(begin, inside, intake, end, shortest) if inside else begin",
        "begin",
    ),
    _hold_up("its own resistance changes no time", "if inside and first != last else ZERO", "if False else ZERO"),
    _hold_up("a pulse takes no charge", "charge + more * load.lasts", "charge"),
    _hold_up(
        "the cells' resistance is nothing",
        "volts_open, in_series = opened[not shortest], resistance[shortest]",
        "volts_open, in_series = opened[not shortest], ZERO",
    ),
    _hold_up(
        "a regulator needs nothing on top",
        "max(rail + drops[1], works_from) if highest",
        "max(rail, works_from) if highest",
    ),
    _hold_up("it works from any input", "max(rail + drops[1], works_from)", "rail + drops[1]"),
    _hold_up(
        "a light load before leaves no more",
        "begin = max(begin, _steady(source, used, Intake(",
        "begin = min(begin, _steady(source, used, Intake(",
    ),
    _hold_up("a tolerance makes it larger", "high / (1 - tolerance)", "high * (1 - tolerance)"),
    _hold_up("the next size down", "if step * power >= value)", "if step * power > value)"),
    _intake(
        "its own current is free", "self.own, self.makes = takes[most], makes", "self.own, self.makes = ZERO, makes"
    ),
    _intake(
        "pieces from below",
        "pairwise(reversed(self.flow.cuts(low, high)))",
        "((b, a) for a, b in pairwise(self.flow.cuts(low, high)))",
    ),
    _loads("the share is missing", "return self.on[0] * self.share, self.on[1] * self.share", "return self.on"),
    _loads(
        "an LED's tolerance doesn't turn",
        "Flow(ramps=((1 / high, last),)), Flow(ramps=((1 / low, first),))",
        "Flow(ramps=((1 / high, first),)), Flow(ramps=((1 / low, last),))",
    ),
    _loads("a peak below what flows", "self.on[0].at_least(low), self.on[1].at_least(high)", "Flow(low), Flow(high)"),
    _rail("the worst cells are the best", "self.opened = opened[not worst]", "self.opened = opened[worst]"),
    _rail(
        "the worst resistance is the best",
        "self.resistance = resistance[worst]",
        "self.resistance = resistance[not worst]",
    ),
    _rail(
        "efficiency the wrong way",
        "makes * flow.at(makes) / self.efficiency",
        "makes * flow.at(makes) * self.efficiency",
    ),
    _rail("the best corner of the efficiency", "self.efficiency[not worst]", "self.efficiency[worst]"),
    _rail("a capacitor smooths all", "low, high = exp(-pulse / (both * farads))", "low, high = exp(0 * pulse)"),
    _rail(
        "a pulse of unknown length is smoothed",
        "return Fraction(1) if self.worst else series[0]",
        "return Fraction(0) if self.worst else series[0]",
    ),
    _rail("peaks of the best come on top of the mean", "max(ZERO, kept * top - mean)", "kept * top"),
    _rail(
        "a stopped boost regulator is off",
        "return max(handed, boosted) if level <= makes[1] else handed",
        "return boosted",
    ),
    _rail(
        "a regulator works from any input",
        "min(left, circuit.left_at_input(level, works_from, drops, peaks)) if worst else left",
        "left",
    ),
    _rail(
        "the last corner at which it holds",
        "next((used for used in corners if left(used) < 0), None)",
        "next((used for used in reversed(corners) if left(used) < 0), None)",
    ),
    _rail(
        "the share is rounded up",
        "low, high = (middle, high) if left(middle) >= 0 else (low, middle)\n    return low",
        "low, high = (middle, high) if left(middle) >= 0 else (low, middle)\n    return high",
        INTEGRATED,
    ),
)
