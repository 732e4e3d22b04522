"""Measuring: the times of a torch that is known are found, and the spec that is written of it is met by it."""

from __future__ import annotations

import pytest

from nudgeproof.firmware.mapping import read_map
from nudgeproof.firmware.trials import run_trials
from nudgeproof.measuring.bench import Bench, Misbehaves
from nudgeproof.measuring.exploring import Explorer
from nudgeproof.measuring.measured import Measured, Range
from nudgeproof.measuring.measurer import Measurer
from nudgeproof.measuring.starter import Starter
from nudgeproof.measuring.starter_map import write_map
from nudgeproof.spec.read import read_device
from tests.measuring.torch import Torch


def measure(torch: Torch) -> Measured:
    bench = Bench(torch.perform, ("dim", "bright"), ("key",), longest_us=30_000_000)
    return Measurer(bench, Explorer(bench)).measure()


def near(found: Range | None, lo: int, hi: int | None = None) -> bool:
    """Whether a range holds the true time, and isn't wider than a few steps of the resolution."""
    hi = lo if hi is None else hi
    return (
        found is not None
        and found.lo <= lo + 1_100
        and found.hi >= hi - 1_100
        and found.hi - found.lo <= hi - lo + 5_000
    )


def texts(done: Measured) -> tuple[str, str]:
    starter = Starter(done, "torch", 1_000)
    return starter.spec(), write_map(starter)


@pytest.fixture(scope="module")
def measured() -> Measured:
    return measure(Torch())


def test_the_times_of_a_torch_are_found(measured: Measured) -> None:
    torch, facts = Torch(), {fact.move.name: fact for fact in measured.facts}
    assert len(measured.explorer.spots) == 3
    assert set(facts) >= {"hold", "tap", "two taps"}
    assert near(measured.reader("key").closing, torch.filter_us)
    assert near(measured.reader("key").opening, torch.filter_us)
    assert near(facts["hold"].held, torch.held_us)
    assert (facts["hold"].acts_at, facts["tap"].acts_at) == ("threshold", "pause")
    assert near(facts["tap"].press, torch.press_us)
    assert near(facts["two taps"].between, torch.between_us)
    assert all(near(lapse.after, torch.off_us) for lapse in measured.lapses)
    assert len(measured.lapses) == 2
    assert near(measured.boot, torch.boot_us)
    assert measured.held_counts is False
    assert near(measured.hold_up, torch.hold_up_us)


@pytest.mark.parametrize(
    "torch", [Torch(), Torch(filter_us=7_000, press_us=900_000, between_us=500_000, held_us=2_200_000, keeps=True)]
)
def test_a_spec_is_written_that_the_torch_meets(torch: Torch) -> None:
    spec, map_text = texts(measure(torch))
    device = read_device(spec, "torch.yaml")
    what, _ = read_map(map_text, "map.yaml", device)
    assert (device.memory is not None) == torch.keeps
    trial = run_trials(device, what, torch.perform, 60)
    assert trial.failed is None, trial.failed
    assert trial.conforming
    assert trial.covered


def test_a_torch_whose_hold_is_longer_is_refused_by_it(measured: Measured) -> None:
    spec, map_text = texts(measured)
    device = read_device(spec, "torch.yaml")
    what, _ = read_map(map_text, "map.yaml", device)
    assert run_trials(device, what, Torch(held_us=1_040_000).perform, 200, most=20).failed is not None


def test_the_same_is_measured_twice(measured: Measured) -> None:
    assert texts(measure(Torch())) == texts(measured)


def test_what_crashes_is_told() -> None:
    with pytest.raises(Misbehaves) as caught:
        measure(Torch(breaks=2))
    assert caught.value.performed.finding == "crashes"


def test_a_move_during_which_time_ends_a_situation_does_nothing() -> None:
    # Lit for 1.6 s: no hold fits into what is left of it.
    torch = Torch(off_us=1_600_000)
    done = measure(torch)
    hold = next(fact for fact in done.facts if fact.move.name == "hold")
    assert {done.explorer.spots[spot].picture for spot in hold.spots} == {(0, 0)}
    # Its gesture `hold` isn't the shortest one, and each has a habit of its own.
    spec, _ = texts(done)
    person = read_device(spec, "torch.yaml").person
    assert person is not None
    assert "hold 2: 260 ms to 390 ms" in spec
    assert person.hold is not None
    assert person.hold.lo == 1_200_000


def test_what_shows_sleep_and_writes_stands_in_the_map_as_a_comment() -> None:
    starter = Starter(measure(Torch(keeps=True)), "torch", 1_000)
    starter.done.explorer.bench.asleep = "sleeps"
    told = write_map(starter, ("saves",))
    assert "\n  # sleeps: {asleep when: high, within: 100 ms}\n" in told
    assert told.endswith("\n  # saves: {saves when: high, within: 20 ms, pulses up to: 1 ms}\n")
    starter = Starter(measure(Torch()), "torch", 1_000)
    assert "saves" not in write_map(starter, ("saves",))
