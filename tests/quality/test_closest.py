"""How close what holds is to failing: by hand, and by the ordinary check with the bound written into the spec."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from typing import Any

import pytest

from nudgeproof.check import check
from nudgeproof.engines.explore import Exploration, explore_space
from nudgeproof.spec.read import read_device
from nudgeproof.units import FOREVER, LONGEST_US, read_quantity
from nudgeproof.verdict import ClosestCall, Verdict
from tests.agreement.randomspecs import sketch
from tests.amount import amount
from tests.snapshots.screens import ROOT

MS = 1_000
D_LO, D_HI, B, H, READY = 15 * MS, 25 * MS, 8 * MS, 1_200 * MS, 1 * MS
P, G = 400 * MS, 260 * MS
BLUR = D_HI + B - D_LO

HELD = """spec: 1
device: one hold
buttons:
  pad: {bounce: up to 8 ms, debounce: 15 to 25 ms, edges apart: at least 10 us}
gestures:
  hold: {held: 1.2 s}
initial: stowed
states:
  stowed:
    sleep: {woken by: [pad], on: edge, ready in: 1 to 3 ms, dozes again after: 50 ms, each step: up to 20 us}
    transitions: {hold: lit}
  lit: {transitions: {hold: stowed}}
surroundings:
  squeeze: {closes pad: 20 to 500 ms, then open at least: 2 s}
promises:
  - squeeze never reaches lit
"""

TAPPED = """spec: 1
device: two taps
buttons:
  pad: {bounce: up to 8 ms, debounce: 15 to 25 ms, edges apart: at least 10 us}
gestures:
  two taps: {taps: 2, press: up to 400 ms, between: up to 260 ms}
initial: dark
states:
  dark: {transitions: {two taps: lit}}
  lit: {transitions: {two taps: dark}}
surroundings:
  knocks: {closes pad: 2 to 40 ms, then open at least: 300 ms}
  load: {closes pad: 500 ms to 20 s, then open at least: 100 ms}
"""

RATTLED = """spec: 1
device: starts twice
buttons:
  pad: {bounce: up to 5 ms, debounce: 20 ms}
gestures:
  hold: {held: 1 s}
initial: lit
states:
  lit: {transitions: {hold: worn}}
  worn: {transitions: {hold: lit}}
  service: {transitions: {hold: lit}}
memory: {keeps: [state], written: at once, write takes: 3 ms, guard: checksum, may lose: nothing}
power up: {takes: 70 ms, if blank: lit, if damaged: service, button held: ignored until released}
supply: {hold-up: 6 ms}
surroundings:
  rattle: {cell gone: up to 40 ms, then steady at least: 2 s}
  flicker: {cell gone: 1 to 4 ms, then steady at least: 50 ms}
promises:
  - rattle never reaches service
  - flicker never changes state
"""

JOINED = """spec: 1
device: two sources
buttons:
  pad: {bounce: up to 2 ms, debounce: 10 ms}
gestures:
  hold: {held: 500 ms}
  tap: {taps: 1, press: up to 100 ms}
initial: dark
states:
  dark: {transitions: {hold: ready}}
  ready: {waiting: true, transitions: {tap: lit, after 300 ms: dark}}
  lit: {transitions: {hold: dark}}
surroundings:
  squeeze: {closes pad: 200 ms to 400 ms, then open at least: 2 s}
  knocks: {closes pad: 2 to 40 ms, then open at least: 400 ms}
promises:
  - squeeze and knocks, together, never reach lit
"""


@cache
def calls(text: str) -> dict[tuple[str, str, str, bool], ClosestCall]:
    """All closest calls by hazard, source, key and whether it is the longest."""
    found = check(read_device(text, "closest.yaml"), closest_too=True).closest
    assert found is not None
    return {(call.hazard, call.source, call.key, call.longest): call for call in found}


def boundary(call: ClosestCall) -> tuple[int | float, int | None]:
    return call.holds_to_us, call.breaks_at_us


def test_a_single_hold_by_accident_takes_what_comes_out_on_paper() -> None:
    """H of docs/boundaries.md: a press of L is accepted at `x >= D_LO`, its release at `L + y` with `y <= D_HI + B`. The
    hold fires at `x + H` if that is no later: `D_LO + H <= L + D_HI + B`, so `L >= H - BLUR`.

    `accidental-wake` begins at any rest, also in the 50 ms before the processor dozes, so the sleep costs nothing. The
    promise begins with a device that nobody has used and that sleeps: S, the level counts from `READY` on.
    """
    found = calls(HELD)
    awake, asleep = H - BLUR, H + READY - BLUR
    assert boundary(found["accidental-wake", "squeeze", "closes pad", True]) == (awake - 1, awake)
    assert boundary(found["promise", "squeeze", "closes pad", True]) == (asleep - 1, asleep)
    for key in ("accidental-wake", "squeeze", "closes pad", False), ("promise", "squeeze", "closes pad", False):
        assert found[key].needs_no_limit


def test_two_taps_by_accident_take_what_comes_out_on_paper() -> None:
    """P and T of docs/boundaries.md: a pause counts up to `G + BLUR`, a press as a tap up to `P + BLUR`."""
    found = calls(TAPPED)
    pause, press = G + BLUR, P + BLUR
    assert boundary(found["accidental-change", "knocks", "then open at least", False]) == (pause + 1, pause)
    assert found["accidental-change", "knocks", "closes pad", True].needs_no_limit
    assert boundary(found["accidental-change", "load", "closes pad", False]) == (press + 1, press)
    assert found["accidental-change", "load", "closes pad", True].needs_no_limit


def test_interruptions_take_what_comes_out_on_paper() -> None:
    """A loss is a reset from the hold-up on, and at its very end either may be first: 6 ms.

    The first start after `rattle` finds memory blank, 70 ms after the cell is back; `lit` is entered, and written until
    73 ms. A second reset in the middle of the write damages the record, and it comes 6 ms after the loss. So the cell
    must be lost by 67 ms.
    """
    found = calls(RATTLED)
    assert boundary(found["promise", "flicker", "cell gone", True]) == (6 * MS - 1, 6 * MS)
    assert boundary(found["promise", "rattle", "then steady at least", False]) == (67 * MS + 1, 67 * MS)
    assert found["promise", "rattle", "cell gone", True].needs_no_limit


def test_sources_together_are_widened_one_at_a_time() -> None:
    """The hold takes `500 - 2` ms, as in H. A knock of 40 ms helps: its release may take 12 ms to be accepted, so a squeeze
    that follows within 12 ms, of `498 - 40 - 12` ms, goes on with the same press. The next knock may come 400 ms after
    the first, in time for the tap.

    Or a second knock lengthens the squeeze, up to 498 ms, and a third one taps. The hold is seen at `10 + 500` ms and waits
    for 300 ms; the tap takes 10 ms down and is seen 10 ms after: `498 + pause + 20 <= 810`.
    """
    found = calls(JOINED)
    assert boundary(found["promise", "squeeze", "closes pad", True]) == (446 * MS - 1, 446 * MS)
    assert found["promise", "squeeze", "closes pad", False].needs_no_limit
    assert boundary(found["promise", "knocks", "then open at least", False]) == (292 * MS + 1, 292 * MS)


def written_into(text: str, call: ClosestCall, us: int) -> str:
    """The spec with the bound that the call is about changed in its text."""

    def change(match: re.Match[str]) -> str:
        span = read_quantity(match[2]).span
        if call.key.startswith("then "):
            return f"{match[1]}{us} us"
        lo, hi = (span.lo, us) if call.longest else (us, int(span.hi))
        return f"{match[1]}{lo} us to {hi} us"

    pattern = rf"(^  {call.source}: +\{{.*?{call.key}: )([^,}}]*)"
    changed, count = re.subn(pattern, change, text, count=1, flags=re.MULTILINE)
    assert count == 1
    return changed


def verdict(text: str, call: ClosestCall) -> Verdict:
    report = check(read_device(text, "closest.yaml"), only=[call.hazard])
    found = [finding for finding in report.findings if (finding.hazard, finding.subject) == (call.hazard, call.subject)]
    assert len(found) == 1
    return found[0].verdict


def confirm(text: str, call: ClosestCall) -> None:
    """The ordinary check says so on both sides of a boundary; where no limit is needed, at the extreme."""
    assert call.is_exact, call
    inside = call.holds_to_us if call.holds_to_us != FOREVER else LONGEST_US
    assert verdict(written_into(text, call, int(inside)), call) is Verdict.HOLDS, call
    if call.breaks_at_us is not None:
        assert verdict(written_into(text, call, call.breaks_at_us), call) is Verdict.BROKEN, call


DEVICES = {"held": HELD, "tapped": TAPPED, "rattled": RATTLED, "joined": JOINED}


@pytest.mark.parametrize("name", [*DEVICES, "strap light"])
def test_on_both_sides_of_each_boundary_the_ordinary_check_says_the_same(name: str) -> None:
    mended = ROOT / "specs" / "failures" / "accidental-wake" / "mended.yaml"
    text = DEVICES.get(name) or mended.read_text(encoding="utf-8")
    found = calls(text).values()
    assert any(call.breaks_at_us is not None for call in found)
    for call in found:
        confirm(text, call)


@pytest.mark.usefixtures("few_random_steps")
@pytest.mark.parametrize("seed", amount((23,), (8, 22, 23)))
def test_on_random_devices_too(seed: int) -> None:
    text = sketch(seed).text
    report = check(read_device(text, "drawn.yaml"), "quick", closest_too=True)
    assert report.closest
    for call in report.closest:
        if call.is_exact:
            confirm(text, call)
            continue
        if call.holds_to_us != call.stated_us:
            assert verdict(written_into(text, call, int(call.holds_to_us)), call) is not Verdict.BROKEN, call
        if call.breaks_at_us is not None:
            assert verdict(written_into(text, call, call.breaks_at_us), call) is not Verdict.HOLDS, call


SAMPLED = """spec: 1
device: shelf lamp
buttons:
  pad: {bounce: up to 0 ms, samples: 1 every 15 ms, edges apart: at least 5 ms}
gestures:
  hold: {held: HELD}
initial: dark
states:
  dark:
    sleep: {ready in: 1 to 3 ms, dozes again after: 30 to 40 ms, each step: up to 0 ms}
    transitions: {hold: lit}
  lit: {}
surroundings:
  knocks: {closes pad: 2 to 14 ms, then open at least: 300 ms}
"""


@pytest.mark.parametrize(("held", "holds_to", "breaks_at"), [("60 ms", 44_999, 45_000), ("100 ms", 84_999, None)])
def test_beyond_what_one_rhythm_of_samples_gives_nothing_is_told(
    held: str, holds_to: int, breaks_at: int | None
) -> None:
    """A hold that is a whole number of periods is reached a period early; another isn't, in one rhythm.

    There the ordinary check says undecided, and so nothing is said to break.
    """
    text = SAMPLED.replace("HELD", held)
    call = calls(text)["accidental-wake", "knocks", "closes pad", True]
    assert boundary(call) == (holds_to, breaks_at)
    assert verdict(written_into(text, call, holds_to), call) is Verdict.HOLDS
    outside = Verdict.UNDECIDED if breaks_at is None else Verdict.BROKEN
    assert verdict(written_into(text, call, holds_to + 1), call) is outside


def test_what_is_accepted_counts_for_no_failure() -> None:
    """A knock of 15 ms taps, and that is accepted in `lit`; what is left is how long a knock holds."""
    text = TAPPED.replace(
        "two taps: {taps: 2, press: up to 400 ms, between: up to 260 ms}", "tap: {taps: 1, press: up to 400 ms}"
    )
    text = text.replace("two taps:", "tap:")
    entries = "".join(
        f"\n  - {{hazard: accidental-change, by: [knocks, load], in: {state}, why: a test, who: maker, granted: 2026-11-20}}"
        for state in ("dark", "lit")
    )
    assert all(not call.needs_no_limit for key, call in calls(text).items() if key[1:] == ("load", "closes pad", False))
    accepted = calls(f"{text}accepts:{entries}\n")
    assert accepted
    assert all(call.needs_no_limit for call in accepted.values())


def test_an_effort_that_runs_out_is_not_found_out(monkeypatch: pytest.MonkeyPatch) -> None:
    device = read_device(HELD, "closest.yaml")
    everything = {(call.hazard, call.key, call.longest): call for call in calls(HELD).values()}
    monkeypatch.setattr("nudgeproof.closest.SHARES", 400)
    short = check(device, closest_too=True).closest
    assert short
    assert not any(call.is_exact for call in short if call.hazard == "accidental-wake")
    for call in short:
        known = everything[call.hazard, call.key, call.longest]
        reach = abs(call.holds_to_us - call.stated_us)
        assert reach <= abs(known.holds_to_us - known.stated_us)
        assert call.breaks_at_us is None or call.is_exact or known.breaks_at_us is not None


def test_where_time_stops_nothing_is_found_out(monkeypatch: pytest.MonkeyPatch) -> None:
    def stopped(*given: Any, **more: Any) -> Exploration:
        seen = explore_space(*given, **more)
        return replace(seen, paths=(None,) * len(seen.paths), stuck=((),))

    monkeypatch.setattr("nudgeproof.closest.explore_space", stopped)
    found = check(read_device(HELD, "closest.yaml"), closest_too=True).closest
    assert found
    assert {(call.holds_to_us - call.stated_us, call.breaks_at_us, call.is_exact) for call in found} == {
        (0, None, False)
    }


def test_a_source_that_acts_for_good_has_nothing_to_widen() -> None:
    text = re.sub(r"closes pad: 20 to 500 ms, then open at least: 2 s", "closes pad: for good", HELD)
    text = text.replace("squeeze never reaches lit", "squeeze never changes state").replace(
        "{hold: lit}", "{hold: stowed}"
    )
    found = check(read_device(text, "stuck.yaml"), closest_too=True)
    assert found.closest == ()


def test_it_is_told_only_if_asked_for() -> None:
    assert check(read_device(HELD, "closest.yaml")).closest is None


CHIME = """spec: 1
device: door chime
buttons:
  key: {debounce: 20 ms}
gestures:
  tap: {taps: 1, press: up to 400 ms}
events:
  opened: {}
initial: quiet
states:
  quiet:
    sleep: {woken by: [key, opened], ready in: 2 ms, dozes again after: 50 ms}
    transitions: {opened: chiming}
  chiming:
    shows: a chime
    transitions: {tap: quiet, after 5 s: quiet}
memory: {keeps: [state], write takes: 3 ms, guard: two copies, may lose: the last 10 ms}
power up: {takes: 30 ms}
supply: {hold-up: 20 ms}
person: usual
surroundings:
  rattle: {cell gone: up to 15 ms, then steady at least: 1 s}
  door: {makes: opened, then none for at least: 1 s, meant: true}
"""


def test_what_the_device_is_for_may_act_beside_a_source_whose_bounds_are_widened() -> None:
    calls = check(read_device(CHIME, "chime.yaml"), closest_too=True).closest
    assert calls
    assert {call.source for call in calls} == {"rattle"}
