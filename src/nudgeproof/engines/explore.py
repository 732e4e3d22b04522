"""The explorer: every order and every timing; what can happen at all, and the cheapest stories of it.

A *class* is a situation with a canonical matrix over its armed timers: a whole set of timings at once. A class is dropped
when one taken earlier in the same situation includes it: whatever the dropped one can do that one can do too, so for the
question "can this be reached?" nothing is lost. To tell so, the largest of those taken are enough: what another of them
would include one of the largest includes.

A sweep says what can happen. Only what does, and of which a story is wanted, is then searched for in the order of cost, so
that the first story found is of least cost, even if the budget ends later.

Classes with inclusion answer reachability and nothing else; every question that is asked of this module must be one.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

from nudgeproof.engines.matrix import Matrix, Timings
from nudgeproof.engines.passes import Pass, Progress, search, sweep
from nudgeproof.engines.space import Space, Step
from nudgeproof.model.step import Test
from nudgeproof.model.tables import Model, Situation


@dataclass(frozen=True, slots=True)
class Exploration:
    """What was found.

    `paths[i]`: for goal i a path whose last step meets it, or None; of least cost if `least[i]`. `complete`: every class was
    looked at, so None means that it can't happen. `classes`: how many were taken. `stuck`: situations that must go round
    without time passing, since their timers leave none; then absence proves nothing. `kept`: if asked for, the largest
    classes by situation, such that one of them includes each of the others.
    """

    paths: tuple[tuple[Step, ...] | None, ...]
    least: tuple[bool, ...]
    complete: bool
    classes: int
    situations: int
    stuck: tuple[Situation, ...]
    kept: tuple[tuple[Situation, tuple[Matrix, ...]], ...] = ()


def explore(
    model: Model,
    tests: Sequence[Test],
    budget: int,
    progress: Progress | None = None,
    avoid: Test | None = None,
    keep: bool = False,
    timings: Timings | None = None,
    stories: Collection[int] | None = None,
) -> Exploration:
    """Look for a step that meets each of `tests`, taking at most `budget` classes in each pass.

    Steps that meet `avoid` are not followed: what is found is found without any of them. With `keep` the largest classes
    are handed out, as `engines.certificate` needs them. `timings` may be shared with other explorations; that only saves
    time. `stories`: of which tests a path of least cost is wanted (all); of the others any path is given. Ends when every
    test is met, when nothing is left to look at, or when the budget is spent. The result is the same on every machine.
    `progress` is called with the number of classes now and then.
    """
    return explore_space(Space(model, tests, avoid, timings), budget, progress, keep, stories=stories)


def explore_space(
    space: Space,
    budget: int,
    progress: Progress | None = None,
    keep: bool = False,
    wanted: Collection[int] | None = None,
    stories: Collection[int] | None = None,
) -> Exploration:
    """The same in a space that may have been explored before, with other intervals.

    `wanted`: which of its tests are looked for (all); the others get no path.
    """
    looked_for = [i for i in range(len(space.tests)) if wanted is None or i in wanted]
    told = [i for i in looked_for if stories is None or i in stories]
    # A sweep of half as many classes goes at least as far as a search, and what it leaves open the search still may settle.
    swept = sweep(space, looked_for, -(-budget // 2) if told else budget, progress)
    met = [i for i in told if i in swept.ends]
    left = [i for i in looked_for if i not in swept.ends] if told and not swept.complete else []
    found = search(space, [*met, *left], budget, progress, len(swept.trail)) if met or left else Pass()
    kept = swept.kept if swept.complete else found.kept
    return Exploration(
        paths=tuple(found.path(space, i) or swept.path(space, i) for i in range(len(space.tests))),
        least=tuple(i in found.ends for i in range(len(space.tests))),
        complete=swept.complete or found.complete,
        classes=len(swept.trail) + len(found.trail),
        situations=len(space.situations),
        stuck=space.find_stuck(),
        kept=tuple((space.situations[i], tuple(matrices)) for i, matrices in kept.items()) if keep else (),
    )
