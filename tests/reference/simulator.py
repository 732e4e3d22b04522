"""One specimen of a device, simulated naively from the reference page `docs/rules.md` alone.

Nothing of the tool is used but the parsed spec: this is a second, independent reading of the rules, for comparing. What
the contacts and the cell do is given; every time that the rules leave open is drawn at the moment it begins. There is one
loop over time; at one instant there may be one thing only, else `Tie` is raised, since the rules then allow any order.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from nudgeproof.spec.types import Device, Gesture, Samples, State, Timeout, Transition
from nudgeproof.units import Span
from tests.reference.chords import Chords
from tests.reference.clock import Clock, Draw, Seen, Tie
from tests.reference.presses import Presses
from tests.reference.store import Store


def simulate(
    device: Device,
    levels: Mapping[str, Sequence[tuple[int, bool]]],
    cell: Sequence[tuple[int, bool]],
    end_us: int,
    draw: Draw,
) -> list[Seen]:
    """All that one sees of a device up to `end_us`, in the order of time.

    `levels`: for each button when its level changes, chatter included, and whether it is then closed; `cell`: when the
    cell comes and goes, and whether it is then there. Raises `Tie`.
    """
    clock = Clock(draw)
    specimen = Specimen(device, clock)
    inputs = [(at, button, closed) for button, edges in levels.items() for at, closed in edges]
    inputs += [(at, "", present) for at, present in cell]
    inputs.sort()
    while True:
        specimen.rest()
        clock.end_instant()
        times = [at for at, _ in clock.timers.values()] + [at for at, _, _ in inputs[:1]]
        if not times or min(times) > end_us:
            return clock.seen
        clock.now = min(times)
        due = [kind for kind, (at, _) in clock.timers.items() if at == clock.now]
        edges = [edge for edge in inputs if edge[0] == clock.now]
        if len(due) + len(edges) > 1:
            raise Tie(f"at {clock.now} us: {due} {edges}")
        if due:
            _, then = clock.timers.pop(due[0])
            then()
            continue
        _, button, is_there = inputs.pop(0)
        if button:
            specimen.level_changes(button, is_there)
        else:
            specimen.cell_changes(is_there)


class Specimen:
    """All that a specimen is at one instant, in plain variables."""

    def __init__(self, device: Device, clock: Clock) -> None:
        self.device = device
        self.clock = clock
        names = [button.name for button in device.buttons]
        self.level = dict.fromkeys(names, False)
        self.reading = dict.fromkeys(names, False)
        self.count = dict.fromkeys(names, 0)  # samples in a row that differ
        self.presses = {name: Presses(name, device.gestures, clock, self.fire) for name in names}
        self.chords = Chords(device, clock, self.reading, self.fire, lambda name: self.presses[name].forget(True))
        self.state: State = device.state(device.initial)
        self.values = {variable.name: variable.values[0] for variable in device.variables}
        self.processor = "awake" if self.state.sleep is None else "asleep"  # or readying, off
        self.step = 0  # of going to sleep, 0 when not
        self.flag = False
        self.store = Store(device, device.memory, clock) if device.memory is not None else None
        self.begin_timeouts()

    # Contact and reader.

    def level_changes(self, name: str, closed: bool) -> None:
        self.level[name] = closed
        sleep = self.state.sleep
        if sleep is not None and name in sleep.woken_by and (sleep.on == "edge" or self.waking_level()):
            if self.processor == "asleep":
                self.processor = "readying"
                self.clock.begin("ready", sleep.ready, self.is_ready)
            elif self.step > 1:
                self.flag = True
        if self.processor == "awake":
            self.read_edge(name)

    def read_edge(self, name: str) -> None:
        button = self.device.button(name)
        differs = self.level[name] != self.reading[name]
        if button.lockout is not None:
            if differs and not self.clock.is_running(f"lockout {name}"):
                self.clock.begin(f"lockout {name}", button.lockout, lambda: self.read_edge(name))
                self.accept(name)
        elif button.samples is not None:
            if not differs and not self.count[name]:
                self.clock.drop(f"first sample {name}")
            elif not self.count[name] and not self.clock.is_running(f"first sample {name}"):
                within = Span(0, button.samples.every.hi)
                self.clock.begin(f"first sample {name}", within, lambda: self.sample(name, button.samples))
        else:
            assert button.debounce is not None
            self.clock.drop(f"debounce {name}")
            if differs:
                self.clock.begin(f"debounce {name}", button.debounce, lambda: self.accept(name))

    def sample(self, name: str, rule: Samples | None) -> None:
        assert rule is not None
        if self.level[name] == self.reading[name]:
            self.count[name] = 0
            return
        self.count[name] += 1
        if self.count[name] == rule.count:
            self.count[name] = 0
            self.accept(name)
        else:
            self.clock.begin(f"sample {name}", rule.every, lambda: self.sample(name, rule))

    def stops_reading(self) -> None:
        for kind in ("debounce", "lockout", "first sample", "sample"):
            self.clock.drop_all(f"{kind} ")
        self.count = dict.fromkeys(self.count, 0)

    def accept(self, name: str) -> None:
        self.reading[name] = not self.reading[name]
        self.clock.tell(f"{'down' if self.reading[name] else 'up'} {name}")
        for timeout in self.state.timeouts:
            if timeout.with_open == name:
                self.begin_timeout(timeout)
        if self.reading[name]:
            self.presses[name].goes_down(self.state)
            self.chords.goes_down(name, self.state)
        else:
            self.chords.goes_up(name)
            self.presses[name].goes_up()

    # Chart.

    def fire(self, gesture: Gesture) -> None:
        self.clock.tell(f"fired {gesture.name}")
        if gesture.chord is None:
            self.chords.cannot_join(gesture.button)
        for transition in self.state.transitions:
            if transition.gesture == gesture.name:
                self.take(transition)

    def take(self, transition: Transition) -> None:
        for name in transition.next:
            values = self.device.variable(name).values
            self.values[name] = values[(values.index(self.values[name]) + 1) % len(values)]
            self.clock.tell(f"{name} = {self.values[name]}")
        if transition.target is not None:
            self.enter(transition.target)
            return
        if transition.restarts:
            self.begin_timeouts()
        if transition.next and self.store is not None:
            self.store.changes(self.state.name, self.values)

    def enter(self, name: str) -> None:
        self.state = self.device.state(name)
        self.clock.tell(f"entered {name}")
        for button, presses in self.presses.items():
            presses.forget(self.reading[button])
        self.chords.state_is_entered()
        self.begin_timeouts()
        self.step = 0
        self.clock.drop("doze")
        self.clock.drop("step")
        if self.store is not None:
            self.store.changes(name, self.values)

    def begin_timeouts(self) -> None:
        self.clock.drop_all("timeout ")
        for timeout in self.state.timeouts:
            self.begin_timeout(timeout)

    def begin_timeout(self, timeout: Timeout) -> None:
        kind = f"timeout {self.state.name}: {timeout.text}"
        if timeout.with_open is not None and self.reading[timeout.with_open]:
            self.clock.drop(kind)
        else:
            self.clock.begin(kind, timeout.after, lambda: self.enter(timeout.target))

    # Processor.

    def rest(self) -> None:
        """The time before going to sleep runs just while everything is quiet."""
        sleep = self.state.sleep
        if sleep is None or self.processor != "awake" or self.step or self.is_busy():
            self.clock.drop("doze")
        elif not self.clock.is_running("doze"):
            self.clock.begin("doze", sleep.doze, self.next_step)

    def is_busy(self) -> bool:
        return any(self.reading.values()) or any(presses.phase != "idle" for presses in self.presses.values())

    def waking_level(self) -> bool:
        assert self.state.sleep is not None
        return any(self.level[name] for name in self.state.sleep.woken_by)

    def next_step(self) -> None:
        assert self.state.sleep is not None
        self.step += 1
        self.clock.begin("step", self.state.sleep.step, self.step_ends)

    def step_ends(self) -> None:
        assert self.state.sleep is not None
        if self.step == 1:
            self.flag = False
        if self.step == 3 and (any(self.level.values()) or self.is_busy() or self.flag):
            self.stays_awake()
            return
        if self.step == 4 and (self.flag or (self.state.sleep.on == "level" and self.waking_level())):
            self.stays_awake()
            return
        if self.step == 4:
            self.step = 0
            self.processor = "asleep"
            self.clock.tell("asleep")
            self.stops_reading()
            for name in self.presses:
                self.presses[name].forget(self.reading[name])
            self.chords.forget()
        else:
            self.next_step()

    def stays_awake(self) -> None:
        self.step = 0
        self.clock.tell("stays awake")

    def is_ready(self) -> None:
        self.processor = "awake"
        self.clock.tell("awake")
        for name in self.level:
            self.read_edge(name)

    # Supply.

    def cell_changes(self, is_there: bool) -> None:
        assert self.device.supply is not None
        assert self.device.power_up is not None
        is_starting = self.clock.is_running("start")
        if not is_there:
            if self.processor != "off" or is_starting:
                self.clock.begin("hold-up", self.device.supply.hold_up, self.loses_power)
            return
        self.clock.drop("hold-up")
        if self.processor == "off" and not is_starting:
            self.clock.begin("start", self.device.power_up.takes, self.starts)

    def loses_power(self) -> None:
        self.clock.tell("power lost")
        self.clock.drop_all()
        self.processor = "off"
        self.step = 0
        self.stops_reading()
        self.chords.forget()
        for name, presses in self.presses.items():
            self.reading[name] = False
            presses.forget(False)
        if self.store is not None:
            self.store.loses_power()

    def starts(self) -> None:
        assert self.device.power_up is not None
        self.values = {variable.name: variable.values[0] for variable in self.device.variables}
        state = self.device.power_up.if_blank
        found = self.store.read() if self.store is not None else "blank"
        if found == "damaged":
            state = self.device.power_up.if_damaged
        if isinstance(found, dict):
            state = found.get("state", state)
            self.values.update({name: value for name, value in found.items() if name != "state"})
        self.clock.tell(" ".join(["started", *(f"{key}={value}" for key, value in self.values.items())]))
        self.processor = "awake"
        self.enter(state)
        for name in self.level:
            if self.device.power_up.held_ignored and self.level[name]:
                self.reading[name] = True
                self.presses[name].forget(True)
            self.read_edge(name)
        self.begin_timeouts()
