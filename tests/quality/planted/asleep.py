"""Faults in how a device goes to sleep in its own order, in what waking and starting do, and in clocks that come round."""

from __future__ import annotations

from tests.quality.planted.fault import (
    ASLEEP,
    COMES_ROUND,
    COUNTED,
    FROM_POWER,
    PENDING,
    STAND_INS,
    into,
    like_the_naive_one,
)

_sleep = into("parts/sleep", ASLEEP, *like_the_naive_one("old flags", "never armed anew"))
_early = into("parts/from_wake", ASLEEP, *like_the_naive_one("counts from waking", "counts from waking, cells"))
_blind = into(
    "parts/from_power",
    FROM_POWER,
    *like_the_naive_one("counts from power on", "counts from power on, latch, cut off"),
)
_pending = into("parts/pending_taps", PENDING)
_counted = into("parts/counted_taps", COUNTED)
_round = into(
    "parts/comes_round",
    COMES_ROUND,
    *like_the_naive_one("the clock comes round", "the clock comes round, checksum"),
)
_stand_in = into("parts/gestures", STAND_INS)

_TAPS = like_the_naive_one("elapsed time comes round", "taps begin anew at waking", "taps outlast sleep")

_awake = into(
    "parts/sleep", "tests/agreement/test_random_devices.py::test_no_attack_contradicts_a_verdict_of_a_special_device"
)

FAULTS = (
    _awake(
        "a touch that wakes is over before the processor runs", 'phase in ("waking", "woken", "late") or stays', "stays"
    ),
    _awake(
        "an edge while falling asleep is over before the processor stays awake", "or stays,) if brings", ",) if brings"
    ),
    _round("the clock never comes round", 'return () if local else (Timer("comes round", 0, FOREVER),)', "return ()"),
    _round("a clock comes round again and again", "Choice(True, (COMES_ROUND,)", "Choice(False, (COMES_ROUND,)"),
    _round(
        "a lockout that runs never ends either", "if mark != STORED or _is_locked_out(inner):", "if mark != STORED:"
    ),
    _round(
        "a button that was never locked out gets deaf",
        "if mark != STORED or _is_locked_out(inner):",
        "if _is_locked_out(inner):",
    ),
    _round("a reset leaves it deaf", "if signal in (RESET, STARTED):", "if signal == STARTED and mark != FOR_GOOD:"),
    _round("sleep ends the deafness", "if mark == FOR_GOOD else", "if mark == FOR_GOOD and reads is None else"),
    _blind("what was over at the start is forgotten", "for name in over:", "for name in ():"),
    _blind(
        "a start-up that begins anew goes on with its time", "anew if signal == CUT else", "local if signal == CUT else"
    ),
    _blind("the limits of the first state alone run", "for state in device.states:", "for state in device.states[:1]:"),
    _counted("nothing is counted awake", "ticks=local.ticks + 1", "ticks=local.ticks"),
    _counted("what was counted is forgotten in sleep", "Kept(inner, local.ticks)", "Kept(inner, 0)"),
    _counted(
        "the limits begin anew", "Counted(local.inner, local.ticks, local.ticks)", "Counted(local.inner, local.ticks)"
    ),
    _counted("nothing is counted in sleep", "local.ticks + ticks.worth", "local.ticks"),
    _counted(
        "the first tick in sleep takes a whole one",
        "Timer(TICK_ASLEEP, 0, ticks",
        "Timer(TICK_ASLEEP, ticks.asleep.lo, ticks",
    ),
    _counted("a limit is over as soon as it may be", "ticks)[1] <= 0)", "ticks)[0] <= 0)"),
    _counted("taps that wait keep the device from rest", "return (False,)", "return (True,)"),
    _pending("a limit that is over in sleep is seen at once", "over=(*local.over, timer)", "over=local.over", *_TAPS),
    _pending(
        "an edge of the contact ends what waits",
        "replace(choice, to=replace(local, inner=choice.to)) if is_pause(choice.to) else choice",
        "choice",
    ),
    _pending("elapsed time never comes round", "return (lasting(COMES_ROUND, device.elapsed),)", "return ()", *_TAPS),
    _pending("what is over stays over though time comes round", "replace(local, over=())", "local", *_TAPS),
    _pending("limits run where the clock stands still", "if local.stands:", "if False:", *_TAPS),
    _pending("nothing outlasts sleep", 'str(reads["state"]) in kinds and is_pause(local)', "False", *_TAPS),
    _pending(
        "what is over is never seen",
        "return see(recogniser, (Choice(local.inner),), local.over, reads)",
        "return (Choice(local.inner),)",
        *_TAPS,
    ),
    _pending("taps that wait for days keep the device from rest", "not self.over and not self.stands", "not self.over"),
    _pending("taps that wait are no pattern", "return not self.over and not self.stands", "return False"),
    _sleep("a late edge is always seen", "keeps = flag and not now.late_unseen", "keeps = flag"),
    _sleep("it looks at a flag that was never cleared", "seen = flag and _is_cleared(now, phase)", "seen = flag"),
    _sleep(
        "an old flag is forgotten where a state is entered",
        '("awake", flag and remembers) if phase',
        '("awake", False) if phase',
    ),
    _sleep(
        "what taps that waited lead to isn't done with before it listens",
        'Choice(("late", flag), (RUNS,)) if is_late',
        'Choice(("awake", flag), (RUNS, READY)) if is_late',
        "tests/agreement/test_reference_campaign.py",
    ),
    _sleep(
        "an old flag is kept only where an edge from any state sets it",
        "remembers = any(CLEAR not in one.steps for one in kinds.values())",
        "remembers = bool(latched)",
    ),
    _sleep(
        "an old flag counts in its own state alone",
        "flag or (awake and signal in latched and not dropped), ignoring",
        "flag, ignoring",
    ),
    _sleep("a button given up on always wakes by its release", "ignoring and ARM in kind.steps", "ignoring"),
    _sleep("a level that is still there doesn't wake", "(Timer(STILL_CLOSED, 0, 0),) if fires else ()", "()"),
    _sleep("an edge that isn't armed for sets the flag all the same", "if sets and dropped:", "if False:"),
    _sleep("an old flag is set though nothing is armed", "signal in latched and not dropped)", "signal in latched)"),
    _sleep("what was never armed takes no edge", "return ARM not in kind.steps or (", "return ("),
    _sleep("waking by itself does nothing", "if wakes_up(reads):", "if reads is None:"),
    _sleep(
        "waking isn't seen where the flag keeps it awake",
        'Choice(("awake", False), wakes_up(reads), says=says, line=line)',
        'Choice(("awake", False), (), says=says, line=line)',
    ),
    _early("what was held back is lost", "Choice(local.inner, local.seen,", "Choice(local.inner, (),"),
    _early("it is seen before it is accepted", "send=(), says=says)", "send=choice.send, says=says)"),
    _early(
        "an open level changes nothing",
        "and reads[RUNNING] and not reads[level]",
        "and reads[RUNNING] and reads is None",
    ),
    _early(
        "an open level counts before the firmware runs",
        "and reads[RUNNING] and not reads[level]",
        "and not reads[level]",
    ),
    _stand_in("nothing ever wakes by itself", 'return (Timer("wakes", 0, FOREVER),)', "return ()"),
    _stand_in("a hold is never there at once", "at_once = early or button", "at_once = button"),
)
