"""Small devices for tests, written as specs, and what can happen to them."""

from __future__ import annotations

from nudgeproof.engines.explore import Exploration, explore
from nudgeproof.model.step import Move, Test
from nudgeproof.model.tables import Model, Situation
from nudgeproof.parts.compile import Environment, compile_model
from nudgeproof.parts.script import Edge
from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import Device

BUDGET = 200_000


def bench(
    gestures: str,
    transitions: str,
    bounce: str = "up to 0 ms",
    debounce: str = "0 ms",
    more: str = "",
    extra: str = "",
    reader: str = "",
) -> Device:
    """A device that is always awake in `idle` and goes to a state of its own on each gesture; `extra` adds states.

    `reader` stands in place of `debounce`, if given.
    """
    return read_device(
        f"""spec: 1
device: bench piece
buttons:
  pad: {{bounce: {bounce}, {reader or f"debounce: {debounce}"}, edges apart: at least 10 us}}
gestures:
{_indent(gestures, 2)}
initial: idle
states:
  idle:
    transitions: {{{transitions}}}
{_indent(extra, 2)}
{more}
""",
        "bench.yaml",
    )


def _indent(text: str, by: int) -> str:
    return "\n".join(" " * by + line for line in text.strip("\n").splitlines())


def presses(*pairs_us: tuple[int, int]) -> tuple[Edge, ...]:
    """Edges of presses given as (down, up) in microseconds."""
    return tuple(edge for down, up in pairs_us for edge in (Edge(down, "pad", True), Edge(up, "pad", False)))


def seen(device: Device, edges: tuple[Edge, ...]) -> set[str]:
    """All gestures that the firmware may see when these edges are played."""
    names = [gesture.name for gesture in device.gestures]
    result = look(device, Environment(script=edges), *(_fires(name) for name in names))
    return {name for name, path in zip(names, result.paths, strict=True) if path is not None}


def look(device: Device, environment: Environment, *tests: Test) -> Exploration:
    """Explore one environment for steps that meet `tests`."""
    return explore(compile_model(device, environment), tests, BUDGET)


def enters(state: str) -> Test:
    """Steps into `state`."""

    def test(model: Model, before: Situation, move: Move) -> bool:
        return model.value(move.situation, "state") == state and model.value(before, "state") != state

    return test


def can_enter(device: Device, environment: Environment, state: str) -> bool:
    """Whether some run enters `state`; the whole space must have been covered."""
    result = look(device, environment, enters(state))
    assert result.complete or result.paths[0] is not None
    return result.paths[0] is not None


def _fires(name: str) -> Test:
    def test(model: Model, before: Situation, move: Move) -> bool:
        return any(f"gesture {name}" in taken.choice.send for taken in move.taken)

    return test
