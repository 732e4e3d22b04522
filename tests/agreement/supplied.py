"""One specimen of a device with weak cells, run by the naive simulator and by the tool's model, and what each shows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from random import Random

from nudgeproof.model.tables import Timer
from nudgeproof.parts.behaviours import brown_outs
from nudgeproof.parts.compile import Environment
from nudgeproof.parts.draws import Config, configs
from nudgeproof.parts.script import Edge
from nudgeproof.spec.electrical import ASLEEP, PRESSED, RUNNING
from nudgeproof.spec.types import Device
from nudgeproof.units import FOREVER
from tests.reference.clock import Draw, Seen
from tests.reference.electric import Node, Specimen, is_on, picker
from tests.reference.simulator import simulate
from tests.reference.specimen import Led, draw_for, play_in

_MOST_STARTS = 40


def unit(device: Device, seed: int, used: float) -> Specimen:
    """A specimen drawn at random, often at the ends of its tolerances."""
    return Specimen(device, used, picker(f"unit {seed}"))


def some_share(device: Device, seed: int) -> float:
    """A share used at which the specimens of the seed are looked at; often just behind where a behaviour begins."""
    assert device.electricity is not None
    rng, until = Random(f"share {seed}"), float(device.electricity.until)
    begins = [float(one.begins) for one in brown_outs(device)]
    if begins and rng.random() < 0.5:
        return min(until - 1e-6, rng.choice(begins) + rng.choice((1e-6, 0.01, 0.05)))
    return rng.random() * until


def weak_unit(device: Device, number: int) -> tuple[float, Specimen]:
    """A share used and a specimen which some load resets then, if a few tries find one; of those that start at all."""
    used, specimen = 0.0, unit(device, number, 0.0)
    for attempt in range(12):
        used = some_share(device, 100 * number + attempt)
        specimen = unit(device, 100 * number + attempt, used)
        some = resetting(device, specimen, True)
        if some and all(config.phase == RUNNING for config in some):
            break
    return used, specimen


def loads_on(specimen: Specimen, config: Config, may_come: bool) -> tuple[int, ...]:
    """The loads that are on in a configuration; `may_come`: with all those that come and go within it."""
    pressed = [one.drain.button for one in specimen.loads if may_come and one.drain.when == PRESSED]
    values = dict(config.values)
    return tuple(
        i
        for i, one in enumerate(specimen.loads)
        if is_on(one.drain, config.phase, config.state, values, pressed, may_come and config.phase == "running")
    )


def resetting(device: Device, specimen: Specimen, may_come: bool) -> frozenset[Config]:
    """The configurations in which this specimen, left there, is reset."""
    return frozenset(
        config
        for config in configs(device)
        if (specimen.works_asleep or config.phase != ASLEEP)
        and specimen.steady(loads_on(specimen, config, may_come), peaks=True) < specimen.trips
    )


def never_starts(specimen: Specimen) -> bool:
    """Whether it stays in reset for good once it is reset."""
    idle = [i for i, one in enumerate(specimen.loads) if is_on(one.drain, "in reset", "", {})]
    return bool(specimen.steady(idle) <= specimen.lets_go)


def behaviour_of(device: Device, some: frozenset[Config]) -> int | None:
    """The number of the tool's behaviour with just these configurations; -1 for none of them, None if it knows no such."""
    if not some:
        return -1
    found = [number for number, one in enumerate(brown_outs(device)) if {config for config, _ in one.what} == some]
    return found[0] if found else None


@dataclass(frozen=True)
class Both:
    """What the naive simulator saw, what the model shows when it is led by that, and the resets."""

    naive: list[Seen]
    model: list[Seen]

    @property
    def resets(self) -> int:
        return sum(what in ("browned out", "power lost") for _, what in self.naive)


def alone(
    device: Device,
    specimen: Specimen,
    edges: Sequence[Edge],
    end_us: int,
    seed: int,
    draw: Draw | None = None,
    most: int | None = None,
) -> list[Seen]:
    """What the naive simulator sees of this specimen."""
    levels = {
        button.name: [(edge.at_us, edge.closes) for edge in edges if edge.button == button.name]
        for button in device.buttons
    }
    cell = [(edge.at_us, edge.closes) for edge in edges if edge.is_cell]
    return simulate(device, levels, cell, end_us, draw or draw_for(seed), node=Node(specimen), most=most)


def both(
    device: Device,
    specimen: Specimen,
    behaviour: int,
    edges: tuple[Edge, ...],
    end_us: int,
    seed: int,
    most: int | None = None,
) -> Both:
    """Run the specimen, then the model with its behaviour: its resets come when those of the specimen did, if they may.

    Raises `Tie`, `Unlike`, and `TooLong` if more than `most` things happen.
    """
    environment = Environment(script=edges, calm=True, sags=behaviour)
    draw: Draw | None = None
    for _ in range(_MOST_STARTS):
        naive = alone(device, specimen, edges, end_us, seed, draw, most)
        played = play_in(device, environment, end_us, seed, _leading(naive, end_us))
        again = alone(device, specimen, edges, end_us, seed, played.draw, most)
        if again == naive:
            break
        draw = played.draw  # the model chose what a start finds in a cell that was cut
    if behaviour < 0 and not any(edge.is_cell for edge in edges):
        naive = [one for one in naive if not one[1].startswith(("wrote ", "torn "))]  # the parts do without memory
    return Both(_until(played.end_us, naive), _until(played.end_us, played.seen))


def _leading(naive: list[Seen], end_us: int) -> Led:
    def led(owner: str, timer: Timer, now: int) -> int | None:
        if timer.name == "the cells get weak":
            return 0  # the specimen has them from the beginning
        if owner == "brown-out":
            kind = "browned out"
        elif owner == "supply" and timer.name != "starts":
            kind = "power lost"
        else:
            return None
        due = next((at for at, what in naive if what == kind and at >= now), None)
        if due is None:
            return end_us + 1 if timer.hi == FOREVER else int(timer.hi)
        return max(timer.lo, due - now if timer.hi == FOREVER else min(due - now, int(timer.hi)))

    return led


def _until(end_us: int, seen: list[Seen]) -> list[Seen]:
    """What was seen until then; what is seen at one instant has no order."""
    return sorted(one for one in seen if one[0] <= end_us)
