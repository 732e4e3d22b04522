"""What is done to a device in a trial: contacts closed, events made, the cell taken away, each from a moment and for a time.

A list of such acts can be shortened one by one, which a table of levels can't. Acts on the same contact may overlap: it is
closed while any of them closes it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from nudgeproof.diagnostics import printable
from nudgeproof.units import show_us

BUTTON, EVENT, CELL = "button", "event", "cell"


@dataclass(frozen=True, slots=True)
class Act:
    """One contact closed, or event made, or the cell gone (`kind`), from `at_us` for `lasts_us`.

    `what`: the button or the event, "" for the cell. `closing`, `opening`: how long after its first and its last edge the
    contact flips once more, each time there and back, so an even number of moments in order.
    """

    kind: str
    what: str
    at_us: int
    lasts_us: int
    closing: tuple[int, ...] = ()
    opening: tuple[int, ...] = ()

    @property
    def end_us(self) -> int:
        """When it is over, chatter included."""
        return self.at_us + self.lasts_us + (self.opening[-1] if self.opening else 0)

    @property
    def closed(self) -> list[tuple[int, int]]:
        """From when to when it is on."""
        last = self.at_us + self.lasts_us
        turns = [self.at_us, *(self.at_us + at for at in self.closing if at < self.lasts_us), last]
        if len(turns) % 2:
            del turns[-2]
        turns += [last + at for at in self.opening]
        return [(turns[i], turns[i + 1]) for i in range(0, len(turns) - 1, 2)]


Acts = tuple[Act, ...]


@dataclass(frozen=True, slots=True)
class Edge:
    """A contact, event or cell that goes on (the cell: is gone) or off at a time."""

    at_us: int
    kind: str
    what: str
    on: bool


def edges_of(acts: Iterable[Act]) -> tuple[Edge, ...]:
    """All edges in the order of time, no two at one instant."""
    spans: dict[tuple[str, str], list[tuple[int, int]]] = {}
    for act in acts:
        spans.setdefault((act.kind, act.what), []).extend(act.closed)
    edges: list[Edge] = []
    for (kind, what), closed in spans.items():
        end = -1
        for low, high in sorted(closed):
            if low > end:
                edges.append(Edge(low, kind, what, True))
                edges.append(Edge(high, kind, what, False))
            elif high > end:
                edges[-1] = Edge(high, kind, what, False)
            end = max(end, high)
    apart: list[Edge] = []
    for edge in sorted(edges, key=lambda edge: (edge.at_us, edge.kind, edge.what, edge.on)):
        at = max(edge.at_us, apart[-1].at_us + 1 if apart else 0)
        apart.append(Edge(at, edge.kind, edge.what, edge.on))
    return tuple(apart)


def tell_acts(acts: Acts, end_us: int) -> str:
    """The acts in one line, as somebody at the bench would do them."""
    words, before = [], 0
    for act in acts:
        wait = act.at_us - before
        words.append(f"wait {show_us(wait)}" if wait > 0 else "meanwhile" if wait < 0 else "at once")
        name = "the cell gone" if act.kind == CELL else f"{act.what} {'happens' if act.kind == EVENT else 'closed'}"
        chatter = " with chatter" if act.closing or act.opening else ""
        words.append(f"{name} for {show_us(act.lasts_us)}{chatter}")
        before = max(before, act.at_us + act.lasts_us)
    words += [f"wait {show_us(end_us - before)}"] if end_us > before else []
    return printable(", ".join(words))
