"""Chatter off: low cells switch a load off, the voltage rises without it, they count as fine, the load comes on again.

The voltage that the firmware reads is that of the configuration it is in. Like `boot-loop` it is asked of each stretch of
cells and each kind of unit by itself, after any use, with nobody doing anything.
"""

from __future__ import annotations

from nudgeproof.hazards.disturbed import history_of
from nudgeproof.hazards.weak_cells import NO_CELLS, WEAK_CELLS, holding, open_answer, percent, since
from nudgeproof.parts.behaviours import Behaviour, TooMany, readings
from nudgeproof.parts.compile import Environment
from nudgeproof.questions.ask import Derived, NotAsked, Question
from nudgeproof.questions.steps import being_noted, going_round
from nudgeproof.spec.types import Device

NAME = "chatter-off"
MEANS = (
    "on weak cells the device switches a load off, the voltage recovers, and it switches the load on again, for ever"
)
CURE = (
    "put `fine above` further above `low below` than the load pulls the cells down, or stay off until somebody presses"
    " or the cells are changed"
)
SHOWN = """\
voltage    ▇▆▅▃▇▆▅▃▇▆▅▃▇▆▅▃▇▆▅▃▇▆▅▃▇▆▅▃  off at the low level, and it rises
device     |on |off|on |off|on |off|on |  a light that flickers for ever"""
ASKED_IF = "`cells` in `supply`, `loads`, and the section `cell`, whose events a state uses"
TEMPTING = "read the cells less often: it goes on and off more slowly; or a mean of several readings: likewise"
EXACT = (
    "exact for the cells and loads stated, at the voltage between peaks and at once after a load changes; that a capacitor"
    " slows this down isn't reckoned"
)


def ask(device: Device) -> tuple[Question | Derived, ...] | NotAsked:
    """One answer over all stretches; the first that fails stands for all."""
    electricity = device.electricity
    if electricity is None:
        return NotAsked(NAME, NO_CELLS)
    if device.cell is None:
        return NotAsked(NAME, "the spec has no `cell`, so the firmware doesn't read its cells")
    try:
        found = readings(device)
    except TooMany:
        reason = "too many loads lie too close to each other to try every unit; state their currents more closely"
        return (open_answer(NAME, WEAK_CELLS, reason, electricity.cells_at),)
    if not found:
        said = f"no load pulls the cells below `low below` until {percent(electricity.until)} of them is used"
        return (holding(NAME, WEAK_CELLS, said, device.cell.at),)
    return (Derived(tuple(_question(device, number, one) for number, one in enumerate(found)), None),)


def _question(device: Device, number: int, one: Behaviour) -> Question:
    assert device.cell is not None
    environment = Environment((), history_of(device), tuple(s.name for s in device.states), settles=True, reads=number)
    return Question(
        hazard=NAME,
        subject=WEAK_CELLS,
        environment=environment,
        looked_for=going_round,
        unwanted=True,
        came_up=(being_noted,),
        told=lambda before, after: (
            f"{since(one.begins, one.everywhere)} the device can switch to and fro for ever, since the voltage rises without"
            f" the load (back in {after})"
        ),
        denied="",
        held="on weak cells the device doesn't switch to and fro by itself, whatever the timing",
        all_held="on weak cells the device doesn't switch to and fro by itself, whatever the timing",
        cure=CURE,
        at=device.cell.at,
    )
