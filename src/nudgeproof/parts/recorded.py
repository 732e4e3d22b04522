"""What a recording of a real device does to the model: it makes the recorded edges, and looks at the recorded lights.

Two parts. The *recorder* holds contacts closed, takes the cell away and makes events. Each of its timers may expire at any
time: whoever follows a recording says when (see `firmware.monitor`), and no other engine is meant to meet these parts.

The *lookout* has the level of each recorded output, a *light*. The chart says which level it has in which state, or nothing,
then it may have either. When the device changes so that a light contradicts its recorded level, the recording must follow
within `lag_us`: a sampled level is that late at most. When a recorded level changes, it must not contradict the device at
that moment. Else the run is refused: it isn't what was recorded.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from nudgeproof.model.tables import Choice, Local, Part, Reads, Timer, Value
from nudgeproof.parts.contact import held_by
from nudgeproof.parts.outputs import OFF as PIN_OFF
from nudgeproof.parts.outputs import ON, published
from nudgeproof.parts.sleep import OUTSIDE
from nudgeproof.parts.supply import CELL, POWERED, opened_by
from nudgeproof.spec.types import Device
from nudgeproof.units import FOREVER

# No name of a spec holds brackets.
RECORDER = "(recorder)"
LOOKOUT = "(lookout)"
REFUSED = "refused"
UNSEEN = "unseen "


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
    `first`: its level when the recording begins.
    """

    name: str
    on: tuple[When, ...]
    off: tuple[When, ...]
    lag_us: int
    first: bool
    output: str = ""


@dataclass(frozen=True, slots=True)
class Recorded:
    """What takes part in a recording: buttons, whether the cell's contact does, events, lights; all by name.

    `used`: the device was used before it got power; what it finds in memory may be whatever it may ever have left there.
    """

    buttons: tuple[str, ...]
    cell: bool
    events: tuple[str, ...]
    lights: tuple[Light, ...]
    used: bool = False


def edge_of(button: str) -> str:
    """The recorder's timer that presses a button or lets it go; "" for the cell's contact."""
    return f"edge of {button}" if button else "edge of the cell (contact)"


def event_of(event: str) -> str:
    """The recorder's timer that makes an event."""
    return f"event {event}"


def turn_of(light: str) -> str:
    """The lookout's timer that changes a light's recorded level."""
    return f"turn of {light}"


def recorder(what: Recorded) -> Part:
    """The part that makes edges. Local state: which buttons it holds closed, and whether it keeps the cell away (last)."""
    buttons = what.buttons
    timers = [edge_of(button) for button in buttons]
    timers += [edge_of("")] if what.cell else []
    lasting = tuple(Timer(name, 0, FOREVER) for name in (*timers, *(event_of(event) for event in what.events)))

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        held = _split(local)
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
        start=(False,) * len(timers),
        publishes=(*(held_by(RECORDER, b) for b in buttons), *((opened_by(RECORDER),) if what.cell else ())),
        shown=lambda local: tuple(_split(local)),
        armed=lambda local, reads: lasting,
        expired=expired,
        sends=(
            *(f"push {button}" for button in buttons),
            *((CELL,) if what.cell else ()),
            *(OUTSIDE + event for event in what.events),
        ),
    )


def lookout(device: Device, lights: Sequence[Light], can_lose_power: bool) -> Part:
    """The part that compares. Local state: the recorded level of each light, and why the run is refused ("" if it isn't).

    Publishes `refused`. Without power the chart says nothing of a light, but in a state that is `unpowered`.
    """
    variables = tuple(
        dict.fromkeys(when.variable for light in lights for when in (*light.on, *light.off) if when.variable)
    )
    unpowered = frozenset(state.name for state in device.states if state.unpowered)
    pins = tuple(published(light.output) for light in lights if light.output) if can_lose_power else ()
    on_in = {what.name: frozenset(what.on_in) for what in device.outputs}
    turns = {turn_of(light.name): i for i, light in enumerate(lights)}

    def is_met(when: When, reads: Reads) -> bool:
        state = reads["state"]
        if state not in when.states or (can_lose_power and not reads[POWERED] and state not in unpowered):
            return False
        return not when.variable or reads[f"value {when.variable}"] in when.values

    def wanted(light: Light, reads: Reads) -> bool | None:
        """Whether the light must be on now; None if it may be either."""
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
        return (*(Timer(name, 0, FOREVER) for name in turns), *late)

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        levels, _ = _levels(local)
        at = turns.get(timer)
        if at is None:
            return (Choice((levels, timer)),)
        after = (*levels[:at], not levels[at], *levels[at + 1 :])
        refused = wanted(lights[at], reads) is levels[at]
        return (Choice((after, timer if refused else "")),)

    return Part(
        name=LOOKOUT,
        role="device",
        start=(tuple(light.first for light in lights), ""),
        publishes=(REFUSED,),
        shown=lambda local: (_levels(local)[1],),
        reads=("state", *(f"value {name}" for name in variables), *((POWERED,) if can_lose_power else ()), *pins),
        armed=armed,
        expired=expired,
    )


def late_lights(timers: Sequence[Timer]) -> tuple[str, ...]:
    """The lights that must follow the device now, by the timers that are armed."""
    return tuple(timer.name.removeprefix(UNSEEN) for timer in timers if timer.name.startswith(UNSEEN))


def _split(local: Local) -> tuple[Value, ...]:
    assert isinstance(local, tuple)
    return local


def _levels(local: Local) -> tuple[tuple[bool, ...], str]:
    assert isinstance(local, tuple)
    levels, refused = local
    return levels, refused
