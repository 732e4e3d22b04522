"""Faults planted in the engine, one at a time, each a change of source text.

Each one changes what the engine says for some model, or breaks a promise of its docstrings; a change that can't be told
from outside (another order of equally cheap stories, say) isn't in the list.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Mutant:
    """In `module` the text `old` reads `new`."""

    name: str
    module: str
    old: str
    new: str


def _matrix(name: str, old: str, new: str) -> Mutant:
    return Mutant(name, "matrix", old, new)


def _explore(name: str, old: str, new: str) -> Mutant:
    return Mutant(name, "explore", old, new)


def _step(name: str, old: str, new: str) -> Mutant:
    return Mutant(name, "step", old, new)


def _tables(name: str, old: str, new: str) -> Mutant:
    return Mutant(name, "tables", old, new)


MUTANTS = (
    _matrix("the largest lower bound instead of the smallest", "map(min, *rows)", "map(max, *rows)"),
    _matrix(
        "lower bounds from the expired timer only", "tuple(map(min, *rows)) if n > 1 else rows[0]", "rows[first - 1]"
    ),
    _matrix("lower bounds from the first timer only", "tuple(map(min, *rows)) if n > 1 else rows[0]", "rows[0]"),
    _matrix("upper bounds from the wrong column", "highs = matrix[first::width]", "highs = matrix[::width]"),
    _matrix("upper bounds from the row", "matrix[first::width]", "matrix[first * width : first * width + width]"),
    _matrix("anyone may be first", "return min(column) >= 0", "return True"),
    _matrix("only the best placed may be first", "return min(column) >= 0", "return sum(column) >= 0"),
    _matrix(
        "ties lost", "return min(column) >= 0", "return min((*column[: first - 1], *column[first:]), default=1) > 0"
    ),
    _matrix(
        "a later timer loses ties",
        "return min(column) >= 0",
        "return min((1, *column[: first - 1])) > 0 <= min(column)",
    ),
    _matrix("0 counts as a timer", "column = matrix[width + first :: width]", "column = matrix[first::width]"),
    _matrix("looser difference kept", "matrix[start + other] < row[j]", "matrix[start + other] > row[j]"),
    _matrix("differences forgotten", "if other >= 0 and matrix", "if other < -1 and matrix"),
    _matrix("difference of the wrong timers", "start = (k + 1) * width + 1", "start = k * width + 1"),
    _matrix("diagonal not zero", "        row[i] = 0\n", "        pass\n"),
    _matrix("running timers get all their time back", "high = highs[k + 1] if k >= 0 else timer.hi", "high = timer.hi"),
    _matrix(
        "running timers owe all their time again", "low = [lows[k + 1] if k >= 0 else -timer.lo", "low = [-timer.lo"
    ),
    _matrix("new timers owe nothing", "lows[k + 1] if k >= 0 else -timer.lo", "lows[k + 1] if k >= 0 else 0"),
    _matrix("new timers may go at once or never", "if k >= 0 else timer.hi", "if k >= 0 else timer.lo"),
    _matrix("infinity finite", "if k >= 0 else timer.hi", "if k >= 0 else min(timer.hi, 10**12)"),
    _matrix("inclusion reversed", "map(le, small, big)", "map(le, big, small)"),
    _matrix("any bound is enough for inclusion", "all(map(le, small, big))", "any(map(le, small, big))"),
    _matrix("everything is included", "return all(map(le, small, big))", "return True"),
    _matrix("nothing is included", "return all(map(le, small, big))", "return False"),
    _matrix(
        "inclusion looks at upper bounds only",
        "map(le, small, big)",
        "map(le, small[:: int(len(big) ** 0.5)], big[:: int(len(big) ** 0.5)])",
    ),
    _explore("dear steps first", "actions + onward.actions,", "actions - onward.actions,"),
    _explore("actions are free", "actions + onward.actions,", "actions,"),
    _explore("chatter is free", "chatter + onward.chatter,", "chatter,"),
    _explore(
        "chatter before actions", "heappush(heap, (*cost, serial,", "heappush(heap, (cost[1], cost[0], cost[2], serial,"
    ),
    _explore("steps are not counted", "steps + 1)", "steps)"),
    _explore("longest first", "steps + 1)", "steps - 1)"),
    _explore("inclusion before the goal", "if not met and any(", "if any("),
    _explore(
        "a class once seen meets nothing",
        "seen <= cost and all(ends[i] is not None for i in onward.meets)",
        "seen <= cost",
    ),
    _explore("the first way in stays", "if seen is not None and seen <= cost", "if seen is not None"),
    _explore("classes without their situation", "key = (onward.target, later)", "key = (0, later)"),
    _explore("one heap of classes for all situations", "kept.setdefault(number, [])", "kept.setdefault(0, [])"),
    _explore(
        "only the first choice", "onward in space.ways_from(number, at):", "onward in space.ways_from(number, at)[:1]:"
    ),
    _explore(
        "the last choice skipped",
        "onward in space.ways_from(number, at):",
        "onward in space.ways_from(number, at)[:-1] or space.ways_from(number, at):",
    ),
    _explore("the first timer skipped", "for at in range(n):", "for at in range(1, n):"),
    _explore("the last timer skipped", "for at in range(n):", "for at in range(n - 1):"),
    _explore(
        "every timer begins anew", "onward.timers, onward.move.kept)", "onward.timers, (-1,) * len(onward.timers))"
    ),
    _explore("one goal only", "missing = ends.count(None)", "missing = 1"),
    _explore("a goal met twice counts twice", "if ends[i] is None]", "]"),
    _explore(
        "goals looked for before the step",
        "test(self.model, situation, move)",
        "test(self.model, move.situation, move)",
    ),
    _explore("budget one too many", "len(trail) < budget", "len(trail) <= budget"),
    _explore("budget counts what was found", "len(trail) < budget", "serial < budget"),
    _explore("budget ignored", "and len(trail) < budget", ""),
    _explore("always complete", "complete = not heap", "complete = True"),
    _explore("complete when all is met", "complete = not heap", "complete = not missing"),
    _explore("the path without its last step", "entry = trail[end]", "entry = trail[trail[end][0]]"),
    _explore("the path backwards", "return tuple(reversed(steps))", "return tuple(steps)"),
    _explore("the path through other timers", "(parent, position, way.move)", "(parent, 0, way.move)"),
    _explore("the path through later situations", "where[parent]", "where[parent + 1]"),
    _explore("short timers are no time", "[position].hi == 0", "[position].lo == 0"),
    _explore("no time is enough time", "[position].hi == 0", "[position].hi < 0"),
    _explore("one timeless step remembered", ".setdefault(number, set()).add(way.target)", "[number] = {way.target}"),
    _explore(
        "only steps to oneself go round",
        "setdefault(number, set()).add(way.target)",
        "setdefault(number, set()).update({way.target} & {number})",
    ),
    _step("restart dropped", "if (part, timer.name) in restarted:", "if (part, timer.name) in ():"),
    _step(
        "restart restarts all of the part",
        "if (part, timer.name) in restarted:",
        "if part in {p for p, _ in restarted}:",
    ),
    _step(
        "restart in every part",
        "if (part, timer.name) in restarted:",
        "if timer.name in {name for _, name in restarted}:",
    ),
    _step("the expired timer runs on", " if i != expired}", "}"),
    _step("nothing runs on", " if i != expired}", " if i < 0}"),
    _step(
        "persistence by name only",
        "{(part, timer.name): (i, timer) for",
        "{(p, timer.name): (i, timer) for p in range(len(model.parts)) for",
    ),
    _step("a running timer may change", "elif old != timer:", "elif old is None:"),
    _step(
        "a changed timer begins anew in silence",
        "elif old != timer:\n",
        "elif old != timer and (position := -1):\n            position = -1\n        elif old is None:\n",
    ),
    _step(
        "last in first out",
        "rest + _deliveries(model, branch_taken[-1].choice)",
        "_deliveries(model, branch_taken[-1].choice) + rest",
    ),
    _step("answers dropped", "rest + _deliveries(model, branch_taken[-1].choice)", "rest"),
    _step(
        "letters after an answer dropped",
        "rest + _deliveries(model, branch_taken[-1].choice)",
        "_deliveries(model, branch_taken[-1].choice) or rest",
    ),
    _step(
        "the last receiver first",
        "for receiver in model.receivers.get(signal, ()))",
        "for receiver in reversed(model.receivers.get(signal, ())))",
    ),
    _step("the first receiver only", "model.receivers.get(signal, ()))", "model.receivers.get(signal, ())[:1])"),
    _step("the first signal only", "for signal in choice.send for", "for signal in choice.send[:1] for"),
    _step("each signal once", "for signal in choice.send for", "for signal in dict.fromkeys(choice.send) for"),
    _step(
        "receivers see the past",
        "model.on_signal(receiver, signal, now)",
        "model.on_signal(receiver, signal, (*situation[:receiver], now[receiver], *situation[receiver + 1 :]))",
    ),
    _step("hearers choose once", "in reversed(branches):", "in branches[:1]:"),
    _step("outcomes in another order", "in reversed(branches):", "in branches:"),
    _step("restarts of hearers forgotten", "restarted | branch_restarted", "restarted"),
    _step("restarts of the first part forgotten", "restarted | branch_restarted", "branch_restarted"),
    _step("timers of the situation before", "timers = model.armed(after)", "timers = model.armed(situation)"),
    _step(
        "only the first part's actions count",
        "sum(taken.choice.actions for taken in self.taken)",
        "self.taken[0].choice.actions",
    ),
    _step(
        "the last part's chatter counts",
        "sum(taken.choice.chatter for taken in self.taken)",
        "self.taken[-1].choice.chatter",
    ),
    _step("the first choice only", "for run in first)", "for run in first[:1])"),
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
        "tuple([(i, timer) for i in range(len(self.parts))",
        "tuple([(i, timer) for i in range(len(self.parts) - 1)",
    ),
    _tables(
        "one receiver a signal",
        "for i, part in enumerate(parts) if signal in part.takes)",
        "for i, part in enumerate(parts) if signal in part.takes)[-1:]",
    ),
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
