"""The lines that a story hangs on, as the screen quotes them."""

from __future__ import annotations

from nudgeproof.check import check
from nudgeproof.report.screen import show
from nudgeproof.spec.read import read_device

LIGHT = """spec: 1
device: shelf light
buttons: {pad: {bounce: up to 5 ms, debounce: 20 ms}}
gestures:
  tap: {taps: 1, press: up to 400 ms}
variables: {beam: [low, high]}
initial: dim
states:
  stowed:
    sleep: {ready in: 2 ms, dozes again after: 50 ms}
  lit:
    states:
      dim: {shows: beam, transitions: {tap: {next: beam}}}
      bright: {shows: a light}
    transitions:
      # a long line, of which only the beginning is quoted
      tap: [{if: beam is low, to: stowed}, {if: beam is high, to: dim}]
      after 10 s: bright
surroundings:
  knocks: {closes pad: 22 to 40 ms, then open at least: 300 ms}
"""


def lines_of(text: str, hazard: str) -> list[str]:
    shown = show(check(read_device(text, "light.yaml"), only=[hazard]))
    assert max(map(len, shown.splitlines())) <= 80
    block = shown.partition(f"BROKEN  {hazard}")[2].partition("\n  usually")[0]
    return [" ".join(line.split()) for line in block.partition("\n  line ")[2].splitlines()]


def test_a_line_shared_by_a_group_is_quoted_with_the_group() -> None:
    assert lines_of(LIGHT, "accidental-off") == [
        "17: tap: [{if: beam is low, to: stowed}, {if: bea... (shared by lit)",
        "18: after 10 s: bright (shared by lit)",
    ]


def test_a_line_that_only_steps_a_variable_is_quoted_too() -> None:
    assert lines_of(LIGHT, "accidental-change")[0] == "13: dim: {shows: beam, transitions: {tap: {next: beam}}}"


def test_a_line_that_names_its_group_itself_is_not_told_twice() -> None:
    flow = LIGHT.partition("  lit:\n")[0] + (
        "  lit: {states: {dim: {shows: beam}, bright: {shows: a light}}, transitions: {tap: stowed}}\n"
    )
    flow += "surroundings:" + LIGHT.partition("surroundings:")[2]
    (line,) = lines_of(flow, "accidental-off")
    assert line.startswith("11: lit: {states:")
    assert "shared by" not in line
