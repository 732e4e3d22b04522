"""The chart: the device's states, variables and timeouts.

A transition with a target leaves the state and restarts the timeouts of the one entered, also when it is the same one; it
tells the recognisers, so that a press belongs to the state it began in. A transition without a target changes variables
only. A timeout `with B open` counts only while B reads open, and anew after each release; one whose length a variable says
begins anew when that variable changes, since its timer then has another name. A timeout shared by a group goes on from one
of its states to the next, unless a shared line leads there.

While there is no power the chart keeps the state it was in, so that what comes afterwards can be compared with it, but no
timeout runs; a device with a power latch, or one that its power chip has switched off, is then in its first state without
power instead, since only a key brings it back. When the firmware starts, kept values come from memory and all others begin
anew.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from nudgeproof.model.tables import Choice, Local, Part, Reads, Timer, Value, lasting
from nudgeproof.parts.changes import change, first_values, pick, start_values, touched
from nudgeproof.parts.supply import RESET, WENT_OFF
from nudgeproof.spec.types import Device, State, Timeout, Transition

CHANGED = "changed"
STEPPED = "stepped"
LAPSED = "lapsed"
START = "start"
STARTED = "started"
RESTORED = "restored"
RAM_GIVES = "ram gives"
CAUSE = "cause of the reset"
STARTS_AFRESH = "starts as after a brown-out"


def chart(device: Device, can_lose_power: bool = False, afresh: tuple[str, ...] = ()) -> Part:
    """The part for the chart; `afresh`: the published names of which each says that the next start is one as after a
    brown-out.

    Local state: (state, values of all variables). Takes `gesture G` of every gesture, `event E` of every event, which leads
    on like a gesture, and memory's `start`; sends `changed`
    (a state was entered), `lapsed` (by a timeout), `stepped` (only variables changed) and `started`. Publishes `state` and
    `value V` for every variable.
    """
    states = {state.name: state for state in device.states}
    goes_off = (RESET,) if device.is_latched else (WENT_OFF,) if device.stays_off is not None else ()
    has_ram = can_lose_power and device.ram is not None
    has_causes = can_lose_power and device.power_up is not None and bool(device.power_up.starts_in)
    off = next((state.name for state in device.states if state.unpowered), device.initial)
    names = tuple(variable.name for variable in device.variables)

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        name, values = _split(local, names)
        if can_lose_power and not reads["powered"]:
            return ()
        timers = {}
        for timeout in states[name].timeouts:
            if timeout.with_open is None or not reads[f"reading {timeout.with_open}"]:
                span, timer = timeout.lasts(values), timer_name(states[name], timeout, values)
                timers[timer] = lasting(timer, span)
        return tuple(timers.values())

    def take(local: Local, line: Transition | Timeout, label: str) -> Choice:
        name, values = _split(local, names)
        after = change(device, line, values)
        told = "".join(f", {changed} {after[changed]}" for changed in touched(device, line))
        new = tuple(after.values())
        if line.target is not None:
            timers = _timers(states[line.target], after, None if line.group else states[name].group)
            return Choice(
                (line.target, new), (CHANGED,), timers, f"{label}: {name} -> {line.target}{told}", line.at.line
            )
        restarts = isinstance(line, Transition) and line.restarts
        timers = _timers(states[name], after, None if line.group else states[name].group) if restarts else ()
        send = (STEPPED,) if after != values else ()
        return Choice((name, new), send, timers, f"{label}: {name}{told}", line.at.line)

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        name, values = _split(local, names)
        cases = [t for t in states[name].timeouts if timer_name(states[name], t, values) == timer]
        timeout = pick(cases, values)
        if timeout is None:
            return (Choice(local, says=f"{cases[0].text} does nothing in {name} now"),)
        taken = take(local, timeout, timeout.text)
        return (replace(taken, send=(CHANGED, LAPSED)) if timeout.target is not None else taken,)

    def heard(local: Local, signal: str, reads: Reads) -> tuple[Choice, ...]:
        name, values = _split(local, names)
        if signal in goes_off:
            to = (name if states[name].unpowered else off, tuple(values.values()))
            return (Choice(to, says="the device has no power"),)
        if signal == START:
            cause = str(reads[CAUSE]) if has_causes else ""
            anew = any(reads[name] for name in afresh)
            return (_start(device, reads[RESTORED], reads[RAM_GIVES] if has_ram else None, cause, anew),)
        gesture = signal.split(" ", 1)[1]
        if gesture not in states[name].gestures:
            return (Choice(local, says=f"{gesture} does nothing in {name}"),)
        transition = pick((t for t in states[name].transitions if t.gesture == gesture), values)
        if transition is None:
            return (Choice(local, says=f"{gesture} does nothing in {name} now"),)
        return (take(local, transition, gesture),)

    def shown(local: Local) -> tuple[Value, ...]:
        name, values = _split(local, names)
        return (name, *values.values())

    return Part(
        name="device",
        role="device",
        start=(device.initial, tuple(start_values(device).values())),
        publishes=("state", *(f"value {name}" for name in names)),
        shown=shown,
        reads=(
            *(f"reading {button.name}" for button in device.buttons),
            *(("powered", RESTORED) if can_lose_power else ()),
            *((RAM_GIVES,) if has_ram else ()),
            *((CAUSE,) if has_causes else ()),
            *afresh,
        ),
        armed=armed,
        expired=expired,
        takes={
            **{f"gesture {gesture.name}": (CHANGED, STEPPED) for gesture in device.gestures},
            **{f"event {event}": (CHANGED, STEPPED) for event in device.unmade},
            **({START: (CHANGED, STARTED)} if can_lose_power else {}),
            **(dict.fromkeys(goes_off, ()) if can_lose_power else {}),
        },
        heard=heard,
        sends=(CHANGED, LAPSED, STEPPED),
    )


def timer_name(state: State, timeout: Timeout, values: Mapping[str, str]) -> str:
    """The name of a timeout's timer: one for all its cases, and of a group's for all its states."""
    value = f", {values[timeout.by]}" if timeout.by else ""
    return f"{timeout.group or state.name}: {timeout.text}{value}"


def _timers(state: State, values: Mapping[str, str], kept: str | None) -> tuple[str, ...]:
    """The timers that begin anew in `state`: all of its own, and those of its group unless it is the `kept` one."""
    return tuple(
        dict.fromkeys(
            timer_name(state, timeout, values)
            for timeout in state.timeouts
            if not timeout.group or timeout.group != kept
        )
    )


def _start(device: Device, found: Value, ram: Value, cause: str, afresh: bool) -> Choice:
    """The state that the firmware starts in, from what memory gave: a snapshot, blank or damaged; and RAM, or None.

    What comes from there stays as it is, RAM first; entering the state sets only the rest. `cause`: of the reset, as the
    start reads it, "" if there is none. `afresh`: after a brown-out; then the state is what the spec says of that.
    """
    state = device.initial
    if device.power_up is not None:
        state = device.power_up.if_damaged if found == "(damaged)" else device.power_up.state_after(cause)
    kept: dict[str, str] = {}
    if isinstance(found, tuple) and device.memory is not None:
        kept = dict(zip(device.memory.keeps, found, strict=True))
    if isinstance(ram, tuple) and device.ram is not None:
        kept |= dict(zip(device.ram.keeps, ram, strict=True))
    state = kept.pop("state", state)
    if afresh and (low := device.electricity) is not None and low.reset is not None:
        state = low.reset.starts_in or state
    values = first_values(device) | dict(device.state(state).on_entering) | kept
    timers = _timers(device.state(state), values, None)
    told = f"the firmware starts in {state}" + (f", since it finds the cause `{cause}`" if cause and not afresh else "")
    return Choice((state, tuple(values.values())), (CHANGED, STARTED), timers, told)


def _split(local: Local, names: tuple[str, ...]) -> tuple[str, dict[str, str]]:
    assert isinstance(local, tuple)
    name, values = local
    return name, dict(zip(names, values, strict=True))
