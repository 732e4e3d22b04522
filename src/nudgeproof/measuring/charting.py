"""From spots to a chart that a spec can state: what memory keeps must be its states, or the values of one variable.

Where every spot comes back after a cut, or falls back to where it would by itself, the state is kept and each spot is a
state. Where some come back and others don't, the spots that come back are the values of a variable, and what is left of the
difference are states.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from nudgeproof.measuring.bench import OFF, ON, Picture
from nudgeproof.measuring.measured import Measured

VARIABLE = "kept"


@dataclass(slots=True)
class Chart:
    """States by number of a spot. `names`: of spots; `values`: of spots, "" where there is no variable.

    `keeps`: what memory keeps; `waiting`: spots that only lead back; `groups`: spots that share a time that goes on.
    """

    names: dict[int, str]
    values: dict[int, str]
    keeps: tuple[str, ...] = ()
    waiting: frozenset[int] = frozenset()
    groups: tuple[tuple[int, ...], ...] = ()
    doubts: list[str] = field(default_factory=list)

    @property
    def has_variable(self) -> bool:
        """Whether spots differ by a variable."""
        return any(self.values.values())

    def where(self, spot: int) -> str:
        """A spot in words of the spec."""
        value = self.values[spot]
        return f"{self.names[spot]} with {VARIABLE} {value}" if value else self.names[spot]

    def states(self) -> dict[str, list[int]]:
        """Each state with its spots, in their order."""
        found: dict[str, list[int]] = {}
        for spot, name in self.names.items():
            found.setdefault(name, []).append(spot)
        return found


def show_picture(picture: Picture, outputs: tuple[str, ...]) -> str:
    """What is shown, as a name."""
    lit = [
        name + (" blinking" if level > ON else "") for name, level in zip(outputs, picture, strict=True) if level != OFF
    ]
    return " and ".join(lit) if lit else "dark"


def make_chart(done: Measured) -> Chart:
    """The chart of what was measured."""
    ex = done.explorer
    spots = [spot.number for spot in ex.spots]
    cuts = {number: to for number, to in ex.cuts.items() if to in spots}
    flat = Chart(_flat_names(done), dict.fromkeys(spots, ""))
    flat.groups = _groups(done)
    if not cuts or len(set(cuts.values())) == 1:
        return flat
    lapses = {lapse.spot: lapse.to for lapse in done.lapses}
    waiting = frozenset(number for number, to in cuts.items() if to != number)
    joined = {frozenset((number, done.explorer.edges[number, name].to)) for number, name in done.goes_on}
    covered = all(any(pair <= set(group) for group in flat.groups) for pair in joined if len(pair) > 1)
    # A device that holds its own power begins every start in one state, so memory can't bring one back.
    found = None if covered and done.starting is None else _factor(done, cuts)
    if found is None and all(lapses.get(number) == cuts[number] for number in waiting) and not _repeated(done, waiting):
        if not covered:
            flat.doubts.append(
                "a time that goes on from one state to another can't be written for these; here it begins anew"
            )
        flat.keeps, flat.waiting = ("state",), waiting
        return flat
    found = _factor(done, cuts) if found is None else found
    if found is None:
        flat.doubts.append(
            "what comes back after a cut follows from no single thing kept; the spec says that nothing is kept"
        )
        return flat
    names, values = found
    return Chart(names, values, (VARIABLE,))


def _repeated(done: Measured, waiting: frozenset[int]) -> bool:
    """Whether the same picture stands for spots that come back and for one that doesn't: then it isn't merely waiting."""
    shown = {done.explorer.spots[number].picture for number in waiting}
    return any(spot.picture in shown for spot in done.explorer.spots if spot.number not in waiting)


def _flat_names(done: Measured) -> dict[int, str]:
    names: dict[int, str] = {}
    outputs = done.explorer.bench.outputs
    for spot in done.explorer.spots:
        name = _fit(show_picture(spot.picture, outputs))
        again = sum(1 for known in names.values() if known == name or known.rpartition(" ")[0] == name)
        names[spot.number] = f"{name} {again + 1}" if again else name
    return names


def _fit(name: str) -> str:
    """A name that may stand in sentences of promises."""
    return name.replace(" and ", " plus ")[:60]


def _groups(done: Measured) -> tuple[tuple[int, ...], ...]:
    """Spots between which a time goes on, and that it leads out of to one and the same spot."""
    of: dict[int, set[int]] = {}
    for number, name in done.goes_on:
        to = done.explorer.edges[number, name].to
        if number == to:
            continue
        whole = of.get(number, {number}) | of.get(to, {to})
        for one in whole:
            of[one] = whole
    found = []
    for joined in {frozenset(one) for one in of.values()}:
        ends = {lapse.to for lapse in done.lapses if lapse.spot in joined}
        if len(ends) == 1 and not any(lapse.hidden or lapse.open_only for lapse in done.lapses if lapse.spot in joined):
            found.append(tuple(sorted(joined)))
    return tuple(sorted(found))


def _factor(done: Measured, cuts: dict[int, int]) -> tuple[dict[int, str], dict[int, str]] | None:
    """States and values of one variable; None if the spots are no grid of these."""
    ex = done.explorer
    roots = sorted(set(cuts.values()))
    if any(cuts.get(root) != root for root in roots) or len({ex.spots[root].picture for root in roots}) > 1:
        return None
    value = {spot.number: roots.index(cuts[spot.number]) for spot in ex.spots if spot.number in cuts}
    if len(value) < len(ex.spots):
        return None
    modes: list[dict[int, int]] = [{value[root]: root for root in roots}]
    placed = set(roots)
    at = 0
    while at < len(modes):
        for move in ex.moves:
            new: dict[int, int] = {}
            for which, spot in sorted(modes[at].items()):
                edge = ex.edges.get((spot, move.name))
                if edge is not None and edge.to not in placed and value[edge.to] == which:
                    new[which] = edge.to
            if new:
                modes.append(new)
                placed |= set(new.values())
        at += 1
    for left in ex.spots:
        if left.number in placed:
            continue
        home = next(
            (
                m
                for m in modes
                if value[left.number] not in m and any(ex.spots[s].picture == left.picture for s in m.values())
            ),
            None,
        )
        if home is None:
            modes.append({value[left.number]: left.number})
        else:
            home[value[left.number]] = left.number
    names: dict[int, str] = {}
    taken: set[str] = set()
    for mode in modes:
        pictures = {show_picture(ex.spots[spot].picture, ex.bench.outputs) for spot in mode.values()}
        name = _fit(pictures.pop()) if len(pictures) == 1 else "lit"
        number = 1
        while (name if number == 1 else f"{name} {number}") in taken:
            number += 1
        name = name if number == 1 else f"{name} {number}"
        taken.add(name)
        names |= dict.fromkeys(mode.values(), name)
    order = {spot.number: names[spot.number] for spot in ex.spots}
    return order, {number: f"v{which}" for number, which in sorted(value.items())}
