"""What a firmware meets seldom: damaged memory, a second start, its clock coming round, long waits, moments of its own.

Like walks these are made from the spec, and the monitor alone judges. Moments of the firmware's own are looked up in what it
did: when it slept, when it wrote. Each stimulus comes with how the run begins (`Setup`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from random import Random
from typing import Final

from nudgeproof.firmware.acts import BUTTON, CELL, Act, Acts
from nudgeproof.firmware.handling import probe
from nudgeproof.firmware.mapping import Map
from nudgeproof.firmware.performed import PLAIN, Chip, Perform, Performed, Planned, Setup
from nudgeproof.firmware.tours import (
    HIGH,
    MIDDLE,
    Hand,
    Node,
    Walk,
    begin_node,
    paths,
    round_of_states,
    tours,
    walk_graph,
    ways_from,
)
from nudgeproof.spec.types import Device, Gesture

LONGEST_PATH_US: Final = 120_000_000
_ALONE_US: Final = 70_000_000
_LONG_GAP_US: Final = 3_000_000
_LEAST_APART_US: Final = 12
_PARTS: Final = 12
_WRAPS: Final = (2**16, 2**15)
"""Milliseconds after which 16 bits come round, and after which they turn negative."""


@dataclass(frozen=True, slots=True)
class Hardships:
    """The device, its map, who presses, the controller, and the firmware as a function."""

    device: Device
    what: Map
    hand: Hand
    chip: Chip
    perform: Perform
    seed: int

    def kinds(self) -> dict[str, Callable[[], Iterator[Planned]]]:
        """All of them, by the name under which they can be asked for; those that the device has nothing of give nothing."""
        return {
            "held": self.held_at_start,
            "memory": self.damaged_memory,
            "starts": self.second_starts,
            "clock": self.clock_comes_round,
            "pauses": self.long_pauses,
            "timeouts": self.around_timeouts,
            "chatter": self.chatter,
            "events": self.events_around_changes,
            "pairs": self.pairs,
            "taps": self.more_taps,
            "wakes": self.around_wakes,
            "writes": self.around_writes,
        }

    @property
    def _can_cut(self) -> bool:
        return bool(self.what.of("cell")) and self.device.supply is not None and self.device.power_up is not None

    def _paths(self) -> Iterator[tuple[Node, Acts, int, Walk]]:
        """Each state with its values that isn't too far: the acts that lead there, and when they have settled."""
        for node, path in paths(self.device, walk_graph(self.device)):
            acts, now = self.hand.walk(path, MIDDLE)
            if now <= LONGEST_PATH_US:
                yield node, acts, now, path

    def _probed(self, acts: Acts, state: str, at_us: int) -> tuple[Acts, int]:
        """The acts and one gesture more, and when that has settled."""
        more = probe(self.device, self.hand, state, at_us)
        end = max((act.end_us for act in more), default=at_us)
        return (*acts, *more), end + self.hand.settles_us

    def _gestures(self, node: Node) -> tuple[Gesture, ...]:
        return self.device.gestures_in(self.device.state(node[0]))

    def held_at_start(self) -> Iterator[Planned]:
        """A button that is down while power comes up, let go soon, late, and held as long as the longest hold."""
        if not self.what.powers_up or self.device.power_up is None:
            return
        up = int(self.device.power_up.takes.hi)
        holds = [self.hand.hold_us(g, MIDDLE) for g in self.device.gestures if g.held is not None]
        for button in self.device.buttons:
            for lasts in (up + max(holds, default=1_000_000), up + 150_000, up // 2):
                act = Act(BUTTON, button.name, 0, lasts)
                acts, end = self._probed((act,), self.device.power_up.if_blank, act.end_us + self.hand.settles_us)
                yield f"{button.name} held while power comes up", acts, end, PLAIN

    def damaged_memory(self) -> Iterator[Planned]:
        """A start with memory that no firmware of this kind has left: empty, of another layout, or spoilt."""
        power_up, size = self.device.power_up, self.chip.bytes
        if self.device.memory is None or power_up is None or not size:
            return
        if not (self.what.powers_up or self.device.is_latched):
            return
        chance = Random(self.seed)
        walk = next(tours(self.device, walk_graph(self.device)), ())
        walked, end_us = self.hand.walk(walk, MIDDLE)
        left = self.perform(walked, end_us).memory
        found = {
            "all zero": bytes(size),
            "of another layout": left[1:] + left[:1],
            "with a bit lost in each byte": bytes(byte & ~(1 << at % 8) for at, byte in enumerate(left)),
            "all 0x55": b"\x55" * size,
            "all 0x22": b"\x22" * size,
            "counting": bytes(at % 256 for at in range(size)),
        }
        for number in range(6):
            found[f"random {number + 1}"] = chance.randbytes(size)
        begins = begin_node(self.device)[0]
        state = begins if self.device.is_latched else power_up.if_damaged
        probed, end = self._probed((), state, self.hand.begin_us)
        ways = [(probed, end), *([(walked, end_us)] if state == begins else [])]
        for acts, end in ways:
            for name, memory in found.items():
                if memory not in (left, b"\xff" * size):
                    yield f"memory {name} at the first start", acts, end, Setup(memory=memory)

    def second_starts(self) -> Iterator[Planned]:
        """In each state the cell gone for long; then a gesture, or a button that is held by then."""
        power_up = self.device.power_up
        if not self._can_cut or power_up is None:
            return
        keeps = self.device.memory.keeps if self.device.memory is not None else ()
        for node, acts, now, _ in self._paths():
            gone = Act(CELL, "", now, _LONG_GAP_US)
            state = node[0] if "state" in keeps else power_up.if_blank
            back = gone.end_us + int(power_up.takes.hi) + self.hand.settles_us
            probed, end = self._probed((*acts, gone), state, back)
            yield f"a second start after {node[0]}", probed, end, PLAIN
            for button in self.device.buttons:
                held = Act(BUTTON, button.name, gone.end_us - 200_000, 200_000 + int(power_up.takes.hi) + 200_000)
                probed, end = self._probed((*acts, gone, held), state, held.end_us + self.hand.settles_us)
                yield f"{button.name} held at a second start after {node[0]}", probed, end, PLAIN
        yield from self._rounds_after_starts(keeps)

    def _rounds_after_starts(self, keeps: tuple[str, ...]) -> Iterator[Planned]:
        """The cell gone for long, then a round of the states: what is kept may show only far from where a start leads."""
        power_up, graph = self.device.power_up, walk_graph(self.device)
        if power_up is None or not set(keeps) - {"state"}:
            return
        blank = dict(zip((v.name for v in self.device.variables), begin_node(self.device)[1], strict=True))
        for node, acts, now, _ in self._paths():
            values = tuple(value if name in keeps else blank[name] for name, value in zip(blank, node[1], strict=True))
            begin = (node[0] if "state" in keeps else power_up.if_blank, values)
            gone = Act(CELL, "", now, _LONG_GAP_US)
            back = gone.end_us + int(power_up.takes.hi) + self.hand.settles_us
            around, end = self.hand.walk(round_of_states(graph, begin) if begin in graph else (), MIDDLE, back)
            if around and end <= 2 * LONGEST_PATH_US:
                yield f"a second start after {node[0]}, and a round of the states", (*acts, gone, *around), end, PLAIN

    def clock_comes_round(self) -> Iterator[Planned]:
        """The running clock comes round, or passes half its range, while a line of the chart is taken and soon after."""
        bits = self.chip.clock_bits
        if not bits:
            return
        rounds = ((2**bits, "comes round"), (2 ** (bits - 1), "turns negative"))
        for unit_us, of in ((1_000, "milliseconds"), (1, "microseconds")):
            for node, acts, now, path in self._paths():
                for way in ways_from(self.device, node):
                    taken, settled = self.hand.walk((*path, way), MIDDLE)
                    if way.kind == "none" or settled > LONGEST_PATH_US:
                        continue
                    probed, end = self._probed(taken, way.to[0], settled)
                    plain = self.perform(probed, end)
                    for at_us in self._moments(taken[len(acts) :], now, settled):
                        for counts, says in rounds:
                            shown = counts * unit_us - self._run_us(plain, at_us)
                            if shown > 0:
                                yield f"the clock of {of} {says} in mid-use", probed, end, Setup(clock_us=shown)

    def _moments(self, acts: Acts, now: int, settled: int) -> Iterator[int]:
        """In the middle of each act, a while after it, and in the filter of its first and last edge; or in a wait."""
        for act in acts:
            yield act.at_us + act.lasts_us // 2
            yield act.end_us + 150_000
        for act in acts:
            yield from (act.at_us + 12_000, act.end_us + 12_000, act.end_us + 700_000)
        if not acts:
            yield from ((now + settled) // 2, now)

    def _run_us(self, plain: Performed, at_us: int) -> int:
        """How long the clock has run by then: it stands still in deep sleep."""
        asleep = sum(min(end, at_us) - begin for begin, end in plain.sleeps if begin < at_us)
        return at_us - self.chip.starts_us - asleep

    def long_pauses(self) -> Iterator[Planned]:
        """In each state left alone, held, and a gesture repeated, for as long as 16 bits of milliseconds take."""
        for node, acts, now, _ in self._paths():
            left, end = self._probed(acts, node[0], now + _ALONE_US)
            yield f"{node[0]} left alone for long", left, end, PLAIN
            for gesture in self._gestures(node):
                first = self.hand.perform(gesture, MIDDLE, now)
                for wrap_ms in _WRAPS:
                    # As long after as a pause within the pattern takes, and then some.
                    again = first[0].end_us + wrap_ms * 1_000 + self.hand.gap_us(gesture, MIDDLE)
                    twice = (first[0], *self.hand.perform(gesture, MIDDLE, again))
                    probed, end = self._probed((*acts, *twice), node[0], twice[-1].end_us + self.hand.settles_us)
                    yield f"{gesture.name} {wrap_ms} ms after its first press", probed, end, PLAIN
                    longer = Act(BUTTON, first[-1].what, first[-1].at_us, wrap_ms * 1_000 + 150_000)
                    held = (*first[:-1], longer)
                    probed, end = self._probed((*acts, *held), node[0], longer.end_us + self.hand.settles_us)
                    yield f"{gesture.name} with {wrap_ms} ms added to its last press", probed, end, PLAIN

    def around_timeouts(self) -> Iterator[Planned]:
        """In each state that time ends, a gesture that lasts over that moment; and one half-way, and then the whole time."""
        for node, acts, now, _ in self._paths():
            for way in ways_from(self.device, node):
                if way.kind != "wait":
                    continue
                ends = self._shown(acts, now, now + way.lasts_us + self.hand.settles_us)
                for gesture in self._gestures(node):
                    first = self.hand.perform(gesture, HIGH, 0)
                    for part in (3, 6, 8) if ends else ():
                        at_us = max(now, ends[0] - first[-1].at_us - first[-1].lasts_us * part // 10)
                        over = self.hand.perform(gesture, HIGH, at_us)
                        probed, end = self._probed((*acts, *over), way.to[0], over[-1].end_us + self.hand.settles_us)
                        yield f"{gesture.name} while {way.name} ends", probed, end, PLAIN
                    half = self.hand.perform(gesture, MIDDLE, now + way.lasts_us // 2)
                    end = half[-1].end_us + way.lasts_us + self.hand.settles_us
                    yield f"{gesture.name} half-way to {way.name}", (*acts, *half), end, PLAIN

    def _shown(self, acts: Acts, after_us: int, end_us: int) -> list[int]:
        """When what the lights tell of changes after a moment."""
        recording = self.perform(acts, end_us).recording
        return [c.at_us for c in recording.changes if c.at_us > after_us and c.channel in self.what.telling]

    def chatter(self) -> Iterator[Planned]:
        """Walks on worn contacts: each edge flips twice more within `bounce`."""
        for walk in tours(self.device, walk_graph(self.device)):
            acts, end_us = self.hand.walk(walk, MIDDLE)
            yield "chatter on each edge", tuple(self._chattering(act) for act in acts), end_us, PLAIN

    def _chattering(self, act: Act) -> Act:
        if act.kind != BUTTON:
            return act
        button = self.device.button(act.what)
        apart = max(_LEAST_APART_US, button.edges_apart_us + 2)
        late = (button.bounce_us * 6 // 10, button.bounce_us * 9 // 10)
        return replace(act, closing=late, opening=late) if late[1] - late[0] >= apart else act

    def events_around_changes(self) -> Iterator[Planned]:
        """An event at moments within what the firmware may still do about a gesture; and then a gesture that shows it."""
        for node, acts, now, _ in self._paths():
            events = [way.name for way in ways_from(self.device, node) if way.kind == "event"]
            for way in ways_from(self.device, node) if events else ():
                if way.kind != "gesture":
                    continue
                gesture = self.hand.perform(self.device.gesture(way.name), MIDDLE, now)
                end = gesture[-1].end_us + self.hand.settles_us
                shown = self._shown((*acts, *gesture), now, end)
                for part in range(_PARTS) if shown else ():
                    event = self.hand.event(
                        events[part % len(events)], shown[0] + 2 + 120_000 * part * part // _PARTS**2
                    )
                    both = tuple(sorted((*acts, *gesture, event), key=lambda act: act.at_us))
                    probed, later = self._probed(both, way.to[0], max(end, event.end_us + self.hand.settles_us))
                    yield f"{event.what} just after {way.name}", probed, later, PLAIN

    def pairs(self) -> Iterator[Planned]:
        """In each state one button held while another one does each of its gestures."""
        for node, acts, now, _ in self._paths():
            for gesture in self._gestures(node):
                if gesture.chord is not None:
                    continue
                for button in self.device.buttons:
                    if button.name == gesture.button:
                        continue
                    longest = max(self.hand.hold_us(g, MIDDLE) for g in self.device.gestures)
                    for wait in (300_000, 2 * longest):
                        inside = self.hand.perform(gesture, MIDDLE, now + wait)
                        holds = Act(BUTTON, button.name, now, inside[-1].end_us + 200_000 - now)
                        both = (*acts, holds, *inside)
                        probed, end = self._probed(both, node[0], holds.end_us + self.hand.settles_us)
                        yield f"{gesture.name} while {button.name} is held", probed, end, PLAIN

    def more_taps(self) -> Iterator[Planned]:
        """In each state more taps in a row than any gesture has."""
        for node, acts, now, _ in self._paths():
            most = {g.button: g for g in self._gestures(node) if g.chord is None}
            for button, gesture in most.items():
                largest = max(len(g.presses) for g in self._gestures(node) if g.chord is None and g.button == button)
                yield from self._short_closings(node, acts, now, button)
                for number in (largest + 1, 2 * largest + 1, largest + 4):
                    taps, at = [], now
                    for _ in range(number):
                        taps.append(Act(BUTTON, button, at, self.hand.tap_us(gesture, MIDDLE)))
                        at = taps[-1].end_us + self.hand.gap_us(gesture, MIDDLE)
                    probed, end = self._probed((*acts, *taps), node[0], at + self.hand.settles_us)
                    yield f"{number} taps on {button}", probed, end, PLAIN

    def _short_closings(self, node: Node, acts: Acts, now: int, button: str) -> Iterator[Planned]:
        """Closings that are each too short to be read, so quickly after each other that they may be added up."""
        one = self.device.button(button)
        if one.debounce is None or one.debounce.lo < 2_000:
            return
        short = one.debounce.lo * 8 // 10
        closings = tuple(Act(BUTTON, button, now + 2 * short * number, short) for number in range(4))
        probed, end = self._probed((*acts, *closings), node[0], closings[-1].end_us + self.hand.settles_us)
        yield f"{len(closings)} short closings of {button} in a row", probed, end, PLAIN

    def around_wakes(self) -> Iterator[Planned]:
        """A short closing wakes it, and a gesture begins while it does."""
        for node, acts, now, _ in self._paths():
            sleep = self.device.state(node[0]).sleep
            if sleep is None or not sleep.waking_buttons:
                continue
            begin = now + int(sleep.doze.hi) + 200_000
            wide = int(sleep.ready.hi) + 60_000
            for part in range(_PARTS):
                short = Act(BUTTON, sleep.waking_buttons[0], begin, 30 + part)
                later = short.end_us + 30 + wide * part * part // (_PARTS * _PARTS)
                probed, end = self._probed((*acts, short), node[0], later)
                yield "a press while it wakes", probed, end, PLAIN

    def around_writes(self) -> Iterator[Planned]:
        """A gesture that begins, or ends, around a write of memory."""
        for node, acts, now, path in self._paths():
            wrote = [span for span in self.perform(acts, now).writes if path and span[0] > acts[-1].at_us]
            if not wrote:
                continue
            low, high = wrote[0][0] - 200, wrote[-1][1] + 200
            for part in range(_PARTS):
                at = low + (high - low) * part // (_PARTS - 1)
                if at > acts[-1].end_us + 1_000:
                    probed, end = self._probed(acts, node[0], at)
                    yield "a press while memory is written", probed, end, PLAIN
                elif at > acts[-1].at_us and acts[-1].kind == BUTTON:
                    shorter = (*acts[:-1], replace(acts[-1], lasts_us=at - acts[-1].at_us))
                    probed, end = self._probed(shorter, node[0], at + self.hand.settles_us)
                    yield "a release while memory is written", probed, end, PLAIN
