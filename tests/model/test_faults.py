"""Rules that parts must keep: whoever breaks one gets a `ModelFault` that says which, and nothing has changed."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from nudgeproof.model.step import expire
from nudgeproof.model.tables import Choice, Model, ModelFault, Part, Timer
from nudgeproof.units import FOREVER


def part(name: str = "one", **more: Any) -> Part:
    return Part(name, "device", 0, **more)


def ticking(*timers: Timer, choices: tuple[Choice, ...] = (Choice(0),), **more: Any) -> Model:
    return Model(
        (part(armed=lambda local, reads: timers, expired=lambda local, timer, reads: choices, **more),)
    )  # fmt: skip


def _starts(model: Model) -> None:
    expire(model, model.start, 0)


TICK = Timer("tick", 1, 2)

BROKEN: dict[str, tuple[Callable[[], object], str]] = {
    "two parts of one name": (lambda: Model((part(), part())), "same name"),
    "a value published twice": (
        lambda: Model((part("a", publishes=("v",)), part("b", publishes=("v",)))), "published by two",
    ),
    "a value nobody publishes": (lambda: Model((part(reads=("v",)),)), "nobody publishes"),
    "an answer to oneself": (lambda: Model((part(takes={"s": ("s",)}),)), "circle"),
    "answers in a circle": (
        lambda: Model((part("a", takes={"s": ("t",)}), part("b", takes={"t": ("s",)}))), "a on s, b on t, a on s|circle",
    ),
    "two timers of one name": (lambda: _starts(ticking(TICK, Timer("tick", 1, 3))), "two timers of one name"),
    "an interval turned round": (lambda: _starts(ticking(Timer("tick", 3, 2))), "empty interval"),
    "an interval before now": (lambda: _starts(ticking(Timer("tick", -1, 2))), "empty interval"),
    "an interval that never begins": (
        lambda: _starts(ticking(Timer("tick", FOREVER, FOREVER))), "empty interval",  # type: ignore[arg-type]
    ),
    "no choice": (lambda: _starts(ticking(TICK, choices=())), "no choice on timer `tick`"),
    "a signal not said": (lambda: _starts(ticking(TICK, choices=(Choice(0, ("s",)),))), "sends `s` on timer `tick`"),
    "too few values": (
        lambda: _starts(ticking(TICK, publishes=("v",), reads=("v",))), "publishes 1 values but shows 0",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", BROKEN)
def test_each_rule_has_its_fault(name: str) -> None:
    act, message = BROKEN[name]
    with pytest.raises(ModelFault, match=message):
        act()


def test_an_answer_must_be_announced() -> None:
    talker = part(
        "talker", armed=lambda local, reads: (TICK,), sends=("s",),
        expired=lambda local, timer, reads: (Choice(0, ("s",)),),
    )  # fmt: skip
    hearer = part("hearer", takes={"s": ()}, heard=lambda local, signal, reads: (Choice(0, ("t",)),))
    model = Model((talker, hearer))
    with pytest.raises(ModelFault, match="`hearer` sends `t` on signal `s`"):
        expire(model, model.start, 0)


def growing(again: tuple[str, ...]) -> Model:
    """`long` gets a longer interval whenever `tick` expires."""
    return Model(
        (
            part(
                armed=lambda local, reads: (Timer("tick", 1, 1), Timer("long", 5, 5 + int(str(local)))),
                expired=lambda local, timer, reads: (Choice(int(str(local)) + 1, restart=again),),
            ),
        )
    )


def test_a_running_timer_keeps_its_interval() -> None:
    model = growing(())
    with pytest.raises(ModelFault, match="changes the interval of `long` while it runs"):
        expire(model, model.start, 0)
    (move,) = expire(model, model.start, 1)
    assert move.kept == (0, -1), "the one that expired may come back with any interval, `tick` runs on"


def test_a_restarted_timer_may_change_it() -> None:
    (move,) = expire(growing(("long",)), (0,), 0)
    assert move.kept == (-1, -1)
    assert move.timers[1][1] == Timer("long", 5, 6)


def test_timers_of_one_name_in_two_parts_are_two_timers() -> None:
    def twin(name: str, runs_in: int) -> Part:
        return part(
            name, armed=lambda local, reads: (TICK,) if local == runs_in else (), sends=("swap",),
            expired=lambda local, timer, reads: (Choice(1 - runs_in, ("swap",)),),
            takes={"swap": ()}, heard=lambda local, signal, reads: (Choice(1 - int(str(local))),),
        )  # fmt: skip

    first = part(
        "first", armed=lambda local, reads: (Timer("go", 0, 0),) if local == 0 else (), sends=("swap",),
        expired=lambda local, timer, reads: (Choice(1, ("swap",)),),
    )  # fmt: skip
    model = Model((first, twin("a", 0), twin("b", 1)))
    (move,) = expire(model, model.start, 0)
    assert move.timers == ((2, TICK),)
    assert move.kept == (-1,), "b's tick doesn't continue a's"
