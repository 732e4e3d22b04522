"""Faults in whoever acts, in the observers, in how a model is put together, and in what stands in for buttons."""

from __future__ import annotations

from tests.quality.planted.fault import (
    ATTENTIVE,
    CHORD,
    HAZARDS,
    LATCH,
    LIMITS,
    OUTSIDE,
    PROMISES,
    RHYTHM,
    STAND_INS,
    SURE,
    TAKES,
    TRAIL,
    WHERE,
    into,
)

JOINED = "tests/parts/test_compile.py"
OBSERVERS, PEOPLE, PERFORMER = (f"tests/parts/test_{part}.py" for part in ("limits", "people", "performer"))

_held = into("parts/held", OUTSIDE)
_people = into("parts/people", PEOPLE, CHORD, HAZARDS)
_performer = into("parts/performer", PERFORMER, LIMITS, PROMISES, SURE)
_limits = into("parts/limits", OBSERVERS, LIMITS, PROMISES)
_train = into("parts/train", RHYTHM, TAKES)
_script = into("parts/script", JOINED, TRAIL, ATTENTIVE)
_trail = into("parts/trail", TRAIL)
_rest = into("parts/rest", PROMISES, HAZARDS)
_stroke = into("parts/stroke", JOINED, CHORD)
_compile = into("parts/compile", JOINED, PROMISES, OUTSIDE, HAZARDS)
_gestures = into("parts/gestures", STAND_INS)

FAULTS = (
    _held(
        "a button held at power-up is let go before the start",
        "if local and reads[POWERED] else ()",
        "if local and not reads[POWERED] else ()",
    ),
    _held("a button held at power-up is never let go", "if local and reads[POWERED] else ()", "if not local else ()"),
    _people("nobody needs a pause", "strokes, habits.between.lo, rule, line)", "strokes, 0, rule, line)", PROMISES),
    _people("a person with holds of several lengths has one", "kinds |= dict(habits.holds)", "pass"),
    _people("two fingers are one", "if habits.fingers > 1 and", "if habits.fingers > 2 and"),
    _people("two fingers hold three buttons", "for state in states) < most", "for state in states) <= most"),
    _people(
        "knocks don't wait until the device is left",
        "what.apart_us, _once_left(waits), what",
        "what.apart_us, _once_left(False), what",
    ),
    _people("whoever left goes on pressing", "lambda reads: not reads[LEFT])", "lambda reads: True)"),
    _people("what is stuck for good is let go", "None if what.for_good else what.closes", "what.closes", LIMITS),
    _people("knocks need no pause", 'Timer(PRESSES, 0 if local == "fresh" else apart_us', "Timer(PRESSES, 0"),
    _people(
        "the device is left in the middle of a press",
        "busy = not is_at_rest(reads.__getitem__, buttons) or (can",
        "busy = (can",
    ),
    _people("the device is left while the cell is gone", '(can_lose_power and not reads["steady"])', "False"),
    _people("the device is left in any state", 'fits = reads["state"] in states and', "fits ="),
    _people("the device is left with any values", "in states and meets(values, reads)", "in states", PROMISES, SURE),
    _people(
        "the device is left while an event waits", "busy = busy or any(reads[name] for name in waits)", "pass", OUTSIDE
    ),
    _performer(
        "an act begins in the middle of something",
        "busy = not is_at_rest(reads.__getitem__, buttons) or any(",
        "busy = any(",
    ),
    _performer(
        "an act begins whatever the values",
        'self.state == reads["state"] and self.is_met(reads)',
        'self.state == reads["state"]',
    ),
    _performer(
        "every hold is as long as the habit",
        "dict(habits.holds).get(gesture.name, habits.hold)",
        "habits.hold",
        HAZARDS,
    ),
    _performer(
        "a second gesture comes as soon as a second tap",
        "habits.answers.hi if habits.answers is not None else FOREVER",
        "habits.between.hi",
    ),
    _performer(
        "no pause between the presses of a gesture",
        "first if press == 0 else habits.between",
        "first if press == 0 else Span(0, 0)",
        HAZARDS,
    ),
    _performer(
        "what came just in time is late",
        'Timer("limit", acts[act].within_us + 1, acts[act].within_us + 1)',
        'Timer("limit", acts[act].within_us, acts[act].within_us)',
    ),
    _performer(
        "a microsecond late is in time",
        'Timer("limit", acts[act].within_us + 1, acts[act].within_us + 1)',
        'Timer("limit", acts[act].within_us + 2, acts[act].within_us + 2)',
    ),
    _performer(
        "an answer counts from the first press", "if acts[act].answer_us and reads[FINISHED]", "if acts[act].answer_us"
    ),
    _performer(
        "an answer to a hold counts from its release",
        "finished = len(local) == 1 or (all_down and ends_held[local[0]])",
        "finished = len(local) == 1",
    ),
    _performer(
        "an answer counts from the first of two presses",
        "is_last = bool(held) and local[1] == len(plans[local[0]]) - 1",
        "is_last = bool(held)",
    ),
    _performer(
        "a hold that acts at release is done while down",
        'gesture.presses[-1] == "hold" and not gesture.at_release',
        'gesture.presses[-1] == "hold"',
    ),
    _performer(
        "another gesture counts for the one that was meant", "signal not in _seen(gestures[count])", "not signal"
    ),
    _performer("one gesture more is as good", "OTHER if more else DONE", "DONE", HAZARDS),
    _performer("a hold that repeats is taken for another gesture", " and signal not in repeating[act]", "", HAZARDS),
    _performer(
        "every timeout excuses",
        "is_excused = count == 0 and became not in (STARTED_UP, LAPSED_MEANWHILE)",
        "is_excused = count == 0",
        LATCH,
    ),
    _performer(
        "a timeout between two gestures excuses",
        "is_excused = count == 0 and became not in (STARTED_UP, LAPSED_MEANWHILE)",
        "is_excused = became not in (STARTED_UP, LAPSED_MEANWHILE)",
    ),
    _performer(
        "no timeout excuses",
        "is_excused = count == 0 and became not in (STARTED_UP, LAPSED_MEANWHILE)",
        "is_excused = False",
    ),
    _performer(
        "nobody notices that the act switched the device on",
        "Choice((act, count, STARTED_UP if count == 0 and became == OPEN else became))",
        "Choice((act, count, became))",
        LATCH,
    ),
    _performer(
        "time excuses what another gesture did before",
        "mistaken = STARTED_UP if count == 0 and became == OPEN else became",
        "mistaken = became",
    ),
    _performer("the last gesture alone is enough", "(not acts[act].target or reached(act, reads))\n", "True\n"),
    _performer("what was reached may be left at once", "became if reached(act, reads) else OTHER", "became"),
    _performer(
        "a stay that ends just then is too short",
        'Timer("stays", acts[act].stay_us - 1, acts[act].stay_us - 1)',
        'Timer("stays", acts[act].stay_us + 1, acts[act].stay_us + 1)',
    ),
    _performer(
        "a stay may be a microsecond too short",
        'Timer("stays", acts[act].stay_us - 1, acts[act].stay_us - 1)',
        'Timer("stays", acts[act].stay_us - 2, acts[act].stay_us - 2)',
    ),
    _performer(
        "time that changes the values excuses nothing",
        "Choice((act, count, EXCUSED if overtaken else became))",
        "Choice(local)",
    ),
    _performer(
        "time that brings the device there counts for the act",
        "if signal == LAPSED and count == 0:  # time",
        "if not signal:  # time",
    ),
    _performer(
        "any value of the target will do",
        "device.states_of(target) and meets(acts[act].ending, reads)",
        "device.states_of(target)",
    ),
    _limits(
        "what keeps its limit to the microsecond is late",
        'Timer("the limit", what.within_us + 1, what.within_us + 1)',
        'Timer("the limit", what.within_us, what.within_us)',
    ),
    _limits(
        "reach: the time counts from the beginning",
        'if local == "open" and reads[LEFT] else ()',
        'if local == "open" else ()',
    ),
    _limits("reach: any value will do", " and meets(what.ending, reads)\n", "\n"),
    _limits(
        "reach: what was reached before counts",
        'met = local == "open" and reads[LEFT] and',
        'met = local == "open" and',
    ),
    _limits("sleep: it is never late", 'LATE_NOW if reads[RUNNING] else "met"', '"met"'),
    _limits(
        "sleep: having slept before is enough",
        '"met" if local == "open" and reads[held] else local',
        '"met" if local == "open" else local',
    ),
    _limits(
        "stay: a start begins the time anew",
        'is_use = local == "out" or (signal in used and not restored)',
        'is_use = local == "out" or signal in used or restored',
    ),
    _limits(
        "stay: no use begins the time anew",
        'is_use = local == "out" or (signal in used and not restored)',
        'is_use = local == "out"',
    ),
    _limits("stay: every event is a use", "for name in events if name not in what.no_use", "for name in events"),
    _limits("stay: time without power is forgotten", 'return (Choice("over"),)', 'return (Choice("out"),)'),
    _limits(
        "stay: time without power is too late at once",
        'if can_lose_power and not reads[POWERED]:\n            return (Choice("over"),)',
        'if can_lose_power and not reads:\n            return (Choice("over"),)',
    ),
    _limits(
        "settling: anything that goes on goes round",
        "Choice((AGAIN,) if left and same",
        "Choice((AGAIN,) if left or same",
    ),
    _limits(
        "settling: what is meant to repeat goes round",
        'if signal == CHANGED and states[str(reads["state"])].repeats:',
        "if not signal:",
    ),
    _limits(
        "settling: steps that are still to come go round",
        "all(reads[name] for name in (*held, *quiet))",
        "bool(held or quiet)",
    ),
    _limits("settling: sleep is no difference", "*spent)), reads[SLEEPING])", "*spent)))"),
    _train("each length is free", "span = what.spans[made - 1] if made else ANY", "span = ANY"),
    _train(
        "a length is taken for a pause",
        "span = what.spans[made - 1] if made else ANY",
        "span = what.spans[-made] if made else ANY",
    ),
    _train(
        "the button is never let go",
        "b == what.button and _made(local) % 2 == 1",
        "b == what.button and _made(local) > 0",
    ),
    _script(
        "times count from the beginning, and again",
        "edges[played].at_us - (edges[played - 1].at_us if played else 0)",
        "edges[played].at_us",
    ),
    _script("a script is over at once", "Timer(OVER, END_US, END_US)", "Timer(OVER, 0, 0)", WHERE),
    _script(
        "the device is left an edge too early",
        "(played > left or bool(was), was)",
        "(played >= left or bool(was), was)",
        WHERE,
        HAZARDS,
    ),
    _script("the cell is always there", 'there = not cell or held.get("", True)', "there = True", WHERE),
    _trail(
        "a waiting state counts as a place to rest",
        "if state not in waiting:\n                return (Choice((state",
        "if state:\n                return (Choice((state",
    ),
    _trail("a time counts as a gesture", "TIME if fresh else left_by", "left_by"),
    _trail("each time counts, not only the first", "TIME if fresh else left_by", "TIME"),
    _trail("a start in between isn't told", "Choice((rested, START, False))", "Choice((rested, left_by, False))"),
    _rest("chatter is rest", ' or not look(f"quiet {button}")', ""),
    _rest(
        "a pending pattern is quiet",
        'for what in ("reading", "pattern"))\n\n\ndef is_quiet',
        'for what in ("reading",))\n\n\ndef is_quiet',
    ),
    _rest("a contact that is closed is at rest", 'look(f"level {button}") or not', "not"),
    _stroke(
        "the second button of a chord closes at once",
        "Timer(PRESSES_OTHER, stroke.together.lo, stroke.together.hi)",
        "Timer(PRESSES_OTHER, 0, 0)",
    ),
    _stroke(
        "presses are as short as can be",
        "Timer(LETS_GO, stroke.down.lo, stroke.down.hi)",
        "Timer(LETS_GO, stroke.down.lo, stroke.down.lo)",
        HAZARDS,
    ),
    _stroke("a chord opens in one order only", "!= b), True) for b in held)", "!= b), True) for b in held[:1])"),
    _compile(
        "what the device is for takes no part in its use",
        "before = [name for name in (*device.meant, *environment.before)",
        "before = [name for name in environment.before",
    ),
    _compile(
        "writing makes deaf only where power can be lost",
        "or (writes_deaf(device) and not environment.gestures)",
        "",
        ATTENTIVE,
    ),
    _compile(
        "of two interruptions one acts",
        "found = tuple(name for name in outages if name in environment.sources)",
        "found = tuple(name for name in outages if name in environment.sources)[:1]",
    ),
    _compile(
        "a device that begins without power has some",
        "or device.state(device.initial).unpowered\n    resets",
        "\n    resets",
        LATCH,
    ),
    _compile(
        "disturbances don't wait for the use to end",
        '"once left" if used_before and not what.meant else "always"',
        '"always"',
    ),
    _compile(
        "what a latch kept counts for rest",
        "waits = () if environment.gestures else (*(EVENT_WAITS for _ in made[:1])",
        "waits = () if environment.gestures else (*(EVENT_WAITS for _ in ())",
        OUTSIDE,
    ),
    _compile(
        "the ledger is never asked",
        "if can_lose_power and environment.watched and device.memory is not None:",
        "if environment.watched and device.memory is None:",
    ),
    _gestures("two of a button are a longest debounce apart", "return button.debounce.lo", "return button.debounce.hi"),
    _gestures("two of a button are a longest lockout apart", "return button.lockout.lo", "return button.lockout.hi"),
    _gestures(
        "two of a button are as many periods as samples apart", "(button.samples.count - 1) *", "button.samples.count *"
    ),
    _gestures(
        "a hold is no shorter than a press", "min([shortest_reading_us(button), *holds])", "shortest_reading_us(button)"
    ),
    _gestures(
        "what repeats comes no sooner than a new one",
        "for span in (gesture.held, gesture.repeats)",
        "for span in (gesture.held,)",
    ),
    _gestures(
        "two of a button are a longest hold apart",
        "min([shortest_reading_us(button), *holds])",
        "max([shortest_reading_us(button), *holds])",
    ),
    _gestures(
        "two chords come no closer than their buttons",
        "gesture.held.lo if gesture.held is not None else 0",
        "gesture.held.lo if gesture.held is not None else 20_000",
    ),
    _gestures("what counts for more than one press keeps its distances", "or button.claims.add_gestures or", "or"),
    _gestures(
        "what a chord gives back keeps its distances",
        "early = early or any(chord.gives_back and button.name in chord.buttons for chord in chords)",
        "early = early",
    ),
    _gestures("what acts at its press keeps its distances", 'any(gesture.acts_early == "press" for', "any(False for"),
    _gestures("a button never reads otherwise", '(Timer("reads otherwise", 0, FOREVER),) if read else ()', "()"),
    _gestures(
        "one gesture of each button only",
        'for name in in_use[str(reads["state"])])',
        'for name in in_use[str(reads["state"])][:1])',
    ),
    _gestures(
        "a gesture that only a time with the button open follows is left out",
        "timeout.with_open == button.name for state",
        "timeout.with_open == device.name for state",
    ),
    _gestures("buttons may be left out where a key feeds the device", "return not device.is_latched", "return True"),
)
