"""The chart: the device's states, variables and timeouts.

A transition with a target leaves the state and restarts the timeouts of the one entered, also when it is the same one; it
tells the recognisers, so that a press belongs to the state it began in. A transition without a target changes variables
only. A timeout `with B open` counts only while B reads open, and anew after each release.

While there is no power the chart keeps the state it was in, so that what comes afterwards can be compared with it, but no
timeout runs; a device with a power latch is then in its first state without power instead, since only a key brings it
back. When the firmware starts, kept values come from memory and all others begin anew.
"""

from __future__ import annotations

from dataclasses import replace

from nudgeproof.model.tables import Choice, Local, Part, Reads, Timer, Value
from nudgeproof.parts.supply import RESET
from nudgeproof.spec.types import Device, State, Timeout

CHANGED = "changed"
STEPPED = "stepped"
LAPSED = "lapsed"
START = "start"
STARTED = "started"
RESTORED = "restored"


def chart(device: Device, can_lose_power: bool = False) -> Part:
    """The part for the chart.

    Local state: (state, values of all variables). Takes `gesture G` of every gesture, `event E` of every event, which leads
    on like a gesture, and memory's `start`; sends `changed`
    (a state was entered), `lapsed` (by a timeout), `stepped` (only variables changed) and `started`. Publishes `state` and
    `value V` for every variable.
    """
    states = {state.name: state for state in device.states}
    is_latched = can_lose_power and device.supply is not None and device.supply.latch is not None
    off = next((state.name for state in device.states if state.unpowered), device.initial)
    order = {variable.name: i for i, variable in enumerate(device.variables)}

    def timer_name(state: State, timeout: Timeout) -> str:
        return f"{state.name}: {timeout.text}"

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        state = states[_split(local)[0]]
        if can_lose_power and not reads["powered"]:
            return ()
        return tuple(
            Timer(timer_name(state, timeout), timeout.after.lo, timeout.after.hi)
            for timeout in state.timeouts
            if timeout.with_open is None or not reads[f"reading {timeout.with_open}"]
        )

    def enter(name: str, values: tuple[str, ...], says: str, line: int) -> Choice:
        restart = tuple(timer_name(states[name], timeout) for timeout in states[name].timeouts)
        return Choice((name, values), (CHANGED,), restart, says, line)

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        name, values = _split(local)
        for timeout in states[name].timeouts:
            if timer_name(states[name], timeout) == timer:
                says = f"{timeout.text}: {name} -> {timeout.target}"
                entered = enter(timeout.target, values, says, timeout.at.line)
                return (replace(entered, send=(CHANGED, LAPSED)),)
        return ()

    def heard(local: Local, signal: str, reads: Reads) -> tuple[Choice, ...]:
        name, values = _split(local)
        if signal == RESET:
            return (Choice((off if not states[name].unpowered else name, values), says="the device has no power"),)
        if signal == START:
            name, values = _restore(device, reads[RESTORED])
            entered = enter(name, values, f"the firmware starts in {name}", 0)
            return (replace(entered, send=(CHANGED, STARTED)),)
        gesture = signal.split(" ", 1)[1]
        for transition in states[name].transitions:
            if transition.gesture == gesture:
                break
        else:
            return (Choice(local, says=f"{gesture} does nothing in {name}"),)
        line = transition.at.line
        changed = list(values)
        for variable in transition.next:
            domain = device.variables[order[variable]].values
            old = changed[order[variable]]
            changed[order[variable]] = domain[(domain.index(old) + 1) % len(domain)]
        told = "".join(f", {v} {changed[order[v]]}" for v in transition.next)
        if transition.target is not None:
            return (enter(transition.target, tuple(changed), f"{gesture}: {name} -> {transition.target}{told}", line),)
        restart = tuple(timer_name(states[name], t) for t in states[name].timeouts) if transition.restarts else ()
        return (Choice((name, tuple(changed)), (STEPPED,), restart, f"{gesture}: {name}{told}", line),)

    def shown(local: Local) -> tuple[Value, ...]:
        name, values = _split(local)
        return (name, *values)

    return Part(
        name="device",
        role="device",
        start=(device.initial, tuple(variable.values[0] for variable in device.variables)),
        publishes=("state", *(f"value {variable.name}" for variable in device.variables)),
        shown=shown,
        reads=(
            *(f"reading {button.name}" for button in device.buttons),
            *(("powered", RESTORED) if can_lose_power else ()),
        ),
        armed=armed,
        expired=expired,
        takes={
            **{f"gesture {gesture.name}": (CHANGED, STEPPED) for gesture in device.gestures},
            **{f"event {event}": (CHANGED, STEPPED) for event in device.event_names},
            **({START: (CHANGED, STARTED)} if can_lose_power else {}),
            **({RESET: ()} if is_latched else {}),
        },
        heard=heard,
        sends=(CHANGED, LAPSED),
    )


def _restore(device: Device, found: Value) -> tuple[str, tuple[str, ...]]:
    """State and values at start-up, from what memory gave: a snapshot, blank or damaged."""
    values = {variable.name: variable.values[0] for variable in device.variables}
    state = device.initial
    if device.power_up is not None:
        state = device.power_up.if_damaged if found == "(damaged)" else device.power_up.if_blank
    if isinstance(found, tuple) and device.memory is not None:
        kept = dict(zip(device.memory.keeps, found, strict=True))
        state = kept.pop("state", state)
        values.update(kept)
    return state, tuple(values[variable.name] for variable in device.variables)


def _split(local: Local) -> tuple[str, tuple[str, ...]]:
    assert isinstance(local, tuple)
    name, values = local
    return name, values
