"""Random presses and losses of contact, biased towards the limits of a device."""

from __future__ import annotations

from random import Random

from nudgeproof.parts.script import Edge
from nudgeproof.spec.outside import Maker, Sag
from nudgeproof.spec.types import Button, Device, Disturbance, Gesture, Outage
from nudgeproof.units import Span

END_US = 9_000_000


def limits(device: Device, button: str) -> tuple[list[Span], list[Span]]:
    """The spans that decide over a press of this button, and over a pause: just under and over them is worth trying."""
    own = [gesture for gesture in device.gestures if gesture.button == button]
    read = reads_within(device.button(button))
    presses = [span for gesture in own for span in (gesture.press, gesture.held) if span is not None]
    pauses = [gesture.between for gesture in own if gesture.between is not None]
    for state in device.states:
        pauses += [timeout.after for timeout in state.timeouts]
        if state.sleep is not None:
            dozes = Span(state.sleep.doze.lo, int(state.sleep.doze.hi) + 4 * int(state.sleep.step.hi))
            pauses += [dozes, dozes]
    return [*presses, read], [*pauses, read]


def reads_within(button: Button) -> Span:
    """How long a steady level may take to be accepted, or how long it can't be."""
    if button.samples is not None:
        return Span(
            (button.samples.count - 1) * button.samples.every.lo, button.samples.count * int(button.samples.every.hi)
        )
    found = button.debounce or button.lockout
    assert found is not None
    return found


def near(rng: Random, spans: list[Span], slack_us: int) -> int:
    """A time about as long as one of `spans`."""
    span = rng.choice(spans)
    return max(1, rng.randint(span.lo - slack_us, int(span.hi) + slack_us))


def press_together(device: Device, chords: list[Gesture], rng: Random) -> list[Edge]:
    """Chords, sometimes clumsy, and taps of single buttons between them."""
    edges: list[Edge] = []
    at = rng.randint(100_000, 400_000)
    while at < END_US - 2_000_000:
        gesture = rng.choice(chords)
        assert gesture.chord is not None
        slack = max(int(reads_within(device.button(name)).hi) for name in gesture.buttons)
        first, second = rng.sample(gesture.buttons, 2)
        lasts = (
            int(gesture.held.hi) + rng.randint(0, 2 * slack)
            if gesture.held is not None
            else rng.randint(slack, 9 * slack)
        )
        if rng.random() < 0.3:
            lasts = rng.randint(slack, 300_000)
        if rng.random() < 0.25:
            edges += [Edge(at, first, True), Edge(at + lasts, first, False)]
        else:
            apart = near(rng, [gesture.chord.within], slack) if rng.random() < 0.4 else rng.randint(1, slack)
            later = rng.randint(1, 3 * slack)
            ends = [at + apart + lasts, at + apart + lasts + later]
            rng.shuffle(ends)
            edges += [Edge(at, first, True), Edge(at + apart, second, True)]
            edges += [Edge(ends[0], first, False), Edge(ends[1], second, False)]
            if rng.random() < 0.3:
                # The one that was let go is pressed again while the other one is still down.
                again = first if ends[0] < ends[1] else second
                edges += [Edge(min(ends) + 2 * slack, again, True), Edge(min(ends) + 5 * slack, again, False)]
                other = second if again == first else first
                edges = [
                    e if e != Edge(max(ends), other, False) else Edge(max(ends) + 9 * slack, other, False)
                    for e in edges
                ]
                lasts += 9 * slack
            at += apart + later
        third = [b.name for b in device.buttons if b.name not in gesture.buttons]
        if third and rng.random() < 0.5:
            begins = at - rng.randint(0, 2 * slack)
            edges += [Edge(begins, third[0], True), Edge(begins + lasts, third[0], False)]
        at += lasts + (
            rng.randint(20_000, 120_000) if rng.random() < 0.5 else near(rng, limits(device, first)[1], slack)
        )
    return edges


def random_script(device: Device, rng: Random) -> tuple[tuple[Edge, ...], tuple[str, ...]]:
    """Edges in order of time, and the surroundings that act too."""
    edges: list[Edge] = []
    chords = [gesture for gesture in device.gestures if gesture.chord is not None]
    if chords and rng.random() < 0.8:
        edges = press_together(device, chords, rng)
    for button in [b.name for b in device.buttons][: rng.choice((1, 2))] if not edges else ():
        presses, pauses = limits(device, button)
        own = [gesture for gesture in device.gestures if gesture.button == button]
        is_extra = device.button(button).extra_taps != "begin anew"
        slack = int(reads_within(device.button(button)).hi)
        at = rng.randint(1_000, 400_000)
        while at < END_US - 2_000_000:
            gesture = rng.choice(own or [g for g in device.gestures if g.button != button and g.chord is None])
            for press, kind in enumerate(gesture.presses, start=1):
                span = gesture.press if kind == "tap" else gesture.held
                assert span is not None
                if rng.random() < 0.2:
                    lasts = near(rng, [*presses, span, span], slack)
                elif kind == "tap":
                    lasts = rng.randint(slack, max(slack, span.lo // 2))
                else:
                    lasts = int(span.hi) + rng.randint(slack, 4 * slack)
                    if gesture.repeats is not None:
                        lasts += rng.randint(0, 3 * int(gesture.repeats.hi))
                if device.button(button).claims.reckons_late and device.elapsed is not None and rng.random() < 0.4:
                    lasts += rng.choice((1, 1, 2)) * int(device.elapsed.hi)
                edges += [Edge(at, button, True), Edge(at + lasts, button, False)]
                at += lasts
                if press < len(gesture.presses) and gesture.between is not None:
                    at += near(rng, [gesture.between], slack) if rng.random() < 0.2 else rng.randint(45_000, 120_000)
            while is_extra and rng.random() < 0.5:
                at += rng.randint(45_000, 250_000)
                lasts = near(rng, presses, slack) if rng.random() < 0.2 else rng.randint(slack, 90_000)
                edges += [Edge(at, button, True), Edge(at + lasts, button, False)]
                at += lasts
            at += near(rng, pauses, slack) if rng.random() < 0.75 else rng.randint(50_000, 1_500_000)
    sources = [w.name for w in device.surroundings if isinstance(w, Disturbance) and rng.random() < 0.5]
    sources += [w.name for w in device.surroundings if isinstance(w, Maker | Sag) and rng.random() < 0.8]
    if device.supply is not None and can_be_interrupted(device):
        outages = [what.name for what in device.surroundings if isinstance(what, Outage)]
        sources += rng.choice((outages[:1], outages[-1:], outages))
        at = rng.randint(100_000, 3_500_000)
        while at < END_US and rng.random() < 0.85:
            gone = near(rng, [device.supply.hold_up, Span(30_000, 120_000)], 3_000)
            edges += [Edge(at, "", False), Edge(at + gone, "", True)]
            at += gone + rng.randint(10_000, 3_000_000)
    return tuple(sorted(edges)), tuple(sources)


def can_be_interrupted(device: Device) -> bool:
    """Whether it is said how it starts again, and the reference knows without a specimen's electricity when it must.

    For that see `tests/agreement/test_reference_of_supply.py`.
    """
    supply, electricity = device.supply, device.electricity
    if device.power_up is None or supply is None or supply.is_computed:
        return False
    return electricity is None or electricity.reset is None or electricity.reset.raised is None
