"""Walks over the chart: what a person does to take each of its lines, and what lies just outside the firmware's limits.

The chart says where a gesture leads, with no timing explored. If the device is somewhere else, what follows is a press like
any other: nothing is judged by the walk.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Final

from nudgeproof.firmware.acts import BUTTON, EVENT, Act, Acts
from nudgeproof.parts.changes import change, pick, start_values, touched
from nudgeproof.spec.outside import CELL_FINE, CELL_LOW, Maker
from nudgeproof.spec.types import Device, Gesture, Timeout, Transition
from nudgeproof.units import Span

if TYPE_CHECKING:
    import networkx

Node = tuple[str, tuple[str, ...]]
"""A state and the values of all variables."""

LOW, MIDDLE, HIGH = LEVELS = ("low", "middle", "high")
MOST_NODES: Final = 120
LONGEST_WAIT_US: Final = 6 * 3_600_000_000
_STEPS: Final = 10
_PULSE_US: Final = 5_000
_BEFORE_US: Final = 600_000
_MARGIN_US: Final = 100_000
_JUST_US: Final = 2_000


@dataclass(frozen=True, slots=True)
class Way:
    """A line of the chart from a node. `kind`: `gesture`, `event`, `wait` or `none` (nobody can force it).

    `says`: in the words of the chart.
    """

    kind: str
    name: str
    to: Node
    says: str
    lasts_us: int


Walk = tuple[Way, ...]


def ways_from(device: Device, node: Node) -> tuple[Way, ...]:
    """All lines that the chart has where the device is."""
    state = device.state(node[0])
    values = dict(zip((v.name for v in device.variables), node[1], strict=True))
    gestures = {gesture.name for gesture in device.gestures}
    made = {event for source in device.surroundings if isinstance(source, Maker) for event in source.events}
    # Whether the recording has a wire for the cell's voltage, the map says; without one nothing is done for it.
    made |= {CELL_LOW, CELL_FINE} if device.cell is not None else set()
    ways = []
    for name in state.gestures:
        line = pick((t for t in state.transitions if t.gesture == name), values)
        if line is not None:
            kind = "gesture" if name in gestures else "event" if name in made else "none"
            ways.append(_way(device, node, line, values, kind, name, 0))
    texts = dict.fromkeys(t.text for t in state.timeouts)
    lines = [pick((t for t in state.timeouts if t.text == text), values) for text in texts]
    timed = [(int(one.lasts(values).hi), one) for one in lines if one is not None]
    first = min((lasts for lasts, _ in timed), default=0)
    for lasts, timeout in timed:
        kind = "wait" if lasts == first and lasts <= LONGEST_WAIT_US else "none"
        ways.append(_way(device, node, timeout, values, kind, timeout.text, lasts))
    return tuple(ways)


def _way(
    device: Device, node: Node, line: Transition | Timeout, values: dict[str, str], kind: str, name: str, lasts: int
) -> Way:
    after = change(device, line, values)
    told = "".join(f", {changed} {after[changed]}" for changed in touched(device, line))
    goal = f" -> {line.target}" if line.target is not None else ""
    return Way(kind, name, (line.target or node[0], tuple(after.values())), f"{name}: {node[0]}{goal}{told}", lasts)


def begin_node(device: Device) -> Node:
    """Where a run begins."""
    return device.initial, tuple(start_values(device).values())


def walk_graph(device: Device) -> networkx.MultiDiGraph:
    """What can be reached by the chart alone: nodes, and an edge with its `way` for each line, by number as key."""
    import networkx

    graph = networkx.MultiDiGraph()
    waiting = [begin_node(device)]
    graph.add_node(waiting[0])
    while waiting and len(graph) < MOST_NODES:
        node = waiting.pop(0)
        for number, way in enumerate(ways_from(device, node)):
            if way.to not in graph:
                waiting.append(way.to)
            graph.add_edge(node, way.to, key=number, way=way, cost=1 + way.lasts_us / 1e6)
    return graph


def lines_of(graph: networkx.MultiDiGraph) -> tuple[str, ...]:
    """All lines of the chart that can be reached, in its words."""
    return tuple(dict.fromkeys(data["way"].says for _, _, data in graph.edges(data=True)))


def _forced(graph: networkx.MultiDiGraph) -> Any:
    import networkx

    able = networkx.MultiDiGraph()
    able.add_nodes_from(graph)
    able.add_edges_from((a, b, k, d) for a, b, k, d in graph.edges(keys=True, data=True) if d["way"].kind != "none")
    return able


def tours(device: Device, graph: networkx.MultiDiGraph) -> Iterator[Walk]:
    """Walks from the beginning that take every line that can be forced; long waits come last."""
    import networkx

    able = _forced(graph)
    begin = begin_node(device)
    left = {(a, k) for a, _, k in able.edges(keys=True) if networkx.has_path(able, begin, a)}
    while left:
        node, walk = begin, list[Way]()
        while len(walk) < _STEPS and left:
            far, paths = networkx.single_source_dijkstra(able, node, weight="cost")
            ends = [
                (far[a] + able[a][b][k]["cost"], len(paths[a]), a, b, k)
                for a, b, k in able.edges(keys=True)
                if (a, k) in left and a in far
            ]
            if not ends:
                break
            _, _, a, b, k = min(ends)
            walk += [_cheapest(able, x, y) for x, y in pairwise(paths[a])]
            walk.append(able[a][b][k]["way"])
            left.discard((a, k))
            node = b
        if not walk:
            return
        yield tuple(walk)


def _cheapest(able: Any, a: Node, b: Node) -> Way:
    way: Way = min(able[a][b].values(), key=lambda data: data["cost"])["way"]
    return way


def paths(device: Device, graph: networkx.MultiDiGraph) -> Iterator[tuple[Node, Walk]]:
    """The cheapest way to each node that can be forced, the nearest first."""
    import networkx

    able = _forced(graph)
    far, found = networkx.single_source_dijkstra(able, begin_node(device), weight="cost")
    for node in sorted(far, key=lambda node: (far[node], node)):
        way = found[node]
        yield node, tuple(_cheapest(able, x, y) for x, y in pairwise(way))


def round_of_states(graph: networkx.MultiDiGraph, node: Node) -> Walk:
    """A walk from a node through the other states that can be forced from there, the nearest first."""
    import networkx

    able, seen, walk = _forced(graph), {node[0]}, list[Way]()
    while len(walk) < _STEPS:
        far, found = networkx.single_source_dijkstra(able, node, weight="cost")
        new = [(cost, goal) for goal, cost in far.items() if goal[0] not in seen]
        if not new:
            break
        steps = found[min(new)[1]]
        walk += [_cheapest(able, x, y) for x, y in pairwise(steps)]
        seen.update(step[0] for step in steps)
        node = steps[-1]
    return tuple(walk)


@dataclass(frozen=True, slots=True)
class Hand:
    """How gestures are done: times as the person's habits have them, or what fits the firmware's limits."""

    device: Device

    @property
    def settles_us(self) -> int:
        """After that no press is waited for any more."""
        most = max((int(g.between.hi) for g in self.device.gestures if g.between is not None), default=0)
        ready = max((int(s.sleep.ready.hi) for s in self.device.states if s.sleep is not None), default=0)
        return most + max(self._width(b.name) for b in self.device.buttons) + ready + _MARGIN_US

    @property
    def begin_us(self) -> int:
        """When the firmware surely runs."""
        up = self.device.power_up
        return _BEFORE_US + (int(up.takes.hi) if up is not None else 0)

    def _width(self, button: str) -> int:
        """How much later an edge is read than it was, at the most."""
        one = self.device.button(button)
        spans = [one.debounce, one.lockout]
        if one.samples is not None:
            return int(one.samples.every.hi) * (one.samples.count + 1)
        return max((int(span.hi) for span in spans if span is not None), default=0)

    def tap_us(self, gesture: Gesture, level: str) -> int:
        """How long a tap of it takes."""
        if self.device.person is not None:
            return _at(self.device.person.tap, level)
        most = 300_000 if gesture.press is None else gesture.press.lo * 9 // 10
        return _at(Span(min(60_000, most), most), level)

    def gap_us(self, gesture: Gesture, level: str) -> int:
        """How long it is open between two presses."""
        if self.device.person is not None:
            return _at(self.device.person.between, level)
        most = 200_000 if gesture.between is None else gesture.between.lo * 8 // 10
        return _at(Span(min(80_000, most), most), level)

    def hold_us(self, gesture: Gesture, level: str) -> int:
        """How long it is held."""
        limit = int(gesture.held.hi) if gesture.held is not None else 0
        usual = Span(limit + limit // 10 + 50_000, limit + limit // 2 + 200_000)
        person = self.device.person
        if person is not None:
            own = dict(person.holds).get(gesture.name, person.hold)
            if own is not None:
                usual = own
        return _at(usual, level)

    def perform(self, gesture: Gesture, level: str, at_us: int, just: str = "") -> Acts:
        """The acts of a gesture from a moment on; `just`: what is put just outside or inside a limit, see `just_outside`."""
        if gesture.chord is not None:
            apart = self.device.person.together if self.device.person is not None else Span(0, 60_000)
            later = _at(apart, level)
            if just == "apart too long":
                later = int(gesture.chord.within.hi) + self._width(gesture.chord.buttons[0]) + _JUST_US
            lasts = self.hold_us(gesture, level) if gesture.held is not None else self.tap_us(gesture, level) + later
            first, second = gesture.chord.buttons
            if just == "buttons the other way round":
                first, second = second, first
            return Act(BUTTON, first, at_us, lasts), Act(BUTTON, second, at_us + later, lasts)
        acts = []
        width = self._width(gesture.button)
        for i, press in enumerate(gesture.presses):
            is_last = i == len(gesture.presses) - 1
            lasts = self.tap_us(gesture, level) if press == "tap" else self.hold_us(gesture, level)
            if is_last and press == "tap" and gesture.press is not None:
                lasts = {"tap too long": int(gesture.press.hi) + width + _JUST_US,
                         "tap just short enough": gesture.press.lo - width - _JUST_US,
                         "tap too short": max(1_000, width // 2)}.get(just, lasts)  # fmt: skip
            if is_last and press == "hold" and gesture.held is not None:
                lasts = {"hold too short": gesture.held.lo - width - _JUST_US,
                         "hold just long enough": int(gesture.held.hi) + width + _JUST_US}.get(just, lasts)  # fmt: skip
            acts.append(Act(BUTTON, gesture.button, at_us, max(1_000, lasts)))
            gap = self.gap_us(gesture, level)
            if gesture.between is not None:
                gap = {"pause too long": int(gesture.between.hi) + width + _JUST_US,
                       "pause just short enough": gesture.between.lo - width - _JUST_US}.get(just, gap)  # fmt: skip
            at_us = acts[-1].end_us + max(1_000, gap)
        return tuple(acts)

    def walk(self, ways: Walk, level: str, at_us: int | None = None) -> tuple[Acts, int]:
        """The acts of a walk, and when all of it has settled."""
        now = self.begin_us if at_us is None else at_us
        acts: list[Act] = []
        for way in ways:
            if way.kind == "gesture":
                acts += self.perform(self.device.gesture(way.name), level, now)
                now = acts[-1].end_us + self.settles_us
            elif way.kind == "event":
                acts.append(self.event(way.name, now))
                now = max(now + self._apart(way.name), acts[-1].end_us) + self.settles_us
            else:
                now += way.lasts_us + self.settles_us
        return tuple(acts), now

    def event(self, name: str, at_us: int) -> Act:
        """An event made at a moment; a voltage stays until it was surely read."""
        cell = self.device.cell
        reads = cell is not None and name in (CELL_LOW, CELL_FINE)
        return Act(EVENT, name, at_us, int(cell.every.hi) + _MARGIN_US if cell is not None and reads else _PULSE_US)

    def _apart(self, event: str) -> int:
        makers = (source for source in self.device.surroundings if isinstance(source, Maker) and event in source.events)
        return max((maker.apart_us for maker in makers), default=0)


def _at(span: Span, level: str) -> int:
    low = span.lo
    high = int(span.hi) if span.hi != float("inf") else 3 * low
    return {LOW: low, MIDDLE: (low + high) // 2, HIGH: high}[level]


def just_outside(gesture: Gesture) -> tuple[str, ...]:
    """What of a gesture can be put just beside a limit of the firmware's."""
    if gesture.chord is not None:
        return ("apart too long", "buttons the other way round")
    found: list[str] = []
    if gesture.presses[-1] == "tap":
        found += ["tap too long", "tap just short enough", "tap too short"]
    else:
        found += ["hold too short", "hold just long enough"]
    if len(gesture.presses) > 1:
        found += ["pause too long", "pause just short enough"]
    return tuple(found)
