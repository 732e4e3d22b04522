"""The railway crossing of R. Alur and D. Dill, "A theory of timed automata", Theoretical Computer Science 126 (1994),
section 7: constants from memory, verdicts recomputed.

Train: is in more than 2 after it approaches and out less than 5 after. Controller: says `lower` exactly 1 after the approach
and `raise` less than 1 after the exit. Gate: is down less than 1 after `lower`, up more than 1 and less than 2 after
`raise`. Wanted: while a train is in, the gate is down.

Where the automata would block (a gate told to lower while it rises, a train that is not in within 5) a part goes to a dead
state in which nothing of interest follows. Strict limits by scaling, see the module on Fischer's protocol.
"""

from __future__ import annotations

from dataclasses import dataclass

import pytest

from nudgeproof.engines.explore import explore
from nudgeproof.engines.story import tell
from nudgeproof.model.step import Move
from nudgeproof.model.tables import Choice, Local, Model, Part, Reads, Situation, Timer
from nudgeproof.units import FOREVER


@dataclass(frozen=True, slots=True)
class Crossing:
    """Constants: in more than `near` after the approach, `lower` exactly at `control`, down less than `lowering` after."""

    near: int = 2
    control: int = 1
    lowering: int = 1


def crossing(c: Crossing, k: int) -> Model:
    def train_armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        if reads["gate"] == "jammed":
            return ()
        leaves = Timer("leaves", k * c.near + 1, 5 * k - 1)
        match local:
            case "away":
                return (Timer("approaches", 0, FOREVER),) if reads["controller"] == "idle" else ()
            case "near":
                return (Timer("comes in", k * c.near + 1, 5 * k - 1), leaves)
            case "in":
                return (leaves,)
        return ()

    def train_expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        match (local, timer):
            case ("away", _):
                return (Choice("near", ("approach",)),)
            case ("near", "comes in"):
                return (Choice("in"),)
            case ("in", _):
                return (Choice("away", ("exit",)),)
        return (Choice("blocked"),)

    def controller_armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        if reads["gate"] == "jammed" or local == "idle":
            return ()
        if local == "told to lower":
            return (Timer("lowers", k * c.control, k * c.control),)
        return (Timer("raises", 0, k - 1),)

    def gate_armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        if local == "lowering":
            return (Timer("is down", 0, k * c.lowering - 1),)
        return (Timer("is up", k + 1, 2 * k - 1),) if local == "rising" else ()

    def gate_heard(local: Local, signal: str, reads: Reads) -> tuple[Choice, ...]:
        match (local, signal):
            case ("up", "lower"):
                return (Choice("lowering"),)
            case ("down", "raise"):
                return (Choice("rising"),)
        return (Choice("jammed"),)

    train = Part(
        "train", "device", "away", reads=("gate", "controller"), armed=train_armed, expired=train_expired,
        publishes=("train",), shown=lambda local: (local,), sends=("approach", "exit"),
    )  # fmt: skip
    controller = Part(
        "controller", "device", "idle", reads=("gate",), armed=controller_armed,
        publishes=("controller",), shown=lambda local: (local,), sends=("lower", "raise"),
        expired=lambda local, timer, reads: (Choice("idle", ("lower" if timer == "lowers" else "raise",)),),
        takes={"approach": (), "exit": ()},
        heard=lambda local, signal, reads: (Choice("told to lower" if signal == "approach" else "told to raise"),),
    )  # fmt: skip
    gate = Part(
        "gate", "device", "up", publishes=("gate",), shown=lambda local: (local,), armed=gate_armed,
        expired=lambda local, timer, reads: (Choice("down" if timer == "is down" else "up"),),
        takes={"lower": (), "raise": ()}, heard=gate_heard,
    )  # fmt: skip
    return Model((train, controller, gate))


def open_to_a_train(model: Model, before: Situation, move: Move) -> bool:
    now = move.situation
    return model.value(now, "train") == "in" and model.value(now, "gate") not in ("down", "jammed")


def opens_again(model: Model, before: Situation, move: Move) -> bool:
    """A train has passed and the gate is up again, so the crossing isn't safe by standing still."""
    return before[2] == "rising" and move.situation == ("away", "idle", "up")


def passes(model: Model, before: Situation, move: Move) -> bool:
    return before[0] == "in" and move.situation[0] == "away" and before[2] == "down"


def is_safe(c: Crossing, k: int) -> bool:
    model = crossing(c, k)
    found = explore(model, [open_to_a_train, opens_again], 20_000)
    bad, again = found.paths
    assert again is not None
    assert bad is not None or found.complete
    if bad is not None:
        train, _, gate = tell(model, bad).beats[-1].after
        assert (train, gate == "down") == ("in", False)
    return bad is None


@pytest.mark.parametrize("k", [8, 16])
@pytest.mark.parametrize(
    ("constants", "safe"),
    [
        (Crossing(), True),
        (Crossing(near=1), False),
        (Crossing(lowering=2), False),
        (Crossing(control=2), False),
        (Crossing(near=3, control=2), True),
    ],
    ids=str,
)
def test_the_crossing_and_its_mutants(constants: Crossing, safe: bool, k: int) -> None:
    """Alur and Dill 1994, section 7; constants from memory, verdicts recomputed."""
    assert is_safe(constants, k) is safe


@pytest.mark.parametrize("near", [1, 2, 3, 4])
def test_the_law_behind_them(near: int) -> None:
    """With these strict limits it is safe iff near >= control + lowering (plain arithmetic on the published model)."""
    for control in (1, 2, 3):
        for lowering in (1, 2):
            constants = Crossing(near, control, lowering)
            assert is_safe(constants, 8) is (near >= control + lowering), constants


def test_a_train_does_pass() -> None:
    found = explore(crossing(Crossing(), 8), [passes], 20_000)
    assert found.paths[0] is not None
