"""Closest calls: how far each bound of the surroundings is from a failure that the spec, as it is, doesn't have.

One bound at a time, all others as stated: how long a source closes a button or takes the cell away, and how short the pause
after it is. Widening a bound only adds runs, so the answer turns once at most. First the bound is widened to its extreme. If
nothing is found there it needs no limit. Else the story is *tightened*: the least widening that its steps allow; the bound
moves just inside, and so on, until everything was looked at and nothing found. What is left is proved on both sides: a
microsecond inside every timing was covered, and the story is replayed in the device with the bound written into it.

All that hold in one environment are looked for in the same runs, and all widenings share its space: the steps are the same,
only intervals differ.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

from nudgeproof.diagnostics import ToolFault
from nudgeproof.engines.explore import Exploration, explore_space
from nudgeproof.engines.space import Retime, Space, Step
from nudgeproof.engines.story import confirm, earliest
from nudgeproof.model.step import Test, expire
from nudgeproof.model.tables import Model, Timer
from nudgeproof.parts.cell_level import MOVES
from nudgeproof.parts.compile import Environment, compile_model
from nudgeproof.parts.events import HAPPENS
from nudgeproof.parts.people import PRESSES
from nudgeproof.parts.stroke import LETS_GO
from nudgeproof.parts.supply import CELL_IS_BACK, CELL_IS_LOST
from nudgeproof.questions.ask import Question
from nudgeproof.rhythm import find_rhythm, find_steady
from nudgeproof.spec.outside import Maker, Sag
from nudgeproof.spec.types import Device, Disturbance, Outage, Source
from nudgeproof.units import FOREVER, Bound, Span
from nudgeproof.verdict import ClosestCall

SHARES = 10
_MOVES = 40
_TRIES = 4


@dataclass(frozen=True, slots=True)
class Held:
    """A question about something unwanted that can't happen; `looked_for`: its step, but for what is accepted.

    `wider`: see `Question`, None if it may not be used.
    """

    question: Question
    looked_for: Test
    wider: tuple[Environment, Test] | None


@dataclass(frozen=True, slots=True)
class Limit:
    """One bound of a source, with the part's timer that keeps it.

    `key`: as in the spec. `longest`: a bound from above, else one from below; `is_pause`: of the pause between two actions,
    else of the action. The bound is widened by some microseconds: up, or down to 0 at most.
    """

    source: str
    key: str
    timer: str
    longest: bool
    is_pause: bool
    stated_us: int

    @property
    def most(self) -> Bound:
        """The widening after which it limits nothing."""
        return FOREVER if self.longest else self.stated_us

    def at(self, by: Bound) -> Bound:
        """The bound widened by `by`."""
        return self.stated_us + by if self.longest else self.stated_us - by

    def retime(self, model: Model, by: Bound) -> Retime:
        """Timers as if the source were described with the bound widened."""
        part, value = model.index(self.source), self.at(by)

        def change(index: int, timer: Timer) -> Timer:
            if index != part or timer.name != self.timer:
                return timer
            if self.longest:
                return Timer(timer.name, timer.lo, max(timer.hi, value))
            return Timer(timer.name, min(timer.lo, int(value)), timer.hi)

        return change

    def written_into(self, device: Device, by: int) -> Device:
        """The device with the widened bound in its description."""
        value = int(self.at(by))

        def changed(what: Source) -> Source:
            if what.name != self.source:
                return what
            if self.is_pause:
                return replace(what, apart_us=value)
            if isinstance(what, Outage):
                return replace(what, gone=widened(what.gone))
            return replace(what, closes=widened(what.closes)) if isinstance(what, Disturbance) else what

        def widened(span: Span) -> Span:
            return Span(span.lo, value) if self.longest else Span(value, span.hi)

        return replace(device, surroundings=tuple(changed(what) for what in device.surroundings))


def limits(device: Device, sources: Iterable[str]) -> tuple[Limit, ...]:
    """The bounds of these sources that limit anything; one that acts for good has none."""
    found = []
    for what in device.surroundings:
        if what.name not in sources:
            continue
        if isinstance(what, Maker | Sag):
            pause, begins = (
                ("then none for at least", HAPPENS) if isinstance(what, Maker) else ("then steady at least", MOVES)
            )
            if what.apart_us and not what.meant:  # what is meant has stand-ins, whose times are others
                found.append(Limit(what.name, pause, begins, False, True, what.apart_us))
            continue
        if isinstance(what, Outage):
            lasts, how_long, ends = what.gone, "cell gone", CELL_IS_BACK
            pause, begins = "then steady at least", CELL_IS_LOST
        elif what.for_good:
            continue
        else:
            lasts, how_long, ends = what.closes, f"closes {what.button}", LETS_GO
            pause, begins = "then open at least", PRESSES
        if lasts.hi != FOREVER:
            found.append(Limit(what.name, how_long, ends, True, False, int(lasts.hi)))
        if lasts.lo:
            found.append(Limit(what.name, how_long, ends, False, False, lasts.lo))
        if what.apart_us:
            found.append(Limit(what.name, pause, begins, False, True, what.apart_us))
    return tuple(found)


def list_all(
    device: Device, held: Sequence[Held], budget: int, progress: Callable[[str, int], None] | None = None
) -> tuple[ClosestCall, ...]:
    """How close each of `held` is, for each bound of each source that acts in it.

    `budget`: how many classes may be kept in all; one exploration gets at most its share of it. Raises `ToolFault` if a
    story doesn't replay.
    """
    purse = _Purse(budget, budget // SHARES, progress)
    found: dict[tuple[Limit, int], ClosestCall] = {}
    turns: dict[Limit, set[int]] = {}
    environments = dict.fromkeys(one.question.environment for one in held)
    for environment in sorted(environments, key=lambda one: bool(one.history)):  # the smaller ones first
        places = [i for i, one in enumerate(held) if one.question.environment == environment]
        mine = [held[i] for i in places]
        spaces = _Spaces(device, environment, mine, purse, turns)
        for limit in limits(device, environment.sources):
            for place, one, state in zip(places, mine, spaces.search(limit), strict=True):
                found[limit, place] = _tell(one, limit, state)
    order = limits(device, [what.name for what in device.surroundings])
    return tuple(found[limit, i] for limit in order for i in range(len(held)) if (limit, i) in found)


@dataclass(slots=True)
class _Purse:
    left: int
    share: int
    progress: Callable[[str, int], None] | None

    def explore(self, environment: Environment, space: Space, wanted: Sequence[int]) -> Exploration:
        tick = self.progress
        told = None if tick is None else (lambda classes: tick(str(environment), classes))
        seen = explore_space(space, min(self.share, self.left), told, wanted=wanted, stories=())
        self.left -= seen.classes
        return seen


@dataclass(slots=True)
class _State:
    """What is known of one test: it can't be met with the bound widened by `keeps`, it can by `breaks` (None: unknown).

    `next_guess`: a widening worth a try before the extreme. `too_much`: the least one at which the effort ran out.
    """

    keeps: Bound = 0
    breaks: int | None = None
    path: tuple[Step, ...] = ()
    next_guess: int | None = None
    too_much: Bound | None = None

    def is_open(self, limit: Limit) -> bool:
        return self.too_much is None and self.keeps != limit.most and self.breaks != self.keeps + 1

    def might_learn_from(self, by: Bound) -> bool:
        """Whether the effort ran out, and trying `by`, where it may last, would tell more than is known."""
        return self.too_much is not None and self.keeps < by < min(self.too_much, self.breaks or FOREVER)

    def aim(self, limit: Limit) -> Bound:
        """The widening to try next."""
        if self.breaks is not None:
            return self.breaks - 1
        return limit.most if self.next_guess is None else self.next_guess


class _Spaces:
    """The spaces of one environment and of the wider ones that may settle its questions, used for all its limits."""

    def __init__(
        self,
        device: Device,
        environment: Environment,
        held: Sequence[Held],
        purse: _Purse,
        turns: dict[Limit, set[int]],
    ) -> None:
        self.device, self.environment, self.held, self.purse = device, environment, held, purse
        self.turns: dict[Limit, set[int]] = turns
        self.space = _open_space(device, environment, [one.looked_for for one in held])
        self.wider: list[tuple[Environment, Space, list[int]]] = []
        for wider in dict.fromkeys(one.wider[0] for one in held if one.wider is not None):
            tests = [(i, one.wider[1]) for i, one in enumerate(held) if one.wider is not None and one.wider[0] == wider]
            space = _open_space(device, wider, [test for _, test in tests])
            self.wider.append((wider, space, [i for i, _ in tests]))

    def search(self, limit: Limit) -> list[_State]:
        """What is known of each question for one limit, with stories replayed."""
        states = [_State() for _ in self.held]
        for environment, space, places in self.wider:
            found = [_State() for _ in places]
            self._narrow(environment, space, limit, found)
            for place, state in zip(places, found, strict=True):
                states[place] = _State(keeps=state.keeps, next_guess=state.breaks)
        self._narrow(self.environment, self.space, limit, states)
        for one, state in zip(self.held, states, strict=True):
            if state.breaks is not None:
                wide_device = limit.written_into(self.device, state.breaks)
                wide = compile_model(wide_device, self.environment)
                steps = _replay(wide, self.space.model, state.path, one.looked_for)
                if find_rhythm(wide_device, wide, steps) is None and not find_steady(
                    wide_device, wide, one.looked_for, self.purse.share
                ):
                    # Samples that no one rhythm gives: up to there it holds, and beyond nothing is known.
                    state.breaks = None
        return states

    def _narrow(self, environment: Environment, space: Space, limit: Limit, states: Sequence[_State]) -> None:
        """Move each state's `keeps` and `breaks` together, the smallest widening first, until none is open."""
        for _ in range(_MOVES):
            wanted = [i for i, state in enumerate(states) if state.is_open(limit)]
            if not wanted:
                break
            by = min(states[i].aim(limit) for i in wanted)
            self._try(environment, space, limit, states, wanted, by)
        for by in self._footholds(limit, states):
            wanted = [i for i, state in enumerate(states) if state.might_learn_from(by)]
            if wanted:
                self._try(environment, space, limit, states, wanted, by)
        self.turns.setdefault(limit, set()).update(state.breaks for state in states if state.breaks is not None)

    def _try(
        self,
        environment: Environment,
        space: Space,
        limit: Limit,
        states: Sequence[_State],
        wanted: Sequence[int],
        by: Bound,
    ) -> None:
        """Explore with the bound widened by `by`, and note what that says of those that are wanted."""
        space.retime(limit.retime(space.model, by))
        seen = self.purse.explore(environment, space, wanted)
        for i in wanted:
            state, path = states[i], seen.paths[i]
            if path is not None:
                state.breaks, state.path = _tighten(space.model, path, limit, state.keeps, by), path
            elif seen.complete and not seen.stuck:
                state.keeps, state.next_guess = max(state.keeps, by), None
            elif state.next_guess == by:
                state.next_guess = None
            elif state.aim(limit) == by or state.too_much is not None:
                state.too_much = by

    def _footholds(self, limit: Limit, states: Sequence[_State]) -> Iterable[Bound]:
        """Smaller widenings, for when the effort ran out: where something else turned, or halfway until one holds."""
        turned = sorted({state.breaks for state in states if state.breaks is not None} | self.turns.get(limit, set()))
        yield from (by for turn in turned for by in (turn - 1, turn))
        for _ in range(_TRIES):
            below = [state.too_much for state in states if state.too_much is not None and not state.keeps]
            if not below:
                return
            least = min(below)
            yield limit.stated_us if least == FOREVER else int(least) // 2


def _open_space(device: Device, environment: Environment, tests: Sequence[Test]) -> Space:
    """A space in which the surroundings' times can be changed."""
    model = compile_model(device, environment)
    limited = dict.fromkeys(limit.source for limit in limits(device, environment.sources))
    return Space(model, tests, retimed=tuple(model.index(name) for name in limited))


def _tighten(model: Model, path: Sequence[Step], limit: Limit, keeps: Bound, by: Bound) -> int:
    """The least widening that `path` allows; it does `by` and not `keeps`."""
    if by == FOREVER:
        times = earliest(model, path, limit.retime(model, by))
        assert times is not None
        by = times[-1]
    low, high = int(keeps), int(by)
    while high - low > 1:
        middle = (low + high) // 2
        if earliest(model, path, limit.retime(model, middle)) is None:
            low = middle
        else:
            high = middle
    return high


def _replay(wide: Model, model: Model, path: Sequence[Step], looked_for: Test) -> tuple[Step, ...]:
    """Run `path`, found in `model` with another interval, in the model of the device that has it in its description.

    Gives the path as it is there.
    """
    steps = []
    for step in path:
        number = expire(model, step.situation, step.position).index(step.move)
        steps.append(Step(step.situation, step.position, expire(wide, step.situation, step.position)[number]))
    last = confirm(wide, steps).beats[-1]
    if not looked_for(wide, last.before, last.move):
        raise ToolFault("the story of a closest call does no harm")
    return tuple(steps)


def _tell(one: Held, limit: Limit, state: _State) -> ClosestCall:
    keeps = limit.at(state.keeps)
    return ClosestCall(
        hazard=one.question.hazard,
        subject=one.question.subject,
        source=limit.source,
        key=limit.key,
        longest=limit.longest,
        stated_us=limit.stated_us,
        holds_to_us=keeps,
        breaks_at_us=None if state.breaks is None else int(limit.at(state.breaks)),
    )
