"""What a firmware's times are: each found by bisection on the firmware itself, in several phases, as the range it lies in.

First `exploring` finds the situations and what moves lead to. Then, where a move is answered, its presses and pauses are made
shorter and longer until the answer is another one.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Final

from nudgeproof.firmware.acts import BUTTON, CELL, Act
from nudgeproof.firmware.bench import GAP_US, LOOK_US, ON, SETTLE_US, TAP_US, Bench, Misbehaves, Move, Picture, Word, presses, wait
from nudgeproof.firmware.exploring import CUT_US, Explorer, Spot

PHASES_US: Final = (0, 171, 389, 613, 5_807, 13_411)
"""By how much later all is done, so that a firmware that looks now and then is met at several moments."""
_FEW: Final = 3
_RUNGS: Final = (2, 4, 8, 16, 32, 64)
_GLITCH_US: Final = 30
BOUNCE_US: Final = 5_000
"""The chatter that a starter spec states; a guess."""
_AT_ONCE_US: Final = 25_000


@dataclass(frozen=True, slots=True)
class Range:
    """From the least to the most that was met, in microseconds. `beyond`: even more was taken; it is what was tried."""

    lo: int
    hi: int
    beyond: bool = False

    def less(self, other: Range) -> Range:
        """What is left of it if the other one is taken off, whatever both are."""
        return Range(max(0, self.lo - other.hi), max(0, self.hi - other.lo), self.beyond)

    def joined(self, other: Range) -> Range:
        """A range of both."""
        return Range(min(self.lo, other.lo), max(self.hi, other.hi), self.beyond or other.beyond)


@dataclass(frozen=True, slots=True)
class Reader:
    """How a button is read. `closing`, `opening`: how long a level must last to be seen; None where it wasn't to be seen.

    `deaf`: a first edge counts at once, and for this time no other one. `glitch_us`: by how much less than `closing` it may be
    since the last edge of chatter, as chatter may go unseen.
    """

    button: str
    closing: Range | None
    opening: Range | None
    deaf: Range | None = None
    glitch_us: int = 0

    @property
    def seen(self) -> Range:
        """How much later than its edge a level is taken, without chatter."""
        if self.deaf is not None:
            return Range(0, 0)
        both = [one for one in (self.closing, self.opening) if one is not None]
        if not both:
            return Range(0, 30_000)
        return both[0] if len(both) == 1 else both[0].joined(both[1])


@dataclass(frozen=True, slots=True)
class Fact:
    """A move that means something. `spots`: where. `acts_at`: `press`, `release`, `pause`, `threshold`, "" if unknown.

    `press`, `between`, `held`, `within`: limits as the firmware reads them; None where there is none, or it wasn't found.
    """

    move: Move
    spots: tuple[int, ...]
    acts_at: str
    press: Range | None = None
    between: Range | None = None
    held: Range | None = None
    within: Range | None = None


@dataclass(frozen=True, slots=True)
class Lapse:
    """What comes by itself in a spot: after which time, where it leads. `open_only`: the time begins anew with each press."""

    spot: int
    after: Range
    to: int
    open_only: bool = False
    hidden: bool = False


@dataclass(slots=True)
class Measured:
    """All that was found. `unmeasured`: what wasn't, and why, in words."""

    explorer: Explorer
    readers: list[Reader] = field(default_factory=list)
    facts: list[Fact] = field(default_factory=list)
    lapses: list[Lapse] = field(default_factory=list)
    goes_on: set[tuple[int, str]] = field(default_factory=set)
    """Moves (of a spot) upon which a time that runs goes on."""
    counts_on: set[str] = field(default_factory=set)
    """Buttons on which more taps than the most that mean something count as these."""
    waits_for: dict[str, int] = field(default_factory=dict)
    """Buttons on which so many taps do nothing, and are waited for all the same."""
    starting: tuple[Picture, Range] | None = None
    """Of a device that holds its own power: what it shows as it starts, and how long if it is left alone."""
    boot: Range | None = None
    held_counts: bool | None = None
    ready: Range | None = None
    dozes: Range | None = None
    hold_up: Range | None = None
    writes: Range | None = None
    unmeasured: list[str] = field(default_factory=list)

    def reader(self, button: str) -> Reader:
        """How a button is read."""
        return next(one for one in self.readers if one.button == button)

    def lapse(self, spot: int) -> Lapse | None:
        """What comes by itself there."""
        return next((one for one in self.lapses if one.spot == spot), None)


Works = Callable[[Move, int], bool]
"""Whether such a move, so much later, is answered as the one it was made of."""


@dataclass(slots=True)
class Measurer:
    """One device under measurement. `resolution_us`: how near each limit is found."""

    bench: Bench
    explorer: Explorer
    resolution_us: int = 1_000
    has_latch: bool = False
    done: Measured = field(init=False)

    def __post_init__(self) -> None:
        self.done = Measured(self.explorer)

    def measure(self) -> Measured:
        """Explore, then measure all that can be."""
        self.explorer.explore()
        names = self._meant()
        for button in self.bench.buttons:
            self.done.readers.append(self._reader(button, names))
        if self.bench.asleep:
            self._sleep()
        for name, spots in names.items():
            self.done.facts.append(self._fact(name, spots))
        for button in self.bench.buttons:
            self._extra_taps(button)
        self._lapses()
        self._boot()
        if self.explorer.has_cell:
            self._supply()
        return self.done

    # -- which moves mean something --------------------------------------------------------------------------------

    def _meant(self) -> dict[str, tuple[int, ...]]:
        """The moves that mean something of their own, with the spots where they do."""
        found: dict[str, list[int]] = {}
        for spot in self.explorer.spots:
            for move in self.explorer.moves:
                edge = self.explorer.edges.get((spot.number, move.name))
                if edge is None or (edge.to == spot.number and not edge.shows) or move.name not in self.explorer.useful:
                    continue
                ex = self.explorer
                if edge.to == spot.number:
                    if not self._is_off(spot):
                        self._note(f"what shows for a moment upon {move.name} and changes nothing that stays; it is left out")
                    continue
                rows = ex.rows(move)
                if any(ex.along(spot.number, row) == edge.to and not self._waits(spot, row[0]) for row in rows):
                    continue
                if move.kind == "chord" and edge.to in {ex.along(spot.number, (part,)) for part in rows[0]}:
                    continue  # the second press was nobody's, or did nothing
                found.setdefault(move.name, []).append(spot.number)
        return {name: tuple(spots) for name, spots in found.items()}

    def _note(self, text: str) -> None:
        if text not in self.done.unmeasured:
            self.done.unmeasured.append(text)

    def _is_off(self, spot: Spot) -> bool:
        """Whether a device that holds its own power has none there; what a press does then begins with a start."""
        return self.has_latch and spot.picture == self.explorer.spots[0].picture

    def _waits(self, spot: Spot, name: str) -> bool:
        """Whether a move is answered later than a reader could be the cause."""
        move = self.explorer.move(name)
        seen = self.explorer.seen_of(spot.path, move)[0]
        return seen is not None and seen > move.length_us + 100_000

    # -- asking ------------------------------------------------------------------------------------------------------

    def tell_apart(self, one: Word, *others: Word) -> Word | None:
        """A word that is answered otherwise after `one` than after each of the others; None if none of two moves is."""
        asked = [move for move in self.explorer.moves if move.name in self.explorer.useful]
        words: list[Word] = [(), *((one,) for one in asked), *((one, two) for one in asked for two in asked)]
        for word in words:
            own = self.bench.follow(one, word).pictures
            if all(self.bench.follow(other, word).pictures != own for other in others):
                return word
        return None

    def _tester(self, spot: Spot, move: Move) -> Works | None:
        """How to ask whether a changed move still does what this one does; None if nothing tells.

        It must be told from nothing at all, and from its presses where they stand for themselves.
        """
        ex, edge = self.explorer, self.explorer.edges[spot.number, move.name]
        apart: dict[tuple[str, ...], int] = {}
        for row in ex.rows(move):
            for part in (row, *((name,) for name in row)):
                apart[part] = ex.along(spot.number, part)
        wanted = ex.seen_of(spot.path, move)[1]
        words = {row: (*(ex.move(name) for name in row),) for row in apart}
        alike = [row for row in apart if self._seen(spot, words[row]) == wanted]
        if edge.shows and all(apart[row] == edge.to for row in alike):
            return lambda one, shift: ex.seen_of(spot.path, one, shift)[1] == wanted
        others = [(*spot.path, *words[row]) for row in apart if apart[row] != edge.to]
        word = self.tell_apart((*spot.path, move), *([spot.path] if edge.to != spot.number else []), *others)
        if word is None:
            return None
        probe = word
        answer = self.bench.follow((*spot.path, move), probe).pictures
        return lambda one, shift: self.bench.follow((*spot.path, wait(shift), one), probe).pictures == answer

    def _seen(self, spot: Spot, word: Word) -> tuple[Picture, ...]:
        """What is seen upon a word, from when it begins."""
        acts, end, begins = self.bench.place((*spot.path, *word))
        trace = self.bench.run(acts, end + LOOK_US)
        return tuple(picture for at, picture in self.bench.smooth(trace, begins[len(spot.path)])[1:] if at < end)

    def bisect(self, works: Callable[[int], bool], good: int, bad: int) -> tuple[int, int]:
        """The last value that works and the first that doesn't, no further apart than the resolution."""
        step = min(self.resolution_us, max(20, abs(good - bad) // 64)) if abs(good - bad) < 64_000 else self.resolution_us
        while abs(good - bad) > step:
            middle = (good + bad) // 2
            if works(middle):
                good = middle
            else:
                bad = middle
        return good, bad

    def _limit(self, works: Callable[[int, int], bool], good: int, up_to: int, phases: int = len(PHASES_US)) -> Range | None:
        """The range of a limit that lies above a value that works: (value, phase) works; None if the first doesn't."""
        if not works(good, 0):
            return None
        bad = next((good * rung for rung in _RUNGS if good * rung < up_to and not works(good * rung, 0)), up_to)
        if bad == up_to and works(up_to, 0):
            return Range(up_to, up_to, True)
        found: Range | None = None
        for shift in PHASES_US[:phases]:
            low, high = good, bad
            if found is not None:
                # Near what is known already, if it is there in this phase too.
                low = max(good, found.lo - 4 * self.resolution_us)
                high = min(bad, found.hi + 4 * self.resolution_us)
                low = low if works(low, shift) else good
                high = bad if works(high, shift) else high
            low, high = self.bisect(lambda value, shift=shift: works(value, shift), low, high)  # type: ignore[misc]
            found = Range(low, high) if found is None else found.joined(Range(low, high))
        return found

    def _least(self, works: Callable[[int, int], bool], good: int) -> Range:
        """The range of the least value that works, below one that does."""
        found: Range | None = None
        for shift in PHASES_US:
            if works(60, shift):
                one = Range(0, 60)
            else:
                low = 60 if found is None or works(max(60, found.lo - 3_000), shift) else max(60, found.lo - 3_000)
                high = good if found is None or not works(found.hi + 3_000, shift) else found.hi + 3_000
                high, low = self.bisect(lambda value, shift=shift: works(value, shift), high, low)  # type: ignore[misc]
                one = Range(low, high)
            found = one if found is None else found.joined(one)
        assert found is not None
        return found

    # -- readers -----------------------------------------------------------------------------------------------------

    def _reader(self, button: str, names: dict[str, tuple[int, ...]]) -> Reader:
        ex = self.explorer
        own = [(ex.move(name), ex.spots[spot]) for name, spots in names.items() for spot in spots if not self._is_off(ex.spots[spot]) and ex.move(name).kind in ("tap", "hold") and ex.move(name).acts[0].what == button]
        own.sort(key=lambda pair: (pair[1].asleep, not ex.edges[pair[1].number, pair[0].name].shows, len(pair[1].path)))
        closing = opening = deaf = None
        glitch = 0
        for move, spot in own:
            tests = self._tester(spot, move)
            if tests is None:
                continue
            count = len(move.acts)
            if closing is None and move.kind == "tap" and count == 1:
                closing = self._least(lambda us, shift, b=button, t=tests: t(_row(b, [us], GAP_US), shift), TAP_US)  # type: ignore[misc]
            elif closing is None and count > 1:
                rest = [act.lasts_us for act in move.acts[1:]]
                closing = self._least(lambda us, shift, b=button, t=tests, r=rest: t(_row(b, [us, *r], GAP_US), shift), TAP_US)  # type: ignore[misc]
            if opening is None and count > 1:
                lengths = [act.lasts_us for act in move.acts]
                opening = self._least(lambda us, shift, b=button, t=tests, r=lengths: t(_row(b, r, us), shift), GAP_US)  # type: ignore[misc]
            elif opening is None and move.kind == "hold" and count == 1:
                opening = self._gap_in_hold(button, move, tests)
            if closing is not None and closing.hi <= 1_000 and deaf is None and move.kind == "tap" and count == 1:
                deaf = self._deaf(spot, button)
            if not glitch and closing is not None and deaf is None and ex.edges[spot.number, move.name].shows:
                glitch = self._glitch(spot, button, move)
        if closing is None:
            self.done.unmeasured.append(f"how long {button} must be closed to be seen: no short press of it does anything that shows")
        if opening is None and deaf is None:
            self.done.unmeasured.append(f"how long {button} must be open to be seen: nothing that shows depends on it")
        return Reader(button, closing, opening, deaf, glitch)

    def _gap_in_hold(self, button: str, move: Move, tests: Works) -> Range | None:
        """How long a hold may be interrupted and be one hold still; the opening that is seen."""
        first = move.length_us // 2

        def broken(us: int, shift: int) -> bool:
            return not tests(_row(button, [first, move.length_us - first - us], us), shift)

        return self._least(broken, GAP_US) if broken(GAP_US, 0) else None

    def _deaf(self, spot: Spot, button: str) -> Range | None:
        """After a press far shorter than that, the release is seen when the reader hears again."""
        found: Range | None = None
        for shift in PHASES_US:
            seen, _, _ = self.explorer.seen_of(spot.path, _row(button, [200], GAP_US), shift)
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
        spots = sorted((ex.spots[n] for n in numbers), key=lambda s: (self._is_off(s), not ex.edges[s.number, name].shows, s.asleep, len(s.path)))
        tests, spot = None, spots[0]
        for spot in spots:
            tests = self._tester(spot, move)
            if tests is not None:
                break
        if tests is None or move.kind == "event":
            if tests is None:
                self.done.unmeasured.append(f"the times of {name}: what it does shows only much later")
            return Fact(move, numbers, "")
        if move.kind == "chord":
            a, b = (act.what for act in move.acts)
            within = self._limit(lambda us, shift: tests(_chord(a, b, us), shift), move.acts[1].at_us, 1_500_000)
            return Fact(move, numbers, "", within=within)
        button = move.acts[0].what
        reader = self.done.reader(button)
        width = Range(0, 0) if reader.deaf else Range(0, reader.seen.hi - reader.seen.lo)
        lengths = [act.lasts_us for act in move.acts]
        press = between = held = None
        acts_at = ""
        if len(lengths) > 1:
            between = self._limit(lambda us, shift: tests(_row(button, lengths, us), shift), GAP_US, 4_000_000)
        if move.kind == "tap" or len(lengths) > 1:
            own = ex.threshold(name)
            at = len(lengths) - 1 if own is None else 0
            up_to = 9_600_000
            press = self._limit(lambda us, shift: tests(_row(button, [*lengths[:at], us, *lengths[at + 1 :]], GAP_US), shift), TAP_US, up_to)
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
        shown = [spot for spot in spots if self.explorer.edges[spot.number, move.name].shows and not self._is_off(spot)]
        if at_release or not shown:
            # The least length that does it.
            least: Range | None = None
            for shift in PHASES_US[:_FEW]:
                high, low = self.bisect(lambda us, shift=shift: tests(_row(button, [*lengths[:-1], us], GAP_US), shift), lengths[-1], TAP_US)  # type: ignore[misc]
                least = Range(low, high) if least is None else least.joined(Range(low, high))
            assert least is not None
            width = reader.seen.hi - reader.seen.lo
            return Range(max(1, least.lo - width), least.hi + width)
        for number, spot in enumerate(shown):
            for shift in PHASES_US[: len(PHASES_US) if not number else _FEW - 1]:
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
        rows = sorted((f for f in facts if f.move.kind == "tap" and f.move.acts[0].what == button), key=lambda f: len(f.move.acts))
        if not rows or rows[-1].acts_at != "pause":
            return
        while len(rows) > 1 and len(rows[-2].move.acts) > 1 and rows[-2].acts_at == "pause" and self._does_the_same(rows[-2], rows[-1]):
            facts.remove(rows.pop())
            self.done.counts_on.add(button)
        number = len(rows[-1].move.acts)
        longer = {spot for f in facts if f.move.kind == "hold" and len(f.move.acts) > number and f.move.acts[0].what == button for spot in f.spots}
        if button in self.done.counts_on or set(rows[-1].spots) <= longer:
            return
        if number < ex.taps:
            self.done.waits_for[button] = number + 1
        else:
            self.done.unmeasured.append(f"what more than {number} taps of {button} do, which are waited for")

    def _does_the_same(self, fewer: Fact, more: Fact) -> bool:
        edges = self.explorer.edges
        return all(edges[spot, more.move.name].to == edges[spot, fewer.move.name].to for spot in {*fewer.spots, *more.spots})

    # -- sleep and times ---------------------------------------------------------------------------------------------

    def _sleep(self) -> None:
        for spot in [s for s in self.explorer.spots if s.asleep][:2]:
            button = self.bench.buttons[0]
            for shift in PHASES_US:
                # Too short to mean anything where presses have a filter.
                move = _row(button, [TAP_US], GAP_US)
                acts, end, begins = self.bench.place((*spot.path, move), shift_us=shift)
                trace = self.bench.run(acts, end + LOOK_US)
                woke = next((at for at, asleep in trace.sleeps if at >= begins[-1] and not asleep), None)
                if woke is not None:
                    one = Range(woke - begins[-1], woke - begins[-1])
                    self.done.ready = one if self.done.ready is None else self.done.ready.joined(one)
                edge = self.explorer.edges.get((spot.number, self.explorer.named(button, "tap")))
                slept = next((at for at, asleep in trace.sleeps if at > begins[-1] + TAP_US and asleep), None)
                if edge is not None and edge.to == spot.number and not edge.shows and slept is not None:
                    one = Range(slept - begins[-1] - TAP_US, slept - begins[-1] - TAP_US).less(self.done.reader(button).seen)
                    self.done.dozes = one if self.done.dozes is None else self.done.dozes.joined(one)
        if any(s.asleep for s in self.explorer.spots) and self.done.ready is None:
            self.done.unmeasured.append("how long waking takes: no press of the first button wakes it")
        if self.done.ready is not None and self.done.dozes is None:
            self.done.unmeasured.append("how soon it dozes off: a short press means something wherever it sleeps")

    def _lapses(self) -> None:
        for (number, name), edge in self.explorer.edges.items():
            if (edge.to != number or edge.shows) and self._goes_on(self.explorer.spots[number], self.explorer.move(name), edge.to):
                self.done.goes_on.add((number, name))
        for spot in self.explorer.spots:
            age = self.explorer.ages.get(spot.number)
            if age is not None:
                self.done.lapses.append(Lapse(spot.number, Range(age[0] - 20_000, age[0] + 20_000), age[1], hidden=True))
                continue
            if not spot.alone:
                continue
            to = self.explorer.identify((*spot.path, wait(spot.alone[0][0] + 300_000)))
            sharp = self.explorer.is_sharp(spot.picture, spot.alone[0][1])
            gap = 0 if sharp else max(self.bench.gaps.values())
            plain = self._lasts(spot, False)
            if plain is None:
                continue
            open_only = self._restarts_by_pressing(spot)
            found = self._lasts(spot, True) if open_only else plain
            assert found is not None
            self.done.lapses.append(Lapse(spot.number, Range(found.lo, found.hi + gap), to, open_only))
    def _lasts(self, spot: Spot, from_open: bool) -> Range | None:
        """How long a spot lasts: since what is shown changed, or since the button was read open if that was later.

        Looked at for some of the ways that lead there, since a time may have begun before anything showed.
        """
        ex = self.explorer
        ways = [(*ex.spots[number].path, ex.move(name)) for (number, name), edge in ex.edges.items() if edge.to == spot.number and edge.shows and (number, name) not in self.done.goes_on]
        found: Range | None = None
        for number, way in enumerate([spot.path, *[way for way in ways if way != spot.path][:_FEW]]):
            for shift in PHASES_US[: _FEW if not number else 1]:
                acts, begin, _ = self.bench.place(way, shift_us=shift)
                trace = self.bench.run(acts, begin + spot.alone[0][0] + 2 * LOOK_US)
                seen = self.bench.smooth(trace, 0)
                at = next((at for at, _ in seen if at > begin), None)
                if at is None:
                    continue
                since = max((at for at, _ in seen if at <= begin), default=0)
                opened = max((act.end_us for act in acts if act.kind == BUTTON and act.end_us <= begin), default=0)
                late = self.done.reader(self.bench.buttons[0]).seen
                one = Range(at - since, at - since)
                if from_open and opened + late.lo > since:
                    one = Range(at - opened - late.hi, at - opened - late.lo)
                found = one if found is None else found.joined(one)
        return found

    def _restarts_by_pressing(self, spot: Spot) -> bool:
        """Whether a press that means nothing begins the time anew."""
        move = self._idle(spot)
        if move is None or spot.alone[0][0] < 1_500_000:
            return False
        rest = spot.alone[0][0]
        path = (*spot.path, wait(rest // 3))
        acts, end, _ = self.bench.place((*path, move))
        trace = self.bench.run(acts, end + rest + LOOK_US)
        _, begin, _ = self.bench.place(path)
        at = next((at for at, _ in self.bench.smooth(trace, begin)[1:]), None)
        if at is None:
            return False
        expected = begin + rest - rest // 3
        return at > expected + rest // 6

    def _idle(self, spot: Spot) -> Move | None:
        """A press that does nothing there."""
        for button in self.bench.buttons:
            name = self.explorer.named(button, "tap")
            edge = self.explorer.edges.get((spot.number, name))
            if edge is not None and edge.to == spot.number and not edge.shows:
                return self.explorer.move(name)
            for lasts in (500_000, 700_000, 1_000_000):
                move = _row(button, [lasts], GAP_US)
                if not self.explorer._acts(spot.path, move):
                    return move
        return None

    def _goes_on(self, spot: Spot, move: Move, to: int) -> bool:
        """Whether a time that runs goes on upon a move."""
        after = self.explorer.spots[to]
        if not spot.alone or not after.alone or spot.number in self.explorer.ages or to in self.explorer.ages:
            return False
        times = [one.alone[0][0] + one.since_us for one in (spot, after)]
        elapsed = spot.alone[0][0] // 2
        if abs(times[0] - times[1]) > times[1] // 20 + 100_000 or elapsed < 400_000:
            return False
        rest = self.explorer._look_at((*spot.path, wait(elapsed), move)).alone
        fresh = self.explorer._look_at((*spot.path, move)).alone
        return bool(rest and fresh and rest[0][0] < fresh[0][0] - elapsed // 2)

    # -- power -------------------------------------------------------------------------------------------------------

    def _boot(self) -> None:
        spot = self.explorer.spots[0]
        if self.has_latch:
            self._latched_boot()
            return
        ex = self.explorer
        edges = [(ex.move(name), edge) for (number, name), edge in ex.edges.items() if number == 0 and (edge.shows or edge.to)]
        edges.sort(key=lambda pair: not pair[1].shows)
        move = next((m for m, _ in edges if m.kind in ("tap", "hold") and m.name in ex.useful), None)
        word = self.tell_apart((move,), ()) if move is not None else None
        if move is None or word is None:
            self.done.unmeasured.append("when it listens after power-up: nothing that a press does there shows")
            return
        if not ex.edges[0, move.name].shows:
            self._hidden_boot(move, word)
            return
        wanted = ex.seen_of(spot.path, move)[1][:1]
        length = move.length_us

        def answered(at_us: int) -> bool:
            acts = tuple(replace(act, at_us=act.at_us + at_us) for act in move.acts)
            seen = self.bench.smooth(self.bench.run(acts, at_us + length + LOOK_US), 0)
            return any(picture == wanted[0] for at, picture in seen if at > 0)

        held = (Act(BUTTON, move.acts[0].what, 0, self.bench.begin_us + length),)
        seen = self.bench.smooth(self.bench.run(held, self.bench.begin_us + length + LOOK_US), 0)
        counts = next((at for at, picture in seen if at > 0 and picture == wanted[0]), None)
        self.done.held_counts = counts is not None
        if counts is not None and move.kind == "hold":
            own = self.explorer.seen_of(spot.path, move)[0] or 0
            up = max(0, counts - own + (self.done.ready.lo if self.done.ready is not None and spot.asleep else 0))
            self.done.boot = Range(up, up + self.resolution_us)
        elif counts is None and answered(self.bench.begin_us) and not answered(100):
            late, soon = self.bisect(answered, self.bench.begin_us, 100)
            self.done.boot = Range(soon, late)
        else:
            self.done.unmeasured.append("how long a start takes: a press counts however early it begins")

    def _latched_boot(self) -> None:
        """Power comes with a press: until something shows, and how long that stays if the press is let go."""
        button = self.bench.buttons[0]
        for shift in PHASES_US:
            acts, _, begins = self.bench.place((_row(button, [2 * TAP_US], GAP_US),), shift_us=shift)
            seen = self.bench.smooth(self.bench.run(acts, begins[0] + 3 * LOOK_US), begins[0])
            if len(seen) < 2:
                continue
            one = Range(seen[1][0] - begins[0], seen[1][0] - begins[0])
            self.done.boot = one if self.done.boot is None else self.done.boot.joined(one)
            if len(seen) > 2 and seen[2][1] == seen[0][1]:
                lasts = Range(seen[2][0] - seen[1][0], seen[2][0] - seen[1][0])
                self.done.starting = (seen[1][1], lasts if self.done.starting is None else self.done.starting[1].joined(lasts))
        self.done.held_counts = any(f.move.kind == "hold" and 0 in f.spots for f in self.done.facts)

    def _hidden_boot(self, move: Move, word: Word) -> None:
        """What the first press does shows only by what a later word is answered."""
        rest = wait(2 * self.bench.begin_us)
        wanted = self.bench.follow((move, rest), word).pictures

        def answered(at_us: int) -> bool:
            acts = tuple(replace(act, at_us=act.at_us + at_us) for act in move.acts)
            more, end, begins = self.bench.place((wait(SETTLE_US + move.length_us), rest, *word))
            trace = self.bench.run((*acts, *more), end + LOOK_US)
            begin = begins[2] if word else end
            return tuple(picture for _, picture in self.bench.smooth(trace, begin)) == wanted

        if answered(self.bench.begin_us) and not answered(100):
            late, soon = self.bisect(answered, self.bench.begin_us, 100)
            self.done.boot, self.done.held_counts = Range(soon, late), False
        else:
            self.done.unmeasured.append("how long a start takes: a press counts however early it begins")

    def _supply(self) -> None:
        if len(set(self.explorer.cuts.values())) == 1 and not any(ON in s.picture for s in self.explorer.spots):
            self.done.unmeasured.append("how long it runs on without its cell: it shows nothing that could go out")
            return
        found: Range | None = None
        for spot in self.explorer.spots:
            lit = [i for i, level in enumerate(spot.picture) if level == ON and i not in self.bench.gaps]
            if not lit:
                continue
            for shift in PHASES_US[:_FEW]:
                acts, now, _ = self.bench.place(spot.path, shift_us=shift)
                trace = self.bench.run((*acts, Act(CELL, "", now, CUT_US)), now + CUT_US)
                at = next((at for at, picture in trace.pictures(now - 1)[1:] if not picture[lit[0]]), None)
                if at is not None:
                    found = Range(at - now, at - now) if found is None else found.joined(Range(at - now, at - now))
            break
        self.done.hold_up = found
        if found is None:
            self.done.unmeasured.append("how long it runs on without its cell: no light was steadily on, to go out")
            return
        self._writes(found)

    def _writes(self, hold_up: Range) -> None:
        """How long after a change power must last for it to be kept."""
        ex = self.explorer
        for (number, name), edge in ex.edges.items():
            old, new = ex.cuts.get(number), ex.cuts.get(edge.to)
            if old == new or old is None or new is None or not edge.shows:
                continue
            spot, move = ex.spots[number], ex.move(name)
            word = self.tell_apart(ex.spots[old].path, ex.spots[new].path)
            seen, pictures, begin = ex.seen_of(spot.path, move)
            if word is None or seen is None or len(pictures) > 1:
                continue
            acts, end, _ = self.bench.place((*spot.path, move))
            wanted = self._after_cut(acts, end + 1_000_000, word)

            def kept(after_us: int, at: int = begin + seen, acts: tuple[Act, ...] = acts, word: Word = word, wanted: object = wanted) -> bool:
                return self._after_cut(acts, at + after_us, word) == wanted

            low = -hold_up.hi - 10_000
            if kept(low) or not kept(600_000):
                continue
            late, soon = self.bisect(kept, 600_000, low)
            whole = Range(max(0, soon + hold_up.lo), max(0, late + hold_up.hi))
            self.done.writes = whole if self.done.writes is None else self.done.writes.joined(whole)
            return

    def _after_cut(self, acts: tuple[Act, ...], cut_us: int, word: Word) -> object:
        """What a word is answered after a cut. What is done while it runs on without its cell counts, too."""
        more, end, begins = self.bench.place((wait(cut_us + CUT_US + 600_000 - self.bench.begin_us), *word))
        trace = self.bench.run((*acts, Act(CELL, "", cut_us, CUT_US), *more), end + LOOK_US)
        return tuple(picture for _, picture in self.bench.smooth(trace, cut_us + CUT_US + 500_000))


def _row(button: str, lengths: list[int], gap_us: int) -> Move:
    acts, length = presses(button, [max(1, us) for us in lengths], gap_us)
    return Move("", "tap", acts, length)


def _chord(a: str, b: str, apart_us: int) -> Move:
    acts = (Act(BUTTON, a, 0, TAP_US + apart_us), Act(BUTTON, b, apart_us, TAP_US))
    return Move("", "chord", acts, TAP_US + apart_us)


def _loosen(limit: Range | None, width: Range) -> Range | None:
    """A limit of the contact as one of what is read: each edge may be taken a little sooner or later."""
    if limit is None:
        return None
    return Range(max(1, limit.lo - width.hi), limit.hi + width.hi, limit.beyond)


__all__ = ["SETTLE_US", "Measured", "Measurer", "Misbehaves", "Range"]
