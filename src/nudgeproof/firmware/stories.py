"""Stories as stimuli: what the sources of a story do, at its times, for a firmware on the rig or a board on the bench.

What acts from outside can be done again: contacts with their chatter, the cell's contact, events. What a device draws by
itself (its times within their tolerances) comes as it comes, so a firmware may do something else; no story judges it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import chain
from typing import Final

from nudgeproof.boxes import at_point, middle
from nudgeproof.check import ask
from nudgeproof.engines.concrete import CannotHappen, Run
from nudgeproof.engines.corpus import Entry
from nudgeproof.engines.explore import explore
from nudgeproof.engines.play import play, recall
from nudgeproof.engines.space import Step
from nudgeproof.engines.story import Beat, Story, replay, tell
from nudgeproof.firmware.acts import BUTTON, CELL, EVENT, Act, edges_of
from nudgeproof.firmware.performed import PLAIN, Planned
from nudgeproof.firmware.tours import LONGEST_WAIT_US, Hand
from nudgeproof.hazards import unreachable_mode
from nudgeproof.model.step import Move
from nudgeproof.model.tables import Model, Situation
from nudgeproof.parts.comes_round import COMES_ROUND
from nudgeproof.parts.compile import Environment, compile_model
from nudgeproof.parts.memory import BLANK, ERASED, FOUND_BLANK, GARBAGE, Store
from nudgeproof.parts.ram import Cells
from nudgeproof.parts.reader import FIRST_SAMPLE, SAMPLE
from nudgeproof.parts.supply import OPENS_CELL, RESTORE
from nudgeproof.questions.ask import Derived, Question
from nudgeproof.rhythm import find_rhythm
from nudgeproof.spec.fixed import fixed_times
from nudgeproof.spec.types import Device
from nudgeproof.verdict import Finding, Verdict
from nudgeproof.where import SOME, script_of

CLASSES: Final = 1_500
"""Classes looked at in one environment for the stories of a trial: what lies near is found, and none takes long."""

MOST_CLASSES: Final = 30_000
"""The same in all environments together."""

_PULSE_US: Final = 5_000
_HELD_ON_US: Final = 100_000
_AFTER_US: Final = 1_500_000


@dataclass(frozen=True, slots=True)
class Told:
    """A story as acts. `name`: what it is of.

    `begins_up`: it begins as power comes up, else with a device that rests. `cant`: what of it nobody outside can bring
    about, "" if somebody can. `where`: on which specimens it happens, "" if that isn't known.
    """

    name: str
    acts: tuple[Act, ...]
    end_us: int
    begins_up: bool
    cant: str = ""
    where: str = ""


def stage(device: Device, environment: Environment, model: Model, story: Story, name: str, where: str = "") -> Told:
    """A story of a model as acts from power-up on. `where`: on which specimens it happens, "" if that isn't known."""
    begins_up = bool(environment.found or environment.held)
    begin = 0 if begins_up else Hand(device).begin_us
    times = [begin, *(begin + beat.at_us for beat in story.beats)]
    situations = [model.start, *(beat.after for beat in story.beats)]
    acts: list[Act] = []
    for button in device.buttons:
        if model.publishes(level := f"level {button.name}"):
            closed = [bool(model.value(situation, level)) for situation in situations]
            acts += (Act(BUTTON, button.name, at, lasts) for at, lasts in _spans(times, closed))
    away = [name for part in model.parts for name in part.publishes if name.endswith(OPENS_CELL)]
    gone = [any(model.value(situation, name) for name in away) for situation in situations]
    acts += (Act(CELL, "", at, lasts) for at, lasts in _spans(times, gone))
    happened = [edge for edge in script_of(model, story) if edge.event]
    for edge in happened:
        nexts = [(other.at_us - edge.at_us) // 2 for other in happened if other.at_us > edge.at_us]
        acts.append(Act(EVENT, edge.event, begin + edge.at_us, max(1, min((_PULSE_US, *nexts)))))
    acts.sort(key=lambda act: (act.at_us, act.kind, act.what))
    end = max((times[-1], *(act.end_us for act in acts))) + Hand(device).settles_us + _AFTER_US
    return Told(name, tuple(acts), end, begins_up, _cant(device, environment, model, story, where), where)


def _spans(times: Sequence[int], on: Sequence[bool]) -> Iterator[tuple[int, int]]:
    """From when and for how long it is on; what is so at the end goes on for a little."""
    since = None
    for at, now in zip(times, on, strict=True):
        if now and since is None:
            since = at
        elif not now and since is not None:
            if at > since:
                yield since, at - since
            since = None
    if since is not None:
        yield since, times[-1] - since + _HELD_ON_US


def _cant(device: Device, environment: Environment, model: Model, story: Story, where: str) -> str:
    """What of a story nobody outside can bring about."""
    if environment.sags >= 0 or environment.reads >= 0:
        return "its cells must be used so far that they are weak"
    if environment.found not in ("", FOUND_BLANK):
        return f"its memory must be {environment.found} before"
    if any(edge.level for edge in script_of(model, story)):
        return "the voltage of its cell must fall and rise"
    for beat in story.beats:
        if COMES_ROUND in beat.move.taken[0].choice.send:
            return "the firmware's clock must come round just then"
        if noise := next(_noise(model, beat), ""):
            return noise
    samples = any(beat.timer in (FIRST_SAMPLE, SAMPLE) for beat in story.beats)
    if samples and where == SOME:
        return "it hangs on when the firmware takes its samples, which nobody outside can choose"
    return ""


def _noise(model: Model, beat: Beat) -> Iterator[str]:
    """What a start in this step reads that a chip makes up by itself."""
    for option in beat.move.taken:
        held, reads = beat.before[option.part], option.choice.to
        if option.cause != f"signal {RESTORE}":
            continue
        if isinstance(held, Store) and isinstance(reads, Store):
            if held.unknown and reads.found != BLANK:
                yield "its memory must hold something else than nothing before"
            elif GARBAGE in held.cells or ERASED in held.cells:
                yield "what a write that was cut leaves behind is up to the chip"
        if isinstance(held, Cells) and isinstance(reads, Cells) and held.phase != "whole" and reads.gives is not None:
            yield "what RAM holds after it decayed is up to the chip"


def stage_finding(device: Device, finding: Finding) -> Told | None:
    """The story of a finding, None if it has none; raises `SpecErrors` for promises that can't be read.

    A way to something wanted is told with times that leave room, in place of the earliest ones.
    """
    if finding.story is None:
        return None
    wanted = finding.verdict is Verdict.HOLDS
    reached = wanted and finding.hazard == unreachable_mode.NAME
    name = f"{'reached' if reached else finding.hazard}: {finding.subject}"
    key = finding.hazard, finding.subject, finding.surroundings
    question = next(q for q in questions_of(device) if (q.hazard, q.subject, str(q.environment)) == key)
    model = compile_model(device, question.environment)
    story = finding.story
    if wanted and not fixed_times(device):
        story = _roomier(device, model, story)
    return stage(device, question.environment, model, story, name, "" if wanted else finding.where)


def _roomier(device: Device, model: Model, story: Story) -> Story:
    """The same steps at other times, where that can be."""
    run, path = Run(model), list[Step]()
    try:
        for beat in story.beats:
            run.advance(beat.at_us - run.now)
            names = [(model.parts[part].name, timer.name) for part, timer in run.timers]
            before, position = run.situation, names.index((beat.part, beat.timer))
            path.append(Step(before, position, run.take(position, beat.choice)))
    except (CannotHappen, ValueError):
        return story
    also = find_rhythm(device, model, path)
    return story if also is None else tell(model, path, also)


def questions_of(device: Device) -> tuple[Question, ...]:
    """All questions that a spec asks; raises `SpecErrors` for promises that can't be read."""
    return tuple(q for entry in ask(device)[0] for q in (entry.questions if isinstance(entry, Derived) else (entry,)))


def stage_corpus(device: Device, entries: Iterable[Entry]) -> Iterator[Told]:
    """The runs of a corpus, also those that do no harm any more; not those of questions that aren't asked any more."""
    if fixed_times(device):
        device = at_point(device, middle(device))
    asked = {(q.hazard, q.subject, str(q.environment)): q for q in questions_of(device)}
    for entry in entries:
        question = asked.get((entry.hazard, entry.subject, entry.environment))
        if question is None:
            continue
        model = compile_model(device, question.environment)

        def stop(before: Situation, move: Move, model: Model = model, question: Question = question) -> bool:
            return question.looked_for(model, before, move)

        played = play(model, recall(entry.decisions), len(entry.decisions), stop, {})
        name = f"{entry.hazard}: {entry.subject}, kept from before"
        if played.path:
            story = replay(model, played.path, played.times)
            yield stage(device, question.environment, model, story, name)


def stage_goals(
    device: Device, say: Callable[[str], None] = lambda environment: None, classes: int = CLASSES
) -> Iterator[Told]:
    """The shortest stories that are near: of what is asked about, and of what must come up for an answer to mean something.

    Each environment is explored a little, so of a sound spec these are mostly ways to its states and values, and its
    disturbances at the moments that matter. What isn't found is left out; whether it can happen `check` says.
    """
    if fixed_times(device):
        device = at_point(device, middle(device))
    groups: dict[Environment, list[Question]] = {}
    for question in questions_of(device):
        groups.setdefault(question.environment, []).append(question)
    left = MOST_CLASSES
    for environment, asked in groups.items():
        if left <= 0:
            return
        say(str(environment))
        model = compile_model(device, environment)
        goals = [(f"{q.hazard}: {q.subject}", q.looked_for) for q in asked]
        goals += [(f"where {q.hazard}: {q.subject} matters", test) for q in asked for test in q.came_up]
        seen = explore(model, [test for _, test in goals], min(classes, left))
        left -= seen.classes
        for (name, _), path in zip(goals, seen.paths, strict=True):
            also = None if path is None else find_rhythm(device, model, path)
            if path is not None and also is not None:
                yield stage(device, environment, model, tell(model, path, also), name)


def story_stimuli(
    device: Device,
    powers_up: bool,
    edges: int,
    corpus: Iterable[Entry],
    say: Callable[[str], None] = lambda environment: None,
) -> Iterator[Planned]:
    """For a trial: the corpus, then stories that are near, up to about so many edges together, none twice.

    `powers_up`: the recording begins as power comes up. A short trial looks less far than a long one.
    """
    known: set[tuple[Act, ...]] = {()}
    goals = stage_goals(device, say, min(CLASSES, 2 * edges))
    for told in chain(stage_corpus(device, corpus), goals):
        if told.cant or told.acts in known or (told.begins_up and not powers_up) or told.end_us > LONGEST_WAIT_US:
            continue
        known.add(told.acts)
        edges -= len(edges_of(told.acts))
        if edges < 0:
            return
        yield f"a story of {told.name}", told.acts, told.end_us, PLAIN
