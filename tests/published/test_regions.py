"""How many regions clocks have, and that scaling by one more than their number tells all of them apart.

Two readings of some clocks are in one region if no clock differs in its whole part or in whether it stands at a whole
number, and the fractions come in the same order; past its largest constant a clock counts for nothing more. Source: R. Alur,
D. Dill, "A theory of timed automata", Theoretical Computer Science 126, 1994, section 4.3; 28 regions for constants 2 and 1
is the example there; from memory, and all numbers recomputed, see `count`.

Nothing in the tool computes regions. But the modules beside this one turn strict limits into closed ones by scaling, and
here is why they may: clocks that begin when they like are read when somebody likes, with every strict limit so rewritten,
and what the explorer finds to be possible are the regions, no more and no fewer. With a smaller scale some of them are lost.

A clock that is between two whole numbers is at least one unit away from both. Fractions are told apart by which clock comes
to its next whole number first, at least one unit before the next one, or at the same instant.
"""

from __future__ import annotations

from itertools import product

import pytest

from nudgeproof.engines.explore import explore
from nudgeproof.model.step import Move
from nudgeproof.model.tables import Choice, Local, Model, Part, Reads, Situation, Timer
from nudgeproof.units import FOREVER
from tests.oracle.brute import search

REGIONS: dict[tuple[int, ...], int] = {(2, 1): 28, (1,): 4, (2,): 6, (3,): 8, (1, 1): 18, (2, 2): 44, (1, 1, 1): 94}
BUDGET = 60_000


def clock(index: int, largest: int, k: int) -> Part:
    """Local state: off; (at, n), for an instant; (leaves, n); (between, n); (comes, n) to n + 1; beyond."""
    name = f"clock {index}"

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        awaited = reads["awaited"]
        assert isinstance(awaited, tuple)
        if local == "beyond" or index not in awaited:
            return ()
        if local == "off":
            return (Timer("starts", 0, FOREVER),)
        assert isinstance(local, tuple)
        lasts = {"at": 0, "leaves": 1, "between": k - 2, "comes": 1}[local[0]]
        return (Timer(f"{local[0]} {local[1]} no longer", lasts, lasts),)

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        if local == "off":
            return (Choice(("at", 0)),)
        assert isinstance(local, tuple)
        match local:
            case ("at", n):
                return (Choice(("leaves", n)),)
            case ("leaves", n):
                return (Choice("beyond" if n == largest else ("between", n)),)
            case ("between", n):
                return (Choice(("comes", n), (f"comes {index}",)),)
        return (Choice(("at", local[1] + 1)),)

    return Part(
        name, "device", "off", reads=("awaited",), publishes=(name,), shown=lambda local: (local,), armed=armed,
        expired=expired, sends=(f"comes {index}",),
    )  # fmt: skip


def reader(n: int) -> Part:
    """Local state: (phase, what the clocks showed, those that came to a whole number since, in groups)."""

    def pending(local: Local) -> tuple[int, ...]:
        """The clocks that are waited for; all, before they were read."""
        assert isinstance(local, tuple)
        phase, shown, groups = local
        if phase == "not read":
            return tuple(range(n))
        came = [i for group in groups for i in group]
        return tuple(i for i in range(n) if phase != "lost" and shown[i][0] == "between" and i not in came)

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        assert isinstance(local, tuple)
        phase = local[0]
        if phase == "not read":
            told = all(value == "beyond" or value[0] in ("at", "between") for value in reads.values())  # type: ignore[index]
            return (Timer("reads", 0, FOREVER),) if told else ()
        waits = {"now": (Timer("the instant is over", 0, 0),), "soon": (Timer("a unit has passed", 1, 1),)}
        return waits.get(phase, ()) if pending(local) else ()

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        assert isinstance(local, tuple)
        phase, shown, groups = local
        if phase == "not read":
            return (Choice(("later", tuple(reads.values()), ())),)
        return (Choice(("soon" if phase == "now" else "later", shown, groups)),)

    def heard(local: Local, signal: str, reads: Reads) -> tuple[Choice, ...]:
        assert isinstance(local, tuple)
        phase, shown, groups = local
        index = int(signal.removeprefix("comes "))
        match phase:
            case "not read":
                return (Choice(local),)
            case "later":
                return (Choice(("now", shown, (*groups, frozenset((index,))))),)
            case "now":
                return (Choice(("now", shown, (*groups[:-1], groups[-1] | {index}))),)
        return (Choice(("lost", shown, groups)),)

    return Part(
        "reader", "device", ("not read", (), ()), reads=tuple(f"clock {i}" for i in range(n)), publishes=("awaited",),
        shown=lambda local: (pending(local),), armed=armed, expired=expired, heard=heard,
        takes={f"comes {i}": () for i in range(n)},
    )  # fmt: skip


def clocks(largest: tuple[int, ...], k: int) -> tuple[Part, ...]:
    n = len(largest)
    return (*(clock(i, c, k) for i, c in enumerate(largest)), reader(n))


def region(reader: object) -> tuple[object, object] | None:
    """What was read, once it is complete: whole parts and the order of fractions."""
    assert isinstance(reader, tuple)
    phase, shown, groups = reader
    between = sum(value[0] == "between" for value in shown)
    complete = phase not in ("not read", "lost") and sum(map(len, groups)) == between
    return (shown, groups) if complete else None


def found_by_the_explorer(largest: tuple[int, ...], k: int) -> set[object]:
    seen: set[object] = set()

    def note(model: Model, before: Situation, move: Move) -> bool:
        seen.add(region(move.situation[-1]))
        return False

    assert explore(Model(clocks(largest, k)), [note], BUDGET).complete
    return seen - {None}


def count(largest: tuple[int, ...]) -> int:
    """The regions that points on a fine grid are in, by the definition (plain arithmetic)."""
    k = 2 * len(largest) + 1
    kinds = set()
    for point in product(*(range(k * c + 2) for c in largest)):
        near = [(x, x % k) for x, c in zip(point, largest, strict=True) if x <= k * c]
        wholes = tuple((x // k, x % k == 0) if x <= k * c else None for x, c in zip(point, largest, strict=True))
        kinds.add((wholes, tuple(f < g for _, f in near for _, g in near)))
    return len(kinds)


@pytest.mark.parametrize("largest", REGIONS, ids=str)
def test_as_many_regions_as_published(largest: tuple[int, ...]) -> None:
    """28 for constants 2 and 1 (Alur and Dill 1994, 4.3; from memory); this and the others are recomputed."""
    assert count(largest) == REGIONS[largest]
    assert len(found_by_the_explorer(largest, len(largest) + 1)) == REGIONS[largest]


@pytest.mark.parametrize("largest", [(2,), (1, 1), (2, 1)], ids=str)
def test_the_same_regions_by_whole_units_and_with_a_larger_scale(largest: tuple[int, ...]) -> None:
    """What the explorer finds on its own is what the oracle finds (the same source, recomputed)."""
    k = len(largest) + 1
    found = found_by_the_explorer(largest, k)
    assert found_by_the_explorer(largest, 2 * k) == found
    by_units = {region(situation[-1]) for situation in search(clocks(largest, k), [], BUDGET).situations}
    assert by_units - {None} == found


@pytest.mark.parametrize("largest", [(1, 1), (2, 1), (1, 1, 1)], ids=str)
def test_a_smaller_scale_loses_some(largest: tuple[int, ...]) -> None:
    """With as many units in one as there are clocks their fractions can't all differ (plain arithmetic)."""
    assert 0 < len(found_by_the_explorer(largest, len(largest))) < REGIONS[largest]
