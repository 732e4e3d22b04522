"""A load that pulls its own supply down: the brown-out reset of weak cells.

Cells are fresh first, and get weak at any moment, also in the middle of what fresh ones allow: a lamp that is on, and whose
memory says so, when they no longer bear it. What resets every unit with fresh cells already does so from the beginning.
Which configurations reset a device is fixed beforehand (see `behaviours`), by how far the cells are used and by the unit. A
reset takes the load away, the cells recover, the firmware starts; what it then does is up to memory and to its rules.
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import Final

from nudgeproof.model.tables import Choice, Local, Part, Reads, Timer, Value
from nudgeproof.parts.behaviours import Behaviour
from nudgeproof.parts.cell_level import ABOVE, LEVEL_CHANGES, level_of
from nudgeproof.parts.chart import CHANGED, STARTED, STARTS_AFRESH, STEPPED
from nudgeproof.parts.draws import Config, comes_and_goes, config_of, drawn, minded, surely_resets, trips, volts_in
from nudgeproof.parts.limits import CELLS_ARE_WEAK, IN_A_ROW
from nudgeproof.parts.sleep import RUNNING as RUNS
from nudgeproof.parts.supply import BOOTS, CUT, DRAINED, FED, POWERED
from nudgeproof.quantities import decimal, show
from nudgeproof.spec.electrical import ASLEEP, RUNNING, STARTING, Electricity
from nudgeproof.spec.types import Device
from nudgeproof.units import FOREVER

BY_BROWN_OUT = "cut by the brown-out reset"
LOOPS = "can't even start"
WEAK = "the cells"
RAISED_TOO_SOON = "starts as after a level raised too soon"

_DRAINED, _RISING, _RISEN = "drained", "rising", "risen"
_RISES, _RAISES = "the voltage rises", "the level is raised"
_AT_ONCE_US = 20
"""How long a step of the firmware takes at most."""

_WEAKENS: Final = Timer("the cells get weak", 0, FOREVER)
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
    all, whether the cells are weak). Takes gestures, `started` and the supply's `drained`; sends `cut`, and before it which
    reset it is. Publishes how many came in a row, whether the next start is one as after a brown-out, whether the device
    can't even start, and whether the cells are weak.
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
    # Once it can't even start, how soon it is reset each time makes no difference: any time before it would have started.
    start = device.power_up.takes.lo if device.power_up is not None else 0
    caught = Timer("sags", responds.lo, max(timer.hi, start - 1))
    told = {config: _tell(device, electricity, config, behaviour.begins) for config, _ in behaviour.what}
    most = reset.tries + 1

    def armed(local: Local, given: Reads) -> tuple[Timer, ...]:
        _, _, loops, weak = _split(local)
        config = now(given)
        resets = given[FED] and (behaviour.of(config) if weak else config in behaviour.always)
        reset_by = caught if loops and not given[POWERED] else timer
        return (*(() if weak else (_WEAKENS,)), *((reset_by,) if resets else ()))

    def expired(local: Local, name: str, given: Reads) -> tuple[Choice, ...]:
        count, cut_short, loops, weak = _split(local)
        if name == _WEAKENS.name:
            return (Choice((count, cut_short, loops, True), says=_tell_use(behaviour), line=electricity.cells_at.line),)
        config = now(given)
        starting = config.phase == STARTING
        to = (min(count + 1, most), starting, starting and cut_short, weak)
        return (Choice(to, (BY_BROWN_OUT, CUT), restart=(name,), says=told[config], line=reset.at.line),)

    def heard(local: Local, signal: str, given: Reads) -> tuple[Choice, ...]:
        count, cut_short, loops, weak = _split(local)
        if signal == STARTED:
            return (Choice((count, False, False, weak)),)
        if signal == DRAINED:
            return (Choice((0, False, False, weak)),)
        return (Choice((0, cut_short, loops, weak)),)

    def shown(local: Local) -> tuple[Value, ...]:
        count, _, loops, weak = _split(local)
        return (count, reset.starts_in is not None and count > reset.tries, loops, weak)

    gestures = (f"gesture {gesture.name}" for gesture in device.gestures)
    return Part(
        name="brown-out",
        role="supply",
        start=(0, False, False, behaviour.always == {config for config, _ in behaviour.what}),
        publishes=(IN_A_ROW, STARTS_AFRESH, LOOPS, CELLS_ARE_WEAK),
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
    told = f"{', '.join(names[:-1])} and {names[-1]} {_PULL}" if len(names) > 1 else f"{''.join(names)} {_PULLS}"
    told = told if names else "even without a load the supply is too low"
    volts = volts_in(device, config, used)
    peaks = any(load.peak is not None or load.share < 1 for load in loads.most)
    at = f"to {show(volts.lo)}{' between its peaks' if peaks else ''}"
    assert level is not None
    return f"{told} ({at}; it resets below {level}): everything is reset"


def _tell_use(behaviour: Behaviour) -> str:
    """The cells at the share from which on it is so."""
    return f"the cells are used further, to more than {decimal(behaviour.begins * 100, 3)} %"


def _split(local: Local) -> tuple[int, bool, bool, bool]:
    assert isinstance(local, tuple)
    count, cut_short, loops, weak = local
    return count, cut_short, loops, weak


def weakening(device: Device, behaviour: Behaviour) -> Part:
    """The part for cells whose voltage the loads pull down, as the firmware reads it.

    Local state: (whether the cells are weak, the level it would read). With fresh cells nothing is ever read low.
    """
    assert device.electricity is not None
    names = minded(device)
    line = device.electricity.cells_at.line

    def level(given: Reads) -> str:
        values = {name: str(given[f"value {name}"]) for name in names}
        return behaviour.of(config_of(device, str(given["state"]), values, RUNNING))

    def armed(local: Local, given: Reads) -> tuple[Timer, ...]:
        return () if _is_weak(local) else (_WEAKENS,)

    def expired(local: Local, name: str, given: Reads) -> tuple[Choice, ...]:
        return (Choice((True, level(given)), (LEVEL_CHANGES,), says=_tell_use(behaviour), line=line),)

    def heard(local: Local, signal: str, given: Reads) -> tuple[Choice, ...]:
        if not _is_weak(local):
            return (Choice(local),)
        to = (True, level(given))
        return (Choice(to, (LEVEL_CHANGES,) if to != local else ()),)

    def shown(local: Local) -> tuple[Value, ...]:
        assert isinstance(local, tuple)
        return (local[1], local[0])

    return Part(
        name=WEAK,
        role="supply",
        start=(False, ABOVE),
        publishes=(level_of(WEAK), CELLS_ARE_WEAK),
        shown=shown,
        reads=("state", *(f"value {name}" for name in names)),
        armed=armed,
        expired=expired,
        takes=dict.fromkeys((CHANGED, STEPPED), (LEVEL_CHANGES,)),
        heard=heard,
        sends=(LEVEL_CHANGES,),
    )


def _is_weak(local: Local) -> bool:
    assert isinstance(local, tuple)
    return bool(local[0])


def rising(device: Device, is_put_in: bool) -> Part:
    """The part for a voltage that takes a time to be all there once cells are put in, and a level that the firmware raises.

    Local state: (drained, rising or risen; whether the firmware has raised the level meanwhile; resets by that since
    somebody made a gesture or the device was without power). Takes gestures, `started` and the supply's `boots` and
    `drained`; sends
    `cut`, and before it which reset it is. Publishes whether the next start is one as after a brown-out. `is_put_in`: cells
    have just been put in.
    """
    electricity = device.electricity
    assert electricity is not None
    assert electricity.reset is not None
    assert electricity.rises is not None
    reset, rises = electricity.reset, electricity.rises

    def armed(local: Local, given: Reads) -> tuple[Timer, ...]:
        stage, raised, _ = _split_rising(local)
        if stage != _RISING:
            return ()
        return (Timer(_RISES, rises.lo, rises.hi), *((Timer(_RAISES, 0, _AT_ONCE_US),) if raised else ()))

    def expired(local: Local, name: str, given: Reads) -> tuple[Choice, ...]:
        _, raised, count = _split_rising(local)
        if name == _RISES:
            return (Choice((_RISEN, raised, count), says="the voltage is all there", line=electricity.at.line),)
        says = "the firmware raises the brown-out level before the voltage is there: everything is reset"
        to = (_RISING, False, min(count + 1, reset.tries + 1))
        return (Choice(to, (BY_BROWN_OUT, CUT), says=says, line=reset.at.line),)

    def heard(local: Local, signal: str, given: Reads) -> tuple[Choice, ...]:
        stage, raised, count = _split_rising(local)
        if signal == DRAINED:
            return (Choice((_DRAINED, False, 0)),)
        if signal == BOOTS:
            return (Choice((_RISING if stage == _DRAINED else stage, False, count)),)
        if signal == STARTED:
            return (Choice((stage, True, count)),)
        return (Choice((stage, raised, 0)),)

    def shown(local: Local) -> tuple[Value, ...]:
        return (reset.starts_in is not None and _split_rising(local)[2] > reset.tries,)

    gestures = (f"gesture {gesture.name}" for gesture in device.gestures)
    return Part(
        name="rising voltage",
        role="supply",
        start=(_RISING if is_put_in else _RISEN, False, 0),
        publishes=(RAISED_TOO_SOON,),
        shown=shown,
        armed=armed,
        expired=expired,
        takes=dict.fromkeys((*gestures, STARTED, BOOTS, DRAINED), ()),
        heard=heard,
        sends=(BY_BROWN_OUT, CUT),
    )


def _split_rising(local: Local) -> tuple[str, bool, int]:
    assert isinstance(local, tuple)
    stage, raised, count = local
    return stage, raised, count
