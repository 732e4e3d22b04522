"""A load that pulls its own supply down: the brown-out reset of weak cells.

Which configurations reset a device is fixed beforehand (see `behaviours`), by how far the cells are used and by the unit. A
reset takes the load away, the cells recover, the firmware starts; what it then does is up to memory and to its rules.
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

from nudgeproof.model.tables import Choice, Local, Part, Reads, Timer, Value
from nudgeproof.parts.behaviours import Behaviour
from nudgeproof.parts.cell_level import LEVEL_CHANGES, level_of
from nudgeproof.parts.changes import start_values
from nudgeproof.parts.chart import CHANGED, STARTED, STARTS_AFRESH, STEPPED
from nudgeproof.parts.draws import Config, comes_and_goes, config_of, drawn, minded, surely_resets, trips, volts_in
from nudgeproof.parts.limits import IN_A_ROW
from nudgeproof.parts.sleep import RUNNING as RUNS
from nudgeproof.parts.supply import CUT, DRAINED, FED, POWERED
from nudgeproof.quantities import show
from nudgeproof.spec.electrical import ASLEEP, RUNNING, STARTING, Electricity
from nudgeproof.spec.types import Device
from nudgeproof.units import FOREVER

BY_BROWN_OUT = "cut by the brown-out reset"
LOOPS = "can't even start"
WEAK = "the cells"

_PULLS = "pulls the supply below its brown-out level"
_PULL = "pull the supply below its brown-out level"


def configuration(device: Device) -> tuple[tuple[str, ...], Callable[[Reads], Config]]:
    """What a part must read to know the configuration, and how it knows it."""
    names = minded(device)
    reads = (FED, POWERED, "state", *(f"value {name}" for name in names), RUNS)

    def now(given: Reads) -> Config:
        if not given[POWERED]:
            return Config(STARTING)
        values = {name: str(given[f"value {name}"]) for name in names}
        state = device.state(str(given["state"]))
        asleep = state.sleep is not None and not given[RUNS]
        return config_of(device, state.name, values, ASLEEP if asleep else RUNNING)

    return reads, now


def brown_out(device: Device, behaviour: Behaviour) -> Part:
    """The part for one behaviour.

    With a capacitor a reset comes at any time; so it does where it needs a peak, or a load that comes and goes.

    Local state: (brown-outs since somebody made a gesture, whether the last one cut a start short, whether it can't start at
    all). Takes gestures, `started` and the supply's `drained`; sends `cut`, and before it which reset it is. Publishes
    how many came in a row, whether the next start is one as after a brown-out, and whether the device can't even start.
    """
    electricity = device.electricity
    assert electricity is not None
    assert electricity.reset is not None
    reset = electricity.reset
    reads, now = configuration(device)
    responds = reset.rules.responds
    wavers = any(
        comes_and_goes(device, config) and not surely_resets(device, config, behaviour.begins)
        for config, _ in behaviour.what
    )
    slow = electricity.source.capacitor is not None or wavers
    timer = Timer("sags", responds.lo, FOREVER if slow else responds.hi)
    told = {config: _tell(device, electricity, config, behaviour.begins) for config, _ in behaviour.what}
    most = reset.tries + 1

    def armed(local: Local, given: Reads) -> tuple[Timer, ...]:
        return (timer,) if given[FED] and behaviour.of(now(given)) else ()

    def expired(local: Local, name: str, given: Reads) -> tuple[Choice, ...]:
        count, cut_short, _ = _split(local)
        config = now(given)
        starting = config.phase == STARTING
        to = (min(count + 1, most), starting, starting and cut_short)
        return (Choice(to, (BY_BROWN_OUT, CUT), restart=(name,), says=told[config], line=reset.at.line),)

    def heard(local: Local, signal: str, given: Reads) -> tuple[Choice, ...]:
        count, cut_short, loops = _split(local)
        if signal == STARTED:
            return (Choice((count, False, False)),)
        if signal == DRAINED:
            return (Choice((0, False, False)),)
        return (Choice((0, cut_short, loops)),)

    def shown(local: Local) -> tuple[Value, ...]:
        count, _, loops = _split(local)
        return (count, reset.starts_in is not None and count > reset.tries, loops)

    gestures = (f"gesture {gesture.name}" for gesture in device.gestures)
    return Part(
        name="brown-out",
        role="supply",
        start=(0, False, False),
        publishes=(IN_A_ROW, STARTS_AFRESH, LOOPS),
        shown=shown,
        reads=reads,
        armed=armed,
        expired=expired,
        takes=dict.fromkeys((*gestures, STARTED, DRAINED), ()),
        heard=heard,
        sends=(BY_BROWN_OUT, CUT),
    )


def _tell(device: Device, electricity: Electricity, config: Config, used: Fraction) -> str:
    """The step in words: what pulls the supply down, to which voltage, and where it resets."""
    loads = drawn(device, config)
    level = trips(device, config)
    names = [load.name for load in loads.most]
    told = f"{', '.join(names[:-1])} and {names[-1]} {_PULL}" if len(names) > 1 else f"{names[0]} {_PULLS}"
    volts = volts_in(device, config, used)
    peaks = any(load.peak is not None or load.share < 1 for load in loads.most)
    at = f"to {show(volts.lo)}{' between its peaks' if peaks else ''}"
    assert level is not None
    return f"{told} ({at}; it resets below {level}): everything is reset"


def _split(local: Local) -> tuple[int, bool, bool]:
    assert isinstance(local, tuple)
    count, cut_short, loops = local
    return count, cut_short, loops


def weakening(device: Device, behaviour: Behaviour) -> Part:
    """The part for cells whose voltage the loads pull down, as the firmware reads it.

    Local state: the level it would read.
    """
    names = minded(device)

    def heard(local: Local, signal: str, given: Reads) -> tuple[Choice, ...]:
        values = {name: str(given[f"value {name}"]) for name in names}
        level = behaviour.of(config_of(device, str(given["state"]), values, RUNNING))
        return (Choice(level, (LEVEL_CHANGES,) if level != local else ()),)

    def shown(local: Local) -> tuple[Value, ...]:
        return (local,)

    first = start_values(device)
    return Part(
        name=WEAK,
        role="supply",
        start=behaviour.of(config_of(device, device.initial, first, RUNNING)),
        publishes=(level_of(WEAK),),
        shown=shown,
        reads=("state", *(f"value {name}" for name in names)),
        takes=dict.fromkeys((CHANGED, STEPPED), (LEVEL_CHANGES,)),
        heard=heard,
    )
