"""The shipped firmwares do what their specs say, and each planted fault shows in a recording."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import pytest

from nudgeproof.rig.build import Program
from nudgeproof.rig.run import Run, run
from tests.rig.devices import Act, act, build_shipped, settings_of, turns

LIGHT, METER, TIMER, COUNTER = "rain-cover-light", "moisture-meter", "seed-tray-timer", "trail-counter"
ON: tuple[Act, ...] = ((500, 1500, "pad"), (2500, 100, "pad"), (2700, 100, "pad"))
"""A hold and two taps: the light glows."""


@dataclass(frozen=True, slots=True)
class Shown:
    """What shows a fault: acts, until when, and what the clock shows at a start; or acts that are tried at several moments.

    `from_sleep`: these count from when the faulty firmware, left alone, falls asleep.
    """

    acts: Sequence[Act]
    until_ms: float = 0
    clock_starts_us: int = 0
    repeats: Callable[[float], Sequence[Act]] | None = None
    moments: Sequence[float] = ()
    from_sleep: bool = False


FAULTS = {
    (LIGHT, "G03-hold-release-not-consumed"): Shown([*ON[:1], (2500, 100, "pad")]),
    (LIGHT, "W10-flag-not-cleared"): Shown([(500, 100, "pad"), (1500, 1500, "pad")]),
    (LIGHT, "W09-check-then-sleep-race"): Shown(
        [], repeats=lambda at: [(at, 1500, "pad")], moments=[i / 1000 for i in range(-20, 6)], from_sleep=True
    ),
    (LIGHT, "G17-elapsed-time-in-16-bits"): Shown(ON, 4.4 * 60 * 60 * 1000),
    (LIGHT, "G16-absolute-deadline-at-wrap"): Shown([(500, 1500, "pad")], clock_starts_us=(2**32 - 2500) * 1000),
    (LIGHT, "G05-filter-on-one-edge"): Shown([(500, 600, "pad"), (1103, 900, "pad")]),
    (LIGHT, "P10-marker-before-data"): Shown(
        [], repeats=lambda cut: [*ON, (4000, 100, "pad"), (4385 + cut, 200, "supply")],
        moments=[i / 4 for i in range(-20, 4)],
    ),
    (LIGHT, "P12-save-on-every-press"): Shown(ON),
    (LIGHT, "P17-restore-unchecked"): Shown(ON),
    (LIGHT, "W06-held-at-power-up-counts"): Shown([(0, 1500, "pad")]),
    (TIMER, "W02-short-presses-add-up"): Shown(
        [(500, 100, "plus"), *((1000 + 600 * i, 400, "go") for i in range(4))]
    ),
    (TIMER, "G13-release-after-chord-acts"): Shown(
        [(500, 100, "plus"), (1000, 100, "go"), (1040, 100, "plus"), (2000, 1300, "go")]
    ),
    (TIMER, "P18-pump-on-after-power-cut"): Shown([(500, 100, "plus"), (1000, 50, "supply")]),
    (METER, "G15-release-unseen-while-deaf"): Shown([(500, 44, "key")], 4000),
    (METER, "P21-latch-taken-late"): Shown([(500, 120, "key")]),
    (METER, "W18-timeout-not-restarted"): Shown([(500, 800, "key"), (20_000, 100, "key")], 60_000),
    (COUNTER, "G10-deaf-while-fading"): Shown(
        [(500, 1400, "key"), (3000, 5, "footfall"), (2995, 60, "key"), (3200, 1400, "key"), (6500, 1400, "key")]
    ),
    (COUNTER, "G11-footfalls-as-a-flag"): Shown(
        [(500, 1400, "key"), (3000, 5, "footfall"), (3010, 5, "footfall"), (3020, 5, "footfall")]
    ),
    (COUNTER, "W05-tap-count-survives-the-hold"): Shown(
        [(500, 5, "footfall"), (1000, 1400, "key"), (3000, 100, "key"), (5000, 1400, "key"), (8000, 1400, "key")]
    ),
}  # fmt: skip


def press(device: str, program: Program, shown: Shown) -> list[Run]:
    settings = replace(settings_of(device), clock_starts_us=shown.clock_starts_us)
    every = [shown.repeats(moment) for moment in shown.moments] if shown.repeats else [shown.acts]
    return [run(program, settings, act(acts, shown.until_ms)) for acts in every]


def press_both(device: str, fault: str, folder: Path) -> tuple[list[Run], list[Run], Program, Shown]:
    """The sound firmware and the faulty one through the same acts."""
    sound, faulty, shown = build_shipped(device, folder), build_shipped(device, folder, fault), FAULTS[device, fault]
    if shown.from_sleep:
        asleep, _ = turns(run(faulty, settings_of(device), act([], 1000)), "asleep")[0]
        shown = replace(shown, moments=[asleep / 1000 + moment for moment in shown.moments])
    return press(device, sound, shown), press(device, faulty, shown), sound, shown


@pytest.mark.parametrize(("device", "fault"), FAULTS, ids=["/".join(fault) for fault in FAULTS])
def test_fault_builds_and_shows(device: str, fault: str, tmp_path: Path) -> None:
    sound, faulty, program, shown = press_both(device, fault, tmp_path)
    assert not any(result.finding for result in sound)
    differing = [a for a, b in zip(sound, faulty, strict=True) if (a.recording, a.memory) != (b.recording, b.memory)]
    assert differing
    # The sound one does the same again, to the byte.
    assert press(device, program, replace(shown, moments=shown.moments[:1]))[0] == sound[0]


def test_a_press_between_the_last_look_and_sleep_is_lost_only_with_the_fault(tmp_path: Path) -> None:
    sound, faulty, _, _ = press_both(LIGHT, "W09-check-then-sleep-race", tmp_path)
    assert all(turns(result, "glow") for result in sound)
    assert 0 < sum(not turns(result, "glow") for result in faulty) < len(faulty)


def test_a_write_that_was_cut_leaves_the_light_as_it_was_only_without_the_fault(tmp_path: Path) -> None:
    sound, faulty, _, _ = press_both(LIGHT, "P10-marker-before-data", tmp_path)
    assert all(turns(result, "low")[-1][1] or turns(result, "high")[-1][1] for result in sound)
    assert any(not turns(result, "low")[-1][1] and not (turns(result, "high") or [(0, 0)])[-1][1] for result in faulty)


def shipped(device: str, folder: Path, acts: Sequence[Act], until_ms: float = 0) -> Run:
    result = run(build_shipped(device, folder), settings_of(device), act(acts, until_ms))
    assert not result.finding, result
    return result


def test_light(tmp_path: Path) -> None:
    result = shipped(
        LIGHT, tmp_path, [*ON, (4000, 150, "pad"), (6000, 150, "pad"), (9000, 100, "pad"), (9200, 1500, "pad")]
    )
    first = [turns(result, name)[0][0] for name in ("glow", "low", "high", "blink")]
    assert first == sorted(first)
    # From the first edge: debounce, hold, and at most the tick that comes after each.
    assert 500_000 + 1_215_000 <= first[0] <= 500_000 + 1_230_000
    assert [turns(result, name)[-1][1] for name in ("glow", "low", "high", "blink")] == [0, 0, 0, 0]


def test_light_goes_out_by_itself_after_four_hours(tmp_path: Path) -> None:
    hours = 60 * 60 * 1000
    result = shipped(LIGHT, tmp_path, ON, 4.1 * hours)
    on, off = (at for at, _ in turns(result, "low"))
    assert 4 * hours * 1000 <= off - on <= 4 * hours * 1000 + 105_000


def test_light_comes_back_as_it_was(tmp_path: Path) -> None:
    result = shipped(LIGHT, tmp_path, [*ON, (4000, 150, "pad"), (6000, 30, "supply")])
    (cut, off), (back, on) = turns(result, "high")[-2:]
    assert (cut, off, on) == (6_005_000, 0, 1)
    assert 6_100_000 < back <= 6_100_100


def test_meter(tmp_path: Path) -> None:
    acts = [(500, 800, "key"), (3000, 100, "key"), (5000, 1500, "low cell"), (8000, 1000, "key")]
    result = shipped(METER, tmp_path, acts, 60_000)
    assert [level for _, level in turns(result, "percent")] == [1, 0]
    assert [level for _, level in turns(result, "grade")] == [1, 0]
    assert [level for _, level in turns(result, "warning")] == [1, 0]
    assert turns(result, "latch")[-1] == (turns(result, "grade")[-1][0], 0)


def test_meter_switches_itself_off(tmp_path: Path) -> None:
    result = shipped(METER, tmp_path, [(500, 800, "key")], 60_000)
    on, off = (at for at, _ in turns(result, "percent"))
    assert 30_000_000 <= off - on <= 30_002_000


def test_timer(tmp_path: Path) -> None:
    acts = [(500, 100, "plus"), (900, 100, "plus"), (1500, 1300, "go")]
    result = shipped(TIMER, tmp_path, acts, 150_000)
    on, off = (at for at, _ in turns(result, "pump"))
    assert 119_990_000 <= off - on <= 120_010_000


def test_timer_keeps_the_rest_and_stays_off_after_a_cut(tmp_path: Path) -> None:
    acts = [(500, 100, "plus"), (900, 100, "plus"), (1500, 1300, "go"), (70_000, 50, "supply"), (71_000, 1300, "go")]
    result = shipped(TIMER, tmp_path, acts, 150_000)
    (on, _), (cut, _), (again, _), (off, _) = turns(result, "pump")
    assert cut == 70_010_000
    assert on < cut < 71_000_000 < again
    assert 59_990_000 <= off - again <= 60_010_000


def test_counter(tmp_path: Path) -> None:
    acts = [(500, 5, "footfall"), (900, 5, "footfall"), (1500, 1400, "key"), (4000, 2000, "supply"), (7000, 1400, "key"),
            (10_000, 100, "key"), (10_300, 1400, "key"), (13_000, 1400, "key")]  # fmt: skip
    result = shipped(COUNTER, tmp_path, acts)
    assert [level for _, level in turns(result, "two")] == [1, 0, 1, 0]
    assert len(turns(result, "zero")) == 1
    assert not turns(result, "one")
