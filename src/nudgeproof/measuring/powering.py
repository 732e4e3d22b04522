"""What power does: how long a start takes, how long it runs on without its cell, when a change is kept."""

from __future__ import annotations

from dataclasses import replace

from nudgeproof.firmware.acts import BUTTON, CELL, Act
from nudgeproof.measuring.asking import FEW, PHASES_US, Asker, row_of
from nudgeproof.measuring.bench import GAP_US, LOOK_US, ON, SETTLE_US, TAP_US, Move, Word, wait
from nudgeproof.measuring.exploring import CUT_US
from nudgeproof.measuring.measured import Range


def measure_boot(ask: Asker) -> None:
    """How long after power-up it listens, and what a button does that is held meanwhile."""
    spot = ask.explorer.spots[0]
    if ask.has_latch:
        _latched_boot(ask)
        return
    ex = ask.explorer
    edges = [
        (ex.move(name), edge) for (number, name), edge in ex.edges.items() if number == 0 and (edge.shows or edge.to)
    ]
    edges.sort(key=lambda pair: not pair[1].shows)
    move = next((m for m, _ in edges if m.kind in ("tap", "hold") and m.name in ex.useful), None)
    word = ask.tell_apart((move,), ()) if move is not None else None
    if move is None or word is None:
        ask.done.unmeasured.append("when it listens after power-up: nothing that a press does there shows")
        return
    if not ex.edges[0, move.name].shows:
        _hidden_boot(ask, move, word)
        return
    wanted = ex.seen_of(spot.path, move)[1][:1]
    length = move.length_us

    def answered(at_us: int) -> bool:
        acts = tuple(replace(act, at_us=act.at_us + at_us) for act in move.acts)
        seen = ask.bench.smooth(ask.bench.run(acts, at_us + length + LOOK_US), 0)
        return any(picture == wanted[0] for at, picture in seen if at > 0)

    held = (Act(BUTTON, move.acts[0].what, 0, ask.bench.begin_us + length),)
    seen = ask.bench.smooth(ask.bench.run(held, ask.bench.begin_us + length + LOOK_US), 0)
    counts = next((at for at, picture in seen if at > 0 and picture == wanted[0]), None)
    ask.done.held_counts = counts is not None
    if counts is not None and move.kind == "hold":
        own = ask.explorer.seen_of(spot.path, move)[0] or 0
        up = max(0, counts - own + (ask.done.ready.lo if ask.done.ready is not None and spot.asleep else 0))
        ask.done.boot = Range(up, up + ask.resolution_us)
    elif counts is None and answered(ask.bench.begin_us) and not answered(100):
        late, soon = ask.bisect(answered, ask.bench.begin_us, 100)
        ask.done.boot = Range(soon, late)
    else:
        ask.done.unmeasured.append("how long a start takes: a press counts however early it begins")


def _latched_boot(ask: Asker) -> None:
    """Power comes with a press: until something shows, and how long that stays if the press is let go."""
    button = ask.bench.buttons[0]
    for shift in PHASES_US:
        acts, _, begins = ask.bench.place((row_of(button, [2 * TAP_US], GAP_US),), shift_us=shift)
        seen = ask.bench.smooth(ask.bench.run(acts, begins[0] + 3 * LOOK_US), begins[0])
        if len(seen) < 2:
            continue
        one = Range(seen[1][0] - begins[0], seen[1][0] - begins[0])
        ask.done.boot = one if ask.done.boot is None else ask.done.boot.joined(one)
        if len(seen) > 2 and seen[2][1] == seen[0][1]:
            lasts = Range(seen[2][0] - seen[1][0], seen[2][0] - seen[1][0])
            ask.done.starting = (
                seen[1][1],
                lasts if ask.done.starting is None else ask.done.starting[1].joined(lasts),
            )
    ask.done.held_counts = any(f.move.kind == "hold" and 0 in f.spots for f in ask.done.facts)


def _hidden_boot(ask: Asker, move: Move, word: Word) -> None:
    """What the first press does shows only by what a later word is answered."""
    rest = wait(2 * ask.bench.begin_us)
    wanted = ask.bench.follow((move, rest), word).pictures

    def answered(at_us: int) -> bool:
        acts = tuple(replace(act, at_us=act.at_us + at_us) for act in move.acts)
        more, end, begins = ask.bench.place((wait(SETTLE_US + move.length_us), rest, *word))
        trace = ask.bench.run((*acts, *more), end + LOOK_US)
        begin = begins[2] if word else end
        return tuple(picture for _, picture in ask.bench.smooth(trace, begin)) == wanted

    if answered(ask.bench.begin_us) and not answered(100):
        late, soon = ask.bisect(answered, ask.bench.begin_us, 100)
        ask.done.boot, ask.done.held_counts = Range(soon, late), False
    else:
        ask.done.unmeasured.append("how long a start takes: a press counts however early it begins")


def measure_supply(ask: Asker) -> None:
    """How long it runs on without its cell, by what goes out then."""
    if len(set(ask.explorer.cuts.values())) == 1 and not any(ON in s.picture for s in ask.explorer.spots):
        ask.done.unmeasured.append("how long it runs on without its cell: it shows nothing that could go out")
        return
    found: Range | None = None
    for spot in ask.explorer.spots:
        lit = [i for i, level in enumerate(spot.picture) if level == ON and i not in ask.bench.gaps]
        if not lit:
            continue
        for shift in PHASES_US[:FEW]:
            acts, now, _ = ask.bench.place(spot.path, shift_us=shift)
            trace = ask.bench.run((*acts, Act(CELL, "", now, CUT_US)), now + CUT_US)
            at = next((at for at, picture in trace.pictures(now - 1)[1:] if not picture[lit[0]]), None)
            if at is not None:
                found = Range(at - now, at - now) if found is None else found.joined(Range(at - now, at - now))
        break
    ask.done.hold_up = found
    if found is None:
        ask.done.unmeasured.append("how long it runs on without its cell: no light was steadily on, to go out")
        return
    _writes(ask, found)
    if ask.done.writes is None and len(set(ask.explorer.cuts.values())) > 1:
        ask.note("how long a change takes to be kept: what is kept changes with nothing to be seen")


def _writes(ask: Asker, hold_up: Range) -> None:
    """How long after a change power must last for it to be kept."""
    ex = ask.explorer
    for (number, name), edge in ex.edges.items():
        old, new = ex.cuts.get(number), ex.cuts.get(edge.to)
        if old == new or old is None or new is None or not edge.shows:
            continue
        spot, move = ex.spots[number], ex.move(name)
        word = ask.tell_apart(ex.spots[old].path, ex.spots[new].path)
        seen, pictures, begin = ex.seen_of(spot.path, move)
        if word is None or seen is None or len(pictures) > 1:
            continue
        acts, end, _ = ask.bench.place((*spot.path, move))
        wanted = _after_cut(ask, acts, end + 1_000_000, word)

        def kept(
            after_us: int,
            at: int = begin + seen,
            acts: tuple[Act, ...] = acts,
            word: Word = word,
            wanted: object = wanted,
        ) -> bool:
            return _after_cut(ask, acts, at + after_us, word) == wanted

        low = -hold_up.hi - 10_000
        if kept(low) or not kept(600_000):
            continue
        late, soon = ask.bisect(kept, 600_000, low)
        whole = Range(max(0, soon + hold_up.lo), max(0, late + hold_up.hi))
        ask.done.writes = whole if ask.done.writes is None else ask.done.writes.joined(whole)
        return


def _after_cut(ask: Asker, acts: tuple[Act, ...], cut_us: int, word: Word) -> object:
    """What a word is answered after a cut. What is done while it runs on without its cell counts, too."""
    more, end, _ = ask.bench.place((wait(cut_us + CUT_US + 600_000 - ask.bench.begin_us), *word))
    trace = ask.bench.run((*acts, Act(CELL, "", cut_us, CUT_US), *more), end + LOOK_US)
    return tuple(picture for _, picture in ask.bench.smooth(trace, cut_us + CUT_US + 500_000))
