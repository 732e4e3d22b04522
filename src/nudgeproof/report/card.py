"""A card for the device's user: what each press does in each state, how each is done, and what happens by itself.

It is for people who have the device, not the spec: states are told by what they show, times are round.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from math import floor, log10

from nudgeproof.report.screen import WIDTH
from nudgeproof.spec.types import Device, Gesture, State, Timeout, Transition
from nudgeproof.units import FOREVER, MICROSECONDS, Span

EMPTY = "An empty field: nothing happens."

_FIRST = 18
_LEAST = 12
_MOST_SIGNS = 3


@dataclass(frozen=True, slots=True)
class Row:
    """One state: what is seen of it, what each gesture does ("" for nothing), what happens by itself."""

    seen: str
    cells: tuple[str, ...]
    by_itself: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Card:
    """`gestures`: name and how it is done. `values`: each variable with the order in which it steps."""

    device: str
    gestures: tuple[tuple[str, str], ...]
    rows: tuple[Row, ...]
    values: tuple[tuple[str, str], ...]


def make_card(device: Device) -> Card:
    """The card of a device; gestures that do nothing anywhere are left out."""
    used = [
        g for g in device.gestures if any(t.gesture == g.name for state in device.states for t in state.transitions)
    ]
    stepped = {name for state in device.states for t in state.transitions for name in t.next}
    return Card(
        device=device.name,
        gestures=tuple((gesture.name, _tell_how(device, gesture)) for gesture in used),
        rows=tuple(_make_row(device, state, used) for state in device.states),
        values=tuple((v.name, " → ".join((*v.values, v.values[0]))) for v in device.variables if v.name in stepped),
    )


def tell_seen(device: Device, state: State) -> str:
    """What a user sees of a state; its name where that isn't enough to know it."""
    if state.shows is None:
        return f"nothing shows ({state.name})"
    if state.shows_variable:
        *first, last = device.variable(state.shows).values
        seen = f"{state.shows}: {', '.join(first)} or {last}"
    else:
        seen = state.shows
    alike = [other for other in device.states if other.shows == state.shows]
    return f"{seen} ({state.name})" if len(alike) > 1 else seen


def _make_row(device: Device, state: State, gestures: Sequence[Gesture]) -> Row:
    does = {transition.gesture: transition for transition in state.transitions}
    cells = tuple(_tell_step(device, state, does[g.name]) if g.name in does else "" for g in gestures)
    by_itself = tuple(_tell_timeout(device, state, timeout) for timeout in state.timeouts)
    latch = device.supply.latch if device.supply is not None else None
    if state.unpowered and latch is not None:
        by_itself = (f"starts when {' or '.join(latch.closed_by)} is pressed", *by_itself)
    return Row(tell_seen(device, state), cells, by_itself)


def _tell_step(device: Device, state: State, transition: Transition) -> str:
    told = [f"next {name}" for name in transition.next]
    if transition.target is not None:
        told.append(_tell_target(device, state, device.state(transition.target)))
    if transition.restarts:
        told.append("its time begins again")
    return ", ".join(told)


def _tell_target(device: Device, state: State, target: State) -> str:
    """What is seen when one state becomes another."""
    if target == state:
        return "begins again"
    if target.shows is None:
        hidden = [other for other in device.states if other.shows is None]
        name = f" ({target.name})" if len(hidden) > 1 else ""
        return f"goes out{name}" if state.shows is not None else f"changes to {target.name}"
    alike = [other for other in device.states if other.shows == target.shows]
    name = f" ({target.name})" if len(alike) > 1 else ""
    return (f"shows the {target.shows}" if target.shows_variable else target.shows) + name


def _tell_timeout(device: Device, state: State, timeout: Timeout) -> str:
    does = _tell_target(device, state, device.state(timeout.target))
    verb = does if does.startswith(("goes out", "changes to", "begins again", "shows the")) else f"changes to {does}"
    after = about(timeout.after)
    return (
        f"{verb} by itself {f'{after} after {timeout.with_open} was let go' if timeout.with_open else f'after {after}'}"
    )


def _tell_how(device: Device, gesture: Gesture) -> str:
    """How a gesture is done, step by step. Limits are rounded down, so that who keeps to them is safe."""
    quick = f"under {round_down(gesture.press.lo)}" if gesture.press is not None else ""
    soon = ""
    if gesture.between is not None:
        soon = f"within {round_down(gesture.between.lo)}" + (" from press to press" if gesture.between_presses else "")
    hold = f"about {about(gesture.held)}{_until(device, gesture)}" if gesture.held is not None else ""
    if not gesture.taps:
        return f"press and hold {gesture.button} for {hold}"
    if gesture.taps == 1:
        taps = f"one quick press of {gesture.button} ({quick})"
    else:
        taps = f"{_count(gesture.taps)} quick presses of {gesture.button} (each {quick}, the next {soon})"
    return f"{taps}, then {soon} press again and hold for {hold}" if hold else taps


def _until(device: Device, gesture: Gesture) -> str:
    """What is to be seen when a hold has worked, where there is something wherever it is used, and not too much."""
    seen: dict[str, None] = {}
    for state in device.states:
        for transition in state.transitions:
            if transition.gesture != gesture.name:
                continue
            target = device.state(transition.target) if transition.target is not None else state
            if target == state or (target.shows is None and state.shows is None):
                return ""
            shown = target.shows if not target.shows_variable else f"the {target.shows}"
            seen["it goes out" if target.shows is None else f"you notice {shown}"] = None
    return f", until {' or '.join(seen)}" if len(seen) < _MOST_SIGNS else ""


def _count(number: int) -> str:
    return ("one", "two", "three", "four", "five", "six", "seven", "eight", "nine")[number - 1]


def about(span: Span) -> str:
    """The middle of a time, to two digits; of a time without end its beginning."""
    middle = span.lo if span.hi == FOREVER else (span.lo + int(span.hi)) // 2
    return _show(middle, up=None)


def round_down(us: int) -> str:
    """A limit to keep under, to two digits, never more than it is."""
    return _show(us, up=False)


def _show(us: int, up: bool | None) -> str:
    """Two digits in a unit that people use."""
    if us <= 0:
        return "no time"
    unit = next((u for u in ("d", "h", "min", "s") if us >= MICROSECONDS[u]), "s")
    size = MICROSECONDS[unit]
    grain = 10.0 ** (floor(log10(us / size)) - 1)
    number = us / size / grain
    rounded = (floor(number + 1e-9) if up is False else floor(number + 0.5)) * grain
    return f"{rounded:.6g} {unit}"


def to_text(card: Card, ascii_only: bool = False) -> str:
    """The card as plain text of 80 columns; where the gestures don't fit side by side, in several tables."""
    lines = [card.device, "=" * min(len(card.device), WIDTH)]
    if card.gestures:
        lines += ["", "How to"]
        size = min(max(len(name) for name, _ in card.gestures), 20) + 4
        for name, how in card.gestures:
            lines += textwrap.wrap(how, WIDTH, initial_indent=f"  {name}  ".ljust(size), subsequent_indent=" " * size)
    most = max((WIDTH - _FIRST) // (_LEAST + 3), 1)
    # As many tables as are needed, with about as many columns each.
    tables = -(-len(card.gestures) // most)
    share = -(-len(card.gestures) // tables) if tables else 0
    for first in range(0, len(card.gestures), share or 1):
        lines += ["", *_table(card, first, min(first + share, len(card.gestures)))]
    if any("" in row.cells for row in card.rows):
        lines.append(EMPTY)
    timed = [(row, text) for row in card.rows for text in row.by_itself]
    if timed:
        lines += ["", "By itself"]
        for row, text in timed:
            lines += textwrap.wrap(f"{row.seen}: {text}", WIDTH, initial_indent="  ", subsequent_indent="    ")
    if card.values:
        lines += ["", "Order"]
        for name, order in card.values:
            lines += textwrap.wrap(f"{name}: {order}", WIDTH, initial_indent="  ", subsequent_indent="    ")
    text = "\n".join(lines) + "\n"
    return text.replace("→", "->") if ascii_only else text


def _table(card: Card, first: int, end: int) -> list[str]:
    count = end - first
    widths = [_FIRST, *[(WIDTH - _FIRST) // count - 3] * count]
    rule = "-+-".join("-" * width for width in widths)
    lines = [*_line(["you see", *(name for name, _ in card.gestures[first:end])], widths), rule]
    for row in card.rows:
        lines += [*_line([row.seen, *row.cells[first:end]], widths), rule]
    return lines


def _line(cells: Sequence[str], widths: Sequence[int]) -> list[str]:
    wrapped = [textwrap.wrap(cell, width) or [""] for cell, width in zip(cells, widths, strict=True)]
    height = max(map(len, wrapped))
    return [
        " | ".join(
            (column[i] if i < len(column) else "").ljust(width) for column, width in zip(wrapped, widths, strict=True)
        ).rstrip()
        for i in range(height)
    ]
