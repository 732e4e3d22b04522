"""Faults in the times of stories, in certificates and their audit, and in how a verdict is weighed."""

from __future__ import annotations

from tests.quality.planted.fault import (
    CERTIFICATE,
    CLOSEST,
    EFFORT,
    HAZARDS,
    PROMISES,
    RHYTHM,
    STORIES,
    TAKES,
    WHERE,
    into,
)

ANSWERED = "tests/test_answers.py"
WEIGHED = "tests/test_weigh.py"
RUNS = "tests/engines/test_concrete.py"

_story = into("engines/story", STORIES)
_audit = into("engines/audit", CERTIFICATE)
_certificate = into("engines/certificate", CERTIFICATE)
_encoding = into("engines/encoding", CERTIFICATE)
_concrete = into("engines/concrete", STORIES)
_answers = into("answers", ANSWERED)
_weigh = into("weigh", WEIGHED)
_where = into("where", "tests/test_where.py", WHERE)
_needs = into("needs", "tests/test_needs.py", TAKES)
_closest = into("closest", CLOSEST)
_rhythm = into("rhythm", RHYTHM)

FAULTS = (
    _story("steps come in any order", "edges.append((now, now - 1, 0))", "pass"),
    _story(
        "what runs on never falls due",
        "if timer.hi != timer.hi + 1:  # finite",
        "if i == step.position and timer.hi != timer.hi + 1:",
    ),
    _story(
        "every timer begins anew at each step",
        "since = [since[k] if k >= 0 else now",
        "since = [now if k >= 0 else now",
    ),
    _story("all of the room is kept", "room // 2 for", "room for"),
    _story("room is kept before an action only", "max(rooms.get(i, 0), rooms.get(j, 0))", "rooms.get(j, 0)"),
    _story("the finest grid first", "for digit in (5, 2, 1)", "for digit in (1, 2, 5)"),
    _story("a grid wider than half a second", "for exponent in range(5, -1, -1)", "for exponent in range(6, -1, -1)"),
    _story(
        "what room is left goes to nobody",
        "for level in (ROOM_ENOUGH_US, ROOM_ENOUGH_US // 2, ROOM_ENOUGH_US // 4, ROOM_ENOUGH_US // 10):",
        "for level in ():",
    ),
    _story("more room than a hand can use", "low, high = 0, ROOM_ENOUGH_US", "low, high = 0, 2 * ROOM_ENOUGH_US"),
    _story(
        "times are rounded down to the grid",
        "times[i] = -(-times[i] // grid) * grid",
        "times[i] = times[i] // grid * grid",
    ),
    _story(
        "what is forced takes room all the same",
        "loose = [(i, j, c) for i, j, c in edges if d[i][j] + d[j][i] > 0]",
        "loose = list(edges)",
    ),
    _story("the last bound of two counts", "d[i][j] = min(d[i][j], c)", "d[i][j] = c", TAKES),
    _story(
        "the least of a length is none",
        "return int(-d[end][begin]), d[begin][end]",
        "return 0, d[begin][end]",
        TAKES,
        RHYTHM,
    ),
    _story(
        "times that contradict each other are times",
        "return times if times[0] == 0 else None\n    return None",
        "return times\n    return times",
        RHYTHM,
        CLOSEST,
        within="def _earliest(",
    ),
    _story(
        "the room of the roomiest action is told", "min(rooms.values(), default=0)", "max(rooms.values(), default=0)"
    ),
    _audit(
        "a timing that no class includes is let through",
        "if not any(_within(bounds, member) for member in closed[key]):",
        "if not closed[key]:",
    ),
    _audit("one bound within is enough", "return all(a <= b for one", "return any(a <= b for one"),
    _audit(
        "nobody asks whether the step can happen",
        "if _ask(test, model, situation, move):",
        "if _ask(test, model, situation, move) is None:",
    ),
    _audit(
        "only the first class is followed",
        "for member in closed[key]]\n            if not any",
        "for member in closed[key][:1]]\n            if not any",
    ),
    _audit(
        "only the first outcome is followed",
        "for move in _ask(expire, model, situation, position):",
        "for move in _ask(expire, model, situation, position)[:1]:",
    ),
    _audit(
        "only the first timer expires",
        "for position, (_, timer) in enumerate(model.armed(situation)):",
        "for position, (_, timer) in enumerate(model.armed(situation)[:1]):",
    ),
    _audit("what nothing leads to is let through", "if len(known) != len(members):", "if len(known) > len(members):"),
    _audit("time may stop", "if timer.hi == 0:", "if timer.hi < 0:"),
    _audit("no cycle is one", "if not targets & timeless.keys()]", "if key]"),
    _audit("an expiry comes when it likes", "*(min(bound, 0) for bound in member[first][1:])", "*member[first][1:]"),
    _audit("nothing contradicts itself", "if any(row[i] < 0 for i, row in enumerate(bounds)):", "if not bounds:"),
    _audit(
        "new timers never fall due",
        "bounds[i][0], bounds[0][i] = timer.hi, -timer.lo",
        "bounds[i][0], bounds[0][i] = FOREVER, -timer.lo",
    ),
    _audit(
        "new timers may expire at once",
        "bounds[i][0], bounds[0][i] = timer.hi, -timer.lo",
        "bounds[i][0], bounds[0][i] = timer.hi, 0",
    ),
    _audit(
        "a certificate may be about something else",
        "if json.dumps(found[key], sort_keys=True) != json.dumps(value, sort_keys=True):",
        "if key not in found:",
    ),
    _audit("bounds of any size", " or abs(entry) > LARGEST", ""),
    _audit("a key may be given twice", "if len(dict(pairs)) != len(pairs):", "if not isinstance(pairs, list):"),
    _audit("a matrix of another width is no refusal", "if len(bounds) != width:", "if not bounds:"),
    _audit(
        "two situations of one text",
        "if known[key] != situation:",
        "if key not in known:",
        same="values that differ have texts that differ, as the tests of texts show; it stands guard, should that be lost",
    ),
    _certificate("what wasn't looked at in full is certified", "if not seen.complete or seen", "if seen"),
    _certificate("what was found is certified", "seen.paths[goal] is not None or ", ""),
    _certificate("absence is certified where time stops", "seen.stuck or not seen.kept", "not seen.kept"),
    _certificate(
        "smaller classes are written too",
        "if not any(includes(other, matrix) for other in kept):",
        "if matrix not in kept:",
    ),
    _certificate("the largest classes are left out", "sorted(set(matrices), reverse=True)", "sorted(set(matrices))"),
    _encoding(
        "a set is written in any order",
        "sorted(map(encode, value))",
        "map(encode, value)",
        "tests/quality/test_certificates.py::test_the_bytes_hang_on_no_order_of_sets",
    ),
    _encoding("texts are written as they stand", "return json.dumps(value)", "return value"),
    _encoding(
        "the last field of a value is left out",
        "for field in fields(value))\n        return f",
        "for field in fields(value)[:-1])\n        return f",
    ),
    _encoding("a certificate doesn't say who acts", "plain(claim.environment)", "type(claim.environment).__name__"),
    _concrete("a timer may be late", "if self.now + us > since + timer.hi:", "if us > since + timer.hi:", RUNS),
    _concrete(
        "a timer may be early",
        "if since + timer.lo <= self.now <= since + timer.hi",
        "if self.now <= since + timer.hi",
        RUNS,
    ),
    _concrete("what runs on begins anew", "self.since[k] if k >= 0 else self.now", "self.now", RUNS),
    _concrete("time runs backwards", "if us < 0:", "if us is None:", RUNS),
    _answers(
        "a wider environment settles without having been looked at in full",
        "if not seen.complete or seen.stuck:",
        "if seen.stuck:",
    ),
    _answers(
        "a wider environment settles though time stops there",
        "if not seen.complete or seen.stuck:",
        "if not seen.complete:",
    ),
    _answers(
        "a wider environment settles what happens there",
        "if seen.paths[number] is None:\n                self._settled",
        "if number >= 0:\n                self._settled",
    ),
    _answers(
        "what is accepted is a failure",
        "_within(self.question.looked_for, states, inside=False) if states",
        "self.question.looked_for if states",
        PROMISES,
    ),
    _answers(
        "where one state is accepted all are",
        '(model.value(before, "state") in states) == inside and test(',
        "inside and test(",
    ),
    _answers(
        "an accepted way into a waiting state settles all that follows",
        ' and model.value(move.situation, "state") not in waiting',
        "",
    ),
    _answers(
        "an entry of `accepts` isn't needed though the effort ran out",
        "else (False if seen.complete else None)",
        "else False",
    ),
    _answers(
        "of an entry of `accepts` the last question decides",
        "True if True in known else None if None in known else False",
        "met",
    ),
    _answers(
        "later questions get no effort",
        "budget = max(self.least, min(most, self.left))",
        "budget = min(most, self.left)",
    ),
    _answers(
        "without chatter half of what must come up is enough",
        "if all(path is not None for path in seen.paths[place : place + len(own)]):",
        "if any(path is not None for path in seen.paths[place : place + len(own)]):",
    ),
    _answers(
        "each question has the first one's answer",
        "return list(accumulate((len(own) for own in tests[:-1]), initial=0))",
        "return [0 for own in tests]",
    ),
    _answers(
        "entries of other hazards are accepted",
        "if entry.hazard == question.hazard and question.by in entry.by)",
        "if question.by in entry.by)",
        PROMISES,
    ),
    _weigh(
        "what ran out holds", "elif not seen.complete and not (settled and all(came_up)):", "elif not seen.classes:"
    ),
    _weigh(
        "what ran out never came up",
        "not seen.complete and not (settled and all(came_up)):",
        "not seen.complete and not settled:",
    ),
    _weigh(
        "what is stuck never came up", "seen.stuck and not (settled and all(came_up)):", "seen.stuck and not settled:"
    ),
    _weigh(
        "what holds where time stops holds",
        "elif seen.stuck and not (settled and all(came_up)):",
        "elif seen.stuck and settled:",
    ),
    _weigh("what never came up holds", "elif any(way is None for way in came_up):", "elif not seen.classes:"),
    _weigh(
        "of several that must come up one is enough",
        "elif any(way is None for way in came_up):",
        "elif came_up and all(way is None for way in came_up):",
    ),
    _weigh(
        "a story out of rhythm is none",
        "if path is not None and story is None:",
        "if path is None and story is not None:",
        RHYTHM,
    ),
    _weigh(
        "what should happen and can't holds",
        'elif not question.unwanted:\n        verdict, evidence = Verdict.BROKEN, "proof"',
        'elif not question.unwanted:\n        verdict, evidence = Verdict.HOLDS, "proof"',
        HAZARDS,
    ),
    _weigh(
        "what is undecided below counts as holding",
        "known = {Verdict.HOLDS: True,",
        "known = {Verdict.HOLDS: True, Verdict.UNDECIDED: True,",
    ),
    _weigh(
        "what never came up below counts as holding",
        "known = {Verdict.HOLDS: True,",
        "known = {Verdict.HOLDS: True, Verdict.VACUOUS: True,",
    ),
    _weigh(
        "a conclusion that isn't known holds",
        "None: Verdict.UNDECIDED}[conclusion.holds]",
        "None: Verdict.HOLDS}[conclusion.holds]",
    ),
    _weigh(
        "every story is told to be the shortest",
        "shortest=cheapest and _actions(path) == least",
        "shortest=True",
        RHYTHM,
        EFFORT,
    ),
    _where(
        "what wasn't looked at in full happens on every specimen",
        'EVERY if seen.complete and not seen.stuck else ""',
        "EVERY",
    ),
    _where(
        "two sources on one contact are played as one",
        "if not edges or overlap(edges) or _weak_cells(story) > 1:",
        "if not edges:",
    ),
    _where("what still acts at the end goes on for ever", "sorted((*edges, *_endings(model, story)))", "sorted(edges)"),
    _where(
        "what still acts at the end stops as soon as it may",
        "begun + int(timer.hi), button",
        "begun + int(timer.lo), button",
    ),
    _where(
        "what was played before the device was left came after",
        "if beat.actions and not model.value(beat.before, LEFT)]",
        "if not beat.actions]",
    ),
    _where(
        "an escape doesn't count",
        "if seen.paths[0] is not None:",
        "if seen.paths[0] is not None and not seen.complete:",
    ),
    _needs("a bound is moved to where the story was", "Span(int(bound) + 1, FOREVER)", "Span(int(bound), FOREVER)"),
    _needs("a press that is never let go has a longest length", "FOREVER if unfinished else high", "high"),
    _needs("a bound that wasn't found out is proved", "return bound if found.complete else None", "return bound"),
    _needs(
        "what wasn't looked at in full can't be done",
        "return Takes(state, (), seen.complete and not seen.stuck)",
        "return Takes(state, (), True)",
    ),
    _needs("lower bounds are a microsecond low", "Span(0, int(bound) - 1)", "Span(0, int(bound) - 2)"),
    _needs("any story will do for the fewest presses", "if not seen.least[0]:", "if not seen.least:"),
    _needs("the pause is taken for the press", "begin = marks[place]", "begin = marks[max(place - 1, 0)]"),
    _closest("a story out of rhythm breaks", "state.breaks = None", "pass", within="def search"),
    _closest("what ran out keeps", "elif seen.complete and not seen.stuck:", "elif not seen.stuck:"),
    _closest(
        "what keeps where time stops keeps",
        "elif seen.complete and not seen.stuck:",
        "elif seen.complete:",
        CLOSEST + "::test_where_time_stops_nothing_is_found_out",
    ),
    _closest(
        "bounds from below are widened upwards",
        "if self.longest else self.stated_us - by",
        "if self.longest else self.stated_us + by",
    ),
    _closest("nothing is widened above", "max(timer.hi, value)", "timer.hi"),
    _closest("nothing is widened below", "min(timer.lo, int(value))", "timer.lo"),
    _closest("a story isn't tightened", "while high - low > 1:", "while high < low:"),
    _closest("two microseconds inside is near enough", "return self.breaks - 1\n", "return self.breaks - 2\n"),
    _closest(
        "the bound that breaks is told as the one that keeps",
        "keeps = limit.at(state.keeps)",
        "keeps = limit.at(state.breaks or state.keeps)",
    ),
    _rhythm("two samples may be one", "_Link(last, end, every, 1)", "_Link(last, end, every, 0)"),
    _rhythm("the rhythm outlasts sleep", 'if kind == "break":', 'if kind == "":'),
    _rhythm("no rhythm goes on in sleep", "button, rule.keeps_rhythm)", "button, keeps=False)"),
    _rhythm("a level that no sample found lies anywhere", ", (begin, before, 0), (after, end, 0)]", "]"),
    _rhythm(
        "before the first sample a level may be missed for any time",
        "edges += [(begin, count, int(every.hi)), (count, end, 0)]",
        "edges += [(count, end, 0)]",
    ),
    _rhythm("periods are as short as can be", "periods * int(link.every.hi)", "periods * link.every.lo"),
    _rhythm("fixed times are free", "edges += [(0, number, at), (number, 0, -at)]", "pass"),
    _rhythm(
        "every path has a rhythm",
        "return None if tied is None else Also(",
        "return NOTHING_MORE if tied is None else Also(",
    ),
)
