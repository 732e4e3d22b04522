"""What is said of a way's presses is no more than was found out."""

from nudgeproof.report.ways import show_ways
from nudgeproof.spec.read import read_device
from nudgeproof.why import find_ways, read_symptom

COUNTS = """\
spec: 1
device: lamp
buttons: {pad: {bounce: up to 0 ms, debounce: 20 ms}}
gestures: {tap: {taps: 1, press: up to 400 ms}}
variables: {n: 0 to 100, m: 0 to 20}
initial: a
states:
  a: {transitions: {tap: b}}
  b: {transitions: {tap: b1, after 5 s: w}}
  w:
    transitions:
      every 1 s:
      - {if: n is not 100, next: n}
      - {if: n is 100 and m is not 20, next: m, set: {n: 0}}
      - {if: n is 100 and m is 20, to: c}
  b1: {transitions: {tap: b2}}
  b2: {transitions: {tap: c}}
  c: {transitions: {tap: done}}
  done: {}
person: {tap: 60 to 350 ms, between: 80 to 220 ms}
"""


def test_none_has_fewer_presses_is_said_only_where_it_was_found_out() -> None:
    """It can be had with four, but two thousand counts come before; five taps are found much sooner."""
    lamp = read_device(COUNTS, "lamp.yaml")
    told = show_ways(lamp, find_ways(lamp, read_symptom(lamp, "c -> done"), "quick"))
    assert told.count("10 presses and releases since the start; perhaps another has fewer") == 2
    few = read_device(COUNTS.replace("0 to 100", "0 to 3").replace("is not 100", "is not 3").replace("is 100", "is 3")
                      .replace("0 to 20", "0 to 2").replace("is not 20", "is not 2").replace("is 20", "is 2"),
                      "lamp.yaml")  # fmt: skip
    told = show_ways(few, find_ways(few, read_symptom(few, "c -> done"), "quick"))
    assert told.count("4 presses and releases since the start; none has fewer") == 2
