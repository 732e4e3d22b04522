"""What is said of all specimens: bounds derived on paper, met on both sides, and what may not be said.

Notation: `f` is how long a microsecond of the clock really lasts, from 1/(1+p) to 1/(1-p) for a clock off by p.
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from nudgeproof import specimens
from nudgeproof.boxes import CLOCK, at_point, whole_box
from nudgeproof.check import audit_proof, check
from nudgeproof.engines.concrete import Run
from nudgeproof.parts.compile import Environment, compile_model
from nudgeproof.random_runs import run_all
from nudgeproof.replay import retell
from nudgeproof.report.as_json import to_json
from nudgeproof.report.screen import show
from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import Device
from nudgeproof.units import Bound, show_us
from nudgeproof.verdict import Finding, Verdict
from nudgeproof.why import find_ways, read_symptom
from tests.amount import amount

MS = 1_000


def bench(
    gestures: str,
    idle: str,
    closes: str = "1 ms to 2 s",
    apart_us: int = 1_000,
    clock: str = "",
    debounce: str = "0 ms",
    bounce: str = "up to 0 ms",
    more: str = "",
    extra: str = "",
) -> Device:
    return read_device(
        f"""spec: 1
device: bench piece
buttons:
  pad: {{bounce: {bounce}, debounce: {debounce}, edges apart: at least 10 us}}
gestures:
  {gestures}
{f"clock: {{{clock}}}" if clock else "#"}
initial: idle
states:
  idle: {{transitions: {{{idle}}}}}
  {extra}
  hit: {{shows: hit}}
surroundings:
  squeeze: {{closes pad: {closes}, then open at least: {apart_us} us}}
promises:
  - squeeze never reaches hit
{more}
""",
        "bench.yaml",
    )


def squeezed(device: Device) -> Finding:
    """What is found for the promise that the squeeze never reaches `hit`."""
    (finding,) = check(device, only=["promise"]).findings
    return finding


def reached(device: Device, mode: str = "hit") -> Finding:
    return next(f for f in check(device, only=["unreachable-mode"]).findings if f.subject == mode)


def tap_and_hold(clock: str, closes: str) -> Device:
    """`hit` takes one press that is a tap and another one that is a hold."""
    return bench(
        "tap: {taps: 1, press: up to 400 ms}\n  hold: {held: 410 ms}",
        "tap: lit",
        closes=closes,
        clock=clock,
        extra="lit: {transitions: {hold: hit}}",
    )


@pytest.mark.parametrize("short", [0, 1])
def test_on_one_clock_lengths_this_far_apart_are_a_tap_and_a_hold_and_not_a_microsecond_less(short: int) -> None:
    """A press of a ms is a tap if a <= 400 f, one of b ms a hold if b >= 410 f: both on one specimen if b >= a * 410/400.

    With a = 404 ms that is b = 414.1 ms, and f = 1.01.
    """
    finding = squeezed(tap_and_hold("off by: 5 %, drift: one clock", f"404 to {show_us(414_100 - short)}"))
    assert finding.verdict is (Verdict.HOLDS if short else Verdict.BROKEN)
    if not short:
        assert finding.where == finding.specimen.join(("on ", "")) == "on a specimen whose clock is about 0.9901 % slow"


def test_with_each_time_off_by_itself_one_length_is_a_tap_and_a_hold() -> None:
    finding = squeezed(tap_and_hold("off by: 5 %", "405 ms"))
    assert (finding.verdict, finding.specimen) == (Verdict.BROKEN, "")


def test_one_length_is_never_both_on_one_clock() -> None:
    assert squeezed(tap_and_hold("off by: 5 %, drift: one clock", "405 ms")).verdict is Verdict.HOLDS


def test_a_tap_limit_and_a_hold_in_one_state_need_only_differ_as_written_on_one_clock() -> None:
    """400/0.95 is more than 410/1.05, but 400 f is less than 410 f."""
    text = "tap: {taps: 1, press: up to 400 ms}\n  hold: {held: 410 ms}"
    device = bench(text, "tap: lit, hold: hit", clock="off by: 5 %, drift: one clock", extra="lit: {}")
    assert squeezed(device).verdict is Verdict.BROKEN
    with pytest.raises(Exception, match="both a tap of `tap`"):
        bench(text, "tap: lit, hold: hit", clock="off by: 5 %", extra="lit: {}")


G, B, DMIN, DMAX, P = 260 * MS, 8 * MS, 15 * MS, 25 * MS, 400 * MS


def three_taps(debounce: str, apart_us: int, clock: str = "") -> Device:
    return bench(
        f"three taps: {{taps: 3, press: up to {show_us(P)} ± 1 us, between: up to {show_us(G)}}}",
        "three taps: hit",
        closes="30 to 40 ms",
        apart_us=apart_us,
        debounce=debounce,
        bounce=f"up to {show_us(B)}",
        clock=clock,
    )


FINEST = (DMAX - DMIN) // 128 + 1
"""Boxes no wider than this are reached: what they let a debounce time vary is less than this is beyond the bound."""


@pytest.mark.parametrize(
    ("beyond", "verdict"),
    [(0, Verdict.BROKEN), *amount((), ((1, Verdict.UNDECIDED),)), (2 * FINEST, Verdict.HOLDS)],
)
def test_with_one_debounce_value_it_cancels_out_of_the_pause(beyond: int, verdict: Verdict) -> None:
    """A release is accepted at most d + b after its first edge, a press at least d after its own: spacing <= g + b.

    Drawn anew each time it is g + (dmax - dmin) + b (see `tests/quality/test_boundaries.py`). Just beyond, no box is fine
    enough to rule out that d varies: undecided, not a pass.
    """
    finding = squeezed(three_taps("15 to 25 ms per unit", G + B + beyond))
    assert finding.verdict is verdict
    assert ("coarse" in finding.reason) == (verdict is Verdict.UNDECIDED)
    assert squeezed(three_taps("15 to 25 ms", G + B + DMAX - DMIN)).verdict is Verdict.BROKEN


@pytest.mark.parametrize(("beyond", "verdict"), [(0, Verdict.BROKEN), (2 * FINEST, Verdict.HOLDS)])
def test_the_slowest_clock_sets_the_pause(beyond: int, verdict: Verdict) -> None:
    """g f + b, f at most 1/0.95: 260 ms become 273684.21 us, so 281684 us between the edges are the last that count."""
    finding = squeezed(three_taps("15 to 25 ms per unit", 281_684 + beyond, "off by: 5 %, drift: one clock"))
    assert finding.verdict is verdict
    if not beyond:
        assert finding.specimen.startswith("a specimen whose clock is ")
        assert finding.specimen.split(" and ")[0].endswith(" % slow")


def test_without_exact_times_rounding_would_give_a_microsecond_more() -> None:
    assert squeezed(three_taps("20 ms ± 1 us", 281_685 + 2, "off by: 5 %")).verdict is Verdict.BROKEN


def limited(press: str, held: str = "5 s", tap: str = "60 to 70 ms") -> Device:
    """`hit` is reached by a tap that is short enough, or one that is long enough for the hold."""
    return bench(
        f"tap: {{taps: 1, press: {press}}}\n  hold: {{held: {held}}}",
        "tap: hit, hold: hit",
        more=f"person: {{tap: {tap}, between: 80 to 90 ms}}",
    )


@pytest.mark.parametrize(("low", "verdict"), [("60 ms", Verdict.HOLDS), ("59.999 ms", Verdict.BROKEN)])
def test_what_is_wanted_must_be_possible_on_every_specimen(low: str, verdict: Verdict) -> None:
    """A tap of at least 60 ms is one only where the limit is 60 ms or more; in the middle it is."""
    middle, width = (65, 5) if low == "60 ms" else ("62.5", "2.501")
    finding = reached(limited(f"up to {middle} ms ± {width} ms per unit"))
    assert finding.verdict is verdict
    if verdict is Verdict.BROKEN:
        assert finding.sentence == (
            "hit can't be reached by the person's pressing, whatever the timing, "
            "on a specimen whose `press` is 59.999 ms and whose `held` is 5 s"
        ).removesuffix(" and whose `held` is 5 s")


@pytest.mark.parametrize(("high", "verdict"), [(70, Verdict.HOLDS), (71, Verdict.BROKEN)])
def test_each_specimen_may_have_a_way_of_its_own(high: int, verdict: Verdict) -> None:
    """Where the tap limit is below 60 ms there is the hold, if it is reached within 70 ms."""
    finding = reached(limited("up to 60 ms ± 5 ms per unit", f"66 to {high} ms per unit"))
    assert finding.verdict is verdict
    if verdict is Verdict.BROKEN:
        assert "whose `press` is 55 ms and whose `held` is 71 ms" in finding.sentence


def test_some_specimens_have_a_tap_and_the_others_a_hold() -> None:
    """Up to 60 ms f a tap of 60 ms counts, so with f >= 1; from 69 ms f on a hold, so 70 ms are one with f <= 70/69."""
    device = bench(
        "tap: {taps: 1, press: up to 60 ms}\n  hold: {held: 69 ms}",
        "tap: hit, hold: hit",
        clock="off by: 5 %, drift: one clock",
        more="person: {tap: 60 to 70 ms, between: 80 to 90 ms}",
    )
    assert reached(device).verdict is Verdict.HOLDS


def test_what_only_one_specimen_in_the_middle_of_the_clock_can_do_is_found() -> None:
    """Timers of 400 f and 410 f against lengths that leave f from 1.02 to 1.0201."""
    finding = squeezed(tap_and_hold("off by: 5 %, drift: one clock", "408 to 418.241 ms"))
    assert finding.verdict is Verdict.BROKEN
    assert finding.specimen == "a specimen whose clock is 1.97 % slow"
    assert Fraction(408, 400) <= 1 / (1 - Fraction("0.0197")) <= Fraction(418_241, 410_000)


def play(device: Device, finding: Finding, point: dict[str, Fraction]) -> None:
    """Replay a story on a specimen; raises `CannotHappen`."""
    assert finding.story is not None
    run = Run(compile_model(at_point(device, point), Environment(("squeeze",))))
    for beat in finding.story.beats:
        run.advance(beat.at_us - run.now)
        names = [(run.model.parts[part].name, timer.name) for part, timer in run.timers]
        run.take(names.index((beat.part, beat.timer)), beat.choice)
    assert run.model.value(run.situation, "state") == "hit"


def test_the_story_happens_on_the_specimen_that_is_named() -> None:
    device = tap_and_hold("off by: 5 %, drift: one clock", "408 to 418.241 ms")
    play(device, squeezed(device), {CLOCK: 1 / (1 - Fraction("0.0197"))})


def test_what_is_too_fine_for_the_boxes_is_undecided_and_never_a_pass(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(specimens, "MOST_BOXES", 2)
    finding = squeezed(tap_and_hold("off by: 20 %, drift: one clock", "405 ms"))
    assert finding.verdict is Verdict.UNDECIDED
    assert finding.reason.startswith("coarse: every story found needs one specimen's times to vary")
    assert finding.story is None


def test_a_certificate_is_written_for_what_the_whole_box_rules_out_and_named_where_it_is_not() -> None:
    clock = "off by: 5 %, drift: one clock"
    whole = bench("hold: {held: 410 ms}", "hold: hit", closes="1 to 390 ms", clock=clock)
    proofs: list = []  # type: ignore[type-arg]
    report = check(whole, only=["promise"], proofs=proofs)
    (proof,) = proofs
    assert audit_proof(whole, proof.hazard, proof.subject, proof.text).ok
    assert "certificates" not in {one.hazard for one in report.not_asked}
    cut = tap_and_hold(clock, "405 ms")
    proofs = []
    report = check(cut, only=["promise"], proofs=proofs, closest_too=True)
    assert proofs == []
    assert report.findings[0].verdict is Verdict.HOLDS
    told = {one.hazard: one.reason for one in report.not_asked}
    assert told["certificates"].endswith("promise: squeeze never reaches hit")
    assert "closest calls" in told


def test_the_assumptions_say_what_a_specimen_has_one_value_of() -> None:
    device = three_taps("15 to 25 ms per unit", 300 * MS, "off by: 5 %, drift: one clock")
    told = " ".join(show(check(device, only=["promise"])).split())
    assert (
        "drift: one clock; all times that the firmware counts on one specimen are off by one share, up to 5 %" in told
    )
    assert "debounce of pad: 15 ms to 25 ms per unit; one value on each specimen" in told


def slow_hold(held: str) -> Device:
    """`lit` is entered only where the hold time is over before 400 ms are."""
    return bench(
        f"tap: {{taps: 1, press: up to 100 ms}}\n  hold: {{held: {held}}}",
        "tap: armed",
        extra="armed: {transitions: {hold: lit, after 400 ms ± 1 us: idle}}\n  lit: {transitions: {tap: hit}}",
        more="  - from lit, tap reaches hit\nperson: {tap: 60 to 70 ms, between: 80 to 90 ms}",
    )


@pytest.mark.parametrize(
    ("held", "verdict"),
    [
        ("395 to 435 ms per unit", Verdict.HOLDS),
        ("405 to 435 ms per unit", Verdict.VACUOUS),
        ("405 to 435 ms", Verdict.VACUOUS),
    ],
)
def test_it_must_come_up_on_some_specimen_if_not_on_the_one_in_the_middle(held: str, verdict: Verdict) -> None:
    findings = {finding.subject: finding for finding in check(slow_hold(held), only=["promise"]).findings}
    assert findings["from lit, tap reaches hit"].verdict is verdict


def test_what_follows_from_failures_of_different_specimens_is_left_open() -> None:
    """The tap is missed where its limit is short, the hold where its time is long: none is shown to lack both."""
    device = bench(
        "tap: {taps: 1, press: up to 62 ms ± 6 ms per unit}\n  hold: {held: 1.9 to 2.2 s per unit}",
        "tap: lit",
        extra="lit: {transitions: {tap: off, hold: off}}\n  off: {sleep: {ready in: 1 ms, dozes again after: 50 ms}}",
        more="person: {tap: 40 to 61 ms, between: 80 to 90 ms, hold: 2.1 to 3 s}",
    )
    missed = {f.subject: f for f in check(device, only=["missed-gesture"]).findings}
    assert {subject: f.verdict for subject, f in missed.items()} == {
        "tap in idle": Verdict.BROKEN,
        "tap in lit": Verdict.BROKEN,
        "hold in lit": Verdict.BROKEN,
    }
    found = {f.subject: f for f in check(device, only=["no-way-off"]).findings}
    assert found["lit"].verdict is Verdict.UNDECIDED
    assert found["lit"].reason == "what it follows from was broken on specimens that may differ"
    tight = bench(
        "tap: {taps: 1, press: up to 52 ms ± 6 ms per unit}\n  hold: {held: 2.3 to 2.5 s per unit}",
        "tap: lit",
        extra="lit: {transitions: {tap: off, hold: off}}\n  off: {sleep: {ready in: 1 ms, dozes again after: 50 ms}}",
        more="person: {tap: 40 to 61 ms, between: 80 to 90 ms, hold: 2.1 to 3 s}",
    )
    found = {f.subject: f for f in check(tight, only=["no-way-off"]).findings}
    assert found["lit"].verdict is Verdict.BROKEN
    assert found["lit"].specimen == "a specimen whose `press` is 52 ms and whose `held` is 2.4 s"


def test_the_whole_box_is_as_wide_as_each_time_by_itself() -> None:
    device = tap_and_hold("off by: 5 %, drift: one clock", "405 ms")
    each = tap_and_hold("off by: 5 %", "405 ms")

    def widths(of: Device) -> list[tuple[int, Bound]]:
        return [(s.lo, s.hi) for g in of.gestures for s in (g.press, g.held) if s is not None]

    assert widths(device) == widths(each)
    assert whole_box(device).side(CLOCK) == (Fraction(100, 105), Fraction(100, 95))


def test_a_story_is_told_again_on_a_specimen_that_can_take_it() -> None:
    device = tap_and_hold("off by: 5 %, drift: one clock", "408 to 418.241 ms")
    text = to_json([check(device, only=["promise"])])
    (told,) = retell(device, text)
    assert told.finding is not None
    tighter = tap_and_hold("off by: 1.9 %, drift: one clock", "408 to 418.241 ms")
    (told,) = retell(tighter, text)
    assert told.finding is None


def test_random_runs_are_those_of_one_specimen() -> None:
    """Drawn anew each time, one length would soon be taken for both."""
    rounds = run_all(tap_and_hold("off by: 5 %, drift: one clock", "405 ms"), 4_000, 0, ())
    assert sum(one.asked for one in rounds) > 0
    assert [finding for one in rounds for finding in one.findings if finding.hazard == "promise"] == []
    rounds = run_all(tap_and_hold("off by: 5 %", "405 ms"), 4_000, 0, ())
    assert [finding for one in rounds for finding in one.findings if finding.hazard == "promise"]


def test_all_ways_say_that_one_specimen_was_not_asked_for() -> None:
    for clock, said in (("off by: 5 %", False), ("off by: 5 %, drift: one clock", True)):
        device = tap_and_hold(clock, "405 ms")
        ways = find_ways(device, read_symptom(device, "lit -> hit"), "quick")
        assert any(text.startswith("whether one specimen can do it") for text in ways.untried) == said
