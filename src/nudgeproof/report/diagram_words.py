"""What the state diagram says in words: lines for the box of a state, for an arrow, for the caption.

All of it is still to be escaped. A function returns details, each the lines it is wrapped into, or words or pieces that
are still to be wrapped.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from nudgeproof.parts.graph import comes_back_as
from nudgeproof.report.dot_text import columns, wrap, wrap_pieces
from nudgeproof.spec.types import Device, Gesture, Memory, Sleep, State, Transition
from nudgeproof.units import FOREVER, Span

BOX_WIDTH = 30
"""Where the lines of a box are wrapped, in columns (a wide character takes two)."""

LISTED_WIDTH = 80
"""A box lists the values of the variable it shows up to this many columns; longer lists go to the caption."""

_MOST_DIGITS = 4
"""Times with more digits than this are rounded: nobody reads them from a picture."""


def tell_shown(device: Device, state: State) -> list[list[str]]:
    """What a person sees of the state, with the values where a variable is shown."""
    if state.shows is None:
        return []
    if not state.shows_variable:
        return [wrap(f"shows {state.shows}", BOX_WIDTH)]
    values, shows = tell_values(device.variable(state.shows).values), f"shows {mark_kept(device, state.shows)}"
    if columns(" ".join(values)) > LISTED_WIDTH:
        return [wrap(shows, BOX_WIDTH)]
    return [[*wrap(f"{shows}:", BOX_WIDTH), *wrap_pieces(values, BOX_WIDTH)]]


def mark_kept(device: Device, variable: str) -> str:
    """The name of a variable, with a mark if memory keeps it."""
    return f"{variable} (kept)" if device.memory is not None and variable in device.memory.keeps else variable


def tell_values(values: Sequence[str]) -> list[str]:
    """Values in their order, which starts with the first and comes back to it, in pieces not to be broken."""
    if len(values) < 2:
        return list(values)
    return [*(f"{value} →" for value in values), values[0]]


def tell_wake(sleep: Sleep | None) -> list[list[str]]:
    """What wakes the processor, and how fast."""
    if sleep is None:
        return []
    how = {"edge": "closing or opening", "level": "while closed"}.get(sleep.on, sleep.on)
    woken = f"woken by {' or '.join(sleep.woken_by)}, {how}" if sleep.woken_by else "woken by nothing"
    details = [woken, f"ready in {tell_time(sleep.ready)}", f"dozes again after {tell_time(sleep.doze)}"]
    return [wrap(detail, BOX_WIDTH) for detail in details]


def tell_internal(device: Device, state: State) -> list[list[str]]:
    """What gestures do that don't leave the state."""
    lines = []
    for transition in state.transitions:
        if transition.target is None:
            hold = tell_hold(device, device.gesture(transition.gesture))
            gesture = f"{transition.gesture} ({hold})" if hold else transition.gesture
            lines.append(wrap(f"{gesture}: {tell_effect(transition) or 'no change'}", BOX_WIDTH))
    return lines


def tell_back(device: Device, state: State) -> list[list[str]]:
    """What a reset makes of the state, if that is another one."""
    back = comes_back_as(device, state.name)
    return [wrap(f"power back: as {back}", BOX_WIDTH)] if back != state.name else []


def tell_accepted(device: Device, state: State) -> list[list[str]]:
    """The failures accepted in the state, each hazard once with all its sources."""
    sources: dict[str, dict[str, None]] = {}
    for entry in device.accepts:
        if entry.within == state.name:
            sources.setdefault(entry.hazard, {}).update(dict.fromkeys(entry.by))
    return [wrap(f"accepted: {hazard} by {', '.join(by)}", BOX_WIDTH) for hazard, by in sources.items()]


def tell_effect(transition: Transition) -> str:
    """What a transition does besides leading somewhere."""
    words = [f"next {' and '.join(transition.next)}"] if transition.next else []
    if transition.restarts:
        words.append("time starts anew")
    return ", ".join(words)


def tell_hold(device: Device, gesture: Gesture) -> str:
    """What the name of a gesture leaves open: the time of a hold, and the buttons where there are several."""
    words = [f"held {tell_time(gesture.held)}"] if gesture.held is not None else []
    if len(device.buttons) > 1 and not all(button in gesture.name for button in gesture.buttons):
        words.insert(0, " and ".join(gesture.buttons))
    return " ".join(words)


def tell_kept(memory: Memory) -> list[str]:
    """What memory keeps, and how, in pieces not to be broken."""
    names = [f"{name}," for name in memory.keeps[:-1]] + [f"{name};" for name in memory.keeps[-1:]]
    guard = "no guard" if memory.guard == "none" else memory.guard
    quiet = [f"{guard};", f"saved after {tell_time(memory.quiet)} of quiet"] if memory.quiet is not None else [guard]
    return ["kept:", *(names or ["nothing;"]), *quiet]


def tell_time(span: Span) -> str:
    """`span` with a unit that both ends share said once.

    Ends of many digits, such as a clock that is off by a share makes them, are rounded outward to three.
    """
    if span.hi != FOREVER and max(_digits(span.lo), _digits(int(span.hi))) > _MOST_DIGITS:
        low, high = (10 ** max(0, len(str(int(end))) - 3) for end in (span.lo, span.hi))
        span = Span(span.lo // low * low, -(-int(span.hi) // high) * high)
    return re.sub(r"^(\S+) (\S+) to (\S+) \2$", r"\1 to \3 \2", str(span))


def _digits(us: int) -> int:
    """How many digits tell this time, zeros at the end not counted."""
    return len(str(us).rstrip("0"))
