"""Any gesture at any moment: stands in for contacts, readers, recognisers, chords and the processor, wider than all of them.

Where a question is about the chart and the memory only, the buttons' side can be replaced by these parts, one for each
button and one for each chord: every gesture in use in the present state may come at any time. Two of one button are at
least one shortest time from an accepted press to an accepted release, one shortest hold, or one shortest time of repeating
apart: a new gesture begins with a press accepted after the last one was seen or the state entered, and is seen when its
release is accepted, or when a hold has lasted, or later; else it is the last one that repeats. A gesture that acts at its
press, a press that counts for more than one (a chord's too, if it gives releases back), one that counts from waking or power
on, and gestures of a button that is read in an interrupt, which may wait and be done all at once, keep none of these
distances. A chord may be seen at the very press that completes it, so nothing keeps two of them apart but a hold. Readings
may be anything at any time (a button that a clock's coming round left deaf is seen less, and its reading stays), and where
waking by itself does something the processor may wake at any time. It only adds runs: what can't happen with it can't
happen at all. A story found with it proves nothing and is never shown.
"""

from __future__ import annotations

from dataclasses import replace

from nudgeproof.model.tables import Choice, Local, Part, Reads, Timer
from nudgeproof.parts.sleep import WOKE
from nudgeproof.parts.supply import POWERED
from nudgeproof.spec.types import Button, Device, Gesture
from nudgeproof.units import FOREVER


def can_stand_in(device: Device) -> bool:
    """Whether contacts may be left out: not where a key feeds the device, nor where something resets it by what it sees."""
    return not device.is_latched and not device.resets


def any_gesture(device: Device, button: Button, can_lose_power: bool) -> Part:
    """The stand-in for one button. Local state: whether it reads closed. Publishes `reading B`."""
    own = tuple(gesture for gesture in device.gestures if gesture.chord is None and gesture.button == button.name)
    spans = [span for gesture in own for span in (gesture.held, gesture.repeats) if span is not None]
    early = any(state.sleep is not None and state.sleep.counts_from_wake for state in device.states)
    early = early or button.in_interrupt or (device.power_up is not None and device.power_up.counts_from_power)
    holds = [span.lo for span in spans]
    read = any(timeout.with_open == button.name for state in device.states for timeout in state.timeouts)
    chords = [gesture.chord for gesture in device.gestures if gesture.chord is not None]
    early = early or any(chord.gives_back and button.name in chord.buttons for chord in chords)
    at_once = early or button.claims.add_gestures or any(gesture.acts_early == "press" for gesture in own)
    apart_us = 0 if at_once else min([shortest_reading_us(button), *holds])
    part = _stand_in(device, button.name, own, apart_us, read, can_lose_power)
    return replace(part, button=button.name, publishes=(f"reading {button.name}",), shown=lambda local: (local,))


def any_chord(device: Device, gesture: Gesture, can_lose_power: bool) -> Part:
    """The stand-in for one chord. Local state: nothing that matters."""
    apart = gesture.held.lo if gesture.held is not None else 0
    return _stand_in(device, gesture.name, (gesture,), apart, False, can_lose_power)


def any_waking(device: Device, can_lose_power: bool) -> Part:
    """The stand-in for the processor: in a state in which waking does something, it may wake at any time."""

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        if reads["state"] not in device.wakes_into or (can_lose_power and not reads[POWERED]):
            return ()
        return (Timer("wakes", 0, FOREVER),)

    return Part(
        name="any waking",
        role="person",
        start=False,
        reads=("state", *((POWERED,) if can_lose_power else ())),
        armed=armed,
        expired=lambda local, timer, reads: (Choice(local, (WOKE,)),),
        sends=(WOKE,),
    )


def shortest_reading_us(button: Button) -> int:
    """The shortest time from one accepted edge of `button` to the next."""
    if button.lockout is not None:
        return button.lockout.lo
    if button.samples is not None:
        # The first sample that differs may come right after the reading changed.
        return (button.samples.count - 1) * button.samples.every.lo
    assert button.debounce is not None
    return button.debounce.lo


def _stand_in(
    device: Device, name: str, own: tuple[Gesture, ...], apart_us: int, read: bool, can_lose_power: bool
) -> Part:
    names = {gesture.name for gesture in own}
    in_use = {state.name: tuple(name for name in state.gestures if name in names) for state in device.states}

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        if can_lose_power and not reads[POWERED]:
            return ()
        timers: tuple[Timer, ...] = (Timer("reads otherwise", 0, FOREVER),) if read else ()
        return (*timers, Timer("gesture", apart_us, FOREVER)) if in_use[str(reads["state"])] else timers

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        if timer == "gesture":
            return tuple(Choice(local, (f"gesture {name}",)) for name in in_use[str(reads["state"])])
        return (Choice(not local),)

    return Part(
        name=f"any gesture of {name}",
        role="person",
        start=False,
        reads=("state", *((POWERED,) if can_lose_power else ())),
        armed=armed,
        expired=expired,
        sends=tuple(f"gesture {name}" for name in names),
    )
