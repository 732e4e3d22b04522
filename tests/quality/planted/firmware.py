"""Faults in how a recording is followed: in its windows, its lights, its readers, and in what a refusal tells."""

from __future__ import annotations

from tests.quality.planted.fault import into

FOLLOWED, READERS, MAPS = (f"tests/firmware/test_{name}.py" for name in ("monitor", "readers", "mapping"))
_LEAST = FOLLOWED + "::test_a_light_may_come_within_its_window_and_a_sample_and_no_microsecond_beyond"
_LONG_RUN = FOLLOWED + "::test_a_period_that_is_a_little_wrong_is_caught_in_the_long_run"

_OBSERVED = "tests/firmware/test_observed.py::test_what_a_device_of_the_spec_does_is_never_refused[samples, two copies]"

_recorded = into("parts/recorded", FOLLOWED)
_beside = into("parts/recorded", "tests/parts/test_recorded.py")
_course = into("firmware/course", FOLLOWED)
_monitor = into("firmware/monitor", FOLLOWED)
_joined = into("engines/matrix", "tests/engines/test_join.py")
_outcome = into("firmware/outcome", FOLLOWED)
_recording = into("firmware/recording", READERS)
_vcd = into("firmware/vcd", READERS)
_mapping = into("firmware/mapping", MAPS)
SURELY, SHRUNK, WALKED = (f"tests/firmware/test_{name}.py" for name in ("surely_taken", "shrinking", "tours"))
_sure = into("firmware/monitor", SURELY)
_shrinking = into("firmware/shrinking", SHRUNK)
_acts = into("firmware/acts", SHRUNK)
_tours = into("firmware/tours", WALKED)
STORIES, PLAYED = "tests/firmware/test_stories.py", "tests/rig/test_player.py"
_stories = into("firmware/stories", STORIES)
_player = into("rig/player", PLAYED)

FAULTS = (
    _stories(
        "what a torn write leaves is forced",
        "elif GARBAGE in held.cells or ERASED in held.cells:",
        "elif held.cells is None:",
    ),
    _stories(
        "what a cut erase leaves is forced", "GARBAGE in held.cells or ERASED in held.cells", "GARBAGE in held.cells"
    ),
    _stories("a story is let go before its end", "times[-1] - since + _HELD_ON_US", "max(1, times[-1] - since)"),
    _stories(
        "a story of a start begins with a rest", "begin = 0 if begins_up else", "begin = 0 if device is None else"
    ),
    _player("the mark is on between two stimuli", "_wait(pause_us, 0,", "_wait(pause_us, _SYNC,"),
    _player("a long wait is one row", "while us > _LONGEST_WAIT_US:", "while us < 0:"),
    _sure(
        "what one explanation did is sure",
        "sure[step.spot] = after if known is None else known & after",
        "sure[step.spot] = after if known is None else known | after",
    ),
    _shrinking(
        "what no longer fails is gone on with",
        "if at is None:\n            return False",
        "if at is None:\n            at = 0",
    ),
    _shrinking("single acts aren't tried again", "if size == 1 and not gone:", "if size <= 2 and not gone:"),
    _acts("what overlaps opens too early", "elif high > end:", "elif high < end:"),
    _tours("a voltage is forced", '"event" if name in made else "none"', '"event"'),
    _tours(
        "a pause just too long isn't", "int(gesture.between.hi) + width + _JUST_US", "int(gesture.between.lo) - width"
    ),
    _recorded(
        "a light may stay wrong for ever",
        "Timer(UNSEEN + light.name, light.lag_us, light.lag_us)",
        "Timer(UNSEEN + light.name, light.lag_us, FOREVER)",
    ),
    _recorded("a light may change at will", 'timer if refused else ""', '""'),
    _recorded(
        "a light is only ever expected on",
        "if wanted(light, reads) is (not level):",
        "if wanted(light, reads) and not level:",
    ),
    _recorded(
        "without power the chart still counts",
        "(can_lose_power and not reads[POWERED] and state not in unpowered)",
        "False",
    ),
    _beside("a save is never paid", "beside.owed - (beside.owed < _MOST_OWED)", "beside.owed"),
    _beside(
        "each change of state allows a save", "if signal == STARTED or new == beside.last:", "if signal == STARTED:"
    ),
    _beside("it may wake at will", "refused = refused and not after[at] and", "refused = False and"),
    _beside("a wake that was seen late is none", "not after[at] and not _beside(local).wake_unseen", "not after[at]"),
    _beside(
        "a wake that nobody saw excuses a later one",
        "WOKE_UNSEEN + sleeps.name, sleeps.lag_us, sleeps.lag_us",
        "WOKE_UNSEEN + sleeps.name, 0, FOREVER",
    ),
    _beside("a save may last for ever", "longest + saves.lag_us, longest + saves.lag_us", "0, FOREVER"),
    _beside("the voltage stays where it is", "after = (*held[:-1], voltages[timer])", "after = held"),
    _course(
        "an edge is taken to have come when it was recorded",
        "opens = max(begin, change.at_us - window)",
        "opens = change.at_us",
    ),
    _course(
        "edges may come two samples early",
        "window = what.period_us",
        "window = 2 * what.period_us",
    ),
    _course(
        "a light may lag by a sample more",
        "lag = what.period_us + channel.pulses_us + channel.within_us",
        "lag = 2 * what.period_us + channel.pulses_us + channel.within_us",
    ),
    _course(
        "gaps between pulses count",
        "at = change.at_us if lit else change.at_us + channel.pulses_us",
        "at = change.at_us",
    ),
    _course("a lost cell is passed over", "left_us = next((", "_ = next(("),
    _monitor(
        "time goes on from each change anew",
        "wait = after - before.next_us",
        "wait = after - before.next_us + (number > 0)",
        _LONG_RUN,
    ),
    _monitor(
        "the ruler is lax", 'ruler = Timer("ruler", wait, wait)', 'ruler = Timer("ruler", wait, wait + 1)', _LEAST
    ),
    _monitor(
        "the first class of a situation is enough",
        "if timing in others:\n        return False",
        "if others:\n        return False",
        _OBSERVED,
    ),
    _monitor(
        "what ends isn't noted",
        "self.deaths.append(Death(step.refused, before.next_us - left[1], before.next_us - left[0]))",
        "pass",
    ),
    _joined(
        "what lies between two classes comes in",
        "> other[bound]:",
        "> other[bound] + 1:",
    ),
    _joined(
        "of two classes only one is looked at",
        "        one, other, mine, others = other, one, others, mine\n",
        "        return around\n",
    ),
    _monitor("the budget never ends", "if taken > self.budget:", "if taken < 0:"),
    _outcome(
        "what was allowed is told a lag late",
        "next_us - ruler_after - lag_us, next_us + after_ruler - lag_us",
        "next_us - ruler_after, next_us + after_ruler",
    ),
    _outcome("nothing is evidence", "elif result is Result.CONFORMS and not course.beats:", "elif False:"),
    _recording(
        "times are rounded down",
        "else -(-time.numerator // time.denominator)",
        "else time.numerator // time.denominator",
    ),
    _recording("time may go back", "if at < self.end:", "if at < self.begin:"),
    _recording("a short row is read", "if len(cells) != len(names):", "if len(cells) > len(names):"),
    _recording("any level but 1 is low", 'if cell not in ("0", "1"):', "if not cell:"),
    _vcd("the unit of time is passed over", "return magnitude * _UNITS[unit]", "return _UNITS[unit]"),
    _vcd("an unknown level is low", 'if names and value not in ("0", "1"):', "if not value:"),
    _vcd(
        "a dump may end in an open bracket",
        'memoryview(data + b"\\n")',
        "memoryview(data)",
        READERS + "::test_the_end_of_a_dump_is_the_end_of_a_line",
    ),
    _vcd("scopes are passed over", "self.scopes.append(token.scope.ident)", "pass"),
    _mapping(
        "the other states are all others but the values",
        "left = tuple(value for value in variable.values if value not in taken)",
        "left = ()",
    ),
    _mapping("a pin of sleep tells of states", "if not channel.shows)", ")"),
    _mapping("half a microsecond is left out of the sample period", "int(period.hi)", "period.lo"),
    _mapping("a light may be on and off", "if shared := _overlap(one, other, device):", 'if shared := "":'),
    _mapping("what is recorded may act unseen", "if recorded:", "if recorded is None:"),
)
