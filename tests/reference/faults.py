"""Plausible misreadings of the rules, each planted into a copy of the naive simulator."""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType
from typing import Final

from tests.reference import chords, presses, simulator, store
from tests.reference.clock import Seen

_MODULES: Final = {"chords": chords, "presses": presses, "simulator": simulator, "store": store}
_CLASSES: Final = {"chords": "Chords", "presses": "Presses", "store": "Store"}

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
        'self.clock.tell("awake")\n',
        'self.clock.tell("awake")\n        return\n',
        "sleeps on level, press to press",
    ),
    Fault(
        "a debounce time goes on in sleep",
        "simulator",
        'for kind in ("debounce", "lockout",',
        'for kind in ("lockout",',
        "an idle button, slow steps",
    ),
    Fault(
        "a hold doesn't own its release",
        "presses",
        "        self.fire(held)",
        "        self.fire(held)\n        self.phase, self.press = 'down', 1\n"
        "        self.possible = [g for g in self.gestures if g.taps == 1 and g.held is None]",
        "never sleeps",
    ),
    Fault(
        "a tap may last for ever",
        "presses",
        "if not (self.press <= g.taps and g.press == span)",
        "if True",
        "sleeps on edge",
    ),
    Fault(
        "a tap doesn't wait for longer patterns",
        "presses",
        '        self.phase = "pause"\n        self.complete = finished[0] if finished else None\n',
        '        self.phase = "pause"\n        self.complete = None\n'
        "        if finished:\n            self.fire(finished[0])\n",
        "never sleeps",
    ),
    Fault(
        "the pause begins anew its limit from press to press",
        "presses",
        "            if not gesture.between_presses:\n",
        "            if gesture.between_presses and gesture.between is not None:\n"
        "                self._limit('press to press', gesture.between, self._next_press_is_late)\n"
        "            if not gesture.between_presses:\n",
        "sleeps on level, press to press",
    ),
    Fault(
        "a limit from press to press ends with the press",
        "presses",
        '        self.clock.drop_all(f"hold {self.name}:")\n        if',
        '        self.clock.drop_all(f"hold {self.name}:")\n'
        '        self.clock.drop_all(f"press to press {self.name}:")\n        if',
        "sleeps on level, press to press",
    ),
    Fault(
        "a finished pattern is lost when the pause is too long",
        "presses",
        "if complete is not None and not is_down",
        "if False",
        "sleeps on edge",
    ),
    Fault(
        "a button that is down begins a press in the state entered",
        "simulator",
        "presses.forget(self.reading[button])",
        "presses.forget(False)\n            if self.reading[button]:\n                presses.goes_down(self.state)",
        "never sleeps",
    ),
    Fault(
        "a change of state doesn't forget what was begun",
        "simulator",
        "            presses.forget(self.reading[button])",
        "            pass",
        "never sleeps",
    ),
    Fault(
        "every internal transition restarts timeouts",
        "simulator",
        "if transition.restarts:",
        "if True:",
        "never sleeps",
    ),
    Fault(
        "no internal transition restarts timeouts", "simulator", "if transition.restarts:", "if False:", "never sleeps"
    ),
    Fault(
        "a timeout with a button open goes on while it is pressed",
        "simulator",
        "if timeout.with_open is not None and self.reading[timeout.with_open]:",
        "if False:",
        "never sleeps",
    ),
    Fault(
        "a variable stops at its last value",
        "simulator",
        "values[(values.index(self.values[name]) + 1) % len(values)]",
        "values[min(values.index(self.values[name]) + 1, len(values) - 1)]",
        "sleeps on edge",
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
        "(self.flag or (self.state.sleep.on",
        "((self.state.sleep.on",
        "sleeps on edge",
    ),
    Fault(
        "levels are not looked at in step 3",
        "simulator",
        "any(self.level.values()) or self.is_busy() or self.flag",
        "self.is_busy() or self.flag",
        "sleeps on edge",
    ),
    Fault(
        "opening wakes a device that wakes on level",
        "simulator",
        '(sleep.on == "edge" or self.waking_level())',
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
        "                self.presses[name].forget(self.reading[name])",
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
