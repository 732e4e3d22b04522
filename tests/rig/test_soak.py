"""What soaking the shipped firmwares found, and that it finds it: they conform now, and as they were they are refused."""

from __future__ import annotations

from pathlib import Path

import pytest

from nudgeproof.firmware.acts import BUTTON, EVENT, Act, Acts
from nudgeproof.firmware.monitor import BUDGET
from nudgeproof.firmware.outcome import Result, follow
from tests.firmware.soak import Soaked, soak
from tests.rig.devices import FIRMWARE

BLIP: Acts = (
    Act(BUTTON, "plus", 70_073, 23_000),
    Act(BUTTON, "go", 94_349, 1_145_000),
    Act(BUTTON, "plus", 1_193_421, 23_000),
    Act(BUTTON, "plus", 1_236_421, 20),
)
"""A closing of 20 us in the debounce of a release falls between two looks."""

STEP: Acts = (
    Act(EVENT, "footfall", 131_000, 4_000),
    Act(BUTTON, "key", 135_000, 1_056_928, (2_988, 5_772)),
    Act(EVENT, "footfall", 1_211_928, 2_000),
)
"""A footfall while the digit fades in."""

FOUND = {
    "seed-tray-timer": ("timer.c", "    if (had_edge[i]) had_edge[i] = key->count = 0;\n", "", BLIP, 1_300_000),
    "trail-counter": ("counter.c", "while (wantsChange) fade();", "if (wantsChange) fade();", STEP, 1_250_000),
}


@pytest.mark.parametrize("name", FOUND)
def test_what_was_refused_conforms_now_and_is_still_refused_as_it_was(name: str, tmp_path: Path) -> None:
    source, new, old, acts, end_us = FOUND[name]
    text = (FIRMWARE / name / source).read_text(encoding="utf-8")
    assert text.count(new) == 1
    (tmp_path / source).write_text(text.replace(new, old), encoding="utf-8")
    for one, wanted in (
        (Soaked(name, 0), Result.CONFORMS),
        (Soaked(name, 0, folder=tmp_path), Result.REFUSED),
    ):
        recording = one.perform(acts, end_us).recording
        assert follow(one.device, one.what, recording, BUDGET, grounds=one.grounds).result is wanted


def test_a_soak_goes_on_until_it_is_enough_and_tells_what_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (done,) = soak(60, 4, ("seed-tray-timer",))
    assert done.edges >= 60
    assert not done.failed
    assert set(done.came) == {"conforms"}
    text = (FIRMWARE / "seed-tray-timer" / "timer.c").read_text(encoding="utf-8")
    (tmp_path / "timer.c").write_text(text.replace("HELD_MS 1000", "HELD_MS 900"), encoding="utf-8")
    one = Soaked("seed-tray-timer", 4, folder=tmp_path)
    while not one.failed:
        assert one.edges < 200
        one.step()
    told = capsys.readouterr().out
    assert "refused at" in told
    assert "go closed for" in told
