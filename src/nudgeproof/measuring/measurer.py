"""What a firmware's times are: each found by bisection on the firmware itself, in several phases, as the range it lies in.

First `exploring` finds the situations and what moves lead to. Then, where a move is answered, its presses and pauses are
made shorter and longer until the answer is another one.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial
from typing import Final

from nudgeproof.measuring.asking import FEW, PHASES_US, Asker, Works, chord_of, in_phase, pressing, row_of
from nudgeproof.measuring.bench import GAP_US, SETTLE_US, TAP_US, Move, wait
from nudgeproof.measuring.exploring import Edge, Spot
from nudgeproof.measuring.measured import BOUNCE_US, Fact, Measured, Range, Reader
from nudgeproof.measuring.powering import measure_boot, measure_supply
from nudgeproof.measuring.timing import measure_lapses, measure_sleep

_GLITCH_US: Final = 30
_AT_ONCE_US: Final = 25_000


@dataclass(slots=True)
class Measurer(Asker):
    """Finds all of it; see the head of this module."""

    def measure(self) -> Measured:
        """Explore, then measure all that can be."""
        self.explorer.explore()
        names = self._meant()
        for button in self.bench.buttons:
            self.done.readers.append(self._reader(button, names))
        if self.bench.asleep:
            measure_sleep(self)
        for name, spots in names.items():
            self.done.facts.append(self._fact(name, spots))
        for button in self.bench.buttons:
            self._extra_taps(button)
        measure_lapses(self)
        measure_boot(self)
        if self.explorer.has_cell:
            measure_supply(self)
        return self.done

    # -- which moves mean something --------------------------------------------------------------------------------

    def _is_time_alone(self, spot: Spot, move: Move, edge: Edge) -> bool:
        """Whether nothing is seen upon a move, and it leads only where time alone leads meanwhile."""
        lasts = move.length_us + SETTLE_US
        if edge.shows or not spot.alone or spot.alone[0][0] >= lasts:
            return False
        return self.explorer.identify((*spot.path, wait(lasts))) == edge.to

    def _meant(self) -> dict[str, tuple[int, ...]]:
        """The moves that mean something of their own, with the spots where they do."""
        found: dict[str, list[int]] = {}
        for spot in list(self.explorer.spots):
            for move in self.explorer.moves:
                edge = self.explorer.edges.get((spot.number, move.name))
                if edge is None or (edge.to == spot.number and not edge.shows) or move.name not in self.explorer.useful:
                    continue
                ex = self.explorer
                if edge.to == spot.number:
                    if not self.is_off(spot):
                        self.note(
                            f"what shows for a moment upon {move.name} and changes nothing that stays; it is left out"
                        )
                    continue
                if self._is_time_alone(spot, move, edge):
                    continue
                rows = ex.rows(move)
                if any(ex.along(spot.number, row) == edge.to and not self._waits(spot, row[0]) for row in rows):
                    continue
                if move.kind == "chord" and edge.to in {ex.along(spot.number, (part,)) for part in rows[0]}:
                    continue  # the second press was nobody's, or did nothing
                found.setdefault(move.name, []).append(spot.number)
        return {name: tuple(spots) for name, spots in found.items()}

    def _waits(self, spot: Spot, name: str) -> bool:
        """Whether a move is answered later than a reader could be the cause."""
        move = self.explorer.move(name)
        seen = self.explorer.seen_of(spot.path, move)[0]
        return seen is not None and seen > move.length_us + 100_000

    # -- readers -----------------------------------------------------------------------------------------------------

    def _reader(self, button: str, names: dict[str, tuple[int, ...]]) -> Reader:
        ex = self.explorer
        own = [
            (ex.move(name), ex.spots[spot])
            for name, spots in names.items()
            for spot in spots
            if not self.is_off(ex.spots[spot])
            and ex.move(name).kind in ("tap", "hold")
            and ex.move(name).acts[0].what == button
        ]
        own.sort(key=lambda pair: (pair[1].asleep, not ex.edges[pair[1].number, pair[0].name].shows, len(pair[1].path)))
        closing = opening = deaf = None
        glitch = 0
        for move, spot in own:
            tests = self.tester(spot, move)
            if tests is None:
                continue
            count, lengths = len(move.acts), [act.lasts_us for act in move.acts]
            if closing is None and (count > 1 or move.kind == "tap"):
                closing = self.least(pressing(tests, button, lengths, 0), TAP_US)
            if opening is None and count > 1:
                opening = self.least(pressing(tests, button, lengths, None), GAP_US)
            elif opening is None and move.kind == "hold" and count == 1:
                opening = self._gap_in_hold(button, move, tests)
            if closing is not None and closing.hi <= 1_000 and deaf is None and move.kind == "tap" and count == 1:
                deaf = self._deaf(spot, button)
            if not glitch and (closing or opening) and deaf is None and ex.edges[spot.number, move.name].shows:
                glitch = self._glitch(spot, button, move)
        if closing is None:
            self.done.unmeasured.append(
                f"how long {button} must be closed to be seen: no short press of it does anything that shows"
            )
        if opening is None and deaf is None:
            self.done.unmeasured.append(f"how long {button} must be open to be seen: nothing that shows depends on it")
        return Reader(button, closing, opening, deaf, glitch)

    def _gap_in_hold(self, button: str, move: Move, tests: Works) -> Range | None:
        """How long a hold may be interrupted and be one hold still; the opening that is seen."""
        first = move.length_us // 2

        def broken(us: int, shift: int) -> bool:
            return not tests(row_of(button, [first, move.length_us - first - us], us), shift)

        return self.least(broken, GAP_US) if broken(GAP_US, 0) else None

    def _deaf(self, spot: Spot, button: str) -> Range | None:
        """After a press far shorter than that, the release is seen when the reader hears again."""
        found: Range | None = None
        for shift in PHASES_US:
            seen, _, _ = self.explorer.seen_of(spot.path, row_of(button, [200], GAP_US), shift)
            if seen is not None and seen > 2_000:
                one = Range(seen, seen)
                found = one if found is None else found.joined(one)
        return found

    def _glitch(self, spot: Spot, button: str, move: Move) -> int:
        """By how much a press with a flip at the end of its chatter is seen sooner than one that began there."""
        most = 0
        last = move.acts[-1]
        for shift in PHASES_US:
            if move.kind == "hold":
                flip = replace(last, closing=(BOUNCE_US - _GLITCH_US, BOUNCE_US))
            else:
                flip = replace(last, opening=(BOUNCE_US - _GLITCH_US, BOUNCE_US))
            plain = self.explorer.seen_of(spot.path, move, shift)[0]
            flipped = self.explorer.seen_of(spot.path, replace(move, acts=(*move.acts[:-1], flip)), shift)[0]
            if plain is not None and flipped is not None:
                most = max(most, BOUNCE_US - (flipped - plain))
        return max(0, most) if most > 1_500 else 0

    # -- gestures ----------------------------------------------------------------------------------------------------

    def _fact(self, name: str, numbers: tuple[int, ...]) -> Fact:
        ex, move = self.explorer, self.explorer.move(name)
        spots = sorted(
            (ex.spots[n] for n in numbers),
            key=lambda s: (self.is_off(s), not ex.edges[s.number, name].shows, s.asleep, len(s.path)),
        )
        tests, spot = None, spots[0]
        for spot in spots:
            tests = self.tester(spot, move)
            if tests is not None:
                break
        if tests is None or move.kind == "event":
            if tests is None:
                self.done.unmeasured.append(f"the times of {name}: what it does shows only much later")
            return Fact(move, numbers, "")
        if move.kind == "chord":
            a, b = (act.what for act in move.acts)
            within = self.limit(lambda us, shift: tests(chord_of(a, b, us), shift), move.acts[1].at_us, 1_500_000)
            return Fact(move, numbers, "", within=within)
        button = move.acts[0].what
        reader = self.done.reader(button)
        width = Range(0, 0) if reader.deaf else Range(0, reader.seen.hi - reader.seen.lo)
        lengths = [act.lasts_us for act in move.acts]
        press = between = held = None
        acts_at = ""
        if len(lengths) > 1:
            between = self.limit(pressing(tests, button, lengths, None), GAP_US, 4_000_000)
        if move.kind == "tap" or len(lengths) > 1:
            own = ex.threshold(name)
            at = len(lengths) - 1 if own is None else 0
            up_to = 9_600_000
            press = self.limit(pressing(tests, button, lengths, at), TAP_US, up_to)
        if move.kind == "tap":
            acts_at = self._when_tap_acts(spots, move, reader)
        else:
            threshold = ex.threshold(name)
            assert threshold is not None
            acts_at = "release" if threshold.at_release else "threshold"
            held = self._held(spots, move, reader, threshold.at_release, tests)
        return Fact(move, numbers, acts_at, _loosen(press, width), _loosen(between, width), held)

    def _when_tap_acts(self, spots: list[Spot], move: Move, reader: Reader) -> str:
        for spot in spots:
            seen = self.explorer.seen_of(spot.path, move)[0]
            if seen is None:
                continue
            after = seen - move.length_us
            if after <= 0:
                return "press"
            slow = (reader.deaf.hi if reader.deaf is not None else reader.seen.hi) + _AT_ONCE_US
            return "release" if after <= slow else "pause"
        return ""

    def _held(self, spots: list[Spot], move: Move, reader: Reader, at_release: bool, tests: Works) -> Range | None:
        """How long it must last, as the firmware reads it."""
        found: Range | None = None
        button, lengths = move.acts[0].what, [act.lasts_us for act in move.acts]
        shown = [spot for spot in spots if self.explorer.edges[spot.number, move.name].shows and not self.is_off(spot)]
        if at_release or not shown:
            # The least length that does it.
            least: Range | None = None
            lasting = pressing(tests, button, lengths, len(lengths) - 1)
            for shift in PHASES_US[:FEW]:
                high, low = self.bisect(partial(in_phase, lasting, shift), lengths[-1], TAP_US)
                least = Range(low, high) if least is None else least.joined(Range(low, high))
            assert least is not None
            width = reader.seen.hi - reader.seen.lo
            return Range(max(1, least.lo - width), least.hi + width)
        for number, spot in enumerate(shown):
            for shift in PHASES_US[: len(PHASES_US) if not number else FEW - 1]:
                seen, pictures, _ = self.explorer.seen_of(spot.path, move, shift)
                if seen is None or not self.explorer.is_sharp(spot.picture, pictures[0]):
                    continue
                one = Range(seen - move.last_press_us, seen - move.last_press_us)
                if spot.asleep and len(move.acts) == 1 and self.done.ready is not None:
                    one = one.less(self.done.ready)
                one = one.less(reader.seen)
                found = one if found is None else found.joined(one)
        return found

    def _extra_taps(self, button: str) -> None:
        """What becomes of more taps than mean something of their own, where they are waited for."""
        facts, ex = self.done.facts, self.explorer
        rows = sorted(
            (f for f in facts if f.move.kind == "tap" and f.move.acts[0].what == button), key=lambda f: len(f.move.acts)
        )
        if not rows or rows[-1].acts_at != "pause":
            return
        while (
            len(rows) > 1
            and len(rows[-2].move.acts) > 1
            and rows[-2].acts_at == "pause"
            and self._does_the_same(rows[-2], rows[-1])
        ):
            facts.remove(rows.pop())
            self.done.counts_on.add(button)
        number = len(rows[-1].move.acts)
        longer = {
            spot
            for f in facts
            if f.move.kind == "hold" and len(f.move.acts) > number and f.move.acts[0].what == button
            for spot in f.spots
        }
        if button in self.done.counts_on or set(rows[-1].spots) <= longer:
            return
        if number < ex.taps:
            self.done.waits_for[button] = number + 1
        else:
            self.done.unmeasured.append(f"what more than {number} taps of {button} do, which are waited for")

    def _does_the_same(self, fewer: Fact, more: Fact) -> bool:
        edges = self.explorer.edges
        return all(
            edges[spot, more.move.name].to == edges[spot, fewer.move.name].to for spot in {*fewer.spots, *more.spots}
        )


def _loosen(limit: Range | None, width: Range) -> Range | None:
    """A limit of the contact as one of what is read: each edge may be taken a little sooner or later."""
    if limit is None:
        return None
    return Range(max(1, limit.lo - width.hi), limit.hi + width.hi, limit.beyond)
