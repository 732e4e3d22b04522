"""What the state diagram says in words: lines for the box of a state, for an arrow, for the caption.

All of it is still to be escaped. A function returns details, each the lines it is wrapped into, or words or pieces that
are still to be wrapped.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from nudgeproof.parts.graph import comes_back_as
from nudgeproof.report.dot_text import columns, wrap, wrap_pieces
from nudgeproof.spec.types import Device, Memory, Sleep, State, Timeout, Transition, Variable
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
    values, shows = tell_values(device.variable(state.shows)), f"shows {mark_kept(device, state.shows)}"
    if columns(" ".join(values)) > LISTED_WIDTH:
        return [wrap(shows, BOX_WIDTH)]
    return [[*wrap(f"{shows}:", BOX_WIDTH), *wrap_pieces(values, BOX_WIDTH)]]


def mark_kept(device: Device, variable: str) -> str:
    """The name of a variable, with a mark if memory keeps it."""
    return f"{variable} (kept)" if device.memory is not None and variable in device.memory.keeps else variable


def tell_values(variable: Variable) -> list[str]:
    """Values in their order, and whether it comes back to the first one, in pieces not to be broken."""
    values = variable.values
    if variable.is_number:
        pieces = [f"{values[0]} to {values[-1]}", *(["and round again"] if variable.wraps else [])]
    elif len(values) < 2:
        pieces = list(values)
    else:
        pieces = [*(f"{value} →" for value in values[:-1]), f"{values[-1]} →" if variable.wraps else values[-1]]
        pieces += [values[0]] if variable.wraps else []
    return [*pieces, f"(starts as {variable.first})"] if variable.first != values[0] else pieces


def tell_wake(sleep: Sleep | None) -> list[list[str]]:
    """What wakes the processor, and how fast."""
    if sleep is None:
        return []
    how = {"edge": "closing or opening", "level": "while closed"}.get(sleep.on, sleep.on)
    buttons = [f"{' or '.join(sleep.waking_buttons)}, {how}"] if sleep.waking_buttons else []
    by = " or ".join((*sleep.waking_events, *buttons))
    depth = [f"depth {sleep.depth.name}"] if sleep.depth is not None else []
    details = [
        *depth,
        f"woken by {by or 'nothing'}",
        f"ready in {tell_time(sleep.ready)}",
        f"dozes again after {tell_time(sleep.doze)}",
    ]
    return [wrap(detail, BOX_WIDTH) for detail in details]


def tell_entering(state: State) -> list[list[str]]:
    """What entering the state does to variables."""
    told = ", ".join(f"{name} = {value}" for name, value in state.on_entering)
    return [wrap(f"on entering: {told}", BOX_WIDTH)] if told else []


def tell_internal(device: Device, pieces: Iterable[Transition | Timeout]) -> list[list[str]]:
    """What those of `pieces` do that don't leave the state."""
    lines = []
    for piece in pieces:
        if piece.target is not None:
            continue
        name = piece.text if isinstance(piece, Timeout) else piece.gesture
        if isinstance(piece, Transition) and (hold := tell_hold(device, piece.gesture)):
            name = f"{name} ({hold})"
        name = f"{name} {tell_condition(piece)}" if piece.condition is not None else name
        lines.append(wrap(f"{name}: {tell_effect(piece) or 'no change'}", BOX_WIDTH))
    return lines


def tell_condition(piece: Transition | Timeout) -> str:
    """In which case it counts."""
    return f"if {piece.condition.text}" if piece.condition is not None else ""


def tell_back(device: Device, state: State) -> list[list[str]]:
    """What a reset makes of the state, if that is another one."""
    back = comes_back_as(device, state.name)
    return [wrap(f"power back: as {back}", BOX_WIDTH)] if back != state.name else []


def tell_accepted(device: Device, state: State) -> list[list[str]]:
    """The failures accepted in the state, each hazard once with all its sources."""
    sources: dict[str, dict[str, None]] = {}
    for entry in device.accepts:
        if state.name in entry.covers:
            sources.setdefault(entry.hazard, {}).update(dict.fromkeys(entry.by))
    return [wrap(f"accepted: {hazard} by {', '.join(by)}", BOX_WIDTH) for hazard, by in sources.items()]


def tell_effect(piece: Transition | Timeout) -> str:
    """What a transition or a time does besides leading somewhere."""
    words = [f"next {' and '.join(piece.next)}"] if piece.next else []
    words += [f"previous {' and '.join(piece.previous)}"] if piece.previous else []
    words += [f"{name} = {value}" for name, value in piece.set]
    words += [f"keeps {' and '.join(piece.keep)}"] if piece.keep else []
    if isinstance(piece, Transition) and piece.restarts:
        words.append("time starts anew")
    return ", ".join(words)


def tell_busy(state: State) -> list[list[str]]:
    """How long the firmware may be deaf after the state is entered."""
    return [wrap(f"busy at first, {tell_time(state.busy)}", BOX_WIDTH)] if state.busy is not None else []


def tell_outputs(device: Device, state: State) -> list[list[str]]:
    """What is switched on in the state."""
    on = [output.name for output in device.outputs if state.name in output.on_in]
    return [wrap(f"{', '.join(on)} on", BOX_WIDTH)] if on else []


def tell_hold(device: Device, name: str) -> str:
    """What the name of a gesture leaves open: the time of a hold, and the button where there are several.

    Nothing for an event.
    """
    gesture = next((gesture for gesture in device.gestures if gesture.name == name), None)
    if gesture is None:
        return ""
    words = [f"held {tell_time(gesture.held)}"] if gesture.held is not None else []
    if gesture.at_release:
        words.append("then let go")
    if gesture.repeats is not None:
        words.append(f"again every {tell_time(gesture.repeats)}")
    if len(device.buttons) > 1 and not all(button in gesture.name for button in gesture.buttons):
        words[:1] = [" ".join([" and ".join(gesture.buttons), *words[:1]])]
    return ", ".join(words)


def tell_kept(memory: Memory) -> list[str]:
    """What memory keeps, and how, in pieces not to be broken."""
    names = [f"{name}," for name in memory.keeps[:-1]] + [f"{name};" for name in memory.keeps[-1:]]
    guard = "no guard" if memory.guard == "none" else memory.guard
    guard += ", erased first" if memory.erases_first else ""
    quiet = [f"{guard};", f"saved after {tell_time(memory.quiet)} of quiet"] if memory.quiet is not None else [guard]
    return ["kept:", *(names or ["nothing;"]), *quiet]


def tell_resets(device: Device) -> list[list[str]]:
    """What resets the firmware whatever it does, each in pieces not to be broken."""
    found = []
    cut_off = device.supply.cut_off if device.supply is not None else None
    if cut_off is not None:
        does = (
            ["resets everything"] if cut_off.off is None else ["switches everything off,", "until a button closes anew"]
        )
        found.append([cut_off.button, f"closed for {tell_time(cut_off.after)}:", "the power chip", *does])
    if device.supervisor is not None:
        where = "awake or asleep:" if device.supervisor.in_sleep else "awake:"
        found.append(
            [f"not fed for {tell_time(device.supervisor.after)},", where, "the supervisor", "resets everything"]
        )
    if device.electricity is not None and device.electricity.reset is not None:
        level = _say_unit_once(str(device.electricity.reset.rules.level))
        found.append([f"below {level}:", "the brown-out detector", "resets everything"])
    return found


def tell_time(span: Span) -> str:
    """`span` with a unit that both ends share said once.

    Ends of many digits, such as a clock that is off by a share makes them, are rounded outward to three.
    """
    if span.hi != FOREVER and max(_digits(span.lo), _digits(int(span.hi))) > _MOST_DIGITS:
        low, high = (10 ** max(0, len(str(int(end))) - 3) for end in (span.lo, span.hi))
        span = Span(span.lo // low * low, -(-int(span.hi) // high) * high)
    return _say_unit_once(str(span))


def _say_unit_once(text: str) -> str:
    return re.sub(r"^(\S+) (\S+) to (\S+) \2$", r"\1 to \3 \2", text)


def _digits(us: int) -> int:
    """How many digits tell this time, zeros at the end not counted."""
    return len(str(us).rstrip("0"))
