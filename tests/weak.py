"""Devices on weak cells for tests, written as specs.

Where nothing else is said the cells have 3.0 V behind 10 ohm when they are fresh, 2.6 V behind 60 ohm when they are spent.
With a current I drawn, at the share u used, the voltage is 3.0 - 0.4 u - I (10 + 50 u).
"""

from __future__ import annotations

from nudgeproof.check import check
from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import Device
from nudgeproof.verdict import Finding

CELLS = "fresh: {open: 3.0 V, resistance: 10 ohm}, spent: {open: 2.6 V, resistance: 60 ohm}"


def write(
    loads: str = "lamp: {draws: 15 mA, in: glowing}",
    supply: str = "brown-out: {level: 2.7 V}",
    cells: str = CELLS,
    more: str = "",
    stowed: str = "transitions: {hold: glowing}",
    glowing: str = "transitions: {hold: stowed, tap: {next: beam}}",
    memory: str = "keeps: [state], write takes: 1 ms, guard: two copies",
) -> str:
    """A lamp that one hold switches on and off, and a tap makes brighter; it keeps its state."""
    return f"""spec: 1
device: cellar lamp
buttons:
  pad: {{bounce: up to 0 ms, debounce: 10 ms}}
gestures:
  tap: {{taps: 1, press: up to 400 ms}}
  hold: {{held: 1 s}}
variables:
  beam: [low, high]
  left: 0 to 20
initial: stowed
states:
  stowed: {{{stowed}}}
  glowing: {{{glowing}}}
memory: {{{memory}}}
power up: {{takes: 50 ms, if blank: stowed, if damaged: stowed, button held: ignored until released}}
supply: {{cells: {{{cells}}}, {supply}}}
loads: {{{loads}}}
person: {{tap: 60 to 200 ms, between: 100 to 200 ms, hold: 1.2 to 2 s}}
{more}
"""


def weak(**changes: str) -> Device:
    """The device."""
    return read_device(write(**changes), "cellar.yaml")


def found(hazard: str, **changes: str) -> dict[str, Finding]:
    """What is found about one hazard, by its subject."""
    report = check(weak(**changes), only=(hazard,))
    return {finding.subject: finding for finding in report.findings if finding.hazard == hazard}


def reason(hazard: str, **changes: str) -> str:
    """Why a hazard isn't asked about."""
    report = check(weak(**changes), only=(hazard,))
    (skipped,) = (one for one in report.not_asked if one.hazard == hazard)
    return skipped.reason
