"""From what an engine found to a finding: the verdict, and the words for it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from nudgeproof import charge_left, where
from nudgeproof.engines.explore import Exploration
from nudgeproof.engines.space import Step
from nudgeproof.engines.story import Story, confirm, tell
from nudgeproof.model.step import Test
from nudgeproof.model.tables import Model, Situation
from nudgeproof.parts.behaviours import brown_outs, readings
from nudgeproof.parts.cell_level import say_level
from nudgeproof.parts.comes_round import COMES_ROUND
from nudgeproof.parts.compile import Environment
from nudgeproof.parts.outputs import OFF, published
from nudgeproof.parts.sleep import RUNNING
from nudgeproof.parts.supply import OPENS_CELL, POWERED
from nudgeproof.quantities import show
from nudgeproof.questions.ask import Conclusion, Derived, Question
from nudgeproof.rhythm import find_rhythm, find_steady
from nudgeproof.spec.types import Device
from nudgeproof.units import show_moment
from nudgeproof.usual import cure_seen_in
from nudgeproof.verdict import Finding, Scene, Verdict

BUDGET = 50_000
RAN_OUT = "the effort ran out before every timing was tried"
USED_UP = "the questions before it used nearly all of the effort up; ask it by itself with `--only`"
OUT_OF_CHARGE = "the only story that was found needs another charge of the capacitor than any unit has at its times"
OUT_OF_RHYTHM = (
    "the only story that was found needs samples that don't come in one rhythm, and no rhythm was found that gives it"
)


def weigh(
    device: Device,
    model: Model,
    question: Question,
    seen: Exploration,
    looked_for: Test,
    settled: bool,
    path: tuple[Step, ...] | None,
    came_up: Sequence[tuple[Step, ...] | None],
    briefly: bool = False,
    starved: bool = False,
    cheapest: bool = True,
) -> Finding:
    """The verdict for one question; see `Verdict` for what each one claims.

    `briefly`: as for `describe`. `starved`: little effort was left for it. `cheapest`: no other path costs less.
    """
    also = None if path is None else find_rhythm(device, model, path)
    least = _actions(path)
    if path is not None and also is None:
        path, also = find_steady(device, model, looked_for, BUDGET) or (path, None)
    story = None
    if path is not None and also is not None:
        story = tell(model, path, also) if question.unwanted else confirm(model, path, also)
    uncharged = story is not None and not charge_left.fits(model, story)
    story = None if uncharged else story
    evidence, reason = "", ""
    if path is not None and story is None:
        verdict, reason = Verdict.UNDECIDED, OUT_OF_CHARGE if uncharged else OUT_OF_RHYTHM
    elif question.unwanted and story is not None:
        verdict, evidence = Verdict.BROKEN, "story"
    elif not question.unwanted and story is not None:
        verdict, evidence = Verdict.HOLDS, "story"
    elif not seen.complete and not (settled and all(came_up)):
        verdict, reason = Verdict.UNDECIDED, USED_UP if starved else RAN_OUT
    elif seen.stuck and not (settled and all(came_up)):
        verdict, reason = Verdict.UNDECIDED, f"time stops here: {_state(model, seen.stuck[0])} is left and met again "
        reason += "without any time passing, so nothing after it was looked at"
    elif not question.unwanted:
        verdict, evidence = Verdict.BROKEN, "proof"
    elif any(way is None for way in came_up):
        verdict = Verdict.VACUOUS
        reason = (
            f"what the question is about never happens with {question.environment}, so an answer would mean nothing"
        )
    else:
        for way in came_up:
            confirm(model, way or ())
        verdict, evidence = Verdict.HOLDS, "proof"
    found = describe(device, model, question, looked_for, verdict, story, evidence, reason, seen.classes, briefly)
    return replace(found, shortest=cheapest and _actions(path) == least)


def _actions(path: Sequence[Step] | None) -> int:
    return sum(step.move.actions for step in path or ())


def describe(
    device: Device,
    model: Model,
    question: Question,
    looked_for: Test,
    verdict: Verdict,
    story: Story | None,
    evidence: str = "story",
    reason: str = "",
    classes: int = 0,
    briefly: bool = False,
) -> Finding:
    """Put an answer into words; for a failure with a story also, unless `briefly`, on which specimens, and how to try it.

    `looked_for`: the step that the story ends with (the question's, but for what is accepted).
    """
    situations = [model.start, *(beat.after for beat in story.beats)] if story is not None else []
    found = where_found = ""
    cure = question.cure if verdict is Verdict.BROKEN else ""
    if cure and story is not None:
        cure = cure_seen_in(device, model, story) or cure
    if verdict is Verdict.BROKEN and story is not None and not briefly:
        found = _bench(device, model, story, question.environment)
        if not question.reckoned:
            where_found = where.find(device, model, question.environment, looked_for, story)
    return Finding(
        hazard=question.hazard,
        subject=question.subject,
        verdict=verdict,
        evidence=evidence,
        surroundings=str(question.environment),
        place=question.at,
        sentence=_sentence(model, question, verdict, story),
        where=where_found,
        bench=found,
        all_held=question.all_held,
        cure=cure,
        reason=reason,
        story=story,
        scenes=tuple(_scene(device, model, situation) for situation in situations),
        classes=classes,
        harm=_harm(device, model, story) if verdict is Verdict.BROKEN and story is not None else "",
    )


def tell_harm(device: Device, state: str, outputs: Sequence[str] = ()) -> list[str]:
    """What the spec says of the harm that is done in `state`, or by one of `outputs` that is on besides."""
    switched = {output.name for output in device.outputs if state in output.on_in or output.name in outputs}
    return [
        f"{harm.name} {harm.what}; {harm.second_means or 'nothing else'} prevents it"
        for harm in device.harm
        if harm.name == state or harm.name in switched
    ]


def _harm(device: Device, model: Model, story: Story) -> str:
    """The harm in which a story ends."""
    after = story.beats[-1].after
    pins = [
        (output.name, published(output.name)) for output in device.outputs if model.publishes(published(output.name))
    ]
    on = [name for name, pin in pins if model.value(after, pin) != OFF]
    return ". ".join(tell_harm(device, _state(model, after), on))


def _sentence(model: Model, question: Question, verdict: Verdict, story: Story | None) -> str:
    if verdict is Verdict.HOLDS:
        return question.held
    if verdict is not Verdict.BROKEN:
        return f"{question.hazard}: {question.subject}"
    if story is None:
        return question.denied
    last = story.beats[-1]
    return question.told(_state(model, last.before), _state(model, last.after))


def collect(entry: Question | Derived, answers: dict[int, Finding]) -> Iterable[Finding]:
    """The finding of a question, or those that follow from the answers below a derived hazard."""
    if isinstance(entry, Question):
        yield answers[id(entry)]
        return
    below = [answers[id(question)] for question in entry.questions]
    if entry.conclude is None:
        yield min(below, key=lambda finding: finding.verdict)
        return
    known = {Verdict.HOLDS: True, Verdict.BROKEN: False}
    for conclusion in entry.conclude(tuple(known.get(finding.verdict) for finding in below)):
        verdict = {True: Verdict.HOLDS, False: Verdict.BROKEN, None: Verdict.UNDECIDED}[conclusion.holds]
        yield Finding(
            hazard=conclusion.hazard,
            subject=conclusion.subject,
            verdict=verdict,
            evidence="" if conclusion.holds is None else "reckoned" if conclusion.reckoned else "proof",
            surroundings=below[0].surroundings if below else _around(conclusion),
            place=conclusion.at,
            sentence=conclusion.sentence,
            where="",
            bench="",
            all_held=conclusion.all_held,
            cure=conclusion.cure if verdict is Verdict.BROKEN else "",
            reason=conclusion.reason,
            story=None,
            scenes=(),
            classes=below[0].classes if below else 0,
        )


def _around(conclusion: Conclusion) -> str:
    """What an answer without questions is about."""
    return "the spec's figures" if conclusion.reckoned else "the person's habits"


def _bench(device: Device, model: Model, story: Story, environment: Environment) -> str:
    """The story's actions as one sentence, with times from the first one."""
    held, feed = environment.held, _feed(device, environment)
    edges = where.script_of(model, story)
    if not edges:
        return f"{feed}and leave it alone" if feed else ""
    told = []
    for edge in edges:
        at = show_moment(edge.at_us - edges[0].at_us)
        if edge.event:
            told.append(f"{edge.event} at {at}")
        elif edge.level and device.cell is not None:
            told.append(f"{say_level(device.cell, edge.level)} at {at}")
        elif edge.button:
            which = f" {edge.button}" if len(device.buttons) > 1 else ""
            told.append(f"press{which} at {at}" if edge.closes else f"let go{which} at {at}")
        elif held and edge is edges[0]:
            told.append(f"hold {held} down and put the cell in at {at}")
        else:
            told.append(f"cell back at {at}" if edge.closes else f"cell out at {at}")
    last = story.beats[-1]
    before, after = _scene(device, model, last.before), _scene(device, model, last.after)
    pairs = [("", before.state, after.state)]
    pairs += [(name, was, now) for (name, was), (_, now) in zip(before.values, after.values, strict=True)]
    if any(model.publishes(published(output.name)) for output in device.outputs):
        names = [(output.name, published(output.name)) for output in device.outputs]
        pairs += [(n, str(model.value(last.before, p)), str(model.value(last.after, p))) for n, p in names]
    changed = [f"{name} {was} turns to {now}".strip() for name, was, now in pairs if was != now]
    watch = " and ".join(changed) or ("it starts again" if environment.sags >= 0 else f"it is still {after.state}")
    chatter = (
        "; it needs the contact to chatter" if any(t.choice.chatter for b in story.beats for t in b.move.taken) else ""
    )
    rounds = [beat.at_us for beat in story.beats if COMES_ROUND in beat.move.taken[0].choice.send]
    clock = "".join(f"; it needs the clock to come round at {show_moment(at - edges[0].at_us)}" for at in rounds)
    return f"{feed}{', '.join(told)}; at {show_moment(last.at_us - edges[0].at_us)} {watch}{chatter}{clock}"


def _feed(device: Device, environment: Environment) -> str:
    """What to feed the device from in place of cells that are used so far as the story needs; "" for fresh ones."""
    if device.electricity is None or (environment.sags < 0 and environment.reads < 0):
        return ""
    number, known = (environment.sags, brown_outs) if environment.sags >= 0 else (environment.reads, readings)
    level = device.electricity.source.cells.at(known(device)[number].begins)
    return f"feed it from {show(level.open.lo)}, or a little less, behind {show(level.resistance.hi)}; "


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
        cell=_cell(model, situation),
        power=bool(model.value(situation, POWERED)) if model.publishes(POWERED) else None,
    )


def _cell(model: Model, situation: Situation) -> bool | None:
    opened = [name for part in model.parts for name in part.publishes if name.endswith(OPENS_CELL)]
    return not any(model.value(situation, name) for name in opened) if opened else None
