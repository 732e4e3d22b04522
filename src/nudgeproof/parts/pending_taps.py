"""Taps that wait for more while the processor sleeps: around a recogniser.

In most firmware what is pending keeps the processor awake. Here it doesn't: a pause goes on in sleep, and what its limits
have come to is seen when the processor runs again, since nobody looks before. Two things may be wrong with that. A clock
that stands still in sleep begins the limits anew at waking, so that two taps of different days make a double one. And
elapsed time in a type that is too small comes round while nobody looks, so that a long pause passes for a short one.
(Where the pause goes on at waking with what was left of it: `counted_taps`.)
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from nudgeproof.model.tables import Choice, Local, Part, Reads, Timer, Value, lasting
from nudgeproof.parts.sleep import ASLEEP, RUNS
from nudgeproof.spec.types import Device

COMES_ROUND = "elapsed time comes round"


@dataclass(frozen=True, slots=True)
class Waits:
    """Local state while the processor sleeps and taps wait.

    `inner`: the recogniser's. `stands`: the clock stands still. `over`: limits that are over.
    """

    inner: Local
    stands: bool
    over: tuple[str, ...] = ()

    @property
    def is_pending(self) -> bool:
        """Whether it is a matter of time that they are over; where the clock stands still they may wait for days."""
        return not self.over and not self.stands


def pending_taps(recogniser: Part, device: Device) -> Part:
    """The recogniser of a button of a device in some of whose states pending taps outlast sleep.

    Local state: that of the recogniser, or `Waits`; then a pattern counts as pending until a limit is over. Takes also
    `runs`, at which it may send what it has been waiting with.
    """
    asleep = {state.name: state.sleep for state in device.states if state.sleep is not None}
    kinds = {name: kind for name, kind in asleep.items() if kind.outlasts and not kind.goes_on}

    def comes_round(inner: Local, reads: Reads) -> tuple[Timer, ...]:
        """The time after which elapsed time is nothing again, counted from when the pause began."""
        kind = kinds.get(str(reads["state"]))
        if device.elapsed is None or kind is None or kind.begins_anew or not is_pause(inner):
            return ()
        return (lasting(COMES_ROUND, device.elapsed),)

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        if not isinstance(local, Waits):
            return (*recogniser.armed(local, reads), *comes_round(local, reads))
        if local.stands:
            return ()
        limits = (timer for timer in recogniser.armed(local.inner, reads) if timer.name not in local.over)
        return (*limits, *comes_round(local.inner, reads))

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        if timer == COMES_ROUND:
            # Awake, each limit of a pause is over before that: they are shorter.
            says = "to the firmware's clock the pause has only begun" if isinstance(local, Waits) and local.over else ""
            return (Choice(replace(local, over=()) if isinstance(local, Waits) else local, says=says),)
        if isinstance(local, Waits):
            return (Choice(replace(local, over=(*local.over, timer))),)
        return recogniser.expired(local, timer, reads)

    def heard(local: Local, signal: str, reads: Reads) -> tuple[Choice, ...]:
        if signal == RUNS:
            if isinstance(local, Waits):
                return see(recogniser, (Choice(local.inner),), local.over, reads)
            return (Choice(local),)
        if isinstance(local, Waits):
            # What leaves the pause as it is, such as an edge of its contact, leaves it waiting.
            return tuple(
                replace(choice, to=replace(local, inner=choice.to)) if is_pause(choice.to) else choice
                for choice in recogniser.heard(local.inner, signal, reads)
            )
        if signal == ASLEEP and str(reads["state"]) in kinds and is_pause(local):
            return (Choice(Waits(local, kinds[str(reads["state"])].begins_anew)),)
        return recogniser.heard(local, signal, reads)

    def shown(local: Local) -> tuple[Value, ...]:
        return (local.is_pending,) if isinstance(local, Waits) else recogniser.shown(local)

    return replace(
        recogniser,
        shown=shown,
        armed=armed,
        expired=expired,
        takes={**recogniser.takes, RUNS: recogniser.sends},
        heard=heard,
    )


def is_pause(inner: Local) -> bool:
    """Whether a recogniser waits for the next press."""
    return isinstance(inner, tuple) and inner[0] == "gap"


def see(recogniser: Part, choices: tuple[Choice, ...], over: tuple[str, ...], reads: Reads) -> tuple[Choice, ...]:
    """The processor runs again, and sees that these limits are over."""
    for timer in over:
        seen: list[Choice] = []
        for choice in choices:
            if not is_pause(choice.to):
                seen.append(choice)
                continue
            seen += [
                replace(then, send=choice.send + then.send) for then in recogniser.expired(choice.to, timer, reads)
            ]
        choices = tuple(seen)
    return choices
