"""Limits are met to the microsecond: at the value worked out by hand the question holds, one below it is broken."""

import pytest

from nudgeproof.check import check
from nudgeproof.spec.read import read_device
from nudgeproof.verdict import Verdict
from tests.snapshots.screens import ROOT


def verdicts(text: str, hazard: str) -> dict[str, Verdict]:
    found = check(read_device(text, "limits.yaml"), only=[hazard]).findings
    return {finding.subject: finding.verdict for finding in found}


LAMP = """spec: 1
device: reading lamp
buttons:
  knob: {{bounce: up to 5 ms, debounce: 12 to 15 ms}}
gestures:
  tap: {{taps: 1, press: up to 400 ms{tap}}}
  two taps: {{taps: 2, press: up to 400 ms, between: up to 300 ms}}
  hold: {{held: 1 s{hold}}}
initial: off
states:
  off:
    transitions: {{tap: lit}}
  lit:
    transitions: {{{lit}}}
person: {{tap: 60 to 350 ms, between: 80 to 220 ms, hold: 1.2 to 2 s}}
promises:
  - {promise}
"""


def lamp(tap: str = "", hold: str = "", lit: str = "tap: off", promise: str = "anything never reaches lit") -> str:
    return LAMP.format(tap=tap, hold=hold, lit=lit, promise=promise)


@pytest.mark.parametrize(("within", "verdict"), [(20_000, Verdict.HOLDS), (19_999, Verdict.BROKEN)])
def test_a_tap_is_answered_after_the_last_chatter_and_the_longest_debounce(within: int, verdict: Verdict) -> None:
    """From the first edge of the release: chatter for up to 5 ms, then steady for up to 15 ms."""
    found = verdicts(lamp(tap=f", answered within: {within} us"), "late-answer")
    assert found == {"tap in off": verdict, "tap in lit": verdict}


@pytest.mark.parametrize(("within", "verdict"), [(320_000, Verdict.HOLDS), (319_999, Verdict.BROKEN)])
def test_a_longer_pattern_makes_it_wait_for_the_whole_pause(within: int, verdict: Verdict) -> None:
    text = lamp(tap=f", answered within: {within} us", lit="tap: off, two taps: lit")
    assert verdicts(text, "late-answer") == {"tap in off": Verdict.HOLDS, "tap in lit": verdict}


@pytest.mark.parametrize(("within", "verdict"), [(1_020_000, Verdict.HOLDS), (1_019_999, Verdict.BROKEN)])
def test_a_hold_is_answered_from_its_press_on(within: int, verdict: Verdict) -> None:
    text = lamp(hold=f", answered within: {within} us", lit="hold: off")
    assert verdicts(text, "late-answer") == {"hold in lit": verdict}
    promise = lamp(lit="hold: off", promise=f"from lit, hold answers within {within} us")
    assert set(verdicts(promise, "promise").values()) == {verdict}


@pytest.mark.parametrize(("within", "verdict"), [("30 min", Verdict.HOLDS), ("1799999999 us", Verdict.BROKEN)])
def test_left_alone_it_goes_off_by_its_timeout(within: str, verdict: Verdict) -> None:
    """A tap is seen with its release accepted; at that very moment the device may be left alone."""
    text = lamp(lit="tap: off, after 30 min: off", promise=f"left alone, lit reaches off within {within}")
    assert set(verdicts(text, "promise").values()) == {verdict}


def test_a_mode_that_shows_something_else_breaks_the_promise_to_show() -> None:
    text = lamp(promise="lit always shows a green dot")
    shown = text.replace("  lit:\n", "  lit:\n    shows: a green dot\n")
    assert set(verdicts(shown, "promise").values()) == {Verdict.HOLDS}
    two = shown.replace("  off:\n", "  off:\n    shows: a red dot\n").replace(
        "promises:", "promises:\n  - off always shows a green dot"
    )
    assert sorted(verdicts(two, "promise").values()) == [Verdict.BROKEN, Verdict.HOLDS]


STUCK = (ROOT / "specs/failures/stuck-button/mended.yaml").read_text(encoding="utf-8")


@pytest.mark.parametrize(("within", "verdict"), [(60_520_080, Verdict.HOLDS), (60_520_079, Verdict.BROKEN)])
def test_a_stuck_button_is_given_up_on_in_time(within: int, verdict: Verdict) -> None:
    """Chatter 5 ms, debounce 15 ms, too long for a tap after 500 ms, given up on after 1 min, four steps of 20 us each.

    Lit, the device first has to go off, half an hour after the last use, so only its sleeping state counts here.
    """
    text = STUCK.replace("45 min", f"{within} us").replace("after 30 min: stowed", "after 1 ms: stowed")
    assert verdicts(text, "stuck-button") == {"strap": verdict}


WARMER = (ROOT / "specs/failures/restarted-timer/broken.yaml").read_text(encoding="utf-8")


def test_without_interruptions_the_timeout_keeps_the_limit_itself() -> None:
    """Cut off before the timeout the state is left in time; so the limit isn't asked where nothing interrupts."""
    report = check(read_device(WARMER[: WARMER.index("surroundings:")], "warmer.yaml"))
    assert "restarted-timer" in {skipped.hazard for skipped in report.not_asked}


def test_a_start_switched_off_keeps_the_limit() -> None:
    text = WARMER.replace("memory: {keeps: [state], ", "variables: {v: [a, b]}\nmemory: {keeps: [v], ")
    assert set(verdicts(text, "restarted-timer").values()) == {Verdict.HOLDS}


@pytest.mark.parametrize(("limit", "verdict"), [("30 min", Verdict.HOLDS), ("1799999999 us", Verdict.BROKEN)])
def test_the_longest_stay_counts_from_entering(limit: str, verdict: Verdict) -> None:
    text = WARMER.replace("at most: 35 min", f"at most: {limit}").replace("hold-up: 5 ms", "hold-up: 41 ms")
    assert set(verdicts(text, "restarted-timer").values()) == {verdict}


@pytest.mark.parametrize(("state", "verdict"), [("v", Verdict.HOLDS), ("state", Verdict.BROKEN)])
def test_time_without_power_counts_only_if_the_state_comes_back(state: str, verdict: Verdict) -> None:
    """The cell is away for longer than the pad may be warm: what begins cold is no longer warm, what comes back is."""
    text = WARMER.replace("cell gone: up to 40 ms", "cell gone: 40 min").replace(
        "memory:", "variables: {v: [a, b]}\nmemory:"
    )
    assert set(verdicts(text.replace("[state]", f"[{state}]"), "restarted-timer").values()) == {verdict}


METER = """spec: 1
device: bench meter
buttons: {key: {bounce: up to 5 ms, debounce: 15 ms}}
gestures: {tap: {taps: 1, press: up to 400 ms}}
variables: {warning: [none, low]}
events: {cable: {}}
cell: {low below: 2.4 V, fine above: 2.6 V, read every: 1 s}
initial: dark
states:
  dark:
    sleep: {woken by: [key], on: edge, ready in: 2 ms, dozes again after: 50 ms}
    transitions: {tap: lit}
  lit:
    at most: 11 s
    transitions:
      tap: dark
      after 10 s: dark
      cable: {LINE}
      cell low: {set: {warning: low}}
      cell fine: {set: {warning: none}}
person: {tap: 60 to 350 ms, between: 80 to 220 ms}
surroundings:
  loose cable: {makes: cable, then none for at least: 2 s}
  weak cell: {cell: sags and recovers, then steady at least: 2 s}
"""


def test_an_event_that_begins_the_time_anew_keeps_the_device_on() -> None:
    """A use is what somebody does with a gesture: that may keep it on; a cable in and out or a weak cell may not."""
    holds, broken = Verdict.HOLDS, Verdict.BROKEN
    quiet = METER.replace("{LINE}", "{set: {warning: none}}")
    assert verdicts(quiet, "restarted-timer") == {"lit, loose cable": holds, "lit, weak cell": holds}
    cable = METER.replace("{LINE}", "{set: {warning: none}, restarts: true}")
    assert verdicts(cable, "restarted-timer") == {"lit, loose cable": broken, "lit, weak cell": holds}
    cell = quiet.replace("{warning: low}}", "{warning: low}, restarts: true}")
    assert verdicts(cell, "restarted-timer") == {"lit, loose cable": holds, "lit, weak cell": broken}


def test_no_source_is_blamed_for_what_another_did() -> None:
    """What the device is for may keep it on, and is said to; a rattle that does nothing to its time isn't."""
    cable = METER.replace("{LINE}", "{set: {warning: none}, restarts: true}").replace(
        "at least: 2 s}\n  weak", "at least: 2 s, meant: true}\n  weak"
    )
    found = verdicts(cable, "restarted-timer")
    assert found == {"lit, loose cable": Verdict.BROKEN, "lit, weak cell": Verdict.HOLDS}


DOZER = """spec: 1
device: night clock
buttons: {key: {bounce: up to 5 ms, debounce: 15 ms}}
gestures: {hold: {held: 1 s}}
initial: dark
states:
  dark:
    sleep: {woken by: [key], on: edge, ready in: 2 ms, dozes again after: 50 ms, ignores a held button after: 3 s}
    transitions: {hold: lit}
  lit:
    transitions: {after 10 s: dark LINE}
person: {tap: 60 to 350 ms, between: 80 to 220 ms, hold: 1.2 to 2 s}
surroundings:
  book: {closes key: for good, then asleep within: 15 s}
"""


def test_what_a_stuck_button_still_has_to_do_is_not_going_round() -> None:
    """The book is there, the hold is only then seen, and the time brings the clock back: once, not for ever."""
    assert set(verdicts(DOZER.replace(" LINE", ""), "never-settles").values()) == {Verdict.HOLDS}
    blinks = DOZER.replace("{after 10 s: dark LINE}", "{after 10 s: dim}\n  dim:\n    transitions: {after 10 s: lit}")
    assert verdicts(blinks, "never-settles")["book"] is Verdict.BROKEN
