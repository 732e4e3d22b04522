"""The fuzz: random runs through the concrete run, as a second witness that owes nothing to the explorer.

The library hypothesis draws decisions (see `play`); those that lead to a failure are shortened. What is drawn isn't uniform:
sources act more often than contacts chatter; three instants of four are ends of what is possible, the others lie at or a
microsecond beside an end of another timer's, so that two orders are told apart, or anywhere inside. Three runs of four
begin on the way to a situation that few runs have met, and half of those go that way at other times.

Given steps enough, it finds faults whose bad window is at least 1 % of an interval, or lies at its end. It doesn't promise
narrower ones (`NOT_PROMISED`) and never says that there is no fault: for those there is the explorer.

Only booleans are drawn from hypothesis. Among numbers it mixes constants out of whichever modules are loaded, and it caches
those on the disk; then neither would the same seed do the same everywhere, nor the disk be left alone.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from heapq import nsmallest
from random import Random
from typing import Any

from nudgeproof.engines.concrete import Known
from nudgeproof.engines.explore import explore
from nudgeproof.engines.play import KIND, PLACE, Decision, Pick, Played, play, recall
from nudgeproof.engines.space import Step
from nudgeproof.model.step import Move, Test
from nudgeproof.model.tables import Local, Model, Situation

NOT_PROMISED = "windows of microseconds within long intervals, such as a race while the processor goes to sleep"
"""What a report of a fuzz has to say beside what was found."""

ROUND = 12
"""Runs drawn before situations are counted again and rare ones chosen to begin from."""

ONWARD = 24
"""Steps of a run after its beginning."""

LONGEST = 240
"""Steps of the longest beginning."""

HALF_POOL = 32
"""Beginnings that are chosen from: so many for each kind of rarity."""

SKEW_BITS = 4
"""A beginning is chosen by the product of two numbers of this many bits: the rarest far more often than the others."""


@dataclass(frozen=True, slots=True)
class Failure:
    """A run whose last step meets a test, shortened. `replayed`: it came from the corpus.

    `path` and `times_us` (from the beginning, one for each step) are what `story.replay` takes.
    """

    decisions: tuple[Decision, ...]
    path: tuple[Step, ...]
    times_us: tuple[int, ...]
    replayed: bool


@dataclass(frozen=True, slots=True)
class FuzzResult:
    """`failures[i]`: for test i a run that meets it, or None, which proves nothing.

    `runs`, `steps`: how many were drawn, without those of shortening. `situations`: how many different ones were met.
    """

    failures: tuple[Failure | None, ...]
    runs: int
    steps: int
    situations: int


@dataclass(frozen=True, slots=True)
class Share:
    """How many situations were met, of how many that can be reached (None: not known)."""

    met: int
    reachable: int | None

    @property
    def part(self) -> Fraction | None:
        """The share from 0 to 1, None if it isn't known."""
        return None if self.reachable is None else Fraction(self.met, self.reachable)

    def __str__(self) -> str:
        if self.part is None:
            return "unknown"
        return f"{self.met} of {self.reachable} ({int(100 * self.part)} %)"


def fuzz(
    model: Model, tests: Sequence[Test], steps: int, seed: int, corpus: Sequence[Sequence[Decision]] = ()
) -> FuzzResult:
    """Play the runs of `corpus`, then draw runs of about `steps` steps together, until each test was met.

    The same arguments give the same result. Raises `ModelFault` as the step relation does.
    """
    chase = _Chase(model, tests)
    for decisions in corpus:
        chase.replay(decisions)
    random = Random(seed)
    while chase.is_open and chase.steps < steps:
        before = chase.steps
        chase.draw(min(ROUND, -((chase.steps - steps) // ONWARD)), random)
        if chase.steps == before:
            break
    return FuzzResult(tuple(chase.failures), chase.runs, chase.steps, len(chase.met))


def share(model: Model, met: int, budget: int) -> Share:
    """Set `met` situations against all that can be reached, which the explorer counts if `budget` classes are enough."""
    seen = explore(model, (lambda model, before, move: False,), budget, stories=())
    return Share(met, seen.situations if seen.complete else None)


class _Drawn:
    """A run that was drawn; not a dataclass, since hypothesis writes those out field by field."""

    def __init__(self, played: Played) -> None:
        self.played = played

    def __repr__(self) -> str:
        return f"a run of {len(self.played.path)} steps"


class _Chase:
    """The search in progress: which tests were met, and how often and how shortly each situation was."""

    def __init__(self, model: Model, tests: Sequence[Test]) -> None:
        self.model, self.tests = model, tests
        self.failures: list[Failure | None] = [None] * len(tests)
        self.runs = self.steps = 0
        self.met: dict[Situation, int] = {model.start: 1}
        self.places: dict[tuple[int, Local], int] = {}
        self.ways: dict[Situation, tuple[tuple[Decision, ...], int]] = {}
        self.known: Known = {}
        self.pinned: int | None = None

    @property
    def is_open(self) -> bool:
        """Whether a test was not met yet."""
        return None in self.failures

    def replay(self, decisions: Sequence[Decision]) -> None:
        """Play a run of the corpus and note what it meets; it may go on after that."""
        for number in range(len(self.tests)):
            if self.failures[number] is None:
                played = self._play(recall(decisions), len(decisions), number)
                self._count(played)
                if played.stopped:
                    self._note(number, played, replayed=True)

    def draw(self, runs: int, random: Random) -> None:
        """Draw up to `runs` runs; at the first that meets an open test, shorten it and end."""
        from hypothesis import Phase, Verbosity, find, settings
        from hypothesis import strategies as st
        from hypothesis.errors import NoSuchExample

        begin = self._choose_beginnings()
        boolean = st.booleans()

        @st.composite
        def drawn_runs(draw: Callable[[Any], bool]) -> _Drawn:
            return _Drawn(self._draw_run(begin, lambda: draw(boolean)))

        how = settings(
            max_examples=runs,
            database=None,
            deadline=None,
            derandomize=False,
            phases=(Phase.generate,),
            print_blob=False,
            verbosity=Verbosity.quiet,
        )
        try:
            found = find(drawn_runs(), lambda drawn: drawn.played.stopped, settings=how, random=random)
        except NoSuchExample:
            return
        assert self.pinned is not None
        self._note(self.pinned, found.played, replayed=False)
        self.pinned = None

    def _draw_run(self, begin: Sequence[tuple[Decision, ...]], flip: Callable[[], bool]) -> Played:
        """One run. Once a test was met, a run that follows (which draws that one again) is about that test alone."""

        def number(bits: int) -> int:
            value = 0
            for _ in range(bits):
                value = 2 * value + flip()
            return value

        first: tuple[Decision, ...] = ()
        if begin and (flip() or flip()):
            first = begin[number(SKEW_BITS) * number(SKEW_BITS) * len(begin) >> 2 * SKEW_BITS]
        old, anew = recall(first), (KIND, PLACE) if first and flip() else ()

        def pick(at: int, what: int, bits: int) -> int:
            return old(at, what, bits) if at < len(first) and what not in anew else number(bits)

        counts = self.pinned is None
        played = self._play(pick, len(first) + ONWARD, self.pinned)
        if counts:
            self._count(played)
        return played

    def _play(self, pick: Pick, limit: int, number: int | None) -> Played:
        """Play until test `number` is met; if None, until any open one is, which then is pinned."""
        model, tests = self.model, self.tests
        wanted = [i for i, failure in enumerate(self.failures) if failure is None] if number is None else [number]

        def stop(before: Situation, move: Move) -> bool:
            for i in wanted:
                if tests[i](model, before, move):
                    self.pinned = i if number is None else self.pinned
                    return True
            return False

        return play(model, pick, limit, stop, self.known)

    def _count(self, played: Played) -> None:
        self.runs += 1
        self.steps += len(played.path)
        for length, step in enumerate(played.path, start=1):
            after = step.move.situation
            self.met[after] = self.met.get(after, 0) + 1
            for place in enumerate(after):
                self.places[place] = self.places.get(place, 0) + 1
            if length <= LONGEST and (after not in self.ways or length < self.ways[after][1]):
                self.ways[after] = (played.decisions, length)

    def _choose_beginnings(self) -> list[tuple[Decision, ...]]:
        """The ways to the rarest situations, in turn by the rarest state of a part in them and by themselves.

        Among equals the latest found come first.
        """
        latest = {situation: -i for i, situation in enumerate(self.ways)}
        by_place = {s: min(self.places[place] for place in enumerate(s)) for s in self.ways}
        alone = nsmallest(HALF_POOL, self.ways, key=lambda s: (self.met[s], latest[s]))
        in_part = nsmallest(HALF_POOL, self.ways, key=lambda s: (by_place[s], self.met[s], latest[s]))
        rare = dict.fromkeys(s for pair in zip(in_part, alone, strict=True) for s in pair)
        ways = (self.ways[situation] for situation in rare)
        return [decisions[:length] for decisions, length in ways]

    def _note(self, number: int, played: Played, replayed: bool) -> None:
        best = self._trim(number, played)
        self.failures[number] = Failure(best.decisions, best.path, best.times, replayed)

    def _trim(self, number: int, played: Played) -> Played:
        """Leave out decisions, then make each simpler, as long as the test is still met at less cost.

        hypothesis could shorten what it drew, though not the beginning, which it didn't; it takes up to some seconds for
        what this does in a tenth of one, and what comes out is seldom shorter.
        """
        best, again = played, True
        while again:
            was = best
            best = self._cut_rounds(number, best)
            size = max(1, len(best.decisions) // 2)
            while size:
                at = 0
                while at < len(best.decisions):
                    shorter = self._try(number, best, best.decisions[:at] + best.decisions[at + size :])
                    at, best = (at + size, best) if shorter is best else (at, shorter)
                size //= 2
            for at in range(len(best.decisions)):
                for simpler in _make_simpler(best.decisions[at : at + 1]):
                    best = self._try(number, best, (*best.decisions[:at], simpler, *best.decisions[at + 1 :]))
            again = best is not was
        return best

    def _cut_rounds(self, number: int, best: Played) -> Played:
        """Leave out what lies between two situations that are alike in all parts but one, longest first."""
        begin = 0
        while begin < len(best.path):
            here = best.path[begin].situation
            for end in range(len(best.path) - 1, begin + 1, -1):
                if sum(a != b for a, b in zip(here, best.path[end].situation, strict=True)) <= 1:
                    shorter = self._try(number, best, best.decisions[:begin] + best.decisions[end:])
                    if shorter is not best:
                        best = shorter
                        break
            else:
                begin += 1
        return best

    def _try(self, number: int, best: Played, decisions: tuple[Decision, ...]) -> Played:
        played = self._play(recall(decisions), len(decisions), number)
        return played if played.stopped and played.cost < best.cost else best


def _make_simpler(one: tuple[Decision, ...]) -> list[Decision]:
    """Decisions simpler than the `one` given, simplest first; none if there is none."""
    found: list[Decision] = []
    for which, kind, place, outcome in one:
        found.append((0, 0, 0, 0))
        found += [(which, simpler, 0, outcome) for simpler in range(kind)]
        found += [(less, kind, place, outcome) for less in range(which)]
        found += [(which, kind, place, less) for less in range(outcome)]
        found += [(which, kind, place // 2, outcome)] if place else []
    return found
