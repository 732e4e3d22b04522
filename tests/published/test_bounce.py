"""The readers against recorded and published contact bounce.

A scripted source plays edges at exact times into the real reader part. Times in the tool are whole microseconds, so each
time of a log in nanoseconds is rounded to the nearest one; a gap changes by less than 1 us, and no window used here is
nearer than that to a gap that matters.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import pytest

from nudgeproof.diagnostics import Place
from nudgeproof.engines.explore import explore
from nudgeproof.engines.story import Story, tell
from nudgeproof.model.step import Move
from nudgeproof.model.tables import Choice, Local, Model, Part, Reads, Situation, Timer
from nudgeproof.parts.compile import Environment
from nudgeproof.parts.reader import reader
from nudgeproof.spec.types import Button
from nudgeproof.units import Span
from tests.devices import bench, can_enter, presses

MS = 1_000

LOG_NS = (
    (3961250, 0), (4016125, 0), (4047250, 0), (4081812, 1), (4084312, 0), (4188625, 0), (4306437, 0), (4349437, 0),
    (4379250, 1), (4387687, 0), (4412875, 0), (4420125, 1), (4422625, 0), (4437125, 0), (4472875, 1), (4476562, 0),
    (4485000, 1), (4487500, 0), (4528000, 1), (4532875, 0), (4597125, 1), (4599625, 0),
)  # fmt: skip
"""Time of each edge and the pin's level after it; 0 is closed (the pin is pulled up). Two equal levels in a row are an edge
that the logger missed. Source: issue 12 of github.com/adamfk/bouncy-button-data (CC0-1.0)."""

Edges = Sequence[tuple[int, bool]]


def logged() -> list[tuple[int, bool]]:
    """The log as microseconds from its first edge, True for closed."""
    first = LOG_NS[0][0]
    return [((ns - first + 500) // 1_000, level == 0) for ns, level in LOG_NS]


def source(edges: Edges) -> Part:
    """Plays `edges` (time in us, closed or not). Local state: how many have come."""

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        assert isinstance(local, int)
        if local == len(edges):
            return ()
        wait = edges[local][0] - (edges[local - 1][0] if local else 0)
        return (Timer(f"edge {local}", wait, wait),)

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        assert isinstance(local, int)
        return (Choice(local + 1, ("edge pad",)),)

    def shown(local: Local) -> tuple[bool, bool]:
        assert isinstance(local, int)
        return (edges[local - 1][1] if local else False, True)

    return Part(
        "source", "person", 0, publishes=("level pad", "running"), shown=shown, armed=armed, expired=expired,
        sends=("edge pad",),
    )  # fmt: skip


def any_burst(longest_us: int, inside: bool) -> Part:
    """A press with any burst of at most `longest_us`, edges 1 us apart or more; `inside`: it has an edge before its last.

    Local state: (closed, phase). A burst that would end without an edge inside, where one is wanted, comes to nothing.
    """

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        match split(local)[1]:
            case "before":
                return (Timer("first edge", 0, 0),)
            case "first gap" | "burst":
                return (Timer("chatters", 1, longest_us - inside), Timer("last edge", 1, longest_us))
        return ()

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        closed, phase = split(local)
        if timer == "first edge":
            return (Choice((True, "first gap" if inside else "burst"), ("edge pad",)),)
        if timer == "chatters":
            return (Choice((not closed, "burst"), ("edge pad",)),)
        return (Choice((True, "nothing")),) if phase == "first gap" else (Choice((True, "rest"), ("edge pad",)),)

    return Part(
        "source", "person", (False, "before"), publishes=("level pad", "running"),
        shown=lambda local: (split(local)[0], True), armed=armed, expired=expired, sends=("edge pad",),
    )  # fmt: skip


def split(local: Local) -> tuple[bool, str]:
    assert isinstance(local, tuple)
    closed, phase = local
    return closed, phase


def clock(at_us: int) -> Part:
    """Tells whether `at_us` has come."""
    return Part(
        "clock", "device", "early",
        armed=lambda local, reads: (Timer("strikes", at_us, at_us),) if local == "early" else (),
        expired=lambda local, timer, reads: (Choice("late"),),
    )  # fmt: skip


def pad(window_us: int) -> Part:
    here = Place("bounce.yaml", 1, 1)
    return reader(Button("pad", 0, Span(window_us, window_us), 0, here), held_ignored=None)


def deaf_pad(lockout_us: int) -> Part:
    here = Place("bounce.yaml", 1, 1)
    return reader(Button("pad", 0, None, 0, here, lockout=Span(lockout_us, lockout_us)), held_ignored=None)


def changes(model: Model, before: Situation, move: Move) -> bool:
    return model.value(before, "reading pad") != model.value(move.situation, "reading pad")


def accepted(edges: Edges, window_us: int) -> list[tuple[int, bool]]:
    """Every change of the reading with a debounce of this length: when, and to what."""
    return accepted_by(edges, pad(window_us))


def accepted_by(edges: Edges, by: Part) -> list[tuple[int, bool]]:
    """The same for any reader. Nothing is left open here, so there is one run, told to its end."""
    model = Model((source(edges), by))

    def all_quiet(model: Model, before: Situation, move: Move) -> bool:
        return not move.timers

    found = explore(model, [all_quiet], 1_000)
    (path,) = found.paths
    assert path is not None
    told: Story = tell(model, path)
    return [
        (beat.at_us, bool(model.value(beat.after, "reading pad")))
        for beat in told.beats
        if model.value(beat.before, "reading pad") != model.value(beat.after, "reading pad")
    ]


def test_the_log_is_the_published_one() -> None:
    """22 samples over 638.375 us, the longest gap 117.812 us (arithmetic on the log; rounded to 638 and 118)."""
    edges = logged()
    assert len(edges) == 22
    assert LOG_NS[-1][0] - LOG_NS[0][0] == 638_375
    assert max(b[0] - a[0] for a, b in pairwise(LOG_NS)) == 117_812
    assert edges[-1][0] == 638
    assert max(b[0] - a[0] for a, b in pairwise(edges)) == 118


def test_a_window_of_100_us_accepts_within_the_recorded_burst() -> None:
    """The gaps of 104 and 118 us are longer than the window (log: github.com/adamfk/bouncy-button-data, issue 12)."""
    edges = logged()
    assert accepted(edges, 100) == [(edges[4][0] + 100, True)]
    assert edges[4][0] + 100 < edges[-1][0]


@pytest.mark.parametrize("window_us", [119, 150])
def test_a_window_of_150_us_waits_for_the_end_of_it(window_us: int) -> None:
    """Same log: no gap is as long, so it is accepted once, a window after the last edge."""
    edges = logged()
    assert accepted(edges, window_us) == [(edges[-1][0] + window_us, True)]


@pytest.mark.parametrize(
    ("lockout_us", "times"), [(639, [0]), (600, [0, 636, 1236]), (100, [0, 121, 221, 418, 518, 636, 736])]
)
def test_a_lockout_takes_the_first_recorded_edge_and_nothing_else_if_it_outlasts_the_burst(
    lockout_us: int, times: list[int]
) -> None:
    """Same log: it opens for 2 us at 121 us and, at last, at 636 us, and is closed for good from 638 us on."""
    assert [at for at, _ in accepted_by(logged(), deaf_pad(lockout_us))] == times


def test_every_edge_starts_the_window_over() -> None:
    """Edges at 0, 60 and 130 ms, then quiet, window 100 ms: accepted at exactly 230 ms, not at 100.

    Source: Universal Serial Bus Specification 2.0, section 7.1.7.3 (debounce of attaching: stable for at least 100 ms, the
    timer restarts at each disconnect), as quoted in public kernel patches.
    """
    edges = [(0, True), (60 * MS, False), (130 * MS, True)]
    assert accepted(edges, 100 * MS) == [(230 * MS, True)]


@pytest.mark.parametrize(("at_us", "possible"), [(100 * MS, False), (230 * MS - 1, False), (230 * MS, True)])
def test_not_a_microsecond_earlier(at_us: int, possible: bool) -> None:
    """The same, asked of every order at once: accepted before a clock strikes? At the same instant either may be first."""
    edges = [(0, True), (60 * MS, False), (130 * MS, True)]
    model = Model((source(edges), pad(100 * MS), clock(at_us)))

    def early(model: Model, before: Situation, move: Move) -> bool:
        return changes(model, before, move) and move.situation[-1] == "early"

    found = explore(model, [early], 1_000)
    assert (found.paths[0] is not None) is possible
    assert possible or found.complete


def opening(span_us: int, gap_us: int) -> list[tuple[int, bool]]:
    """A clean press, and 1 s later an opening burst of `span_us`, an edge each `gap_us` and a last one that opens."""
    begin = 1_000 * MS
    times = [*range(0, span_us, gap_us), span_us]
    if len(times) % 2 == 0:  # the first edge and the last one open, so their number is odd
        del times[-2]
    return [(0, True), *((begin + t, bool(i % 2)) for i, t in enumerate(times))]


@pytest.mark.parametrize("gap_us", [6_300, 10_000, 30_000])
def test_an_opening_burst_of_157_ms_gets_through_a_window_of_6200_us(gap_us: int) -> None:
    """J. Ganssle, "A Guide to Debouncing" (2004, revised 2008), measured switches: one bounced for 157 ms on opening.

    Its edges aren't published; a burst of that length with gaps longer than the window is made up here. It fails: the
    reading changes while the contact still bounces. A window longer than the burst waits for its end.
    """
    edges = opening(157 * MS, gap_us)
    end = edges[-1][0]
    assert end == 1_157 * MS
    inside = [at for at, _ in accepted(edges, 6_200) if 1_000 * MS <= at < end]
    assert inside, "the window must fail here"
    assert accepted(edges, 158 * MS) == [(158 * MS, True), (end + 158 * MS, False)]


@pytest.mark.parametrize("gap_us", [6_300, 10_000, 30_000])
def test_an_opening_burst_of_157_ms_is_several_presses_for_a_lockout_of_6200_us(gap_us: int) -> None:
    """The same switch and the same made-up bursts, read at once and then not for a while."""
    edges = opening(157 * MS, gap_us)
    assert len(accepted_by(edges, deaf_pad(6_200))) > 2
    assert accepted_by(edges, deaf_pad(158 * MS)) == [(0, True), (1_000 * MS, False)]


@pytest.mark.parametrize(
    ("window_us", "inside", "passes"), [(6_200, True, True), (6_201, False, True), (6_200, False, False)]
)
def test_every_burst_up_to_6200_us_is_waited_for(window_us: int, inside: bool, passes: bool) -> None:
    """Same guide: but for two switches no bounce lasted longer than 6200 us. All bursts of at most that length at once.

    With an edge inside the burst every gap is shorter than the window. Without one the burst may be a single gap of 6200 us,
    and a window of just that expires in the same instant as its last edge, either first; limits include their end.
    """
    model = Model((any_burst(6_200, inside), pad(window_us)))

    def too_early(model: Model, before: Situation, move: Move) -> bool:
        return changes(model, before, move) and split(move.situation[0])[1] in ("first gap", "burst")

    def at_last(model: Model, before: Situation, move: Move) -> bool:
        return changes(model, before, move) and split(move.situation[0])[1] == "rest"

    found = explore(model, [too_early, at_last], 60_000)
    assert found.paths[1] is not None
    assert (found.paths[0] is None) is passes
    assert found.complete or not passes


def presses_of_one(bounce_us: int, debounce_us: int) -> bool:
    """Whether one press of 300 ms on a contact with this bounce can be taken for two presses."""
    device = bench(
        "two taps: {taps: 2, press: up to 2 s, between: up to 2 s}",
        "two taps: doubled",
        bounce=f"up to {bounce_us} us",
        debounce=f"{debounce_us} us",
        extra="doubled: {shows: it}",
    )
    return can_enter(device, Environment(script=presses((0, 300_000))), "doubled")


@pytest.mark.parametrize(
    ("bounce_us", "switch"),
    [
        (9_300, "tactile 6x6, new, issue 11"),
        (14_000, "five more of the same, issue 23"),
        (75, "silent key, issue 29"),
        (157_000, "panel button, the best of its edges, issue 6"),
        (434_000, "the same with 332 nF across it, issue 17"),
        (660_000, "old stop button, issue 21"),
    ],
)
def test_worst_bounce_of_measured_switches_against_a_20_ms_debounce(bounce_us: int, switch: str) -> None:
    """Source: github.com/adamfk/bouncy-button-data (CC0-1.0), worst bounce from the titles of its issues.

    A second press of one needs a level steady for the window twice within the burst, once each way: with a steady-for
    reader chatter doubles a press exactly from twice the window on.
    """
    assert presses_of_one(bounce_us, 20_000) == (bounce_us >= 2 * 20_000)


def test_a_worn_tactile_switch_needs_twice_the_debounce() -> None:
    """At most 10 ms of bounce when new (tact-switch specification, item 6.1.4), at most 20 ms after 100 000 cycles
    (JTP-1136C datasheet, item 5.1): ageing doubles the window that is needed."""
    for bounce_us in (10_000, 20_000):
        assert presses_of_one(bounce_us, bounce_us // 2)
        assert not presses_of_one(bounce_us, bounce_us // 2 + 1)
    assert not presses_of_one(10_000, 7_000)
    assert presses_of_one(20_000, 7_000)
