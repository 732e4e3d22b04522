"""The good spec that the tests of reading start from."""

from __future__ import annotations

from typing import Final

GOOD: Final = """\
# A desk lamp with one pad.
spec: 1
device: desk lamp
buttons:
  pad: {bounce: up to 8 ms, debounce: 20 ms ± 5 ms, edges apart: at least 50 us}
gestures:
  tap: {taps: 1, press: up to 400 ms ± 20 ms}
  two taps: {taps: 2, press: up to 400 ms, between: up to 260 ms from press to press}
  hold: {held: 1.2 to 1.3 s}
  tap then hold: {taps: 1, then held: at least 1.2 s, press: up to 400 ms, between: up to 260 ms}
variables:
  beam: [low, high, slow blink]
  warmth: [warm, cold]
initial: stowed
states:
  stowed:
    sleep: {woken by: pad, on: level, ready in: up to 2 ms, dozes again after: 50 ms, each step: up to 30 us}
    transitions: {hold: armed}
  armed:
    waiting: yes
    shows: a faint glow
    transitions:
      two taps: {to: glowing, next: [beam, warmth]}
      after 3 s with pad open: stowed
  glowing:
    shows: beam
    transitions: {tap: {next: beam, restarts: true}, tap then hold: stowed, hold: glowing, after 4 h: {to: stowed}}
person: {tap: 60 to 350 ms, between: 80 to 220 ms, hold: 1.4 to 2.5 s, answers within: up to 1.5 s}
surroundings:
  knocks: {closes pad: 2 to 40 ms, then open at least: 300 ms}
  cell rattle: {cell gone: up to 40 ms, then steady at least: 2 s}
  stuck pad: {closes pad: for good}
promises:
  - knocks never reach glowing
  - {reach: [glowing, armed], why: "first: light"}
clock: {off by: 5 %}
memory:
  keeps: [state, beam]
  written: after 2 s of quiet
  write takes: 3.4 ms ± 0.2 ms
  guard: two copies
  may lose: the last 10 ms
  while writing: listens
power up: {takes: 70 ms ± 10 ms, if blank: stowed, if damaged: armed, button held: counts as a press}
supply: {hold-up: 5 to 6 ms}
accepts:
  - {hazard: accidental-change, by: [knocks, cell rattle], in: glowing, why: it looks
     like a tap, who: maker, granted: 2026-11-20}
  - {hazard: accidental-wake, by: stuck pad, in: stowed, why: "a pad, once stuck", who: maker, granted: 2024-02-29}
"""

GROUPED: Final = """\
# A reading lamp: two ways to be lit, a countdown, and a length that can be chosen.
spec: 1
device: reading lamp
buttons:
  pad: {bounce: up to 8 ms, debounce: 20 ms ± 5 ms, edges apart: at least 50 us}
gestures:
  tap: {taps: 1, press: up to 400 ms}
  hold: {held: 1.2 to 1.3 s}
variables:
  beam: [low, high]
  left: 0 to 3
  minutes: {values: [1 min, 5 min], at the ends: stop, starts as: 5 min}
initial: lit
states:
  stowed:
    sleep: {woken by: pad, on: level, ready in: up to 2 ms, dozes again after: 50 ms, each step: up to 30 us}
    transitions: {hold: {to: timed, keep: left}}
  lit:
    starts in: steady
    states:
      steady:
        transitions:
          tap: [{if: beam is high and left is at least 1, to: timed}, {if: beam is not high, next: beam}]
      timed:
        on entering: {set: {left: 3}}
        shows: left
        transitions:
          every 1 min: [{if: left is at least 1, previous: left}, {if: left is 0, to: steady, set: {beam: low}}]
    shows: beam
    transitions: {hold: stowed, tap: {next: [beam, minutes], restarts: true}, after minutes with pad open: stowed}
accepts:
  - {hazard: accidental-change, by: knocks, in: lit, why: it looks like a tap, who: maker, granted: 2026-11-20}
surroundings:
  knocks: {closes pad: 2 to 40 ms, then open at least: 300 ms}
clock: {off by: 5 %}
"""

FED: Final = """\
# A cellar lamp with cells, loads and days of use.
spec: 1
device: cellar lamp
buttons:
  pad: {bounce: up to 8 ms, debounce: 20 ms}
gestures:
  tap: {taps: 1, press: up to 400 ms}
  hold: {held: 1.2 s}
variables:
  beam: [low, high]
initial: stowed
states:
  stowed: {sleep: {woken by: [pad], on: edge, ready in: 2 ms, dozes again after: 50 ms}, transitions: {hold: glowing}}
  glowing: {shows: beam, transitions: {tap: {next: beam}, hold: stowed}}
memory: {keeps: [state, beam], write takes: 3.4 ms, guard: two copies, endures: 100 000 writes, write needs: 1.9 V}
ram: {keeps: state, lasts: 400 to 900 ms, checked by: marker, blips: up to 300 ms, new cells: at least 5 s}
power up: {takes: 70 ms ± 10 ms}
supply:
  cells:
    fresh: {open: 3.1 to 3.2 V, with 10 mA: 3.0 V}
    40 % used: {open: 2.9 V ± 2 %, with 330 ohm: 2.6 V}
    spent: {open: 2.5 V, resistance: 60 to 80 ohm}
    charge: 220 mAh
    loses a year: 3 %
    used until: 90 %
  regulator: {kind: boost, makes: 3.3 V ± 2 %, takes: 2 uA, drops: 0.1 V, efficiency: 80 to 90 %, works from: 0.9 V}
  capacitor: {size: 100 uF ± 20 %, resistance: up to 1 ohm, leaks: 1 uA}
  brown-out: {level: 1.7 to 2.0 V, hysteresis: 50 mV, responds in: 2 us, asleep: off, starts in: stowed, tries: 2}
  works from: 1.8 V
  rides through: up to 20 ms
  at most: 80 mA
loads:
  processor: {draws: 0.9 to 1.1 mA, peak: 3 mA, pulse: 2 ms, while: running}
  standby: {draws: up to 2 uA}
  faint lamp: {led: 2.1 V, resistor: 470 ohm ± 5 %, at most: 9 mA, works on: yes, in: [glowing], if: beam is low}
  bright lamp: {power: 20 mW, share: 25 %, needs: 2.4 V, in: glowing, if: beam is high}
  pull-up: {resistor: 47 kohm, while: pad pressed}
use:
  evenings: {glowing: 90 min, presses: 20, times: {knocks: 2 000}, memory for: 5 years}
  drawer: {}
surroundings:
  knocks: {closes pad: 2 to 40 ms, then open at least: 300 ms}
  rattle: {cell gone: up to 40 ms, then steady at least: 2 s}
promises:
  - cells last at least 40 d in evenings
  - {cells last: 6 months, use: drawer}
"""
