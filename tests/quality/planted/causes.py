"""Faults in the causes of resets."""

from __future__ import annotations

from tests.quality.planted.fault import CAUSES, RESETS, into, like_the_naive_one

_BOTH = like_the_naive_one("causes left of three kinds", "causes of three kinds", "causes left")
_causes = into("parts/causes", CAUSES, *_BOTH)

FAULTS = (
    _causes("a start clears what is to be left", "Choice(local if rules.causes_left else ())", "Choice(())"),
    _causes("a start clears nothing", "Choice(local if rules.causes_left else ())", "Choice(local)"),
    _causes("the newest cause goes first", "return (known[0] if known", "return (known[-1] if known"),
    _causes("a new cause hides the older ones", "if name == cause or name in _split(local)", "if name == cause"),
    _causes("the first power is no cause", "if (is_first or rules.causes_left) and", "if rules.causes_left and"),
    _causes("power that came once leaves no cause", "if (is_first or rules.causes_left) and", "if is_first and"),
    _causes("an earlier life left nothing", "is_unknown = unknown and rules.causes_left", "is_unknown = False"),
    _causes("an earlier life may leave what a start clears", "unknown and rules.causes_left", "unknown"),
    into("parts/chart", CAUSES)(
        "a start looks at no cause", "else device.power_up.state_after(cause)", "else device.power_up.if_blank"
    ),
    into("parts/resets", RESETS, CAUSES)(
        "a supervisor passes for the power chip", "(BY_SUPERVISOR, CUT), says", "(BY_CUT_OFF, CUT), says"
    ),
)
