"""Trials: what is done to a firmware, one stimulus after the other, each recorded and followed until one is refused.

The firmware is a function here: acts to a recording. Stimuli are made from the spec and a seed, and the monitor alone says
what is wrong; what is refused is then made as short as can be, by asking it again each time.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from itertools import chain, zip_longest
from random import Random
from typing import Final

from nudgeproof.firmware.acts import CELL, Act, Acts, edges_of
from nudgeproof.firmware.ground import Grounds
from nudgeproof.firmware.handling import Handling, probe
from nudgeproof.firmware.mapping import Map
from nudgeproof.firmware.monitor import BUDGET
from nudgeproof.firmware.outcome import Outcome, Result, follow
from nudgeproof.firmware.recording import Recording
from nudgeproof.firmware.shrinking import MOST, Shrunk, shrink
from nudgeproof.firmware.tours import (
    HIGH,
    LOW,
    MIDDLE,
    Hand,
    Node,
    Walk,
    just_outside,
    lines_of,
    paths,
    tours,
    walk_graph,
)
from nudgeproof.spec.types import Device

_MOST_MOMENTS: Final = 40
_BEFORE_SLEEP_US: Final = 24
_AFTER_SLEEP_US: Final = -4
_MARGIN_US: Final = 300_000
_LONGEST_PATH_US: Final = 120_000_000


@dataclass(frozen=True, slots=True)
class Performed:
    """What a firmware did: its recording, as text too, and how it misbehaved at the end of that, or "".

    `asleep_us`: when its processor fell asleep, where that is told.
    """

    recording: Recording
    text: str
    finding: str = ""
    detail: str = ""
    asleep_us: tuple[int, ...] = ()


Perform = Callable[[Acts, int], Performed]
"""The firmware: acts, and when the recording ends."""


@dataclass(frozen=True, slots=True)
class Writes:
    """Of a memory: how many bytes a change may write, how long one takes, and how long power lasts without a cell."""

    bytes: int
    takes_us: int
    hold_up_us: int


@dataclass(frozen=True, slots=True)
class Failed:
    """A stimulus, shortened, that the firmware answers as no device of the spec does; `outcome` None: it misbehaved.

    `whole`: what was recorded before it was shortened; None until then.
    """

    shrunk: Shrunk
    performed: Performed
    outcome: Outcome | None
    kind: str
    whole: Performed | None = None


@dataclass(slots=True)
class Trial:
    """The course of the trials. `lines`: of the chart, `taken`: surely taken, by how many stimuli."""

    lines: tuple[str, ...]
    stimuli: int = 0
    conforming: int = 0
    undecided: int = 0
    edges: int = 0
    turns: int = 0
    length_us: int = 0
    taken: dict[str, int] = field(default_factory=dict)
    sure: dict[str, None] = field(default_factory=dict)
    failed: Failed | None = None
    example: Outcome | None = None

    @property
    def covered(self) -> tuple[str, ...]:
        """The lines that were surely taken."""
        return tuple(line for line in self.lines if line in self.taken)

    @property
    def judged_nothing(self) -> bool:
        """Whether nothing was shown: no stimulus conforms, no line was surely taken, or no light ever changed."""
        return self.failed is None and not (self.conforming and self.covered and self.turns)


def run_trials(
    device: Device,
    what: Map,
    perform: Perform,
    edges: int,
    seed: int = 0,
    writes: Writes | None = None,
    budget: int = BUDGET,
    tick: Callable[[str, Trial], None] = lambda kind, trial: None,
    most: int = MOST,
    first: Iterable[Planned] = (),
    among: str = "",
) -> Trial:
    """Try stimuli, those of `first` before all others, until so many edges were made or one is refused.

    `among`: after `first` those of one kind only, a name of `kinds`. Raises `SpecErrors` if a recording can't be followed.
    """
    trial = Trial(lines_of(walk_graph(device)))
    grounds = Grounds(device)
    wired = {(channel.kind, channel.target) for channel in what.channels}
    chosen = (
        of_kind(among, device, what, seed, writes, perform) if among else stimuli(device, what, seed, writes, perform)
    )
    for number, (kind, planned, end_us) in enumerate(chain(first, chosen)):
        # What has no wire isn't done; where hardly anything has one there must be an end to it all the same.
        acts = tuple(act for act in planned if (act.kind, act.what) in wired)
        if trial.edges >= edges or number >= edges:
            break
        tick(kind, trial)
        if _try(trial, grounds, what, perform, kind, acts, end_us, budget):
            tick("shortening", trial)
            assert trial.failed is not None
            trial.failed = shorten(grounds, what, perform, trial.failed, budget, most)
            break
    return trial


def _try(
    trial: Trial, grounds: Grounds, what: Map, perform: Perform, kind: str, acts: Acts, end_us: int, budget: int
) -> bool:
    """One stimulus; whether it fails."""
    performed = perform(acts, end_us)
    trial.stimuli += 1
    trial.edges += len(edges_of(acts))
    trial.length_us += performed.recording.end_us
    if performed.finding:
        at = performed.recording.end_us
        trial.failed = Failed(Shrunk(acts, end_us, at, False), performed, None, kind)
        return True
    outcome = follow(grounds.device, what, performed.recording, budget, True, grounds=grounds)
    trial.turns += outcome.turns
    if outcome.result is Result.REFUSED:
        trial.failed = Failed(Shrunk(acts, end_us, outcome.at_us, False), performed, outcome, kind)
        return True
    trial.undecided += outcome.result is Result.UNDECIDED
    if outcome.result is Result.CONFORMS:
        trial.conforming += 1
        trial.example = outcome
    if outcome.result in (Result.CONFORMS, Result.UNDECIDED, Result.LEFT):
        trial.sure.update(dict.fromkeys(outcome.sure))
        for line in outcome.lines:
            trial.taken[line] = trial.taken.get(line, 0) + 1
    return False


def shorten(grounds: Grounds, what: Map, perform: Perform, failed: Failed, budget: int, most: int) -> Failed:
    """The same failure by a shorter stimulus: a refusal stays a refusal, a misbehaviour stays of its kind."""
    finding, device = failed.performed.finding, grounds.device
    # Where the map says that the device rests by then it must have come to rest.
    begin_us = 0 if what.powers_up else 1_000 if device.is_latched else Hand(device).begin_us

    def fails(acts: Acts, end_us: int) -> int | None:
        if any(act.at_us < max(begin_us, act.kind == CELL) for act in acts):
            return None
        performed = perform(acts, end_us)
        if finding or performed.finding:
            return performed.recording.end_us if performed.finding == finding else None
        outcome = follow(device, what, performed.recording, budget, grounds=grounds)
        return outcome.at_us if outcome.result is Result.REFUSED else None

    old = failed.shrunk
    shrunk = shrink(old.acts, old.end_us, old.at_us, fails, most)
    performed = perform(shrunk.acts, shrunk.end_us)
    outcome = None if performed.finding else follow(device, what, performed.recording, budget, grounds=grounds)
    return Failed(shrunk, performed, outcome, failed.kind, failed.performed)


Planned = tuple[str, Acts, int]


def stimuli(device: Device, what: Map, seed: int, writes: Writes | None, perform: Perform) -> Iterator[Planned]:
    """What is done, without an end: walks first, then moments around a write and random use in turn with the rest."""
    hand = Hand(device)
    yield from _walks(device, hand, MIDDLE)
    can_cut = _can_cut(device, what)
    systematic = [_walks(device, hand, LOW), _walks(device, hand, HIGH), _limits(device, hand)]
    if can_cut and writes is not None and device.memory is not None:
        systematic.append(_cuts(device, what, hand, writes, perform))
    systematic.append(_sleeps(device, hand, perform))
    for row in zip_longest(_random(device, what, hand, can_cut, seed), *systematic):
        yield from (one for one in row if one is not None)


WALKS, LIMITS, LOST, ASLEEP, RANDOM = "walks", "limits", "lost contact", "falling asleep", "random use"
"""The kinds of stimuli, as docs/rig.md calls them."""


def kinds(device: Device, what: Map, writes: Writes | None, shows_sleep: bool) -> tuple[str, ...]:
    """The kinds that apply. `shows_sleep`: the firmware tells when its processor falls asleep."""
    found = {
        WALKS: True,
        LIMITS: True,
        LOST: _can_cut(device, what) and writes is not None and device.memory is not None,
        ASLEEP: shows_sleep and any(state.sleep is not None for state in device.states),
        RANDOM: True,
    }
    return tuple(kind for kind, applies in found.items() if applies)


def of_kind(
    kind: str, device: Device, what: Map, seed: int, writes: Writes | None, perform: Perform
) -> Iterable[Planned]:
    """The stimuli of one kind that applies; those of random use have no end."""
    hand = Hand(device)
    if kind == WALKS:
        return chain(*(_walks(device, hand, level) for level in (MIDDLE, LOW, HIGH)))
    if kind == LIMITS:
        return _limits(device, hand)
    if kind == LOST:
        assert writes is not None
        return _cuts(device, what, hand, writes, perform)
    if kind == ASLEEP:
        return _sleeps(device, hand, perform)
    return _random(device, what, hand, _can_cut(device, what), seed)


def _can_cut(device: Device, what: Map) -> bool:
    """Whether the spec says what follows when the cell loses contact, and that is recorded."""
    return bool(what.of("cell")) and device.supply is not None and device.power_up is not None


def _walks(device: Device, hand: Hand, level: str) -> Iterator[Planned]:
    for walk in tours(device, walk_graph(device)):
        acts, end_us = hand.walk(walk, level)
        yield f"each line of the chart, with times at the {level} of the habits", acts, end_us


def _limits(device: Device, hand: Hand) -> Iterator[Planned]:
    """Gestures just beside the firmware's limits, in each state, then with other values; one more shows what came."""
    firsts, others, seen = list[tuple[Node, Walk]](), list[tuple[Node, Walk]](), set[str]()
    for node, path in paths(device, walk_graph(device)):
        (others if node[0] in seen else firsts).append((node, path))
        seen.add(node[0])
    for node, path in (*firsts, *others):
        before, at_us = hand.walk(path, MIDDLE)
        if at_us > _LONGEST_PATH_US:
            continue
        for gesture in device.gestures_in(device.state(node[0])):
            for just in just_outside(gesture):
                acts = hand.perform(gesture, MIDDLE, at_us, just)
                now = max(act.end_us for act in acts) + hand.settles_us
                more = probe(device, hand, node[0], now)
                end_us = max((act.end_us for act in more), default=now) + hand.settles_us
                yield f"{gesture.name} with its {just}", (*before, *acts, *more), end_us


def _cuts(device: Device, what: Map, hand: Hand, writes: Writes, perform: Perform) -> Iterator[Planned]:
    """The cell lost at moments around what the firmware shows after a gesture: there it writes what it keeps."""
    assert device.power_up is not None
    assert device.memory is not None
    graph = walk_graph(device)
    up_us = int(device.power_up.takes.hi)
    lights = {channel.name for channel in what.of("light")}
    per_walk = []
    for node, path in paths(device, graph):
        if hand.walk(path, MIDDLE)[1] > _LONGEST_PATH_US:
            continue
        for _, _, data in sorted(graph.out_edges(node, data=True), key=lambda edge: str(edge[2]["way"].says)):
            if data["way"].kind in ("gesture", "event"):
                per_walk.append((path, data["way"]))
    for path, way in per_walk:
        acts, end_us = hand.walk((*path, way), MIDDLE)
        begin = hand.walk(path, MIDDLE)[1]
        shown = [c.at_us for c in perform(acts, end_us).recording.changes if c.at_us > begin and c.channel in lights]
        step = max(50, writes.takes_us // 2)
        number = min(_MOST_MOMENTS, 2 * writes.bytes + 4)
        for i in range(-3, number) if shown else ():
            cut_us = shown[0] - writes.hold_up_us + step * i + 7
            cut = Act(CELL, "", max(1, cut_us), 5 * writes.hold_up_us + 40_000)
            now = cut.end_us + up_us + hand.settles_us
            more = probe(device, hand, way.to[0] if "state" in device.memory.keeps else device.power_up.if_blank, now)
            end = max((act.end_us for act in more), default=now) + hand.settles_us
            kept = tuple(act for act in acts if act.end_us < cut.at_us)
            others = tuple(act for act in acts if act.end_us >= cut.at_us)
            yield f"the cell lost around what {way.name} changes", (*kept, *others, cut, *more), end


def _sleeps(device: Device, hand: Hand, perform: Perform) -> Iterator[Planned]:
    """A gesture that begins at moments around the one when the processor falls asleep."""
    for node, path in paths(device, walk_graph(device)):
        state = device.state(node[0])
        acts, begin = hand.walk(path, MIDDLE)
        if state.sleep is None or begin > _LONGEST_PATH_US:
            continue
        end_us = begin + int(state.sleep.doze.hi) + _MARGIN_US
        asleep = [at for at in perform(acts, end_us).asleep_us if at > max((act.end_us for act in acts), default=0)]
        for before_us in range(_BEFORE_SLEEP_US, _AFTER_SLEEP_US - 1, -1) if asleep else ():
            more = probe(device, hand, node[0], asleep[0] - before_us)
            if not more:
                break
            end = more[-1].end_us + hand.settles_us
            yield (
                f"a press {abs(before_us)} us {'before' if before_us > 0 else 'after'} it falls asleep",
                (*acts, *more),
                end,
            )


def _random(device: Device, what: Map, hand: Hand, can_cut: bool, seed: int) -> Iterator[Planned]:
    handling, chance, number = Handling(device, hand, can_cut, what.powers_up), Random(seed), 0
    while True:
        number += 1
        acts, end_us = handling.use(chance)
        if acts:
            yield f"random use {number}", acts, end_us
