"""Taps that wait for more in sleep, whose pause goes on at waking with what was left of it: around a recogniser.

The clock that counts the pause stands still in sleep. What it has counted before is kept, in whole ticks: so it is one of
finitely many numbers, and what is left of a limit is known up to its tolerance. A tick that was begun when the processor
fell asleep is lost. Where another, slower clock counts in sleep, each of its ticks is added as so many of the others; the
first of them may come at once, since that clock runs all the time.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from nudgeproof.model.tables import Choice, Local, Part, Reads, Timer, Value, lasting
from nudgeproof.parts.pending_taps import is_pause, see
from nudgeproof.parts.sleep import ASLEEP, RUNS
from nudgeproof.spec.clock import count_ticks
from nudgeproof.spec.outside import Ticks
from nudgeproof.spec.types import Button, Device
from nudgeproof.units import Span

TICK = "a tick"
TICK_ASLEEP = "a tick asleep"
_PAUSE = "pause limit"


@dataclass(frozen=True, slots=True)
class Counted:
    """Local state in a pause while the processor is awake.

    `inner`: the recogniser's. `ticks`: counted since the pause began. `before`: so many of them before the processor last
    ran again, so the limits are by so much shorter.
    """

    inner: Local
    ticks: int = 0
    before: int = 0


@dataclass(frozen=True, slots=True)
class Kept:
    """Local state in a pause while the processor sleeps. `ran`: the clock that runs in sleep has counted since it began."""

    inner: Local
    ticks: int
    ran: bool = False


def counted_taps(recogniser: Part, device: Device, button: Button, ticks: Ticks) -> Part:
    """The recogniser of a button of a device in some of whose states the pause of taps goes on at waking.

    Local state: that of the recogniser; in a pause in such a state `Counted` or `Kept`, which doesn't count as pending.
    Takes also `runs`, at which it may send what was found to be over.
    """
    states = {state.name for state in device.states if state.sleep is not None and state.sleep.goes_on}
    limits = [gesture.between for gesture in device.gestures if gesture.button == button.name and gesture.between]
    most = max((count_ticks(ticks, limit) for limit in limits), default=0)

    def left(timer: Timer, before: int) -> Timer:
        """The limit of a pause of which so many ticks are over."""
        if not timer.name.startswith(_PAUSE):
            return timer
        low, high = (max(0, us) for us in _left(Span(timer.lo, timer.hi), before, ticks))
        return replace(timer, lo=low, hi=high)

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        if isinstance(local, Counted):
            tick = (lasting(TICK, ticks.awake),) if local.ticks < most else ()
            return (*(left(timer, local.before) for timer in recogniser.armed(local.inner, reads)), *tick)
        if not isinstance(local, Kept):
            return recogniser.armed(local, reads)
        if ticks.asleep is None or local.ticks >= most:
            return ()
        return (lasting(TICK_ASLEEP, ticks.asleep) if local.ran else Timer(TICK_ASLEEP, 0, ticks.asleep.hi),)

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        if isinstance(local, Kept):
            return (Choice(replace(local, ticks=min(local.ticks + ticks.worth, most), ran=True)),)
        if not isinstance(local, Counted):
            return recogniser.expired(local, timer, reads)
        if timer == TICK:
            return (Choice(replace(local, ticks=local.ticks + 1)),)
        return _count_on(local, recogniser.expired(local.inner, timer, reads))

    def wakes(local: Kept, reads: Reads) -> tuple[Choice, ...]:
        """The processor runs again: the limits that are over are seen, the others go on."""
        listens = RUNS in recogniser.takes
        begun = recogniser.heard(local.inner, RUNS, reads) if listens else (Choice(local.inner),)
        pauses = [timer for timer in recogniser.armed(local.inner, reads) if timer.name.startswith(_PAUSE)]
        over = tuple(t.name for t in pauses if _left(Span(t.lo, t.hi), local.ticks, ticks)[1] <= 0)
        return _count_on(Counted(local.inner, local.ticks, local.ticks), see(recogniser, begun, over, reads))

    def heard(local: Local, signal: str, reads: Reads) -> tuple[Choice, ...]:
        if signal == RUNS and isinstance(local, Kept):
            return wakes(local, reads)
        if isinstance(local, Kept):
            choices = recogniser.heard(local.inner, signal, reads)
            return tuple(replace(choice, to=local) if choice.to == local.inner else choice for choice in choices)
        inner = local.inner if isinstance(local, Counted) else local
        if signal == ASLEEP and isinstance(local, Counted):
            return (Choice(Kept(inner, local.ticks)),)
        if signal == RUNS and RUNS not in recogniser.takes:
            return (Choice(local),)
        choices = recogniser.heard(inner, signal, reads)
        if isinstance(local, Counted):
            return _count_on(local, choices)
        # A pause in such a state begins: its ticks are counted from here.
        return _count_on(Counted(inner), choices) if str(reads["state"]) in states else choices

    def shown(local: Local) -> tuple[Value, ...]:
        if isinstance(local, Kept):
            return (False,)
        return recogniser.shown(local.inner if isinstance(local, Counted) else local)

    return replace(
        recogniser,
        shown=shown,
        armed=armed,
        expired=expired,
        takes={**recogniser.takes, RUNS: recogniser.sends},
        heard=heard,
    )


def _left(limit: Span, before: int, ticks: Ticks) -> tuple[int, int]:
    """The least and the most of a limit that is left after so many ticks; not above nothing if it is over."""
    return limit.lo - before * int(ticks.awake.hi), int(limit.hi) - before * ticks.awake.lo


def _count_on(local: Counted, choices: tuple[Choice, ...]) -> tuple[Choice, ...]:
    """The same choices, with the count of `local` where they are still in a pause."""
    return tuple(
        replace(choice, to=replace(local, inner=choice.to)) if is_pause(choice.to) else choice for choice in choices
    )
