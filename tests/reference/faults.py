"""Plausible misreadings of the rules, each planted into a copy of the naive simulator."""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType
from typing import Final

from tests.reference import chords, clock, presses, simulator, store
from tests.reference.clock import Seen

_MODULES: Final = {"chords": chords, "clock": clock, "presses": presses, "simulator": simulator, "store": store}
_CLASSES: Final = {"chords": "Chords", "clock": "Clock", "presses": "Presses", "store": "Store"}

Simulate = Callable[..., list[Seen]]


@dataclass(frozen=True, slots=True)
class Fault:
    """In `module` the text `old`, which stands there once, becomes `new`; `device` is one that should show it."""

    name: str
    module: str
    old: str
    new: str
    device: str


def plant(fault: Fault) -> Simulate:
    """The simulator with this fault; raises `ValueError` if the text to change isn't there just once."""
    broken = _load(fault.module, fault)
    if fault.module != "simulator":
        whole = _load("simulator", None)
        setattr(whole, _CLASSES[fault.module], getattr(broken, _CLASSES[fault.module]))
        broken = whole
    found: Simulate = broken.simulate
    return found


def _load(name: str, fault: Fault | None) -> ModuleType:
    source = Path(str(_MODULES[name].__file__)).read_text(encoding="utf-8")
    if fault is not None:
        if source.count(fault.old) != 1:
            raise ValueError(f"{fault.name}: the text stands there {source.count(fault.old)} times")
        source = source.replace(fault.old, fault.new)
    module = ModuleType(f"broken_{name}")
    sys.modules.setdefault(module.__name__, module)
    exec(compile(source, f"{name} with a fault", "exec"), module.__dict__)
    return module


FAULTS: Final = (
    Fault(
        "a power chip that has reset the device counts on",
        "simulator",
        'self.clock.begin("start", self.device.power_up.takes, self.starts)\n        self.reset()',
        'self.clock.begin("start", self.device.power_up.takes, self.starts)\n        self.watch()\n        self.reset()',
        "cut off",
    ),
    Fault(
        "a power chip counts on through a break",
        "simulator",
        'self.clock.drop("cut-off")',
        "return",
        "cut off, latch",
    ),
    Fault(
        "a power chip counts only while the firmware runs",
        "simulator",
        'elif self.processor != "off" or self.clock.is_running("start"):',
        'elif self.processor != "off":',
        "cut off, press counts",
    ),
    Fault(
        "decayed RAM is always recognised",
        "simulator",
        "not self.ram_decayed or rules.is_checked:",
        "True:",
        "RAM with a marker",
    ),
    Fault(
        "memory goes before RAM",
        "simulator",
        "kept.update(self.read_ram())",
        "kept = {**self.read_ram(), **kept}",
        "RAM with a marker",
    ),
    Fault(
        "RAM lasts for ever",
        "simulator",
        "        self.ram, self.ram_decayed = None, True",
        "        return",
        "RAM with a checksum",
    ),
    Fault(
        "RAM fades during the start-up too",
        "simulator",
        '            self.clock.drop("ram")\n',
        "",
        "RAM with a checksum",
    ),
    Fault(
        "a supervisor stops in sleep whatever is said",
        "simulator",
        'waits = self.processor == "awake" or (self.processor != "off" and rules is not None and rules.in_sleep)',
        'waits = self.processor == "awake"',
        "supervised in sleep",
    ),
    Fault(
        "a supervisor counts on in sleep whatever is said",
        "simulator",
        'waits = self.processor == "awake" or (self.processor != "off" and rules is not None and rules.in_sleep)',
        'waits = self.processor != "off"',
        "supervised, busy",
    ),
    Fault(
        "a busy firmware feeds the supervisor",
        "simulator",
        "if rules is None or self.listens() or not waits:",
        'if rules is None or self.processor == "awake" or not waits:',
        "supervised, busy",
    ),
    Fault(
        "a firmware that listens for an instant feeds nothing",
        "simulator",
        '            self.clock.drop("supervisor")\n            for',
        "            for",
        "supervised in sleep, busy",
    ),
    Fault(
        "a cut-off fills the hold-up",
        "simulator",
        'if kind not in ("hold-up", "cut-off"):',
        'if kind != "cut-off":',
        "cut off, latch",
    ),
    Fault(
        "a time per unit is drawn anew each time",
        "clock",
        "if span.of is None:",
        "if span.of is None or not span.of.counted:",
        "one value of each time",
    ),
    Fault(
        "each counted time is off by itself",
        "clock",
        "if span.of is None:",
        "if span.of is None or span.of.counted:",
        "one clock, sleeps on edge",
    ),
    Fault(
        "a slow clock takes a time for shorter",
        "clock",
        "one.lo * parts // PARTS",
        "one.lo * PARTS // parts",
        "one clock, sleeps on edge",
    ),
    Fault(
        "an edge doesn't begin a running debounce time anew",
        "simulator",
        '            self.clock.drop(f"debounce {name}")\n            if differs:',
        '            if self.clock.is_running(f"debounce {name}"):\n                return\n            if differs:',
        "sleeps on edge",
    ),
    Fault(
        "a level that comes back doesn't drop the debounce time",
        "simulator",
        '            self.clock.drop(f"debounce {name}")\n',
        "",
        "sleeps on edge",
    ),
    Fault(
        "a level is not read when the processor is ready",
        "simulator",
        "            for name in self.level:\n                self.read_edge(name)\n",
        "",
        "sleeps on level, press to press",
    ),
    Fault(
        "a debounce time goes on in sleep",
        "simulator",
        '        for kind in ("debounce", "lockout",',
        '        for kind in ("lockout",',
        "an idle button, slow steps",
    ),
    Fault(
        "a hold doesn't own its release",
        "presses",
        "        self.fire(only)",
        "        self.fire(only)\n        self.phase, self.press, self.reached = 'down', 1, None\n"
        "        self.possible = [g for g in self.gestures if g.presses == ('tap',)]",
        "never sleeps",
    ),
    Fault(
        "a tap may last for ever",
        "presses",
        "if not (self.is_tap(g) and g.press == span)",
        "if True",
        "sleeps on edge",
    ),
    Fault(
        "a tap doesn't wait for longer patterns",
        "presses",
        "        self.complete = whole[0] if whole else None\n",
        "        self.complete = None if any(self.may_have_more(g) for g in fitting) else whole[0] if whole else None\n"
        "        if whole and self.complete is None:\n            self.fire(whole[0])\n",
        "never sleeps",
    ),
    Fault(
        "the pause begins anew its limit from press to press",
        "presses",
        "            if not (gesture.between_presses and self.needs_more(gesture)):\n",
        "            if gesture.between_presses and gesture.between is not None:\n"
        "                self.limit('press to press', gesture.between, self.next_press_is_late)\n"
        "            if not (gesture.between_presses and self.needs_more(gesture)):\n",
        "sleeps on level, press to press",
    ),
    Fault(
        "a limit from press to press ends with the press",
        "presses",
        'for kind in ("tap limit", "hold", "repeat"):',
        'for kind in ("tap limit", "hold", "repeat", "press to press"):',
        "sleeps on level, press to press",
    ),
    Fault(
        "a finished pattern is lost when the pause is too long",
        "presses",
        "if complete is None:",
        "if complete is None or len(complete.presses) == 1:",
        "sleeps on edge",
    ),
    Fault(
        "a button that is down begins a press in the state entered",
        "simulator",
        "presses.state_entered(self.reading[button])",
        "presses.state_entered(False)\n            if self.reading[button]:\n                presses.goes_down(self.state)",
        "never sleeps",
    ),
    Fault(
        "a change of state doesn't forget what was begun",
        "simulator",
        "            presses.state_entered(self.reading[button])",
        "            pass",
        "never sleeps",
    ),
    Fault(
        "a hold fires at its time though a longer one may still come",
        "presses",
        "        if len(self.possible) > 1 or self.is_tap(only)",
        "        if self.is_tap(only)",
        "several holds",
    ),
    Fault(
        "a shorter hold goes on beside a longer one that is reached",
        "presses",
        "if gesture.held == span or gesture.held.lo > span.hi:",
        "if True:",
        "several holds",
    ),
    Fault(
        "a press fits a longer hold that wasn't reached",
        "presses",
        "self.is_tap(g) or g.held == self.reached",
        "self.is_tap(g) or self.reached is not None",
        "several holds",
    ),
    Fault(
        "a hold let go too early is one",
        "presses",
        "self.is_tap(g) or g.held == self.reached",
        "self.is_tap(g) or g.held == self.reached or self.reached is None",
        "several holds",
    ),
    Fault(
        "the hold that is reached drops those that are longer",
        "presses",
        "if gesture.held == span or gesture.held.lo > span.hi:",
        "if gesture.held == span:",
        "several holds",
    ),
    Fault(
        "a hold that waits fires at the release only, though nothing longer is possible any more",
        "presses",
        '        if self.phase == "down":\n            self.look_while_down()\n        elif not',
        "        if not",
        "holds at release",
    ),
    Fault(
        "a hold in the middle fires nothing and is forgotten",
        "presses",
        "        if self.needs_more(only) or only.at_release:\n            return\n",
        "        if only.at_release:\n            return\n"
        '        if self.needs_more(only):\n            self.begin_again("nobody")\n            return\n',
        "holds at release",
    ),
    Fault(
        "acting at release is acting at once",
        "presses",
        "if self.needs_more(only) or only.at_release:",
        "if self.needs_more(only):",
        "holds at release",
    ),
    Fault(
        "a hold repeats once only",
        "presses",
        "        self.repeat_later(gesture)\n        self.fire(gesture)",
        "        self.fire(gesture)",
        "several holds",
    ),
    Fault(
        "a hold repeats after its release",
        "presses",
        'for kind in ("tap limit", "hold", "repeat"):',
        'if self.phase == "repeating":\n            self.phase = "idle"\n            return\n'
        '        for kind in ("tap limit", "hold"):',
        "several holds",
    ),
    Fault(
        "a hold repeats though a state is entered",
        "presses",
        'if self.phase not in ("extra", "extra down"):',
        'if self.phase not in ("extra", "extra down", "repeating"):',
        "holds at release",
    ),
    Fault(
        "taps are swallowed once only",
        "presses",
        '        if self.phase == "extra down":\n            self.swallow()',
        '        if self.phase == "extra down":\n            self.begin_again("idle")',
        "taps swallowed",
    ),
    Fault(
        "a state that is entered ends the swallowing of taps",
        "presses",
        'if self.phase not in ("extra", "extra down"):',
        "if True:",
        "taps swallowed",
    ),
    Fault(
        "every gesture of taps swallows those after it",
        "presses",
        'if complete is self.largest and self.extra_taps == "swallowed":',
        'if len(complete.presses) > 1 and "hold" not in complete.presses and self.extra_taps == "swallowed":\n'
        "            self.largest = complete",
        "taps swallowed",
    ),
    Fault(
        "a swallowed press begins no new limit while the old one runs",
        "presses",
        '            self.drop("extra")\n            self.phase = "extra down"',
        '            self.phase = "extra down"',
        "taps swallowed",
    ),
    Fault(
        "swallowing doesn't keep awake",
        "simulator",
        'any(presses.phase != "idle" for presses in self.presses.values())',
        'any(presses.phase not in ("idle", "extra") for presses in self.presses.values())',
        "taps swallowed",
    ),
    Fault(
        "a hold that repeats doesn't keep a button from being ignored",
        "simulator",
        'waits = any(presses.phase in ("down", "pause", "repeating", "extra")',
        'waits = any(presses.phase in ("down", "pause", "extra")',
        "taps swallowed",
    ),
    Fault(
        "the largest count fires at once though more taps count as it",
        "presses",
        'return gesture is self.largest and self.extra_taps == "count as the largest"',
        "return False",
        "taps that count",
    ),
    Fault(
        "only one more tap counts as the largest",
        "presses",
        'return gesture is self.largest and self.extra_taps == "count as the largest"',
        'return (\n            gesture is self.largest\n            and self.extra_taps == "count as the largest"\n'
        "            and self.press <= len(gesture.presses)\n        )",
        "taps that count",
    ),
    Fault(
        "after the largest count the pause is counted from press to press too",
        "presses",
        "            if gesture.between_presses and self.needs_more(gesture):\n"
        "                assert gesture.between is not None\n"
        '                self.limit("press to press"',
        "            if gesture.between_presses and self.may_have_more(gesture):\n"
        "                assert gesture.between is not None\n"
        '                self.limit("press to press"',
        "taps that count",
    ),
    Fault(
        "the largest is that of all gestures, in use or not",
        "presses",
        'rows = [g for g in self.possible if len(g.presses) > 1 and "hold" not in g.presses]',
        'rows = [g for g in self.gestures if len(g.presses) > 1 and "hold" not in g.presses]',
        "taps that count",
    ),
    Fault(
        "every internal transition restarts timeouts",
        "simulator",
        "        if restarts:\n",
        "        if True:\n",
        "never sleeps",
    ),
    Fault(
        "no internal transition restarts timeouts",
        "simulator",
        "        if restarts:\n",
        "        if False:\n",
        "never sleeps",
    ),
    Fault(
        "a timeout with a button open goes on while it is pressed",
        "simulator",
        "if first.with_open is not None and self.reading[first.with_open]:",
        "if False:",
        "never sleeps",
    ),
    Fault(
        "a variable stops at its last value",
        "simulator",
        "values[place % len(values)] if variable.wraps else self.values[name]",
        "self.values[name]",
        "sleeps on edge",
    ),
    Fault(
        "a variable that stops goes round",
        "simulator",
        "values[place % len(values)] if variable.wraps else self.values[name]",
        "values[place % len(values)]",
        "groups",
    ),
    Fault(
        "the previous value is the next one", "simulator", "self.stepped(name, -1)", "self.stepped(name, 1)", "groups"
    ),
    Fault(
        "the first case always applies",
        "simulator",
        "if all(self.values[variable] in allowed for variable, allowed in named):",
        "if True:",
        "groups",
    ),
    Fault(
        "one part of a condition is enough",
        "simulator",
        "if all(self.values[variable] in allowed for variable, allowed in named):",
        "if not named or any(self.values[variable] in allowed for variable, allowed in named):",
        "groups",
    ),
    Fault(
        "what is done without leaving sets nothing",
        "simulator",
        "        self.values.update(line.set)\n",
        "        self.values.update(line.set if line.target else ())\n",
        "groups",
    ),
    Fault(
        "`keep` keeps nothing",
        "simulator",
        "                if name not in line.keep:\n",
        "                if True:\n",
        "groups",
    ),
    Fault(
        "entering a state from itself sets nothing",
        "simulator",
        "                if name not in line.keep:\n",
        "                if name not in line.keep and line.target != self.state.name:\n",
        "groups",
    ),
    Fault(
        "a group's times begin anew with each state of it",
        "simulator",
        'self.enter(line.target, left if not line.group else "")',
        "self.enter(line.target)",
        "groups",
    ),
    Fault(
        "a group's times go on after a shared line",
        "simulator",
        'self.enter(line.target, left if not line.group else "")',
        "self.enter(line.target, left)",
        "groups",
    ),
    Fault(
        "what a state's own line restarts are the group's times too",
        "simulator",
        'self.begin_timeouts(going_on=self.state.group if not line.group else "")',
        "self.begin_timeouts()",
        "groups",
    ),
    Fault(
        "what a shared line restarts are the state's own times only",
        "simulator",
        'self.begin_timeouts(going_on=self.state.group if not line.group else "")',
        "self.begin_timeouts(going_on=self.state.group)",
        "groups",
    ),
    Fault(
        "a time goes on though the variable that says it has changed",
        "simulator",
        "        self.begin_timeouts_of(changed)\n",
        "",
        "groups, never asleep",
    ),
    Fault(
        "a time that a variable says begins anew with every variable",
        "simulator",
        "            if cases[0].by in variables:",
        "            if cases[0].by and variables:",
        "groups, never asleep",
    ),
    Fault(
        "`every` comes once",
        "simulator",
        "if (case is None or case.target is None) and not",
        "if case is None and not",
        "groups",
    ),
    Fault(
        "a time over where no case applies is over for good",
        "simulator",
        "if (case is None or case.target is None) and not",
        "if case is not None and case.target is None and not",
        "groups",
    ),
    Fault(
        "a step of `every` begins all times anew",
        "simulator",
        "        if (case is None or case.target is None) and not",
        "        if case is not None and case.target is None:\n            self.begin_timeouts()\n"
        "        if (case is None or case.target is None) and not",
        "groups",
    ),
    Fault(
        "nothing is set at the beginning of a run",
        "simulator",
        "        self.values.update(self.state.on_entering)\n",
        "",
        "groups",
    ),
    Fault(
        "a variable starts as the first listed",
        "simulator",
        "{variable.name: first_value(variable) for variable in device.variables}",
        "{variable.name: variable.values[0] for variable in device.variables}",
        "groups",
    ),
    Fault(
        "a start sets what memory has kept",
        "simulator",
        "        self.values.update(self.device.state(state).on_entering)\n        self.values.update(kept)\n",
        "        self.values.update(kept)\n        self.values.update(self.device.state(state).on_entering)\n",
        "groups, cells",
    ),
    Fault(
        "a start sets nothing",
        "simulator",
        "        self.values.update(self.device.state(state).on_entering)\n",
        "",
        "groups, cells",
    ),
    Fault(
        "a step that changes nothing begins the time of quiet anew",
        "simulator",
        "if changed and self.store is not None:",
        "if self.store is not None:",
        "groups, two copies",
    ),
    Fault(
        "a cell never written holds the first listed value",
        "store",
        "return variable.starts_as if variable.starts_as else variable.values[0]",
        "return variable.values[0]",
        "groups, cells",
    ),
    Fault("the wake flag is not kept", "simulator", "self.flag = True", "self.flag = False", "sleeps on edge"),
    Fault(
        "the wake flag is never cleared",
        "simulator",
        "        if self.step == 1:\n            self.flag = False\n",
        "",
        "sleeps on edge",
    ),
    Fault(
        "the wake flag counts from the end of step 2 on",
        "simulator",
        "elif self.step > 1:",
        "elif self.step > 2:",
        "sleeps on edge",
    ),
    Fault(
        "the wake flag is not looked at in step 4",
        "simulator",
        "(self.flag or is_kept)",
        "is_kept",
        "sleeps on edge",
    ),
    Fault(
        "a button that stays down is never given up on",
        "simulator",
        "sleep.gives_up is None",
        "True",
        "slow steps, two sleeping states",
    ),
    Fault(
        "a button is given up on although its pattern is pending",
        "simulator",
        "self.step or waits or not held",
        "self.step or not held",
        "slow steps, two sleeping states",
    ),
    Fault(
        "a level is looked at in step 3 although its button is ignored",
        "simulator",
        "pending or self.level != self.reading",
        "pending or any(self.level.values())",
        "slow steps, two sleeping states",
    ),
    Fault(
        "a key doesn't feed a device whose latch is open",
        "simulator",
        "any(self.level[name] for name in latch.closed_by)",
        "False",
        "latch",
    ),
    Fault(
        "the latch is let go of at once",
        "simulator",
        'self.latch = "letting go" if',
        'self.latch = "open" if',
        "latch, cells, press counts",
    ),
    Fault(
        "levels are not looked at in step 3",
        "simulator",
        "return any(self.level.values()) or self.is_busy()",
        "return self.is_busy()",
        "sleeps on edge",
    ),
    Fault(
        "opening wakes a device that wakes on level",
        "simulator",
        '(sleep.on == "edge" or self.ignoring or self.waking_level())',
        "True",
        "sleeps on level, slow steps",
    ),
    Fault(
        "a pending pattern doesn't keep awake",
        "simulator",
        'any(self.reading.values()) or any(presses.phase != "idle" for presses in self.presses.values())',
        "any(self.reading.values())",
        "two buttons",
    ),
    Fault("a used hold-up time is not whole again", "simulator", '        self.clock.drop("hold-up")\n', "", "cells"),
    Fault(
        "a loss during start-up goes unnoticed",
        "simulator",
        'if self.processor != "off" or is_starting:',
        'if self.processor != "off":',
        "no memory",
    ),
    Fault(
        "a button held at power up counts",
        "simulator",
        "if self.device.power_up.held_ignored and",
        "if False and",
        "cells",
    ),
    Fault(
        "a button held at power up is always ignored",
        "simulator",
        "if self.device.power_up.held_ignored and",
        "if",
        "checksum",
    ),
    Fault(
        "a start into a sleeping state begins asleep",
        "simulator",
        '        self.processor = "awake"\n        self.enter(state)',
        '        self.processor = "asleep" if self.device.state(state).sleep else "awake"\n        self.enter(state)',
        "checksum",
    ),
    Fault(
        "a write ends at the loss of contact",
        "simulator",
        "        if not is_there:\n",
        "        if not is_there and self.store is not None:\n"
        "            self.store.loses_power()\n            self.clock.drop('write')\n        if not is_there:\n",
        "cells",
    ),
    Fault(
        "a write outlives the reset",
        "store",
        "    def loses_power(self) -> None:\n",
        "    def loses_power(self) -> None:\n        if self.writing is not None:\n            self._write_ends()\n",
        "two copies",
    ),
    Fault(
        "a cut cell keeps its old value",
        "store",
        "            self.cells[self.cell] = GARBAGE",
        "            pass",
        "cells",
    ),
    Fault(
        "a cut record stays whole with a checksum",
        "store",
        "            self.damaged = True",
        "            pass",
        "checksum, never sleeps",
    ),
    Fault(
        "two copies are both damaged by a cut",
        "store",
        'self.rules.guard == "checksum"',
        'self.rules.guard != "none"',
        "two copies",
    ),
    Fault(
        "a cell never written need not be written",
        "store",
        "if self.cells[name] != self.writing[name]:",
        "if (self._first_value(name) if self.cells[name] == NEVER_WRITTEN else self.cells[name]) != self.writing[name]:",
        "cells",
    ),
    Fault(
        "a waiting state is kept as itself",
        "store",
        "        while settled.waiting:",
        "        while False:",
        "checksum",
    ),
    Fault(
        "a waiting state is kept as the next one, though that waits too",
        "store",
        "        while settled.waiting:",
        "        if settled.waiting:",
        "checksum, never sleeps",
    ),
    Fault(
        "a change during a write is lost",
        "store",
        "            self.waits = self.in_force",
        "            pass",
        "two copies",
    ),
    Fault(
        "a change that waits is taken up after the last cell only",
        "store",
        "        if self.waits is not None:",
        "        if self.waits is not None and self.writing.items() <= self.cells.items():",
        "cells",
    ),
    Fault(
        "of changes that wait the newest is written, though it isn't due",
        "store",
        "            self.writing = self.waits",
        "            self.writing = self.in_force",
        "cells of values, quiet",
    ),
    Fault(
        "of changes that wait the first is written",
        "store",
        "            self.waits = self.in_force",
        "            self.waits = self.waits or self.in_force",
        "two copies",
    ),
    Fault(
        "a change doesn't begin the time of quiet anew",
        "store",
        '            self.clock.begin("quiet"',
        '            if not self.clock.is_running("quiet"):\n                self.clock.begin("quiet"',
        "cells of values, quiet",
    ),
    Fault(
        "what memory holds is written again",
        "store",
        "elif self.damaged or self.record != self.writing:",
        "elif self.record is not self.writing:",
        "checksum",
    ),
    Fault(
        "an event is seen although the firmware is busy",
        "simulator",
        "        if self.listens():\n            self.see(event)",
        '        if self.processor == "awake":\n            self.see(event)',
        "events",
    ),
    Fault(
        "an event that wakes is lost",
        "simulator",
        "            if counts and not self.kept:",
        "            if False:",
        "events",
    ),
    Fault(
        "an event that only wakes is kept",
        "simulator",
        "            if counts and not self.kept:",
        "            if not self.kept:",
        "events",
    ),
    Fault(
        "of several events while it wakes the last is kept",
        "simulator",
        "            if counts and not self.kept:",
        "            if counts:",
        "events",
    ),
    Fault(
        "every event wakes",
        "simulator",
        "event in sleep.woken_by_events and ",
        "",
        "events",
    ),
    Fault(
        "an event doesn't set the wake flag",
        "simulator",
        "        self.flag = self.flag or (is_waking and is_awake and self.step > 1)\n",
        "",
        "events",
    ),
    Fault(
        "an event wakes from a depth that only a level wakes",
        "simulator",
        'event in sleep.woken_by_events and self.wakes_by("edge")',
        "event in sleep.woken_by_events",
        "events",
    ),
    Fault(
        "an edge wakes from a depth that only a level wakes",
        "simulator",
        "return depth is None or kind in depth.woken_by",
        "return True",
        "events, deep sleep",
    ),
    Fault(
        "a kept event is seen before the firmware listens",
        "simulator",
        '        self.clock.tell("awake")\n',
        '        self.clock.tell("awake")\n        kept, self.kept = self.kept, ""\n        if kept:\n'
        "            self.see(kept)\n",
        "events, deaf writes of cells",
    ),
    Fault("a kept event outlives a reset", "simulator", '        self.kept = ""\n', "", "events, deaf writes"),
    Fault(
        "a busy firmware reads edges",
        "simulator",
        "        if self.listens():\n            self.read_edge(name)",
        '        if self.processor == "awake":\n            self.read_edge(name)',
        "events",
    ),
    Fault(
        "a debounce time goes on while the firmware is deaf",
        "simulator",
        "                self.stops_reading()\n                continue",
        '                if self.processor != "awake":\n                    self.stops_reading()\n                continue',
        "events",
    ),
    Fault(
        "a busy time ends when another state is entered",
        "simulator",
        "        if self.state.busy is not None:",
        '        self.clock.drop("busy")\n        if self.state.busy is not None:',
        "events",
    ),
    Fault(
        "a deaf firmware begins to go to sleep",
        "simulator",
        "self.is_busy() or self.is_deaf()",
        "self.is_busy()",
        "events, deaf writes",
    ),
    Fault(
        "a deaf firmware passes step 3",
        "simulator",
        "self.looks_busy() or self.flag or self.is_deaf()",
        "self.looks_busy() or self.flag",
        "events, deaf writes of cells",
    ),
    Fault(
        "the firmware listens while it writes",
        "simulator",
        "return writes or self.clock",
        "return self.clock",
        "events, deaf writes",
    ),
    Fault(
        "the cell is fine as soon as it isn't low",
        "simulator",
        'self.voltage == "above" if',
        'self.voltage != "below" if',
        "events",
    ),
    Fault(
        "the cell is low as soon as it isn't fine",
        "simulator",
        'else self.voltage == "below"',
        'else self.voltage != "above"',
        "events",
    ),
    Fault(
        "the time until the cell is read goes on in sleep",
        "simulator",
        'is_new:\n            self.clock.drop("read cell")',
        "is_new:\n            pass",
        "events",
    ),
    Fault(
        "that the cell was low is known after a reset",
        "simulator",
        "        self.is_low = False\n        self.did_listen",
        "        self.did_listen",
        "events, deaf writes",
    ),
    Fault(
        "what differs at the end of a lockout waits for the next edge",
        "simulator",
        "button.lockout, lambda: self.read_edge(name))",
        "button.lockout, lambda: None)",
        "lockout",
    ),
    Fault(
        "what is accepted at the end of a lockout begins none",
        "simulator",
        "button.lockout, lambda: self.read_edge(name))",
        "button.lockout, lambda: self.level[name] != self.reading[name] and self.accept(name))",
        "lockout shorter than the chatter",
    ),
    Fault(
        "an edge begins a lockout anew",
        "simulator",
        """            if differs and not self.clock.is_running(f"lockout {name}"):\n""",
        """            if self.clock.is_running(f"lockout {name}"):\n"""
        """                self.clock.begin(f"lockout {name}", button.lockout, lambda: self.read_edge(name))\n"""
        """            elif differs:\n""",
        "lockout",
    ),
    Fault(
        "a lockout outlives falling asleep",
        "simulator",
        'for kind in ("debounce", "lockout",',
        'for kind in ("debounce",',
        "an idle button with a lockout, slow steps",
    ),
    Fault(
        "the first sample comes after a whole period",
        "simulator",
        "within = Span(0, button.samples.every.hi)",
        "within = button.samples.every",
        "samples",
    ),
    Fault(
        "a sample that doesn't differ leaves the count",
        "simulator",
        "            self.count[name] = 0\n            return",
        """            self.clock.begin(f"sample {name}", rule.every, lambda: self.sample(name, rule))\n"""
        """            return""",
        "samples",
    ),
    Fault(
        "a level that comes back makes the count 0 at once",
        "simulator",
        "            if not differs and not self.count[name]:\n",
        """            if not differs:\n                self.count[name] = 0\n"""
        """                self.clock.drop(f"sample {name}")\n""",
        "samples",
    ),
    Fault(
        "one sample more is needed",
        "simulator",
        "if self.count[name] == rule.count:",
        "if self.count[name] > rule.count:",
        "one sample",
    ),
    Fault(
        "samples are counted on in sleep",
        "simulator",
        'for kind in ("debounce", "lockout", "first sample", "sample"):',
        'for kind in ("debounce", "lockout"):',
        "an idle sampled button, slow steps",
    ),
    Fault(
        "a pattern outlives falling asleep",
        "simulator",
        '                self.presses[name].begin_again("nobody" if self.reading[name] else "idle")',
        "                pass",
        "two buttons, one rubbed, slow steps",
    ),
    Fault(
        "of a chord the presses are their own buttons' too",
        "chords",
        "            self.disown(button)\n        if chord.held",
        "        if chord.held",
        "a chord",
    ),
    Fault(
        "a chord may be joined however late",
        "chords",
        "lambda c=chord: self.too_late(c)",
        "lambda: None",
        "a chord",
    ),
    Fault(
        "a press whose own gesture fired may be joined",
        "simulator",
        "            self.chords.cannot_join(gesture.button)\n",
        "            pass\n",
        "a slow chord",
    ),
    Fault(
        "a press from before a change of state may be joined",
        "simulator",
        "        self.chords.state_is_entered()\n",
        "",
        "a slow chord",
    ),
    Fault(
        "a button that was let go may be joined",
        "chords",
        "    def goes_up(self, button: str) -> None:\n        self.cannot_join(button)\n",
        "    def goes_up(self, button: str) -> None:\n",
        "a slow chord",
    ),
    Fault(
        "a chord is over when one button is let go",
        "chords",
        "if not any(self.reading[name] for name in chord.buttons):",
        "if True:",
        "a chord",
    ),
    Fault(
        "a chord is held by one of its buttons",
        "chords",
        '                self.clock.drop(f"held together {chord.name}")\n                if not',
        "                if not",
        "a chord held",
    ),
    Fault(
        "a chord that is held counts at once",
        "chords",
        "if chord.held is None:",
        "if True:",
        "a chord held",
    ),
    Fault(
        "a chord's button may be joined in another chord meanwhile",
        "chords",
        "                self.disown(button)\n                return",
        "                self.disown(button)",
        "two chords of three buttons",
    ),
    Fault(
        "of two chords the last in the file is joined",
        "chords",
        "        for chord in mine:\n            other",
        "        for chord in reversed(mine):\n            other",
        "two chords of three buttons",
    ),
    Fault(
        "a chord counts in every state",
        "chords",
        "if chord.name in used and button",
        "if button",
        "a chord held",
    ),
)
"""Each must make the comparison fail."""
