"""From a typed spec and an environment to a model.

An *environment* says who acts: which surroundings, the person, or any press at all; and whether someone used the device
before and left it alone in one of the given states.
"""

from __future__ import annotations

from dataclasses import dataclass

from nudgeproof.model.tables import Model, Part
from nudgeproof.parts.chart import chart
from nudgeproof.parts.contact import contact
from nudgeproof.parts.people import ANYTHING, PERSON, anything, disturbance, leaving, person
from nudgeproof.parts.reader import reader
from nudgeproof.parts.recogniser import recogniser
from nudgeproof.parts.script import Edge, script
from nudgeproof.parts.sleep import sleep
from nudgeproof.spec.types import Device


@dataclass(frozen=True, slots=True)
class Environment:
    """Who acts.

    `sources`: names of surroundings, or `person`, or `anything`, all acting together. `history`: `person` or `anything`
    used the device before, until it was left alone at rest in one of `left_in`; "" for none (from the initial state).
    `script`: contact edges at absolute times.
    """

    sources: tuple[str, ...] = ()
    history: str = ""
    left_in: tuple[str, ...] = ()
    script: tuple[Edge, ...] = ()

    def __str__(self) -> str:
        """In words, as printed beside a verdict."""
        words = {PERSON: "the person's presses", ANYTHING: "any press of any length"}
        who = " and ".join(words.get(source, source) for source in self.sources) or "a script"
        return f"{who}, after any use" if self.history else who


def compile_model(device: Device, environment: Environment) -> Model:
    """Join the device's parts with those of the environment.

    Order of parts: sources, leaving, contacts, processor, readers, recognisers, chart. Raises KeyError if the
    environment names a source that the device doesn't have.
    """
    buttons = tuple(button.name for button in device.buttons)
    used_before = bool(environment.history)
    sources: list[Part] = []
    if used_before:
        sources.append(_presser(device, environment.history, buttons, leaves=True))
    sources += [_source(device, name, buttons, used_before) for name in environment.sources]
    if environment.script:
        sources.append(script(environment.script, buttons))
    parts = list(sources)
    if used_before:
        parts.append(leaving(device, environment.left_in))
    for button in device.buttons:
        holding = tuple(part.name for part in sources if f"push {button.name}" in part.sends)
        parts.append(contact(button, holding))
    parts.append(sleep(device))
    parts += [reader(button) for button in device.buttons]
    parts += [recogniser(device, button) for button in device.buttons]
    parts.append(chart(device))
    return Model(tuple(parts))


def _presser(device: Device, name: str, buttons: tuple[str, ...], leaves: bool) -> Part:
    if name == PERSON:
        if device.person is None:
            raise KeyError(name)
        return person(device.person, buttons, leaves)
    return anything(buttons, leaves)


def _source(device: Device, name: str, buttons: tuple[str, ...], used_before: bool) -> Part:
    if name in (PERSON, ANYTHING):
        return _presser(device, name, buttons, leaves=False)
    for what in device.surroundings:
        if what.name == name:
            return disturbance(what, waits=used_before)
    raise KeyError(name)
