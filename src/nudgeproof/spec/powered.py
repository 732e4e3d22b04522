"""What gives a device its power and what takes its firmware away although there is power.

Like the other types of a spec (see `types`) these hold what was written, with defaults filled in; times are microseconds.
"""

from __future__ import annotations

from dataclasses import dataclass

from nudgeproof.diagnostics import Place
from nudgeproof.units import Span


@dataclass(frozen=True, slots=True)
class Latch:
    """A switch in the supply that one of the buttons `closed_by` closes while it is down, and that the firmware then holds.

    `lets_go`: from entering a state without power until it is open.
    """

    closed_by: tuple[str, ...]
    lets_go: Span
    at: Place


@dataclass(frozen=True, slots=True)
class StaysOff:
    """What a power chip does that leaves the device without power.

    `on_by`: the buttons of which one brings the power back, closed anew for a time in `closed_for`. `lets_go`: from
    entering a state without power until the chip has switched off.
    """

    on_by: tuple[str, ...]
    closed_for: Span
    lets_go: Span


@dataclass(frozen=True, slots=True)
class CutOff:
    """The power chip resets everything, whatever the firmware does, once `button` was closed for a time in `after`.

    `off`: how it then stays off, and comes on again; None: it starts at once.
    """

    button: str
    after: Span
    at: Place
    off: StaysOff | None = None


@dataclass(frozen=True, slots=True)
class Supervisor:
    """A watchdog: it resets everything once the firmware hasn't fed it for a time in `after`.

    `in_sleep`: whether it counts on while the processor sleeps, when nothing feeds it.
    """

    after: Span
    in_sleep: bool
    at: Place


@dataclass(frozen=True, slots=True)
class Ram:
    """Values that stay in RAM through a short interruption. `keeps`: which; `lasts`: for how long after the power is gone.

    `is_checked`: a checksum tells values that have decayed; else a marker is all that tells them, and it may outlast them.
    `blips`: an interruption up to this long is to be told from `new_cells`, one that takes at least that; None: it
    needn't be.
    """

    keeps: tuple[str, ...]
    lasts: Span
    is_checked: bool
    at: Place
    blips: int | None = None
    new_cells: int | None = None
