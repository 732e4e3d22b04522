"""Where a story happens: on every specimen, or only on some.

The story's actions alone, at their times, are played as a script, with every chatter and every device value still open;
what still acts at the story's end goes on as long as it may. If no run gets past the end of the script without the step
in question, the story happens on every specimen.
"""

from __future__ import annotations

from nudgeproof.engines.explore import explore
from nudgeproof.engines.story import Story
from nudgeproof.model.step import Move, Test
from nudgeproof.model.tables import Model, Situation
from nudgeproof.parts.cell_level import ABOVE, BELOW, LEVEL_CHANGES, level_of
from nudgeproof.parts.compile import Environment, compile_model
from nudgeproof.parts.contact import held_by
from nudgeproof.parts.events import EVENT
from nudgeproof.parts.people import LEFT
from nudgeproof.parts.script import OVER, Edge
from nudgeproof.parts.sleep import OUTSIDE
from nudgeproof.parts.stroke import LETS_GO, LETS_OTHER_GO
from nudgeproof.parts.supply import CELL_IS_BACK, opened_by
from nudgeproof.spec.outside import CELL_FINE, CELL_LOW
from nudgeproof.spec.types import Device
from nudgeproof.units import FOREVER

BUDGET = 20_000
_READ_AT = {EVENT + CELL_LOW: BELOW, EVENT + CELL_FINE: ABOVE}
EVERY, SOME = "every specimen", "some specimens only, or with luck"


def find(device: Device, model: Model, environment: Environment, bad: Test, story: Story) -> str:
    """`EVERY`, `SOME`, or "" if it wasn't found out or the environment can't be played as a script."""
    played = as_script(model, environment, story)
    if played is None:
        return ""
    seen = explore(compile_model(device, played), (is_over,), BUDGET, avoid=bad, stories=())
    if seen.paths[0] is not None:
        return SOME
    return EVERY if seen.complete and not seen.stuck else ""


def as_script(model: Model, environment: Environment, story: Story) -> Environment | None:
    """The environment in which a story's actions are played as a script; None if they can't be."""
    if environment.acts or environment.gestures or environment.limit or environment.settles or environment.held:
        return None
    if environment.sags >= 0 or environment.reads >= 0:
        return None  # on which units cells are so weak, is told with the cells
    edges = script_of(model, story)
    if not edges or overlap(edges) or _weak_cells(story) > 1:
        return None
    whole = tuple(sorted((*edges, *_endings(model, story))))
    return Environment(script=whole, watched=environment.watched, script_left=_left_at(model, story))


def overlap(edges: tuple[Edge, ...]) -> bool:
    """Whether two sources hold the same contact at once, which one script can't play."""
    state: dict[str, bool] = {}
    for edge in edges:
        if edge.event or edge.level:
            continue
        if state.get(edge.button, not edge.button) == edge.closes:
            return True
        state[edge.button] = edge.closes
    return False


def _weak_cells(story: Story) -> int:
    """How many sources take the voltage of the cell up and down; one script can play one."""
    return len({beat.part for beat in story.beats if LEVEL_CHANGES in beat.move.taken[0].choice.send})


def script_of(model: Model, story: Story) -> tuple[Edge, ...]:
    """All contact and cell edges and all events of a story's sources, with their times."""
    edges = []
    for beat in story.beats:
        if not beat.actions:
            continue
        choice = beat.move.taken[0].choice
        if event := next((s.removeprefix(OUTSIDE) for s in choice.send if s.startswith(OUTSIDE)), ""):
            edges.append(Edge(beat.at_us, "", True, event=event))
            continue
        if level := next((_READ_AT[signal] for signal in choice.send if signal in _READ_AT), ""):
            edges.append(Edge(beat.at_us, "", True, level=level))
            continue
        if LEVEL_CHANGES in choice.send:
            edges.append(Edge(beat.at_us, "", True, level=str(model.value(beat.after, level_of(beat.part)))))
            continue
        button = next((s.removeprefix("push ") for s in choice.send if s.startswith("push ")), "")
        held_before = _closed(model, beat.before, beat.part, button)
        edges.append(Edge(beat.at_us, button, not held_before))
    return tuple(edges)


def _endings(model: Model, story: Story) -> tuple[Edge, ...]:
    """When sources that still act at the end of a story must stop at the latest: the last moment their limits allow."""
    last = story.beats[-1].after
    edges = []
    for part, timer in model.armed(last):
        name = model.parts[part].name
        if timer.hi == FOREVER:
            continue
        held = [b.removeprefix(held_by(name, "")) for b in model.parts[part].publishes if model.value(last, b) is True]
        each = {f"{LETS_GO} {b}": [b] for b in held}
        ends = {LETS_GO: held, LETS_OTHER_GO: held, CELL_IS_BACK: [""], **each}
        for button in ends.get(timer.name, ()):
            begun = _last_action(story, name, f"push {button}" if timer.name in each else "")
            if begun is not None:
                edges.append(Edge(begun + int(timer.hi), button, not button))
    return tuple(edges)


def _last_action(story: Story, part: str, sent: str) -> int | None:
    """When a part made its last edge, or the last that sent `sent`."""
    beats = [beat for beat in story.beats if beat.part == part and beat.actions]
    return max((b.at_us for b in beats if not sent or sent in b.move.taken[0].choice.send), default=None)


def _closed(model: Model, situation: Situation, part: str, button: str) -> bool:
    """Whether this source holds the button closed, or, for the cell, leaves it in contact."""
    if button:
        return bool(model.value(situation, held_by(part, button)))
    return not model.value(situation, opened_by(part))


def _left_at(model: Model, story: Story) -> int:
    """How many edges are played before the device is left alone; -1 if it is alone from the start."""
    if not model.publishes(LEFT):
        return -1
    return len([beat for beat in story.beats if beat.actions and not model.value(beat.before, LEFT)])


def is_over(model: Model, before: Situation, move: Move) -> bool:
    """Whether a script ends with this step."""
    return move.taken[0].cause == f"timer {OVER}"
