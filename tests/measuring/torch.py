"""A torch in a few lines, as a function from acts to a recording: its times are known, so what is measured can be compared.

Hold: on and off. A tap changes between dim and bright once no second one comes; two taps make it dark.
It goes off by itself.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from nudgeproof.firmware.acts import CELL, Acts, edges_of
from nudgeproof.firmware.performed import PLAIN, Performed, Setup
from nudgeproof.firmware.recording import Change, Recording

DARK, DIM, BRIGHT = range(3)


@dataclass
class Torch:
    """Times in microseconds. `keeps`: what it shows is there again after a cut. `breaks`: it crashes at so many taps."""

    filter_us: int = 20_000
    press_us: int = 400_000
    between_us: int = 300_000
    held_us: int = 1_000_000
    off_us: int = 9_000_000
    boot_us: int = 50_000
    hold_up_us: int = 5_000
    keeps: bool = False
    breaks: int = 0

    def perform(self, acts: Acts, end_us: int, setup: Setup = PLAIN) -> Performed:
        """What is seen on `dim` and `bright` by these acts."""
        edges = edges_of(acts)
        turns: list[tuple[int, int]] = [(0, DARK)]
        begin, shown = 0, DARK
        cuts = [edge for edge in edges if edge.kind == CELL]
        noticed = [a for a, b in zip(cuts[::2], cuts[1::2], strict=True) if b.at_us - a.at_us > self.hold_up_us]
        for cut in [*noticed, None]:
            stop = end_us if cut is None else min(end_us, cut.at_us + self.hold_up_us)
            contacts = [(edge.at_us, edge.on) for edge in edges if edge.kind != CELL]
            shown = self.run(begin + self.boot_us, stop, contacts, turns, shown if self.keeps else DARK)
            if cut is None or stop == end_us:
                break
            back = next(edge.at_us for edge in edges if edge.kind == CELL and not edge.on and edge.at_us > cut.at_us)
            turns.append((stop, DARK))
            begin = back
        changes = [
            Change(e.at_us, "supply" if e.kind == CELL else "key", e.on != (e.kind == CELL))
            for e in edges
            if e.at_us < end_us
        ]
        for (_, before), (at, now) in pairwise(turns):
            for name, level in (("dim", DIM), ("bright", BRIGHT)):
                if (before == level) != (now == level) and at < end_us:
                    changes.append(Change(at, name, now == level))
        first = (("key", False), ("supply", True), ("dim", False), ("bright", False))
        finding = "crashes" if self.breaks and len(turns) > self.breaks else ""
        return Performed(Recording("torch", first, tuple(sorted(changes)), end_us), "", finding)

    def readings(self, begin: int, contacts: list[tuple[int, bool]]) -> list[tuple[int, bool]]:
        """The edges as they are read: a level counts once it was steady for the filter's time."""
        reading = next((on for at, on in reversed(contacts) if at <= begin), False)
        found = [(begin, True)] if reading else []
        for i, (at, on) in enumerate(contacts):
            until = contacts[i + 1][0] if i + 1 < len(contacts) else at + self.filter_us + 1
            if until - at > self.filter_us and at + self.filter_us > begin and on != reading:
                found.append((at + self.filter_us, on))
                reading = on
        return found

    def run(
        self, begin: int, stop: int, contacts: list[tuple[int, bool]], turns: list[tuple[int, int]], state: int
    ) -> int:
        """One life between two cuts; what it showed at its end."""
        entered, taps, down, up, nobody = begin, 0, -1, -1, True
        if state != DARK:
            turns.append((begin, state))
        queue = [one for one in self.readings(begin, contacts) if one[0] < stop]
        if queue and queue[0][0] == begin:
            queue.pop(0)
            down = begin
        while True:
            due: list[tuple[int, str]] = []
            if down >= 0 and not nobody:
                due.append((down + self.held_us, "hold"))
            if down < 0 and taps:
                due.append((up + self.between_us, "taps"))
            if state != DARK:
                due.append((entered + self.off_us, "off"))
            if queue:
                due.append((queue[0][0], "edge"))
            if not due or min(due)[0] >= stop:
                return state
            now, what = min(due)
            new = state
            if what == "edge":
                _, closed = queue.pop(0)
                if closed:
                    down, nobody = now, nobody and down >= 0
                else:
                    taps = taps + 1 if not nobody and now - down <= self.press_us and state != DARK else 0
                    down, up, nobody = -1, now, False
            elif what == "hold":
                nobody, taps = True, 0
                new = DIM if state == DARK else DARK
            elif what == "taps":
                new = (BRIGHT if state == DIM else DIM) if taps == 1 else DARK if taps == 2 else state
                taps = 0
            else:
                new, taps = DARK, 0
                nobody = nobody or down >= 0
            if what == "edge" and closed:
                nobody = False
            if new != state:
                state, entered = new, now
                turns.append((now, state))
                nobody = nobody or down >= 0
