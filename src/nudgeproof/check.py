"""The one place where hazards meet engines: ask everything that applies, and weigh the answers."""

from __future__ import annotations

import difflib
from collections.abc import Callable, Iterable, Sequence

from nudgeproof.engines.explore import Exploration, explore
from nudgeproof.engines.story import tell
from nudgeproof.hazards import HAZARDS
from nudgeproof.model.tables import Model, Situation
from nudgeproof.parts.compile import Environment, compile_model
from nudgeproof.parts.sleep import RUNNING
from nudgeproof.questions.ask import NotAsked, Question
from nudgeproof.questions.promises import HAZARD as PROMISE
from nudgeproof.questions.promises import questions as promise_questions
from nudgeproof.questions.promises import read_promises
from nudgeproof.spec.types import Device
from nudgeproof.verdict import Finding, Report, Scene, Verdict

BUDGETS = {"quick": 20_000, "usual": 200_000, "deep": 5_000_000}
"""Classes kept for each exploration, by effort."""

NAMES = (*(hazard.NAME for hazard in HAZARDS), PROMISE)
"""All names that `only` may hold."""

Progress = Callable[[str, int], None]


class UnknownName(ValueError):
    """A name given to `only` is no hazard; the message says which are."""


def check(device: Device, effort: str = "usual", only: Sequence[str] = (), progress: Progress | None = None) -> Report:
    """Ask every question that applies to `device`.

    `only` limits the hazards by name. `progress` is called with the environment in words and the number of classes so
    far. Raises `SpecErrors` for promises that can't be read and `UnknownName`.
    """
    for name in only:
        if name not in NAMES:
            near = difflib.get_close_matches(name, NAMES, 1)
            hint = f"did you mean `{near[0]}`?" if near else "known are " + ", ".join(NAMES)
            raise UnknownName(f"there is no hazard `{name}`; {hint}")
    promises = read_promises(device)
    asked: list[Question] = []
    not_asked: list[NotAsked] = []
    for hazard in HAZARDS:
        if only and hazard.NAME not in only:
            continue
        answer = hazard.ask(device)
        if isinstance(answer, NotAsked):
            not_asked.append(answer)
        else:
            asked += answer
    if not only or PROMISE in only:
        asked += [question for promise in promises for question in promise_questions(device, promise)]
        if not promises:
            not_asked.append(NotAsked(PROMISE, "no promises are stated"))
    answers = {}
    for environment in dict.fromkeys(question.environment for question in asked):
        together = [question for question in asked if question.environment == environment]
        answers.update(_answer(device, environment, together, BUDGETS[effort], progress))
    return Report(
        file=device.file,
        device=device.name,
        buttons=tuple(button.name for button in device.buttons),
        findings=tuple(answers[id(question)] for question in asked),
        not_asked=tuple(not_asked),
        assumptions=tuple(_assumptions(device)),
        lines=device.lines,
    )


def _assumptions(device: Device) -> Iterable[str]:
    yield from (assumption.text for assumption in device.assumptions)
    if device.person is None:
        yield "person: none stated, so where a person presses, any press of any length was tried"


def _answer(
    device: Device, environment: Environment, asked: Sequence[Question], budget: int, progress: Progress | None
) -> dict[int, Finding]:
    """Explore one environment once for all questions about it."""
    model = compile_model(device, environment)
    tests = [question.looked_for for question in asked]
    starts = []
    for question in asked:
        starts.append(len(tests))
        tests += question.came_up
    told = None if progress is None else (lambda classes: progress(str(environment), classes))
    seen = explore(model, tests, budget, told)
    return {
        id(question): _weigh(device, model, question, seen, number, range(start, start + len(question.came_up)))
        for number, (question, start) in enumerate(zip(asked, starts, strict=True))
    }


def _weigh(
    device: Device, model: Model, question: Question, seen: Exploration, number: int, came_up: Iterable[int]
) -> Finding:
    """The verdict for one question; see `Verdict` for what each one claims."""
    path = seen.paths[number]
    story = tell(model, path) if path is not None else None
    evidence, reason = "", ""
    sentence = question.held
    if question.unwanted and story is not None:
        verdict, evidence = Verdict.BROKEN, "story"
        last = story.beats[-1]
        sentence = question.told(_state(model, last.before), _state(model, last.after))
    elif not question.unwanted and story is not None:
        verdict, evidence = Verdict.HOLDS, "story"
    elif not seen.complete:
        verdict, reason = Verdict.UNDECIDED, f"the effort ran out after {seen.classes} classes; try `--effort deep`"
    elif seen.stuck:
        verdict, reason = Verdict.UNDECIDED, f"time stops here: {_state(model, seen.stuck[0])} is left and met again "
        reason += "without any time passing, so nothing after it was looked at"
    elif not question.unwanted:
        verdict, evidence, sentence = Verdict.BROKEN, "proof", question.denied
    elif any(seen.paths[i] is None for i in came_up):
        verdict, reason = Verdict.VACUOUS, "what the question is about can't happen in this environment"
    else:
        for i in came_up:
            tell(model, seen.paths[i] or ())
        verdict, evidence = Verdict.HOLDS, "proof"
    if verdict in (Verdict.UNDECIDED, Verdict.VACUOUS):
        sentence = f"{question.hazard}: {question.subject}"
    situations = [model.start, *(beat.after for beat in story.beats)] if story is not None else []
    return Finding(
        hazard=question.hazard,
        subject=question.subject,
        verdict=verdict,
        evidence=evidence,
        surroundings=str(question.environment),
        place=question.at,
        sentence=sentence,
        all_held=question.all_held,
        cure=question.cure if verdict is Verdict.BROKEN else "",
        reason=reason,
        story=story,
        scenes=tuple(_scene(device, model, s) for s in situations),
        classes=seen.classes,
    )


def _state(model: Model, situation: Situation) -> str:
    return str(model.value(situation, "state"))


def _scene(device: Device, model: Model, situation: Situation) -> Scene:
    names = tuple(button.name for button in device.buttons)
    return Scene(
        state=_state(model, situation),
        values=tuple((v.name, str(model.value(situation, f"value {v.name}"))) for v in device.variables),
        closed=tuple(name for name in names if model.value(situation, f"level {name}")),
        pressed=tuple(name for name in names if model.value(situation, f"reading {name}")),
        runs=bool(model.value(situation, RUNNING)),
    )
