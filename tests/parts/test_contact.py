"""The contact by itself: who holds it closed, and what its chatter may do until when."""

from __future__ import annotations

from collections.abc import Callable

from nudgeproof.diagnostics import Place
from nudgeproof.model.step import Move
from nudgeproof.model.tables import Choice, Local, Model, Situation
from nudgeproof.parts.compile import Environment
from nudgeproof.parts.contact import CHATTERS, SETTLES, contact, held_by
from nudgeproof.spec.types import Button, Device
from nudgeproof.units import FOREVER, Span
from tests.devices import bench, look, presses

MS = 1_000
PAD = Button("pad", 5 * MS, Span(20 * MS, 20 * MS), 100, Place("pad.yaml"))
PART = contact(PAD, ("knocks", "squeeze"))


def push(local: Local, *by: str) -> Choice:
    """What follows when these are the sources that hold it."""
    reads = {held_by(name, "pad"): name in by for name in ("knocks", "squeeze")}
    (choice,) = PART.heard(local, "push pad", reads)
    return choice


def times(local: Local) -> dict[str, tuple[float, float]]:
    return {timer.name: (timer.lo, timer.hi) for timer in PART.armed(local, {})}


def test_it_is_closed_while_any_source_holds_it() -> None:
    closed = push((False, False, False), "knocks")
    assert (closed.to, closed.send) == ((True, True, True), ("edge pad",))
    assert push(closed.to, "knocks", "squeeze").to == closed.to
    assert push(closed.to, "squeeze").to == closed.to
    assert push(closed.to).to == (False, False, True)


def test_chatter_flips_at_its_distance_and_ends_with_what_the_sources_say() -> None:
    burst = (True, True, True)
    assert times(burst) == {SETTLES: (0, 5 * MS), CHATTERS: (100, FOREVER)}
    (flipped,) = PART.expired(burst, CHATTERS, {})
    assert (flipped.to, flipped.send, flipped.chatter) == ((True, False, True), ("edge pad",), 1)
    (settled,) = PART.expired(flipped.to, SETTLES, {})
    assert (settled.to, settled.send, settled.chatter) == ((True, True, False), ("edge pad",), 1)
    (quiet,) = PART.expired(burst, SETTLES, {})
    assert (quiet.to, quiet.send, quiet.chatter) == ((True, True, False), (), 0)
    assert times(quiet.to) == {}


def test_a_new_edge_ends_the_old_burst_and_begins_a_new_one() -> None:
    let_go = push((True, True, True))
    assert (let_go.to, let_go.send) == ((False, False, True), ("edge pad",))
    assert set(let_go.restart) == {SETTLES, CHATTERS}
    already = push((True, False, True))
    assert (already.to, already.send) == ((False, False, True), ()), "chatter had brought it there before"


def waiting(time: str, states: str) -> Device:
    """A device on which time alone acts, to tell when something else happens."""
    tap = "tap: {taps: 1, press: up to 9 ms}"
    return bench(tap, f"tap: idle, {time}", bounce="up to 5 ms", debounce="20 ms", extra=states)


def test_chatter_lasts_for_the_bounce_after_the_last_edge_and_no_longer() -> None:
    """Pressed at 0 and let go at 3 ms, the contact chatters up to 8 ms."""
    late = "late: {transitions: {after 1 us: later}}\nlater: {}"
    device = waiting("after 7999 us: late", late)

    def in_state(name: str) -> Callable[[Model, Situation, Move], bool]:
        return lambda model, before, move: bool(
            model.value(before, "state") == name and any(t.choice.chatter for t in move.taken)
        )

    script = Environment(script=presses((0, 3 * MS)))
    result = look(device, script, in_state("late"), in_state("later"))
    assert [path is not None for path in result.paths] == [True, True]
    beyond = waiting("after 8001 us: over", "over: {}")
    assert look(beyond, script, in_state("over")).paths[0] is None
