"""Whatever is done to the shipped firmwares: no finding, the inputs stand in the recording, and it comes out the same."""

from __future__ import annotations

from pathlib import Path

import pytest

from nudgeproof.rig.build import build
from nudgeproof.rig.run import run
from nudgeproof.rig.stimulus import read_stimulus
from tests.rig.devices import Act, act, build_shipped, settings_of, turns
from tests.rig.presses import BOUNCE_US, use


@pytest.mark.parametrize("device", BOUNCE_US)
def test_any_use_is_recorded_as_it_was_done(device: str, tmp_path: Path) -> None:
    program, settings = build_shipped(device, tmp_path), settings_of(device)
    answers = set()
    for seed in range(20):
        stimulus = use(device, seed)
        result = run(program, settings, stimulus)
        assert not result.finding, (seed, result)
        # What is read back from the recording is what was done.
        assert read_stimulus(result.recording, "r.csv", settings) == stimulus
        assert run(program, settings, read_stimulus(result.recording, "r.csv", settings)) == result
        answers.add(result.recording)
    assert len(answers) == 20


PLAIN: dict[str, list[Act]] = {
    "rain-cover-light": [
        (500, 1500, "pad"),
        (2500, 100, "pad"),
        (2700, 100, "pad"),
        (4000, 150, "pad"),
        (6000, 30, "supply"),
    ],
    "moisture-meter": [(500, 800, "key"), (3000, 100, "key"), (8000, 1000, "key")],
    "seed-tray-timer": [(500, 100, "plus"), (1500, 1300, "go"), (4000, 100, "plus")],
    "trail-counter": [(500, 5, "footfall"), (1500, 1400, "key"), (4000, 2000, "supply"), (7000, 1400, "key")],
}


@pytest.mark.parametrize("device", PLAIN)
def test_where_time_passes_in_calls_alone_it_does_the_same(device: str, tmp_path: Path) -> None:
    settings = settings_of(device)
    programs = (build_shipped(device, tmp_path), build(settings, tmp_path, use_blocks=False))
    results = [run(program, settings, act(PLAIN[device])) for program in programs]
    for channel in settings.channels:
        if channel.kind == "out":
            (first, second) = (turns(result, channel.name) for result in results)
            assert [level for _, level in first] == [level for _, level in second]
            # Their moments may differ by a look of the firmware.
            assert all(abs(a - b) < 25_000 for (a, _), (b, _) in zip(first, second, strict=True))
    assert any(turns(results[0], channel.name) for channel in settings.channels if channel.kind == "out")
