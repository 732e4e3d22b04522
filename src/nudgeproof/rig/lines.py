"""A program that speaks the line protocol, pressed, cut from power and recorded as C firmware is.

What the harness is to C firmware (`harness/rig.c`) this is to a program: supply, hold-up, starts, a latch, memory whose
bytes are garbage while they are written, and the record; to the microsecond and the byte the same. The time between is
the program's.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path
from typing import Final

from nudgeproof.rig.protocol import (
    Hello,
    Misbehaves,
    Now,
    Shows,
    Writes,
    quote,
    read_said,
    tell_cut,
    tell_levels,
    tell_start,
)
from nudgeproof.rig.run import Limits, Run
from nudgeproof.rig.settings import SUPPLY, Settings
from nudgeproof.rig.stimulus import Stimulus
from nudgeproof.rig.talk import Printed, Talk

ANSWERS_S: Final = 10.0
"""How long an answer may take if nothing is said."""

_GRACE_S: Final = 1.0
_NEVER: Final = 2**63


def run_program(
    settings: Settings,
    folder: Path,
    stimulus: Stimulus,
    memory: bytes = b"",
    seed: int = 0,
    limits: Limits | None = None,
) -> Run:
    """One recording of the program that `settings` names, started in `folder`; as `run` is for C firmware.

    Raises `CantBuild` if it can't be started.
    """
    limits = limits or Limits()
    printed = Printed(limits.said)
    answers_s = settings.answers_us / 1e6 or ANSWERS_S
    # A driver of real things takes the time that it takes; who says how long an answer may last has said so.
    until = None if settings.answers_us else time.monotonic() + limits.wall_ms / 1000
    world = _World(settings, stimulus, memory, seed, limits)
    control = _Control(world, lambda: Talk(settings.program, folder, answers_s, until, printed))
    finding = detail = ""
    try:
        control.run()
    except Misbehaves as misbehaviour:
        finding, detail = misbehaviour.finding, misbehaviour.detail
    finally:
        control.end()
    return Run(world.recording(), bytes(world.memory), str(printed), finding, detail)


class _World:
    """What is outside the controller, and what outlasts a power cut: time, inputs, supply, memory, the record."""

    def __init__(self, settings: Settings, stimulus: Stimulus, memory: bytes, seed: int, limits: Limits) -> None:
        self.power, self.write_us, self.seed, self.limits = settings.power, settings.write_us, seed, limits
        self.names = [channel.name for channel in settings.channels]
        self.bit = {name: 1 << i for i, name in enumerate(self.names)}
        outputs = [channel.name for channel in settings.channels if channel.kind in ("out", "asleep")]
        self.inputs = [channel.name for channel in settings.channels if channel.kind == "in"]
        self.outputs = {name: self.bit[name] for name in outputs}
        self.outputs_mask = sum(self.outputs.values())
        self.closed_by = sum(self.bit[name] for name in self.power.closed_by)
        self.latch = 0 if self.power.latch is None else self.outputs[outputs[self.power.latch]]
        self.changes, self.next_change, self.end_us = stimulus.changes, 0, stimulus.end_us
        self.memory = bytearray(memory[: settings.bytes].ljust(settings.bytes, b"\xff"))
        self.writing: dict[int, tuple[int, int]] = {}
        self.now, self.cut_us, self.latch_ends_us = 0, _NEVER, 0
        self.levels, self.noted = self.bit[SUPPLY], 0
        self.is_fed = self.runs = self.feeds_itself = False
        self.rows: list[tuple[int, int]] = []

    def begin(self) -> None:
        """Time 0: what happens then has happened."""
        self._happen()
        self.is_fed = self._look_fed()
        self.note()

    def level(self, name: str) -> bool:
        """What a channel shows now."""
        return bool(self.levels & self.bit[name])

    def next_us(self) -> int:
        """When the next thing happens by itself, outside; at last the end."""
        at = self.changes[self.next_change].at_us if self.next_change < len(self.changes) else _NEVER
        latch = self.latch_ends_us if self.latch_ends_us > self.now else _NEVER
        return min(at, self.cut_us, latch, self.end_us)

    def inputs_at(self, at_us: int) -> dict[str, bool]:
        """The inputs that change at a time that is next."""
        found, i = dict[str, bool](), self.next_change
        while i < len(self.changes) and self.changes[i].at_us <= at_us:
            change = self.changes[i]
            if self.feeds_itself or change.channel != SUPPLY:
                found[change.channel] = change.level
            i += 1
        return found

    def advance(self, until_us: int) -> bool:
        """Time goes on, with all that is due; whether there is power then, and it isn't the end."""
        while True:
            self.now = max(self.now, min(self.next_us(), until_us))
            self._finish_writes()
            if self.latch_ends_us and self.latch_ends_us <= self.now:
                self.latch_ends_us = 0
                self._watch_supply()
            self._happen()
            if self.cut_us <= self.now or self.end_us <= self.now:
                return False
            if self.now >= until_us:
                return True

    def wait_for_power(self) -> bool:
        """Go on to the next start; False if the end comes first."""
        starts = _NEVER
        while True:
            if starts == _NEVER and self.is_fed:
                starts = self.now + self.power.starts_us
            if starts <= self.now:
                return True
            self.now = max(self.now, min(self.next_us(), starts))
            if self.latch_ends_us <= self.now:
                self.latch_ends_us = 0
            self._happen()
            self._watch_supply()
            if self.cut_us <= self.now:
                starts, self.cut_us = _NEVER, _NEVER
            if self.end_us <= self.now:
                return False

    @property
    def is_cut(self) -> bool:
        """Whether power is gone, or goes now."""
        return self.cut_us <= self.now

    def start(self) -> bool:
        """Power is up; whether it still is now that what is due has happened."""
        self.runs = True
        self._watch_supply()
        is_up = self.advance(self.now)
        if is_up:
            self.note()
        return is_up

    def cut(self) -> None:
        """Power is gone: outputs are off, and what was being written stays as it is."""
        self.runs = self.is_fed = False
        self.levels &= ~self.outputs_mask
        self.writing.clear()
        self.latch_ends_us, self.cut_us = 0, _NEVER
        self.is_fed = self._look_fed()
        self.note()

    def show(self, levels: dict[str, int]) -> None:
        """Outputs come to levels now."""
        before = self.levels
        for name, level in levels.items():
            if level:
                self.levels |= self.outputs[name]
            else:
                self.levels &= ~self.outputs[name]
        if (before ^ self.levels) & self.latch:
            if before & self.latch:
                self.latch_ends_us = self.now + self.power.lets_go_us
            self._watch_supply()
        self.note()

    def write(self, address: int, byte: int) -> None:
        """A byte begins to be written: until it is, it is garbage."""
        if not self.write_us:
            self.memory[address] = byte
            return
        self.memory[address] = _garbage(self.seed, self.now, address)
        self.writing[address] = (byte, self.now + self.write_us)

    def note(self) -> None:
        """The levels as they are now belong in the record."""
        if self.rows and self.levels == self.noted:
            return
        self.noted = self.levels
        if self.rows and self.rows[-1][0] == self.now:
            self.rows.pop()
        elif len(self.rows) == self.limits.rows:
            if self.runs:
                raise Misbehaves("floods", "more changes than are recorded")
            return
        self.rows.append((self.now, self.levels))

    def recording(self) -> str:
        """The record as a table."""
        rows = list(self.rows)
        if rows and rows[-1][0] != self.now:
            rows.append((self.now, self.noted))
        lines = [",".join(["time_us", *self.names])]
        bits = list(self.bit.values())
        lines += [f"{at},{','.join(['1' if levels & bit else '0' for bit in bits])}" for at, levels in rows]
        return "\n".join(lines) + "\n"

    def _happen(self) -> None:
        while self.next_change < len(self.changes) and self.changes[self.next_change].at_us <= self.now:
            change = self.changes[self.next_change]
            self.next_change += 1
            if change.level:
                self.levels |= self.bit[change.channel]
            else:
                self.levels &= ~self.bit[change.channel]
            self._watch_supply()
            self.note()

    def _look_fed(self) -> bool:
        if self.feeds_itself:
            return True
        if not self.level(SUPPLY):
            return False
        if not self.latch or (self.runs and self.levels & self.latch):
            return True
        return self.now < self.latch_ends_us or bool(self.levels & self.closed_by)

    def _watch_supply(self) -> None:
        fed = self._look_fed()
        if fed:
            self.cut_us = _NEVER
        elif self.is_fed:
            self.cut_us = self.now + self.power.hold_up_us
        self.is_fed = fed

    def _finish_writes(self) -> None:
        for address, (byte, by_us) in tuple(self.writing.items()):
            if by_us <= self.now:
                self.memory[address] = byte
                del self.writing[address]


def _garbage(seed: int, now: int, address: int) -> int:
    """What a byte is while it is written: as in the harness."""
    mask = 2**64 - 1
    x = ((seed << 32 ^ now << 16 ^ address) & mask) * 0x9E3779B97F4A7C15 & mask
    return (x ^ x >> 29) * 0xBF58476D1CE4E5B9 >> 32 & 0xFF


class _Control:
    """The dialogue with the program through all power-ups of one recording."""

    def __init__(self, world: _World, begin: Callable[[], Talk]) -> None:
        self.world, self.begin = world, begin
        self.talk: Talk | None = None
        self.hello: Hello | None = None
        self.told_us = self.said = 0

    def run(self) -> None:
        """All of the recording; raises `Misbehaves`."""
        world = self.world
        hello = self._meet()
        world.feeds_itself = hello.cut == "own"
        world.begin()
        while world.feeds_itself or world.wait_for_power():
            if world.start():
                self._power_up()
                if world.is_cut:
                    self._power_down(hello)
            if not world.is_cut:
                return
            world.cut()

    def end(self) -> None:
        """Whatever is left of the program."""
        if self.talk is not None:
            # What outlasts a power cut may drive real things, and have something to put away.
            outlasts = self.hello is not None and self.hello.cut != "ends"
            self.talk.end(_GRACE_S if outlasts else 0)

    def _meet(self) -> Hello:
        self.talk = self.begin()
        line = self.talk.read_line()
        hello = read_said(line)
        if not isinstance(hello, Hello):
            raise Misbehaves("no message", f"it begins with something else than its hello: {quote(line)}")
        if self.hello is not None and hello != self.hello:
            raise Misbehaves("no message", f"its hello isn't the one of its first start: {quote(line)}")
        for name in self.world.outputs:
            if name not in hello.outputs:
                raise Misbehaves("lacks an output", f"its hello doesn't name {quote(name.encode())}")
        self.hello = hello
        return hello

    def _power_up(self) -> None:
        world = self.world
        if self.talk is None:
            self._meet()
        names = [SUPPLY, *world.inputs] if world.feeds_itself else world.inputs
        levels = {name: world.level(name) for name in names}
        goes_on = self._ask(world.now, tell_start(world.now, levels, bytes(world.memory) or None))
        while goes_on:
            at = world.next_us()
            goes_on = self._ask(at, tell_levels(at, world.inputs_at(at)))

    def _power_down(self, hello: Hello) -> None:
        if hello.cut == "told":
            self._ask(self.world.now, tell_cut(self.world.now), is_deaf=True)
        elif self.talk is not None:
            # As power goes: without a warning.
            self.talk.end()
            self.talk = None

    def _ask(self, at_us: int, message: bytes, is_deaf: bool = False) -> bool:
        """One message and its answer; whether there is power at its end, and it isn't the end of the recording.

        What is told of moments without power is passed over, and so is everything if `is_deaf`.
        """
        assert self.talk is not None
        world, goes_on = self.world, not is_deaf
        self.told_us = world.now
        self.talk.tell(message)
        while True:
            line = self.talk.read_line()
            said = read_said(line)
            if isinstance(said, Hello):
                raise Misbehaves("no message", f"its hello comes a second time: {quote(line)}")
            if said.at_us > at_us:
                raise Misbehaves("runs ahead", f"it was to run to {at_us} and says {quote(line)}")
            if isinstance(said, Now):
                if said.at_us < at_us:
                    raise Misbehaves("stops short", f"it was to run to {at_us} and says {quote(line)}")
                return world.advance(at_us) if goes_on else False
            if said.at_us < self.told_us:
                raise Misbehaves("goes back", f"it told of {self.told_us} already and says {quote(line)}")
            self.told_us = said.at_us
            self.said += 1
            if self.said > world.limits.rows:
                raise Misbehaves("floods", "it tells of more changes than are recorded")
            self._check(said, line)
            goes_on = goes_on and world.advance(said.at_us)
            if goes_on:
                self._apply(said)

    def _check(self, said: Shows | Writes, line: bytes) -> None:
        assert self.hello is not None
        if isinstance(said, Writes):
            if said.address >= len(self.world.memory):
                raise Misbehaves("asks amiss", f"memory has {len(self.world.memory)} bytes; it says {quote(line)}")
            return
        for name in said.levels:
            if name not in self.hello.outputs:
                raise Misbehaves("unknown output", f"its hello doesn't name {quote(name.encode('utf-8', 'replace'))}")

    def _apply(self, said: Shows | Writes) -> None:
        if isinstance(said, Writes):
            self.world.write(said.address, said.byte)
        else:
            wired = {name: level for name, level in said.levels.items() if name in self.world.outputs}
            if wired:
                self.world.show(wired)
