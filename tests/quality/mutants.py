"""Faults planted in the engine, one at a time, each a change of source text.

Each one changes what the engine says for some model, or breaks a promise of its docstrings; a change that can't be told
from outside (another order of equally cheap stories, say) isn't in the list.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Mutant:
    """In `module` the text `old` reads `new`; looked for behind the text `within`."""

    name: str
    module: str
    old: str
    new: str
    within: str = ""


def _matrix(name: str, old: str, new: str) -> Mutant:
    return Mutant(name, "matrix", old, new)


def _explore(name: str, old: str, new: str) -> Mutant:
    return Mutant(name, "explore", old, new)


def _passes(name: str, old: str, new: str) -> Mutant:
    return Mutant(name, "passes", old, new)


def _sweep(name: str, old: str, new: str) -> Mutant:
    return Mutant(f"sweep, {name}", "passes", old, new, within="def sweep(")


def _search(name: str, old: str, new: str) -> Mutant:
    return Mutant(f"search, {name}", "passes", old, new, within="def search(")


def _space(name: str, old: str, new: str) -> Mutant:
    return Mutant(name, "space", old, new)


def _step(name: str, old: str, new: str) -> Mutant:
    return Mutant(name, "step", old, new)


def _tables(name: str, old: str, new: str) -> Mutant:
    return Mutant(name, "tables", old, new)


_COLUMN = "matrix[width + i + 1 :: width]"
"""In the copy: what bounds `t_j - t_i`, for each timer j."""

MUTANTS = (
    _matrix(
        "the largest lower bound instead of the smallest",
        "min(matrix[width + i :: width])",
        "max(matrix[width + i :: width])",
    ),
    _matrix(
        "lower bounds from the expired timer only", "lows[k] if k >= 0", "matrix[(first + 1) * width + k + 1] if k >= 0"
    ),
    _matrix("lower bounds from the first timer only", "lows[k] if k >= 0", "matrix[width + k + 1] if k >= 0"),
    _matrix(
        "upper bounds from the wrong column",
        "highs = matrix[width + first + 1 :: width]",
        "highs = matrix[width::width]",
    ),
    _matrix(
        "upper bounds from the row",
        "matrix[width + first + 1 :: width]",
        "matrix[(first + 1) * width + 1 : (first + 2) * width]",
    ),
    _matrix("anyone may be first", "enumerate(lows) if low >= 0]", "enumerate(lows)]"),
    _matrix("only the best placed may be first", "if low >= 0]", f"if sum({_COLUMN}) >= 0]"),
    _matrix("ties lost", "if low >= 0]", f"if min((*{_COLUMN}[:i], *{_COLUMN}[i + 1 :]), default=1) > 0]"),
    _matrix("a later timer loses ties", "if low >= 0]", f"if min((1, *{_COLUMN}[:i])) > 0 <= low]"),
    _matrix("0 counts as a timer", "min(matrix[width + i :: width])", "min(matrix[i::width])"),
    _matrix("looser difference kept", "if difference < row[j]:", "if difference > row[j]:"),
    _matrix("differences forgotten", "for j, other in running:", "for j, other in ():"),
    _matrix("difference of the wrong timers", "start = (k + 1) * width", "start = k * width"),
    _matrix("diagonal not zero", "        row[i] = 0\n", "        pass\n"),
    _matrix("running timers have no time left", "high = highs[k] if k >= 0 else hi", "high = hi"),
    _matrix("running timers owe nothing", "low = [lows[k] if k >= 0 else -lo for", "low = [-lo for"),
    _matrix("new timers owe nothing", "lows[k] if k >= 0 else -lo", "lows[k] if k >= 0 else 0"),
    _matrix("new timers may go at once or never", "highs[k] if k >= 0 else hi", "highs[k] if k >= 0 else -low[i]"),
    _matrix("infinity finite", "highs[k] if k >= 0 else hi", "highs[k] if k >= 0 else min(hi, 10**12)"),
    _matrix(
        "new timers known by their longest time only",
        "else (k, timer.lo, timer.hi) for",
        "else (k, timer.hi, timer.hi) for",
    ),
    _matrix(
        "expiries known by what is armed only",
        "known = self._expiries.get((position, armed))",
        "known = next((known for key, known in self._expiries.items() if key[1] == armed), None)",
    ),
    _matrix(
        "the same follows from every matrix",
        "later = expiry.after.get(timing)",
        "later = next(iter(expiry.after.values()), None)",
    ),
    _matrix("inclusion reversed", "map(le, small, big)", "map(le, big, small)"),
    _matrix("any bound is enough for inclusion", "all(map(le, small, big))", "any(map(le, small, big))"),
    _matrix("everything is included", "return all(map(le, small, big))", "return True"),
    _matrix("nothing is included", "return all(map(le, small, big))", "return False"),
    _matrix(
        "inclusion looks at upper bounds only",
        "map(le, small, big)",
        "map(le, small[:: int(len(big) ** 0.5)], big[:: int(len(big) ** 0.5)])",
    ),
    _matrix("the first bound decides on inclusion", "if includes(other, matrix):", "if matrix:"),
    _matrix("what is smaller is forgotten", "elif includes(matrix, other):", "else:"),
    _matrix(
        "what is included displaces what includes it",
        "                return None\n        elif",
        "                continue\n        elif",
    ),
    _matrix("nothing is displaced", "included.append(other)", "pass"),
    _sweep("the first timer skipped", "for at in timing.firsts:", "for at in timing.firsts[1:]:"),
    _sweep("the last timer skipped", "for at in timing.firsts:", "for at in timing.firsts[:-1]:"),
    _sweep("only the first choice", "known[at] or space.ways_from(number, at):", "space.ways_from(number, at)[:1]:"),
    _sweep("classes without their situation", "onward = (way.target,", "onward = (number,"),
    _sweep(
        "a class goes after itself",
        "number, timing = key = waiting.popleft()",
        "(number, timing), key = first, waiting.popleft()",
    ),
    _sweep("one heap of classes for all situations", "kept.setdefault(number, {})", "kept.setdefault(0, {})"),
    _sweep("no class is remembered", "others[timing.matrix] = len(trail)", "len(trail)"),
    _sweep("what is displaced stays", "others.pop(matrix) for", "others[matrix] for"),
    _sweep("what waits after a displaced class is taken", "if entry[0] in displaced:", "if None in displaced:"),
    _sweep("what waits after any class is dropped", "if entry[0] in displaced:", "if displaced and entry[0] >= 0:"),
    _sweep(
        "what was dropped is dropped for good",
        "whence[onward] = here = (node, at, way)",
        "here = (node, at, way)\n                whence.setdefault(onward, here)",
    ),
    _sweep("one goal only", "missing.difference_update(way.meets)", "missing.clear()"),
    _sweep("a goal stays missing", "missing.difference_update(way.meets)", "pass"),
    _sweep("the goal on the way before", "ends.update((i, here)", "ends.update((i, entry)"),
    _sweep("goals aren't looked for", "if way.meets and not", "if way is None and not"),
    _sweep("budget one too many", "len(trail) < budget", "len(trail) <= budget"),
    _sweep("budget counts what waits", "len(trail) < budget", "len(whence) < budget"),
    _sweep("budget ignored", " and len(trail) < budget", ""),
    _sweep("always complete", "complete = not waiting", "complete = True"),
    _sweep("complete when all is met", "complete = not waiting", "complete = not missing"),
    _sweep("the path through other timers", "here = (node, at, way)", "here = (node, 0, way)"),
    _sweep("the path through the class before", "here = (node, at, way)", "here = (max(node - 1, 0), at, way)"),
    _search("dear steps first", "actions + way.actions,", "actions - way.actions,"),
    _search("actions are free", "actions + way.actions,", "actions,"),
    _search("chatter is free", "chatter + way.chatter,", "chatter,"),
    _search(
        "chatter before actions",
        "least = costs[0]\n",
        "least = min(costs, key=lambda c: (c[1], c[0], c[2]))\n"
        "        costs.insert(0, costs.pop(costs.index(least)))\n",
    ),
    _search("steps are not counted", "steps + 1)", "steps)"),
    _search("longest first", "steps + 1)", "steps - 1)"),
    _search("inclusion before the goal", "if less is None and not met:", "if less is None:"),
    _search("a class once seen meets nothing", "seen <= cost and missing.isdisjoint(way.meets)", "seen <= cost"),
    _search("the first way in stays", "if seen is not None and seen <= cost", "if seen is not None"),
    _search("classes without their situation", "key = (way.target, later)", "key = (0, later)"),
    _search("one heap of classes for all situations", "kept.setdefault(number, {})", "kept.setdefault(0, {})"),
    _search("only the first choice", "in space.ways_from(number, at):", "in space.ways_from(number, at)[:1]:"),
    _search(
        "the last choice skipped",
        "in space.ways_from(number, at):",
        "in space.ways_from(number, at)[:-1] or space.ways_from(number, at):",
    ),
    _search("the first timer skipped", "for at in timing.firsts:", "for at in timing.firsts[1:]:"),
    _search("the last timer skipped", "for at in timing.firsts:", "for at in timing.firsts[:-1]:"),
    _search("one goal only", "missing.difference_update(met)", "missing.difference_update(met and missing.copy())"),
    _search("a goal stays missing", "missing.difference_update(met)", "pass"),
    _search("budget one too many", "len(trail) < budget", "len(trail) <= budget"),
    _search("budget counts what was found", "len(trail) < budget", "len(cheapest) < budget"),
    _search("budget ignored", " and len(trail) < budget", ""),
    _search("always complete", "complete = not costs", "complete = True"),
    _search("complete when all is met", "complete = not costs", "complete = not missing"),
    _search("the path through other timers", "(node, at, way)", "(node, 0, way)"),
    _search("the last class of a cost displaces the others", "if cost not in waiting:", "if cost:"),
    _search("no class is remembered", "others[timing.matrix] = node", "pass"),
    _search("what is displaced stays", "del others[matrix]", "pass"),
    _passes(
        "the path without its last step",
        "parent, position, way = self.ends.get(test, _BEGIN)",
        "parent, position, way = self.trail[self.ends.get(test, _BEGIN)[0]]",
    ),
    _passes("the path backwards", "return tuple(reversed(steps)) if", "return tuple(steps) if"),
    _passes("the path through later situations", "self.where[parent]]", "self.where[parent + 1]]"),
    _explore(
        "all goals are searched for", "for i in looked_for if stories is None or i in stories]", "for i in looked_for]"
    ),
    _explore("what wasn't swept is given up", "if told and not swept.complete else []", "if False else []"),
    _explore("what can't be met is searched for", "if told and not swept.complete else []", "if told else []"),
    _explore(
        "what wasn't swept is searched for if a story is wanted",
        "left = [i for i in looked_for if",
        "left = [i for i in told if",
    ),
    _explore("what was swept gets no story", "[*met, *left], budget", "left, budget"),
    _explore(
        "what a sweep alone left is searched for",
        "if told and not swept.complete else []",
        "if not swept.complete else []",
    ),
    _explore("a sweep alone gets half", "-(-budget // 2) if told else budget", "-(-budget // 2)"),
    _explore("a sweep gets all before a search", "-(-budget // 2) if told else budget", "budget"),
    _explore(
        "any path will do",
        "found.path(space, i) or swept.path(space, i)",
        "swept.path(space, i) or found.path(space, i)",
    ),
    _explore("no path but the cheapest", "found.path(space, i) or swept.path(space, i)", "found.path(space, i)"),
    _explore("every path is the cheapest", "i in found.ends for", "i in swept.ends for"),
    _explore("the sweep isn't counted", "len(swept.trail) + len(found.trail)", "len(found.trail)"),
    _explore("the search isn't counted", "len(swept.trail) + len(found.trail)", "len(swept.trail)"),
    _explore("complete if both are", "swept.complete or found.complete", "swept.complete and found.complete"),
    _explore("complete if the search is", "swept.complete or found.complete", "found.complete"),
    _space(
        "every timer begins anew",
        "self._timers(move.timers), move.kept)",
        "self._timers(move.timers), (-1,) * len(move.kept))",
    ),
    _space("goals looked for before the step", "test(model, situation, move)])", "test(model, move.situation, move)])"),
    _space(
        "situations have one number",
        "number = self.number[situation] = len",
        "number = self.number[situation] = 0 * len",
    ),
    _space("short timers are no time", "expires.hi == 0", "expires.lo == 0"),
    _space("no time is enough time", "expires.hi == 0", "expires.hi < 0"),
    _space("one timeless step remembered", ".setdefault(number, set()).add(way.target)", "[number] = {way.target}"),
    _space(
        "only steps to oneself go round",
        "setdefault(number, set()).add(way.target)",
        "setdefault(number, set()).update({way.target} & {number})",
    ),
    _space(
        "ways of the first timer for all",
        "ways = self.ways[number][position] = tuple(found)",
        "ways = self.ways[number][0] = tuple(found)",
    ),
    _step("restart dropped", "key in restarted", "key in ()"),
    _step(
        "restart restarts all of the part",
        "key in restarted",
        "part in {p for p, _ in restarted}",
    ),
    _step(
        "restart in every part",
        "key in restarted",
        "timer.name in {name for _, name in restarted}",
    ),
    _step("the expired timer runs on", " if i != expired}", "}"),
    _step("nothing runs on", " if i != expired}", " if i < 0}"),
    _step(
        "persistence by name only",
        "{(part, timer.name): i for",
        "{(p, timer.name): i for p in range(len(model.parts)) for",
    ),
    _step("a running timer may change", "is not timer and old != timer:", "is not timer and old is None:"),
    _step(
        "a changed timer begins anew in silence",
        "            name = model.parts[part].name\n",
        "            kept.append(-1)\n            continue\n",
    ),
    _step("last in first out", "letters + option.letters", "option.letters + letters"),
    _step("answers dropped", "letters + option.letters", "letters or option.letters"),
    _step("letters after an answer dropped", "letters + option.letters", "option.letters or letters"),
    _step(
        "receivers see the past",
        "model.on_signal(receiver, signal, now)",
        "model.on_signal(receiver, signal, (*situation[:receiver], now[receiver], *situation[receiver + 1 :]))",
    ),
    _step("hearers choose once", "open_runs += reversed(others)", "open_runs += others[:0]"),
    _step("outcomes in another order", "open_runs += reversed(others)", "open_runs += others"),
    _step("the last choice of a hearer first", "first, *others = _branch(", "*others, first = _branch("),
    _step("first outcomes in another order", "    open_runs.reverse()\n", ""),
    _step("restarts of hearers forgotten", "restarts + option.restarts)", "restarts or option.restarts)"),
    _step("restarts of the first part forgotten", "restarts + option.restarts)", "option.restarts or restarts)"),
    _step(
        "timers of the situation before", "timers = model.armed(after, situation)", "timers = model.armed(situation)"
    ),
    _step(
        "only the first part's actions count",
        "sum([taken.choice.actions for taken in self.taken])",
        "self.taken[0].choice.actions",
    ),
    _step(
        "the last part's chatter counts",
        "sum([taken.choice.chatter for taken in self.taken])",
        "self.taken[-1].choice.chatter",
    ),
    _step("the first choice only", "    open_runs.reverse()\n", "    del open_runs[1:]\n"),
    _tables(
        "timers remembered without the values read", "key = (situation[index], values)", "key = (situation[index],)"
    ),
    _tables("timers remembered without the local state", "key = (situation[index], values)", "key = (values,)"),
    _tables("expiry remembered without the timer", '"expires", timer, values)', '"expires", values)'),
    _tables("expiry remembered without the values", '"expires", timer, values)', '"expires", timer)'),
    _tables("signals remembered without their name", '"hears", signal, values)', '"hears", values)'),
    _tables("signals remembered without the values", '"hears", signal, values)', '"hears", signal)'),
    _tables(
        "timers and signals mixed up",
        '(situation[index], "hears", signal, values)',
        '(situation[index], "expires", "t" + signal[1:], values)',
    ),
    _tables("the first value published for all", "self._owner[name] = (index, slot)", "self._owner[name] = (index, 0)"),
    _tables(
        "the last part arms nothing",
        "tuple([pair for row in rows for pair in row])",
        "tuple([pair for row in rows[:-1] for pair in row])",
    ),
    _tables(
        "parts that read what changed aren't asked again", "if i == index or index in [", "if i == index or None in ["
    ),
    _tables("only readers of what changed are asked again", "if i == index or index in", "if index in"),
    _tables(
        "only what differs is asked again",
        "self._armed_rows.get(before)",
        "next(iter(self._armed_rows.values()), None)",
    ),
    _tables("the timers of the situation before are changed", "rows = known.copy()", "rows = known"),
    _tables(
        "one receiver a signal",
        "for i, part in enumerate(parts) if signal in part.takes)",
        "for i, part in enumerate(parts) if signal in part.takes)[-1:]",
    ),
    _tables(
        "the last receiver first",
        "for receiver in self.receivers.get(signal, ())",
        "for receiver in reversed(self.receivers.get(signal, ()))",
    ),
    _tables(
        "the first receiver only",
        "for receiver in self.receivers.get(signal, ())",
        "for receiver in self.receivers.get(signal, ())[:1]",
    ),
    _tables("the first signal only", "for signal in choice.send for", "for signal in choice.send[:1] for"),
    _tables("each signal once", "for signal in choice.send for", "for signal in dict.fromkeys(choice.send) for"),
    _tables("circles let through", 'raise ModelFault("signals can go', 'return; raise ModelFault("signals can go'),
    _tables(
        "circles looked for one step deep",
        "after.update((receiver, answer) for receiver in self.receivers.get(answer, ()))",
        "after.update((i, answer) for i in self.receivers.get(answer, ()) if i == index)",
    ),
    _tables("no choice let through", "    if not row:\n", "    if row is None:\n"),
    _tables("unsaid signals let through", "if signal not in allowed:", "if signal is None:"),
    _tables("empty intervals let through", "timer.lo > timer.hi or", ""),
    _tables("times before now let through", "timer.lo < 0 or", ""),
    _tables(
        "two timers of one name let through", "if len({timer.name for timer in row}) != len(row):", "if row is None:"
    ),
    _tables("two publishers let through", "if name in self._owner:\n", "if name is None:\n"),
    _tables(
        "two parts of one name let through", "if len({part.name for part in parts}) != len(parts):", "if not parts:"
    ),
)
