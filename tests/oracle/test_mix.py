"""The random models are worth something: their mix is measured on the models that the agreement tests use."""

from __future__ import annotations

from collections import Counter

import pytest

from nudgeproof.model.tables import Choice, Part, Timer
from nudgeproof.units import FOREVER
from tests.amount import amount
from tests.oracle.brute import IntervalChanged, TooBig, outcomes, search
from tests.oracle.randomly import sketch

FEATURES = {
    "a value arms a timer", "a value guards a choice", "actions", "answer", "armed", "branch", "chatter", "disarmed",
    "forever", "new interval", "restart", "runs on", "several receivers", "signal",
}  # fmt: skip


def test_the_mix_of_random_models() -> None:
    seen: Counter[str] = Counter()
    models = reachable = looked_for = 0
    tried = amount(100, 200)
    for seed in range(tried):
        model = sketch(seed)
        try:
            answer = search(model.parts, model.goals, most_states=1_200)
        except TooBig:
            continue
        models += 1
        seen.update(model.features | answer.notes)
        seen.update({"ties"} if answer.ties else ())
        seen.update({"three timers"} if answer.armed >= 3 else ())
        reachable += sum(cost is not None for cost in answer.costs)
        looked_for += len(answer.costs)
    assert models >= 0.6 * tried
    assert {feature for feature in FEATURES if seen[feature] < models / 20} == set()
    assert seen["ties"] >= models / 2
    assert seen["three timers"] >= models / 2
    assert 0.2 <= reachable / looked_for <= 0.8


def test_the_same_seed_gives_the_same_model() -> None:
    one, two = sketch(7), sketch(7)
    assert search(one.parts, one.goals) == search(two.parts, two.goals)
    answers = {repr(search(sketch(s).parts, sketch(s).goals).costs) for s in (1, 2, 3, 4, 6, 7)}
    assert len(answers) > 3


def _lamp(lo: int, hi: int | float) -> Part:
    return Part(
        "lamp", "device", "on",
        armed=lambda local, reads: (Timer("burns", lo, hi),) if local == "on" else (),
        expired=lambda local, timer, reads: (Choice("off", actions=1),),
    )  # fmt: skip


@pytest.mark.parametrize(("lo", "hi", "states"), [(0, 0, 2), (0, 3, 5), (2, 3, 5), (3, FOREVER, 5)])
def test_states_of_one_timer_by_hand(lo: int, hi: int | float, states: int) -> None:
    """Elapsed 0..hi (or 0..lo without an upper bound), and the state after it."""
    answer = search((_lamp(lo, hi),), (lambda b, a: a == ("off",), lambda b, a: a == ("lost",)))
    assert answer.states == states
    assert answer.costs == ((1, 0, 1), None)


def test_too_big_is_said() -> None:
    with pytest.raises(TooBig):
        search((_lamp(0, 50),), (), most_states=20)


def test_a_running_timer_keeps_its_interval() -> None:
    moving = Part(
        "moving", "device", 1,
        armed=lambda local, reads: (Timer("tick", 1, 1), Timer("long", 5, 5 + int(str(local)))),
        expired=lambda local, timer, reads: (Choice(2),),
    )  # fmt: skip
    with pytest.raises(IntervalChanged):
        outcomes((moving,), (1,), 0)
