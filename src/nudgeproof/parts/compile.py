"""From a typed spec and an environment to a model.

An *environment* says who acts: which surroundings, the person, or any press at all; and whether someone used the device
before and left it alone in one of the given states.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from nudgeproof.model.tables import Model, Part
from nudgeproof.parts.attention import (
    GESTURES_WAIT,
    WHILE_RUNNING,
    Hearing,
    attention,
    can_be_deaf,
    has_queue,
    hearing,
    into_queue,
    writes_deaf,
)
from nudgeproof.parts.behaviours import brown_outs, readings
from nudgeproof.parts.brown_out import RAISED_TOO_SOON, WEAK, brown_out, rising, weakening
from nudgeproof.parts.capacitor import capacitor, whole_hold_up
from nudgeproof.parts.causes import causes
from nudgeproof.parts.cell_level import LEVEL_WAITS, any_cell_event, gauge, sag
from nudgeproof.parts.chart import STARTS_AFRESH, chart
from nudgeproof.parts.chord import chord
from nudgeproof.parts.comes_round import by_moments, running_clock
from nudgeproof.parts.contact import contact
from nudgeproof.parts.counted_taps import counted_taps
from nudgeproof.parts.events import EVENT_WAITS, When, any_event, delivery, maker
from nudgeproof.parts.from_power import from_power
from nudgeproof.parts.from_wake import from_wake
from nudgeproof.parts.gestures import any_chord, any_gesture, any_waking
from nudgeproof.parts.held import cell_put_in, holder
from nudgeproof.parts.latch import latch
from nudgeproof.parts.ledger import ledger
from nudgeproof.parts.limits import Limit, limit, settling
from nudgeproof.parts.memory import FOUND_DAMAGED, memory
from nudgeproof.parts.outputs import output
from nudgeproof.parts.pending_taps import pending_taps
from nudgeproof.parts.people import ANYTHING, LEFT, PERSON, anything, disturbance, leaving, person
from nudgeproof.parts.performer import Act, performer, witness
from nudgeproof.parts.press_length import press_length
from nudgeproof.parts.ram import ram
from nudgeproof.parts.reader import reader
from nudgeproof.parts.recogniser import recogniser
from nudgeproof.parts.recorded import RECORDER, Recorded, lookout, recorder
from nudgeproof.parts.resets import cut_off, power_switch, supervisor
from nudgeproof.parts.script import SCRIPT, Edge, script
from nudgeproof.parts.sleep import WAKING_WAITS, sleep, waking_brings
from nudgeproof.parts.supply import IS_OFF, UNSTEADY, outage, supply
from nudgeproof.parts.trail import trail
from nudgeproof.parts.train import Train, train
from nudgeproof.parts.waking_press import waking_press
from nudgeproof.spec.outside import Maker, Sag
from nudgeproof.spec.types import Button, Condition, Device, Disturbance, Outage, Source, Supply
from nudgeproof.units import Span


@dataclass(frozen=True, slots=True)
class Environment:
    """Who acts.

    `sources`: names of surroundings, or `person`, or `anything`, all acting together. `history`: `person` or `anything`
    used the device before, until it was left alone at rest in one of `left_in`, with such values as `left_with` wants; ""
    for none (from the initial state).
    `script`: contact and cell edges at absolute times, the device left alone after the first `script_left` of them (-1: not
    said). `watched`: the ledger of kept values takes part. `gestures`: instead of
    buttons and whoever presses them, any gesture at any moment (see `parts.gestures`). `acts`: after the history one of
    these is performed (see `parts.performer`). `train`: a train of presses within bounds (see `parts.train`).
    `limit`, `settles`: an observer of a limit or of settling takes part (see `parts.limits`). `found`: the device has
    just got power, and finds its memory so (see `parts.memory`). `trailed`: the trail of the states where the device
    rested takes part. `held`: this button is held while power comes up, and nothing else acts (see `parts.held`).
    `sags`, `reads`: the cells are weak, so that the loads reset the device as in this one of its brown-out behaviours, or
    what is read of the cells is as in this one of its readings (see `parts.behaviours`); -1 for fresh cells.
    `only`: `anything` presses this button and no other, "" for all of them. `calm`: only the runs in which no contact
    chatters. `before`: sources that took part in the history, and do no more. `recorded`: what a recording makes and shows
    (see `parts.recorded`); its edges are those of contacts as they are, so none of these chatters by itself.
    """

    sources: tuple[str, ...] = ()
    history: str = ""
    left_in: tuple[str, ...] = ()
    script: tuple[Edge, ...] = ()
    script_left: int = -1
    watched: bool = False
    gestures: bool = False
    acts: tuple[Act, ...] = ()
    train: Train | None = None
    limit: Limit | None = None
    settles: bool = False
    found: str = ""
    trailed: bool = False
    held: str = ""
    only: str = ""
    calm: bool = False
    before: tuple[str, ...] = ()
    left_with: Condition | None = None
    sags: int = -1
    reads: int = -1
    recorded: Recorded | None = None

    def __str__(self) -> str:
        """In words, as printed beside a verdict."""
        words = {PERSON: "the person's presses", ANYTHING: "any press of any length"}
        if self.found:
            start = f"a start, memory {self.found}"
            return f"{start}, and {' and '.join(self.sources)}" if self.sources else start
        if self.held:
            return f"{self.held} held while power comes up"
        who = " and ".join(words.get(source, source) for source in self.sources)
        who = who or ("weak cells" if self.sags >= 0 or self.reads >= 0 else "")
        who = who or ("the person's habits" if self.acts else "a script" if self.script else "nobody")
        return f"{who}, after any use" if self.history else who


def is_large(device: Device) -> bool:
    """Whether a device is explored in cheaper ways that lose nothing.

    It has several buttons, readings of many steps, or something that resets it beside the cell, whose time runs all along.
    For others that isn't worth while: a story might then show presses where chatter would do.
    """
    reads_in_steps = any(button.debounce is None for button in device.buttons)
    return len(device.buttons) > 1 or reads_in_steps or bool(device.resets)


def compile_model(device: Device, environment: Environment) -> Model:
    """Join the device's parts with those of the environment.

    Order of parts: sources, leaving, supply, contacts, processor, what listens to events, readers, recognisers, chords,
    what resets, RAM, causes, chart, latch, outputs, memory, observers. A part is there only where it can make a difference:
    the supply where the cell can be interrupted, memory there and where writing makes deaf. What the device is meant
    for belongs to its use, so it acts before the device is left alone. Raises KeyError if the environment names a
    source that the device doesn't have.
    """
    buttons = tuple(button.name for button in device.buttons)
    latched = device.supply.latch if device.supply is not None else None
    begins_off = bool(environment.found or environment.held) or device.state(device.initial).unpowered
    resets = () if environment.held else device.resets
    sags = environment.sags >= 0
    can_lose_power = begins_off or bool(_outages(device, environment)) or latched is not None or bool(resets) or sags
    if can_lose_power and device.power_up is None:
        raise KeyError("power up")
    unknown = bool(environment.held) or (environment.recorded is not None and environment.recorded.used)
    made = _made(device, environment)
    levels = _levels(device, environment)
    waits = () if environment.gestures else (*(EVENT_WAITS for _ in made[:1]), *(LEVEL_WAITS for _ in levels[:1]))
    waits = (*waits, GESTURES_WAIT) if has_queue(device) and not environment.gestures else waits
    waits = (*waits, UNSTEADY) if resets or sags else waits
    waits = (*waits, WAKING_WAITS) if waking_brings(device) and not environment.gestures else waits
    pressed = (environment.only,) if environment.only else buttons
    sources = _sources(device, environment, buttons, pressed, waits, can_lose_power)
    parts = list(sources)
    if environment.history and not environment.acts:
        parts.append(leaving(device, environment.left_in, can_lose_power, waits, environment.left_with))
    held_ignored = device.power_up.held_ignored if device.power_up is not None and can_lose_power else None
    parts += _supply(device, environment)
    if environment.gestures:
        parts += [any_gesture(device, button, can_lose_power) for button in device.buttons]
        chords = [gesture for gesture in device.gestures if gesture.chord is not None]
        parts += [any_chord(device, gesture, can_lose_power) for gesture in chords]
        parts += [any_waking(device, can_lose_power)] if device.wakes_into else []
    else:
        parts += _contacts(device, environment, sources)
        boots = bool(environment.found or environment.held)
        parts += _firmware(device, begins_off, made, levels, held_ignored, can_lose_power, boots)
        parts += _resets(device, environment)
    if sags:
        parts.append(brown_out(device, brown_outs(device)[environment.sags]))
    if environment.reads >= 0:
        parts.append(weakening(device, readings(device)[environment.reads]))
    if can_lose_power and device.ram is not None:
        parts.append(ram(device, device.ram, begins_off, unknown))
    if can_lose_power and device.power_up is not None and device.power_up.starts_in:
        parts.append(causes(device.power_up, begins_off, unknown))
    rises = can_lose_power and not environment.held and _raises(device)
    if rises:
        parts.append(rising(device, begins_off))
    afresh = (*((STARTS_AFRESH,) if sags else ()), *((RAISED_TOO_SOON,) if rises else ()))
    parts.append(chart(device, can_lose_power, afresh))
    if latched is not None:
        parts.append(latch(device, latched))
    if environment.acts:
        parts.append(witness(device, environment.acts, can_lose_power))
    if can_lose_power and not environment.held:
        parts += [output(device, what) for what in device.outputs]
    if can_lose_power or (writes_deaf(device) and not environment.gestures):
        damaged = environment.recorded is not None and environment.recorded.damaged
        found = FOUND_DAMAGED if damaged else environment.found
        parts.append(memory(device, found, unknown, environment.recorded is not None))
    if can_lose_power and environment.watched and device.memory is not None:
        parts.append(ledger(device))
    if environment.limit is not None:
        parts.append(limit(device, environment.limit, can_lose_power))
    if environment.settles:
        stuck = (what for what in device.surroundings if isinstance(what, Disturbance) and what.for_good)
        held = tuple((s.name, s.button) for s in stuck if s.name in environment.sources)
        parts.append(settling(device, held, sags, sags or environment.reads >= 0))
    if environment.trailed:
        parts.append(trail(device, can_lose_power))
    if environment.recorded is not None:
        parts.append(lookout(device, environment.recorded.lights, can_lose_power))
    return Model(tuple(parts))


def _contacts(device: Device, environment: Environment, sources: list[Part]) -> list[Part]:
    """The contacts. Those pressed any way at all are cheaper to explore without chatter, and it makes no difference."""
    pressed_freely = is_large(device) and ANYTHING in environment.sources
    was_pressed_freely = is_large(device) and environment.history == ANYTHING
    parts = []
    for button in device.buttons:
        holding = tuple(part.name for part in sources if f"push {button.name}" in part.sends)
        once = LEFT if was_pressed_freely and ANYTHING in holding else ""
        chatters = not (pressed_freely and ANYTHING in holding) and RECORDER not in holding
        parts.append(contact(button, holding, environment.held == button.name, once, chatters, environment.calm))
    return parts


def _sources(
    device: Device,
    environment: Environment,
    buttons: tuple[str, ...],
    pressed: tuple[str, ...],
    waits: tuple[str, ...],
    can_lose_power: bool,
) -> list[Part]:
    """Whoever acts, in the order: the use before, the environment's sources, acts, a train, a script, a holder, a clock."""
    used_before = bool(environment.history)
    sources: list[Part] = []
    if used_before:
        sources.append(_presser(device, environment.history, pressed, leaves=True))
        before = [name for name in (*device.meant, *environment.before) if name not in environment.sources]
        sources += [_happening(device, name, "until left") for name in before]
    for name in environment.sources:
        if environment.gestures and isinstance(what := _find(device, name), Maker | Sag):
            sources.append(_any_happening(device, what, can_lose_power))
        else:
            sources.append(_source(device, name, pressed, used_before))
    if environment.acts:
        sources.append(performer(device, environment.acts, waits, hearing(device).value))
    if environment.train is not None:
        sources.append(train(environment.train, buttons))
    if environment.script:
        sources.append(script(environment.script, buttons, environment.script_left))
    if environment.recorded is not None:
        sources.append(recorder(environment.recorded))
    if environment.held:
        sources.append(holder(environment.held, buttons))
    if not environment.gestures and any(button.compares_moments for button in device.buttons):
        sources.append(running_clock())
    return sources


def _outages(device: Device, environment: Environment) -> tuple[str, ...]:
    outages = tuple(what.name for what in device.surroundings if isinstance(what, Outage))
    found = tuple(name for name in outages if name in environment.sources)
    if environment.recorded is not None and environment.recorded.cell:
        found = (*found, RECORDER)
    return (*found, SCRIPT) if any(edge.is_cell for edge in environment.script) else found


def _supply(device: Device, environment: Environment) -> list[Part]:
    outages = _outages(device, environment)
    if environment.held:
        assert device.power_up is not None
        return [cell_put_in(environment.held, device.power_up)]
    latched = device.supply is not None and device.supply.latch is not None
    sags = environment.sags >= 0
    if not outages and not environment.found and not latched and not device.resets and not sags:
        return []
    rules = device.supply
    if rules is None and device.supervisor is not None:
        rules = Supply(Span(0, 0), device.supervisor.at)  # a cell that is always there needs no hold-up
    if rules is None or device.power_up is None:
        raise KeyError("supply")
    off = IS_OFF if device.stays_off is not None else "off"
    start = "starting" if environment.found else off if device.state(device.initial).unpowered else "up"
    reckoned = rules.is_computed and not environment.gestures
    if rules.is_computed:
        rules = replace(rules, hold_up=whole_hold_up(device))
    minded = sags or reckoned or _is_minded(device)
    parts = [supply(rules, device.power_up, outages, start, minded, reckoned)]
    return [*parts, capacitor(device, outages)] if reckoned else parts


def _is_minded(device: Device) -> bool:
    """Whether something minds that the device is without power."""
    causes_matter = device.power_up is not None and bool(device.power_up.starts_in)
    return (
        bool(device.resets) or device.ram is not None or causes_matter or _raises(device) or _counts_from_power(device)
    )


def _counts_from_power(device: Device) -> bool:
    """Whether a button that is closed at the start counts as down since power came."""
    return device.power_up is not None and device.power_up.counts_from_power


def _raises(device: Device) -> bool:
    """Whether the firmware raises the brown-out level while the voltage may still be rising."""
    electricity = device.electricity
    if electricity is None or electricity.reset is None or electricity.rises is None or device.power_up is None:
        return False
    return electricity.reset.raised is not None and device.power_up.takes.lo <= electricity.rises.hi


def _resets(device: Device, environment: Environment) -> list[Part]:
    """What resets the device although its cell is there.

    Nothing does where a button is held at the first start: what follows a reset is one more start with that button held or
    let go, and with a memory such as that question tries anyway.
    """
    if environment.held:
        return []
    rules = device.supply.cut_off if device.supply is not None else None
    parts = [cut_off(rules)] if rules is not None else []
    parts += [power_switch(device, rules, rules.off)] if rules is not None and rules.off is not None else []
    return [*parts, supervisor(device.supervisor, hearing(device))] if device.supervisor is not None else parts


def _firmware(
    device: Device,
    begins_off: bool,
    made: tuple[str, ...],
    levels: tuple[str, ...],
    held_ignored: bool | None,
    can_lose_power: bool,
    boots: bool,
) -> list[Part]:
    """The processor, whether it listens, and what it listens to: events, the cell, the buttons.

    `boots`: at first the device has just got power.
    """
    deaf, hears = can_be_deaf(device), hearing(device)
    parts = [sleep(device, can_lose_power, begins_off, made, deaf)]
    if deaf:
        parts.append(attention(device, can_lose_power, begins_off))
    if made:
        parts.append(delivery(device, made, hears, can_lose_power))
    if levels and device.cell is not None:
        parts.append(gauge(device.cell, levels, hears, can_lose_power))
    parts += [_reader(button, held_ignored, hears) for button in device.buttons]
    parts += [_recogniser(device, button, held_ignored, boots) for button in device.buttons]
    parts += [chord(device, gesture, can_lose_power) for gesture in device.gestures if gesture.chord is not None]
    return parts


def _reader(button: Button, held_ignored: bool | None, hears: Hearing) -> Part:
    part = reader(button, held_ignored, WHILE_RUNNING if button.in_interrupt else hears)
    return by_moments(part, button) if button.compares_moments else part


def _recogniser(device: Device, button: Button, held_ignored: bool | None, boots: bool) -> Part:
    kinds = [state.sleep for state in device.states if state.sleep is not None and state.sleep.counts_from_wake]
    part = recogniser(device, button, held_ignored)
    if button.claims.reckons_late and device.elapsed is not None:
        part = press_length(part, device, button, device.elapsed)
    credited = held_ignored is not None and _counts_from_power(device)
    if credited or any(button.name in kind.waking_buttons for kind in kinds):
        part = from_wake(part, button)
    part = from_power(part, device, button, boots) if credited else part
    sleeps = [state.sleep for state in device.states if state.sleep is not None and state.sleep.outlasts]
    part = pending_taps(part, device) if any(not kind.goes_on for kind in sleeps) else part
    if device.ticks is not None:
        part = counted_taps(part, device, button, device.ticks)
    counts = button.claims.waking == "counts"
    part = part if counts else waking_press(part, button, held_ignored is not None)
    return into_queue(part) if button.in_interrupt and can_be_deaf(device) else part


def _acting(device: Device, environment: Environment) -> tuple[str, ...]:
    """All surroundings that act at some time: those named, and in a use before also what the device is for."""
    before = (*device.meant, *environment.before) if environment.history else ()
    return tuple(dict.fromkeys((*before, *environment.sources)))


def _made(device: Device, environment: Environment) -> tuple[str, ...]:
    """The outside events that can happen in the environment, in the order of the spec."""
    found = {edge.event for edge in environment.script}
    found |= {name for act in environment.acts for name in act.gestures}
    found |= set(environment.recorded.events) if environment.recorded is not None else set()
    for name in _acting(device, environment):
        what = _find(device, name)
        found |= set(what.events) if isinstance(what, Maker) else set()
    return tuple(event.name for event in device.events if event.name in found)


def _levels(device: Device, environment: Environment) -> tuple[str, ...]:
    """The sources that take the voltage of the cell up and down."""
    found = tuple(name for name in _acting(device, environment) if isinstance(_find(device, name), Sag))
    found = (*found, WEAK) if environment.reads >= 0 else found
    found = (*found, RECORDER) if environment.recorded is not None and environment.recorded.levels else found
    return (*found, SCRIPT) if any(edge.level for edge in environment.script) else found


def _find(device: Device, name: str) -> Source | None:
    return next((what for what in device.surroundings if what.name == name), None)


def _presser(device: Device, name: str, buttons: tuple[str, ...], leaves: bool) -> Part:
    if name == PERSON:
        if device.person is None:
            raise KeyError(name)
        chords = dict.fromkeys(gesture.buttons for gesture in device.gestures if gesture.chord is not None)
        return person(device.person, buttons, tuple(chords), leaves)
    return anything(buttons, leaves)


def _source(device: Device, name: str, buttons: tuple[str, ...], used_before: bool) -> Part:
    if name in (PERSON, ANYTHING):
        return _presser(device, name, buttons, leaves=False)
    what = _find(device, name)
    if what is None:
        raise KeyError(name)
    if isinstance(what, Maker | Sag):
        return _happening(device, name, "once left" if used_before and not what.meant else "always")
    return outage(what, used_before) if isinstance(what, Outage) else disturbance(what, used_before)


def _happening(device: Device, name: str, when: When) -> Part:
    """A source of events, or of a voltage that goes up and down."""
    what = _find(device, name)
    if isinstance(what, Maker):
        return maker(what, when)
    if not isinstance(what, Sag) or device.cell is None:
        raise KeyError(name)
    return sag(what, device.cell, when)


def _any_happening(device: Device, what: Maker | Sag, can_lose_power: bool) -> Part:
    if isinstance(what, Maker):
        return any_event(device, what, can_lose_power)
    return any_cell_event(what, can_lose_power)
