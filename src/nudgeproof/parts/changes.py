"""What a line of the chart does to the variables, and whether they meet a condition, as pure functions of their values.

First the line's own changes are made, then those of the state that is entered, but for what the line keeps. Used by the
chart, and wherever the chart is looked at without its times.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TypeVar

from nudgeproof.model.tables import Reads
from nudgeproof.spec.types import Condition, Device, Timeout, Transition

_Line = TypeVar("_Line", Transition, Timeout)


def start_values(device: Device) -> dict[str, str]:
    """The values at the beginning of a run: the first ones, then what entering the initial state sets."""
    return first_values(device) | dict(device.state(device.initial).on_entering)


def first_values(device: Device) -> dict[str, str]:
    """The value at the start of each variable, in their order."""
    return {variable.name: variable.first for variable in device.variables}


def meets(condition: Condition | None, reads: Reads) -> bool:
    """Whether the published values meet a condition, if there is one."""
    if condition is None:
        return True
    return condition.holds({name: str(reads[f"value {name}"]) for name, _ in condition.allowed})


def reads_of(condition: Condition | None) -> tuple[str, ...]:
    """The published values that `meets` must read."""
    return () if condition is None else tuple(f"value {name}" for name, _ in condition.allowed)


def pick(cases: Iterable[_Line], values: Mapping[str, str]) -> _Line | None:
    """The case that applies while the variables have these values; None if none does. They exclude each other."""
    return next((case for case in cases if case.condition is None or case.condition.holds(values)), None)


def change(device: Device, line: Transition | Timeout, values: Mapping[str, str]) -> dict[str, str]:
    """The values after `line` was taken, in the order of the variables."""
    after = {variable.name: values[variable.name] for variable in device.variables}
    for names, by in ((line.next, 1), (line.previous, -1)):
        for name in names:
            after[name] = _step(device, name, after[name], by)
    after.update(line.set)
    if line.target is not None:
        after.update((n, value) for n, value in device.state(line.target).on_entering if n not in line.keep)
    return after


def touched(device: Device, line: Transition | Timeout) -> tuple[str, ...]:
    """The variables that `line` may change, in the order in which it names them."""
    entered = device.state(line.target).on_entering if line.target is not None else ()
    names = (*line.next, *line.previous, *(n for n, _ in line.set), *(n for n, _ in entered if n not in line.keep))
    return tuple(dict.fromkeys(names))


def _step(device: Device, name: str, value: str, by: int) -> str:
    variable = device.variable(name)
    at = variable.values.index(value) + by
    if variable.wraps:
        return variable.values[at % len(variable.values)]
    return variable.values[min(max(at, 0), len(variable.values) - 1)]
