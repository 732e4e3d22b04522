"""The shrinker by itself, on questions that need no firmware."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from nudgeproof.firmware.acts import BUTTON, CELL, Act, Acts, edges_of, tell_acts
from nudgeproof.firmware.shrinking import shrink

LENGTHS = st.sampled_from([5_000, 40_000, 120_000, 700_000, 1_300_000])
FLIPS = st.sampled_from([(), (100, 250), (100, 250, 700, 900)])


@st.composite
def presses(draw: st.DrawFn) -> Acts:
    """One press after the other, now and then the cell gone."""
    acts, now = [], draw(LENGTHS)
    for _ in range(draw(st.integers(1, 9))):
        if draw(st.integers(0, 4)) == 0:
            acts.append(Act(CELL, "", now, draw(LENGTHS)))
        else:
            acts.append(Act(BUTTON, draw(st.sampled_from(["a", "b"])), now, draw(LENGTHS), draw(FLIPS), draw(FLIPS)))
        now = acts[-1].end_us + draw(LENGTHS)
    return tuple(acts)


def hold_and_two_taps(acts: Acts, end_us: int) -> int | None:
    """A fake firmware: it fails 30 ms after the second tap of `a` behind a hold of at least a second on any button."""
    held, taps = False, 0
    for act in acts:
        if act.kind == CELL:
            held, taps = False, 0
        elif act.lasts_us >= 1_000_000:
            held, taps = True, 0
        elif held and act.what == "a" and act.lasts_us >= 10_000:
            taps += 1
            if taps == 2:
                return act.end_us + 30_000 if act.end_us + 30_000 <= end_us else None
    return None


def long_closed(acts: Acts, end_us: int) -> int | None:
    """A fake firmware: it fails once the contacts were closed for a second in all."""
    total = 0
    for edge in (edges := edges_of(acts)):
        total += -edge.at_us if edge.on else edge.at_us
    ends = edges[-1].at_us if edges else 0
    return ends if total >= 1_000_000 and ends <= end_us else None


@settings(derandomize=True, database=None, deadline=None, max_examples=150)
@given(presses(), st.sampled_from([hold_and_two_taps, long_closed]))
def test_what_is_left_still_fails_and_no_act_can_be_taken_away(acts: Acts, fails) -> None:  # type: ignore[no-untyped-def]
    end_us = acts[-1].end_us + 1_000_000
    at_us = fails(acts, end_us)
    if at_us is None:
        return
    shrunk = shrink(acts, end_us, at_us, fails)
    assert shrunk.is_least
    assert fails(shrunk.acts, shrunk.end_us) == shrunk.at_us <= shrunk.end_us <= end_us
    for i in range(len(shrunk.acts)):
        assert fails((*shrunk.acts[:i], *shrunk.acts[i + 1 :]), shrunk.end_us) is None
    if fails is hold_and_two_taps:
        assert len(shrunk.acts) == 3
        assert not any(act.closing or act.opening for act in shrunk.acts)
        # Each time is within a millisecond of the least.
        assert [act.lasts_us // 2_000 for act in shrunk.acts] == [500, 5, 5]
        assert shrunk.acts[0].at_us == 0


def test_single_acts_between_those_that_are_needed_go_too() -> None:
    lengths = (1_200_000, 30_000, 80_000, 30_000, 80_000)
    acts = tuple(Act(BUTTON, "ab"[i % 2], 2_000_000 * i, lasts) for i, lasts in enumerate(lengths))
    at_us = hold_and_two_taps(acts, 20_000_000)
    assert at_us is not None
    assert [act.what for act in shrink(acts, 20_000_000, at_us, hold_and_two_taps).acts] == ["a", "a", "a"]


def test_too_few_questions_are_told_and_what_is_left_fails_all_the_same() -> None:
    acts = tuple(Act(BUTTON, "a", 3_000_000 * i, 1_500_000 if i == 3 else 100_000) for i in range(9))
    for most in range(12):
        shrunk = shrink(acts, 30_000_000, 16_000_000, hold_and_two_taps, most)
        assert not shrunk.is_least
        assert hold_and_two_taps(shrunk.acts, shrunk.end_us) is not None


def test_edges_of_acts_that_overlap() -> None:
    acts = (
        Act(BUTTON, "a", 100, 50, (10, 20), (5, 9)),
        Act(BUTTON, "a", 120, 100),
        Act(BUTTON, "b", 100, 10),
        Act(CELL, "", 500, 5),
    )
    told = [(edge.at_us, edge.what, edge.on) for edge in edges_of(acts)]
    # `a` flips at 110 and 120, and then the second act holds it. Where two edges meet one waits.
    assert told == [
        (100, "a", True), (101, "b", True), (110, "a", False), (111, "b", False), (120, "a", True), (220, "a", False),
        (500, "", True), (505, "", False),
    ]  # fmt: skip
    assert (
        tell_acts(acts[2:], 600) == "wait 100 us, b closed for 10 us, wait 390 us, the cell gone for 5 us, wait 95 us"
    )
