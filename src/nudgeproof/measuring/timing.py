"""Times that come by themselves: how long a situation lasts, dozing off and waking."""

from __future__ import annotations

from nudgeproof.firmware.acts import BUTTON
from nudgeproof.measuring.asking import FEW, PHASES_US, Asker, row_of
from nudgeproof.measuring.bench import GAP_US, LOOK_US, TAP_US, Move, wait
from nudgeproof.measuring.exploring import Spot
from nudgeproof.measuring.measured import Lapse, Range


def measure_sleep(ask: Asker) -> None:
    """How long waking takes, what wakes it, and how soon it dozes off again."""
    for spot in [s for s in ask.explorer.spots if s.asleep][:2]:
        button = ask.bench.buttons[0]
        for shift in PHASES_US:
            # Too short to mean anything where presses have a filter.
            move = row_of(button, [TAP_US], GAP_US)
            acts, end, begins = ask.bench.place((*spot.path, move), shift_us=shift)
            trace = ask.bench.run(acts, end + LOOK_US)
            woke = next((at for at, asleep in trace.sleeps if at >= begins[-1] and not asleep), None)
            if woke is not None:
                one = Range(woke - begins[-1], woke - begins[-1])
                ask.done.ready = one if ask.done.ready is None else ask.done.ready.joined(one)
            edge = ask.explorer.edges.get((spot.number, ask.explorer.named(button, "tap")))
            slept = next((at for at, asleep in trace.sleeps if at > begins[-1] + TAP_US and asleep), None)
            if edge is not None and edge.to == spot.number and not edge.shows and slept is not None:
                one = Range(slept - begins[-1] - TAP_US, slept - begins[-1] - TAP_US).less(ask.done.reader(button).seen)
                ask.done.dozes = one if ask.done.dozes is None else ask.done.dozes.joined(one)
        for move in (one for one in ask.explorer.moves if one.kind in ("tap", "event") and len(one.acts) == 1):
            acts, end, begins = ask.bench.place((*spot.path, move))
            sleeps = ask.bench.run(acts, end + LOOK_US).sleeps
            what = move.acts[0].what
            if any(begins[-1] <= at <= begins[-1] + LOOK_US and not asleep for at, asleep in sleeps):
                ask.done.wakers = tuple(dict.fromkeys((*ask.done.wakers, what)))
    if any(s.asleep for s in ask.explorer.spots) and ask.done.ready is None:
        ask.done.unmeasured.append("how long waking takes: no press of the first button wakes it")
    if ask.done.ready is not None and ask.done.dozes is None:
        ask.done.unmeasured.append("how soon it dozes off: a short press means something wherever it sleeps")


def measure_lapses(ask: Asker) -> None:
    """How long each situation lasts by itself, and which moves leave that time running."""
    for (number, name), edge in ask.explorer.edges.items():
        if (edge.to != number or edge.shows) and _goes_on(
            ask, ask.explorer.spots[number], ask.explorer.move(name), edge.to
        ):
            ask.done.goes_on.add((number, name))
    for spot in ask.explorer.spots:
        age = ask.explorer.ages.get(spot.number)
        if age is not None:
            ask.done.lapses.append(Lapse(spot.number, Range(age[0], age[1]), age[2], hidden=True))
            continue
        if not spot.alone:
            continue
        to = ask.explorer.identify((*spot.path, wait(spot.alone[0][0] + 300_000)))
        sharp = ask.explorer.is_sharp(spot.picture, spot.alone[0][1])
        gap = 0 if sharp else max(ask.bench.gaps.values())
        plain = _lasts(ask, spot, False)
        if plain is None:
            continue
        open_only = _restarts_by_pressing(ask, spot)
        found = _lasts(ask, spot, True) if open_only else plain
        assert found is not None
        ask.done.lapses.append(Lapse(spot.number, Range(found.lo, found.hi + gap), to, open_only))


def _lasts(ask: Asker, spot: Spot, from_open: bool) -> Range | None:
    """How long a spot lasts: since what is shown changed, or since the button was read open if that was later.

    Looked at for some of the ways that lead there, since a time may have begun before anything showed.
    """
    ex = ask.explorer
    ways = [
        (*ex.spots[number].path, ex.move(name))
        for (number, name), edge in ex.edges.items()
        if edge.to == spot.number and edge.shows and (number, name) not in ask.done.goes_on
    ]
    found: Range | None = None
    for number, way in enumerate([spot.path, *[way for way in ways if way != spot.path][:FEW]]):
        for shift in PHASES_US[: FEW if not number else 1]:
            acts, begin, _ = ask.bench.place(way, shift_us=shift)
            trace = ask.bench.run(acts, begin + spot.alone[0][0] + 2 * LOOK_US)
            seen = ask.bench.smooth(trace, 0)
            at = next((at for at, _ in seen if at > begin), None)
            if at is None:
                continue
            since = max((at for at, _ in seen if at <= begin), default=0)
            opened = max((act.end_us for act in acts if act.kind == BUTTON and act.end_us <= begin), default=0)
            late = ask.done.reader(ask.bench.buttons[0]).seen
            one = Range(at - since, at - since)
            if from_open and opened + late.lo > since:
                one = Range(at - opened - late.hi, at - opened - late.lo)
            found = one if found is None else found.joined(one)
    return found


def _restarts_by_pressing(ask: Asker, spot: Spot) -> bool:
    """Whether a press that means nothing begins the time anew."""
    move = _idle(ask, spot)
    if move is None or spot.alone[0][0] < 1_500_000:
        return False
    rest = spot.alone[0][0]
    path = (*spot.path, wait(rest // 3))
    acts, end, _ = ask.bench.place((*path, move))
    trace = ask.bench.run(acts, end + rest + LOOK_US)
    _, begin, _ = ask.bench.place(path)
    at = next((at for at, _ in ask.bench.smooth(trace, begin)[1:]), None)
    if at is None:
        return False
    expected = begin + rest - rest // 3
    return at > expected + rest // 6


def _idle(ask: Asker, spot: Spot) -> Move | None:
    """A press that does nothing there."""
    for button in ask.bench.buttons:
        name = ask.explorer.named(button, "tap")
        edge = ask.explorer.edges.get((spot.number, name))
        if edge is not None and edge.to == spot.number and not edge.shows:
            return ask.explorer.move(name)
        for lasts in (500_000, 700_000, 1_000_000):
            move = row_of(button, [lasts], GAP_US)
            if not ask.explorer.acts(spot.path, move):
                return move
    return None


def _goes_on(ask: Asker, spot: Spot, move: Move, to: int) -> bool:
    """Whether a time that runs goes on upon a move."""
    after = ask.explorer.spots[to]
    if not spot.alone or not after.alone or spot.number in ask.explorer.ages or to in ask.explorer.ages:
        return False
    times = [one.alone[0][0] + one.since_us for one in (spot, after)]
    elapsed = spot.alone[0][0] // 2
    if abs(times[0] - times[1]) > times[1] // 20 + 100_000 or elapsed < 400_000:
        return False
    rest = ask.explorer.look_at((*spot.path, wait(elapsed), move)).alone
    fresh = ask.explorer.look_at((*spot.path, move)).alone
    return bool(rest and fresh and rest[0][0] < fresh[0][0] - elapsed // 2)
