"""What a recording of a real device does to the model: it makes the recorded edges, and looks at the recorded lights.

Two parts. The *recorder* holds contacts closed, takes the cell away and makes events. Each of its timers may expire at any
time: whoever follows a recording says when (see `firmware.monitor`), and no other engine is meant to meet these parts.

The *lookout* has the level of each recorded output, a *light*. The chart says which level it has in which state, or nothing,
then it may have either. When the device changes so that a light contradicts its recorded level, the recording must follow
within `lag_us`: a sampled level is that late at most. When a recorded level changes, it must not contradict the device at
that moment. Else the run is refused: it isn't what was recorded.

Two lights show no state. One is on while the processor sleeps: nobody says to the millisecond when it must fall asleep, so
it may do that as much sooner or later as the map says. It may wake only as the model does, though that may be seen when the
model sleeps again already. The other comes on when memory is written. As often as what is kept changes, and once for each
start, it may do so: those are saves that are *owed*. One that isn't may come a little before the change that it is for. One
that goes on for longer than a save takes counts anew.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from nudgeproof.model.tables import Choice, Local, Part, Reads, Timer, Value
from nudgeproof.parts.cell_level import ABOVE, LEVEL_CHANGES, LEVELS, level_of
from nudgeproof.parts.changes import start_values
from nudgeproof.parts.chart import CHANGED, STARTED, STEPPED
from nudgeproof.parts.contact import held_by
from nudgeproof.parts.memory import Snapshot, read_as, snapshot
from nudgeproof.parts.outputs import OFF as PIN_OFF
from nudgeproof.parts.outputs import ON, published
from nudgeproof.parts.sleep import ASLEEP as FALLS_ASLEEP
from nudgeproof.parts.sleep import OUTSIDE, SLEEPING
from nudgeproof.parts.supply import CELL, POWERED, RESET, opened_by
from nudgeproof.spec.types import Device
from nudgeproof.units import FOREVER

# No name of a spec holds brackets.
RECORDER = "(recorder)"
LOOKOUT = "(lookout)"
REFUSED = "refused"
UNSEEN = "unseen "
UNCAUSED = "uncaused "
GOES_ON = "goes on with "
WOKE_UNSEEN = "woke unseen "
DEADLINES = (UNSEEN, UNCAUSED, GOES_ON, WOKE_UNSEEN)
"""Timers of the lookout that run by themselves; all others expire when a recording says so."""

ASLEEP, SAVES = "asleep", "saves"

_MOST_OWED = 4
"""So many saves are owed at the most, and stay so: nobody counts further, so that no save is refused wrongly then."""


@dataclass(frozen=True, slots=True)
class When:
    """States, perhaps only with some values of a variable ("" for none)."""

    states: frozenset[str]
    variable: str = ""
    values: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Light:
    """A recorded output. It is `on` and `off` as listed there; elsewhere it may be either.

    `output`: it is this output of the spec instead. `lag_us`: how much later than the device a recording may show it.
    `first`: its level when the recording begins. `shows`: no state, but `ASLEEP` or `SAVES`.
    """

    name: str
    on: tuple[When, ...]
    off: tuple[When, ...]
    lag_us: int
    first: bool
    output: str = ""
    shows: str = ""


@dataclass(frozen=True, slots=True)
class _Beside:
    """`owed`: how many saves (less than 0: so many came first). `last`: what was kept last. `wake_unseen`: it woke and
    sleeps again, and the pin hasn't told of it yet."""

    owed: int
    last: Snapshot
    wake_unseen: bool


@dataclass(frozen=True, slots=True)
class Recorded:
    """What takes part in a recording: buttons, whether the cell's contact does, events, lights; all by name.

    `used`: the device was used before it got power; what it finds in memory may be whatever it may ever have left there.
    `damaged`: what is in memory at first is damaged. `levels`: whether the cell's voltage goes below and above its levels.
    """

    buttons: tuple[str, ...]
    cell: bool
    events: tuple[str, ...]
    lights: tuple[Light, ...]
    used: bool = False
    damaged: bool = False
    levels: bool = False


def edge_of(button: str) -> str:
    """The recorder's timer that presses a button or lets it go; "" for the cell's contact."""
    return f"edge of {button}" if button else "edge of the cell (contact)"


def event_of(event: str) -> str:
    """The recorder's timer that makes an event."""
    return f"event {event}"


def voltage_of(level: str) -> str:
    """The recorder's timer that takes the voltage of the cell to a level."""
    return f"voltage {level}"


def turn_of(light: str) -> str:
    """The lookout's timer that changes a light's recorded level."""
    return f"turn of {light}"


def recorder(what: Recorded) -> Part:
    """The part that makes edges.

    Local state: which buttons it holds closed, whether it keeps the cell away, and where it takes the cell's voltage (last).
    """
    buttons = what.buttons
    timers = [edge_of(button) for button in buttons]
    timers += [edge_of("")] if what.cell else []
    voltages = {voltage_of(level): level for level in LEVELS} if what.levels else {}
    events = tuple(event_of(event) for event in what.events)
    lasting = tuple(Timer(name, 0, FOREVER) for name in (*timers, *events, *voltages))

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        held = _split(local)
        if timer in voltages:
            after = (*held[:-1], voltages[timer])
            return (Choice(after, (LEVEL_CHANGES,), says=f"the cell goes {voltages[timer]} the levels", actions=1),)
        if timer not in timers:
            event = timer.removeprefix(event_of(""))
            return (Choice(local, (OUTSIDE + event,), says=event, actions=1),)
        at = timers.index(timer)
        after = (*held[:at], not held[at], *held[at + 1 :])
        if at == len(buttons):
            says = "the cell loses contact" if after[at] else "the cell is back"
            return (Choice(after, (CELL,), says=says, actions=1),)
        says = f"{buttons[at]} {'closes' if after[at] else 'opens'}"
        return (Choice(after, (f"push {buttons[at]}",), says=says, actions=1),)

    return Part(
        name=RECORDER,
        role="disturbance",
        start=((False,) * len(timers)) + ((ABOVE,) if what.levels else ()),
        publishes=(
            *(held_by(RECORDER, b) for b in buttons),
            *((opened_by(RECORDER),) if what.cell else ()),
            *((level_of(RECORDER),) if what.levels else ()),
        ),
        shown=lambda local: tuple(_split(local)),
        armed=lambda local, reads: lasting,
        expired=expired,
        sends=(
            *(f"push {button}" for button in buttons),
            *((CELL,) if what.cell else ()),
            *(OUTSIDE + event for event in what.events),
            *((LEVEL_CHANGES,) if what.levels else ()),
        ),
    )


def lookout(device: Device, lights: Sequence[Light], can_lose_power: bool) -> Part:
    """The part that compares. Local state: the recorded level of each light, and why the run is refused ("" if it isn't); if
    sleep or saves are recorded also what is kept in mind of them.

    Publishes `refused`. Without power the chart says nothing of a light, but in a state that is `unpowered`.
    """
    variables = tuple(
        dict.fromkeys(when.variable for light in lights for when in (*light.on, *light.off) if when.variable)
    )
    unpowered = frozenset(state.name for state in device.states if state.unpowered)
    pins = tuple(published(light.output) for light in lights if light.output) if can_lose_power else ()
    on_in = {what.name: frozenset(what.on_in) for what in device.outputs}
    turns = {turn_of(light.name): i for i, light in enumerate(lights)}
    kept = device.memory.keeps if device.memory is not None else ()
    saves = next((light for light in lights if light.shows == SAVES), None)
    sleeps = next((light for light in lights if light.shows == ASLEEP), None)
    longest = longest_save(device)

    def is_met(when: When, reads: Reads) -> bool:
        state = reads["state"]
        if state not in when.states or (can_lose_power and not reads[POWERED] and state not in unpowered):
            return False
        return not when.variable or reads[f"value {when.variable}"] in when.values

    def wanted(light: Light, reads: Reads) -> bool | None:
        """Whether the light must be on now; None if it may be either."""
        if light.shows:
            return bool(reads[SLEEPING]) if light.shows == ASLEEP else None
        if light.output and can_lose_power:
            return {ON: True, PIN_OFF: False}.get(str(reads[published(light.output)]))
        if light.output:
            return reads["state"] in on_in[light.output]
        if any(is_met(when, reads) for when in light.on):
            return True
        return False if any(is_met(when, reads) for when in light.off) else None

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        levels, refused = _levels(local)
        if refused:
            return ()
        late = []
        for light, level in zip(lights, levels, strict=True):
            if wanted(light, reads) is (not level):
                late.append(Timer(UNSEEN + light.name, light.lag_us, light.lag_us))
        if sleeps is not None and _beside(local).wake_unseen:
            late.append(Timer(WOKE_UNSEEN + sleeps.name, sleeps.lag_us, sleeps.lag_us))
        if saves is not None and _beside(local).owed < 0:
            late.append(Timer(UNCAUSED + saves.name, saves.lag_us, saves.lag_us))
        if saves is not None and levels[lights.index(saves)]:
            late.append(Timer(GOES_ON + saves.name, longest + saves.lag_us, longest + saves.lag_us))
        return (*(Timer(name, 0, FOREVER) for name in turns), *late)

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        levels, _ = _levels(local)
        at = turns.get(timer)
        if at is None and timer.startswith(GOES_ON):
            return (Choice((levels, "", _paid(local))),)
        if at is None and timer.startswith(WOKE_UNSEEN):
            return (Choice((levels, "", replace(_beside(local), wake_unseen=False))),)
        if at is None:
            return (Choice(_joined(local, levels, timer)),)
        after = (*levels[:at], not levels[at], *levels[at + 1 :])
        light = lights[at]
        if light.shows == SAVES and after[at]:
            return (Choice((after, "", _paid(local))),)
        refused = wanted(light, reads) is levels[at]
        if light.shows == ASLEEP:
            refused = refused and not after[at] and not _beside(local).wake_unseen
            local = (levels, "", replace(_beside(local), wake_unseen=False))
        return (Choice(_joined(local, after, timer if refused else "")),)

    def heard(local: Local, signal: str, reads: Reads) -> tuple[Choice, ...]:
        levels, refused = _levels(local)
        beside = _beside(local)
        if signal == FALLS_ASLEEP:
            # The pin has said that it sleeps all the while that it was awake.
            unseen = any(light.shows == ASLEEP and on for light, on in zip(lights, levels, strict=True))
            return (Choice((levels, refused, replace(beside, wake_unseen=unseen))),)
        if signal == RESET:
            return (Choice((levels, refused, replace(beside, owed=max(beside.owed, 1)))),)
        new = snapshot(device, kept, reads)
        if signal == STARTED or new == beside.last:
            return (Choice((levels, refused, replace(beside, last=new))),)
        after = replace(beside, owed=min(beside.owed + 1, _MOST_OWED), last=new)
        return (Choice((levels, refused, after), restart=tuple(UNCAUSED + light.name for light in lights)),)

    levels = tuple(light.first for light in lights)
    values = {f"value {name}": value for name, value in start_values(device).items()}
    first = snapshot(device, kept, {"state": device.initial, **values})
    return Part(
        name=LOOKOUT,
        role="device",
        start=(levels, "", _Beside(1, first, False)) if sleeps or saves else (levels, ""),
        publishes=(REFUSED,),
        shown=lambda local: (_levels(local)[1],),
        reads=tuple(
            dict.fromkeys(
                (
                    "state",
                    *(f"value {name}" for name in variables),
                    *((POWERED,) if can_lose_power else ()),
                    *pins,
                    *((SLEEPING,) if sleeps is not None else ()),
                    *(read_as(kept) if saves is not None else ()),
                )
            )
        ),
        armed=armed,
        expired=expired,
        takes={
            **({FALLS_ASLEEP: ()} if sleeps is not None else {}),
            **{signal: () for signal in (CHANGED, STEPPED) if saves is not None},
            **{signal: () for signal in (RESET, STARTED) if saves is not None and can_lose_power},
        },
        heard=heard,
    )


def longest_save(device: Device) -> int:
    """How long one save takes at the most, in microseconds; one that goes on for longer counts as another one."""
    rules = device.memory
    if rules is None:
        return 0
    return int(rules.write.hi) * (len(rules.keeps) if rules.guard == "none" else 1)


def late_lights(timers: Sequence[Timer]) -> tuple[str, ...]:
    """The lights that must follow the device now, by the timers that are armed."""
    return tuple(timer.name.removeprefix(UNSEEN) for timer in timers if timer.name.startswith(UNSEEN))


def _split(local: Local) -> tuple[Value, ...]:
    assert isinstance(local, tuple)
    return local


def _levels(local: Local) -> tuple[tuple[bool, ...], str]:
    assert isinstance(local, tuple)
    levels, refused = local[:2]
    return levels, refused


def _beside(local: Local) -> _Beside:
    """What is kept in mind of sleep and saves."""
    assert isinstance(local, tuple)
    beside = local[2]
    assert isinstance(beside, _Beside)
    return beside


def _paid(local: Local) -> _Beside:
    """One save less is owed; where many are, that isn't counted."""
    beside = _beside(local)
    return replace(beside, owed=max(beside.owed - (beside.owed < _MOST_OWED), -_MOST_OWED))


def _joined(local: Local, levels: tuple[bool, ...], refused: str) -> Local:
    """The local state with other levels, and what is refused."""
    assert isinstance(local, tuple)
    return (levels, refused, *local[2:])
