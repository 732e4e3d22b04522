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
