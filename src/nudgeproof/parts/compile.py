"""From a typed spec and an environment to a model.

An *environment* says who acts: which surroundings, the person, or any press at all; and whether someone used the device
before and left it alone in one of the given states.
"""

from __future__ import annotations

from dataclasses import dataclass

from nudgeproof.model.tables import Model, Part
from nudgeproof.parts.chart import chart
from nudgeproof.parts.chord import chord
from nudgeproof.parts.contact import contact
from nudgeproof.parts.gestures import any_chord, any_gesture
from nudgeproof.parts.ledger import ledger
from nudgeproof.parts.memory import memory
from nudgeproof.parts.people import ANYTHING, LEFT, PERSON, anything, disturbance, leaving, person
from nudgeproof.parts.performer import Act, performer, witness
from nudgeproof.parts.reader import reader
from nudgeproof.parts.recogniser import recogniser
from nudgeproof.parts.script import SCRIPT, Edge, script
from nudgeproof.parts.sleep import sleep
from nudgeproof.parts.supply import outage, supply
from nudgeproof.parts.train import Train, train
from nudgeproof.spec.types import Device, Outage


@dataclass(frozen=True, slots=True)
class Environment:
    """Who acts.

    `sources`: names of surroundings, or `person`, or `anything`, all acting together. `history`: `person` or `anything`
    used the device before, until it was left alone at rest in one of `left_in`; "" for none (from the initial state).
    `script`: contact and cell edges at absolute times, the device left alone after the first `script_left` of them (-1: not
    said). `watched`: the ledger of kept values takes part. `gestures`: instead of
    buttons and whoever presses them, any gesture at any moment (see `parts.gestures`). `acts`: after the history one of
    these is performed (see `parts.performer`). `train`: a train of presses within bounds (see `parts.train`). `only`:
    `anything` presses this button and no other, "" for all of them. `calm`: only the runs in which no contact chatters.
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
    only: str = ""
    calm: bool = False

    def __str__(self) -> str:
        """In words, as printed beside a verdict."""
        words = {PERSON: "the person's presses", ANYTHING: "any press of any length"}
        who = " and ".join(words.get(source, source) for source in self.sources)
        who = who or ("the person's habits" if self.acts else "a script")
        return f"{who}, after any use" if self.history else who


def compile_model(device: Device, environment: Environment) -> Model:
    """Join the device's parts with those of the environment.

    Order of parts: sources, leaving, supply, contacts, processor, readers, recognisers, chords, chart, memory, ledger.
    Supply and memory take part only where the environment can interrupt the cell. Raises KeyError if the environment names a
    source that the device doesn't have.
    """
    buttons = tuple(button.name for button in device.buttons)
    pressed = (environment.only,) if environment.only else buttons
    used_before = bool(environment.history)
    sources: list[Part] = []
    if used_before:
        sources.append(_presser(device, environment.history, pressed, leaves=True))
    sources += [_source(device, name, pressed, used_before) for name in environment.sources]
    if environment.acts:
        sources.append(performer(device, environment.acts))
    if environment.train is not None:
        sources.append(train(environment.train, buttons))
    if environment.script:
        sources.append(script(environment.script, buttons, environment.script_left))
    outages = tuple(what.name for what in device.surroundings if isinstance(what, Outage))
    outages = tuple(name for name in outages if name in environment.sources)
    if any(not edge.button for edge in environment.script):
        outages += (SCRIPT,)
    can_lose_power = bool(outages)
    parts = list(sources)
    if used_before and not environment.acts:
        parts.append(leaving(device, environment.left_in, can_lose_power))
    held_ignored = None
    if can_lose_power:
        if device.supply is None or device.power_up is None:
            raise KeyError("supply")
        held_ignored = device.power_up.held_ignored
        parts.append(supply(device.supply, device.power_up, outages))
    # Several buttons pressed any way at all are cheaper to explore without chatter, and it makes no difference.
    pressed_freely = len(buttons) > 1 and ANYTHING in environment.sources
    was_pressed_freely = len(buttons) > 1 and environment.history == ANYTHING
    for button in () if environment.gestures else device.buttons:
        holding = tuple(part.name for part in sources if f"push {button.name}" in part.sends)
        once = LEFT if was_pressed_freely and ANYTHING in holding else ""
        parts.append(contact(button, holding, once, not (environment.calm or (pressed_freely and ANYTHING in holding))))
    chords = [gesture for gesture in device.gestures if gesture.chord is not None]
    if environment.gestures:
        parts += [any_gesture(device, button, can_lose_power) for button in device.buttons]
        parts += [any_chord(device, gesture, can_lose_power) for gesture in chords]
    else:
        parts.append(sleep(device, can_lose_power))
        parts += [reader(button, held_ignored) for button in device.buttons]
        parts += [recogniser(device, button, held_ignored) for button in device.buttons]
        parts += [chord(device, gesture, can_lose_power) for gesture in chords]
    parts.append(chart(device, can_lose_power))
    if environment.acts:
        parts.append(witness(device, environment.acts))
    if can_lose_power:
        parts.append(memory(device))
        if environment.watched and device.memory is not None:
            parts.append(ledger(device))
    return Model(tuple(parts))


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
    for what in device.surroundings:
        if what.name == name:
            return outage(what, used_before) if isinstance(what, Outage) else disturbance(what, used_before)
    raise KeyError(name)
