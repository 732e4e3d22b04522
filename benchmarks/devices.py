"""The fixed devices that are measured. They stand here, so that a change of `specs/` doesn't move the figures."""

from __future__ import annotations

from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import Device


def make_dial(
    modes: int = 4, bounce: str = "up to 8 ms", debounce: str = "15 to 25 ms", timeout: str = "8 h"
) -> Device:
    """Three taps lead from each mode to the next one; after a while it is the first again."""
    states = "".join(
        f"  mode {i}:\n    transitions: {{three taps: mode {(i + 1) % modes}, after {timeout}: mode 0}}\n"
        for i in range(modes)
    )
    return read_device(
        f"""spec: 1
device: dial
buttons:
  pad: {{bounce: {bounce}, debounce: {debounce}, edges apart: at least 10 us}}
gestures:
  three taps: {{taps: 3, press: up to 400 ms, between: up to 260 ms}}
initial: mode 0
states:
{states}""",
        "dial.yaml",
    )


def make_small(scale: int = 1) -> Device:
    """A device with times of a few microseconds, so that whole-number time can be searched by brute force.

    `scale` multiplies every time but those of chatter.
    """
    return read_device(
        f"""spec: 1
device: small one
buttons:
  pad: {{bounce: up to 1 us, debounce: {2 * scale} to {3 * scale} us, edges apart: at least 1 us}}
gestures:
  two taps: {{taps: 2, press: up to {6 * scale} us, between: up to {5 * scale} us}}
  hold: {{held: {9 * scale} us}}
initial: idle
states:
  idle:
    transitions: {{two taps: lit}}
  lit:
    transitions: {{hold: idle, after {12 * scale} us: idle}}
""",
        "small.yaml",
    )


LANTERN = """spec: 1
device: lantern
buttons:
  pad: {bounce: up to 8 ms, debounce: 15 to 25 ms, edges apart: at least 10 us}
clock: {off by: 5 %}
gestures:
  tap:      {taps: 1, press: up to 400 ms}
  two taps: {taps: 2, press: up to 400 ms, between: up to 260 ms}
  hold:     {held: 1.2 s}
variables:
  glow: [low, mid, high]
initial: stowed
states:
  stowed:
    sleep: {woken by: [pad], on: edge, ready in: 1 to 3 ms, dozes again after: 50 ms, each step: up to 20 us}
    transitions: {hold: armed}
  armed:
    waiting: true
    transitions: {two taps: lit, after 3 s with pad open: stowed}
  lit:
    shows: glow
    transitions: {tap: {next: glow}, hold: stowed, after 4 h: stowed}
memory:
  keeps: [state, glow]
  written: at once
  write takes: 3.2 to 3.6 ms
  guard: two copies
  may lose: the last 10 ms
power up: {takes: 60 to 80 ms, if blank: stowed, if damaged: stowed, button held: ignored until released}
supply: {hold-up: 5 ms}
person: {tap: 60 to 350 ms, between: 80 to 220 ms, hold: 1.4 to 2.5 s, answers within: 1.5 s}
surroundings:
  knocks:  {closes pad: 2 to 40 ms, then open at least: 300 ms}
  squeeze: {closes pad: 20 ms to 30 s, then open at least: 500 ms}
  rattle:  {cell gone: up to 40 ms, then steady at least: 2 s}
promises:
  - knocks never reach lit
  - squeeze never reaches lit
"""
"""The text of a whole device, for checks as a process."""


def make_lantern() -> Device:
    """The whole device."""
    return read_device(LANTERN, "lantern.yaml")


def make_clip(apart: str = "200 ms") -> Device:
    """A light that three taps switch on; asleep until then, in a bag where knocks come at least `apart` from each other.

    Three knocks count as three taps up to a spacing of 265 ms: the limit of 250 ms, the 10 ms by which two debounce times
    differ, and 5 ms of chatter.
    """
    return read_device(
        f"""spec: 1
device: clip
buttons:
  pad: {{bounce: up to 5 ms, debounce: 15 to 25 ms, edges apart: at least 1 ms}}
gestures:
  three taps: {{taps: 3, press: up to 400 ms, between: up to 250 ms}}
  hold: {{held: 1 s}}
initial: stowed
states:
  stowed:
    sleep: {{woken by: [pad], on: edge, ready in: 5 ms, dozes again after: 50 ms, each step: up to 5 ms}}
    transitions: {{three taps: lit}}
  lit:
    transitions: {{hold: stowed}}
surroundings:
  knocks: {{closes pad: 5 to 40 ms, then open at least: {apart}}}
""",
        "clip.yaml",
    )


def make_timer(hold_up: str = "2 ms", gone: str = "up to 40 ms") -> Device:
    """A timer that writes its setting for 3.4 ms, to two copies in turn; a knock on the battery takes the supply away.

    What was set just before the contact is lost is lost as well if the supply holds up for no more than 3.4 ms.
    """
    return read_device(
        f"""spec: 1
device: timer
buttons:
  pad: {{bounce: up to 5 ms, debounce: 20 ms, edges apart: at least 1 ms}}
gestures:
  tap: {{taps: 1, press: up to 400 ms}}
variables:
  length: [short, medium, long]
initial: set
states:
  set:
    shows: length
    transitions: {{tap: {{next: length}}}}
memory:
  keeps: [length]
  written: at once
  write takes: 3.4 ms
  guard: two copies
  while writing: listens
  may lose: nothing
power up: {{takes: 70 ms, if blank: set, if damaged: set, button held: ignored until released}}
supply: {{hold-up: {hold_up}}}
person: {{tap: 60 to 350 ms, between: 80 to 220 ms}}
surroundings:
  rattle: {{cell gone: {gone}, then steady at least: 2 s}}
""",
        "timer.yaml",
    )


def make_ladder(modes: int = 12, within: str = "1 min") -> Device:
    """Each tap leads one mode up, a hold back to the first; `within` so much from the first tap the last mode is to come.

    The shortest taps and pauses of the person take 140 ms, and the first tap may be seen 15 ms later than the last one: so
    the last mode can be reached for `within` from 140 ms * (modes - 1) - 15 ms on.
    """
    steps = "".join(
        f"      mode {i}:\n        transitions: {{tap: mode {i + 1}, hold: mode 0}}\n" for i in range(1, modes)
    )
    return read_device(
        f"""spec: 1
device: ladder
buttons:
  pad: {{bounce: up to 5 ms, debounce: 15 to 25 ms, edges apart: at least 5 ms}}
gestures:
  tap: {{taps: 1, press: up to 400 ms}}
  hold: {{held: 1 s}}
initial: mode 0
states:
  mode 0:
    transitions: {{tap: mode 1}}
  climbing:
    transitions: {{after {within}: mode 0}}
    states:
{steps}  mode {modes}:
    transitions: {{hold: mode 0}}
person: {{tap: 60 to 350 ms, between: 80 to 220 ms, hold: 1.2 to 2 s}}
""",
        "ladder.yaml",
    )


def make_pads(buttons: int) -> Device:
    """A device with so many buttons, each with a tap and a hold, and a person with one finger for each of two."""
    names = [f"pad {i + 1}" for i in range(buttons)]
    contacts = "".join(
        f"  {name}: {{bounce: up to 5 ms, debounce: 15 to 25 ms, edges apart: at least 1 ms}}\n" for name in names
    )
    gestures = "".join(
        f"  tap {name}: {{on: {name}, taps: 1, press: up to 400 ms}}\n  hold {name}: {{on: {name}, held: 1 s}}\n"
        for name in names
    )
    on = ", ".join(f"tap {name}: {{next: glow}}, hold {name}: dark" for name in names)
    return read_device(
        f"""spec: 1
device: pads
buttons:
{contacts}gestures:
{gestures}variables:
  glow: [low, high]
initial: dark
states:
  dark:
    transitions: {{hold pad 1: lit}}
  lit:
    shows: glow
    transitions: {{{on}}}
person: {{tap: 60 to 350 ms, between: 80 to 220 ms, hold: 1.2 to 2 s, fingers: {min(buttons, 2)}}}
""",
        "pads.yaml",
    )
