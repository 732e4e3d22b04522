"""What a recording comes to: it conforms to the spec, or is refused at some moment, or nothing can be said.

A refusal says what was seen and what the spec allowed instead: from the explanations that were left just before, everything
is tried that the device may do next while the recorded edges go on, up to the first change of a light on each way. The times
are those of the recording's clock.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum
from typing import Final

from nudgeproof.engines.matrix import Timing
from nudgeproof.firmware.course import Beat, Course, plan
from nudgeproof.firmware.ground import Grounds, Spot, Step
from nudgeproof.firmware.mapping import Map, taken_for_granted
from nudgeproof.firmware.monitor import BUDGET, Classes, Explanations, Snapshot, TooMany, ruler_left
from nudgeproof.firmware.recording import Recording
from nudgeproof.parts.recorded import UNCAUSED, UNSEEN, turn_of
from nudgeproof.spec.types import Device

STILL: Final = "is still"
"""How it is told that a light didn't change in time."""

_LOOKS_AHEAD: Final = 60
"""How many recorded edges a refusal looks ahead for what was allowed."""

_LOOKS_AT: Final = 3_000
"""How many classes it looks at for that, between two edges."""


class Result(Enum):
    """What is said of a recording."""

    CONFORMS = "conforms"
    """Some run of the spec's device is what was recorded, from the beginning to the end."""
    REFUSED = "refused"
    """No run is, up to that moment."""
    LEFT = "left the stated surroundings"
    """Until then it conforms; from then on the spec says nothing of what happened."""
    UNDECIDED = "undecided"
    """There were more explanations than were looked at."""
    NOTHING = "nothing happens"
    """Nothing acts on the device, and no light changes: that shows nothing."""


@dataclass(frozen=True, slots=True)
class Allowed:
    """The spec allowed this light to go `on` or off in this time, by `by` ("" if it had happened before)."""

    light: str
    on: bool
    earliest_us: int
    latest_us: int
    by: str


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of a recording.

    `at_us`: when it was refused, left, or given up. `seen`: what was recorded then, in words. `light`: which one was
    refused. `allowed`: what the spec allowed at that moment, in the order of time; `may_stay`: also that no light changes.
    `states`: where the device may have been just before. `sure`: states in which it was at some time, whatever the
    explanation. `edges`, `turns`: how many recorded changes of contacts and events, and of lights, were explained. `most`:
    the most classes kept at a time. `taken_for`: what was taken for granted, in words. `drawn_anew`: the spec has
    times with one value on a specimen; here each was drawn anew. `lines`: what the chart surely did, in its words.
    """

    result: Result
    at_us: int
    seen: str = ""
    light: str = ""
    allowed: tuple[Allowed, ...] = ()
    may_stay: bool = False
    states: tuple[str, ...] = ()
    sure: tuple[str, ...] = ()
    edges: int = 0
    turns: int = 0
    most: int = 0
    taken_for: tuple[str, ...] = ()
    drawn_anew: bool = False
    lines: tuple[str, ...] = ()


def follow(
    device: Device,
    what: Map,
    recording: Recording,
    budget: int = BUDGET,
    keeps_sure: bool = False,
    progress: Callable[[int, int, int], None] | None = None,
    grounds: Grounds | None = None,
) -> Outcome:
    """Follow a recording to its end, or to where it is refused; raises `SpecErrors` if it begins wrongly.

    `budget`: the most classes looked at between two recorded changes. `keeps_sure`: tell which lines were surely taken.
    `progress` is called before each change with how many were followed, of how many, and the time of the next.
    `grounds`: of this device, what is shared with other recordings of it.
    """
    course = plan(device, what, recording)
    grounds = Grounds(device) if grounds is None else grounds
    kept = Explanations(grounds.ground(course.environment), course, budget, keeps_sure)
    now = last_calm = kept.begin()
    sure: dict[str, None] = {}
    result, seen, light, at = Result.CONFORMS, "", "", course.end_us
    allowed: tuple[Allowed, ...] = ()
    may_stay = False
    states: tuple[str, ...] = ()
    turns = [turn_of(name) for name in _names(course)]
    while now.beat <= len(course.beats):
        if progress is not None:
            progress(now.beat, len(course.beats), now.next_us)
        if not any(turn in spot.pending for spot in now.classes for turn in turns):
            last_calm = now
        try:
            later = kept.advance(now)
        except TooMany:
            result, at, seen = Result.UNDECIDED, now.next_us, "more explanations than were looked at"
            break
        if not later.classes:
            beat = course.beats[now.beat] if now.beat < len(course.beats) else None
            result = Result.REFUSED
            at, light, seen = _tell_refusal(kept, now, beat)
            states = _states(kept, last_calm.classes)
            allowed, may_stay = look_ahead(kept, last_calm)
            break
        now = later
        here = _states(kept, now.classes, with_values=False)
        if len(here) == 1:
            sure[here[0]] = None
    if result is Result.CONFORMS and course.left_us is not None:
        result, at, seen = Result.LEFT, course.left_us, course.left
    elif result is Result.CONFORMS and not course.beats:
        result = Result.NOTHING
    done = [beat for beat in course.beats if beat.at_us < at or result in (Result.CONFORMS, Result.LEFT)]
    return Outcome(
        result,
        at,
        seen,
        light,
        allowed,
        may_stay,
        states,
        tuple(sure),
        sum(not beat.light for beat in done),
        sum(beat.light for beat in done),
        kept.most,
        taken_for_granted(device, what),
        grounds.has_fixed_times,
        tuple(sorted(frozenset.intersection(*now.sure.values()))) if now.sure else (),
    )


def _names(course: Course) -> tuple[str, ...]:
    recorded = course.environment.recorded
    assert recorded is not None
    return tuple(light.name for light in recorded.lights)


def _tell_refusal(kept: Explanations, now: Snapshot, beat: Beat | None) -> tuple[int, str, str]:
    """When the last explanation ended, at which light, and what was seen then."""
    last = max(kept.deaths, key=lambda death: (death.latest_us, not death.timer.startswith((UNSEEN, UNCAUSED))))
    if last.timer.startswith(UNCAUSED):
        light = last.timer.removeprefix(UNCAUSED)
        return last.latest_us, light, f"{light} came on, and nothing that is kept has changed"
    if last.timer.startswith(UNSEEN):
        light = last.timer.removeprefix(UNSEEN)
        is_on = _recorded_level(kept, next(iter(now.classes)), light)
        return last.latest_us, light, f"{light} {STILL} {'on' if is_on else 'off'}"
    near = [b for b in kept.course.beats[max(0, now.beat - 8) : now.beat + 1] if b.timer == last.timer]
    found = near[-1] if near else beat
    assert found is not None
    return found.at_us, found.channel, found.says


def _recorded_level(kept: Explanations, spot: Spot, light: str) -> bool:
    """Whether a light is recorded on, in the classes of a spot."""
    local = kept.ground.space.situations[spot.number][-1]
    assert isinstance(local, tuple)
    return bool(local[0][_names(kept.course).index(light)])


def _states(kept: Explanations, classes: Classes, with_values: bool = True) -> tuple[str, ...]:
    """The states that the device may be in, with the values of variables."""
    model = kept.ground.model
    names = (
        [name for part in model.parts for name in part.publishes if name.startswith("value ")] if with_values else []
    )
    found: dict[str, None] = {}
    for spot, timings in classes.items():
        if timings:
            situation = kept.ground.space.situations[spot.number]
            values = [f"{name.removeprefix('value ')} {model.value(situation, name)}" for name in names]
            state = str(model.value(situation, "state"))
            found[state + (f" with {', '.join(values)}" if values else "")] = None
    return tuple(sorted(found))


def look_ahead(kept: Explanations, begin: Snapshot) -> tuple[tuple[Allowed, ...], bool]:
    """What lights may do next, and whether all may stay as they are for as long as was looked."""
    recorded = kept.course.environment.recorded
    assert recorded is not None
    lights = {light.name: light for light in recorded.lights}
    found: dict[tuple[str, bool, str], tuple[int, int]] = {}

    def note(light: str, on: bool, by: str, earliest: int, latest: int) -> None:
        low, high = found.get((light, on, by), (earliest, latest))
        found[light, on, by] = (min(low, earliest), max(high, latest))

    start: Classes = {}
    for spot, timings in begin.classes.items():
        late = spot.late
        if not late:
            start[spot] = timings
        for timing in timings if late else ():
            for light in late:
                ago = _changed(spot, timing, light, begin.next_us, lights[light].lag_us)
                note(light, not _recorded_level(kept, spot, light), "", *ago)
    now = Snapshot(start, begin.beat, begin.next_us)
    kept.budget, kept.keeps_sure = _LOOKS_AT, False
    beats = len(kept.course.beats)
    for _ in range(_LOOKS_AHEAD):
        next_us = now.next_us

        def ends(spot: Spot, step: Step, later: Timing, next_us: int = next_us) -> bool:
            late = step.spot.late
            left = ruler_left(later)
            for light in late:
                note(
                    light,
                    not _recorded_level(kept, step.spot, light),
                    _says(kept, step),
                    next_us - left[1],
                    next_us - left[0],
                )
            return bool(late)

        try:
            now = kept.advance(now, lambda beat: beat.light, ends)
        except TooMany:
            return _sort(found), False
        if not now.classes or now.beat > beats:
            break
    return _sort(found), bool(now.classes)


def _sort(found: dict[tuple[str, bool, str], tuple[int, int]]) -> tuple[Allowed, ...]:
    told = (Allowed(light, on, *times, by) for (light, on, by), times in found.items())
    return tuple(sorted(told, key=lambda one: (one.earliest_us, one.latest_us, one.light, one.by)))


def _changed(spot: Spot, timing: Timing, light: str, next_us: int, lag_us: int) -> tuple[int, int]:
    """From when to when the device may have made a light late that is late now."""
    timers = spot.face.timers
    at = 1 + 1 + len(spot.pending) + [timer.name for timer in timers].index(UNSEEN + light)
    width = len(timing.lows) + 1
    ruler_after, after_ruler = int(timing.matrix[width + at]), int(timing.matrix[at * width + 1])
    return next_us - ruler_after - lag_us, next_us + after_ruler - lag_us


def _says(kept: Explanations, step: Step) -> str:
    """What the device does in a step, in words: what its chart or its supply says."""
    if step.move is None:
        return ""
    told = [
        (kept.ground.model.parts[taken.part].name, taken.choice.says) for taken in step.move.taken if taken.choice.says
    ]
    chart = [says for name, says in told if name == "device"]
    return (chart or [says for _, says in told] or [""])[-1]
