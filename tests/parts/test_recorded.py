"""The recorder and the lookout: what a recording does to the model, and when a run is refused."""

from __future__ import annotations

import pytest

from nudgeproof.engines.concrete import Run
from nudgeproof.model.tables import Model
from nudgeproof.parts.compile import Environment, compile_model
from nudgeproof.parts.recorded import REFUSED, UNSEEN, Light, Recorded, When, edge_of, turn_of
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
