"""Devices built by hand for the tests of reports, with no YAML in between."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from nudgeproof.diagnostics import Place
from nudgeproof.spec.types import (
    Accepted,
    Button,
    Device,
    Gesture,
    Memory,
    PowerUp,
    Sleep,
    State,
    Timeout,
    Transition,
    Variable,
)
from nudgeproof.units import Span, read_quantity

AT = Place("device.yaml", 1, 1)


def span(text: str) -> Span:
    return read_quantity(text).span


def button(name: str = "pad") -> Button:
    return Button(name, bounce_us=8_000, debounce=span("20 ms ± 5 ms"), edges_apart_us=0, at=AT)


def gesture(name: str, taps: int = 0, held: str | None = None, button: str = "pad") -> Gesture:
    return Gesture(
        name,
        button,
        ("tap",) * taps + ("hold",) * (held is not None),
        press=span("400 ms") if taps else None,
        between=span("260 ms") if taps + (held is not None) > 1 else None,
        between_presses=False,
        held=None if held is None else span(held),
        at=AT,
    )


def sleep(*woken_by: str, on: str = "edge") -> Sleep:
    return Sleep(woken_by or ("pad",), on, span("2 ms ± 1 ms"), span("50 ms"), span("0 ms"), AT)


def go(gesture: str, target: str | None, *steps: str, restarts: bool = False, line: int = 1) -> Transition:
    return Transition(gesture, target, steps, restarts, Place(AT.file, line, 1))


def timeout(text: str, target: str, with_open: str | None = None, line: int = 1) -> Timeout:
    after = text.removeprefix("after ").split(" with ")[0]
    return Timeout(span(after), with_open, target, text, Place(AT.file, line, 1))


def state(
    name: str,
    *ways: Transition | Timeout,
    sleep: Sleep | None = None,
    waiting: bool = False,
    shows: str | None = None,
    shows_variable: bool = False,
) -> State:
    return State(
        name,
        sleep,
        waiting,
        shows,
        shows_variable,
        tuple(w for w in ways if isinstance(w, Transition)),
        tuple(w for w in ways if isinstance(w, Timeout)),
        AT,
    )


def device(
    states: Sequence[State],
    gestures: Sequence[Gesture] = (),
    variables: Sequence[Variable] = (),
    buttons: Sequence[Button] | None = None,
    initial: str | None = None,
    name: str = "clip light",
) -> Device:
    return Device(
        file=AT.file,
        name=name,
        buttons=tuple(buttons) if buttons is not None else (button(),),
        gestures=tuple(gestures),
        variables=tuple(variables),
        initial=initial if initial is not None else states[0].name,
        states=tuple(states),
        person=None,
        surroundings=(),
        promises=(),
        assumptions=(),
        digest="",
        lines=(),
        at=AT,
    )


def variable(name: str, *values: str) -> Variable:
    return Variable(name, values, AT)


def memory(*keeps: str, guard: str = "two copies", quiet: str | None = None) -> Memory:
    return Memory(keeps, None if quiet is None else span(quiet), span("3.4 ms"), guard, may_lose_us=0, at=AT)


def power_up(if_blank: str, if_damaged: str | None = None) -> PowerUp:
    return PowerUp(span("70 ms"), if_blank, if_blank if if_damaged is None else if_damaged, held_ignored=True, at=AT)


def accepted(hazard: str, within: str, *by: str) -> Accepted:
    return Accepted(hazard, by, within, why="it does no harm", who="maker", granted="2026-11-20", at=AT)


def clip_light() -> Device:
    """Three states: asleep, waiting, on; every kind of way between them."""
    return device(
        [
            state("stowed", go("hold", "armed"), sleep=sleep()),
            state(
                "armed",
                go("two taps", "glowing"),
                timeout("after 3 s with pad open", "stowed", with_open="pad"),
                waiting=True,
                shows="a faint glow",
            ),
            state(
                "glowing",
                go("tap", None, "beam", line=1),
                go("tap then hold", "stowed", line=2),
                timeout("after 4 h", "stowed", line=3),
                shows="beam",
                shows_variable=True,
            ),
        ],
        [
            gesture("tap", taps=1),
            gesture("two taps", taps=2),
            gesture("hold", held="1.2 s"),
            gesture("tap then hold", taps=1, held="1.2 s"),
        ],
        [variable("beam", "low", "high", "slow blink")],
        name="rain-cover clip light",
    )


def snow_logger() -> Device:
    """Eight states and two buttons: a dense picture."""
    return device(
        [
            state("shelf", go("long both", "woken"), sleep=sleep("side", on="level"), shows="nothing"),
            state("woken", go("two side", "ready"), timeout("after 2 s with side open", "shelf"), waiting=True),
            state(
                "ready",
                go("side", "measuring"),
                go("top", "menu"),
                go("two side", None, "unit"),
                timeout("after 60 s", "dozing"),
                shows="the last depth and the temperature of the air",
            ),
            state(
                "dozing", go("side", "ready"), go("top", "ready"), go("long top", "shelf"), sleep=sleep("side", "top")
            ),
            state(
                "measuring",
                go("side", "ready"),
                timeout("after 800 ms to 1.2 s", "ready"),
                shows="a running bar",
            ),
            state(
                "menu",
                go("top", None, "entry", restarts=True),
                go("side", "setting"),
                go("long top", "ready"),
                timeout("after 20 s", "ready"),
                shows="entry",
                shows_variable=True,
            ),
            state(
                "setting",
                go("top", None, "interval", restarts=True),
                go("side", "menu"),
                go("long top", "confirm erase"),
                timeout("after 20 s", "ready"),
                shows="interval",
                shows_variable=True,
            ),
            state(
                "confirm erase",
                go("long both", "shelf", "entry"),
                go("top", "menu"),
                timeout("after 5 s", "menu"),
                shows="three red flashes",
            ),
        ],
        [
            gesture("side", taps=1, button="side"),
            gesture("two side", taps=2, button="side"),
            gesture("top", taps=1, button="top"),
            gesture("long top", held="2 s", button="top"),
            gesture("long both", held="3 to 3.5 s", button="side"),
        ],
        [
            variable("entry", "interval", "unit", "erase"),
            variable("interval", "10 min", "1 h", "6 h", "1 d"),
            variable("unit", "cm", "in"),
        ],
        [button("side"), button("top")],
        name="snow depth logger",
    )


def kept_clip_light() -> Device:
    """The clip light with a memory for all of it and two failures accepted."""
    return replace(
        clip_light(),
        memory=memory("state", "beam"),
        power_up=power_up("stowed"),
        accepts=(
            accepted("accidental-change", "glowing", "knocks"),
            accepted("accidental-change", "glowing", "bag squeeze", "knocks"),
        ),
    )


def kept_snow_logger() -> Device:
    """The dense picture with a memory for some of it, and a state of its own for a damaged one."""
    return replace(
        snow_logger(),
        memory=memory("state", "interval", "unit", guard="checksum", quiet="2 s"),
        power_up=power_up("shelf", "confirm erase"),
        accepts=(accepted("accidental-off", "menu", "knocks"),),
    )


HOSTILE = (
    'a"b',
    "\\N \\G \\",
    "<b>bold</b>",
    "&amp; & &lt;",
    "one:two:three",
    "new\nline\tand tab",
    "node",
    "<TABLE><TR><TD>x</TD></TR></TABLE>",
    "--> } { ; //",
    "(start)",
    "'%1' $(x) `y`",
    "雨蓋いの灯りを消したまま運ぶための状態",
    "Жёлтый свет — ждёт нажатия",
    "éàü ß µ ± 5 %",
    "a_b",
    "a:b",
    "a;b",
    "Pneumonoultramicroscopicsilicovolcanoconiosis" * 2,
    "-1.5",
    "😀 ok",
)
"""Names that mean something to DOT, to its labels, to XML or a shell, in other scripts, or too long for a line."""


def hostile() -> Device:
    """Every name of `HOSTILE` as a state, a gesture, a variable, a value and a thing shown."""
    after = {name: HOSTILE[(i + 1) % len(HOSTILE)] for i, name in enumerate(HOSTILE)}
    return device(
        [
            state(
                name,
                go(name, after[name], name),
                go(after[name], None, name),
                timeout("after 2 s", HOSTILE[0]),
                shows=name,
                shows_variable=i % 2 == 0,
                waiting=i % 3 == 0,
            )
            for i, name in enumerate(HOSTILE)
        ],
        [gesture(name, taps=1, button=HOSTILE[i % 2]) for i, name in enumerate(HOSTILE)],
        [variable(name, *HOSTILE[i : i + 3]) for i, name in enumerate(HOSTILE)],
        [button(name) for name in HOSTILE[:2]],
        name=HOSTILE[2],
    )


def kept_hostile() -> Device:
    """`hostile` with all of it kept, and with accepted cases whose words come from `HOSTILE` too."""
    return replace(
        hostile(),
        memory=memory("state", *HOSTILE),
        power_up=power_up(HOSTILE[0], HOSTILE[1]),
        accepts=tuple(accepted(name, name, *HOSTILE[:3]) for name in HOSTILE),
    )
