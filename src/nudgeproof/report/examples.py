"""Worked examples for the page of reference: what a table of keys can't show, each as a whole spec in which all holds."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True)
class Example:
    """`says`: what it is about, as Markdown. `spec`: the whole text of a spec."""

    title: str
    says: str
    spec: str


EXAMPLES: Final = (
    Example(
        "A group",
        "Both ways to be lit go out by a hold or after 4 h; that is written once. A tap changes from one to the other, and"
        " the 4 h go on. A line that leads to `lit` enters `dim`, the one named by `starts in`.",
        """\
spec: 1
device: shelf light
buttons: {pad: {debounce: 20 ms}}
gestures:
  tap: {taps: 1, press: up to 400 ms}
  hold: {held: 1 s}
initial: stowed
states:
  stowed:
    sleep: {ready in: 2 ms, dozes again after: 50 ms}
    transitions: {hold: lit}
  lit:
    starts in: dim
    states:
      bright: {shows: a bright light, transitions: {tap: dim}}
      dim: {shows: a faint light, transitions: {tap: bright}}
    transitions: {hold: stowed, after 4 h: stowed}
person: {tap: 60 to 350 ms, between: 80 to 220 ms, hold: 1.3 to 2.5 s}
promises:
  - from stowed, hold reaches lit within 2.6 s
  - left alone, lit reaches stowed within 4 h
""",
    ),
    Example(
        "A condition",
        "One button does everything: taps go through the levels, and a tap at the last one puts the light out. The two cases"
        " exclude each other, so one of them always applies. At the next start the light begins with the level `low`.",
        """\
spec: 1
device: pocket light
buttons: {pad: {debounce: 20 ms}}
gestures:
  tap: {taps: 1, press: up to 400 ms}
variables:
  level: [low, middle, high]
initial: stowed
states:
  stowed:
    sleep: {ready in: 2 ms, dozes again after: 50 ms}
    transitions: {tap: lit}
  lit:
    shows: level
    on entering: {set: {level: low}}
    transitions:
      tap: [{if: level is high, to: stowed}, {if: level is low or middle, next: level}]
person: {tap: 60 to 350 ms, between: 80 to 220 ms}
promises:
  - from stowed, tap, tap, tap, tap reaches stowed
""",
    ),
    Example(
        "A countdown kept through a blip",
        "The timer counts the minutes down in `left`, a variable of whole numbers, which memory keeps: after a short loss of"
        " contact it goes on with the minutes that were left. What is lost is the minute that had begun. A start by the user"
        " sets `left` to 5 each time; a start after a reset doesn't, since what comes from memory stays as it is.",
        """\
spec: 1
device: steep timer
buttons: {pad: {debounce: 20 ms}}
gestures:
  hold: {held: 1 s}
variables:
  left: 0 to 5
initial: idle
states:
  idle:
    sleep: {ready in: 2 ms, dozes again after: 50 ms}
    transitions: {hold: steeping}
  steeping:
    shows: left
    on entering: {set: {left: 5}}
    transitions:
      hold: idle
      every 1 min: [{if: left is at least 1, previous: left}, {if: left is 0, to: idle}]
person: {tap: 60 to 350 ms, between: 80 to 220 ms, hold: 1.3 to 2.5 s}
surroundings:
  drop: {cell gone: up to 40 ms, then steady at least: 2 s}
memory: {keeps: [state, left], write takes: 3 ms, guard: two copies, may lose: the last 100 ms}
power up: {takes: 70 ms}
supply: {hold-up: 5 ms}
promises:
  - drop never changes state or left, while someone uses it
""",
    ),
    Example(
        "Several holds",
        "How long the button is down decides: a short hold locks, a long one switches off. The short one is seen when the"
        " button is let go, since until then it may become the long one. The person's own times say what each hold is meant"
        " to be; they must leave the firmware's times between them.",
        """\
spec: 1
device: bag lamp
buttons: {pad: {debounce: 20 ms}}
gestures:
  short hold: {held: 0.8 s}
  long hold: {held: 3 s}
initial: stowed
states:
  stowed:
    sleep: {ready in: 2 ms, dozes again after: 50 ms}
    transitions: {short hold: lit}
  lit: {shows: a light, transitions: {short hold: locked, long hold: stowed}}
  locked: {shows: a light with a dot, transitions: {short hold: lit, long hold: stowed}}
person: {tap: 60 to 350 ms, between: 80 to 220 ms, short hold: 1 to 2 s, long hold: 3.5 to 5 s}
promises:
  - from lit, short hold reaches locked
  - from lit, long hold reaches stowed within 5 s
""",
    ),
)
