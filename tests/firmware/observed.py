"""Recordings made by the naive simulator: what somebody would record who has a pin for each state and each first value."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from random import Random

from nudgeproof.firmware.mapping import Map, read_map
from nudgeproof.firmware.outcome import Outcome, follow
from nudgeproof.firmware.recording import Recording, read_csv
from nudgeproof.spec.outside import Sag
from nudgeproof.spec.types import Device
from tests.reference.clock import Seen
from tests.reference.scripts import END_US, random_script
from tests.reference.simulator import simulate
from tests.reference.specimen import play

Changes = list[tuple[int, bool]]


@dataclass(frozen=True)
class Observed:
    """By channel what it was at first, and when it changed; `kinds`: what the map says of it."""

    first: dict[str, bool]
    changes: dict[str, Changes]
    kinds: dict[str, str]
    end_us: int
    unseen: tuple[str, ...]

    @property
    def lights(self) -> list[str]:
        return [name for name in self.kinds if name.startswith("L")]


def lights_of(device: Device) -> dict[str, str]:
    """A pin for each state, and for the first value of each variable one that is told of in the first state alone."""
    lights = {f"LS{i}": f"{{on in: {s.name}, off in: all others}}" for i, s in enumerate(device.states)}
    for i, variable in enumerate(device.variables):
        lights[f"LV{i}"] = (
            f"{{on in: [{', '.join(f'{s.name} with {variable.name} {variable.first}' for s in device.states)}], "
            "off in: all others}"
        )
    return lights


_PULSE_US = 500


def shown_beside(device: Device, seen: Sequence[Seen]) -> dict[str, tuple[str, bool, Changes]]:
    """Of a pin that shows sleep, and one that is on for a moment as a write ends: what it is, its first level, changes."""
    found: dict[str, tuple[str, bool, Changes]] = {}
    sleeps = [state.sleep for state in device.states if state.sleep is not None]
    ready = max((sleep.ready.hi for sleep in sleeps), default=0)
    if sleeps and ready < 10_000_000:
        # It wakes at the edge, and the pin tells when it runs.
        first = now = device.state(device.initial).sleep is not None
        turns: Changes = []
        for at, what in seen:
            after = {"asleep": True, "awake": False, "power lost": False, "cut off": False, "not fed": False}.get(
                what, now
            )
            if after != now:
                turns.append((at, after))
                now = after
        steady = [turn for i, turn in enumerate(turns) if i + 1 == len(turns) or turns[i + 1][0] != turn[0]]
        changes = [turn for i, turn in enumerate(steady) if turn[1] != (steady[i - 1][1] if i else first)]
        found["LZ"] = (f"{{asleep when: high, within: {int(ready) + 1} us}}", first, changes)
    if device.memory is not None and device.memory.guard != "none":
        pulses: Changes = []
        for at in (at for at, what in seen if what.startswith("wrote ")):
            if not pulses or at > pulses[-1][0]:
                pulses += [(at, True), (at + _PULSE_US, False)]
        found["LM"] = ("{saves when: high, within: 1 ms}", False, pulses)
    return found


def levels_of(device: Device, state: str, values: Mapping[str, str], powered: bool) -> dict[str, bool]:
    unpowered = [s.name for s in device.states if s.unpowered]
    here = powered or state in unpowered
    found = {f"LS{i}": here and s.name == state for i, s in enumerate(device.states)}
    return found | {f"LV{i}": here and values[v.name] == v.first for i, v in enumerate(device.variables)}


def watch(device: Device, seen: Sequence[Seen]) -> tuple[dict[str, bool], dict[str, Changes]]:
    """The pins as the firmware drives them; what comes and goes within one instant isn't to be seen."""
    state, powered = device.initial, True
    values = {v.name: v.first for v in device.variables} | dict(device.state(state).on_entering)
    first = now = levels_of(device, state, values, powered)
    changes: dict[str, Changes] = {name: [] for name in first}
    off = next((s.name for s in device.states if s.unpowered), None)
    for number, (at, what) in enumerate(seen):
        if what.startswith("entered "):
            state, powered = what.removeprefix("entered "), True
        elif what.startswith("started"):
            powered = True
            started = dict(pair.split("=") for pair in _pairs(device, what))
            values.update(started)
        elif what in ("power lost", "cut off", "not fed", "switched off"):
            powered = False
            goes_off = device.is_latched or what == "cut off"
            if off is not None and goes_off and not device.state(state).unpowered:
                state = off
        elif " = " in what:
            name, _, value = what.partition(" = ")
            values[name] = value
        if number + 1 < len(seen) and seen[number + 1][0] == at:
            continue
        levels = levels_of(device, state, values, powered)
        for name, level in levels.items():
            if level != now[name]:
                changes[name].append((at, level))
        now = levels
    return first, changes


def _pairs(device: Device, what: str) -> list[str]:
    rest, pairs = what.removeprefix("started"), []
    for variable in reversed(device.variables):
        rest, _, value = rest.rpartition(f" {variable.name}=")
        pairs.append(f"{variable.name}={value}")
    return pairs


def observe(device: Device, name: str, seed: int, end_us: int = END_US) -> Observed:
    """One specimen, with its contacts and pins; raises `Tie`."""
    script, sources = random_script(device, Random(f"{name}/{seed}"))
    tool = play(device, script, sources, end_us, seed)
    seen = simulate(device, tool.levels, tool.cell, tool.end_us, tool.draw, tool.happened, tool.voltage, tool.rounds)
    return gather(device, seen, tool.levels, tool.cell, tool.happened, tool.end_us)


def simulators_differ(device: Device, name: str, seed: int, end_us: int) -> bool:
    """Whether the tool's own parts show another thing of this specimen than the naive simulator: no matter of recordings."""
    script, sources = random_script(device, Random(f"{name}/{seed}"))
    tool = play(device, script, sources, end_us, seed)
    seen = simulate(device, tool.levels, tool.cell, tool.end_us, tool.draw, tool.happened, tool.voltage, tool.rounds)
    return sorted(seen) != sorted(tool.seen)


def gather(
    device: Device,
    seen: Sequence[Seen],
    levels: Mapping[str, Sequence[tuple[int, bool]]],
    cell: Sequence[tuple[int, bool]],
    happened: Sequence[tuple[int, str]],
    end_us: int,
) -> Observed:
    kinds, first, changes = {}, {}, {}
    for i, (button, edges) in enumerate(levels.items()):
        kinds[f"B{i}"] = f"{{button: {button}, pressed when: low}}"
        first[f"B{i}"], changes[f"B{i}"] = True, [(at, not closed) for at, closed in edges]
    if cell:
        kinds["C"], first["C"], changes["C"] = "{cell there when: high}", True, list(cell)
    for i, event in enumerate(dict.fromkeys(event for _, event in happened)):
        times = [at for at, other in happened if other == event]
        kinds[f"E{i}"], first[f"E{i}"] = f"{{event: {event}, happens when: either}}", False
        changes[f"E{i}"] = [(at, number % 2 == 0) for number, at in enumerate(times)]
    kinds |= lights_of(device)
    lights_first, lights = watch(device, seen)
    for name, (kind, at_first, own) in shown_beside(device, seen).items():
        kinds[name], first[name] = kind, at_first
        changes[name] = [(at, level) for at, level in own if at <= end_us]
    sags = tuple(what.name for what in device.surroundings if isinstance(what, Sag))
    return Observed(first | lights_first, changes | lights, kinds, end_us, sags)


def sampled(observed: Observed, period: int) -> Observed | None:
    """As recorded with this sample period; None if an edge of a contact would be lost by that."""
    if not period:
        return observed
    changes: dict[str, Changes] = {}
    for name, own in observed.changes.items():
        late = [(-(-at // period) * period, level) for at, level in own]
        kept = [(at, level) for i, (at, level) in enumerate(late) if i + 1 == len(late) or late[i + 1][0] != at]
        if name not in observed.lights and len(kept) != len(late):
            return None
        steady: Changes = []
        for at, level in kept:
            if level != (steady[-1][1] if steady else observed.first[name]):
                steady.append((at, level))
        changes[name] = steady
    end = observed.end_us // period * period
    changes = {name: [(at, level) for at, level in own if at <= end] for name, own in changes.items()}
    return Observed(observed.first, changes, observed.kinds, end, observed.unseen)


def as_csv(observed: Observed, hidden: Sequence[str] = ()) -> str:
    """In the form of one row for each change with all levels."""
    names = [name for name in observed.kinds if name not in hidden]
    now = {name: observed.first[name] for name in names}
    rows = [",".join(["time_us", *names]), _row(0, now)]
    times = sorted({at for name in names for at, _ in observed.changes[name]})
    by_time: dict[int, dict[str, bool]] = {at: {} for at in times}
    for name in names:
        for at, level in observed.changes[name]:
            by_time[at][name] = level
    for at in times:
        now.update(by_time[at])
        rows.append(_row(at, now))
    return "\n".join([*rows, _row(observed.end_us, now)]) + "\n"


def _row(at: int, levels: Mapping[str, bool]) -> str:
    return ",".join([str(at), *(str(int(level)) for level in levels.values())])


def as_map(observed: Observed, period: int, hidden: Sequence[str] = ()) -> str:
    lines = ["recording: 1", f"sample period: {period} us", "channels:"]
    lines += [f"  {name}: {kind}" for name, kind in observed.kinds.items() if name not in hidden]
    lines += [f"unseen: [{', '.join(observed.unseen)}]"] if observed.unseen else []
    return "\n".join(lines) + "\n"


def read(device: Device, observed: Observed, period: int, hidden: Sequence[str] = ()) -> tuple[Map, Recording]:
    what, notes = read_map(as_map(observed, period, hidden), "map.yaml", device)
    return what, read_csv(as_csv(observed, hidden), "recording.csv", what.wanted, notes)


def judge(device: Device, observed: Observed, period: int, hidden: Sequence[str] = ()) -> Outcome:
    return follow(device, *read(device, observed, period, hidden))
