"""The hazards, in the order in which they are asked.

Each module has `NAME`, `MEANS` (one sentence) and `ask(device)`, which gives the questions of that hazard or says why it
doesn't apply. Adding a hazard is one module, one line here, and two specs: one that shows it, one that is mended.
"""

from __future__ import annotations

from nudgeproof.hazards import (
    accidental_change,
    accidental_off,
    accidental_wake,
    lost_state,
    missed_gesture,
    no_way_off,
    torn_memory,
    unreachable_mode,
)

HAZARDS = (
    accidental_wake,
    lost_state,
    torn_memory,
    unreachable_mode,
    no_way_off,
    missed_gesture,
    accidental_off,
    accidental_change,
)
