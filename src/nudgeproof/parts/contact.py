"""The contact of one button: closed while any source holds it closed, and it chatters.

Times of a contact run from first edge to first edge: the moment a source closes it, the level changes at once; for at
most `bounce` afterwards the level may go to and fro; then it stays. A new edge by a source begins a new burst.
"""

from __future__ import annotations

from nudgeproof.model.tables import Choice, Local, Part, Reads, Timer, Value
from nudgeproof.spec.types import Button
from nudgeproof.units import FOREVER

SETTLES = "settles"
CHATTERS = "chatters"


def contact(
    button: Button,
    sources: tuple[str, ...],
    closed: bool = False,
    chatters_if: str = "",
    chatters: bool = True,
    calm: bool = False,
) -> Part:
    """The part for one contact; `sources` are the names of the parts that may hold it closed. `closed`: it begins so.

    Without `chatters`, or as long as the published value `chatters_if` (if one is named) is false, no burst begins. That
    changes nothing about what the level may do where somebody presses it any way at all: chatter is such a pressing too.
    `calm`: each burst is over at once, as it always may be.

    Local state: (wanted, level, in a burst). Takes `push B`, sends `edge B`. Publishes `level B` (True is closed) and
    `quiet B` (no burst).
    """
    edge = f"edge {button.name}"
    line = button.at.line
    holds = tuple(held_by(source, button.name) for source in sources)

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        _, _, burst = _split(local)
        if not burst:
            return ()
        if calm:
            return (Timer(SETTLES, 0, 0),)
        settles = Timer(SETTLES, 0, button.bounce_us)
        if button.edges_apart_us > button.bounce_us:
            return (settles,)
        return (settles, Timer(CHATTERS, button.edges_apart_us, FOREVER))

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        wanted, level, _ = _split(local)
        if timer == SETTLES:
            send = (edge,) if level != wanted else ()
            says = f"the contact settles {'closed' if wanted else 'open'}"
            return (Choice((wanted, wanted, False), send, says=says, line=line, chatter=len(send)),)
        says = f"chatter: the contact {'opens' if level else 'closes'} for a moment"
        return (Choice((wanted, not level, True), (edge,), says=says, line=line, chatter=1),)

    def heard(local: Local, signal: str, reads: Reads) -> tuple[Choice, ...]:
        wanted, level, _ = _split(local)
        closed = any(reads[name] for name in holds)
        if closed == wanted:
            return (Choice(local),)
        send = (edge,) if level != closed else ()
        bursts = chatters and button.bounce_us > 0 and (not chatters_if or bool(reads[chatters_if]))
        return (Choice((closed, closed, bursts), send, restart=(SETTLES, CHATTERS), line=line),)

    def shown(local: Local) -> tuple[Value, ...]:
        _, level, burst = _split(local)
        return (level, not burst)

    return Part(
        name=f"contact {button.name}",
        role="disturbance",
        start=(closed, closed, False),
        button=button.name,
        publishes=(f"level {button.name}", f"quiet {button.name}"),
        shown=shown,
        reads=(*holds, *((chatters_if,) if chatters_if else ())),
        armed=armed,
        expired=expired,
        takes={f"push {button.name}": (edge,)},
        heard=heard,
        sends=(edge,),
    )


def held_by(source: str, button: str) -> str:
    """The published name under which a source says that it holds a button closed."""
    return f"{source} holds {button}"


def _split(local: Local) -> tuple[bool, bool, bool]:
    assert isinstance(local, tuple)
    wanted, level, burst = local
    return wanted, level, burst
