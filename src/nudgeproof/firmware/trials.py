"""Trials: what is done to a firmware, one stimulus after the other, each recorded and followed until one is refused.

The firmware is a function here: acts to a recording. Stimuli are made from the spec and a seed, and the monitor alone says
what is wrong; what is refused is then made as short as can be, by asking it again each time.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator
from dataclasses import dataclass, field, replace
from itertools import chain, zip_longest
from random import Random
from typing import Final

from nudgeproof.firmware.acts import CELL, Act, Acts, edges_of
from nudgeproof.firmware.ground import Grounds
from nudgeproof.firmware.handling import Handling, probe
from nudgeproof.firmware.hardships import LONGEST_PATH_US, Hardships
from nudgeproof.firmware.mapping import Map
from nudgeproof.firmware.monitor import BUDGET
from nudgeproof.firmware.outcome import Outcome, Result, follow
from nudgeproof.firmware.performed import PLAIN, Chip, Perform, Performed, Planned, Setup
from nudgeproof.firmware.shrinking import MOST, Fails, Shrunk, shrink
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

KINDS: Final = (
    "walks", "random", "low walks", "high walks", "limits", "cuts", "sleeps", "held", "memory", "starts", "clock", "pauses",
    "timeouts", "chatter", "events", "pairs", "taps", "wakes", "writes",
)  # fmt: skip
"""The kinds of stimuli; each is told of in docs/rig.md."""

_MOST_MOMENTS: Final = 40
_BEFORE_SLEEP_US: Final = 24
_AFTER_SLEEP_US: Final = -4
_MARGIN_US: Final = 300_000


@dataclass(frozen=True, slots=True)
class Failed:
    """A stimulus, shortened, that the firmware answers as no device of the spec does; `outcome` None: it misbehaved.

    `setup`: how the run must begin for that. `whole`: what was recorded before it was shortened; None until then.
    """

    shrunk: Shrunk
    performed: Performed
    outcome: Outcome | None
    kind: str
    setup: Setup = PLAIN
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
    chip: Chip | None = None,
    budget: int = BUDGET,
    tick: Callable[[str, Trial], None] = lambda kind, trial: None,
    most: int = MOST,
    kinds: Collection[str] = KINDS,
    first: Iterable[Planned] = (),
) -> Trial:
    """Try stimuli, those of `first` before all others, until so many edges were made or one is refused.

    `kinds`: of the others, by name. Raises `SpecErrors` if a recording can't be followed.
    """
    trial = Trial(lines_of(walk_graph(device)))
    grounds = Grounds(device)
    wired = {channel.made for channel in what.channels}
    plans = stimuli(device, what, seed, chip or Chip(), perform, kinds)
    for number, (kind, planned, end_us, setup) in enumerate(chain(first, plans)):
        # What has no wire isn't done; where hardly anything has one there must be an end to it all the same.
        acts = tuple(act for act in planned if (act.kind, act.what) in wired)
        if trial.edges >= edges or number >= edges:
            break
        tick(kind, trial)
        if _try(trial, grounds, what, perform, (kind, acts, end_us, setup), budget):
            tick("shortening", trial)
            assert trial.failed is not None
            trial.failed = shorten(grounds, what, perform, trial.failed, budget, most)
            break
    return trial


def begun_as(what: Map, setup: Setup) -> Map:
    """The map of a recording that begins so."""
    return replace(what, damaged=True, used=False) if setup.memory else what


def _try(trial: Trial, grounds: Grounds, what: Map, perform: Perform, planned: Planned, budget: int) -> bool:
    """One stimulus; whether it fails."""
    kind, acts, end_us, setup = planned
    performed = perform(acts, end_us, setup)
    trial.stimuli += 1
    trial.edges += len(edges_of(acts))
    trial.length_us += performed.recording.end_us
    if performed.finding:
        at = performed.recording.end_us
        trial.failed = Failed(Shrunk(acts, end_us, at, False), performed, None, kind, setup)
        return True
    outcome = follow(grounds.device, begun_as(what, setup), performed.recording, budget, True, grounds=grounds)
    trial.turns += outcome.turns
    if outcome.result is Result.REFUSED:
        trial.failed = Failed(Shrunk(acts, end_us, outcome.at_us, False), performed, outcome, kind, setup)
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
    device, finding = grounds.device, failed.performed.finding
    # Where the map says that the device rests by then it must have come to rest.
    begin_us = 0 if what.powers_up else 1_000 if device.is_latched else Hand(device).begin_us

    def fails_with(setup: Setup) -> Fails:
        def fails(acts: Acts, end_us: int) -> int | None:
            if any(act.at_us < max(begin_us, act.kind == CELL) for act in acts):
                return None
            performed = perform(acts, end_us, setup)
            if finding or performed.finding:
                return performed.recording.end_us if performed.finding == finding else None
            outcome = follow(device, begun_as(what, setup), performed.recording, budget, grounds=grounds)
            return outcome.at_us if outcome.result is Result.REFUSED else None

        return fails

    old, setup = failed.shrunk, failed.setup
    if setup != PLAIN and fails_with(PLAIN)(old.acts, old.end_us) is not None:
        setup = PLAIN
    shrunk = shrink(old.acts, old.end_us, old.at_us, fails_with(setup), most)
    performed = perform(shrunk.acts, shrunk.end_us, setup)
    outcome = None
    if not performed.finding:
        outcome = follow(device, begun_as(what, setup), performed.recording, budget, grounds=grounds)
    return Failed(shrunk, performed, outcome, failed.kind, setup, failed.performed)


def stimuli(
    device: Device, what: Map, seed: int, chip: Chip, perform: Perform, kinds: Collection[str] = KINDS
) -> Iterator[Planned]:
    """What is done, without an end if that is random: walks first, then all other kinds in turn."""
    hand = Hand(device)
    if "walks" in kinds:
        yield from _walks(device, hand, MIDDLE)
    can_cut = _can_cut(device, what)
    systematic = {
        "random": lambda: _random(device, what, hand, can_cut, seed),
        "low walks": lambda: _walks(device, hand, LOW),
        "high walks": lambda: _walks(device, hand, HIGH),
        "limits": lambda: _limits(device, hand),
        "cuts": lambda: _cuts(device, what, hand, chip, perform),
        "sleeps": lambda: _sleeps(device, hand, perform),
        **Hardships(device, what, hand, chip, perform, seed).kinds(),
    }
    for row in zip_longest(*(make() for kind, make in systematic.items() if kind in kinds)):
        yield from (one for one in row if one is not None)


def kinds_for(device: Device, what: Map, chip: Chip, shows_sleep: bool) -> tuple[str, ...]:
    """The kinds that may have anything to do. `shows_sleep`: the firmware tells when its processor falls asleep."""
    applies = {
        "cuts": _can_cut(device, what) and bool(chip.bytes) and device.memory is not None,
        "starts": _can_cut(device, what),
        "memory": bool(chip.bytes),
        "clock": bool(chip.clock_bits),
        "writes": bool(chip.bytes),
        "sleeps": shows_sleep and any(state.sleep is not None for state in device.states),
        "wakes": shows_sleep and any(state.sleep is not None for state in device.states),
        "pairs": len(device.buttons) > 1,
        "events": bool(device.unmade),
    }
    return tuple(kind for kind in KINDS if applies.get(kind, True))


def _can_cut(device: Device, what: Map) -> bool:
    """Whether the spec says what follows when the cell loses contact, and that is recorded."""
    return bool(what.of("cell")) and device.supply is not None and device.power_up is not None


def _walks(device: Device, hand: Hand, level: str) -> Iterator[Planned]:
    for walk in tours(device, walk_graph(device)):
        acts, end_us = hand.walk(walk, level)
        yield f"each line of the chart, with times at the {level} of the habits", acts, end_us, PLAIN


def _limits(device: Device, hand: Hand) -> Iterator[Planned]:
    """Gestures just beside the firmware's limits, in each state, then with other values; one more shows what came."""
    firsts, others, seen = list[tuple[Node, Walk]](), list[tuple[Node, Walk]](), set[str]()
    for node, path in paths(device, walk_graph(device)):
        (others if node[0] in seen else firsts).append((node, path))
        seen.add(node[0])
    for node, path in (*firsts, *others):
        before, at_us = hand.walk(path, MIDDLE)
        if at_us > LONGEST_PATH_US:
            continue
        for gesture in device.gestures_in(device.state(node[0])):
            for just in just_outside(gesture):
                acts = hand.perform(gesture, MIDDLE, at_us, just)
                now = max(act.end_us for act in acts) + hand.settles_us
                more = probe(device, hand, node[0], now)
                end_us = max((act.end_us for act in more), default=now) + hand.settles_us
                yield f"{gesture.name} with its {just}", (*before, *acts, *more), end_us, PLAIN


def _cuts(device: Device, what: Map, hand: Hand, chip: Chip, perform: Perform) -> Iterator[Planned]:
    """The cell lost at moments around what the firmware shows or writes after a gesture: there it writes what it keeps."""
    if not _can_cut(device, what) or device.power_up is None or device.memory is None or not chip.bytes:
        return
    graph = walk_graph(device)
    up_us = int(device.power_up.takes.hi)
    per_walk = []
    for node, path in paths(device, graph):
        if hand.walk(path, MIDDLE)[1] > LONGEST_PATH_US:
            continue
        for _, _, data in sorted(graph.out_edges(node, data=True), key=lambda edge: str(edge[2]["way"].says)):
            if data["way"].kind in ("gesture", "event"):
                per_walk.append((path, data["way"]))
    for path, way in per_walk:
        acts, end_us = hand.walk((*path, way), MIDDLE)
        begin = hand.walk(path, MIDDLE)[1]
        done = perform(acts, end_us)
        changes = (change.at_us for change in done.recording.changes if change.channel in what.telling)
        shown = sorted(at for at in (*changes, *(at for at, _ in done.writes)) if at > begin)
        step = max(50, chip.takes_us // 2)
        number = min(_MOST_MOMENTS, 2 * chip.bytes + 4)
        for i in range(-3, number) if shown else ():
            cut_us = shown[0] - chip.hold_up_us + step * i + 7
            cut = Act(CELL, "", max(1, cut_us), 5 * chip.hold_up_us + 40_000)
            now = cut.end_us + up_us + hand.settles_us
            more = probe(device, hand, way.to[0] if "state" in device.memory.keeps else device.power_up.if_blank, now)
            end = max((act.end_us for act in more), default=now) + hand.settles_us
            kept = tuple(act for act in acts if act.end_us < cut.at_us)
            others = tuple(act for act in acts if act.end_us >= cut.at_us)
            yield f"the cell lost around what {way.name} changes", (*kept, *others, cut, *more), end, PLAIN


def _sleeps(device: Device, hand: Hand, perform: Perform) -> Iterator[Planned]:
    """A gesture that begins at moments around the one when the processor falls asleep."""
    for node, path in paths(device, walk_graph(device)):
        state = device.state(node[0])
        acts, begin = hand.walk(path, MIDDLE)
        if state.sleep is None or begin > LONGEST_PATH_US:
            continue
        end_us = begin + int(state.sleep.doze.hi) + _MARGIN_US
        rests = max((act.end_us for act in acts), default=0)
        asleep = [at for at, _ in perform(acts, end_us).sleeps if at > rests]
        for before_us in range(_BEFORE_SLEEP_US, _AFTER_SLEEP_US - 1, -1) if asleep else ():
            more = probe(device, hand, node[0], asleep[0] - before_us)
            if not more:
                break
            end = more[-1].end_us + hand.settles_us
            yield (
                f"a press {abs(before_us)} us {'before' if before_us > 0 else 'after'} it falls asleep",
                (*acts, *more),
                end,
                PLAIN,
            )


def _random(device: Device, what: Map, hand: Hand, can_cut: bool, seed: int) -> Iterator[Planned]:
    handling, chance, number = Handling(device, hand, can_cut, what.powers_up), Random(seed), 0
    while True:
        number += 1
        acts, end_us = handling.use(chance)
        if acts:
            yield f"random use {number}", acts, end_us, PLAIN
