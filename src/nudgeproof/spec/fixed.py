"""Times of which each specimen has one value for a whole story: which a device has."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import fields, is_dataclass, replace
from typing import TypeVar

from nudgeproof.spec.fields import refuse_later
from nudgeproof.spec.notes import Notes, show
from nudgeproof.spec.types import Device
from nudgeproof.units import Fixed, Span

_T = TypeVar("_T")


def fixed_times(device: Device) -> tuple[Fixed, ...]:
    """The times of which a specimen has one value, in the order of the description; none if every time is drawn anew."""
    return tuple(dict.fromkeys(span.of for span in spans(device) if span.of is not None))


def spans(value: object) -> Iterator[Span]:
    """Every span in a description, in its order; faster than to change each into itself."""
    if isinstance(value, Span):
        yield value
    elif isinstance(value, tuple):
        for entry in value:
            if not isinstance(entry, str):
                yield from spans(entry)
    elif is_dataclass(value):
        for name in value.__dataclass_fields__:
            yield from spans(getattr(value, name))


def map_spans(value: _T, change: Callable[[Span], Span]) -> _T:
    """The same description with every span in it changed."""
    if isinstance(value, Span):
        return change(value)  # type: ignore[return-value]
    if isinstance(value, tuple):
        return tuple(map_spans(entry, change) for entry in value)  # type: ignore[return-value]
    if is_dataclass(value) and not isinstance(value, type):
        inner = {field.name: getattr(value, field.name) for field in fields(value)}
        return replace(value, **{name: map_spans(entry, change) for name, entry in inner.items()})
    return value


def check_samples(device: Device, notes: Notes) -> None:
    """Note readers that sample, beside times of which each specimen has one value."""
    for button in device.buttons if fixed_times(device) else ():
        if button.samples is not None:
            what = f"`samples` of button `{show(button.name)}` beside `drift: one clock` or `per unit`"
            refuse_later(what, button.at, notes)
