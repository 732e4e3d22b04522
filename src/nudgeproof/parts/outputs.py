"""An output: what a pin does, also while no firmware tells it what to do.

While the firmware runs, the pin is on in the states that say so. Between the return of the cell after a reset and the start
of the firmware it is what the hardware makes of it: off, on, or floating, which may be either.
"""

from __future__ import annotations

from nudgeproof.model.tables import Choice, Local, Part, Reads
from nudgeproof.parts.chart import CHANGED
from nudgeproof.parts.supply import BOOTS, RESET
from nudgeproof.spec.outside import Output
from nudgeproof.spec.types import Device

OFF, ON, FLOATING = "off", "on", "floating"
PINS = (OFF, ON, FLOATING)


def published(output: str) -> str:
    """The name under which the part says what the pin is: off, on or floating."""
    return f"output {output}"


def output(device: Device, what: Output) -> Part:
    """The part for one output; local state: off, on or floating. While the device has no power at all it is off."""
    in_reset = {
        OFF: "",
        ON: f"{what.name} is on until the firmware runs",
        FLOATING: f"{what.name} floats until the firmware runs: it may be on",
    }

    def heard(local: Local, signal: str, reads: Reads) -> tuple[Choice, ...]:
        if signal == RESET:
            return (Choice(OFF),)
        if signal == BOOTS:
            return (Choice(what.in_reset, says=in_reset[what.in_reset], line=what.at.line),)
        return (Choice(ON if reads["state"] in what.on_in else OFF),)

    return Part(
        name=published(what.name),
        role="device",
        start=ON if device.initial in what.on_in else OFF,
        publishes=(published(what.name),),
        shown=lambda local: (local,),
        reads=("state",),
        takes={RESET: (), BOOTS: (), CHANGED: ()},
        heard=heard,
    )
