"""Over limit: with fresh cells a load, or all of them together, draws more than it may."""

from __future__ import annotations

from fractions import Fraction

from nudgeproof.hazards.weak_cells import NO_CELLS, by_use
from nudgeproof.parts.draws import Config, configs, drawn, volts_in
from nudgeproof.quantities import Amount, Band, show
from nudgeproof.questions.ask import Derived, NotAsked, Question
from nudgeproof.spec.electrical import Drain
from nudgeproof.spec.types import Device
from nudgeproof.supply.loads import Load, surge, total

NAME = "over-limit"
MEANS = "with fresh cells a pin, an LED or the processor carries more current than it may"
CURE = "a larger resistor, a driver between pin and load, or fewer loads at once"
SHOWN = """\
current    ▇▇▇▇▇▇▇▇▆▆▆▆▅▅▅▅▄▄▄▄▃▃▃▃▃▂▂▂  fresh cells drive the most
limit      ▅▅▅▅▅▅▅▅▅▅▅▅▅▅▅▅▅▅▅▅▅▅▅▅▅▅▅▅  of the pin: it ages, or gives way"""
ASKED_IF = "`cells` in `supply`, and `at most` at a load or in `supply`"
TEMPTING = "measure it with the cells at hand: they aren't fresh, and the resistor isn't at the end of its tolerance"
EXACT = "exact for the cells and loads stated, all at the end of their tolerances, and all peaks at once"


def ask(device: Device) -> tuple[Question | Derived, ...] | NotAsked:
    """One question for each load with a limit, and one for all of them together."""
    electricity = device.electricity
    if electricity is None:
        return NotAsked(NAME, NO_CELLS)
    limited = [drain for drain in device.loads if drain.most is not None]
    asked = [_of_load(device, drain, drain.most) for drain in limited]
    if electricity.most is not None:
        asked.append(_of_all(device, electricity.most))
    return tuple(asked) if asked else NotAsked(NAME, "nothing states what it carries `at most`")


def _of_load(device: Device, drain: Drain, most: Amount) -> Question | Derived:
    over = {}
    for config in configs(device):
        if drain.load in drawn(device, config).most:
            current = _largest(drain.load, _fresh(device, config).hi)
            if current > most:
                over[config] = current
    name = drain.load.name
    told = ""
    if over:
        worst = max(over, key=lambda config: over[config])
        told = (
            f"with fresh cells up to {show(over[worst])} flow through the {name} in {worst}; it may carry {show(most)}"
        )
    held = f"the {name} never carries more than {show(most)}"
    return by_use(device, NAME, name, tuple(over), told, held, CURE, drain.at)


def _of_all(device: Device, most: Amount) -> Question | Derived:
    over = {}
    for config in configs(device):
        loads, at = drawn(device, config).most, _fresh(device, config).hi
        current = total(loads, at).hi + surge(loads, at).hi
        if current > most:
            over[config] = current
    told = ""
    if over:
        worst = max(over, key=lambda config: over[config])
        told = f"with fresh cells up to {show(over[worst])} flow in {worst}; all loads together may draw {show(most)}"
    assert device.electricity is not None
    held = f"all loads together never draw more than {show(most)}"
    return by_use(device, NAME, "all loads", tuple(over), told, held, CURE, device.electricity.at)


def _fresh(device: Device, config: Config) -> Band:
    return volts_in(device, config, Fraction(0))


def _largest(load: Load, at: Amount) -> Amount:
    return load.average(at).hi + load.surge(at).hi
