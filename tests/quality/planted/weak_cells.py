"""Faults in what weak cells do: the loads of each configuration, the kinds of units, the brown-out reset, the capacitor."""

from __future__ import annotations

from tests.quality.planted.fault import into

REFERENCE = "tests/agreement/test_reference_of_supply.py"
BEHAVIOURS = f"{REFERENCE}::test_each_specimen_does_what_one_of_the_behaviours_says"
RUNS = f"{REFERENCE}::test_what_a_specimen_does_the_model_may_do"
LOSSES = f"{REFERENCE}::test_a_loss_of_contact_lasts_as_reckoned"
LOOPS = f"{REFERENCE}::test_a_specimen_that_goes_round_is_known_to"
READINGS = f"{REFERENCE}::test_each_specimen_reads_its_cells_as_one_of_the_readings_says"
ENDS = f"{REFERENCE}::test_the_ends_of_a_hold_up_are_met"
CARRIED = f"{REFERENCE}::test_what_a_light_load_left_feeds_a_heavy_one_for_longer"
LATE = f"{REFERENCE}::test_a_load_that_comes_late_in_an_outage_has_what_is_left_of_the_charge"
WHOLE = f"{REFERENCE}::test_a_loss_of_contact_begins_with_the_whole_charge"
PEAKS = f"{REFERENCE}::test_a_peak_or_a_press_resets_when_it_comes_and_not_before"
ASLEEP = f"{REFERENCE}::test_asleep_without_a_reset_a_loss_of_contact_may_go_unnoticed_for_any_time"

_draws = into("parts/draws", BEHAVIOURS)
_behaviours = into("parts/behaviours", BEHAVIOURS)
_brown_out = into("parts/brown_out", RUNS)
_capacitor = into("parts/capacitor", LATE, WHOLE)

FAULTS = (
    _draws("loads mind no variable", "all(values[n] in v for n, v in drain.allowed)", "True"),
    _draws(
        "loads that start draw all the time",
        "drain.when in (ALWAYS, config.phase)",
        "drain.when != PRESSED",
        ENDS,
        only=True,
    ),
    _draws("a pull resistor draws nothing", "    if drain.when == PRESSED:\n        return True\n", ""),
    _draws(
        "a reset that is off in sleep works there",
        "(config.phase == ASLEEP and not reset.rules.asleep)",
        "False",
        ASLEEP,
        only=True,
    ),
    _draws("a reset that is off in sleep comes there", "high = FOREVER if unwatched else", "high =", ASLEEP),
    _draws("the time to respond isn't counted", "int(high) + int(responds.hi)", "int(high)", ENDS, only=True),
    _draws(
        "only fresh cells hold up",
        "shares = (Fraction(0), electricity.until)",
        "shares = (Fraction(0),)",
        LOSSES,
        only=True,
    ),
    _draws(
        "a lighter load leaves no more charge",
        "else max(longest, int(lasts) + int(reset.rules.responds.hi))",
        "else longest",
        CARRIED,
        only=True,
    ),
    _draws("no current comes and goes", "return loads.least != loads.most or any", "return any", PEAKS, only=True),
    _draws("the worst unit draws least", "self.most if corner.worst else self.least", "self.least"),
    _behaviours(
        "the level is the same on each unit",
        "stays_at(device, config, level.hi, WORST),",
        "stays_at(device, config, level.lo, WORST),",
    ),
    _behaviours(
        "all that may reset does", "for mask in range(2 ** len(maybe)):", "for mask in (2 ** len(maybe) - 1,):"
    ),
    _behaviours("some that may reset is all", "for mask in range(2 ** len(maybe)):", "for mask in (0,):"),
    _behaviours(
        "what draws less resets first",
        "all(other in some for config in some for other in above[config])",
        "not any(other in some for config in some for other in above[config])",
    ),
    _behaviours("only fresh cells are looked at", "(Fraction(0), _or_never(turn)) if", "(Fraction(0),) if"),
    _behaviours(
        "cells are read low on no unit but all",
        "_after(share, low_worst) else levels",
        "_after(share, low_best) else levels",
        READINGS,
        only=True,
    ),
    _behaviours("a reading is never between", "levels.append(BETWEEN)", "levels.append(BELOW)", READINGS, only=True),
    _brown_out("a reset by a load comes at once", "responds.lo, FOREVER if slow else responds.hi", "0, 0"),
    _brown_out("a capacitor makes no difference", "electricity.source.capacitor is not None or wavers", "wavers"),
    _brown_out(
        "a load resets where it doesn't",
        "resets = given[FED] and (behaviour.of(config) if weak else config in behaviour.always)",
        "resets = given[FED]",
    ),
    _brown_out("brown-outs aren't counted", "min(count + 1, most)", "0", RUNS, LOOPS, only=True),
    _brown_out(
        "a start ends the count of brown-outs", "Choice((count, False, False, weak))", "Choice((0, False, False, weak))"
    ),
    _brown_out("one more try than stated", "count > reset.tries, loops", "count > reset.tries + 1, loops"),
    _brown_out(
        "a gesture doesn't end the count",
        "return (Choice((0, cut_short, loops, weak)),)",
        "return (Choice((count, cut_short, loops, weak)),)",
    ),
    _capacitor("another load gets a new charge", "return (Choice((here, True)),)", "return (Choice((here, False)),)"),
    _capacitor(
        "the first load's charge isn't whole",
        "return (Choice((at(given), False)),)",
        "return (Choice((at(given), True)),)",
    ),
)
