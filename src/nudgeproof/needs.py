"""What it would take: the bounds on presses without which something can't happen, whoever presses.

First any presses at all are tried, from rest in one state, and the story with the fewest of them is taken; its number of
presses is kept. Then each length and each pause is bounded from below and from above: the extreme value on the story is
found, all presses beyond it are tried, and while a story is still found the bound moves to that story's extreme. What is
left is proved: beyond it nothing was found and everything was looked at. Each bound holds by itself; keeping all of them
is necessary, not always enough.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from nudgeproof.engines.explore import explore, explore_space
from nudgeproof.engines.matrix import Timings
from nudgeproof.engines.space import Space, Step
from nudgeproof.engines.story import constraints, extremes
from nudgeproof.model.step import Test
from nudgeproof.model.tables import Timer
from nudgeproof.parts.compile import Environment, compile_model, is_large
from nudgeproof.parts.people import ANYTHING
from nudgeproof.parts.train import ANY, TRAIN, Train, edge_name
from nudgeproof.questions.ask import Question
from nudgeproof.spec.types import Device, Disturbance
from nudgeproof.units import FOREVER, Bound, Span, show_us
from nudgeproof.verdict import Needed

BUDGET = 20_000
MOST_PRESSES = 4
_MOVES = 20


@dataclass(frozen=True, slots=True)
class Takes:
    """What it takes from rest in `state`.

    `spans`: length of press 1, pause, length of press 2, ... as far as each matters; empty if no pressing at all can do it.
    `known` False: it wasn't found out within the effort.
    """

    state: str
    spans: tuple[Span, ...]
    known: bool


def list_all(device: Device, asked: Sequence[Question], timings: Timings) -> Iterable[Needed]:
    """What each accident would take, once for each hazard and each state that it is asked about."""
    contacts = {what.name: what for what in device.surroundings if isinstance(what, Disturbance)}
    seen = set()
    for question in asked:
        if question.by not in contacts or not question.begins_in:
            continue
        button = contacts[question.by].button
        if (question.hazard, button) in seen:
            continue
        seen.add((question.hazard, button))
        stated = tuple(_stated(what) for what in contacts.values() if what.button == button)
        for state in question.begins_in:
            found = find(device, button, state, question.looked_for, timings)
            asleep = device.state(state).is_off
            yield Needed(question.hazard, button, state, asleep, found.spans if found.known else None, stated)


def _stated(what: Disturbance) -> str:
    if what.for_good:
        return f"{what.name}: for good"
    apart = f", then open at least {show_us(what.apart_us)}" if what.apart_us else ""
    return f"{what.name}: {what.closes}{apart}"


def find(device: Device, button: str, state: str, test: Test, timings: Timings | None = None) -> Takes:
    """What it takes to make a step such as `test`, by presses of `button`, from rest in `state` with all variables first."""
    there = replace(device, initial=state)
    model = compile_model(there, Environment((ANYTHING,), only=button))
    seen = explore(model, (test,), BUDGET, timings=timings)
    path = seen.paths[0]
    if path is None:
        return Takes(state, (), seen.complete and not seen.stuck)
    if not seen.least[0]:
        return Takes(state, (), False)
    edges = sum(step.move.actions for step in path)
    presses = (edges + 1) // 2
    if not presses or presses > MOST_PRESSES:  # what needs no press (a reset by itself) has no bounds of one
        return Takes(state, (), False)
    # Of a large device these presses were found without chatter, which may stand in for some of them.
    for fewest in range(1 if is_large(device) else presses, presses + 1):
        count = 2 * fewest - 1
        model = compile_model(there, Environment(train=Train(button, (ANY,) * count)))
        space = Space(model, (test,), timings=timings, retimed=(model.index(TRAIN),))
        first = _story(space)
        if first.path is not None:
            break
        if not first.complete:
            return Takes(state, (), False)
    proved: list[Span] = []
    for place in range(count):
        low = _bound(space, place, first, upper=False)
        high = _bound(space, place, first, upper=True)
        if low is None or high is None:
            return Takes(state, (), False)
        assert low != FOREVER
        proved.append(Span(int(low), high))
    return Takes(state, tuple(proved), True)


@dataclass(frozen=True, slots=True)
class _Found:
    """A story of a train, with the constraints on its times; no path: there is none, for sure if `complete`."""

    path: tuple[Step, ...] | None
    edges: tuple[tuple[int, int, int], ...]
    complete: bool


def _story(space: Space, place: int = -1, beyond: Span = ANY) -> _Found:
    """A story of a train, the length or pause at `place` within `beyond`.

    All such trains take the same steps and differ only in the intervals of the train's own timers, so they share a space.
    """
    model = space.model
    part, narrow = model.index(TRAIN), edge_name(place + 1)

    def change(index: int, timer: Timer) -> Timer:
        return Timer(timer.name, beyond.lo, beyond.hi) if index == part and timer.name == narrow else timer

    space.retime(change)
    seen = explore_space(space, BUDGET, stories=())
    path = seen.paths[0]
    edges = tuple(constraints(model, path, change)) if path is not None else ()
    return _Found(path, edges, seen.complete and not seen.stuck)


def _bound(space: Space, place: int, found: _Found, upper: bool) -> Bound | None:
    """The proved bound of one length or pause, starting from a story already found; None if it wasn't found out."""
    bound: Bound | None = None
    for _ in range(_MOVES):
        if found.path is None:
            return bound if found.complete else None
        bound = _extreme(found.edges, found.path, place, upper)
        if bound == (FOREVER if upper else 0):
            return bound
        beyond = Span(int(bound) + 1, FOREVER) if upper else Span(0, int(bound) - 1)
        found = _story(space, place, beyond)
    return None


def _extreme(edges: Sequence[tuple[int, int, int]], path: Sequence[Step], place: int, upper: bool) -> Bound:
    """The extreme of one length or pause on a path; a press that isn't let go lasts at least to the path's end."""
    marks = [number for number, step in enumerate(path, start=1) if step.move.taken[0].choice.actions]
    begin = marks[place]
    unfinished = place + 1 >= len(marks)
    end = len(path) if unfinished else marks[place + 1]
    low, high = extremes(edges, len(path) + 1, begin, end)
    return (FOREVER if unfinished else high) if upper else low
