"""Faults in the chart, the processor, events, the cell, the supply and memory."""

from __future__ import annotations

from tests.quality.planted.fault import (
    ATTENTIVE,
    CHART,
    CHORD,
    HAZARDS,
    LATCH,
    LIMITS,
    OUTSIDE,
    PROMISES,
    RAM,
    RESETS,
    SLEEP,
    STAND_INS,
    WAITING,
    into,
    like_the_naive_one,
)

MEMORY = "tests/parts/test_memory.py"
LEDGER, SUPPLY = "tests/parts/test_ledger.py", "tests/parts/test_supply.py"

_chart = into("parts/chart", CHART)
_changes = into("parts/changes", CHART)
_sleep = into("parts/sleep", SLEEP, *like_the_naive_one("slow steps"))
_attention = into("parts/attention", ATTENTIVE, *like_the_naive_one("events", "events, deaf writes"))
_queue = into("parts/attention", WAITING, *like_the_naive_one("in an interrupt, never asleep", "in an interrupt"))
_events = into("parts/events", STAND_INS, ATTENTIVE)
_cell = into("parts/cell_level", ATTENTIVE)
_supply = into("parts/supply", SUPPLY, HAZARDS)
_latch = into("parts/latch", LATCH)
_resets = into("parts/resets", RESETS)
_ram = into("parts/ram", RAM)
_output = into("parts/outputs", SUPPLY, OUTSIDE)
_memory = into("parts/memory", MEMORY, HAZARDS)
_ledger = into("parts/ledger", LEDGER, HAZARDS)

FAULTS = (
    _ram("decayed RAM is told by its marker", "and not rules.is_checked", "and rules.is_checked"),
    _ram("RAM lasts for ever", "if _split(local).phase == FADING else ()", "if False else ()"),
    _ram("RAM fades with power", "(replace(cells, phase=WHOLE) if cells.phase == FADING else cells)", "(cells)"),
    _ram(
        "a start leaves decayed RAM as it is",
        "return (Choice(Cells(WHOLE)),)",
        "return (Choice(replace(cells, gives=None)),)",
    ),
    _ram(
        "empty RAM is believed",
        "if cells.phase == WHOLE:\n        return",
        "if cells.phase != DECAYED:\n        return",
    ),
    _chart(
        "memory goes before RAM",
        "kept |= dict(zip(device.ram.keeps, ram, strict=True))",
        "kept = dict(zip(device.ram.keeps, ram, strict=True)) | kept",
        RAM,
    ),
    into("parts/compile", RAM)(
        "the supply tells RAM nothing", "bool(device.resets) or device.ram is not None or", "bool(device.resets) or"
    ),
    into("parts/compile", RAM)(
        "RAM is known where a button is held",
        "parts.append(ram(device, device.ram, begins_off, unknown))",
        "parts.append(ram(device, device.ram, begins_off))",
    ),
    _resets("a power chip counts without power", "and reads[FED] and reads[level]", "and reads[level]"),
    _resets(
        "a power chip without power remembers", "if signal != DRAINED and reads[level] else", "if reads[level] else"
    ),
    _resets("a supervisor waits without power", "reads[POWERED] and not reads", "not reads"),
    _resets("a supervisor always counts in sleep", " and (reads[RUNNING] or rules.in_sleep)", ""),
    _resets("a supervisor never counts in sleep", "(reads[RUNNING] or rules.in_sleep)", "reads[RUNNING]"),
    _resets("a listening firmware isn't heard", "Choice(local, restart=(UNFED,))", "Choice(local)"),
    into("parts/limits", RESETS)(
        "a reset is no difference", "left or not same", "left or (signal != RESET and not same)"
    ),
    _resets(
        "a power chip cuts again and again",
        "(Choice(SPENT, (BY_CUT_OFF, cuts),",
        "(Choice(COUNTING, (BY_CUT_OFF, cuts),",
    ),
    _memory("an erase is always recognised", "return (DAMAGED, BLANK)", "return (DAMAGED,)"),
    _resets("a button that is still down switches on", "and button not in _split(local))", ")"),
    _resets("no button is down when it is switched off", "if signal == DRAINED:", "if signal == BOOTS:"),
    _resets("a chip that stays off cuts like another", "cuts = CUT if rules.off is None else SWITCH_OFF", "cuts = CUT"),
    into("parts/supply", RESETS)(
        "a chip remembers without its cell", ', IS_OFF: ("down", ())}', ", IS_OFF: (IS_OFF, ())}"
    ),
    into("parts/supply", RESETS)("what is switched off is restless", 'in ("up", "off", IS_OFF)', 'in ("up", "off")'),
    _chart(
        "the chart hears nothing of a chip that stays off",
        "(WENT_OFF,) if device.stays_off is not None else ()",
        "()",
        RESETS,
        *like_the_naive_one("switched off"),
    ),
    into("parts/supply", RESETS)(
        "a cut that nobody hears of", '{"up": (SAGS, RESET, BOOTS),', '{"up": (RESET, BOOTS),'
    ),
    into("parts/supply", RESETS)(
        "a cut leaves the latch held",
        "(keys and not any(reads[name] for name in keys))\n        send",
        "(keys and not reads[HELD])\n        send",
    ),
    into("parts/supply", RESETS)("a cut lets a start go on", "send, restart=(starts.name,)),)", "send),)"),
    into("parts/gestures", RESETS)("gestures stand in for a contact that a chip watches", " and not device.resets", ""),
    into("parts/limits", RESETS)(
        "a chip that has cut off is as before", "(*values, *pending, *spent)),", "(*values, *pending)),"
    ),
    _chart(
        "a time with the button open runs while it is held",
        'or not reads[f"reading {timeout.with_open}"]',
        "or timeout.with_open",
    ),
    _chart(
        "times go on without power",
        'if can_lose_power and not reads["powered"]:',
        'if can_lose_power and reads["powered"] is None:',
    ),
    _chart("entering a state lets its times go on", "(CHANGED,), timers, f", "(CHANGED,), (), f"),
    _chart(
        "every line begins times anew", "isinstance(line, Transition) and line.restarts", "isinstance(line, Transition)"
    ),
    _chart(
        "lines of a state begin shared times anew", "if not timeout.group or timeout.group != kept", "if timeout.text"
    ),
    _chart("a start never goes back to the kept state", 'state = kept.pop("state", state)', 'kept.pop("state", state)'),
    _chart(
        "entering sets what memory kept",
        "dict(device.state(state).on_entering) | kept",
        "kept | dict(device.state(state).on_entering)",
    ),
    _chart(
        "damaged memory counts as blank",
        'if found == "(damaged)"',
        'if found == ""',
        HAZARDS,
        *like_the_naive_one("cells"),
    ),
    _chart("what time does isn't told", "send=(CHANGED, LAPSED)", "send=(CHANGED,)"),
    _chart("a step of values isn't told", "(STEPPED,) if after != values else ()", "()"),
    _chart(
        "a time is as long for each value",
        "timeout.lasts(values), timer_name",
        "timeout.lasts({timeout.by or '': '5 min'}), timer_name",
    ),
    _chart(
        "a reset keeps a latched device in its state",
        "to = (name if states[name].unpowered else off,",
        "to = (name,",
        LATCH,
        *like_the_naive_one("latch"),
    ),
    _changes("a variable that stops wraps", "if variable.wraps:", "if variable.values:"),
    _changes("backwards is forwards", "(line.previous, -1)", "(line.previous, 1)"),
    _changes(
        "what a line keeps is set all the same",
        "on_entering if n not in line.keep)\n    return after",
        "on_entering)\n    return after",
    ),
    _changes(
        "the first case applies whatever its condition",
        "case.condition is None or case.condition.holds(values)",
        "case",
    ),
    _changes("every value meets a condition", "return condition.holds({", "return {} == condition or bool({", PROMISES),
    _changes(
        "a run begins without what entering sets",
        "return first_values(device) | dict(device.state(device.initial).on_entering)",
        "return first_values(device)",
    ),
    _sleep(
        "the wake flag is cleared once more after arming",
        'flag and phase != "clearing"',
        'flag and phase not in ("clearing", "arming")',
        ATTENTIVE,
        *like_the_naive_one("events"),
    ),
    _sleep("it doesn't look once more", "still = quiet(reads, ignoring) and not seen and not closed", "still = True"),
    _sleep(
        "it looks once more at the flag alone",
        "still = quiet(reads, ignoring) and not seen and not closed",
        "still = not seen",
    ),
    _sleep(
        "the flag doesn't count at the last step",
        "if keeps or (woken(now, reads) and not ignoring):",
        "if woken(now, reads) and not ignoring:",
        ATTENTIVE,
    ),
    _sleep(
        "a level that opens wakes",
        "(kind.on != LEVEL or ignoring or woken(kind, reads))",
        "kind.on",
        *like_the_naive_one("sleeps on level, slow steps", "sleeps on level, press to press"),
    ),
    _sleep("every button wakes", "return button in kind.waking_buttons and", "return", CHORD),
    _sleep(
        "a pending pattern keeps nothing awake",
        "return begun or (can_be_deaf",
        "return False or (can_be_deaf",
    ),
    _sleep(
        "a deaf firmware goes to sleep",
        "return begun or (can_be_deaf and bool(reads[DEAF]))",
        "return begun",
        ATTENTIVE,
        *like_the_naive_one("events", "events, deaf writes"),
    ),
    _sleep(
        "entering a state doesn't begin the doze anew",
        "restart=(_doze_name(reads), gives_up)",
        "restart=(gives_up,)",
        ATTENTIVE,
    ),
    _sleep(
        "entering a state doesn't give up going to sleep",
        'to = ("awake", flag and remembers) if phase in (*_STEPS, "dropping") else local',
        "to = local",
        *like_the_naive_one("slow steps, two sleeping states"),
    ),
    _sleep(
        "waking takes as long as a step", 'now.ready if phase == "waking" else', 'now.step if phase == "waking" else'
    ),
    _sleep(
        "a start in a sleeping state is asleep",
        'Choice(("awake", False), (READY,)),)',
        'Choice(("asleep", False), (READY,)),)',
        *like_the_naive_one("checksum"),
    ),
    _sleep(
        "a button that is ignored may have changed",
        'reads[f"level {b}"] != (ignoring and reads[f"reading {b}"])',
        'reads[f"level {b}"] and not ignoring',
        *like_the_naive_one("taps swallowed"),
        "tests/hazards/test_hazards.py",
    ),
    _sleep(
        "a button is given up on though a pattern is pending",
        "if pending(reads):",
        "if can_be_deaf and reads[DEAF]:",
        LIMITS,
        *like_the_naive_one("taps swallowed"),
    ),
    _queue("what waits is done while it is busy", "and not now.is_occupied else ()", "else ()"),
    _queue("what waits is done at once when it is recognised", "        if now.listens:\n", "        if True:\n"),
    _queue("the last that waits goes first", "name, *others = now.queue", "*others, name = now.queue"),
    _queue("a queue is as long as it likes", "if len(now.queue) == device.queue:", "if False:"),
    _queue("a queue takes one more", "== device.queue", "> device.queue"),
    _queue("it listens while gestures wait", "self.is_occupied or bool(self.queue) or self.does", "self.is_occupied"),
    _queue("it listens before the last one is done", "or bool(self.queue) or self.does", "or bool(self.queue)"),
    _queue(
        "a state that makes it busy empties the queue",
        "replace(now, busy=state, does=False)",
        "replace(now, busy=state, does=False, queue=())",
    ),
    _queue(
        "what waits is forgotten in sleep", "replace(now, runs=signal == READY)", "Attention(signal == READY, now.busy)"
    ),
    _queue("a free firmware feeds nothing", "(TAKES,) if has_queue(device) else ()", "()"),
    into("parts/limits", WAITING)("what waits is no part of a device", "(*spent, GESTURES_WAIT) if", "spent if"),
    into("parts/compile", WAITING)("a gesture that waits is at rest", "(*waits, GESTURES_WAIT) if", "waits if"),
    into("questions/steps", WAITING)(
        "a gesture that waits is missed", "(EVENT_WAITS, GESTURES_WAIT, WAKING_WAITS)", "(EVENT_WAITS, WAKING_WAITS)"
    ),
    into("parts/compile", WAITING)(
        "an interrupt reads nothing while busy", "WHILE_RUNNING if button.in_interrupt else hears", "hears"
    ),
    into("parts/compile", WAITING)("nothing waits", "return into_queue(part) if", "return part if"),
    into("parts/gestures", WAITING)("what waited is kept apart", "early or button.in_interrupt or (", "early or ("),
    _attention("being busy isn't begun anew", '(f"busy in {state}",), says, line', "(), says, line"),
    _attention("writing never makes deaf", "return bool(self.busy) or self.writes", "return bool(self.busy)"),
    _attention("a reset leaves it busy", "Choice(Attention(False))", "Choice(replace(now, runs=False))"),
    _attention("it listens asleep", "return self.runs and not self.is_deaf", "return not self.is_deaf"),
    _attention(
        "entering another state ends being busy",
        "return (Choice(local),)\n            line",
        'return (_become(now, replace(now, busy="")),)\n            line',
    ),
    _events(
        "a kept event is seen again and again",
        'Choice("", (EVENT + str(local),))',
        "Choice(local, (EVENT + str(local),))",
    ),
    _events(
        "the last event is kept, not the first",
        "(Choice(event),) if not local else",
        "(Choice(event),) if event else",
        *like_the_naive_one("events"),
    ),
    _events("every event is kept in sleep", 'if event not in waking.get(str(reads["state"]), ()):', "if not event:"),
    _events("an event that only wakes is kept", "if event not in counting:", "if not event:"),
    _events("an event is kept while the firmware is busy", "if reads[RUNNING]:", "if not event:"),
    _events(
        "a reset keeps an event",
        'if signal == RESET:\n            return (Choice(""),)',
        "if signal == RESET:\n            return (Choice(local),)",
        *like_the_naive_one("events, deaf writes"),
    ),
    _events("events come as close as they like", "Timer(HAPPENS, what.apart_us if acted else 0", "Timer(HAPPENS, 0"),
    _events(
        "what is for the use before goes on for ever",
        'bool(reads[LEFT]) == (when == "once left")',
        'bool(reads[LEFT]) or when != "once left"',
        OUTSIDE,
        PROMISES,
        LIMITS,
    ),
    _events(
        "of a source only the first event comes",
        "after = (True, (number + 1) % len(what.events))\n        return (Choice(after, (OUTSIDE",
        "after = (True, number)\n        return (Choice(after, (OUTSIDE",
    ),
    _events("any event: none is seen closer than it came", "max(0, what.apart_us - later)", "what.apart_us"),
    _events("any event: deafness brings none closer", "apart = 0 if deaf else", "apart ="),
    _events(
        "any event: none is lost",
        "(EVENT + what.events[number],)), Choice(after))",
        "(EVENT + what.events[number],)),)",
    ),
    _cell(
        "between the levels the cell is low",
        "return level == (ABOVE if low else BELOW)",
        "return level == ABOVE if low else level != ABOVE",
    ),
    _cell(
        "a reset keeps what was seen of the cell",
        "Choice((False, level))",
        "Choice(local)",
        *like_the_naive_one("events, deaf writes"),
    ),
    _cell("of several levels the highest counts", "LEVELS[min(", "LEVELS[max("),
    _cell(
        "the cell is read late only",
        'Timer("reads the cell", 0, rules.every.hi)',
        'Timer("reads the cell", rules.every.hi, rules.every.hi)',
    ),
    _cell("the cell is read in sleep", "if reads[hearing.value] and waits(local)", "if waits(local)"),
    _cell(
        "the voltage goes up and down as fast as it likes",
        "Timer(MOVES, what.apart_us if acted else 0",
        "Timer(MOVES, 0",
    ),
    _cell(
        "any level: it never recovers",
        "(Choice(local, (EVENT + CELL_LOW,)), Choice(local, (EVENT + CELL_FINE,)))",
        "(Choice(local, (EVENT + CELL_LOW,)),)",
    ),
    _supply(
        "a loss during start-up ends nothing",
        '"starting": ("sagging start", ())',
        '"starting": ("starting", ())',
        *like_the_naive_one("checksum"),
    ),
    _supply(
        "a start while the cell is gone is a steady one",
        'to = "up" if local == "starting" else "sagging"',
        'to = "up"',
        *like_the_naive_one("checksum", "cells"),
    ),
    _supply(
        "interruptions come as close as they like",
        "else what.apart_us, FOREVER)",
        "else 0, FOREVER)",
    ),
    _supply(
        "an interruption lasts as long as it likes",
        "Timer(CELL_IS_BACK, what.gone.lo, what.gone.hi)",
        "Timer(CELL_IS_BACK, what.gone.lo, FOREVER)",
    ),
    _supply(
        "the cell is back when one source gives it back",
        "gone = any(reads[name] for name in away)\n        gone",
        "gone = all(reads[name] for name in away)\n        gone",
        *like_the_naive_one("cells", "no memory"),
    ),
    _supply(
        "a key doesn't feed the device",
        "not reads[HELD] and not any(reads[name] for name in keys)",
        "not reads[HELD]",
        LATCH,
    ),
    _supply("nobody is told that the cell is back in time", '"sagging": ("up", (RECOVERS,))', '"sagging": ("up", ())'),
    _supply("nobody is told that the cell is lost", '"up": ("sagging", (SAGS,))', '"up": ("sagging", ())'),
    _supply(
        "everything is up while it sags, and steady",
        'steady = local in ("up", "off", IS_OFF)',
        'steady = local in ("up", "off", IS_OFF, "sagging")',
    ),
    _supply("the hold-up is endless", '"sagging": (hold_up,)', '"sagging": ()'),
    _latch("the latch is never let go", "Choice(OPENING if local == CLOSED else local)", "Choice(local)"),
    _latch(
        "a powered state doesn't hold it again",
        "Choice(CLOSED, (CELL,) if local == OPEN else ())",
        "Choice(local if local == OPENING else CLOSED, (CELL,) if local == OPEN else ())",
        *like_the_naive_one("latch", "latch, cells, press counts"),
    ),
    _latch("a reset leaves it held", "Choice(OPEN),)", "Choice(local),)"),
    _latch(
        "a start without power leaves it open",
        "Choice(OPENING, (CELL,))",
        "Choice(OPEN, (CELL,))",
        *like_the_naive_one("latch", "latch, cells, press counts"),
    ),
    _latch("a held latch counts for nothing", "return (local != OPEN,)", "return (local == OPENING,)"),
    _output("a pin is off until the firmware runs", "Choice(what.in_reset, says", "Choice(OFF, says"),
    _output(
        "a pin keeps its level through a reset",
        "if signal == RESET:\n            return (Choice(OFF),)",
        "if signal == RESET:\n            return (Choice(local),)",
    ),
    _output(
        "a pin is what the hardware makes of it without a cell",
        "if signal == RESET:\n            return (Choice(OFF),)",
        "if signal == RESET:\n            return (Choice(what.in_reset),)",
    ),
    _output("a pin is never on", 'Choice(ON if reads["state"] in what.on_in else OFF)', "Choice(OFF)"),
    _memory("a write that is cut leaves what was there", "writing = store.target is not None", "writing = False"),
    _memory("two copies can be torn", '(writing and rules.guard != "two copies")', "writing"),
    _memory(
        "a checksum doesn't tell a cut write",
        "cells[0] = ERASED if rules.erases_first else DAMAGED",
        "pass",
        *like_the_naive_one("checksum", "checksum, never sleeps"),
    ),
    _memory(
        "a change during a write is forgotten",
        "wanted=values if values != store.target else None",
        "wanted=None",
        *like_the_naive_one("cells", "two copies"),
    ),
    _memory(
        "the first of two changes during a write is written",
        "wanted=values if values != store.target else None",
        "wanted=store.wanted or values",
        *like_the_naive_one("cells", "two copies", "checksum"),
    ),
    _memory(
        "a change back during a write isn't noticed",
        "wanted=values if values != store.target else None",
        "wanted=values if values != store.target else store.wanted",
        *like_the_naive_one("cells", "two copies", "checksum", "groups, cells"),
    ),
    _memory(
        "a waiting state is kept as it is",
        'settled_state(device, value) if name == "state" else value',
        "value",
        CHART,
        *like_the_naive_one("cells"),
    ),
    _memory("garbage is always legal", "(*legal, DAMAGED) if cell == GARBAGE", "legal if cell == GARBAGE"),
    _memory(
        "garbage is never legal",
        "(*legal, DAMAGED) if cell == GARBAGE",
        "(DAMAGED,) if cell == GARBAGE",
        *like_the_naive_one("cells"),
    ),
    _memory(
        "a change doesn't begin the quiet anew",
        'restart=("quiet for",)',
        "restart=()",
        *like_the_naive_one("cells of values, quiet"),
    ),
    _memory(
        "what is saved is written though it stands there",
        "return store if at < 0 else replace(store, target=values, at=at)",
        "return replace(store, target=values, at=max(at, 0))",
        *like_the_naive_one("checksum", "cells"),
    ),
    _memory("what was torn is so for ever", "target=None, at=0, torn=False)", "target=None, at=0)"),
    _memory("what was torn is whole at the next write", "target=values, at=at)", "target=values, at=at, torn=False)"),
    _memory(
        "an old layout is always recognised",
        "_legal(device, rules) if rules.old_layout == READ_AS_IS else (BLANK,)",
        "(BLANK,)",
    ),
    _memory(
        "nothing hangs on what memory brings back",
        "variable.values if name in deciding else (variable.first,)",
        "(variable.first,)",
        OUTSIDE,
    ),
    _memory(
        "a light tells of nothing that memory brings back",
        "if rules.deaf or is_seen:",
        "if rules.deaf:",
        "tests/firmware/test_monitor.py",
    ),
    _memory(
        "times don't hang on what memory brings back",
        "deciding |= {timeout.by for state in device.states for timeout in state.timeouts}",
        "pass",
        OUTSIDE,
    ),
    _memory(
        "memory found at power-up is never damaged",
        'damaged = () if rules.guard == "two copies" else (DAMAGED,)',
        "damaged = ()",
        OUTSIDE,
    ),
    _memory(
        "a blank cell reads as damaged",
        "first if cell == BLANK else cell",
        "DAMAGED if cell == BLANK else cell",
        *like_the_naive_one("cells", "groups, cells"),
    ),
    _memory(
        "a deaf firmware isn't told that a write ended",
        "if before.target is None else (WROTE,)",
        "if before.target is None else ()",
        ATTENTIVE,
    ),
    _ledger(
        "what changed just that long ago isn't allowed", "device.memory.may_lose_us + 1", "device.memory.may_lose_us"
    ),
    _ledger(
        "what changed before is allowed for ever", "for values in old if _name(values) != timer)", "for values in old)"
    ),
    _ledger(
        "what changed shortly before isn't allowed", "allowed = frozenset({now, *old})", "allowed = frozenset({now})"
    ),
    _ledger(
        "what changes while the cell is gone isn't allowed",
        "allowed if allowed is None else allowed | {new}",
        "allowed",
    ),
    _ledger(
        "what was allowed stays so when the cell is back", "Choice((now, old, None))", "Choice((now, old, allowed))"
    ),
    _ledger("a start with the cell gone again counts as steady", "None if reads[STEADY] else frozenset({new})", "None"),
    _ledger(
        "only the first snapshot counts", "return (Choice((new, past, allowed", "return (Choice((now, past, allowed"
    ),
)
