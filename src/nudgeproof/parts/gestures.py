"""Any gesture at any moment: a stand-in for contacts, readers, recognisers and the processor, wider than all of them.

Where a question is about the chart and the memory only, the buttons' side can be replaced by this one part: every
gesture in use in the present state may come at any time, two of them at least one shortest debounce, one shortest hold
or one shortest time of repeating apart: a new gesture begins with a press accepted after the last one was seen or the
state entered, and is seen when its release is accepted, one debounce later at least, or when a hold has lasted, or
later; else it is the last one that repeats. Readings may be anything at any time. It only adds runs: what can't happen
with it can't happen at all. A story found with it proves nothing and is never shown.
"""

from __future__ import annotations

from nudgeproof.model.tables import Choice, Local, Part, Reads, Timer, Value
from nudgeproof.parts.supply import POWERED
from nudgeproof.spec.types import Button, Device
from nudgeproof.units import FOREVER


def any_gesture(device: Device, button: Button, can_lose_power: bool) -> Part:
    """The stand-in for one button. Local state: whether it reads closed. Publishes `reading B`."""
    own = {gesture.name for gesture in device.gestures if gesture.button == button.name}
    in_use = {s.name: tuple(t.gesture for t in s.transitions if t.gesture in own) for s in device.states}
    spans = [span for gesture in device.gestures if gesture.name in own for span in (gesture.held, gesture.repeats)]
    apart = min([button.debounce.lo, *(span.lo for span in spans if span is not None)])
    read = any(timeout.with_open == button.name for state in device.states for timeout in state.timeouts)

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        if can_lose_power and not reads[POWERED]:
            return ()
        timers: tuple[Timer, ...] = (Timer("reads otherwise", 0, FOREVER),) if read else ()
        return (*timers, Timer("gesture", apart, FOREVER)) if in_use[str(reads["state"])] else timers

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        if timer == "gesture":
            return tuple(Choice(local, (f"gesture {name}",)) for name in in_use[str(reads["state"])])
        return (Choice(not local),)

    def shown(local: Local) -> tuple[Value, ...]:
        return (local,)

    return Part(
        name=f"any gesture of {button.name}",
        role="person",
        start=False,
        button=button.name,
        publishes=(f"reading {button.name}",),
        shown=shown,
        reads=("state", *((POWERED,) if can_lose_power else ())),
        armed=armed,
        expired=expired,
        sends=tuple(f"gesture {name}" for name in own),
    )
