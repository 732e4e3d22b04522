"""Worn memory: with the use stated the memory is written more often than it bears, long before the device is old.

Each change of what is kept is a write: a gesture makes one at most, and so does each time that passes after it, and each act
of the surroundings that may count as a press or is an event; a line
`every` writes as long as its state lasts. Two copies take turns, and each bears half of the writes.
"""

from __future__ import annotations

from fractions import Fraction

from nudgeproof.hazards.weak_cells import failing, holding, open_answer
from nudgeproof.parts.changes import touched
from nudgeproof.quantities import Band, amount, decimal
from nudgeproof.questions.ask import Derived, NotAsked
from nudgeproof.questions.lasting import say_hours
from nudgeproof.spec.electrical import Day
from nudgeproof.spec.outside import Maker, Sag
from nudgeproof.spec.types import Device, Disturbance, Memory, Timeout, Transition
from nudgeproof.supply.endurance import in_years, memory_life

NAME = "worn-memory"
MEANS = "with the use stated, the memory is written more often than it bears"
CURE = "write after some quiet, keep less, keep two copies or more that take turns, or use a memory that bears more"
SHOWN = """\
presses    ▁█▁█▁█▁█▁█▁█▁█▁█▁█▁█▁█▁█▁█▁█▁█▁█▁  each changes what is kept
writes     ▁█▁█▁█▁█▁█▁█▁█▁█▁█▁█▁█▁█▁█▁█▁█▁█▁  each wears the same cell"""
ASKED_IF = "`endures` in `memory`, and `memory for` in a `use`"
TEMPTING = (
    "reckon with the typical endurance: the datasheet promises the smaller number, and at the highest temperature"
)
EXACT = "an upper bound: each gesture is taken to change what is kept if it does so in any state"


def ask(device: Device) -> tuple[Derived, ...] | NotAsked:
    """One answer for each use that says for how long."""
    memory = device.memory
    if memory is None:
        return NotAsked(NAME, "the spec has no `memory`")
    if memory.endures is None:
        return NotAsked(NAME, "`memory` doesn't say how many writes it `endures`")
    days = [day for day in device.use if day.memory_years is not None]
    if not days:
        return NotAsked(NAME, "no `use` says how long the memory must last (`memory for: 5 years`)")
    return tuple(_answer(device, memory, memory.endures, day) for day in days)


def _answer(device: Device, memory: Memory, endures: int, day: Day) -> Derived:
    assert day.memory_years is not None
    writes = writes_a_day(device, memory, day)
    if writes is None:
        reason = (
            "times lead round in a circle that changes what is kept, so the writes after a gesture can't be counted"
        )
        return open_answer(NAME, day.name, reason, day.at)
    slots = 2 if memory.guard == "two copies" else 1
    days = memory_life(endures, writes, slots)
    wanted = f"{decimal(day.memory_years, 3)} years"
    if days is None:
        return holding(NAME, day.name, f"in {day.name} the memory is never written", day.at)
    lasts = f"in {day.name} the memory is written up to {decimal(writes, 3)} times a day, and bears it for"
    years = say_hours(Band(amount(days * 24, "h"), amount(days * 24, "h")))
    if in_years(days) < day.memory_years:
        return failing(NAME, day.name, f"{lasts} {years}, not {wanted}", CURE, memory.at)
    return holding(NAME, day.name, f"{lasts} {years}, so {wanted} are kept", memory.at)


def most_writes(device: Device, memory: Memory, presses: int, starts: int, us: int) -> Fraction | None:
    """An upper bound of the writes of one cell by so many presses and events and starts within a time.

    Of a press each closing of a contact counts, chatter included; it may be the end of several gestures where the spec lets
    one act early, or a press go on or count twice. None if it can't be counted.
    """
    gestures = presses * _gestures_a_press(device)
    gestures += sum(us // max(1, gesture.repeats.lo) for gesture in device.gestures if gesture.repeats is not None)
    if any(button.claims.new_state == "begins it anew" for button in device.buttons):
        gestures += us // max(1, min((g.held.lo for g in device.gestures if g.held is not None), default=us + 1))
    each = _after_each(device, memory, True)
    begun = [_chain(device, memory, state.name, ()) for state in device.states]
    if each is None or any(count < 0 for count in begun):
        return None
    every = [_while_in(device, memory, state.name, us) for state in device.states]
    slots = 2 if memory.guard == "two copies" else 1
    return Fraction(gestures * each + starts * (1 + max(begun)) + max(every)) / slots


def most_starts(device: Device, presses: int, powered: int, us: int) -> int:
    """An upper bound of the starts by so many presses within a time, if power comes `powered` times from outside.

    A key may close a latch, and it may have a power chip reset the device or bring its power back, each once with each
    press; a supervisor resets it at most as often as it can wait. Brown-outs aren't among them.
    """
    cut_off = device.supply is not None and device.supply.cut_off is not None
    by_time = us // max(1, device.supervisor.after.lo) if device.supervisor is not None else 0
    return powered + presses * (device.is_latched + cut_off) + by_time


def _gestures_a_press(device: Device) -> int:
    """How many gestures may end with one press, without those that a hold repeats or a press begun anew makes."""
    early = any(gesture.acts_early or gesture.at_release for gesture in device.gestures)
    twice = any(button.claims.after_hold != "nobody's" for button in device.buttons)
    twice = twice or any(gesture.chord is not None and gesture.chord.gives_back for gesture in device.gestures)
    keeps = any(button.claims.new_state != "forgets the press" for button in device.buttons)
    return len(device.gestures) if keeps else 1 + early + twice


def _after_each(device: Device, memory: Memory, events_too: bool) -> int | None:
    """How many writes follow a gesture (or an event) at most; None if that can't be counted."""
    known = {gesture.name for gesture in device.gestures} | (set(device.event_names) if events_too else set())
    lines = [line for state in device.states for line in state.transitions if line.gesture in known]
    after = [_chain(device, memory, line.target or "", ()) + _is_kept(device, memory, line) for line in lines]
    return None if any(count < 0 for count in after) else max(after, default=0)


def _while_in(device: Device, memory: Memory, state: str, us: int) -> Fraction:
    """How many writes a state makes by itself while it lasts, by times that lead nowhere."""
    lines = [line for line in device.state(state).timeouts if line.target is None and _is_kept(device, memory, line)]
    return sum((Fraction(us, max(1, _shortest(device, line))) for line in lines), Fraction(0))


def writes_a_day(device: Device, memory: Memory, day: Day) -> Fraction | None:
    """An upper bound of the writes of one cell in a day of use; None if it can't be counted."""
    acts = sum(times for name, times in day.times if _may_change(device, name))
    each = _after_each(device, memory, acts > 0)
    if each is None:
        return None
    hours = dict(day.hours)
    spent = sum(hours.values())
    hours[day.rest] = hours.get(day.rest, 0) + max(0, 86_400_000_000 - spent)
    steady = sum((_while_in(device, memory, name, us) for name, us in hours.items()), Fraction(0))
    return (day.presses + acts) * each + steady


def _may_change(device: Device, source: str) -> bool:
    """Whether what a source does may count as an event or a gesture; what is too short to be read as a press doesn't."""
    what = next(one for one in device.surroundings if one.name == source)
    if not isinstance(what, Disturbance):
        return isinstance(what, Maker | Sag)
    debounce = device.button(what.button).debounce
    return what.for_good or debounce is None or what.closes.hi >= debounce.lo


def _shortest(device: Device, line: Timeout) -> int:
    """The shortest time after which a line comes, in microseconds."""
    if not line.by:
        return line.lasts({}).lo
    return min(line.lasts({line.by: value}).lo for value in device.variable(line.by).values)


def _is_kept(device: Device, memory: Memory, line: Transition | Timeout) -> int:
    """Whether a line changes what memory keeps: 1 or 0."""
    if any(name in memory.keeps for name in touched(device, line)):
        return 1
    return int(line.target is not None and "state" in memory.keeps)


_ENDLESS = -(10**6)


def _chain(device: Device, memory: Memory, state: str, seen: tuple[str, ...]) -> int:
    """How many writes the times make at most that pass after `state` is entered; far below nought for endlessly many."""
    if not state:
        return 0
    if state in seen:
        return _ENDLESS
    found = [0]
    for line in device.state(state).timeouts:
        if line.target is not None:
            further = _chain(device, memory, line.target, (*seen, state))
            found.append(further if further < 0 else further + _is_kept(device, memory, line))
    return min(found) if min(found) < 0 else max(found)
