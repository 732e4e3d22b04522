"""Undefined voltage: the processor runs below its lowest voltage, where nothing is certain, and isn't reset there.

Between the lowest legal voltage and the brown-out level lies a band, on some units at least, in which a processor may run
wild or write into its memory. Cells that are used up lie in it for days; a lost contact passes it each time.
"""

from __future__ import annotations

from fractions import Fraction

from nudgeproof.diagnostics import Place
from nudgeproof.hazards.weak_cells import NO_CELLS, by_use, failing, holding, since
from nudgeproof.parts.draws import Config, configs, held, stays_at, trips
from nudgeproof.quantities import Amount, Band, just, show, volts
from nudgeproof.questions.ask import Derived, NotAsked, Question
from nudgeproof.spec.electrical import ASLEEP, RUNNING, STARTING, Electricity
from nudgeproof.spec.types import Device, Outage
from nudgeproof.supply.rail import BEST, WORST
from nudgeproof.units import FOREVER, round_us, show_us

NAME = "undefined-voltage"
MEANS = "the processor runs, or its memory is written, below the lowest voltage for that, and isn't reset there"
CURE = (
    "a brown-out level that lies above the processor's lowest voltage on every unit, also in sleep; or a slower clock, which"
    " works from less"
)
SHOWN = """\
voltage    ▇▇▇▇▇▆▅▄▃▂▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁  falls when the cells are out
processor  |runs    |wild |off                it may write anything anywhere"""
ASKED_IF = "`cells` and `works from` in `supply`"
TEMPTING = "trust the typical level of the datasheet: some units are reset lower than that"
EXACT = "exact for the levels stated; for how long a falling voltage stays in the band is the longest time of any unit"


def ask(device: Device) -> tuple[Question | Derived, ...] | NotAsked:
    """Whether cells that are used up lie in the band, whether each loss of contact passes it, and the same of writes."""
    electricity = device.electricity
    if electricity is None:
        return NotAsked(NAME, NO_CELLS)
    if electricity.works_from is None:
        return NotAsked(NAME, "`supply` doesn't say from which voltage the processor `works from`")
    asked: list[Question | Derived] = [_used_up(device, electricity, electricity.works_from)]
    outages = [what for what in device.surroundings if isinstance(what, Outage)]
    asked += [_lost(device, electricity, electricity.works_from, what.name, what.gone.hi, what.at) for what in outages]
    memory = device.memory
    if memory is not None and memory.write_needs is not None:
        asked.append(_writes(device, electricity, memory.write_needs, outages, memory.at))
    return tuple(asked)


def _band(level: Band | None, works_from: Amount) -> Band | None:
    """From where some units are reset up to the lowest legal voltage; None if every unit is reset before."""
    low = level.lo if level is not None else volts(0)
    return Band(low, works_from) if low < works_from else None


def _used_up(device: Device, electricity: Electricity, works_from: Amount) -> Question | Derived:
    below: dict[Config, tuple[Fraction, Fraction | None]] = {}
    for config in configs(device):
        level = trips(device, config)
        if config.phase == STARTING or _band(level, works_from) is None:
            continue
        worst, best = (stays_at(device, config, works_from, corner) for corner in (WORST, BEST))
        begins = Fraction(0) if worst is None else worst
        if begins < electricity.until:
            everywhere = Fraction(0) if best is None else best
            below[config] = begins, everywhere if everywhere < electricity.until else None
    told = ""
    if below:
        first = min(below, key=lambda config: below[config][0])
        level = trips(device, first)
        reset = f"is reset at {show(level.lo)} only" if level is not None else "isn't reset at all"
        asleep = ", where the reset is off," if first.phase == ASLEEP and electricity.reset is not None else ""
        told = f"{since(*below[first])} the voltage in {first}{asleep} is below {show(works_from)}, from which the processor"
        told += f" works, and it {reset}"
    held = f"down to cells that are changed the processor never runs below {show(works_from)} without being reset"
    return by_use(device, NAME, "used cells", tuple(below), told, held, CURE, electricity.cells_at)


def _lost(device: Device, electricity: Electricity, works_from: Amount, name: str, gone: float, at: Place) -> Derived:
    levels = [trips(device, config) for config in configs(device) if config.phase != STARTING]
    known = [level for level in levels if level is not None]
    level = min(known, key=lambda one: one.lo) if known and None not in levels else None
    band = _band(level, works_from)
    held_ = f"with {name} the processor is reset before the voltage is below {show(works_from)}"
    if band is None:
        return holding(NAME, name, held_, at)
    on = [config for config in configs(device) if config.phase != STARTING]
    first = min((held(device, one, electricity.until, just(works_from)).lo for one in on), default=0)
    if first > gone:
        return holding(NAME, name, f"{name} is too short for the voltage to fall to {show(works_from)}", at)
    times = [held(device, one, Fraction(0), Band(band.lo, band.lo)).hi for one in on] if band.lo else []
    longest = max(times, default=FOREVER)
    lasts = "" if longest == FOREVER else f" within {show_us(round_us(int(longest), up=True))}"
    where = f"from {show(works_from)} down to {show(band.lo)}" if level is not None else f"below {show(works_from)}"
    where += ", in sleep too, where nothing resets it" if level is None and known else ""
    told = f"with {name} the voltage falls {where}{lasts}, and on some units the processor runs on there"
    return failing(NAME, name, told, CURE, at)


def _writes(device: Device, electricity: Electricity, needs: Amount, outages: list[Outage], at: Place) -> Derived:
    level = electricity.reset.rules.trips if electricity.reset is not None else None
    subject = "writes"
    if _band(level, needs) is None:
        return holding(
            NAME, subject, f"the processor is reset before the voltage is too low for a write ({show(needs)})", at
        )
    running = [config for config in configs(device) if config.phase == RUNNING]
    turns = [stays_at(device, config, needs, WORST) for config in running]
    first = min((held(device, one, electricity.until, just(needs)).lo for one in running), default=0)
    causes = [what.name for what in outages if first <= what.gone.hi]
    causes += ["used cells"] if any(turn is None or turn < electricity.until for turn in turns) else []
    if not causes:
        said = f"the voltage never falls too low for a write ({show(needs)}) until cells are changed"
        return holding(NAME, subject, said, at)
    reset = f"some units are reset at {show(level.lo)} only" if level is not None else "nothing resets the processor"
    when = " or ".join(causes)
    told = f"a write needs {show(needs)}, and {reset}: with {when} it may be spoilt, also in a cell that isn't written"
    return failing(NAME, subject, told, f"{CURE}; keep nothing in the first cell of the memory", at)
