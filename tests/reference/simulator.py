"""One specimen of a device, simulated naively from the reference page `docs/rules.md` alone.

Nothing of the tool is used but the parsed spec: this is a second, independent reading of the rules, for comparing. What
the contacts and the cell do is given; every time that the rules leave open is drawn at the moment it begins. There is one
loop over time; at one instant there may be one thing only, else `Tie` is raised, since the rules then allow any order.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from nudgeproof.spec.types import Device, Gesture, State, Timeout, Transition
from tests.reference.clock import Clock, Draw, Seen, Tie
from tests.reference.presses import Presses
from tests.reference.store import Store

Input = tuple[int, str, str, bool]


def simulate(
    device: Device,
    levels: Mapping[str, Sequence[tuple[int, bool]]],
    cell: Sequence[tuple[int, bool]],
    end_us: int,
    draw: Draw,
    happened: Sequence[tuple[int, str]] = (),
    voltage: Sequence[tuple[int, str]] = (),
) -> list[Seen]:
    """All that one sees of a device up to `end_us`, in the order of time.

    `levels`: for each button when its level changes, chatter included, and whether it is then closed; `cell`: when the
    cell comes and goes, and whether it is then there; `happened`: when which event comes; `voltage`: when that of the cell
    changes, and to which level. Raises `Tie`.
    """
    clock = Clock(draw)
    specimen = Specimen(device, clock)
    inputs: list[Input] = [(at, "button", button, closed) for button, edges in levels.items() for at, closed in edges]
    inputs += [(at, "cell", "", present) for at, present in cell]
    inputs += [(at, "event", event, True) for at, event in happened]
    inputs += [(at, "voltage", level, True) for at, level in voltage]
    inputs.sort()
    while True:
        specimen.rest()
        clock.end_instant()
        times = [at for at, _ in clock.timers.values()] + [one[0] for one in inputs[:1]]
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
        _, what, name, is_there = inputs.pop(0)
        if what == "button":
            specimen.level_changes(name, is_there)
        elif what == "cell":
            specimen.cell_changes(is_there)
        elif what == "event":
            specimen.happens(name)
        else:
            specimen.voltage = name


class Specimen:
    """All that a specimen is at one instant, in plain variables."""

    def __init__(self, device: Device, clock: Clock) -> None:
        self.device = device
        self.clock = clock
        names = [button.name for button in device.buttons]
        self.level = dict.fromkeys(names, False)
        self.reading = dict.fromkeys(names, False)
        self.presses = {
            button.name: Presses(button.name, device.gestures, clock, self.fire, button.extra_taps)
            for button in device.buttons
        }
        self.state: State = device.state(device.initial)
        self.values = {variable.name: variable.values[0] for variable in device.variables}
        self.processor = "awake" if self.state.sleep is None else "asleep"  # or readying, off
        self.has_cell = True
        self.is_fed = not self.state.unpowered
        self.latch = "open" if self.state.unpowered else "held"  # or letting go
        if self.state.unpowered:
            self.processor = "off"
        self.step = 0  # of going to sleep, 0 when not
        self.flag = False
        self.ignoring = False
        self.store = Store(device, device.memory, clock) if device.memory is not None else None
        self.kept = ""  # an event that waits to be seen
        self.voltage = "above"
        self.is_low = False  # what was seen of the cell last
        self.did_listen = self.listens()
        self.begin_timeouts()

    # Whether it listens, and what it then hears.

    def is_deaf(self) -> bool:
        writes = self.store is not None and self.store.rules.deaf and self.store.writing is not None
        return writes or self.clock.is_running("busy")

    def listens(self) -> bool:
        return self.processor == "awake" and not self.is_deaf()

    def listen(self) -> None:
        """Begin or end to listen, if that is due; an event that was kept may change that again."""
        while self.did_listen != self.listens():
            self.did_listen = self.listens()
            if not self.did_listen:
                self.clock.drop_all("debounce ")
                continue
            for name in self.level:
                self.read_edge(name)
            kept, self.kept = self.kept, ""
            if kept:
                self.see(kept)
        if not self.did_listen or self.device.cell is None:
            self.clock.drop("read cell")
        elif not self.clock.is_running("read cell"):
            self.clock.begin("read cell", self.device.cell.every, self.read_voltage)

    def happens(self, event: str) -> None:
        sleep = self.state.sleep
        is_waking = sleep is not None and event in sleep.woken_by_events and self.wakes_by("edge")
        is_awake = self.processor == "awake"
        self.flag = self.flag or (is_waking and is_awake and self.step > 1)
        if self.listens():
            self.see(event)
        elif is_waking and self.processor in ("asleep", "readying"):
            counts = next(e.counts for e in self.device.events if e.name == event)
            if counts and not self.kept:
                self.kept = event
            if self.processor == "asleep":
                self.begin_to_wake()

    def see(self, event: str) -> None:
        self.clock.tell(f"saw {event}")
        for transition in self.state.transitions:
            if transition.gesture == event:
                self.take(transition)
                return

    def read_voltage(self) -> None:
        if self.voltage == "below" and not self.is_low:
            self.is_low = True
            self.see("cell low")
        elif self.voltage == "above" and self.is_low:
            self.is_low = False
            self.see("cell fine")

    # Contact and reader.

    def level_changes(self, name: str, closed: bool) -> None:
        self.level[name] = closed
        self.feed()
        sleep = self.state.sleep
        counts = sleep is not None and (sleep.on == "edge" or self.ignoring or self.waking_level())
        if sleep is not None and name in sleep.woken_by and self.wakes_by(sleep.on) and counts:
            if self.processor == "asleep":
                self.begin_to_wake()
            elif self.step > 1:
                self.flag = True
        if self.listens():
            self.read_edge(name)

    def wakes_by(self, kind: str) -> bool:
        """Whether an edge, or a level, wakes from the depth of this state."""
        assert self.state.sleep is not None
        depth = self.state.sleep.depth
        return depth is None or kind in depth.woken_by

    def begin_to_wake(self) -> None:
        assert self.state.sleep is not None
        self.processor = "readying"
        self.clock.begin("ready", self.state.sleep.ready, self.is_ready)

    def read_edge(self, name: str) -> None:
        self.clock.drop(f"debounce {name}")
        if self.level[name] != self.reading[name]:
            self.clock.begin(f"debounce {name}", self.device.button(name).debounce, lambda: self.accept(name))

    def accept(self, name: str) -> None:
        self.reading[name] = not self.reading[name]
        self.clock.tell(f"{'down' if self.reading[name] else 'up'} {name}")
        for timeout in self.state.timeouts:
            if timeout.with_open == name:
                self.begin_timeout(timeout)
        if self.reading[name]:
            self.presses[name].goes_down(self.state)
        else:
            self.presses[name].goes_up()

    # Chart.

    def fire(self, gesture: Gesture) -> None:
        self.clock.tell(f"fired {gesture.name}")
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
            presses.state_entered(self.reading[button])
        self.begin_timeouts()
        self.step = 0
        self.ignoring = self.ignoring and self.processor != "awake"
        self.clock.drop("doze")
        self.clock.drop("step")
        self.clock.drop_all("gives up ")
        if self.state.busy is not None:
            self.clock.begin("busy", self.state.busy, lambda: None)
        if self.store is not None:
            self.store.changes(name, self.values)
        self.set_latch(is_start=False)

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
        self.listen()
        sleep = self.state.sleep
        if sleep is None or self.processor != "awake" or self.step or self.is_busy() or self.is_deaf():
            self.clock.drop("doze")
        elif not self.clock.is_running("doze"):
            self.clock.begin("doze", sleep.doze, self.next_step)
        self.rest_with_a_button_down()

    def rest_with_a_button_down(self) -> None:
        """A button that stays down is given up on after a while, if nothing else is going on."""
        sleep = self.state.sleep
        held = " and ".join(name for name, reading in self.reading.items() if reading)
        waits = self.is_deaf() or any(
            presses.phase in ("down", "pause", "repeating", "extra") for presses in self.presses.values()
        )
        kind = f"gives up {held}"
        for other in [name for name in self.clock.timers if name.startswith("gives up ") and name != kind]:
            self.clock.drop(other)
        if sleep is None or sleep.gives_up is None or self.processor != "awake" or self.step or waits or not held:
            self.clock.drop(kind)
        elif not self.clock.is_running(kind):
            self.clock.begin(kind, sleep.gives_up, self.give_up)

    def give_up(self) -> None:
        self.ignoring = True
        self.next_step()

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
        if self.step == 3 and (self.looks_busy() or self.flag or self.is_deaf()):
            self.stays_awake()
            return
        is_kept = (
            self.state.sleep.on == "level" and self.waking_level() and not self.ignoring and self.wakes_by("level")
        )
        if self.step == 4 and (self.flag or is_kept):
            self.stays_awake()
            return
        if self.step == 4:
            self.step = 0
            self.processor = "asleep"
            self.clock.tell("asleep")
        else:
            self.next_step()

    def looks_busy(self) -> bool:
        if not self.ignoring:
            return any(self.level.values()) or self.is_busy()
        pending = any(presses.phase in ("down", "pause", "repeating", "extra") for presses in self.presses.values())
        return pending or self.level != self.reading

    def stays_awake(self) -> None:
        self.step = 0
        self.ignoring = False
        self.clock.tell("stays awake")

    def is_ready(self) -> None:
        self.processor = "awake"
        self.ignoring = False
        self.clock.tell("awake")

    # Supply.

    def cell_changes(self, is_there: bool) -> None:
        self.has_cell = is_there
        self.feed()

    def feed(self) -> None:
        """The device is fed while the cell is there and its way is closed: by the latch or by a key."""
        latch = self.device.supply.latch if self.device.supply is not None else None
        closed = latch is None or self.latch != "open" or any(self.level[name] for name in latch.closed_by)
        is_fed = self.has_cell and closed
        if is_fed != self.is_fed:
            self.is_fed = is_fed
            self.feed_changes(is_fed)

    def set_latch(self, is_start: bool) -> None:
        """The firmware holds the latch once it runs, and lets go of it in a state without power."""
        latch = self.device.supply.latch if self.device.supply is not None else None
        if latch is None or (self.latch == "open" and not is_start):
            return
        self.clock.drop("lets go") if not self.state.unpowered else None
        if self.state.unpowered and self.latch != "letting go":
            self.clock.begin("lets go", latch.lets_go, self.latch_opens)
        self.latch = "letting go" if self.state.unpowered else "held"
        self.feed()

    def latch_opens(self) -> None:
        self.latch = "open"
        self.feed()

    def feed_changes(self, is_there: bool) -> None:
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
        self.ignoring = False
        self.kept = ""
        self.is_low = False
        self.did_listen = False
        for name, presses in self.presses.items():
            self.reading[name] = False
            presses.begin_again("idle")
        if self.store is not None:
            self.store.loses_power()
        if self.device.supply is not None and self.device.supply.latch is not None:
            self.latch = "open"
            if not self.state.unpowered:
                self.state = next(state for state in self.device.states if state.unpowered)
            self.feed()

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
                self.presses[name].begin_again("nobody")
        self.begin_timeouts()
        self.set_latch(is_start=True)
