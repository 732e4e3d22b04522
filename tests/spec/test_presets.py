"""Chips and habits fill in what a spec leaves out, each line with its source, and never what it says itself."""

import pytest

from nudgeproof.diagnostics import SpecErrors
from nudgeproof.spec.presets import CHIPS, HABITS, Preset
from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import Device
from nudgeproof.units import Span
from tests.snapshots.screens import ROOT

LIGHT = (ROOT / "specs/rain-cover-light.yaml").read_text(encoding="utf-8")
PERSON = next(line for line in LIGHT.splitlines() if line.startswith("person:"))


def read(*changes: tuple[str, str]) -> Device:
    text = LIGHT
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    return read_device(text, "light.yaml")


def without_what_a_chip_gives() -> tuple[tuple[str, str], ...]:
    return (
        ("  write takes: 3.4 ms ± 0.2 ms\n", ""),
        (" ready in: 2 ms ± 1 ms,", ""),
        ("clock: {off by: 5 %}", "chip: small 8-bit"),
    )


def test_a_chip_fills_in_what_is_missing_and_says_from_where() -> None:
    """Write time 3.3 to 3.4 ms, six clocks at 1 MHz to wake, 5 % of clock error: 1.2 s may last from 1.2 s / 1.05 on."""
    device = read(*without_what_a_chip_gives())
    assert device.memory is not None
    assert device.memory.write == Span(3_300, 3_400)
    sleep = device.state("stowed").sleep
    assert sleep is not None
    assert sleep.ready == Span(0, 6)
    held = device.gesture("hold").held
    assert held is not None
    assert held.lo == 1_200_000 * 100 // 105
    told = [assumption.text for assumption in device.assumptions if "small 8-bit" in assumption.text]
    assert len(told) == 3
    assert all("datasheet" in text for text in told)


def test_what_the_spec_says_itself_stays() -> None:
    device = read(("clock: {off by: 5 %}", "clock: {off by: 5 %}\nchip: small 8-bit"))
    assert device.memory is not None
    assert device.memory.write == Span(3_200, 3_600)
    assert device.gestures[0].press == read().gestures[0].press
    assert not [assumption for assumption in device.assumptions if "small 8-bit" in assumption.text]


@pytest.mark.parametrize("habit", HABITS, ids=lambda habit: habit.name)
def test_a_habit_alone_or_with_a_line_of_ones_own(habit: Preset) -> None:
    alone = read((PERSON, f"person: {habit.name}")).person
    assert alone is not None
    assert (alone.hold is not None, alone.answers is not None) == (True, True)
    own = read((PERSON, f"person: {{habit: {habit.name}, tap: 70 to 90 ms}}")).person
    assert own is not None
    assert own.tap == Span(70_000, 90_000)
    assert (own.between, own.hold, own.answers) == (alone.between, alone.hold, alone.answers)


def test_slow_and_shaky_are_the_usual_habits_scaled_as_their_source_says() -> None:
    """Times 1.8 for slow ones; up to times 2.8 for shaky ones (Irwin and Sesto 2012, doi 10.1016/j.apergo.2012.03.003)."""
    usual, slow, shaky = (read((PERSON, f"person: {habit.name}")).person for habit in HABITS)
    assert usual is not None
    assert slow is not None
    assert shaky is not None
    for name in ("tap", "between", "hold"):
        plain, wide, unsteady = (getattr(person, name) for person in (usual, slow, shaky))
        assert (wide.lo * 10, wide.hi * 10) == (plain.lo * 18, plain.hi * 18)
        assert (unsteady.lo, unsteady.hi * 10) == (plain.lo, plain.hi * 28)


@pytest.mark.parametrize("preset", [*CHIPS, *HABITS], ids=lambda preset: preset.name)
def test_every_line_of_a_preset_can_be_read_and_has_a_source(preset: Preset) -> None:
    for given in preset.given:
        assert given.source
    chip = "" if preset in HABITS else f"chip: {preset.name}\n"
    changes = [(PERSON, f"{chip}person: {preset.name if preset in HABITS else 'usual'}")]
    read(*changes, *(without_what_a_chip_gives()[:1] if chip else ()))


def test_an_unknown_chip_is_one_clear_error() -> None:
    with pytest.raises(SpecErrors) as error:
        read(("clock:", "chip: smal 8-bit\nclock:"))
    (problem,) = error.value.problems
    assert "there is no chip `smal 8-bit`" in str(problem)
    assert "did you mean `small 8-bit`?" in str(problem)
