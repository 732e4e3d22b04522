"""The voltage of a weak cell, as far as the firmware tells levels apart, and how the firmware reads it.

No volts are reckoned with: the voltage is below the lower level, above the upper one, or between them. It is read every so
often while the firmware listens; what was seen last is remembered until a reset, so that between the levels nothing is seen.
Only the reading that sees something new matters, and that comes at most one period after there was something to see.
"""

from __future__ import annotations

from nudgeproof.model.tables import Choice, Local, Part, Reads, Timer
from nudgeproof.parts.attention import Hearing
from nudgeproof.parts.events import EVENT, When, may_act, watched_by
from nudgeproof.parts.supply import POWERED, RESET
from nudgeproof.spec.outside import CELL_FINE, CELL_LOW, CellRules, Sag
from nudgeproof.units import FOREVER, show_mv

BELOW, BETWEEN, ABOVE = "below", "between", "above"
LEVELS = (BELOW, BETWEEN, ABOVE)
SAGS_TO = " sags the cell"
LEVEL_CHANGES = "the level of the cell changes"
MOVES = "goes up or down"
LEVEL_WAITS = "the level of the cell waits to be seen"


def level_of(source: str) -> str:
    """The published name under which a source says where it takes the voltage."""
    return f"{source}{SAGS_TO}"


def say_level(rules: CellRules, level: str) -> str:
    """A level in words."""
    low, fine = show_mv(rules.low_mv), show_mv(rules.fine_mv)
    return {
        BELOW: f"the cell sags below {low}",
        BETWEEN: f"the cell is between {low} and {fine}",
        ABOVE: f"the cell rises above {fine}",
    }[level]


def sag(what: Sag, rules: CellRules, when: When) -> Part:
    """The part for a weak cell, which begins above the upper level. Local state: (acted before, level).

    Publishes the level and says when it changes.
    """

    line = what.at.line

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        acted, _ = _split(local)
        return (Timer(MOVES, what.apart_us if acted else 0, FOREVER),) if may_act(when, reads) else ()

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        _, now = _split(local)
        return tuple(
            Choice(
                (True, level), (LEVEL_CHANGES,), says=f"{what.name}: {say_level(rules, level)}", line=line, actions=1
            )
            for level in LEVELS
            if level != now
        )

    return Part(
        name=what.name,
        role="disturbance",
        start=(False, ABOVE),
        publishes=(level_of(what.name),),
        shown=lambda local: (_split(local)[1],),
        reads=watched_by(when),
        armed=armed,
        expired=expired,
        sends=(LEVEL_CHANGES,),
    )


def gauge(rules: CellRules, sources: tuple[str, ...], hearing: Hearing, can_lose_power: bool) -> Part:
    """The part that reads the cell; of several `sources` the lowest level counts.

    Local state: (low was seen last, level). Sends the events `cell low` and `cell fine`; publishes whether one of them would
    be seen if the cell were read now.
    """
    levels = tuple(level_of(source) for source in sources)

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        return (Timer("reads the cell", 0, rules.every.hi),) if reads[hearing.value] and waits(local) else ()

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        low, level = _split(local)
        says = f"the firmware sees that the cell is {'fine again' if low else 'low'}"
        return (Choice((not low, level), (EVENT + (CELL_FINE if low else CELL_LOW),), says=says, line=rules.at.line),)

    def heard(local: Local, signal: str, reads: Reads) -> tuple[Choice, ...]:
        low, level = _split(local)
        if signal == RESET:
            return (Choice((False, level)),)
        return (Choice((low, LEVELS[min(LEVELS.index(str(reads[name])) for name in levels)])),)

    def waits(local: Local) -> bool:
        low, level = _split(local)
        return level == (ABOVE if low else BELOW)

    return Part(
        name="gauge",
        role="device",
        start=(False, ABOVE),
        publishes=(LEVEL_WAITS,),
        shown=lambda local: (waits(local),),
        reads=(hearing.value, *levels),
        armed=armed,
        expired=expired,
        takes={LEVEL_CHANGES: (), **({RESET: ()} if can_lose_power else {})},
        heard=heard,
        sends=(EVENT + CELL_LOW, EVENT + CELL_FINE),
    )


def any_cell_event(what: Sag, can_lose_power: bool) -> Part:
    """A stand-in for a weak cell and the gauge, wider than both: either event at any moment while there is power."""

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        return () if can_lose_power and not reads[POWERED] else (Timer("reads the cell", 0, FOREVER),)

    return Part(
        name=f"any level of {what.name}",
        role="disturbance",
        start=False,
        reads=(POWERED,) if can_lose_power else (),
        armed=armed,
        expired=lambda local, timer, reads: (Choice(local, (EVENT + CELL_LOW,)), Choice(local, (EVENT + CELL_FINE,))),
        sends=(EVENT + CELL_LOW, EVENT + CELL_FINE),
    )


def _split(local: Local) -> tuple[bool, str]:
    assert isinstance(local, tuple)
    acted, level = local
    return acted, level
