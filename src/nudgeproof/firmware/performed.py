"""A firmware as a function: what is done to it, how its run begins, and what came of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

from nudgeproof.firmware.acts import Acts
from nudgeproof.firmware.recording import Recording

Spans = tuple[tuple[int, int], ...]
"""From when to when something was so, in the order of time."""


@dataclass(frozen=True, slots=True)
class Setup:
    """How a run begins: what the running clock shows at each start, and what memory holds (b"": it is blank).

    `clock_us`: -1 for what it shows without a word.
    """

    clock_us: int = -1
    memory: bytes = b""


PLAIN = Setup()


@dataclass(frozen=True, slots=True)
class Performed:
    """What a firmware did: its recording, as text too, and how it misbehaved at the end of that, or "".

    `sleeps`: when its processor slept so deeply that its clock stood still, `writes`: when it wrote to memory, where that is
    told; `memory`: what was in it at the end.
    """

    recording: Recording
    text: str
    finding: str = ""
    detail: str = ""
    sleeps: Spans = ()
    writes: Spans = ()
    memory: bytes = b""


class Perform(Protocol):
    """The firmware: acts, when the recording ends, and how it begins."""

    def __call__(self, acts: Acts, end_us: int, setup: Setup = PLAIN) -> Performed:
        """What comes of it."""


@dataclass(frozen=True, slots=True)
class Chip:
    """Of the controller: how many bytes memory has (0: none), how long one takes to write, how long power lasts without a
    cell, how wide its clock is (0: nobody can set it), and how long it takes to start."""

    bytes: int = 0
    takes_us: int = 0
    hold_up_us: int = 0
    clock_bits: int = 32
    starts_us: int = 0


Planned = tuple[str, Acts, int, Setup]
"""A stimulus: found by what, the acts, when the recording ends, and how it begins."""
