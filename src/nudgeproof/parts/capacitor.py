"""The capacitor that feeds the device while its cell is gone: how long, hangs on what draws from it.

Each configuration has a hold-up time of its own, reckoned from the loads. When the configuration changes on the way, the
rest of the charge goes on to feed the new one; how much that is, isn't known here, so the time left is anything up to the
longest of the new one, from a capacitor that no load had pulled down before. A story that ends so is looked at again with
the charge counted (see `nudgeproof.charge_left`).
"""

from __future__ import annotations

from nudgeproof.model.tables import Choice, Local, Part, Reads, Value
from nudgeproof.parts.brown_out import configuration
from nudgeproof.parts.chart import CHANGED, STARTED, STEPPED
from nudgeproof.parts.draws import carries_at_most, configs, survives
from nudgeproof.parts.sleep import ASLEEP, READY
from nudgeproof.parts.supply import BOOTS, HOLDS_UP, RECOVERS, SAGS, STEADY, opened_by
from nudgeproof.spec.electrical import STARTING
from nudgeproof.spec.types import Device
from nudgeproof.units import Span

FRESH = "hold-up"
LATER = "hold-up, then in "


def capacitor(device: Device, outages: tuple[str, ...]) -> Part:
    """The part. Local state: None while it is full, else the configuration that draws from it and whether another did
    before.

    Publishes the name and the ends of the timer that the supply arms when its cell is gone, and the shortest hold-up of a
    full capacitor.
    """
    known = configs(device)
    spans = tuple(survives(device, config) for config in known)
    longest = tuple(carries_at_most(device, config) for config in known)
    start = next(number for number, config in enumerate(known) if config.phase == STARTING)
    away = tuple(opened_by(name) for name in outages)
    reads, now = configuration(device)

    def at(given: Reads) -> int:
        return known.index(now(given))

    def heard(local: Local, signal: str, given: Reads) -> tuple[Choice, ...]:
        gone = any(given[name] for name in away)
        if signal == SAGS:
            return (Choice((at(given), False)),)
        if signal in (RECOVERS, BOOTS):
            return (Choice((start, True) if gone and local is not None else None),)
        if given[STEADY] or not gone:
            return (Choice(local),)
        here = at(given)
        if isinstance(local, tuple) and local[0] == here:
            return (Choice(local),)
        return (Choice((here, True)),)

    def shown(local: Local) -> tuple[Value, ...]:
        number, carried = local if isinstance(local, tuple) else (start, False)
        span = spans[number]
        if carried:
            return ((f"{LATER}{known[number]}", 0, longest[number], span.lo),)
        return ((FRESH, span.lo, span.hi, span.lo),)

    return Part(
        name="capacitor",
        role="supply",
        start=None,
        publishes=(HOLDS_UP,),
        shown=shown,
        reads=(*away, STEADY, *reads),
        takes=dict.fromkeys((SAGS, RECOVERS, BOOTS, CHANGED, STEPPED, STARTED, ASLEEP, READY), ()),
        heard=heard,
    )


def whole_hold_up(device: Device) -> Span:
    """Any hold-up that may be, for what doesn't look at which load draws: from nothing, as after one that nearly emptied
    it.
    """
    known = configs(device)
    longest = max(max(survives(device, config).hi, carries_at_most(device, config)) for config in known)
    return Span(0, longest)
