"""Which situations a firmware can be told to be in, found by moves from power-up; no spec is needed.

A *spot* is a situation: what is shown, what comes by itself, and what moves lead to. Two ways lead to the same spot if the
same pictures follow them: left alone for long, after each move, and after each two moves of which the first does something.
More isn't asked, so two situations that only a third move tells apart are taken for one.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Final

from nudgeproof.firmware.acts import BUTTON, CELL, EVENT, Act
from nudgeproof.measuring.bench import (
    BLINKS,
    LONG_US,
    LOOK_US,
    OFF,
    ON,
    SETTLE_US,
    TAP_US,
    Answer,
    Bench,
    Move,
    Picture,
    Trace,
    Word,
    presses,
    wait,
)

MOST_SPOTS: Final = 40
PULSE_US: Final = 5_000
_OTHER_SETTLE_US: Final = 640_000
_CHORD_US: Final = 12_000
_BLIND_HOLD_US: Final = 2_500_000
_RUNGS_US: Final = (TAP_US, 300_000, 600_000, 1_200_000, 2_400_000, 4_800_000, 9_600_000)
_SOON_US: Final = 700_000
_HORIZON_US: Final = 95_000_000
_MOST_THRESHOLDS: Final = 3
_COUNT: Final = ("no taps", "tap", "two taps", "three taps", "four taps")
CUT_US: Final = 1_500_000


@dataclass(frozen=True, slots=True)
class Threshold:
    """A press, after `taps` taps, does something once it has lasted about `at_us`; `at_release`: when it is let go."""

    button: str
    taps: int
    at_us: int
    at_release: bool


@dataclass(slots=True)
class Spot:
    """A situation, and a word that leads there. `alone`: what comes by itself, pictures with their time since the word.

    `since_us`: how long before the end of the word what is shown had changed last.
    """

    number: int
    path: Word
    picture: Picture
    asleep: bool
    alone: tuple[tuple[int, Picture], ...]
    since_us: int
    horizon_us: int
    """For how long it was left alone."""


@dataclass(frozen=True, slots=True)
class Edge:
    """What a move leads to. `answer`: what was seen; `passing`: pictures that came in between and went by themselves."""

    to: int
    answer: Answer
    shows: bool


@dataclass(slots=True)
class Explorer:
    """All spots and what leads from one to another."""

    bench: Bench
    taps: int = 3
    has_cell: bool = True
    spots: list[Spot] = field(default_factory=list)
    moves: list[Move] = field(default_factory=list)
    thresholds: list[Threshold] = field(default_factory=list)
    edges: dict[tuple[int, str], Edge] = field(default_factory=dict)
    ages: dict[int, tuple[int, int, int]] = field(default_factory=dict)
    """Of a spot: after how long, from and to, it turns into another one with nothing to be seen, and which."""
    cuts: dict[int, int] = field(default_factory=dict)
    gives_up: str = ""
    repeats: set[str] = field(default_factory=set)
    horizon_us: int = _HORIZON_US
    """For how long what is compared is left alone: longer than anything known lasts."""
    useful: set[str] = field(default_factory=set)
    """Moves that are more than a row of others, as far as is known."""

    def explore(self) -> None:
        """Find all spots, or as many as `MOST_SPOTS`."""
        self.moves = list(self._plain_moves())
        self.useful = {move.name for move in self.moves if len(move.acts) == 1 or move.kind == "chord"}
        self.identify(())
        at = 0
        done: set[tuple[int, Move]] = set()
        scanned = 0
        while True:
            while scanned < len(self.spots):
                self._scan(self.spots[scanned])
                scanned += 1
            left = [(s, m) for s in self.spots for m in self.moves if (s.number, m) not in done]
            if not left or len(self.spots) >= MOST_SPOTS:
                break
            spot, move = left[0]
            done.add((spot.number, move))
            self.edges[spot.number, move.name] = self._edge(spot, move)
            at += 1
        if left:
            self.gives_up = f"there were more than {MOST_SPOTS} situations, and not all were looked at"
            self.edges = {key: edge for key, edge in self.edges.items() if edge.to < MOST_SPOTS}
        for spot in list(self.spots):
            self._find_age(spot)
        if self.has_cell:
            for spot in list(self.spots):
                self.cuts[spot.number] = self.identify(
                    (*spot.path, Move("cut", "cut", (Act(CELL, "", 0, CUT_US),), CUT_US + 400_000))
                )

    # -- moves ---------------------------------------------------------------------------------------------------

    def _plain_moves(self) -> Iterator[Move]:
        for button in self.bench.buttons:
            for number in range(1, self.taps + 1):
                acts, length = presses(button, (TAP_US,) * number)
                yield Move(self.named(button, _COUNT[number]), "tap", acts, length)
        for i, a in enumerate(self.bench.buttons):
            for b in self.bench.buttons[i + 1 :]:
                acts = (Act(BUTTON, a, 0, TAP_US), Act(BUTTON, b, _CHORD_US, TAP_US))
                yield Move(f"{a} and {b}", "chord", acts, TAP_US + _CHORD_US)
        for one in self.bench.inputs:
            yield Move(one, "event", (Act(EVENT, one, 0, PULSE_US),), PULSE_US)

    def named(self, button: str, what: str) -> str:
        """The name of a gesture: with its button where there are several."""
        return what if len(self.bench.buttons) == 1 else f"{what} on {button}"

    def _hold(self, one: Threshold) -> Move:
        own = [t for t in self.thresholds if (t.button, t.taps) == (one.button, one.taps)]
        number = own.index(one) + 1
        length = one.at_us + max(70_000, one.at_us // 12)
        acts, whole = presses(one.button, (*(TAP_US,) * one.taps, length))
        what = ("hold" if not one.taps else "tap then hold") + (f" {number}" if number > 1 else "")
        return Move(self.named(one.button, what), "hold", acts, whole)

    def move(self, name: str) -> Move:
        """A move by its name."""
        return next(move for move in self.moves if move.name == name)

    def threshold(self, name: str) -> Threshold | None:
        """The threshold that a hold of this name was made for."""
        return next((one for one in self.thresholds if self._hold(one).name == name), None)

    def _scan(self, spot: Spot) -> None:
        """Look for presses that do something after some time: while they last, then when they are let go."""
        for button in self.bench.buttons:
            for taps in (0, 1):
                found = self._scan_press(spot, button, taps)
                for at, at_release in found:
                    self._add_threshold(Threshold(button, taps, at, at_release))
        if not self.thresholds and len(self.spots) == 1:
            for button in self.bench.buttons:
                self._add_threshold(Threshold(button, 0, _BLIND_HOLD_US, False))

    def _scan_press(self, spot: Spot, button: str, taps: int) -> list[tuple[int, bool]]:
        acts, length = presses(button, (*(TAP_US,) * taps, LONG_US))
        own = Move("", "hold", acts, length)
        begin, trace = self._trace(spot, own, LOOK_US)
        close = begin + own.last_press_us
        by_itself = [at for at, _ in spot.alone]
        seen = self.bench.smooth(trace, close)
        times = [
            at - close
            for (_, before), (at, picture) in pairwise(seen)
            if at < close + LONG_US
            and not any(abs(at - begin - other) < 40_000 for other in by_itself)
            and self.is_sharp(before, picture)
        ]
        held = [at for at in times if at > TAP_US - 20_000]
        found = [
            (at, False)
            for i, at in enumerate(held)
            if not i or not self._by_itself(spot, button, taps, held[i - 1], at)
        ]
        if len(found) > _MOST_THRESHOLDS:
            self.repeats.add(button)
            found = found[:1]
        # At release: what follows rungs of lengths, where nothing came while it was pressed.
        known, before = None, 0
        for rung in _RUNGS_US if not taps else ():
            after = self._after_release(spot, button, rung, times)
            if (
                known is not None
                and after != known
                and after[-1] != after[0]
                and not any(before < at <= rung + 60_000 for at in held)
            ):
                low, high = before, rung
                while high - low > 4_000:
                    middle = (low + high) // 2
                    low, high = (
                        (low, middle) if self._after_release(spot, button, middle, times) == after else (middle, high)
                    )
                if all(abs(high - at) > 100_000 for at in held):
                    found.append((high, True))
            known, before = after, rung
        return found

    def _by_itself(self, spot: Spot, button: str, taps: int, before_us: int, at_us: int) -> bool:
        """Whether what came later in a long press comes as well if it is let go after what came before."""
        acts, length = presses(button, (*(TAP_US,) * taps, before_us + 70_000))
        move = Move("", "hold", acts, length)
        begin, trace = self._trace(spot, move, at_us + LOOK_US)
        close = begin + move.last_press_us
        return any(abs(at - close - at_us) < 60_000 for at, _ in self.bench.smooth(trace, close)[1:])

    def is_sharp(self, before: Picture, after: Picture) -> bool:
        """Whether the moment of a change is known: one that blinks may have been dark when it went out."""
        changed = [i for i, (a, b) in enumerate(zip(before, after, strict=True)) if a != b]
        return not all(i in self.bench.gaps and after[i] == OFF for i in changed)

    def _after_release(self, spot: Spot, button: str, lasts: int, held: list[int]) -> tuple[Picture, ...]:
        """The pictures from just before a release until soon after it, without what comes at that time while it is held."""
        acts, length = presses(button, (lasts,))
        begin, trace = self._trace(spot, Move("", "hold", acts, length), LOOK_US)
        seen = self.bench.smooth(trace, begin + length - 1_000)
        own = [
            p
            for at, p in seen[1:]
            if at < begin + length + _SOON_US and all(abs(at - begin - other) > 60_000 for other in held)
        ]
        return (seen[0][1], *own)

    def _trace(self, spot: Spot, move: Move, look_us: int, shift_us: int = 0) -> tuple[int, Trace]:
        acts, end, begins = self.bench.place((*spot.path, move), shift_us=shift_us)
        return begins[-1], self.bench.run(acts, end + look_us)

    def _add_threshold(self, one: Threshold) -> None:
        near = max(25_000, one.at_us // 12)
        for other in self.thresholds:
            if (other.button, other.taps) == (one.button, one.taps) and abs(other.at_us - one.at_us) < near:
                return
        if not one.taps:
            for blind in [t for t in self.thresholds if t.at_us == _BLIND_HOLD_US and t.button == one.button]:
                # It was a guess, for a hold that shows nothing; now one is known.
                name = self._hold(blind).name
                self.thresholds.remove(blind)
                self.moves = [move for move in self.moves if move.name != name]
                self.edges = {key: edge for key, edge in self.edges.items() if key[1] != name}
        self.thresholds.append(one)
        self.moves.append(self._hold(one))
        if not one.taps:
            self.useful.add(self.moves[-1].name)

    # -- spots ---------------------------------------------------------------------------------------------------

    def identify(self, path: Word) -> int:
        """The spot that a word leads to, a new one if none is like it."""
        new = self.look_at(path)
        for spot in self.spots:
            if spot.picture == new.picture and spot.asleep == new.asleep and self._same(new, spot):
                return spot.number
        whole = self.look_at(path, self.bench.longest_us)
        self.spots.append(whole)
        life = whole.alone[0][0] if whole.alone else 0
        self.horizon_us = min(self.bench.longest_us, max(self.horizon_us, life + life // 10 + 1_000_000))
        return whole.number

    def look_at(self, path: Word, horizon_us: int = 0) -> Spot:
        """The situation that a word leads to, not yet compared with others; left alone for so long."""
        horizon = horizon_us or min(self.horizon_us, self.bench.longest_us)
        acts, begin, _ = self.bench.place(path)
        trace = self.bench.run(acts, begin + max(LOOK_US, horizon))
        self.bench.learn_rhythms(trace, begin)
        seen = self.bench.smooth(trace, 0)
        now = [at for at, _ in seen if at <= begin][-1]
        until = next((at for at, _ in seen if at > begin), begin + LOOK_US)
        picture = dict(seen)[now]
        shown = self.bench.answer(trace, begin, min(until, begin + LOOK_US)).last
        picture = tuple(s if p == ON and s >= BLINKS else p for p, s in zip(picture, shown, strict=True))
        asleep = trace.sleeps_at(min(until, begin + LOOK_US) - 1)
        alone = tuple((at - begin, one) for at, one in seen if at > begin)[:3]
        return Spot(len(self.spots), path, picture, asleep, alone, begin - now, horizon)

    def _same(self, new: Spot, old: Spot, timed: bool = True) -> bool:
        """`timed`: whether times that run already must be the same, too."""
        if not self._same_alone(new, old, timed):
            return False
        acting = []
        asked = [move for move in self.moves if move.name in self.useful]
        for move in asked:
            if not self._same_after(new.path, old.path, (move,)):
                return False
            edge = self.edges.get((old.number, move.name))
            if self.acts(old.path, move) or (edge is not None and edge.to != old.number):
                acting.append(move)
        for first in acting:
            if not self._same_later((*new.path, first), (*old.path, first)):
                return False
            for second in asked:
                if not self._same_after(new.path, old.path, (first, second)):
                    return False
        return True

    def _same_later(self, new: Word, old: Word) -> bool:
        return self._same_alone(self.look_at(new), self.look_at(old))

    def _same_alone(self, new: Spot, old: Spot, timed: bool = True) -> bool:
        """Whether the same comes by itself, at about the same time since the word, or since what is shown changed."""
        until = min(new.horizon_us, old.horizon_us) * 19 // 20
        ours, theirs = ([(at, p) for at, p in spot.alone if at < until] for spot in (new, old))
        known = min(len(ours), len(theirs))
        if any(at < until * 19 // 20 for at, _ in (*ours[known:], *theirs[known:])):
            return False  # what comes near the end may lie beyond it for the other
        if [p for _, p in ours[:known]] != [p for _, p in theirs[:known]]:
            return False
        for own, other in zip(ours[:known], theirs[:known], strict=True):
            a, b = own[0], other[0]
            c, d = a + new.since_us, b + old.since_us
            near = 150_000 + b // 20
            if timed and abs(a - b) > near and abs(c - d) > near:
                return False
        return True

    def _same_after(self, new: Word, old: Word, word: Word) -> bool:
        """Whether the same pictures follow; where times may have made the difference it is tried with other pauses, too."""
        ours = {self.bench.follow(new, word)}
        theirs = {self.bench.follow(old, word)}
        if ours & theirs:
            return True
        for path, found in ((new, ours), (old, theirs)):
            found.add(self.bench.follow(path, word, settle_us=_OTHER_SETTLE_US))
        return bool(ours & theirs)

    def acts(self, path: Word, move: Move) -> bool:
        """Whether something is seen upon a move that isn't seen without."""
        return self.seen_of(path, move)[0] is not None

    def seen_of(
        self, path: Word, move: Move, shift_us: int = 0, until_us: int = SETTLE_US + 600_000
    ) -> tuple[int | None, tuple[Picture, ...], int]:
        """When a move is first answered (since it begins; None: never), the pictures from then, and when it began."""
        acts, end, begins = self.bench.place((*path, move), shift_us=shift_us)
        trace = self.bench.run(acts, end + LOOK_US)
        begin, last = begins[-1], begins[-1] + move.length_us + until_us
        base_acts, until, _ = self.bench.place(path, shift_us=shift_us)
        base = self.bench.smooth(self.bench.run(base_acts, until + LONG_US + LOOK_US), begin)
        seen = self.bench.smooth(trace, begin)
        known = {(picture, at // 60_000 + d) for at, picture in base[1:] for d in (-1, 0, 1)}
        answers = [(at, p) for at, p in seen[1:] if at <= last and (p, at // 60_000) not in known]
        if not answers:
            return None, (), begin
        return answers[0][0] - begin, tuple(p for _, p in answers), begin

    def _edge(self, spot: Spot, move: Move) -> Edge:
        answer = self.bench.follow(spot.path, (move,))
        shows = self.acts(spot.path, move)
        rows = self.rows(move)
        if not rows:
            return Edge(self.identify((*spot.path, move)), answer, shows)
        # Its presses may be moves by themselves; then the whole is nothing of its own.
        acts = shows or move.kind == "chord" or any(self.along(spot.number, row) != spot.number for row in rows)
        if not acts:
            return Edge(spot.number, answer, False)
        shorter = self.named(move.acts[0].what, _COUNT[len(move.acts) - 1]) if move.kind == "tap" else ""
        plain = len(move.acts) > 2 and shorter not in self.useful
        for row in rows:
            now = self.along(spot.number, row)
            if answer != self.bench.follow(spot.path, tuple(self.move(part) for part in row)):
                continue
            if plain or self._same(self.look_at((*spot.path, move)), self.spots[now]):
                return Edge(now, answer, shows)
        self.useful.add(move.name)
        return Edge(self.identify((*spot.path, move)), answer, shows)

    def along(self, spot: int, names: tuple[str, ...]) -> int:
        """Where moves lead one after the other."""
        for name in names:
            edge = self.edges.get((spot, name))
            spot = edge.to if edge is not None else spot
        return spot

    def rows(self, move: Move) -> tuple[tuple[str, ...], ...]:
        """The rows of moves that a longer one would be if its presses stood for themselves; none for a single press."""
        if move.kind == "chord":
            return (tuple(self.named(act.what, "tap") for act in move.acts),)
        if move.kind not in ("tap", "hold") or len(move.acts) < 2:
            return ()
        button = move.acts[0].what
        if move.kind == "tap":
            return tuple(tuple(self.named(button, _COUNT[n]) for n in row) for row in _sums(len(move.acts)))
        tap, one = self.named(button, "tap"), self.threshold(move.name)
        holds = [t for t in self.thresholds if t.button == button and not t.taps]
        same = next(
            (t for t in holds if one is not None and abs(t.at_us - one.at_us) < max(25_000, t.at_us // 12)), None
        )
        return ((tap, self._hold(same).name),) if same is not None else ()

    def _find_age(self, spot: Spot) -> None:
        """Whether a spot turns into another one although nothing is to be seen: asked once, late in its life."""
        life = spot.alone[0][0] if spot.alone else min(self.bench.longest_us, 65_000_000)
        if life < 5_000_000:
            return
        late = life * 9 // 10
        useful = [move for move in self.moves if move.name in self.useful]
        acting = [m for m in useful if (e := self.edges.get((spot.number, m.name))) and e.to != spot.number]
        for move in acting:
            to = self.edges[spot.number, move.name].to
            if self._ages_to(spot, late, move, to):
                continue
            low, high = 0, late
            while high - low > 20_000:
                middle = (low + high) // 2
                same = self._ages_to(spot, middle, move, to)
                low, high = (middle, high) if same else (low, middle)
            after = self.identify((*spot.path, wait(high + 200_000)))
            if after != spot.number:
                # A move is seen some time after it begins, at the latest soon after its end.
                late_us = high + move.length_us + 60_000
                self.ages[spot.number] = (low + spot.since_us, late_us + spot.since_us, after)
            return

    def _ages_to(self, spot: Spot, after_us: int, move: Move, to: int) -> bool:
        """Whether a move leads after a wait where it leads at once, but for times that may have gone on."""
        new, old = self.look_at((*spot.path, wait(after_us), move)), self.spots[to]
        return (new.picture, new.asleep) == (old.picture, old.asleep) and self._same(new, old, timed=False)


def _sums(number: int) -> list[tuple[int, ...]]:
    """All rows of at least two numbers that make up a number."""
    found: list[tuple[int, ...]] = []
    for first in range(1, number):
        found.append((first, number - first))
        found += [(first, *rest) for rest in _sums(number - first)]
    return sorted(found, key=len, reverse=True)
