"""A device of the naive simulator as a firmware for trials: what is done to it, and what one would record of it.

Each stimulus is answered by another specimen, its times drawn from the seed and the stimulus alone, so that the same acts
are answered in the same way. Where two things fall on one microsecond the rules allow any order; then other times are drawn,
and if that doesn't help the recording ends just before.
"""

from __future__ import annotations

from random import Random
from zlib import crc32

from nudgeproof.firmware.acts import BUTTON, CELL, EVENT, Acts, edges_of
from nudgeproof.firmware.mapping import Map, read_map
from nudgeproof.firmware.performed import PLAIN, Chip, Perform, Performed, Setup
from nudgeproof.firmware.recording import read_csv
from nudgeproof.spec.outside import Maker, Sag
from nudgeproof.spec.types import Device
from tests.firmware.observed import Observed, as_csv, as_map, lights_of, sampled, watch
from tests.reference.clock import Tie
from tests.reference.faults import Simulate
from tests.reference.scripts import can_be_interrupted
from tests.reference.simulator import simulate
from tests.reference.specimen import draw_for

_TRIES = 6


def wires(device: Device, has_cell: bool) -> dict[str, str]:
    """What the map says of each channel: all that may act, a pin for each state and for each first value."""
    kinds = {f"B{i}": f"{{button: {one.name}, pressed when: low}}" for i, one in enumerate(device.buttons)}
    makers = [source for source in device.surroundings if isinstance(source, Maker)]
    made = dict.fromkeys(event for maker in makers for event in maker.events)
    kinds |= {f"E{i}": f"{{event: {event}, happens when: goes high}}" for i, event in enumerate(made)}
    return kinds | ({"C": "{cell there when: high}"} if has_cell else {}) | lights_of(device)


def simulated(
    device: Device, seed: int, period: int, hides: int = 0, simulator: Simulate = simulate
) -> tuple[Map, Perform, Chip | None]:
    """The map of such a device, what it does, and what trials must know of its memory; some lights aren't recorded."""
    has_cell = device.supply is not None and can_be_interrupted(device)
    kinds = wires(device, has_cell)
    lights = [name for name in kinds if name.startswith("L")]
    hidden = Random(f"{seed}/hidden").sample(lights, min(hides, len(lights) - 1))
    sags = tuple(what.name for what in device.surroundings if isinstance(what, Sag))
    what, notes = read_map(as_map(Observed({}, {}, kinds, 0, sags), period, hidden), "map.yaml", device)
    names = {(one.kind, one.target): one.name for one in what.channels if one.kind != "light"}

    def answer(acts: Acts, end_us: int, salt: str) -> Observed:
        """What is to be seen; raises `Tie`."""
        edges = [edge for edge in edges_of(acts) if edge.at_us <= end_us]
        levels = {
            b.name: [(e.at_us, e.on) for e in edges if (e.kind, e.what) == (BUTTON, b.name)] for b in device.buttons
        }
        cell = [(e.at_us, not e.on) for e in edges if e.kind == CELL]
        happened = [(e.at_us, e.what) for e in edges if e.kind == EVENT and e.on]
        rng = Random(salt)
        rounds = [rng.randint(1, end_us)] if device.elapsed is not None and rng.random() < 0.5 else []
        seen = simulator(device, levels, cell, end_us, draw_for(salt), happened, (), rounds)
        first, changes = watch(device, seen)
        for (kind, target), name in names.items():
            own = [(e.at_us, e.on) for e in edges if (e.kind, e.what) == (kind, target)]
            first[name] = kind != EVENT
            changes[name] = [(at, on if kind == EVENT else not on) for at, on in own]
        return Observed(first, changes, kinds, end_us, sags)

    def perform(acts: Acts, end_us: int, setup: Setup = PLAIN) -> Performed:
        salt = f"{seed}/{crc32(repr((acts, end_us)).encode())}"
        end = max(end_us, *(act.end_us + 1 for act in acts)) if acts else end_us
        for number in range(_TRIES + 2):
            try:
                seen = answer(acts, end, f"{salt}/{min(number, _TRIES)}")
                break
            except Tie as tie:
                # Once the times stay the same, what lies before the tie is a recording too.
                end = int(str(tie).split()[1]) - 1 if number >= _TRIES else end
        text = as_csv(sampled(seen, period) or seen, hidden)
        return Performed(read_csv(text, "recording.csv", what.wanted, notes), text)

    memory, supply = device.memory, device.supply
    writes = None
    if memory is not None and supply is not None and has_cell:
        writes = Chip(1 + len(device.variables), max(1, int(memory.write.hi)), int(supply.hold_up.hi))
    return what, perform, writes
