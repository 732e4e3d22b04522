"""The times of stories against a linear programme that is solved by a general solver (see `programmes`).

A sample; `python -m tests.agreement.storytimes` compares the stories of all shipped specs and of many random devices.
"""

from __future__ import annotations

from collections import Counter

import pytest

from nudgeproof.engines.story import confirm
from nudgeproof.specimens import path_of
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
    told = [one for seed in range(15) for one in of_small_model(seed)]
    assert [line for one in told for line in compare(one, did)] == []
    assert did["stories"] >= 25


def test_worse_times_are_told_apart() -> None:
    """The earliest times of a story with room aren't its best ones."""
    ((name, device),) = shipped("failures/accidental-change/broken.yaml")
    _, model, story, _ = next(told for told in stories_of(device, name) if told[2].room_us)
    actions = [number for number, beat in enumerate(story.beats, start=1) if beat.actions]
    best = solve(bounds_of(model.parts, story.beats), len(story.beats) + 1, actions, len(story.beats) + 1)
    soon = confirm(model, path_of(model, story))
    assert best.room_us == story.room_us
    assert sum(times(soon)) < sum(times(story)) == best.total_us
