"""A card for the device's user: what each press does in each state, how each is done, and what happens by itself.

It is for people who have the device, not the spec: states are told by what they show, times are round.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby
from math import floor, log10

from nudgeproof.parts.changes import touched
from nudgeproof.report.dot_text import columns
from nudgeproof.report.screen import WIDTH
from nudgeproof.report.width import pad, wrap
from nudgeproof.spec.types import Chord, Condition, Device, Gesture, State, Timeout, Transition, Variable
from nudgeproof.units import FOREVER, MICROSECONDS, Span

EMPTY = "An empty field: nothing happens."

_FIRST = 18
_LEAST = 12
_MOST_SIGNS = 3


@dataclass(frozen=True, slots=True)
class Row:
    """One state: what is seen of it, what each gesture does ("" for nothing, a line for each case), what happens by itself
    or by events.
    """

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
    return Card(
        device=device.name,
        gestures=tuple((gesture.name, _tell_how(device, gesture)) for gesture in used),
        rows=tuple(_make_row(device, state, used) for state in device.states),
        values=tuple((v.name, _tell_order(v)) for v in device.variables if v.name in _stepped(device)),
    )


def _stepped(device: Device) -> set[str]:
    """The variables that are stepped by a gesture, or by a time where they are to be seen."""
    by_hand = {name for state in device.states for t in state.transitions for name in (*t.next, *t.previous)}
    seen = {
        name
        for state in device.states
        for t in state.timeouts
        for name in (*t.next, *t.previous)
        if _can_be_seen(state, t)
    }
    return by_hand | seen


def _tell_order(variable: Variable) -> str:
    """The values in the order in which they step, and what comes at the ends."""
    values = variable.values
    if variable.is_number:
        told = f"{values[0]} to {values[-1]}"
        return f"{told}, then {values[0]} again" if variable.wraps else f"{told}, no further"
    return " → ".join((*values, values[0])) if variable.wraps else f"{' → '.join(values)}, no further"


def tell_seen(device: Device, state: State) -> str:
    """What a user sees of a state; its name where that isn't enough to know it."""
    if state.shows is None:
        return f"nothing shows ({state.name})"
    if state.shows_variable:
        variable = device.variable(state.shows)
        *first, last = variable.values
        listed = f"{variable.values[0]} to {last}" if variable.is_number else f"{', '.join(first)} or {last}"
        seen = f"{state.shows}: {listed}"
    else:
        seen = state.shows
    alike = [other for other in device.states if other.shows == state.shows]
    return f"{seen} ({state.name})" if len(alike) > 1 else seen


def _make_row(device: Device, state: State, gestures: Sequence[Gesture]) -> Row:
    cells = tuple(_tell_gesture(device, state, gesture.name) for gesture in gestures)
    by_itself = tuple(told for timeout in state.timeouts if (told := _tell_timeout(device, state, timeout)))
    events = [name for name in state.gestures if name in device.unmade]
    by_itself += tuple(f"{name}: {'; '.join(_tell_gesture(device, state, name).splitlines())}" for name in events)
    latch = device.supply.latch if device.supply is not None else None
    keys = latch.closed_by if latch is not None else device.stays_off.on_by if device.stays_off is not None else ()
    if state.unpowered and keys:
        by_itself = (f"starts when {' or '.join(keys)} is pressed", *by_itself)
    return Row(tell_seen(device, state), cells, by_itself)


def _tell_gesture(device: Device, state: State, name: str) -> str:
    """What a gesture or event does in a state, a line for each case."""
    cases = [transition for transition in state.transitions if transition.gesture == name]
    return "\n".join(
        f"{_tell_when(case.condition)}: {_tell_step(device, state, case)}"
        if case.condition is not None
        else _tell_step(device, state, case)
        for case in cases
    )


def _tell_when(condition: Condition | None) -> str:
    """A condition as people say it: `when the beam is high and the count is at least 3`; "" for none."""
    if condition is None:
        return ""
    return "when " + " and ".join(f"the {clause}" for clause in condition.text.split(" and "))


def _tell_step(device: Device, state: State, transition: Transition) -> str:
    told = _tell_changes(device, transition)
    if transition.target is not None:
        told.append(_tell_target(device, state, device.state(transition.target)))
    if transition.restarts:
        told.append("its time begins again")
    return ", ".join(told)


def _tell_changes(device: Device, line: Transition | Timeout) -> list[str]:
    """What a line does to variables, with what entering its target sets."""
    sets = dict(line.set)
    if line.target is not None:
        sets |= {name: value for name, value in device.state(line.target).on_entering if name not in line.keep}
    told = []
    for name in touched(device, line):
        if name in sets:
            told.append(f"{name} becomes {sets[name]}")
        elif device.variable(name).is_number:
            told.append(f"{name} goes {'up' if name in line.next else 'down'} by one")
        else:
            told.append(f"{'next' if name in line.next else 'previous'} {name}")
    return told


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


def _can_be_seen(state: State, timeout: Timeout) -> bool:
    """Whether a user can notice it: the state is left, or what it shows changes."""
    changed = (*timeout.next, *timeout.previous, *(name for name, _ in timeout.set))
    return timeout.target is not None or (state.shows_variable and state.shows in changed)


def _tell_timeout(device: Device, state: State, timeout: Timeout) -> str:
    """What a time does, "" if nobody can notice it."""
    if not _can_be_seen(state, timeout):
        return ""
    does = _tell_changes(device, timeout)
    if timeout.target is not None:
        seen = _tell_target(device, state, device.state(timeout.target))
        has_verb = seen.startswith(("goes out", "changes to", "begins again", "shows the"))
        does.insert(0, seen if has_verb else f"changes to {seen}")
    when = f", {_tell_when(timeout.condition)}" if timeout.condition is not None else ""
    length = " or ".join(about(span) for _, span in timeout.times) or about(timeout.after)
    let_go = f" after {timeout.with_open} was let go" if timeout.with_open else ""
    which = f" ({timeout.by} says which)" if timeout.by else ""
    if timeout.text.startswith("every ") or timeout.target is None:
        return f"each {length}{let_go}{which}{when}: {', '.join(does)}"
    first, *rest = does
    return ", ".join((f"{first} by itself {'' if let_go else 'after '}{length}{let_go}{which}{when}", *rest))


def _tell_how(device: Device, gesture: Gesture) -> str:
    """How a gesture is done, step by step. Limits are rounded down, so that who keeps to them is safe."""
    if gesture.chord is not None:
        return _tell_chord(device, gesture, gesture.chord)
    quick = f"under {round_down(gesture.press.lo)}" if gesture.press is not None else ""
    soon = ""
    if gesture.between is not None:
        soon = f"within {round_down(gesture.between.lo)}" + (" from press to press" if gesture.between_presses else "")
    told: list[str] = []
    for kind, group in groupby(enumerate(gesture.presses), key=lambda press: press[1]):
        numbers = [number for number, _ in group]
        then = f", then {soon} " if told else ""
        if kind == "tap":
            told.append(then + _tell_taps(gesture, len(numbers), quick, soon, first=not told))
        else:
            last = numbers[-1] == len(gesture.presses) - 1
            told += _tell_holds(device, gesture, len(numbers), then, f", then {soon} ", last)
    return "".join(told)


def _tell_chord(device: Device, gesture: Gesture, chord: Chord) -> str:
    """How two buttons are pressed together."""
    one, other = chord.buttons
    press = f"press {one} and {other} together (the second within {round_down(chord.within.lo)} of the first)"
    if gesture.held is None:
        return press
    return f"{press} and hold both for about {about(gesture.held)}{_until(device, gesture)}"


def _tell_taps(gesture: Gesture, count: int, quick: str, soon: str, first: bool) -> str:
    button = f" of {gesture.button}" if first else ""
    if count == 1:
        return f"one quick press{button} ({quick})"
    return f"{_count(count)} quick presses{button} (each {quick}, the next {soon})"


def _tell_holds(device: Device, gesture: Gesture, count: int, first: str, onward: str, last: bool) -> list[str]:
    """Holds in a row; `last`: the gesture ends with them."""
    assert gesture.held is not None
    time, told = about(gesture.held), []
    for number in range(count):
        press = (
            f"press again and hold for about {time}"
            if first or number
            else f"press and hold {gesture.button} for about {time}"
        )
        ends = last and number == count - 1
        if not ends:
            press += ", let go"
        elif gesture.at_release or _waits_for_release(device, gesture):
            press += ", then let go"
        else:
            press += _until(device, gesture)
        if ends and gesture.repeats is not None:
            press += f"; held on, it comes again each {about(gesture.repeats)}"
        told.append((first if number == 0 else onward) + press)
    return told


def _waits_for_release(device: Device, gesture: Gesture) -> bool:
    """Whether somewhere a longer pattern that begins alike is in use too, so that the firmware waits for the release."""
    assert gesture.held is not None
    size = len(gesture.presses)
    for state in device.states:
        used = device.gestures_in(state)
        for other in used if gesture in used else []:
            alike = other.button == gesture.button and other.presses[:size] == gesture.presses
            longer = other.held is not None and other.held.lo > gesture.held.hi
            if other != gesture and alike and (longer or len(other.presses) > size):
                return True
    return False


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
    lines = [card.device, "=" * min(columns(card.device), WIDTH)]
    if card.gestures:
        lines += ["", "How to"]
        size = min(max(columns(name) for name, _ in card.gestures), 20) + 4
        for name, how in card.gestures:
            lines += wrap(how, WIDTH, initial_indent=pad(f"  {name}  ", size), subsequent_indent=" " * size)
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
            lines += wrap(f"{row.seen}: {text}", WIDTH, initial_indent="  ", subsequent_indent="    ")
    if card.values:
        lines += ["", "Order"]
        for name, order in card.values:
            lines += wrap(f"{name}: {order}", WIDTH, initial_indent="  ", subsequent_indent="    ")
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
    wrapped = [
        [part for line in cell.split("\n") for part in wrap(line, width)] or [""]
        for cell, width in zip(cells, widths, strict=True)
    ]
    height = max(map(len, wrapped))
    return [
        " | ".join(
            pad(column[i] if i < len(column) else "", width) for column, width in zip(wrapped, widths, strict=True)
        ).rstrip()
        for i in range(height)
    ]
