"""Boot loop: on weak cells a load pulls the supply below its brown-out level, the device starts again, and so for ever.

The cells and the unit are cut into stretches in which no comparison of a voltage with the level turns; each is explored by
itself, with whatever somebody did before. Going round means: with nobody doing anything the device is again what it was,
or it can't even start.
"""

from __future__ import annotations

from fractions import Fraction

from nudgeproof.hazards.disturbed import history_of
from nudgeproof.hazards.weak_cells import NO_CELLS, WEAK_CELLS, failing, holding, open_answer, percent, since
from nudgeproof.model.step import Move
from nudgeproof.model.tables import Model, Situation
from nudgeproof.parts.behaviours import Behaviour, TooMany, brown_outs
from nudgeproof.parts.brown_out import LOOPS
from nudgeproof.parts.compile import Environment
from nudgeproof.parts.draws import IN_RESET, configs, stays_at, trips, volts_in
from nudgeproof.quantities import show
from nudgeproof.questions.ask import Derived, NotAsked, Question
from nudgeproof.questions.steps import being_noted, going_round
from nudgeproof.spec.types import Device
from nudgeproof.supply.rail import WORST

NAME = "boot-loop"
MEANS = "on weak cells a load resets the device, it starts again, the load resets it again, until the cells are flat"
CURE = (
    "start without the load after a brown-out (`brown-out: {starts in: ...}`, perhaps after some `tries`); a larger"
    " capacitor if it is a short peak; or a smaller load"
)
SHOWN = """\
voltage    ▇▇▇▆▄▂▇▇▇▆▄▂▇▇▇▆▄▂▇▇▇▆▄▂▇▇▇▆▄  the lamp pulls it down; without it
device     |on  ||starts||on  ||starts|  it starts again, until they are flat"""
ASKED_IF = "`cells` and `brown-out` in `supply`, `loads`, and `power up`"
TEMPTING = (
    "a lower brown-out level: the loop begins later, and below the processor's lowest voltage nothing is certain; or to wait"
    " longer before the load comes on: it goes round more slowly"
)
EXACT = (
    "exact for the cells, levels and currents stated, with all peaks at once; the brown-out level, the cells' resistance and"
    " each load may be anywhere in its tolerance, and a configuration that draws more is taken to reset first"
)


def ask(device: Device) -> tuple[Question | Derived, ...] | NotAsked:
    """One answer over all stretches; the first that fails stands for all."""
    electricity = device.electricity
    if electricity is None:
        return NotAsked(NAME, NO_CELLS)
    if electricity.reset is None:
        return NotAsked(NAME, "`supply` has no `brown-out`")
    if device.power_up is None:
        return NotAsked(NAME, "the spec has no `power up`, so it isn't said how the device starts")
    starts = stays_at(device, IN_RESET, electricity.reset.rules.lets_go.hi, WORST)
    if not starts:
        high, fresh = show(electricity.reset.rules.lets_go.hi), volts_in(device, IN_RESET, Fraction(0))
        told = f"even with fresh cells some units never start: they wait for {high}, and there are {fresh}"
        return (
            failing(NAME, WEAK_CELLS, told, "a lower brown-out level, or cells of more voltage", electricity.reset.at),
        )
    try:
        found = brown_outs(device)
    except TooMany:
        reason = "too many loads lie too close to each other to try every unit; state their currents more closely"
        return (open_answer(NAME, WEAK_CELLS, reason, electricity.cells_at),)
    if not found:
        until = percent(electricity.until)
        said = f"no load pulls the supply below its brown-out level until {until} of the cells is used"
        resets = first_reset(device)
        if resets < electricity.until:
            said = f"from {percent(resets)} used cells on some units are reset, and without the load they recover too little"
            said += " to start again"
        elif starts < electricity.until:
            said += f"; from {percent(starts)} on some units, once reset, don't start any more"
        return (holding(NAME, WEAK_CELLS, said, electricity.cells_at),)
    return (Derived(tuple(_question(device, number, one) for number, one in enumerate(found)), None),)


def first_reset(device: Device) -> Fraction:
    """The share used from which on some configuration resets some unit; 1 for none."""
    found = [Fraction(1)]
    for config in configs(device):
        level = trips(device, config)
        if level is not None:
            turn = stays_at(device, config, level.hi, WORST)
            found.append(turn if turn is not None else Fraction(0))
    return min(found)


def _question(device: Device, number: int, one: Behaviour) -> Question:
    assert device.electricity is not None
    environment = Environment((), history_of(device), tuple(s.name for s in device.states), settles=True, sags=number)
    loads = "a load pulls the supply down, the device starts again, and the load pulls it down again"
    return Question(
        hazard=NAME,
        subject=WEAK_CELLS,
        environment=environment,
        looked_for=looping,
        unwanted=True,
        came_up=(being_noted,),
        told=lambda before, after: (
            f"{since(one.begins, one.everywhere)} the device can go round for ever: {loads} (in {after})"
        ),
        denied="",
        held="on weak cells the device may reset, but it never goes round by itself, whatever the timing",
        all_held="on weak cells the device may reset, but it never goes round by itself, whatever the timing",
        cure=CURE,
        at=device.electricity.reset.at if device.electricity.reset is not None else device.at,
    )


def looping(model: Model, before: Situation, move: Move) -> bool:
    """Steps with which the device is again what it was before a brown-out, or with which it can't even start."""
    if model.value(move.situation, LOOPS) and not model.value(before, LOOPS):
        return True
    return going_round(model, before, move)
