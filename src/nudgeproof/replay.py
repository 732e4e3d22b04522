"""Stories told before, tried again: does this one still happen, step by step, in the device as it is described now?"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, TypeVar

from nudgeproof.answers import match
from nudgeproof.boxes import middle, whole_box
from nudgeproof.check import ask
from nudgeproof.diagnostics import printable
from nudgeproof.engines.concrete import CannotHappen, Run
from nudgeproof.engines.space import Step
from nudgeproof.engines.story import replay
from nudgeproof.fitting import Fitting
from nudgeproof.model.tables import Model
from nudgeproof.parts.compile import compile_model
from nudgeproof.questions.ask import Question
from nudgeproof.rhythm import find_rhythm
from nudgeproof.spec.fixed import fixed_times
from nudgeproof.spec.types import Device
from nudgeproof.specimens import play_on
from nudgeproof.verdict import Finding, Verdict
from nudgeproof.weigh import describe


class NoStory(ValueError):
    """The text holds no story that can be replayed; the message says why."""


@dataclass(frozen=True, slots=True)
class Retold:
    """A story tried again. `finding`: with the story if it still happens; None if not: `reason` says where it ends."""

    hazard: str
    subject: str
    finding: Finding | None
    reason: str


def retell(device: Device, text: str) -> tuple[Retold, ...]:
    """Try every story of a broken finding in a JSON document that `check --json` wrote; raises `NoStory`, `SpecErrors`."""
    told = _stories(text)
    questions = tuple(entry for entry in ask(device)[0] if isinstance(entry, Question))
    return tuple(_retell(device, questions, hazard, subject, beats) for hazard, subject, beats in told)


def touched(device: Device, text: str) -> frozenset[str]:
    """The states that broken findings in such a document are about: between which the harm is done, or the subject's own.

    Raises `NoStory`.
    """
    names = {state.name for state in device.states}

    def states(finding: Any) -> list[str]:
        told = [beat["situation"]["state"] for beat in finding["story"][-2:]]
        return [name for name in (*told, finding["subject"]) if name in names]

    return frozenset(name for found in _broken(text, states) for name in found)


_Beat = tuple[int, str, str, int]
_Told = tuple[str, str, list[_Beat]]
_T = TypeVar("_T")


def _stories(text: str) -> list[_Told]:
    def story(finding: Any) -> _Told:
        return str(finding["hazard"]), str(finding["subject"]), [_beat(beat) for beat in finding["story"]]

    found = [told for told in _broken(text, story) if told[2]]
    if not found:
        raise NoStory("no finding in it is broken with a story")
    return found


def _broken(text: str, take: Callable[[Any], _T]) -> list[_T]:
    """What `take` makes of each broken finding; raises `NoStory` if the text is of another form."""
    try:
        document = json.loads(text)
        if document["format"] != 1:
            raise NoStory(f"it is of format {printable(str(document['format'])[:20])}, and only format 1 is known")
        findings = [finding for spec in document["specs"] for finding in spec["findings"]]
        return [take(finding) for finding in findings if finding["verdict"] == "broken"]
    except (ValueError, KeyError, TypeError, RecursionError) as error:
        if isinstance(error, NoStory):
            raise
        raise NoStory("it isn't what `check --json` writes") from None


def _beat(beat: dict[str, object]) -> _Beat:
    at, choice = beat["at_us"], beat["choice"]
    if not isinstance(at, int) or not isinstance(choice, int):
        raise TypeError
    return at, str(beat["part"]), str(beat["timer"]), choice


def _retell(device: Device, questions: tuple[Question, ...], hazard: str, subject: str, beats: list[_Beat]) -> Retold:
    asked = next((q for q in questions if q.hazard == hazard and q.subject == subject), None)
    if asked is None:
        return Retold(hazard, subject, None, "this question isn't asked of the spec any more")
    model = compile_model(device, asked.environment)
    path: list[Step] = []
    run = Run(model)
    for number, (at, part, timer, choice) in enumerate(beats, start=1):
        try:
            run.advance(at - run.now)
            position = _position(model, run, part, timer)
            before = run.situation
            move = run.take(position, choice)
        except CannotHappen:
            return Retold(hazard, subject, None, f"step {number} of {len(beats)} ({part}: {timer}) can't happen then")
        path.append(Step(before, position, move))
    looked_for = match(device, asked).looked_for
    if not looked_for(model, path[-1].situation, path[-1].move):
        return Retold(hazard, subject, None, "all its steps can happen, but they do no harm any more")
    fixed = fixed_times(device)
    if fixed:
        fit = Fitting(model, path, fixed).find(whole_box(device), middle(device))
        if fit.point is None:
            known = "no one specimen can take" if fit.known else "no specimen was found that can take"
            return Retold(hazard, subject, None, f"{known} all its steps")
        model, story = play_on(device, match(device, asked), model, path, fit.point, fit.times)
        return Retold(hazard, subject, describe(device, model, asked, looked_for, Verdict.BROKEN, story), "")
    times = [at for at, _, _, _ in beats]
    if find_rhythm(device, model, path, times) is None:
        return Retold(hazard, subject, None, "its samples don't come in one rhythm any more")
    story = replay(model, path, times)
    return Retold(hazard, subject, describe(device, model, asked, looked_for, Verdict.BROKEN, story), "")


def _position(model: Model, run: Run, part: str, timer: str) -> int:
    for i, (index, armed) in enumerate(run.timers):
        if model.parts[index].name == part and armed.name == timer:
            return i
    raise CannotHappen(timer)
