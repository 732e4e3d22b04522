"""Names may hold words of the grammar; a sentence that has two readings then is refused, whichever way it is written.

The readings are set against a slow and plain reader: every sentence that the grammar has over a few odd names, by hand.
"""

from __future__ import annotations

import time
from collections import defaultdict
from collections.abc import Iterator
from itertools import product

import pytest

from nudgeproof.diagnostics import SpecErrors
from nudgeproof.questions.grammar import read_promises
from nudgeproof.questions.readings import find_readings
from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import Device

PLACES = ("dark", "lit", "lit within 3 s", "lit with", "lit for 3 s", "dark reaches lit", "from", "lit always shows x")
GESTURES = ("tap", "hold", "tap reaches lit", "tap never", "tap takes beam from low to high")
VALUES = {
    "beam": ("low", "high", "low to high", "low x", "low within 3 s"),
    "beam low": ("x", "high"),
    "with beam": ("low", "high"),
    "tone": ("low", "high"),
    "beam or tone": ("low", "high"),
}
SOURCES = ("knocks", "and knocks", "knocks and", "from dark", "tap")
SHOWN = ("x", "x always shows x", "beam, while someone uses it")
TIMES = ("", " within 3 s", " within 5 s")


def device(*promises: str) -> Device:
    shown = dict(zip(("lit", "lit always shows x", "from"), SHOWN, strict=True))
    lines = [
        f"  {place}: {{transitions: {{tap: lit}}{f', shows: {chr(34)}{shown[place]}{chr(34)}' if place in shown else ''}}}"
        for place in PLACES
    ]
    return read_device(
        "\n".join(
            [
                "spec: 1",
                "device: lamp",
                "buttons: {pad: {bounce: up to 0 ms, debounce: 20 ms}}",
                "gestures:",
                *(
                    f"  {name}: {{taps: {count}, press: up to 400 ms{', between: up to 260 ms' if count > 1 else ''}}}"
                    for count, name in enumerate((name for name in GESTURES if name != "hold"), start=1)
                ),
                "  hold: {held: 1.2 s}",
                "variables:",
                *(f"  {name}: [{', '.join(values)}]" for name, values in VALUES.items()),
                "initial: dark",
                "states:",
                *lines,
                "person: {tap: 60 to 350 ms, between: 80 to 220 ms, hold: 1.4 to 2.5 s}",
                "surroundings:",
                *(f"  {name}: {{closes pad: 2 to 40 ms, then open at least: 300 ms}}" for name in SOURCES),
                "promises:" if promises else "",
                *(f"  - {promise}" for promise in promises),
            ]
        ),
        "lamp.yaml",
    )


def modes() -> list[str]:
    return [
        place + with_
        for place in ("dark", "lit", "lit with", "lit within 3 s")
        for with_ in ("", *(f" with {name} {value}" for name, values in VALUES.items() for value in values))
    ]


def sentences() -> Iterator[tuple[str, tuple[object, ...]]]:
    """Sentences of the grammar over the odd names, each with what it says."""
    doings = [*product(GESTURES), *product(("tap", "tap never"), ("tap", "tap reaches lit"))]
    for start, doing, target, limit in product(("dark", "lit"), doings, PLACES, TIMES):
        said = f"from {start}, {', '.join(doing)}"
        yield f"{said} reaches {target}{limit}", ("reaches", start, doing, target, limit)
        if limit:
            lasting = limit.replace("within", "for")
            yield f"{said} stays in {target}{lasting}", ("stays", start, doing, target, lasting)
            yield f"{said} answers{limit}", ("answers", start, doing, limit)
        for variable, steps in product(("beam", "tone"), ("low", "high", "low to high", "low within 3 s")):
            for more in (("high",), ("low", "high")):
                values = (steps, *more)
                if set(values) <= set(VALUES[variable]):
                    text = f"{said} takes {variable} from {' to '.join(values)}{limit}"
                    yield text, ("takes", start, doing, variable, values, limit)
    for start, target, limit in product(PLACES, PLACES, TIMES[1:]):
        yield f"left alone, {start} reaches {target}{limit}", ("settles", start, target, limit)
    for place, words in product(PLACES, SHOWN):
        yield f"{place} always shows {words}", ("shows", place, words)
    groups = [
        *product(SOURCES),
        *product(SOURCES, SOURCES),
        ("knocks", "and knocks", "tap"),
        ("knocks and", "tap", "tap"),
    ]
    whole = [(" and ".join(by) + together, by, together) for by in groups for together in ("", ", together,")]
    whole += [(", ".join(by), by, "") for by in groups]
    for (who, by, together), target in product(whole, ("lit", "lit with")):
        yield f"{who} never reach {target}", ("never", by, together, target)
        yield f"{who} never reaches {target}, while someone uses it", ("never", by, together, target, "in use")
    for (who, by, together), kept in product(whole, [("beam", "tone"), ("beam or tone",), ("state", "beam or tone")]):
        yield f"{who} never change {' or '.join(kept)}", ("keeps", by, together, kept)


def test_each_sentence_has_as_many_readings_as_the_grammar_has_ways_to_say_it() -> None:
    lamp = device()
    said: defaultdict[str, set[tuple[object, ...]]] = defaultdict(set)
    for text, meaning in sentences():
        said[text].add(meaning)
    two = 0
    for text, meanings in said.items():
        found = len(find_readings(lamp, text))
        # A place or name that isn't among those written out by hand may give a sentence one more.
        assert found >= min(2, len(meanings)), text
        two += len(meanings) > 1
    assert len(said) > 1_500
    assert two > 100


def test_a_mode_is_read_in_every_way() -> None:
    lamp = device()
    said: defaultdict[str, int] = defaultdict(int)
    for mode in modes():
        said[mode] += 1
    assert max(said.values()) == 2
    for mode, count in said.items():
        text = f"from dark, tap reaches {mode}"
        if count == 1:
            assert len(find_readings(lamp, text)) == 1 + mode.endswith(" within 3 s")
            continue
        with pytest.raises(SpecErrors, match="can be read in two ways"):
            read_promises(device(text))


@pytest.mark.parametrize(
    "sentence",
    [
        "from dark, tap reaches lit within 5 s",
        "from dark, tap reaches lit within 3 s within 5 s",
        "from dark, tap reaches lit reaches lit",
        "from dark, tap stays in lit for 3 s",
        "from dark, tap stays in lit for 3 s for 5 s",
        "from from, tap reaches dark",
        "left alone, dark reaches lit within 3 s",
        "left alone, dark reaches lit within 3 s within 4 s",
        "left alone, dark reaches lit reaches lit within 3 s",
        "knocks and knocks and never reach lit",
        "lit always shows x",
    ],
)
def test_what_has_one_reading_is_read_so_whatever_its_names_hold(sentence: str) -> None:
    (promise,) = read_promises(device(sentence))
    assert str(promise) == sentence


@pytest.mark.parametrize(
    ("promise", "first", "second", "name"),
    [
        (
            "from dark, tap reaches lit within 3 s",
            "{from: dark, gestures: tap, reaches: lit within 3 s}",
            "{from: dark, gestures: tap, reaches: lit, within: 3 s}",
            "lit within 3 s",
        ),
        (
            "{from: dark, gestures: tap, reaches: lit, within: 3 s}",
            "{from: dark, gestures: tap, reaches: lit within 3 s}",
            "{from: dark, gestures: tap, reaches: lit, within: 3 s}",
            "lit within 3 s",
        ),
        (
            "from lit, tap takes beam from low to high to low",
            "through: [low, high, low]",
            "through: [low to high, low]",
            "low to high",
        ),
        (
            "knocks and and knocks, together, never reach lit",
            "by: [knocks, and knocks]",
            "by: [knocks and, knocks]",
            "and knocks",
        ),
        ("knocks never change beam or tone", "[beam, tone]", "beam or tone}", "beam or tone"),
        ("from dark, tap reaches lit with with beam low", "lit: with beam = low", "lit with: beam = low", "with beam"),
        ("{in: lit, with: beam low x, always shows: x}", "lit: beam = low x", "lit: beam low = x", "beam low"),
    ],
)
def test_two_readings_are_refused_and_both_are_told(promise: str, first: str, second: str, name: str) -> None:
    whole = device("knocks never reach from", promise)
    with pytest.raises(SpecErrors) as error:
        read_promises(whole)
    (problem,) = error.value.problems
    assert problem.place == whole.promises[1].at
    for words in ("can be read in two ways", first, second, f"call `{name}` something else"):
        assert words in str(problem)


def test_a_long_sentence_with_many_readings_takes_no_longer() -> None:
    lamp = device()
    began = time.process_time()
    for last, count in (("high", 2), ("none", 0)):
        assert len(find_readings(lamp, f"from lit, tap takes beam from {'low to high to ' * 2_000}{last}")) == count
    assert len(find_readings(lamp, f"{'knocks and and ' * 2_000}knocks never reach lit")) == 2
    assert not find_readings(lamp, f"from lit, {'tap reaches lit ' * 2_000}")
    assert time.process_time() - began < 10
