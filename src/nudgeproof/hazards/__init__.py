"""The hazards, in the order in which they are asked.

Each module has `NAME`, `MEANS` (one sentence) and `ask(device)`, which gives the questions of that hazard or says why it
doesn't apply; and for `nudgeproof explain`: `SHOWN` (a timeline in one or two lines), `ASKED_IF` (what the spec must
state), `CURE`, `TEMPTING` (the cure that comes to mind and is wrong, and why) and `EXACT` (how exact the answer is). Adding
a hazard is one module, one line here, and two specs: one that shows it, one that is mended.
"""

from __future__ import annotations

from nudgeproof.hazards import (
    accidental_change,
    accidental_off,
    accidental_wake,
    ambiguous_gesture,
    boot_loop,
    chatter_off,
    drained_by_presses,
    held_at_power_up,
    indistinct_outage,
    late_answer,
    lost_state,
    misread_gesture,
    missed_gesture,
    never_settles,
    no_way_off,
    output_in_reset,
    over_limit,
    restarted_timer,
    short_hold_up,
    stale_memory,
    stuck_button,
    torn_memory,
    undefined_voltage,
    unlit_output,
    unreachable_mode,
    worn_memory,
)

HAZARDS = (
    accidental_wake,
    held_at_power_up,
    lost_state,
    torn_memory,
    stale_memory,
    restarted_timer,
    output_in_reset,
    unreachable_mode,
    no_way_off,
    ambiguous_gesture,
    missed_gesture,
    misread_gesture,
    late_answer,
    accidental_off,
    accidental_change,
    stuck_button,
    never_settles,
    boot_loop,
    chatter_off,
    undefined_voltage,
    short_hold_up,
    indistinct_outage,
    unlit_output,
    over_limit,
    drained_by_presses,
    worn_memory,
)
