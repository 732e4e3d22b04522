"""Output in reset: after an interruption of the supply an output is on, or may be, while no firmware runs to switch it off.

From the return of the cell to the start of the firmware a pin is what the hardware makes of it. That is harm where the state
in which the device was doesn't call for the output, or the state in which it starts doesn't. Asked while someone uses the
device, for each output and each source that interrupts the cell, for what else resets the device, and, where a latch closes
the supply, for switching on.
"""

from __future__ import annotations

from nudgeproof.model.step import Move, Test
from nudgeproof.model.tables import Model, Situation
from nudgeproof.parts.compile import Environment
from nudgeproof.parts.gestures import can_stand_in
from nudgeproof.parts.outputs import FLOATING, OFF, published
from nudgeproof.parts.supply import POWERED
from nudgeproof.questions.ask import NotAsked, Question, users
from nudgeproof.questions.steps import acting, starts
from nudgeproof.spec.outside import Output
from nudgeproof.spec.types import Device, Outage

NAME = "output-in-reset"
MEANS = "after an interruption of the supply an output is on, or may be, before the firmware runs"
CURE = "hold the pin off by a resistor while nothing drives it, or choose a driver that is off until it is told"
SHOWN = """\
cell       ████████▁▁▁▁███████████████  a knock, the cell loses contact
pump       ▁▁▁▁▁▁▁▁▁▁▁▁████████▁▁▁▁▁▁▁  no firmware yet: the pin floats"""
ASKED_IF = "`outputs`, and surroundings with `cell gone`, or a `latch`, `cut-off` or `supervisor`"
TEMPTING = (
    "switch the output off as the first thing that the firmware does: until then, for the whole start-up time, the pin is as"
    " the circuit leaves it"
)
EXACT = (
    "exact for each output and each source by itself, while somebody uses the device; from a reset until there is power"
    " again an output is taken to be off"
)


def ask(device: Device) -> tuple[Question, ...] | NotAsked:
    """One question for each output and each source of interruptions."""
    causes: list[Outage | str] = [what for what in device.surroundings if isinstance(what, Outage)]
    causes += (["switching on"] if device.is_latched else []) + list(device.resets)
    if not device.outputs:
        return NotAsked(NAME, "the spec has no `outputs`")
    if not causes:
        return NotAsked(NAME, "no surroundings interrupt the supply (`cell gone: ...`)")
    who, pressing = users(device)

    def question(output: Output, what: Outage | str) -> Question:
        bad = on_uncalled(output)
        may_be = "may be" if output.in_reset == FLOATING else "is"
        name = what.name if isinstance(what, Outage) else what
        outage = (what.name,) if isinstance(what, Outage) else ()
        wider = (Environment((*outage, *device.meant), watched=True, gestures=True), bad)
        return Question(
            hazard=NAME,
            subject=f"{output.name}, {name}",
            environment=Environment((*who, *outage), watched=bool(outage)),
            looked_for=bad,
            unwanted=True,
            came_up=(acting(outage[0] if outage else who[0]),),
            told=lambda before, after: (
                f"after {name}, until the firmware runs, {output.name} {may_be} on though"
                f" {before if before not in output.on_in else after} doesn't call for it"
            ),
            denied="",
            held=f"with {name} and {pressing} {output.name} is never on uncalled for, whatever the timing",
            all_held=f"with {pressing} it is never on uncalled for, whatever the timing",
            cure=CURE,
            at=output.at,
            by=outage[0] if outage else "",
            wider=wider if can_stand_in(device) else None,
        )

    return tuple(question(output, what) for output in device.outputs for what in causes)


def on_uncalled(output: Output) -> Test:
    """Steps with which `output` is, or may be, on while nothing runs: before or after which no state calls for it."""
    name = published(output.name)

    def test(model: Model, before: Situation, move: Move) -> bool:
        if model.value(before, POWERED):
            return False
        was, now = model.value(before, name), model.value(move.situation, name)
        if starts(move):
            return was != OFF and model.value(move.situation, "state") not in output.on_in
        return was == OFF and now != OFF and model.value(before, "state") not in output.on_in

    return test
