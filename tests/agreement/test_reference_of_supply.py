"""Weak cells: what the naive simulator sees of a specimen, from the physics, is what the tool's model allows it to do."""

from __future__ import annotations

from collections import Counter
from fractions import Fraction
from functools import cache
from random import Random

import pytest

from nudgeproof.check import check
from nudgeproof.engines.concrete import Run
from nudgeproof.parts.behaviours import brown_outs, readings
from nudgeproof.parts.compile import Environment, compile_model
from nudgeproof.parts.draws import Config, carries_at_most, configs, survives, trips
from nudgeproof.parts.script import Edge
from nudgeproof.parts.supply import HOLDS_UP
from nudgeproof.spec.electrical import RUNNING
from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import Device
from nudgeproof.units import FOREVER
from tests.agreement import supplied
from tests.agreement.random_supply import END_US, script, sketch
from tests.amount import amount
from tests.reference.clock import Tie
from tests.reference.electric import Node, Specimen, Unlike

DEVICES = 24
UNITS = 24


@cache
def device_of(seed: int, capacitor: bool | None = None, chatter: bool = False) -> Device:
    return read_device(sketch(seed, capacitor, chatter), f"supply {seed}.yaml")


@pytest.mark.parametrize("seed", range(DEVICES))
def test_each_specimen_does_what_one_of_the_behaviours_says(seed: int) -> None:
    device = device_of(seed)
    for number in range(UNITS):
        used = supplied.some_share(device, number)
        specimen = supplied.unit(device, number, used)
        for may_come in (False, True):
            some = supplied.resetting(device, specimen, may_come)
            found = supplied.behaviour_of(device, some)
            if found is None:
                assert supplied.never_starts(specimen), (number, sorted(map(str, some)))
            elif found >= 0:
                assert brown_outs(device)[found].begins <= used
                surely = [one for one in brown_outs(device) if one.everywhere is not None and one.everywhere < used]
                assert all({config for config, _ in one.what} <= some or may_come < 1 for one in surely)


def test_specimens_of_many_behaviours_are_met() -> None:
    met: Counter[str] = Counter()
    for seed in range(DEVICES):
        device = device_of(seed)
        for number in range(UNITS):
            specimen = supplied.unit(device, number, supplied.some_share(device, number))
            some = supplied.resetting(device, specimen, True)
            met.update(("one" if len(some) == 1 else "several",) if some else ("none",))
    assert met["none"] > 100
    assert met["one"] > 30
    assert met["several"] > 15, met


def runs(seed: int, number: int, outages: bool, capacitor: bool | None = None) -> supplied.Both | None:
    """One specimen with random presses and losses of contact; None where the rules leave it open."""
    device = device_of(seed, capacitor)
    _, specimen = supplied.weak_unit(device, number)
    found = supplied.behaviour_of(device, supplied.resetting(device, specimen, True))
    try:
        edges = script(100 * seed + number, outages)
        return None if found is None else supplied.both(device, specimen, found, edges, END_US, number)
    except (Tie, Unlike):
        return None


@pytest.mark.parametrize("outages", [False, True])
def test_what_a_specimen_does_the_model_may_do(outages: bool) -> None:
    done: Counter[str] = Counter()
    for seed in range(0, DEVICES, amount(2, 1)):
        for number in range(2, 5):
            both = runs(seed, number, outages)
            done["none" if both is None else "run"] += 1
            if both is not None:
                assert both.model == both.naive, (seed, number)
                done.update({what for _, what in both.naive})
    assert done["none"] < done["run"] / 8
    assert done["browned out"] > 5
    assert not outages or done["power lost"] > 10, done


def falls(
    specimen: Specimen, first: tuple[int, ...], after_us: int, then: tuple[int, ...], watches: bool
) -> int | None:
    """How long after the loss of contact all is reset, the loads changing on the way; None if never."""
    node = Node(specimen)
    node.draws(0, first, True, watches)
    node.draws(0, first, False, watches)
    if node.comes is not None and node.comes[0] <= after_us:
        return node.comes[0]
    node.draws(after_us, then, False, watches)
    return None if node.comes is None else node.comes[0]


@pytest.mark.parametrize("seed", range(0, DEVICES, amount(4, 2)))
def test_a_loss_of_contact_lasts_as_reckoned(seed: int) -> None:
    device = device_of(seed, capacitor=True)
    rng = Random(f"loss {seed}")
    known = [config for config in configs(device) if trips(device, config) is not None]
    for number in range(UNITS):
        specimen = supplied.unit(device, number, supplied.some_share(device, number))
        first, then = rng.choice(known), rng.choice(known)
        for one in (first, then):
            on = supplied.loads_on(specimen, one, rng.random() < 0.5)
            if specimen.steady(on) < specimen.trips:
                continue
            span, lasts = survives(device, one), falls(specimen, on, 10**9, on, True)
            assert lasts is not None
            assert span.lo <= lasts <= span.hi, (number, str(one))
        some, others = (supplied.loads_on(specimen, one, False) for one in (first, then))
        lasts = falls(specimen, some, 10**9, some, True)
        if lasts is None or specimen.steady(some) < specimen.trips:
            continue
        change = rng.randrange(lasts)
        whole = falls(specimen, some, change, others, True)
        assert whole is not None
        assert change <= whole <= change + carries_at_most(device, then), (number, str(first), str(then))


def at_the_end(device: Device, used: float, longest: bool) -> Specimen:
    """The specimen that a capacitor holds up longest, or shortest."""

    def pick(name: str, low: float, high: float) -> float:
        less_lasts = name in ("cells", "leak", "level") or name.endswith(" draws")
        return low if less_lasts == longest else high

    return Specimen(device, used, pick)


LAMPS = """spec: 1
device: lamps
buttons: {pad: {bounce: up to 0 ms, debounce: 20 ms}}
gestures: {tap: {taps: 1, press: up to 400 ms}}
initial: still
states:
  still: {sleep: {woken by: [pad], on: edge, ready in: 2 ms, dozes again after: 50 ms}, transitions: {tap: lit}}
  lit: {transitions: {tap: still}}
power up: {takes: 70 ms, if blank: still}
supply:
  cells: {fresh: {open: 3.0 V ± 2 %, resistance: 20 ohm ± 10 %}, spent: {open: 2.8 V ± 2 %, resistance: 30 ohm ± 10 %}}
  capacitor: {size: 100 uF ± 20 %}
  brown-out: {level: 1.9 to 2.1 V, hysteresis: 50 mV, responds in: 20 to 60 us}
loads:
  standby: {draws: 90 to 110 uA, while: asleep}
  processor: {draws: 1 mA ± 10 %, while: running}
  lamp: {draws: 12 mA ± 10 %, in: lit}
"""


def test_the_ends_of_a_hold_up_are_met() -> None:
    device = read_device(LAMPS, "lamps.yaml")
    for config in configs(device)[1:]:
        span = survives(device, config)
        for longest in (False, True):
            specimen = at_the_end(device, 0.0 if longest else 1.0, longest)
            on = supplied.loads_on(specimen, config, False)
            lasts = falls(specimen, on, 10**9, on, True)
            assert lasts is not None
            assert (span.hi - 5 <= lasts <= span.hi) if longest else (span.lo <= lasts <= span.lo + 5), str(config)


def test_what_a_light_load_left_feeds_a_heavy_one_for_longer() -> None:
    device = read_device(LAMPS, "lamps.yaml")
    specimen = at_the_end(device, 0.0, longest=True)
    asleep, lit = (next(c for c in configs(device) if str(c) == name) for name in ("still, asleep", "lit"))
    some, others = (supplied.loads_on(specimen, config, False) for config in (asleep, lit))
    whole = falls(specimen, some, 10, others, True)
    assert whole is not None
    assert survives(device, lit).hi < whole - 10 <= carries_at_most(device, lit)
    assert carries_at_most(device, lit) < 2 * survives(device, lit).hi


def test_a_load_that_comes_late_in_an_outage_has_what_is_left_of_the_charge() -> None:
    device = read_device(LAMPS, "lamps.yaml")
    specimen = at_the_end(device, 0.5, longest=False)
    lit = next(config for config in configs(device) if str(config) == "lit")
    awake, bright = (supplied.loads_on(specimen, c, False) for c in (Config("running", "still"), lit))
    alone_us = falls(specimen, awake, 10**9, awake, True)
    assert alone_us is not None
    entered = next(at for at, what in _tap(device, specimen, ()) if what == "entered lit")
    gone = entered - alone_us * 9 // 10
    both = supplied.both(
        device, specimen, -1, _edges((Edge(gone, "", False), Edge(gone + 200_000, "", True))), 2_000_000, 1
    )
    lost = next(at for at, what in both.naive if what == "power lost")
    assert entered < lost < entered + survives(device, lit).lo
    assert both.model == both.naive
    assert bright != awake


def _edges(cell: tuple[Edge, ...]) -> tuple[Edge, ...]:
    return tuple(sorted((Edge(500_000, "pad", True), Edge(700_000, "pad", False), *cell)))


def _tap(device: Device, specimen: Specimen, cell: tuple[Edge, ...]) -> list[tuple[int, str]]:
    return supplied.alone(device, specimen, _edges(cell), 2_000_000, 1)


def test_a_loss_of_contact_begins_with_the_whole_charge() -> None:
    device = read_device(LAMPS, "lamps.yaml")
    model = compile_model(device, Environment(script=(Edge(1_000, "", False), Edge(9_000, "", True)), calm=True))
    run = Run(model)
    run.advance(1_000)
    run.take(run.possible()[0], 0)
    span = survives(device, next(config for config in configs(device) if config.phase == "asleep"))
    assert span.lo > 0
    assert model.value(run.situation, HOLDS_UP) == ("hold-up", span.lo, span.hi, span.lo)


def loops(device: Device, specimen: Specimen, seed: int) -> bool:
    """Whether it resets over and over long after the last press."""
    edges = [edge for edge in script(seed, False) if edge.at_us < 3_000_000]
    edges = edges if len(edges) % 2 == 0 else edges[:-1]
    try:
        seen = supplied.alone(device, specimen, edges, 12_000_000, seed)
    except (Tie, Unlike):
        return False
    last = max((edge.at_us for edge in edges), default=0)
    resets = [at for at, what in seen if what == "browned out" and at > last + 500_000]
    return len(resets) > 8 and resets[-1] > 10_000_000


@pytest.mark.parametrize("chunk", range(amount(1, 4)))
def test_a_specimen_that_goes_round_is_known_to(chunk: int) -> None:
    found: Counter[str] = Counter()
    for seed in range(chunk, 2 * DEVICES, 4):
        device = device_of(seed)
        share = said_from(device)
        found["broken" if share is not None else "holds"] += 1
        for number in range(4):
            used, specimen = supplied.weak_unit(device, number)
            if loops(device, specimen, number):
                assert share is not None, (seed, number)
                assert share <= used, (seed, number)
                found["loops"] += 1
    assert min(found["broken"], found["holds"], found["loops"]) > 1, found


def said_from(device: Device) -> float | None:
    """From which share used on `boot-loop` says that the device goes round; None where it holds."""
    (finding,) = check(device, "quick", only=("boot-loop",)).findings
    assert finding.verdict.word in ("broken", "holds"), finding
    if finding.verdict.word == "holds":
        return None
    if finding.sentence.startswith("with fresh cells"):
        return 0.0
    return float(finding.sentence.removeprefix("once ").split(" %")[0]) / 100


@pytest.mark.parametrize("seed", range(0, DEVICES, amount(2, 1)))
def test_each_specimen_reads_its_cells_as_one_of_the_readings_says(seed: int) -> None:
    device = device_of(seed, capacitor=False, chatter=True)
    assert device.cell is not None
    assert device.electricity is not None
    low, fine = device.cell.low_mv / 1000, device.cell.fine_mv / 1000
    running = [config for config in configs(device) if config.phase == RUNNING]
    known = {tuple(one.of(config) for config in running): one.begins for one in readings(device)}
    for number in range(UNITS):
        used = Random(f"reads {seed} {number}").random() * float(device.electricity.until)
        specimen = supplied.unit(device, number, used)
        for may_come in (False, True):
            volts = [specimen.steady(supplied.loads_on(specimen, config, may_come)) for config in running]
            levels = tuple("below" if v < low else "above" if v > fine else "between" for v in volts)
            assert "below" not in levels or (levels in known and known[levels] <= Fraction(used)), (number, volts)


PEAKS = """spec: 1
device: peaks
buttons: {pad: {bounce: up to 0 ms, debounce: 20 ms}}
gestures: {tap: {taps: 1, press: up to 400 ms}}
initial: still
states:
  still: {transitions: {tap: calling}}
  calling: {transitions: {tap: still}}
power up: {takes: 70 ms, if blank: still}
supply:
  cells: {fresh: {open: 3.0 V, resistance: 10 ohm}, spent: {open: 2.6 V, resistance: 60 ohm}}
  brown-out: {level: 2.0 V, responds in: 2 us}
loads:
  processor: {draws: 1 mA, while: running}
  radio: {draws: 1 mA, peak: 12 mA, pulse: 5 ms, in: calling}
  pull: {resistor: 270 ohm, while: pad pressed}
"""


@pytest.mark.parametrize("radio", ["draws: 1 mA, peak: 12 mA, pulse: 5 ms", "draws: 2.5 mA"])
def test_a_peak_or_a_press_resets_when_it_comes_and_not_before(radio: str) -> None:
    device = read_device(PEAKS.replace("draws: 1 mA, peak: 12 mA, pulse: 5 ms", radio), "peaks.yaml")
    specimen = Specimen(device, 0.95, lambda name, low, high: low)
    calling = supplied.resetting(device, specimen, "peak" not in radio)
    assert calling == {Config("running", "calling")}
    found = supplied.behaviour_of(device, calling)
    assert found is not None
    # No peak comes in this run, and no press once the radio calls: nothing is reset, and the model may do so too.
    edges = (Edge(100_000, "pad", True), Edge(200_000, "pad", False))
    both = supplied.both(device, specimen, found, edges, 1_000_000, 1)
    assert both.resets == 0
    assert both.model == both.naive
    assert (220_000, "entered calling") in both.naive


UNWATCHED = """spec: 1
device: unwatched
buttons: {pad: {bounce: up to 0 ms, debounce: 20 ms}}
gestures: {tap: {taps: 1, press: up to 400 ms}}
initial: still
states:
  still: {sleep: {woken by: [pad], on: edge, ready in: 2 ms, dozes again after: 50 ms}, transitions: {tap: awake}}
  awake: {transitions: {tap: still}}
power up: {takes: 70 ms, if blank: still}
supply:
  cells: {fresh: {open: 3.0 V, resistance: 10 ohm}, spent: {open: 2.6 V, resistance: 60 ohm}}
  capacitor: {size: 10 uF}
  brown-out: {level: 2.0 V, responds in: 2 us, asleep: off}
loads: {standby: {draws: 100 uA}, processor: {draws: 1 mA, while: running}}
"""


def test_asleep_without_a_reset_a_loss_of_contact_may_go_unnoticed_for_any_time() -> None:
    device = read_device(UNWATCHED, "unwatched.yaml")
    asleep = next(config for config in configs(device) if config.phase == "asleep")
    assert survives(device, asleep).hi == FOREVER
    heavy = read_device(UNWATCHED.replace("100 uA}", "30 mA, while: asleep}"), "heavy.yaml")
    assert trips(heavy, asleep) is None
    assert not any(one.of(asleep) for one in brown_outs(heavy))
    watched = read_device(UNWATCHED.replace(", asleep: off", ""), "watched.yaml")
    assert survives(watched, asleep).hi < FOREVER


def test_without_a_capacitor_a_loss_shorter_than_the_reset_responds_goes_unnoticed() -> None:
    device = read_device(PEAKS.replace("responds in: 2 us", "responds in: 20 to 60 us"), "peaks.yaml")
    assert device.supply is not None
    assert (device.supply.hold_up.lo, device.supply.hold_up.hi) == (20, 60)
