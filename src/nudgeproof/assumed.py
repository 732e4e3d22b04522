"""What the verdicts hang on: every default and every stated guess, varied alone, and the questions asked again.

A guess is what a spec can only say after measuring: how long a contact chatters, how far a clock is off, how people press
and what else does. Each is given other plausible values, one at a time, in the text; the text is read anew and what it can
have a bearing on is asked again. Those on which a verdict hangs are to be measured first. That none hangs on a guess says so
of the values tried, and of this one guess by itself.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from nudgeproof.again import Key, ask_again, change, key_of
from nudgeproof.answers import Progress
from nudgeproof.parts.people import PERSON
from nudgeproof.questions.ask import Question
from nudgeproof.spec.edit import Edit, Path, Places, Spot, tell
from nudgeproof.spec.presets import HABIT
from nudgeproof.spec.types import Device, Disturbance, Outage
from nudgeproof.units import loosen, scale
from nudgeproof.verdict import Finding, Guess, Guesses, Report, Turned, Varied, Verdict

CHECKS = 8
"""How many times the effort of one check all guesses of a spec may take together."""

_Vary = Callable[[str, Device], Iterable[str | None]]


@dataclass(frozen=True, slots=True)
class _Row:
    """Values that may be guesses: the key `key` of every mapping at `path`.

    `defaults`: only where it is assumed; what is stated is a decision. `vary`: gives other plausible words for these.
    `short`: the key in whose place something shorter than keys may stand, if that is allowed there.
    """

    path: Path
    key: str
    vary: _Vary
    defaults: bool = False
    short: str = HABIT


def _words(*others: str) -> _Vary:
    return lambda words, device: others


def _times(*factors: Fraction | int) -> _Vary:
    return lambda words, device: [scale(words, Fraction(factor), Fraction(factor)) for factor in factors]


def _ends(low: Fraction, high: Fraction | int) -> _Vary:
    return lambda words, device: [scale(words, Fraction(1), Fraction(high)), scale(words, low, Fraction(1))]


def _looser(percent: int) -> _Vary:
    return lambda words, device: [loosen(words, percent)]


def _both(*ways: _Vary) -> _Vary:
    return lambda words, device: [other for way in ways for other in way(words, device)]


def _other_states(words: str, device: Device) -> Iterable[str]:
    return [state.name for state in device.states if not state.waiting][:_MOST_STATES]


_MOST_STATES = 4
_HALF = Fraction(1, 2)
_PEOPLE = _times(Fraction(6, 5), Fraction(4, 5))

_ROWS = (
    _Row(("buttons", "*"), "bounce", _both(_words("up to 0 ms"), _times(2), _words("up to 20 ms"))),
    _Row(("buttons", "*"), "edges apart", _words("at least 1 us", "at least 1 ms")),
    _Row(("buttons", "*"), "debounce", _looser(10)),
    _Row(("buttons", "*"), "lockout", _looser(10)),
    _Row(("buttons", "*"), "samples", _looser(10)),
    _Row(("variables", "*"), "at the ends", _words("wrap", "stop"), defaults=True, short="values"),
    _Row((), "queue", _words("1", "2", "8"), defaults=True),
    _Row((), "clock", _words("{off by: 5 %}", "{off by: 10 %}"), defaults=True),
    _Row(("clock",), "off by", _words("0 %", "5 %", "10 %")),
    _Row(("states", "**", "sleep"), "ready in", _both(_times(2), _looser(50))),
    _Row(("states", "**", "sleep"), "dozes again after", _looser(20)),
    _Row(("states", "**", "sleep"), "each step", _words("up to 0 us", "up to 100 us", "up to 1 ms")),
    _Row(("person",), "tap", _PEOPLE),
    _Row(("person",), "between", _PEOPLE),
    _Row(("person",), "hold", _PEOPLE),
    _Row(("person",), "answers within", _PEOPLE),
    _Row(("person",), "fingers", _words("1", "2"), defaults=True),
    _Row(("person",), "together", _times(_HALF, 2)),
    _Row(("surroundings", "*"), "closes *", _ends(_HALF, 2)),
    _Row(("surroundings", "*"), "then open at least", _both(_times(_HALF), _words("0 ms", "300 ms"))),
    _Row(("surroundings", "*"), "cell gone", _ends(_HALF, 2)),
    _Row(("surroundings", "*"), "then steady at least", _both(_times(_HALF), _words("0 ms", "1 s"))),
    _Row(("surroundings", "*"), "then none for at least", _both(_times(_HALF), _words("0 ms", "300 ms"))),
    _Row(("surroundings", "*"), "meant", _words("true", "false"), defaults=True),
    _Row(("events", "*"), "wakes and counts", _words("true", "false"), defaults=True),
    _Row(("cell",), "read every", _looser(10)),
    _Row(("states", "**"), "busy", _times(_HALF, 2)),
    _Row(("supply",), "hold-up", _both(_times(_HALF, 2), _looser(20))),
    _Row(("memory",), "write takes", _both(_times(2), _looser(20))),
    _Row(("memory",), "written", _words("at once", "after 1 s of quiet"), defaults=True),
    _Row(("memory",), "while writing", _words("listens", "deaf"), defaults=True),
    _Row(("memory",), "may lose", _words("nothing", "the last 10 ms"), defaults=True),
    _Row(("power up",), "takes", _both(_times(_HALF, 2), _looser(20))),
    _Row(("power up",), "if blank", _other_states, defaults=True),
    _Row(("power up",), "if damaged", _other_states, defaults=True),
    _Row(("power up",), "button held", _words("ignored until released", "counts as a press"), defaults=True),
)


@dataclass(frozen=True, slots=True)
class _Found:
    """A guess of this spec: where it stands or would stand, and other words to try, each with its edit."""

    path: Path
    line: int
    words: str
    assumed: bool
    edits: tuple[tuple[str, Edit], ...]

    @property
    def told(self) -> str:
        return tell(self.path, self.words)


def rank(device: Device, report: Report, budget: int, each: int, progress: Progress | None = None) -> Report:
    """The report with its guesses; `budget`: classes to keep in all, `each`: for one value at most."""
    before = {key_of(finding): finding for finding in report.findings}
    guesses = []
    found, untried = _guesses(device)
    for number, one in enumerate(found, start=1):
        varied = []
        for words, edit in one.edits:
            told = None if progress is None else _counted(progress, f"guess {number} of {len(found)}")
            if budget <= 0:
                break
            tried, spent = _vary(device, one, words, edit, before, min(each, budget), told)
            budget -= spent
            varied += [tried] if tried is not None else []
        if varied:
            guesses.append(Guess(one.told, one.line, one.assumed, tuple(varied)))
        else:
            untried.append(one.told)
    ranked = sorted(guesses, key=lambda guess: (*_weight(guess), guess.line, guess.told))
    return replace(report, guesses=Guesses(tuple(ranked), tuple(untried)))


def _counted(progress: Progress, which: str) -> Progress:
    return lambda environment, classes: progress(f"{which}, {environment}", classes)


def _weight(guess: Guess) -> tuple[int, int]:
    """Less is more urgent: first by the questions that hold and would not, then by all that turn."""
    turned = {(t.hazard, t.subject): t for varied in guess.varied for t in varied.turned}
    return -sum(t.was is Verdict.HOLDS for t in turned.values()), -len(turned)


def _guesses(device: Device) -> tuple[list[_Found], list[str]]:
    """All guesses of a spec in the order of the table, and the assumptions that no row knows."""
    places = Places(device.lines)
    left = {(assumption.at.line, assumption.text) for assumption in device.assumptions}
    found = []
    for row in (*_ROWS, *_own_times(device)):
        for spot in places.find(*row.path):
            keys = [key for key in spot.keys or () if key == row.key or _starts(key, row.key)]
            for key in keys if not row.defaults else ():
                there = places.spots[(*spot.path, key)]
                others = _others(row, there.words, device)
                edits = tuple((words, places.put(there, words)) for words in others)
                found.append(_Found(there.path, there.line, there.words, False, edits))
            assumed = None if keys else _assumption(device, spot, row.key)
            if assumed is not None:
                others = _others(row, assumed[2], device)
                if others:  # a device of one state can start in no other
                    left.discard((assumed[0], assumed[1]))
                edits = tuple((words, _state(places, spot, row, words)) for words in others)
                found.append(_Found((*spot.path, row.key), assumed[0], assumed[2], True, edits))
    return [one for one in found if one.edits], [text for _, text in sorted(left)]


def _own_times(device: Device) -> tuple[_Row, ...]:
    """A row for each gesture that this person holds for a time of its own."""
    names = [name for name, _ in device.person.holds] if device.person is not None else []
    return tuple(_Row(("person",), name, _PEOPLE) for name in names)


def _starts(key: str, pattern: str) -> bool:
    return pattern.endswith("*") and key.startswith(pattern[:-1])


def _others(row: _Row, words: str, device: Device) -> list[str]:
    return [other for other in dict.fromkeys(row.vary(words, device)) if other is not None and other != words]


def _assumption(device: Device, spot: Spot, key: str) -> tuple[int, str, str] | None:
    """Line, text and value of what was assumed for a key that a mapping doesn't have."""
    for assumption in device.assumptions:
        text = assumption.text
        # A preset gives its lines from where it is named, each with the name of the section it belongs to.
        is_here = not spot.path or assumption.at.line == spot.line or f"({spot.path[-1]}, as " in text
        if spot.path[:1] == ("variables",):
            is_here = text.endswith(f"(variable {spot.path[-1]})")
        if text.startswith(f"{key}: ") and is_here:
            return assumption.at.line, text, text.removeprefix(f"{key}: ").split(" (", 1)[0]
    return None


def _state(places: Places, spot: Spot, row: _Row, words: str) -> Edit:
    """The edit that states what is assumed; where something shorter stands in place of a mapping, beside it."""
    if spot.keys is None:
        return places.put(spot, f"{{{row.short}: {places.source(spot)}, {row.key}: {words}}}")
    return places.add(spot, row.key, words)


def _vary(
    device: Device,
    one: _Found,
    words: str,
    edit: Edit,
    before: dict[Key, Finding],
    budget: int,
    progress: Progress | None,
) -> tuple[Varied | None, int]:
    """One guess with another value, and the classes it took; None if the spec makes no sense with it."""
    changed = change(device, (edit,))
    touched, hazards = _touched(device, one.path), frozenset(hazard for hazard, _ in before)
    again = None if changed is None else ask_again(changed, budget, progress, hazards=hazards, wanted=touched)
    if again is None:
        return None, 0
    turned = tuple(_compare(before, again.findings.values()))
    known = all(finding.verdict is not Verdict.UNDECIDED for finding in again.findings.values())
    return Varied(words, turned, known), max(1, again.classes)


def _compare(before: dict[Key, Finding], after: Iterable[Finding]) -> Iterator[Turned]:
    for finding in after:
        was = before.get(key_of(finding))
        if was is not None and finding.verdict is not Verdict.UNDECIDED and finding.verdict is not was.verdict:
            yield Turned(finding.hazard, finding.subject, was.verdict, finding.verdict, finding.sentence)


def _touched(device: Device, path: Path) -> Callable[[Question], bool]:
    """Which questions a guess can have a bearing on; all of them unless it is about who acts, or about the supply.

    Without a loss of power memory matters only where writing makes deaf.
    """
    outages = {what.name for what in device.surroundings if isinstance(what, Outage)}
    presses = {what.name for what in device.surroundings if isinstance(what, Disturbance)}
    always_may = device.is_latched or bool(device.resets)
    is_deaf = path[-1] == "while writing" or (device.memory is not None and device.memory.deaf)

    def touched(question: Question) -> bool:
        environment = question.environment
        if path[0] == "surroundings":
            # What makes events may belong to the use of the device, which comes before anything else is asked.
            return path[1] in environment.sources or path[1] not in {*outages, *presses}
        if path[0] == "person":
            return environment.history == PERSON or PERSON in environment.sources or bool(environment.acts)
        if path[0] in ("memory", "supply", "power up"):
            starts = bool(environment.found or environment.held) or bool(outages & set(environment.sources))
            return starts or always_may or (path[0] == "memory" and is_deaf)
        return True

    return touched
