"""The causes of resets, as the chip notes them, and which of them a start believes.

Each kind of reset sets its own mark, and only the firmware clears them. A start that reads the marks and clears them knows
the cause of the last reset, or of two that came one after the other before it. One that leaves them set finds old ones as
well, and takes the first in its order for the cause.
"""

from __future__ import annotations

from itertools import chain, combinations

from nudgeproof.model.tables import Choice, Local, Part, Reads, Value
from nudgeproof.parts.chart import CAUSE, STARTED
from nudgeproof.parts.resets import BY_CUT_OFF, BY_SUPERVISOR
from nudgeproof.parts.supply import DRAINED, RESTORE
from nudgeproof.spec.types import CELL_CAUSE, CUT_OFF_CAUSE, SUPERVISOR_CAUSE, PowerUp

_SET_BY = {DRAINED: CELL_CAUSE, BY_CUT_OFF: CUT_OFF_CAUSE, BY_SUPERVISOR: SUPERVISOR_CAUSE}
UNKNOWN = ("whatever was left",)


def causes(rules: PowerUp, is_first: bool, unknown: bool = False) -> Part:
    """The part for the marks. `is_first`: the device had no power so far; `unknown`: an earlier life may have left marks.

    Local state: the causes that are set, of those that the start looks at, in its order; or unknown. Takes the supply's
    `drained` and `restore`, what says that a power chip or a supervisor resets the device, and the chart's `started`, at
    which the marks may be cleared. Publishes the cause that a start reads, "" if none is set.
    """
    order = tuple(name for name, _ in rules.starts_in)
    first = (CELL_CAUSE,) if (is_first or rules.causes_left) and CELL_CAUSE in order else ()
    is_unknown = unknown and rules.causes_left

    def with_one(local: Local, cause: str) -> tuple[str, ...]:
        return tuple(name for name in order if name == cause or name in _split(local))

    def heard(local: Local, signal: str, reads: Reads) -> tuple[Choice, ...]:
        if signal == STARTED:
            return (Choice(local if rules.causes_left else ()),)
        if signal == RESTORE:
            return _anything(order) if local == UNKNOWN else (Choice(local),)
        return (Choice(with_one(local, _SET_BY[signal])),)

    def shown(local: Local) -> tuple[Value, ...]:
        known = () if local == UNKNOWN else _split(local)
        return (known[0] if known else "",)

    return Part(
        name="causes of resets",
        role="device",
        start=UNKNOWN if is_unknown else first,
        publishes=(CAUSE,),
        shown=shown,
        takes={**dict.fromkeys(_SET_BY, ()), STARTED: (), **({RESTORE: ()} if is_unknown else {})},
        heard=heard,
    )


def _anything(order: tuple[str, ...]) -> tuple[Choice, ...]:
    """Power came, so that is among the causes; and any others."""
    others = [name for name in order if name != CELL_CAUSE]
    left = chain.from_iterable(combinations(others, count) for count in range(len(others) + 1))
    return tuple(Choice(tuple(name for name in order if name == CELL_CAUSE or name in some)) for some in left)


def _split(local: Local) -> tuple[str, ...]:
    assert isinstance(local, tuple)
    return local
