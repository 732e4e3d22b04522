"""The reference's devices with settings mixed at random: many more ways in which two of them meet than are written down.

Each is one of `tests.reference.devices`, whose gestures and states have more in them than those that are drawn from
nothing, and some of what may be said of its buttons, gestures, sleep, memory and power is drawn anew. What the reader of
specs would refuse isn't drawn.
"""

from __future__ import annotations

from dataclasses import replace
from random import Random

from nudgeproof.spec.outside import Sleep, Ticks
from nudgeproof.spec.pressed import Button, Samples
from nudgeproof.spec.types import Device, Gesture
from nudgeproof.units import Span
from tests.reference.devices import ALL, MS, by_moments, deaf, supervised, with_chords, with_ram

NAMES = tuple(name for name in ALL if not name.startswith("one "))
"""Not those with one value of a time, of which each specimen has its own."""
ORDERS = (
    ("arm", "check", "sleep"),
    ("check", "clear", "sleep"),
    ("clear", "arm", "sleep"),
    ("clear", "check", "arm", "sleep"),
    ("sleep",),
)
CLAIMS = {
    "after_hold": ("a tap",),
    "new_state": ("keeps the press", "begins it anew"),
    "hold_from": ("any press",),
    "waking": ("no tap", "no tap until one came"),
    "listens_again": ("waits for an edge",),
}


def mixed(seed: int) -> tuple[Device, frozenset[str]]:
    """The device of this seed, and the name of what was drawn anew."""
    return _Mixing(seed).finish()


class _Mixing:
    """One device while it is being mixed."""

    def __init__(self, seed: int) -> None:
        self.rng = Random(f"mixed {seed}")
        self.device = ALL[self.rng.choice(NAMES)]
        self.mixed: set[str] = set()

    def finish(self) -> tuple[Device, frozenset[str]]:
        free = not self.has_chord and not any(button.in_interrupt for button in self.device.buttons)
        if len(self.device.buttons) == 2 and free and self.is_drawn("a chord", 0.3):
            names = tuple(button.name for button in self.device.buttons)
            held = self.rng.choice((None, Span(100 * MS, 120 * MS)))
            within = self.rng.choice((Span(50 * MS, 60 * MS), Span(200 * MS, 700 * MS)))
            self.device = with_chords(self.device, ((names[0], names[1]),), held, within)
        gestures = tuple(self.gesture(one) for one in self.device.gestures)
        self.device = replace(self.device, gestures=gestures)
        self.device = replace(self.device, buttons=tuple(self.button(one) for one in self.device.buttons))
        states = tuple(
            state if state.sleep is None else replace(state, sleep=self.sleep(state.sleep))
            for state in self.device.states
        )
        self.device = replace(self.device, states=states)
        self.power()
        return self.device, frozenset(self.mixed)

    def is_drawn(self, what: str, chance: float) -> bool:
        if self.rng.random() < chance:
            self.mixed.add(f"mixed: {what}")
            return True
        return False

    @property
    def has_chord(self) -> bool:
        return any(gesture.chord is not None for gesture in self.device.gestures)

    def gesture(self, one: Gesture) -> Gesture:
        if one.chord is not None or one.repeats is not None or not self.is_drawn("acts at", 0.25):
            return one
        return replace(one, acts_at="release" if one.presses[-1] == "hold" else self.rng.choice(("press", "release")))

    def button(self, one: Button) -> Button:
        claims = {}
        for key, words in CLAIMS.items():
            decided_late = one.claims.first_fits or one.claims.reckons_late
            fits = key != "hold_from" or (len(self.device.buttons) > 1 and not decided_late)
            if self.is_drawn(key, 0.2 if fits else 0):
                claims[key] = self.rng.choice(words)
        own = [gesture for gesture in self.device.gestures if gesture.button == one.name and gesture.taps > 1]
        extra = one.extra_taps
        if own and not any(gesture.acts_early for gesture in own) and self.is_drawn("extra taps", 0.3):
            extra = self.rng.choice(("swallowed", "count as the largest"))
        elif any(gesture.acts_early for gesture in own):
            extra = "begin anew"
        one = replace(one, claims=replace(one.claims, **claims), extra_taps=extra)
        if self.is_drawn("reader", 0.2):
            one = replace(one, debounce=None, samples=None, lockout=None, lockout_ends="")
            kind = self.rng.choice(("debounce", "lockout", "samples"))
            if kind == "samples":
                one = replace(one, samples=Samples(self.rng.choice((1, 3)), Span(4 * MS, 6 * MS)))
            else:
                span = self.rng.choice((Span(5 * MS, 12 * MS), Span(9 * MS, 30 * MS)))
                one = replace(one, debounce=span) if kind == "debounce" else replace(one, lockout=span)
        if one.samples is not None:
            one = replace(one, claims=replace(one.claims, listens_again="looks"))
        return one

    def sleep(self, one: Sleep) -> Sleep:
        if self.is_drawn("steps", 0.25):
            one = replace(one, steps=self.rng.choice(ORDERS))
        if self.is_drawn("late edge", 0.2):
            one = replace(one, late_unseen=True)
        if self.is_drawn("slow steps", 0.3):
            one = replace(one, step=Span(0, 60 * MS))
        if self.is_drawn("slow to wake", 0.3):
            one = replace(one, ready=Span(10 * MS, 90 * MS))
        if self.is_drawn("ignores a held button", 0.2):
            one = replace(one, gives_up=Span(150 * MS, 400 * MS))
        if not self.has_chord and self.is_drawn("counts from waking", 0.25):
            one = replace(one, counts_from_wake=True)
        if self.device.ticks is None and self.is_drawn("pending taps", 0.25):
            one = replace(one, outlasts=True, begins_anew=self.rng.random() < 0.5, goes_on=False)
        return one

    def power(self) -> None:
        rng, device = self.rng, self.device
        if all(state.sleep is None or not state.sleep.goes_on for state in device.states):
            ticks = Ticks(Span(20 * MS, 21 * MS), rng.choice((None, Span(40 * MS, 42 * MS))), 2)
            begun = any(state.sleep is not None and state.sleep.begins_anew for state in device.states)
            if (
                begun
                and not any(gesture.between_presses for gesture in device.gestures)
                and self.is_drawn("ticks", 0.5)
            ):
                states = tuple(
                    replace(s, sleep=replace(s.sleep, begins_anew=False, goes_on=True))
                    if s.sleep is not None and s.sleep.begins_anew
                    else s
                    for s in device.states
                )
                device = replace(device, states=states, ticks=ticks)
        if any(button.lockout for button in device.buttons) and self.is_drawn("clock comes round", 0.3):
            device = by_moments(device)
        if device.memory is not None and self.is_drawn("deaf writes", 0.25):
            device = deaf(device)
        if device.supervisor is None and device.power_up is not None and self.is_drawn("supervisor", 0.15):
            device = supervised(device, rng.random() < 0.5)
        if device.power_up is not None and device.ram is None and self.is_drawn("RAM", 0.15):
            device = with_ram(device, ("state", device.variables[0].name), rng.random() < 0.5)
        if device.power_up is not None and self.is_drawn("a held button", 0.4):
            counts = not self.has_chord and rng.random() < 0.5
            power_up = replace(
                device.power_up,
                held_ignored=not counts and rng.random() < 0.5,
                counts_from_power=counts,
                takes=rng.choice((device.power_up.takes, Span(100 * MS, 600 * MS))),
            )
            device = replace(device, power_up=power_up)
        if device.power_up is not None and rng.random() < 0.3:
            state = rng.choice([s.name for s in device.states if not s.unpowered])
            device = replace(device, power_up=replace(device.power_up, if_blank=state))
        self.device = device
