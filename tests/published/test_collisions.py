"""Collision detection on a shared line: how long two stations can send at once before they are told.

Two stations and a bus. A message takes 808 us, a signal 26 us from end to end. A station waits, begins to send at any
moment, and ends 808 us later. The bus: who begins within less than 26 us of another's beginning collides with it; who
begins later finds the line busy. A collision is told to all within less than 26 us. A station that found the line busy or
was told tries again within less than 52 us. So two stations send at once for less than 52 us, twice the way.

Source: the model and its constants are those of S. Yovine, "Kronos: a verification tool for real-time systems",
International Journal on Software Tools for Technology Transfer 1, 1997, and of later case studies after it; from memory. The
bound of 52 us is from memory as well, and recomputed: 26 and 26, both strict, by the explorer and by whole units.

In the original a sender can be told only before 52 us. That guard is left out here, since it is what is to be shown.

Strict limits by scaling, see the module on Fischer's protocol. Between 26 K - 1 and 26 K units nobody begins, as neither
limit allows it; a station that would have to is blocked for good.
"""

from __future__ import annotations

from dataclasses import dataclass

import pytest

from nudgeproof.engines.explore import explore
from nudgeproof.engines.story import tell
from nudgeproof.model.step import Move
from nudgeproof.model.tables import Choice, Local, Model, Part, Reads, Situation, Timer
from nudgeproof.units import FOREVER
from tests.oracle.brute import Locals, search


@dataclass(frozen=True, slots=True)
class Line:
    """Times in us, of which one is `k` units. `strict`: the limits are; else all are closed."""

    way: int = 26
    message: int = 808
    k: int = 8
    strict: bool = True
    again: int = 52
    told: int = 26

    def below(self, us: int) -> int:
        """The largest number of units that is less than so many microseconds."""
        return self.k * us - self.strict


def bus(line: Line) -> Part:
    """Local state: idle; fresh, somebody began just now; gap, between the limits; taken; collision."""

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        match local:
            case "fresh":
                return (Timer("is no longer fresh", line.below(line.way), line.below(line.way)),)
            case "gap":
                return (Timer("is taken", line.k * line.way - line.below(line.way), int(line.strict)),)
            case "collision":
                return (Timer("is told", 0, line.below(line.told)),)
        return ()

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        match local:
            case "fresh":
                return (Choice("gap"),)
            case "gap":
                return (Choice("taken"),)
        return (Choice("idle", ("told",)),)

    def heard(local: Local, signal: str, reads: Reads) -> tuple[Choice, ...]:
        if signal.startswith("end"):
            return (Choice("idle"),)
        match local:
            case "idle":
                return (Choice("fresh"),)
            case "fresh":
                return (Choice("collision"),)
        return (Choice(local, (signal.replace("begin", "busy"),)),)

    return Part(
        "bus", "device", "idle", publishes=("bus",), shown=lambda local: (local,), armed=armed, expired=expired,
        sends=("told",), heard=heard,
        takes={"begin 1": ("busy 1",), "begin 2": ("busy 2",), "end 1": (), "end 2": ()},
    )  # fmt: skip


def station(number: int, line: Line) -> Part:
    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        begins = () if reads["bus"] in ("gap", "collision") else (Timer("begins", 0, FOREVER),)
        match local:
            case "waits":
                return begins
            case "sends":
                return (Timer("ends", line.k * line.message, line.k * line.message),)
            case "tries again":
                return (*begins, Timer("must begin", line.below(line.again), line.below(line.again)))
        return ()

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        match timer:
            case "begins":
                return (Choice("sends", (f"begin {number}",)),)
            case "ends":
                return (Choice("waits", (f"end {number}",)),)
        return (Choice("blocked"),)

    def heard(local: Local, signal: str, reads: Reads) -> tuple[Choice, ...]:
        if local == "sends" or (local == "tries again" and signal == "told"):
            return (Choice("tries again", restart=("must begin",)),)
        return (Choice(local),)

    return Part(
        f"station {number}", "device", "waits", reads=("bus",), publishes=(f"station {number}",),
        shown=lambda local: (local,), armed=armed, expired=expired, sends=(f"begin {number}", f"end {number}"),
        takes={f"busy {number}": (), "told": ()}, heard=heard,
    )  # fmt: skip


def watch(age: int, line: Line) -> Part:
    """Whether station 1 began so many microseconds ago or longer, and wasn't told since."""
    return Part(
        "watch", "device", "off",
        armed=lambda local, reads: (Timer("is old", line.k * age, line.k * age),) if local == "young" else (),
        expired=lambda local, timer, reads: (Choice("old"),),
        takes={"begin 1": (), "busy 1": (), "end 1": (), "told": ()},
        heard=lambda local, signal, reads: (
            (Choice("young", restart=("is old",)),) if signal == "begin 1" else (Choice("off"),)
        ),
    )  # fmt: skip


def parts(line: Line, age: int) -> tuple[Part, ...]:
    return (bus(line), station(1, line), station(2, line), watch(age, line))


def both_for_long(before: Locals, after: Locals) -> bool:
    return after[1:] == ("sends", "sends", "old")


def long_alone(before: Locals, after: Locals) -> bool:
    """A message is sent to its end while the other is held off."""
    return before[1:3] == ("sends", "tries again") and after[1] == "waits"


def can_both_send(line: Line, age: int) -> bool:
    """Whether both can send when station 1 began `age` us ago; a line on which nothing is ever sent wouldn't count."""
    model = Model(parts(line, age))

    def bad(model: Model, before: Situation, move: Move) -> bool:
        return both_for_long(before, move.situation)

    def good(model: Model, before: Situation, move: Move) -> bool:
        return long_alone(before, move.situation)

    found = explore(model, [bad, good], 20_000)
    path, alone = found.paths
    assert alone is not None
    assert path is not None or (found.complete and not found.stuck)
    if path is not None:
        assert tell(model, path).beats[-1].after[1:] == ("sends", "sends", "old")
    return path is not None


@pytest.mark.parametrize("k", [8, 16])
@pytest.mark.parametrize(
    ("age", "possible"), [(0, True), (26, True), (51, True), (52, False), (53, False), (808, False)]
)
def test_both_send_for_less_than_twice_the_way(age: int, possible: bool, k: int) -> None:
    """Both can have sent for 51 us, never for 52 (Yovine 1997; constants and bound from memory, recomputed)."""
    assert can_both_send(Line(k=k), age) is possible


@pytest.mark.parametrize(("age", "possible"), [(52, True), (53, False)])
def test_with_closed_limits_52_is_possible(age: int, possible: bool) -> None:
    """26 and 26 add up to 52 if both may be reached (plain arithmetic on the published model)."""
    assert can_both_send(Line(strict=False), age) is possible


@pytest.mark.parametrize(("way", "told"), [(25, 26), (26, 25), (10, 40), (27, 26), (26, 27)])
def test_the_law_behind_it(way: int, told: int) -> None:
    """Less than the way and the time to tell, added (plain arithmetic on the published model)."""
    line = Line(way=way, told=told)
    assert [can_both_send(line, age) for age in (way + told - 1, way + told)] == [True, False]


@pytest.mark.parametrize("strict", [True, False])
def test_whole_units_give_the_same(strict: bool) -> None:
    """A smaller line, by brute force: ways of 3, messages of 9, tried again within 6; a bound of 6."""
    for k in (1, 2, 5):
        line = Line(3, 9, k, strict, 6, 3)
        for age in (4, 5, 6, 7):
            answer = search(parts(line, age), [both_for_long, long_alone], 60_000)
            assert answer.costs[1] is not None
            assert (answer.costs[0] is not None) == can_both_send(line, age), (k, age)
            assert k < 5 or can_both_send(line, age) == (age < 6 if strict else age <= 6)
