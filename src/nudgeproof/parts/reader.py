"""The reader of one button: turns a chattering level into accepted presses and releases.

Kind `debounce`: a new level is accepted once it has been steady for a time; every edge back starts over. So nothing shorter
than the minimum is ever accepted, and what lies between minimum and maximum may be. Kind `lockout`: an edge is accepted at
once, then nothing is read for a time, and at its end a level that differs is accepted at once. Kind `samples`: a new level
is accepted after some samples in a row have found it. While the firmware doesn't listen nothing is read;
when it listens again the level found then is read like an edge, unless it waits for one. When it ceases to, whatever was
being waited for is dropped.

The phase of the samples is remembered only while it matters: as long as the level differs from the reading, or a sample
found that it did. Each time this begins anew the first sample may come at once, or a period later. That only adds runs;
`rhythm` tells a story that one phase can give from one that none can.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from nudgeproof.model.tables import Choice, Local, Part, Reads, Timer, Value, lasting
from nudgeproof.parts.attention import WHILE_RUNNING, Hearing
from nudgeproof.parts.chart import STARTED
from nudgeproof.parts.supply import RESET
from nudgeproof.spec.types import Button, Samples
from nudgeproof.units import Span

ACCEPTS = "accepts"
HEARS_AGAIN = "hears again"
FIRST_SAMPLE = "first sample"
SAMPLE = "sample"


@dataclass(frozen=True, slots=True)
class _Kind:
    """How one kind of reader works. Local state: (reading, what is going on beside it).

    `idle`: nothing is going on. `answers`: what `edge` and `ready` may bring about at once.
    """

    idle: bool | int
    armed: Callable[[Local, Reads], tuple[Timer, ...]]
    expired: Callable[[Local, str, Reads], tuple[Choice, ...]]
    looks: Callable[[Local, Reads], tuple[Choice, ...]]
    answers: tuple[str, ...] = ()


def reader(button: Button, held_ignored: bool | None = None, hearing: Hearing = WHILE_RUNNING) -> Part:
    """The part for one reader.

    Local state: (reading, and: a change is pending; or deaf; or how many samples in a row differ). Takes `edge B`, the
    signals when the firmware begins and ends to listen, and, where power can be lost, `reset` and `started`; sends `down B`
    and `up B`. Publishes `reading B` (True is closed). `held_ignored`: at start-up a closed contact is read at once and
    without a press, so that only the next one counts; None: power can't be lost. `hearing`: how it knows whether the
    firmware listens.
    """
    level_name, edge = f"level {button.name}", f"edge {button.name}"
    if button.lockout is not None:
        kind = _lockout(button, button.lockout)
    elif button.samples is not None:
        kind = _samples(button, button.samples, hearing)
    else:
        assert button.debounce is not None
        kind = _debounce(button, button.debounce)

    waits = button.claims.listens_again == "waits for an edge"

    def heard(local: Local, signal: str, reads: Reads) -> tuple[Choice, ...]:
        reading, _ = _split(local)
        if signal == RESET:
            return (Choice((False, kind.idle)),)
        if signal == STARTED:
            return (Choice((bool(held_ignored and reads[level_name]), kind.idle)),)
        if signal == hearing.ends:
            return (Choice((reading, kind.idle)),)
        if (signal == edge and not reads[hearing.value]) or (signal == hearing.begins and waits):
            return (Choice(local),)
        return kind.looks(local, reads)

    def shown(local: Local) -> tuple[Value, ...]:
        return (_split(local)[0],)

    return Part(
        name=f"reader {button.name}",
        role="device",
        start=(False, kind.idle),
        button=button.name,
        publishes=(f"reading {button.name}",),
        shown=shown,
        reads=(level_name, hearing.value),
        armed=kind.armed,
        expired=kind.expired,
        takes={
            edge: kind.answers,
            hearing.begins: kind.answers,
            hearing.ends: (),
            **({RESET: (), STARTED: ()} if held_ignored is not None else {}),
        },
        heard=heard,
        sends=_down_and_up(button),
    )


def _debounce(button: Button, steady: Span) -> _Kind:
    level_name = f"level {button.name}"

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        _, pending = _split(local)
        return (lasting(ACCEPTS, steady),) if pending else ()

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        return (_accept(button, not _split(local)[0], False),)

    def looks(local: Local, reads: Reads) -> tuple[Choice, ...]:
        reading, _ = _split(local)
        return (Choice((reading, reads[level_name] != reading), restart=(ACCEPTS,), line=button.at.line),)

    return _Kind(False, armed, expired, looks)


def _lockout(button: Button, deaf_for: Span) -> _Kind:
    level_name = f"level {button.name}"

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        _, deaf = _split(local)
        return (lasting(HEARS_AGAIN, deaf_for),) if deaf else ()

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        reading, _ = _split(local)
        return looks((reading, False), reads)

    def looks(local: Local, reads: Reads) -> tuple[Choice, ...]:
        reading, deaf = _split(local)
        if deaf or reads[level_name] == reading:
            return (Choice(local),)
        return (_accept(button, not reading, True),)

    return _Kind(False, armed, expired, looks, _down_and_up(button))


def _samples(button: Button, rule: Samples, hearing: Hearing) -> _Kind:
    level_name = f"level {button.name}"

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        reading, count = _split(local)
        if not reads[hearing.value] or (not count and reads[level_name] == reading):
            return ()
        every = rule.every
        return (Timer(SAMPLE, every.lo, every.hi) if count else Timer(FIRST_SAMPLE, 0, every.hi),)

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        reading, count = _split(local)
        if reads[level_name] == reading:
            says = f"a sample finds {button.name} {'closed' if reading else 'open'} again"
            return (Choice((reading, 0), says=says, line=button.at.line),)
        if count + 1 == rule.count:
            return (_accept(button, not reading, 0),)
        says = (
            "" if count else f"the first of {rule.count} samples finds {button.name} {'open' if reading else 'closed'}"
        )
        return (Choice((reading, count + 1), says=says, line=button.at.line),)

    return _Kind(0, armed, expired, lambda local, reads: (Choice(local),))


def _accept(button: Button, closed: bool, then: bool | int) -> Choice:
    down, up = _down_and_up(button)
    says = f"the firmware takes {button.name} as {'pressed' if closed else 'released'}"
    return Choice((closed, then), (down if closed else up,), says=says, line=button.at.line)


def _down_and_up(button: Button) -> tuple[str, str]:
    return f"down {button.name}", f"up {button.name}"


def _split(local: Local) -> tuple[bool, int]:
    assert isinstance(local, tuple)
    reading, beside = local
    return reading, beside
