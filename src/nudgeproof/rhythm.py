"""Whether one rhythm of samples gives a story.

The readers that sample forget their rhythm between two counts, so a path may hold samples that no clock takes one period
after the other. Here its times are tied to one rhythm: from each sample to the next there is a whole number of periods, and
where a level differed for a while and no sample found it, it was so between two samples. How many periods lie between is
tried, the fewest first. A rhythm lasts as long as the processor runs without a break, or, where its timer goes on in sleep,
until a reset.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from nudgeproof.engines.explore import explore_space
from nudgeproof.engines.space import Space, Step
from nudgeproof.engines.story import NOTHING_MORE, Also, Edge, Story, can_be, constraints, extremes, replay, tell
from nudgeproof.model.step import Test
from nudgeproof.model.tables import Model, Timer
from nudgeproof.parts.reader import FIRST_SAMPLE
from nudgeproof.parts.sleep import RUNNING
from nudgeproof.parts.supply import RESET
from nudgeproof.spec.types import Device, Samples
from nudgeproof.units import Span

MOST_TRIES = 300
"""Numbers of periods tried in one story before giving up."""

_MOST_PERIODS = 1_000_000


@dataclass(frozen=True, slots=True)
class _Link:
    """From the time `begin` to the time `end` there are at least `least` whole periods of `every`."""

    begin: int
    end: int
    every: Span
    least: int


def find_rhythm(
    device: Device, model: Model, path: Sequence[Step], times_us: Sequence[int] | None = None
) -> Also | None:
    """What ties the times of `path` (or these very times) to a rhythm; None if none was found."""
    edges: list[Edge] = constraints(model, path)
    for number, at in enumerate(times_us or (), start=1):
        edges += [(0, number, at), (number, 0, -at)]
    plain = len(edges)
    links: list[_Link] = []
    count = len(path) + 1
    for button in device.buttons:
        if button.samples is not None and model.publishes(RUNNING):
            count = _add_links(model, path, button.name, button.samples, edges, links, count)
    if not links and len(edges) == plain:
        return NOTHING_MORE
    tries = [MOST_TRIES]
    if not can_be(edges, count):
        return None
    tied = _tie(edges, count, links, tries)
    return None if tied is None else Also(tuple(tied[plain:]), count - len(path) - 1)


def find_steady(device: Device, model: Model, test: Test, budget: int) -> tuple[tuple[Step, ...], Also] | None:
    """Another path to a step such as `test`, with what ties it to a rhythm; None if none was found.

    Only runs in which each first sample comes a whole period after the level came to differ are looked at: few enough, and
    seldom out of rhythm.
    """
    space = Space(model, (test,))
    space.retime(lambda _, timer: Timer(timer.name, int(timer.hi), timer.hi) if timer.name == FIRST_SAMPLE else timer)
    path = explore_space(space, budget).paths[0]
    also = None if path is None else find_rhythm(device, model, path)
    return None if path is None or also is None else (path, also)


def steady_story(device: Device, model: Model, path: Sequence[Step], times_us: Sequence[int]) -> Story | None:
    """The story of `path` at these times if one rhythm gives it so, else at others at which one does; None if none does."""
    if find_rhythm(device, model, path, times_us) is not None:
        return replay(model, path, times_us)
    also = find_rhythm(device, model, path)
    return None if also is None else tell(model, path, also)


def _tie(edges: list[Edge], count: int, links: Sequence[_Link], tries: list[int]) -> list[Edge] | None:
    """All constraints with a number of periods for each link; None if there is none or no try is left."""
    if not links:
        return edges
    link, *later = links
    low, high = extremes(edges, count, link.begin, link.end)
    first = max(link.least, -(-low // int(link.every.hi)))
    last = _MOST_PERIODS if math.isinf(high) or not link.every.lo else int(high) // link.every.lo
    for periods in range(first, last + 1):
        tries[0] -= 1
        if tries[0] < 0:
            return None
        least, most = periods * link.every.lo, periods * int(link.every.hi)
        more = [*edges, (link.begin, link.end, most), (link.end, link.begin, -least)]
        if can_be(more, count):
            tied = _tie(more, count, later, tries)
            if tied is not None:
                return tied
    return None


def _add_links(
    model: Model, path: Sequence[Step], button: str, rule: Samples, edges: list[Edge], links: list[_Link], count: int
) -> int:
    """Add what ties this button's samples; gives the number of times, with those of samples that found nothing."""
    every = rule.every
    last: int | None = None
    for kind, begin, end in _events(model, path, button, rule.keeps_rhythm):
        if kind == "break":
            last = None
        elif kind == "sample":
            if last is not None and begin < end:
                links.append(_Link(last, end, every, 1))
            last = end
        elif last is None:
            # The sample before may have come before the story.
            edges += [(begin, count, int(every.hi)), (count, end, 0)]
            last, count = count, count + 1
        else:
            before, after = count, count + 1
            count += 2
            edges += [(before, after, int(every.hi)), (after, before, -every.lo), (begin, before, 0), (after, end, 0)]
            links.append(_Link(last, before, every, 0))
            last = after
    return count


def _events(model: Model, path: Sequence[Step], button: str, keeps: bool) -> Iterator[tuple[str, int, int]]:
    """Samples, times from `begin` to `end` at which the level differed and none was taken, and breaks of their rhythm.

    `keeps`: only a reset breaks it, else the processor does whenever it doesn't run. A sample that comes a period after the
    one before it by itself begins where it ends.
    """
    reader = model.index(f"reader {button}")
    waits_since: int | None = None
    is_first = False
    for now, step in enumerate(path, start=1):
        is_own = model.armed(step.situation)[step.position][0] == reader
        was_first, after = is_first, step.move.situation
        is_first = any(part == reader and timer.name == FIRST_SAMPLE for part, timer in model.armed(after))
        if is_own:
            yield "sample", now - was_first, now
        elif was_first and not is_first and waits_since is not None:
            yield "missed", waits_since, now
        stops = (
            any(RESET in taken.choice.send for taken in step.move.taken) if keeps else not model.value(after, RUNNING)
        )
        if stops:
            yield "break", now, now
        if is_first and (is_own or not was_first):
            waits_since = now
        elif not is_first:
            waits_since = None
    if waits_since is not None:
        yield "missed", waits_since, len(path)
