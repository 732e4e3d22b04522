"""The times of stories against a linear programme that is solved by a general solver (see `programmes`).

A sample; `python -m tests.agreement.storytimes` compares the stories of all shipped specs and of many random devices.
"""

from __future__ import annotations

from collections import Counter

import pytest

from nudgeproof.engines.explore import explore
from nudgeproof.engines.story import NOTHING_MORE, confirm, tell
from nudgeproof.model.tables import Choice, Local, Model, Part, Reads, Timer
from nudgeproof.specimens import path_of
from nudgeproof.units import FOREVER
from tests.agreement.programmes import bounds_of, solve
from tests.agreement.storytimes import compare, of_small_model, shipped, stories_of, times

FOLDERS = ("accidental-change", "held-at-power-up", "misread-gesture", "lost-state", "field/sluggish-filter")


@pytest.mark.parametrize("folder", FOLDERS)
def test_stories_of_shipped_specs_have_the_best_times(folder: str) -> None:
    did: Counter[str] = Counter()
    ((name, device),) = shipped(f"failures/{folder}/broken.yaml")
    assert [line for told in stories_of(device, name) for line in compare(told, did)] == []
    assert did["with the times that `check` told"] == did["stories"] >= 1


def test_stories_of_small_models_have_the_best_times() -> None:
    did: Counter[str] = Counter()
    told = [one for seed in range(12) for one in of_small_model(seed)]
    assert [line for one in told for line in compare(one, did)] == []
    assert did["stories"] >= 20


def three_actions(apart_us: int, end_us: int) -> tuple[Part, ...]:
    """The first after 99 to 101 ms, the second whenever, the third at least `apart_us` later; it counts at `end_us`."""
    waits = (Timer("first", 99_000, 101_000), Timer("second", 0, FOREVER), Timer("third", apart_us, FOREVER))

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        assert isinstance(local, int)
        return waits[local : local + 1]

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        assert isinstance(local, int)
        return (Choice(local + 1, actions=1),)

    return (
        Part("person", "person", 0, armed=armed, expired=expired),
        Part(
            "clock", "device", "early",
            armed=lambda local, reads: (Timer("strikes", end_us, end_us),) if local == "early" else (),
            expired=lambda local, timer, reads: (Choice("late"),),
        ),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("apart_us", "end_us", "expected"),
    [
        (0, 330_000, [100_000, 200_000, 300_000, 330_000]),
        (60_000, 410_000, [100_000, 150_000, 300_000, 410_000]),
    ],
)
def test_what_room_is_left_goes_to_each_action_in_turn(apart_us: int, end_us: int, expected: list[int]) -> None:
    """The first action can have 1 ms of room, the second 100 ms; the third has 20 and 50 ms of what is left then.

    Half of that is kept: on a grid of 100 ms in the first case, not in the second, where 410 - 400 ms are less than 25 ms.
    """
    model = Model(three_actions(apart_us, end_us))
    (path,) = explore(model, [lambda model, before, move: before == (3, "early")], 100).paths
    assert path is not None
    story = tell(model, path)
    assert times(story) == expected
    assert list(compare(("three actions", model, story, NOTHING_MORE), Counter())) == []


def test_worse_times_are_told_apart() -> None:
    """The earliest times of a story with room aren't its best ones."""
    ((name, device),) = shipped("failures/accidental-change/broken.yaml")
    _, model, story, _ = next(told for told in stories_of(device, name) if told[2].room_us)
    actions = [number for number, beat in enumerate(story.beats, start=1) if beat.actions]
    best = solve(bounds_of(model.parts, story.beats), len(story.beats) + 1, actions, len(story.beats) + 1)
    soon = confirm(model, path_of(model, story))
    assert best.room_us == story.room_us
    assert sum(times(soon)) < sum(times(story)) == best.total_us
