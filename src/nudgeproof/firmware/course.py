"""From a recording and a map to what the model is made to do, and when: the course that a monitor follows.

A level is recorded when it is next looked at: a change recorded at `t` was made from `t` less the sample period up to `t`,
on the recording's own clock. So an edge of a contact may come anywhere in that window. A light is compared at `t` itself,
where it was looked at; how long before the device may have changed is the light's `lag_us`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from nudgeproof.diagnostics import Place, Problem, SpecErrors
from nudgeproof.firmware.mapping import AT_REST, POWER_UP, Channel, Map
from nudgeproof.firmware.recording import Change, Recording
from nudgeproof.parts.cell_level import ABOVE, BELOW, BETWEEN
from nudgeproof.parts.compile import Environment
from nudgeproof.parts.memory import FOUND_BLANK
from nudgeproof.parts.recorded import Light, Recorded, edge_of, event_of, turn_of, voltage_of
from nudgeproof.spec.notes import show
from nudgeproof.spec.outside import CELL_FINE, CELL_LOW
from nudgeproof.spec.types import Device


@dataclass(frozen=True, slots=True)
class Beat:
    """One recorded change: the timer `timer` of one of the recording's parts expires from `opens_us` to `at_us`.

    `at_us`: when it was recorded. `light`: it is one, and not an edge that acts on the device. `says`: in words.
    """

    opens_us: int
    at_us: int
    timer: str
    light: bool
    channel: str
    says: str


@dataclass(frozen=True, slots=True)
class Course:
    """What happens, in the order in which it may begin. The run begins up to `slack_us` before `begin_us`.

    `left_us`: from then on the spec says nothing of what was recorded; `left` says of what; None if that never happens.
    """

    environment: Environment
    beats: tuple[Beat, ...]
    begin_us: int
    slack_us: int
    end_us: int
    left_us: int | None = None
    left: str = ""


def plan(device: Device, what: Map, recording: Recording) -> Course:
    """The course of a recording; raises `SpecErrors` if it begins as its map says it doesn't."""
    window = what.period_us
    first = dict(recording.first)
    channels = {channel.name: channel for channel in what.channels}
    cell = next(iter(what.of("cell")), None)
    has_supply = device.supply is not None and device.power_up is not None
    begin, slack = _find_begin(what, recording, cell, window if has_supply else 0)
    now = dict(recording.first)
    now.update({change.channel: change.level for change in recording.changes if change.at_us <= begin})
    closed = [c for c in what.of("button") if now[c.name] is c.high]
    if closed and not what.powers_up:
        cure = "begin it with all buttons open" + (
            "" if device.power_up is None else f", or say `begins: {POWER_UP}` in the map"
        )
        raise _problem(recording, f"the recording begins with `{show(closed[0].target)}` pressed", cure)
    changes = [change for change in recording.changes if change.at_us > begin]
    left_us = None
    if cell is not None and not has_supply:
        left_us = next((change.at_us for change in changes if change.channel == cell.name), None)
    end = recording.end_us if left_us is None else max(begin, left_us - window)
    beats = [_edge(channel, begin, begin, True) for channel in closed]
    volts = {channel.target: now[channel.name] is channel.high for channel in what.of("level")}
    if any(volts.values()):
        beats.append(_voltage(volts, begin, begin, ""))
    for change in changes:
        channel = channels[change.channel]
        opens = max(begin, change.at_us - window)
        if channel.kind == "level":
            volts[channel.target] = change.level is channel.high
            beats.append(_voltage(volts, opens, change.at_us, channel.name))
        if channel.kind in ("button", "cell") and (channel.kind == "button" or has_supply):
            beats.append(_edge(channel, opens, change.at_us, change.level is channel.high))
        elif channel.kind == "event" and channel.edges in ("either", f"goes {'high' if change.level else 'low'}"):
            beats.append(Beat(opens, change.at_us, event_of(channel.target), False, channel.name, channel.target))
    lights = []
    for channel in what.of("light"):
        own = [change for change in recording.changes if change.channel == channel.name]
        turns = _steady(own, channel, first[channel.name] is channel.high)
        level = next((on for at, on in reversed(turns) if at <= begin), first[channel.name] is channel.high)
        lag = what.period_us + channel.pulses_us + channel.within_us
        lights.append(Light(channel.name, channel.on, channel.off, lag, level, channel.output, channel.shows))
        for at, on in turns:
            if at > begin:
                says = f"{channel.name} is seen {'on' if on else 'off'}"
                beats.append(Beat(at, at, turn_of(channel.name), True, channel.name, says))
    beats = sorted((b for b in beats if b.at_us <= end), key=lambda beat: (beat.opens_us, beat.at_us))
    recorded = Recorded(
        tuple(channel.target for channel in what.of("button")),
        cell is not None and has_supply,
        tuple(dict.fromkeys(channel.target for channel in what.of("event"))),
        tuple(lights),
        what.used,
        what.damaged,
        bool(what.of("level")),
    )
    found = FOUND_BLANK if what.powers_up else ""
    environment = Environment(sources=what.unseen, found=found, recorded=recorded)
    left = "the cell loses contact, and the spec has no `supply`" if left_us is not None else ""
    return Course(environment, tuple(beats), begin, slack, end, left_us, left)


def _edge(channel: Channel, opens: int, at: int, to_high: bool) -> Beat:
    if channel.kind == "cell":
        return Beat(opens, at, edge_of(""), False, channel.name, "the cell is back" if to_high else "the cell is gone")
    return Beat(
        opens, at, edge_of(channel.target), False, channel.name, f"{channel.target} {'closes' if to_high else 'opens'}"
    )


def _voltage(volts: dict[str, bool], opens: int, at: int, channel: str) -> Beat:
    """The cell's voltage comes to where it is by all that is told of it; where nothing is, it lies between the levels."""
    level = BELOW if volts.get(CELL_LOW) else ABOVE if volts.get(CELL_FINE) else BETWEEN
    return Beat(opens, at, voltage_of(level), False, channel, f"the cell is {level} the levels")


def _find_begin(what: Map, recording: Recording, cell: Channel | None, window: int) -> tuple[int, int]:
    """When the run begins, and up to how much earlier; with power up that is when the cell is there for the first time."""
    if cell is None or dict(recording.first)[cell.name] is cell.high:
        return 0, 0
    if not what.powers_up:
        cure = f"begin it with the cell in place, or say `begins: {POWER_UP}` in the map instead of `{AT_REST}`"
        raise _problem(recording, "the recording begins without the cell", cure)
    back = next((change.at_us for change in recording.changes if change.channel == cell.name), None)
    if back is None or back >= recording.end_us:
        raise _problem(recording, "the cell is never there in the recording", "check `cell there when` in the map")
    return back, window


def _steady(changes: Sequence[Change], channel: Channel, first: bool) -> list[tuple[int, bool]]:
    """When a light goes on and off; after a pulse it counts as on for as long as the longest gap."""
    turns: list[tuple[int, bool]] = []
    on = first
    for change in changes:
        lit = change.level is channel.high
        at = change.at_us if lit else change.at_us + channel.pulses_us
        if lit and turns and not on and turns[-1][0] >= at:
            turns.pop()
        else:
            turns.append((at, lit))
        on = lit
    return turns


def _problem(recording: Recording, what: str, cure: str) -> SpecErrors:
    why = "what the device is doing by then isn't known"
    return SpecErrors([Problem(Place(recording.file), what, why, cure)])
