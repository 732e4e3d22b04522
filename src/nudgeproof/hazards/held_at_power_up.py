"""Held at power-up: a button that is down while power comes up is taken for a gesture, though nobody presses it any more.

Somebody puts the cell in with a finger on the button, or something in a bag presses it just then. Asked for each button,
with the contact closed and settled from before the firmware starts until any moment after, from whatever memory may hold.
"""

from __future__ import annotations

from nudgeproof.model.step import Move, Test
from nudgeproof.model.tables import Model, Situation
from nudgeproof.parts.compile import Environment
from nudgeproof.questions.ask import NotAsked, Question, change
from nudgeproof.questions.steps import starts
from nudgeproof.spec.types import Button, Device

NAME = "held-at-power-up"
MEANS = "a button that is held while power comes up is taken for a gesture, though nobody pressed it since"
CURE = (
    "write `button held: ignored until released`: read the buttons once at the start, and ignore one that is down then"
)
SHOWN = """\
pad        ██████████████████████████  a finger, or the bag, holds it down
device     |(dark) |starts  |on        the cell is put in; nobody pressed"""
ASKED_IF = "`power up`, without a `latch`"
TEMPTING = (
    "wait a moment at the start, until the button is let go: whoever puts the cell in, or a bag that squeezes it, holds on"
    " for longer"
)
EXACT = (
    "exact for each button by itself, closed and settled before the firmware starts and let go at any time after; memory may"
    " hold whatever is legal"
)


def ask(device: Device) -> tuple[Question, ...] | NotAsked:
    """One question for each button with a gesture."""
    if device.power_up is None:
        return NotAsked(NAME, "the spec has no `power up`")
    if device.supply is not None and device.supply.latch is not None:
        return NotAsked(NAME, "power comes up because a key is pressed (`latch`), so a key that is down then is meant")
    used = {gesture.button for gesture in device.gestures}

    def question(button: Button) -> Question:
        name = button.name
        return Question(
            hazard=NAME,
            subject=name,
            environment=Environment(held=name),
            looked_for=_seeing(device),
            unwanted=True,
            came_up=(_starting_held(name),),
            told=lambda before, after: (
                f"{name}, held while power comes up, can be taken for a gesture ({change(before, after)})"
            ),
            denied="",
            held=f"{name}, held while power comes up, is taken for nothing until it was let go, whatever the timing",
            all_held="held while power comes up, it is taken for nothing until it was let go, whatever the timing",
            cure=CURE,
            at=device.power_up.at if device.power_up is not None else button.at,
        )

    return tuple(question(button) for button in device.buttons if button.name in used)


def _seeing(device: Device) -> Test:
    """Steps in which the firmware sees a gesture; with nobody pressing anew, each is one too many."""
    signals = {f"gesture {gesture.name}" for gesture in device.gestures}

    def test(model: Model, before: Situation, move: Move) -> bool:
        return any(not signals.isdisjoint(taken.choice.send) for taken in move.taken)

    return test


def _starting_held(button: str) -> Test:
    """Starts of the firmware with the button down."""

    def test(model: Model, before: Situation, move: Move) -> bool:
        return starts(move) and bool(model.value(before, f"level {button}"))

    return test
