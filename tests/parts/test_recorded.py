"""The recorder and the lookout: what a recording does to the model, and when a run is refused."""

from __future__ import annotations

import pytest

from nudgeproof.engines.concrete import CannotHappen, Run
from nudgeproof.model.tables import Model
from nudgeproof.parts.cell_level import BELOW, BETWEEN
from nudgeproof.parts.compile import Environment, compile_model
from nudgeproof.parts.recorded import (
    ASLEEP,
    GOES_ON,
    REFUSED,
    SAVES,
    UNCAUSED,
    UNSEEN,
    WOKE_UNSEEN,
    Light,
    Recorded,
    When,
    edge_of,
    turn_of,
    voltage_of,
)
from nudgeproof.spec.read import read_device

TEXT = """\
spec: 1
device: lamp
buttons: {key: {bounce: up to 5 ms, debounce: 20 ms}}
gestures: {tap: {taps: 1, press: up to 300 ms}}
variables: {beam: [low, high]}
initial: dark
states:
  dark: {transitions: {tap: lit}}
  lit: {transitions: {tap: {next: beam}}}
power up: {takes: 70 ms, if blank: dark, if damaged: dark, button held: ignored until released}
supply: {hold-up: 5 ms}
"""
LAMP = Light("LAMP", (When(frozenset(["lit"])),), (When(frozenset(["dark"])),), 10, first=False)
HIGH = Light("HIGH", (When(frozenset(["lit"]), "beam", ("high",)),), (), 10, first=False)


def begin(*lights: Light, cell: bool = False) -> Run:
    recorded = Recorded(("key",), cell, (), lights)
    return Run(compile_model(read_device(TEXT, "lamp"), Environment(recorded=recorded)))


def armed(run: Run) -> list[str]:
    return [timer.name for _, timer in run.timers]


def take(run: Run, timer: str, wait: int = 0) -> None:
    run.advance(wait)
    run.take(armed(run).index(timer), 0)


def refused(run: Run) -> str:
    model: Model = run.model
    return str(model.value(run.situation, REFUSED))


def tap(run: Run) -> None:
    take(run, edge_of("key"), 1_000)
    take(run, "accepts", 20_000)
    take(run, edge_of("key"), 50_000)
    take(run, "accepts", 20_000)


def test_a_recorded_contact_does_not_chatter_by_itself() -> None:
    run = begin(LAMP)
    take(run, edge_of("key"))
    assert run.model.value(run.situation, "level key") is True
    assert run.model.value(run.situation, "quiet key") is True


def test_a_light_must_follow_the_device_and_then_it_may_not_go_back() -> None:
    run = begin(LAMP)
    assert UNSEEN + "LAMP" not in armed(run)
    tap(run)
    assert UNSEEN + "LAMP" in armed(run)
    take(run, turn_of("LAMP"), 10)
    assert refused(run) == ""
    take(run, turn_of("LAMP"))
    assert refused(run) == turn_of("LAMP")


def test_a_light_that_does_not_follow_is_refused() -> None:
    run = begin(LAMP)
    tap(run)
    take(run, UNSEEN + "LAMP", 10)
    assert refused(run) == UNSEEN + "LAMP"
    assert armed(run) == [edge_of("key")]


def test_what_is_said_of_a_value_counts_with_that_value_alone() -> None:
    run = begin(HIGH)
    for _ in range(2):
        take(run, turn_of("HIGH"))
    tap(run)
    assert UNSEEN + "HIGH" not in armed(run)
    tap(run)
    assert UNSEEN + "HIGH" in armed(run)


@pytest.mark.parametrize("powered", [True, False])
def test_without_power_nothing_is_asked_of_a_light(powered: bool) -> None:
    run = begin(LAMP, cell=True)
    take(run, edge_of(""))
    if not powered:
        take(run, "hold-up", 5_000)
    take(run, turn_of("LAMP"))
    assert refused(run) == (turn_of("LAMP") if powered else "")


DOZING = TEXT.replace(
    "  dark: {transitions: {tap: lit}}",
    "  dark:\n    sleep: {woken by: [key], on: edge, ready in: 2 ms, dozes again after: 50 ms}\n    transitions: {tap: lit}",
)
KEEPING = TEXT + "memory: {keeps: [beam], written: at once, write takes: 4 ms, guard: two copies, may lose: nothing}\n"
SLEEPS = Light("SLEEPS", (), (), 100_000, first=True, shows=ASLEEP)
WRITES = Light("WRITES", (), (), 1_000, first=False, shows=SAVES)


def observing(text: str, light: Light, **more: bool) -> Run:
    recorded = Recorded(("key",), False, (), (light,), **more)
    return Run(compile_model(read_device(text, "lamp"), Environment(recorded=recorded)))


def test_it_may_fall_asleep_sooner_or_later_and_wakes_only_as_the_spec_says() -> None:
    run = observing(DOZING, SLEEPS)
    assert UNSEEN + "SLEEPS" not in armed(run)
    take(run, edge_of("key"))
    assert UNSEEN + "SLEEPS" in armed(run)  # it wakes, which must be seen
    take(run, turn_of("SLEEPS"), 2_000)
    take(run, turn_of("SLEEPS"))
    assert refused(run) == ""  # asleep again at once: that is only early
    assert UNSEEN + "SLEEPS" in armed(run)


def test_a_wake_without_a_cause_is_refused() -> None:
    run = observing(DOZING, SLEEPS)
    take(run, turn_of("SLEEPS"), 70_000)
    assert refused(run) == turn_of("SLEEPS")


def test_one_that_never_wakes_is_refused() -> None:
    run = observing(DOZING, SLEEPS)
    take(run, edge_of("key"))
    take(run, "waking", 2_000)
    take(run, "accepts", 20_000)
    take(run, UNSEEN + "SLEEPS", 78_000)
    assert refused(run) == UNSEEN + "SLEEPS"


def wake_shortly(run: Run) -> None:
    """An edge there and back; the device is asleep again 52 ms later, and the pin has told nothing."""
    take(run, edge_of("key"))
    take(run, edge_of("key"), 1_000)
    take(run, "waking", 1_000)
    take(run, "dozes in dark", 50_000)
    while refused(run) == "" and not run.model.value(run.situation, "sleeping"):
        step = next(name for name in armed(run) if name in ("clearing", "arming", "checking", "dropping"))
        take(run, step)


def test_a_wake_may_be_seen_late_when_it_sleeps_again_but_not_much_later() -> None:
    run = observing(DOZING, SLEEPS)
    wake_shortly(run)
    take(run, turn_of("SLEEPS"), 30_000)
    assert refused(run) == ""
    run = observing(DOZING, SLEEPS)
    wake_shortly(run)
    with pytest.raises(CannotHappen):
        run.advance(100_001)
    take(run, WOKE_UNSEEN + "SLEEPS", 100_000)
    take(run, turn_of("SLEEPS"))
    assert refused(run) == turn_of("SLEEPS")


def save(run: Run) -> None:
    take(run, turn_of("WRITES"))
    take(run, turn_of("WRITES"))


def test_a_start_may_write_once_and_each_change_of_what_is_kept_once_more() -> None:
    run = observing(KEEPING, WRITES)
    save(run)
    tap(run)  # dark to lit, and the beam stays: nothing that is kept changes
    assert UNCAUSED + "WRITES" not in armed(run)
    tap(run)
    save(run)
    assert UNCAUSED + "WRITES" not in armed(run)
    save(run)
    take(run, UNCAUSED + "WRITES", 1_000)
    assert refused(run) == UNCAUSED + "WRITES"


def test_a_save_may_come_a_little_before_the_change_that_it_is_for() -> None:
    run = observing(KEEPING, WRITES)
    save(run)
    tap(run)
    take(run, edge_of("key"), 1_000)
    take(run, "accepts", 20_000)
    take(run, edge_of("key"), 50_000)
    run.advance(19_500)
    save(run)
    assert UNCAUSED + "WRITES" in armed(run)
    take(run, "accepts", 500)
    assert UNCAUSED + "WRITES" not in armed(run)
    assert refused(run) == ""


def test_a_save_that_goes_on_for_too_long_counts_again() -> None:
    run = observing(KEEPING, WRITES)
    take(run, turn_of("WRITES"))
    with pytest.raises(CannotHappen):
        run.advance(5_001)
    take(run, GOES_ON + "WRITES", 5_000)
    take(run, UNCAUSED + "WRITES", 1_000)
    assert refused(run) == UNCAUSED + "WRITES"


def test_the_voltage_of_the_cell_goes_where_it_was_recorded() -> None:
    text = TEXT + "cell: {low below: 2.4 V, fine above: 2.6 V, read every: 1 s}\n"
    text += "surroundings: {weak cell: {cell: sags and recovers, meant: true}}\n"
    text = text.replace("lit: {transitions: {", "lit: {transitions: {cell low: dark, ")
    run = observing(text, LAMP, levels=True)
    take(run, voltage_of(BELOW))
    assert "reads the cell" in armed(run)
    take(run, voltage_of(BETWEEN))
    assert "reads the cell" not in armed(run)


def test_damaged_memory_is_found_by_the_first_start() -> None:
    device = read_device(KEEPING.replace("if damaged: dark", "if damaged: lit"), "lamp")
    recorded = Recorded(("key",), False, (), (LAMP,), damaged=True)
    run = Run(compile_model(device, Environment(found="blank", recorded=recorded)))
    take(run, "starts", 70_000)
    assert run.model.value(run.situation, "state") == "lit"
