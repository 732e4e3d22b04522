"""A firmware on the rig, pressed by hand: what is done to it is written down, and time goes on with each act.

Whoever looks at it sees a run of all that was done so far, from power-up to now. The same acts give the same run, to the
microsecond, so a longer one begins with the shorter one.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from typing import TYPE_CHECKING

from nudgeproof.rig.settings import SUPPLY, Settings
from nudgeproof.testing.judged import Followed, Misbehaves, judge, told_plainly
from nudgeproof.testing.times import whole_us

if TYPE_CHECKING:
    from nudgeproof.firmware.mapping import Map
    from nudgeproof.firmware.recording import Recording
    from nudgeproof.rig.prepare import Prepared
    from nudgeproof.rig.run import Run
    from nudgeproof.spec.notes import Notes


class Board:
    """A device that got power at time 0, its contacts open. Names are those of `rig.yaml`, times whole microseconds.

    `now_us`: how long it has had, or would have had, power.
    """

    def __init__(
        self, settings: Settings, firmware: Prepared, seed: int, path: Callable[[str | os.PathLike[str]], str]
    ):
        self.now_us = 0
        self._settings, self._firmware, self._seed, self._path = settings, firmware, seed, path
        self._levels = {one.name: one.kind == SUPPLY for one in settings.channels if one.kind in (SUPPLY, "in")}
        self._changed = dict.fromkeys(self._levels, -1)
        self._changes: list[tuple[int, str, bool]] = []
        self._seen: tuple[int, Run] | None = None

    @told_plainly
    def wait(self, time: float) -> None:
        """Let time pass."""
        self.now_us += whole_us(time)

    @told_plainly
    def press(self, name: str, time: float) -> None:
        """Close a button, or switch another input on, for a time; then it is open again, at that very moment."""
        lasts_us = whole_us(time, 1)
        self.close(name)
        self.now_us += lasts_us
        self.open(name)

    @told_plainly
    def close(self, name: str) -> None:
        """Close a button, or switch another input on, and leave it so."""
        self._set(name, True)

    @told_plainly
    def open(self, name: str) -> None:
        """Open a button, or switch another input off."""
        self._set(name, False)

    @told_plainly
    def cut(self, time: float) -> None:
        """Take the cell away for a time; then it is there again, at that very moment."""
        lasts_us = whole_us(time, 1)
        self._set(SUPPLY, False)
        self.now_us += lasts_us
        self._set(SUPPLY, True)

    @property
    @told_plainly
    def outputs(self) -> dict[str, bool]:
        """Each output of `rig.yaml`, and whether it is on now; raises `Misbehaves`."""
        kinds = [one.kind for one in self._settings.channels]
        last = self.recording.rstrip("\n").rpartition("\n")[2].split(",")[1:]
        named = zip(self._settings.channels, kinds, last, strict=True)
        return {one.name: level == "1" for one, kind, level in named if kind in ("out", "asleep")}

    @property
    @told_plainly
    def recording(self) -> str:
        """All levels from power-up to now, as the table that `nudgeproof rig` writes; raises `Misbehaves`."""
        return self._look().recording

    @property
    @told_plainly
    def memory(self) -> bytes:
        """The bytes in its memory now; raises `Misbehaves`."""
        return self._look().memory

    @property
    @told_plainly
    def said(self) -> str:
        """What the firmware printed; raises `Misbehaves`."""
        return self._look().said

    @told_plainly
    def follow(self, spec: str | os.PathLike[str], map: str | os.PathLike[str], effort: str = "usual") -> Followed:
        """Follow the recording up to now by a spec: may a device of the spec do that? Raises `Misbehaves`."""
        from nudgeproof.firmware.recording import read_csv
        from nudgeproof.performing import check_wires

        text = self.recording

        def read(what: Map, notes: Notes) -> Recording:
            check_wires(what, self._settings, notes)
            return read_csv(text, "the board", what.wanted, notes)

        return judge(self._path(spec), self._path(map), "the board", read, effort)

    def _set(self, name: str, level: bool) -> None:
        known = ", ".join(one for one in self._levels if one != SUPPLY) or "none"
        if name not in self._levels:
            raise ValueError(f"{self._settings.file} has no button or input `{name}`; it has {known}")
        if self._levels[name] is level:
            raise ValueError(f"`{name}` is {_word(name, level)} already")
        if self._changed[name] == self.now_us:
            raise ValueError(f"`{name}` has changed at {self.now_us} us already; let time pass in between")
        self._levels[name], self._changed[name] = level, self.now_us
        self._changes.append((self.now_us, name, level))
        self._seen = None

    def _look(self) -> Run:
        """The run up to now."""
        from nudgeproof.rig.run import FINDINGS
        from nudgeproof.rig.stimulus import Change, Stimulus

        if self._seen is None or self._seen[0] != self.now_us:
            changes = tuple(Change(*change) for change in self._changes)
            found = self._firmware.run(self._settings, Stimulus(changes, max(1, self.now_us)), b"", self._seed)
            self._seen = (self.now_us, found)
        found = self._seen[1]
        if found.finding:
            end = found.recording.rstrip("\n").rpartition("\n")[2].split(",")[0]
            detail = f"; {found.detail}" if found.detail else ""
            raise Misbehaves(f"{found.finding}: {FINDINGS[found.finding]}{detail} (after {end} us)")
        return found


def _word(name: str, level: bool) -> str:
    if name == SUPPLY:
        return "there" if level else "away"
    return "closed" if level else "open"
