"""The sentences and keys in which promises are written.

The grammar is `GRAMMAR`; names are those of the spec and may contain blanks, and words of the grammar too. A sentence that
has two readings then is refused.

The same as keys, one of nine sets: `{by, never reaches, with?, together?, in use?}`,
`{by, never changes, together?, in use?}`, `{from, gestures, reaches, within?}`,
`{from, gestures, takes, through, within?}`, `{from, gestures, stays in, for}`, `{from, gestures, answers within}`,
`{left alone, reaches, within}`, `{always shows, in, with?}`, `{cells last, use}`.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Sequence
from dataclasses import replace
from itertools import pairwise
from typing import NoReturn

from nudgeproof.diagnostics import Place, Problem, SpecErrors
from nudgeproof.parts.people import ANYTHING, PERSON
from nudgeproof.parts.performer import Act, can_perform
from nudgeproof.questions.ask import Mode, is_at_start, mode_of
from nudgeproof.questions.ebnf import GRAMMAR as GRAMMAR
from nudgeproof.questions.lasting import START, Lasts, read_hours
from nudgeproof.questions.promises import FIRST_STARTS, IN_USE, Answers, Keeps, Never, Promise, Reaches, Settles, Shows
from nudgeproof.questions.readings import Reading, find_modes, find_readings
from nudgeproof.spec.notes import quote_line, show
from nudgeproof.spec.types import Device, Outage, PromiseText
from nudgeproof.units import Form, NotAQuantity, read_quantity

_EXAMPLE = "write such as `knocks and bag squeeze, together, never reach glowing`"
_LASTS_EXAMPLE = "write such as `cells last at least 40 d in evenings`"
_LONGEST = 400
"""Most characters of a text in a complaint: a promise may be as long as a spec."""

_TRUE = ("yes", "true", "on")
_FALSE = ("no", "false", "off")
_SETS = (
    ("by", "never reaches", "with", "together", "in use"),
    ("by", "never changes", "together", "in use"),
    ("from", "gestures", "reaches", "within"),
    ("from", "gestures", "answers within"),
    ("left alone", "reaches", "within"),
    ("in", "always shows", "with"),
    ("from", "gestures", "takes", "through", "within"),
    ("from", "gestures", "stays in", "for"),
    ("cells last", "use"),
)
_NEEDED = (
    ("by", "never reaches"),
    ("by", "never changes"),
    ("from", "gestures", "reaches"),
    ("from", "gestures", "answers within"),
    ("left alone", "reaches", "within"),
    ("in", "always shows"),
    ("from", "gestures", "takes", "through"),
    ("from", "gestures", "stays in", "for"),
    ("cells last", "use"),
)
_LISTS = ("by", "never changes", "gestures", "through")


def read_promises(device: Device) -> tuple[Promise, ...]:
    """All promises of a spec; raises `SpecErrors` with every problem found."""
    problems: list[Problem] = []
    found = []
    for text in device.promises:
        reader = _Reader(device, text.at)
        try:
            found.append(reader.from_keys(text) if text.keys else reader.from_sentence(text.sentence))
        except SpecErrors as error:
            problems += error.problems
    if problems:
        raise SpecErrors(problems)
    return tuple(found)


def parse(device: Device, sentence: str, at: Place) -> Promise:
    """Parse one sentence; raises `SpecErrors`."""
    return _Reader(device, at).from_sentence(sentence)


def _with(state: str, keys: dict[str, tuple[str, ...]]) -> str:
    """A mode as in a sentence, from the keys for the state and for `with`."""
    return state + (f" with {keys['with'][0]}" if "with" in keys else "")


class _Reader:
    """Reads one promise of a device; every complaint points at `at`."""

    def __init__(self, device: Device, at: Place) -> None:
        self.device, self.at = device, at

    def from_sentence(self, sentence: str) -> Promise:
        text = " ".join(sentence.split())
        readings = self._find_readings(text)
        return self._from_keys(dict(readings[0].keys)) if readings else self._explain(text)

    def _find_readings(self, text: str) -> list[Reading]:
        """The reading, if there is one; complains of two."""
        found = find_readings(self.device, text)
        if len(found) > 1:
            self._fail_for_two(text, [str(reading) for reading in found], [reading.words for reading in found])
        return found

    def _explain(self, text: str) -> Promise:
        """Complain of a sentence without a reading: read it as if no name held a word of the grammar."""
        if text.startswith("from ") and " answers within " in text:
            left, _, within = text.removeprefix("from ").partition(" answers within ")
            state, _, gestures = left.partition(", ")
            return self._answers(state, gestures.split(", "), within)
        if text.startswith("from ") and " takes " in text and " from " in text.partition(" takes ")[2]:
            return self._takes_sentence(text)
        if text.startswith("from ") and " stays in " in text:
            return self._stays_sentence(text)
        if text.startswith("from ") and " reaches " in text:
            return self._reaches_sentence(text)
        if text.startswith("left alone, ") and " reaches " in text:
            state, _, right = text.removeprefix("left alone, ").partition(" reaches ")
            target, _, within = right.partition(" within ")
            return self._settles(state, target, within)
        if text.startswith(START):
            return self._lasts_sentence(text)
        if text.startswith("cells last"):
            self.fail(
                f"`{text}` is not a promise", f"one about the cells begins with `{START.strip()}`", _LASTS_EXAMPLE
            )
        if " always shows " in text:
            mode, _, words = text.partition(" always shows ")
            return self._shows(mode, words)
        in_use = text.endswith(IN_USE)
        who, never, what = text.removesuffix(IN_USE).partition(" never ")
        verb, _, object_ = what.partition(" ")
        if not never or verb not in ("reach", "reaches", "change", "changes"):
            why = "it has no `never reach`, `never change`, `reaches`, `answers within` or `always shows`"
            self.fail(f"`{text}` is not a promise", why, _EXAMPLE)
        together = who.endswith((", together,", ", together"))
        if together:
            who = who[: who.rindex(", together")]
        sources = self._split_names(who)
        if verb.startswith("reach"):
            return self._never(sources, together, object_, in_use)
        return self._keeps(sources, together, object_.split(" or "), in_use)

    def _reaches_sentence(self, text: str) -> Reaches:
        left, _, right = text.removeprefix("from ").partition(" reaches ")
        state, _, gestures = left.partition(", ")
        target, _, within = right.partition(" within ")
        return self._reaches(state, gestures.split(", "), target, within)

    def _takes_sentence(self, text: str) -> Reaches:
        left, _, right = text.removeprefix("from ").partition(" takes ")
        state, _, gestures = left.partition(", ")
        variable, _, rest = right.partition(" from ")
        values, _, within = rest.partition(" within ")
        return self._takes(state, gestures.split(", "), variable, values.split(" to "), within)

    def _stays_sentence(self, text: str) -> Reaches:
        left, _, right = text.removeprefix("from ").partition(" stays in ")
        state, _, gestures = left.partition(", ")
        target, _, lasting = right.rpartition(" for ")
        return self._stays(state, gestures.split(", "), target or right, lasting if target else "")

    def from_keys(self, text: PromiseText) -> Promise:
        """The promise, if the sentence that it is told as has no other reading."""
        promise = self._from_keys({name: words for name, words, _ in text.keys})
        self._find_readings(str(promise))
        return promise

    def _from_keys(self, keys: dict[str, tuple[str, ...]]) -> Promise:
        known = sorted({name for names in _SETS for name in names})
        for name in keys:
            if name not in known:
                self._unknown("key", name, known)
        fitting = [i for i, needed in enumerate(_NEEDED) if all(name in keys for name in needed)]
        if len(fitting) != 1 or not set(keys) <= set(_SETS[fitting[0]]):
            sets = "; or ".join("`" + "`, `".join(needed) + "`" for needed in _NEEDED)
            self.fail("these keys don't make a promise", f"one set of keys belongs together: {sets}", _EXAMPLE)
        for name, words in keys.items():
            if name not in _LISTS and len(words) != 1:
                self.fail(f"`{name}` takes one value, not a list", "a promise is about one of them", _EXAMPLE)
        within = keys.get("within", ("",))[0]
        if fitting[0] == 2:
            return self._reaches(keys["from"][0], keys["gestures"], keys["reaches"][0], within)
        if fitting[0] == 3:
            return self._answers(keys["from"][0], keys["gestures"], keys["answers within"][0])
        if fitting[0] == 4:
            return self._settles(keys["left alone"][0], keys["reaches"][0], within)
        if fitting[0] == 5:
            return self._shows(_with(keys["in"][0], keys), keys["always shows"][0])
        if fitting[0] == 6:
            return self._takes(keys["from"][0], keys["gestures"], keys["takes"][0], keys["through"], within)
        if fitting[0] == 7:
            return self._stays(keys["from"][0], keys["gestures"], keys["stays in"][0], keys["for"][0])
        if fitting[0] == 8:
            return self._lasts(keys["cells last"][0], keys["use"][0])
        together, in_use = self._truth(keys, "together"), self._truth(keys, "in use")
        if fitting[0] == 1:
            return self._keeps(keys["by"], together, keys["never changes"], in_use)
        return self._never(keys["by"], together, _with(keys["never reaches"][0], keys), in_use)

    def _truth(self, keys: dict[str, tuple[str, ...]], name: str) -> bool:
        word = keys.get(name, ("no",))[0]
        if word not in _TRUE + _FALSE:
            self.fail(f"`{name}: {word}` is neither yes nor no", "it is one or the other", f"write `{name}: yes`")
        return word in _TRUE

    def _never(self, sources: Sequence[str], together: bool, mode: str, in_use: bool) -> Never:
        self._check_sources(sources)
        self._check_first_start(sources, together, "after a use there is no such start" if in_use else "")
        found = self._mode(mode)
        if not in_use and is_at_start(self.device, found):
            self.fail(
                f"the device starts in {found}", "it can't be promised that it never gets there", "name another state"
            )
        return Never(tuple(sources), together, found, in_use, self.at)

    def _keeps(self, sources: Sequence[str], together: bool, names: Sequence[str], in_use: bool) -> Keeps:
        self._check_sources(sources)
        self._check_first_start(sources, together, "nothing was kept that could change")
        known = ["state", *(variable.name for variable in self.device.variables)]
        for name in names:
            if name not in known:
                self._unknown("variable", name, known)
        if "state" in names and known.count("state") > 1:
            self.fail("`state` can be read in two ways", "the state of the device and a variable have this name",
                      "give the variable another name")  # fmt: skip
        outages = [what.name for what in self.device.surroundings if isinstance(what, Outage)]
        if any(source in outages for source in sources) and self.device.memory is None:
            self.fail("the promise is about what outlives a loss of power", "the spec has no `memory` section, so nothing "
                      "does", "add `memory`, or promise something else")  # fmt: skip
        return Keeps(tuple(sources), together, tuple(names), in_use, self.at)

    def _reaches(self, start: str, gestures: Sequence[str], target: str, within: str) -> Reaches:
        found = self._mode(target)
        begin = self._mode(start)
        resting = self._find_resting(begin.state)
        self._check_gestures(gestures, events=True)
        limit = self._within(within)
        acts = tuple(
            Act(name, tuple(gestures), found.state, limit, condition=begin.condition, ending=found.condition)
            for name in resting
        )
        return Reaches(begin, acts, found, (), self.at)

    def _stays(self, start: str, gestures: Sequence[str], target: str, lasting: str) -> Reaches:
        if not lasting:
            self.fail("the promise has no `for`", "it says how long the device must stay", "add such as `for 25 s`")
        promise = self._reaches(start, gestures, target, lasting)
        acts = tuple(replace(act, within_us=0, stay_us=act.within_us) for act in promise.acts)
        return replace(promise, acts=acts)

    def _takes(self, place: str, gestures: Sequence[str], variable: str, values: Sequence[str], within: str) -> Reaches:
        known = [one.name for one in self.device.variables]
        if variable not in known:
            self._unknown("variable", variable, known)
        for value in values:
            if value not in self.device.variable(variable).values:
                self._unknown(f"value of {variable}", value, self.device.variable(variable).values)
        if len(values) < 2:
            self.fail(f"`{variable}` goes from one value to none", "a step has a value before and one after it",
                      f"write such as `takes {variable} from {values[0]} to ...`")  # fmt: skip
        resting = self._find_resting(place)
        self._check_gestures(gestures, events=True)
        limit = self._within(within)
        modes = [mode_of(self.device, place, variable, value) for value in values]
        acts = tuple(
            Act(name, tuple(gestures), place, limit, condition=before.condition, ending=after.condition)
            for name in resting
            for before, after in pairwise(modes)
        )
        return Reaches(mode_of(self.device, place), acts, modes[-1], tuple(values), self.at)

    def _answers(self, state: str, gestures: Sequence[str], within: str) -> Answers:
        resting = self._find_resting(state)
        self._check_gestures(gestures)
        for name in resting:
            self._check_used(name, gestures)
        limit = self._needs_within(within)
        return Answers(state, tuple(Act(name, tuple(gestures), answer_us=limit) for name in resting), self.at)

    def _settles(self, state: str, target: str, within: str) -> Settles:
        start, end = self._mode(state), self._mode(target)
        both = set(self.device.states_of(start.state)) & set(self.device.states_of(end.state))
        apart = start.variable and start.variable == end.variable and start.value != end.value
        if both and not apart:
            self.fail(f"the device is in {end} already", "it can't be entered from itself", "name another state")
        return Settles(start, end, self._needs_within(within), self.at)

    def _lasts_sentence(self, text: str) -> Lasts:
        time, _, use = text.removeprefix(START).partition(" in ")
        return self._lasts(time, use)

    def _lasts(self, time: str, use: str) -> Lasts:
        if self.device.electricity is None:
            self.fail(
                "the promise is about the cells",
                "`supply` says nothing of them",
                "add `cells` to `supply`, and `loads`",
            )
        hours = read_hours(time)
        if hours is None:
            self.fail(
                f"`{time}` isn't how long cells last",
                "a promise has one time",
                "write such as `40 h`, `90 d` or `2 years`",
            )
        if not use:
            self.fail("the promise about the cells names no `use`", "how long they last hangs on it", _LASTS_EXAMPLE)
        if use not in [day.name for day in self.device.use]:
            self._unknown("use", use, [day.name for day in self.device.use])
        return Lasts(use, time, hours, self.at)

    def _shows(self, mode: str, words: str) -> Shows:
        found = self._mode(mode)
        known = dict.fromkeys(state.shows for state in self.device.states if state.shows is not None)
        if words not in known:
            self._unknown("thing shown", words, known)
        return Shows(found, words, self.at)

    def _find_resting(self, state: str) -> list[str]:
        """The states of a place that somebody may find the device at rest in."""
        device = self.device
        self._check_place(state)
        resting = [name for name in device.states_of(state) if not device.state(name).waiting]
        if not resting:
            what = f"`{state}` is a waiting {'state' if device.states_of(state) == (state,) else 'group'}"
            self.fail(what, "nobody rests there", "begin in the state before it and name both gestures")
        return resting

    def _check_gestures(self, gestures: Sequence[str], events: bool = False) -> None:
        device = self.device
        if device.person is None:
            self._fail_for_person()
        happening = device.event_names if events else ()
        for name in gestures:
            if name in happening:
                continue
            if name not in [g.name for g in device.gestures]:
                self._unknown("gesture", name, [*(g.name for g in device.gestures), *happening])
            if not can_perform(device.person, device.gesture(name)):
                why, cure = "the person's habits have no `hold`", "add `hold: 1.4 to 2.5 s` there"
                self.fail(f"`{name}` holds the button", why, cure)

    def _check_used(self, state: str, gestures: Sequence[str]) -> None:
        """Every gesture must mean something where it is done, else there is nothing to answer."""
        states = [self.device.state(state)]
        for name in gestures:
            used = dict.fromkeys(gesture for here in states for gesture in here.gestures)
            if name not in used:
                cure = f"there it knows {', '.join(used)}" if used else "it knows no gesture there"
                where = " or ".join(dict.fromkeys(here.name for here in states))
                self.fail(f"{name} does nothing in {where}", "there is nothing to answer", cure)
            states = [self.device.state(after) for here in states for after in here.after(name)]

    def _needs_within(self, text: str) -> int:
        if not text:
            self.fail("the promise has no `within`", "only a time makes it one", "add such as `within 5 s`")
        return self._within(text)

    def _within(self, text: str) -> int:
        if not text:
            return 0
        try:
            quantity = read_quantity(text)
        except NotAQuantity as error:
            self.fail(str(error), "it says by when the state must be reached", error.cure)
        if quantity.form is not Form.EXACT or quantity.span.lo < 1:
            self.fail(f"`{text}` isn't one limit", "a promise has one", "write such as `within 3.5 s`")
        return quantity.span.lo

    def _mode(self, mode: str) -> Mode:
        readings = find_modes(self.device, mode)
        if len(readings) > 1:
            told = [f"{place}: {variable} = {value}" for place, variable, value in readings]
            self._fail_for_two(mode, told, [set(reading) for reading in readings])
        if readings:
            return mode_of(self.device, *readings[0])
        state, _, rest = mode.partition(" with ")
        self._check_place(state)
        for variable in self.device.variables:
            if rest.startswith(variable.name + " "):
                self._unknown(f"value of {variable.name}", rest[len(variable.name) + 1 :], variable.values)
        known = [f"{v.name} {x}" for v in self.device.variables for x in v.values]
        return self._unknown("variable and value", rest, known)

    def _check_place(self, name: str) -> None:
        names = [*(state.name for state in self.device.states), *(group.name for group in self.device.groups)]
        if name not in names:
            self._unknown("state", name, names)

    def _check_sources(self, sources: Sequence[str]) -> None:
        known = [*(source.name for source in self.device.surroundings), PERSON, ANYTHING, *FIRST_STARTS]
        for source in sources:
            if source not in known:
                self._unknown("source of presses", source, known)
            if source == PERSON and self.device.person is None:
                self._fail_for_person()
        if len(set(sources)) != len(sources):
            self.fail("the promise names a source twice", "it can act only once at a time", "name it once")
        if ANYTHING in sources and set(sources) - {ANYTHING, *FIRST_STARTS}:
            self.fail("`anything` covers every other source", "they would add nothing", "name `anything` alone")

    def _check_first_start(self, sources: Sequence[str], together: bool, senseless: str) -> None:
        """Where the device gets power and finds its memory blank or damaged; `senseless`: why there is no such promise."""
        found = [source for source in sources if source in FIRST_STARTS]
        if not found:
            return
        if self.device.power_up is None:
            self.fail(f"the promise is about a start with {found[0]}", "the spec has no `power up` that says where it leads",
                      "add `power up`, or promise something else")  # fmt: skip
        if self.device.supply is None:
            self.fail(f"the promise is about a start with {found[0]}", "the spec has no `supply` section, so it isn't said"
                      " how the device gets power", "add such as `supply: {hold-up: 5 ms}`")  # fmt: skip
        if senseless:
            self.fail(
                f"`{found[0]}` is how the device starts", senseless, f"write `{found[0]} never reaches ...` alone"
            )
        if len(found) > 1 and together:
            self.fail("memory is found in one way", "blank and damaged exclude each other", "write two promises")

    def _fail_for_person(self) -> NoReturn:
        cure = "add `person: {tap: 60 to 350 ms, between: 80 to 220 ms}`"
        self.fail("the promise speaks of a person", "the spec has no `person` section that says how one presses", cure)

    def _split_names(self, text: str) -> tuple[str, ...]:
        names = tuple(name.strip() for name in re.split(r",| and ", text))
        if not all(names):
            self.fail(f"`{text}` is not a list of sources", "nobody is named", _EXAMPLE)
        return names

    def _fail_for_two(self, text: str, told: Sequence[str], names: Sequence[set[str]]) -> NoReturn:
        """Complain of two readings, and of the longest name that only one of them has."""
        longest = max(sorted(names[0] ^ names[1]), key=len, default=text)
        why = show(f"it may mean `{told[0]}` or `{told[1]}`", _LONGEST)
        self.fail(f"`{text}` can be read in two ways", why, f"call `{longest}` something else")

    def _unknown(self, kind: str, name: str, known: Iterable[str]) -> NoReturn:
        known = list(known)
        near = difflib.get_close_matches(name, known, 1)
        hint = f"did you mean `{near[0]}`?" if near else "known are: " + (", ".join(known) or "none")
        self.fail(f"there is no {kind} `{name}`", "the promise can't be checked without it", hint)

    def fail(self, what: str, why: str, cure: str) -> NoReturn:
        source = quote_line(self.device.lines, self.at)
        raise SpecErrors([Problem(self.at, show(what, _LONGEST), why, show(cure, _LONGEST), source)])
