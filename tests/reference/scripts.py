"""Random presses and losses of contact, biased towards the limits of a device."""

from __future__ import annotations

from random import Random

from nudgeproof.parts.script import Edge
from nudgeproof.spec.outside import Maker, Sag
from nudgeproof.spec.types import Device, Disturbance
from nudgeproof.units import Span

END_US = 9_000_000


def limits(device: Device, button: str) -> tuple[list[Span], list[Span]]:
    """The spans that decide over a press of this button, and over a pause: just under and over them is worth trying."""
    own = [gesture for gesture in device.gestures if gesture.button == button]
    debounce = device.button(button).debounce
    presses = [span for gesture in own for span in (gesture.press, gesture.held) if span is not None]
    pauses = [gesture.between for gesture in own if gesture.between is not None]
    for state in device.states:
        pauses += [timeout.after for timeout in state.timeouts]
        if state.sleep is not None:
            dozes = Span(state.sleep.doze.lo, int(state.sleep.doze.hi) + 4 * int(state.sleep.step.hi))
            pauses += [dozes, dozes]
    return [*presses, debounce], [*pauses, debounce]


def near(rng: Random, spans: list[Span], slack_us: int) -> int:
    """A time about as long as one of `spans`."""
    span = rng.choice(spans)
    return max(1, rng.randint(span.lo - slack_us, int(span.hi) + slack_us))


def random_script(device: Device, rng: Random) -> tuple[tuple[Edge, ...], tuple[str, ...]]:
    """Edges in order of time, and the surroundings that act too."""
    edges: list[Edge] = []
    for button in [b.name for b in device.buttons][: rng.choice((1, 2))]:
        presses, pauses = limits(device, button)
        own = [gesture for gesture in device.gestures if gesture.button == button]
        is_extra = device.button(button).extra_taps != "begin anew"
        slack = int(device.button(button).debounce.hi)
        at = rng.randint(1_000, 400_000)
        while at < END_US - 2_000_000:
            gesture = rng.choice(own or [g for g in device.gestures if g.button != button])
            for press, kind in enumerate(gesture.presses, start=1):
                span = gesture.press if kind == "tap" else gesture.held
                assert span is not None
                if rng.random() < 0.2:
                    lasts = near(rng, [*presses, span, span], slack)
                elif kind == "tap":
                    lasts = rng.randint(slack, span.lo // 2)
                else:
                    lasts = int(span.hi) + rng.randint(slack, 4 * slack)
                    if gesture.repeats is not None:
                        lasts += rng.randint(0, 3 * int(gesture.repeats.hi))
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
    if device.supply is not None:
        sources += rng.choice((["rattle"], ["drop"], ["rattle", "drop"]))
        at = rng.randint(100_000, 3_500_000)
        while at < END_US and rng.random() < 0.85:
            gone = near(rng, [device.supply.hold_up, Span(30_000, 120_000)], 3_000)
            edges += [Edge(at, "", False), Edge(at + gone, "", True)]
            at += gone + rng.randint(10_000, 3_000_000)
    return tuple(sorted(edges)), tuple(sources)
