"""Crossing a bridge at night with one torch, two at a time: the least total time.

Source: G. Rote, "Crossing the bridge at night", Bulletin of the EATCS 78 (2002); the 60-minute version is a standard
tutorial example for timed automata; from memory, least times recomputed.
"""

from __future__ import annotations

from itertools import combinations

import pytest

from nudgeproof.engines.explore import explore
from nudgeproof.engines.story import tell
from nudgeproof.model.step import Move
from nudgeproof.model.tables import Choice, Local, Model, Part, Reads, Situation, Timer
from nudgeproof.units import FOREVER


def walker(name: str) -> Part:
    """Local state: on the far side or not. Takes `go NAME`: changes sides (it arrives with the torch)."""
    return Part(
        name,
        "person",
        False,
        publishes=(f"{name} is over",),
        shown=lambda local: (local,),
        takes={f"over {name}": ()},
        heard=lambda local, signal, reads: (Choice(not local),),
    )


def torch(speeds: dict[str, int]) -> Part:
    """Local state: (over, who carries it), with no carriers while it rests. It may rest for ever."""

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        _, carriers = split(local)
        if not carriers:
            return (Timer("sets off", 0, FOREVER),)
        slowest = max(speeds[name] for name in carriers)
        return (Timer(f"arrives after {slowest}", slowest, slowest),)

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        over, carriers = split(local)
        if carriers:
            return (Choice((not over, ()), tuple(f"over {name}" for name in carriers)),)
        here = [name for name in speeds if reads[f"{name} is over"] == over]
        return tuple(
            Choice((over, group), says=" and ".join(group)) for size in (1, 2) for group in combinations(here, size)
        )

    return Part(
        "torch",
        "device",
        (False, ()),
        reads=tuple(f"{name} is over" for name in speeds),
        armed=armed,
        expired=expired,
        sends=tuple(f"over {name}" for name in speeds),
    )


def split(local: Local) -> tuple[bool, tuple[str, ...]]:
    assert isinstance(local, tuple)
    over, carriers = local
    return over, carriers


def deadline(at: int) -> Part:
    return Part(
        "deadline",
        "device",
        "in time",
        armed=lambda local, reads: (Timer("deadline", at, at),) if local == "in time" else (),
        expired=lambda local, timer, reads: (Choice("late"),),
    )


def all_over_in_time(model: Model, before: Situation, move: Move) -> bool:
    return all(move.situation[:-2]) and move.situation[-1] == "in time"


@pytest.mark.parametrize(
    ("times", "least"),
    [((5, 10, 20, 25), 60), ((1, 2, 5, 10), 17), ((1, 2, 5, 8), 15), ((1, 2, 4, 6, 10), 22), ((1, 3, 6, 8, 12), 29)],
    ids=str,
)
def test_least_time(times: tuple[int, ...], least: int) -> None:
    """All over at the least time, and never one unit earlier (Rote 2002; least times from memory, recomputed)."""
    speeds = {f"walker {time}": time for time in times}
    verdicts = []
    for limit in (least, least - 1):
        model = Model((*map(walker, speeds), torch(speeds), deadline(limit)))
        found = explore(model, [all_over_in_time], 60_000)
        (path,) = found.paths
        assert path is not None or found.complete
        verdicts.append(path is not None)
        if path is not None:
            story = tell(model, path)
            assert story.beats[-1].at_us == least
            assert len(story.beats) == 2 * (2 * len(times) - 3), "there and back, a start and an arrival each"
    assert verdicts == [True, False]
