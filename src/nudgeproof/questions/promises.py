"""Promises: what the maker states about the device, as a sentence or as keys.

Grammar (names are those of the spec and may contain blanks; the longest name that fits is taken)::

    promise = sources ", together,"? "never" ("reach" | "reaches") mode ;
    sources = source ("and" source)* ;
    source  = name of surroundings | "person" | "anything" ;
    mode    = state ("with" variable value)? ;

The same as keys: `{by: [knocks, bag squeeze], together: yes, never reaches: glowing, with: beam high}`. Without
`together` each source is asked about by itself. A parsed promise prints as a sentence that parses back to itself.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from dataclasses import dataclass

from nudgeproof.diagnostics import Place, Problem, SpecErrors
from nudgeproof.parts.compile import Environment
from nudgeproof.parts.people import ANYTHING, PERSON
from nudgeproof.questions.ask import Mode, Question, acting, entering
from nudgeproof.spec.types import Device, PromiseText

HAZARD = "promise"
_EXAMPLE = "write such as `knocks and bag squeeze, together, never reach glowing`"
_NOT_YET = (
    "never changes",
    "never change",
    "always shows",
    "answers within",
    "keeps",
    "while someone uses it",
    "from ",
)
_TRUE = ("yes", "true", "on")
_FALSE = ("no", "false", "off")


@dataclass(frozen=True, slots=True)
class Never:
    """`sources` never bring the device into `mode`; all at once if `together`, else each by itself."""

    sources: tuple[str, ...]
    together: bool
    mode: Mode
    at: Place

    def __str__(self) -> str:
        who = " and ".join(self.sources)
        plural = len(self.sources) > 1 or (who.endswith("s") and not who.endswith("ss"))
        verb = "reach" if plural else "reaches"
        return f"{who}{', together,' if self.together else ''} never {verb} {self.mode}"


def read_promises(device: Device) -> tuple[Never, ...]:
    """All promises of a spec; raises `SpecErrors` with every problem found."""
    problems: list[Problem] = []
    found = []
    for text in device.promises:
        try:
            found.append(_from_keys(device, text) if text.keys else parse(device, text.sentence, text.at))
        except SpecErrors as error:
            problems += error.problems
    if problems:
        raise SpecErrors(problems)
    return tuple(found)


def parse(device: Device, sentence: str, at: Place) -> Never:
    """Parse one sentence; raises `SpecErrors`."""
    text = " ".join(sentence.split())
    who, never, what = text.partition(" never ")
    verb, _, mode = what.partition(" ")
    if not never or verb not in ("reach", "reaches") or "while someone uses it" in text:
        if any(word in text for word in _NOT_YET) or " reaches " in text:
            _fail(
                device, at, f"`{text}` is a promise of a kind that isn't built yet",
                "only `never reach` can be checked so far, and a promise is never passed over",
                "take the line out for now",
            )  # fmt: skip
        _fail(device, at, f"`{text}` is not a promise", "it has no `never reach`", _EXAMPLE)
    together = who.endswith((", together,", ", together"))
    if together:
        who = who[: who.rindex(", together")]
    return _build(device, tuple(_split_names(device, who, at)), together, mode, at)


def questions(device: Device, promise: Never) -> tuple[Question, ...]:
    """The questions that a promise asks: one for all sources together, or one for each."""
    groups = (promise.sources,) if promise.together else tuple((source,) for source in promise.sources)
    return tuple(_question(promise, group) for group in groups)


def _question(promise: Never, group: tuple[str, ...]) -> Question:
    environment = Environment(group)
    who = f"with {environment} {'together' if len(group) > 1 else 'alone'}"
    return Question(
        hazard=HAZARD,
        subject=str(Never(group, len(group) > 1, promise.mode, promise.at)),
        environment=environment,
        looked_for=entering(promise.mode),
        unwanted=True,
        came_up=tuple(acting(source) for source in group),
        told=lambda before, after: f"{who} the device can come into {promise.mode}",
        denied="",
        held=f"{who} the device never comes into {promise.mode}, whatever the timing",
        all_held="kept, whatever the timing",
        cure="ask for one more deliberate step on the way there, or make one of its steps longer than the disturbance",
        at=promise.at,
    )


def _from_keys(device: Device, text: PromiseText) -> Never:
    keys = {name: (words, at) for name, words, at in text.keys}
    for name, _, at in text.keys:
        if name not in ("by", "together", "never reaches", "with"):
            near = difflib.get_close_matches(name, ("by", "together", "never reaches", "with"), 1)
            hint = f"did you mean `{near[0]}`?" if near else "the keys are `by`, `together`, `never reaches`, `with`"
            _fail(device, at, f"a promise has no key `{name}`", "it would change nothing", hint)
    for name in ("by", "never reaches"):
        if name not in keys:
            _fail(device, text.at, f"a promise needs the key `{name}`", "it says too little to be checked", _EXAMPLE)
    for name, (words, at) in keys.items():
        if name != "by" and len(words) != 1:
            _fail(device, at, f"`{name}` takes one value, not a list", "a promise is about one mode", _EXAMPLE)
    (asked,), asked_at = keys.get("together", (("no",), text.at))
    if asked not in _TRUE + _FALSE:
        _fail(device, asked_at, f"`together: {asked}` is neither yes nor no", "the sources act at once or each alone",
              "write `together: yes`")  # fmt: skip
    mode = keys["never reaches"][0][0]
    if "with" in keys:
        mode += f" with {keys['with'][0][0]}"
    return _build(device, keys["by"][0], asked in _TRUE, mode, text.at)


def _build(device: Device, sources: tuple[str, ...], together: bool, mode: str, at: Place) -> Never:
    known = _sources(device)
    for source in sources:
        if source not in known:
            _unknown(device, at, "source of presses", source, known)
        if source == PERSON and device.person is None:
            _fail(device, at, "the promise speaks of a person", "the spec has no `person` section that says how one "
                  "presses", "add `person: {tap: 60 to 350 ms, between: 80 to 220 ms}`")  # fmt: skip
    if len(set(sources)) != len(sources):
        _fail(device, at, "the promise names a source twice", "it can act only once at a time", "name it once")
    if ANYTHING in sources and len(sources) > 1:
        _fail(device, at, "`anything` covers every other source", "they would add nothing", "name `anything` alone")
    state, _, rest = mode.partition(" with ")
    names = [s.name for s in device.states]
    if state not in names:
        _unknown(device, at, "state", state, names)
    found = _mode(device, state, rest, at) if rest else Mode(state)
    if state == device.initial and (not rest or device.variable(found.variable).values[0] == found.value):
        _fail(device, at, f"the device starts in {found}", "it can't be promised that it never gets there",
              "name another state")  # fmt: skip
    return Never(sources, together, found, at)


def _mode(device: Device, state: str, rest: str, at: Place) -> Mode:
    for variable in device.variables:
        if rest.startswith(variable.name + " "):
            value = rest[len(variable.name) + 1 :]
            if value not in variable.values:
                _unknown(device, at, f"value of {variable.name}", value, variable.values)
            return Mode(state, variable.name, value)
    _unknown(device, at, "variable and value", rest, [f"{v.name} {x}" for v in device.variables for x in v.values])
    raise AssertionError


def _sources(device: Device) -> list[str]:
    return [*(source.name for source in device.surroundings), PERSON, ANYTHING]


def _split_names(device: Device, text: str, at: Place) -> Iterable[str]:
    """Names joined by `and`; as a name can't contain ` and `, splitting there is enough."""
    names = [name.strip() for part in text.split(" and ") for name in part.split(",")]
    if not all(names):
        _fail(device, at, f"`{text}` is not a list of sources", "nobody is named", _EXAMPLE)
    return names


def _unknown(device: Device, at: Place, kind: str, name: str, known: Iterable[str]) -> None:
    known = list(known)
    near = difflib.get_close_matches(name, known, 1)
    hint = f"did you mean `{near[0]}`?" if near else "known are: " + (", ".join(known) or "none")
    _fail(device, at, f"there is no {kind} `{name}`", "the promise can't be checked without it", hint)


def _fail(device: Device, at: Place, what: str, why: str, cure: str) -> None:
    source = device.lines[at.line - 1] if 0 < at.line <= len(device.lines) else ""
    raise SpecErrors([Problem(at, what, why, cure, source)])
