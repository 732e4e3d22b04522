"""One specimen of a device, simulated naively from the reference page `docs/rules.md` alone.

Nothing of the tool is used but the parsed spec: this is a second, independent reading of the rules, for comparing. What
the contacts and the cell do is given; every time that the rules leave open is drawn at the moment it begins. There is one
loop over time; at one instant there may be one thing only, else `Tie` is raised, since the rules then allow any order.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from itertools import count, product

from nudgeproof.spec.types import Device, Gesture, Samples, Sleep, State, Timeout, Transition
from nudgeproof.units import Span
from tests.reference.chords import Chords
from tests.reference.clock import Clock, Draw, Seen, Tie
from tests.reference.electric import Node, Unlike, is_on
from tests.reference.presses import Presses
from tests.reference.store import Store, first_value

Line = Transition | Timeout

Input = tuple[int, str, str, bool]


def simulate(
    device: Device,
    levels: Mapping[str, Sequence[tuple[int, bool]]],
    cell: Sequence[tuple[int, bool]],
    end_us: int,
    draw: Draw,
    happened: Sequence[tuple[int, str]] = (),
    voltage: Sequence[tuple[int, str]] = (),
    rounds: Sequence[int] = (),
    node: Node | None = None,
    most: int | None = None,
) -> list[Seen]:
    """All that one sees of a device up to `end_us`, in the order of time.

    `levels`: for each button when its level changes, chatter included, and whether it is then closed; `cell`: when the
    cell comes and goes, and whether it is then there; `happened`: when which event comes; `voltage`: when that of the cell
    changes, and to which level; `rounds`: when the clock comes round; `node`: what feeds it, None for a supply that only has
    a hold-up time. Raises `Tie`, `Unlike` of the electricity, and `TooLong` if more than `most` things happen.
    """
    clock = Clock(draw, device.off_by)
    specimen = Specimen(device, clock, node)
    inputs: list[Input] = [(at, "button", button, closed) for button, edges in levels.items() for at, closed in edges]
    inputs += [(at, "cell", "", present) for at, present in cell]
    inputs += [(at, "event", event, True) for at, event in happened]
    inputs += [(at, "voltage", level, True) for at, level in voltage]
    inputs += [(at, "clock", "", True) for at in rounds]
    inputs.sort(key=lambda one: one[0])  # a cell that goes and is back at once does so in this order
    for number in count():
        if most is not None and number > most:
            raise TooLong
        specimen.rest()
        specimen.draws_current()
        clock.end_instant()
        times = [at for at, _ in clock.timers.values()] + [one[0] for one in inputs[:1]]
        times += [node.comes[0]] if node is not None and node.comes is not None else []
        if not times or min(times) > end_us:
            return clock.seen
        clock.now = min(times)
        due = [kind for kind, (at, _) in clock.timers.items() if at == clock.now]
        edges = [edge for edge in inputs if edge[0] == clock.now]
        if node is not None and node.comes is not None and node.comes[0] == clock.now:
            if due or edges:
                raise Tie(f"at {clock.now} us: the supply, {due} {edges}")
            specimen.supply_turns(node.comes[1])
            continue
        if len(due) + len(edges) > 1 and (due or any(edge[1] != "cell" for edge in edges)):
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
        elif what == "clock":
            specimen.clock_comes_round()
        elif what == "event":
            specimen.happens(name)
        else:
            specimen.voltage = name
    raise AssertionError  # it only ends within


class TooLong(Exception):
    """More happened than one was ready to look at."""


def may_wake(sleep: Sleep, kind: str) -> bool:
    """Whether an edge, or a level, wakes from where a state sleeps."""
    return sleep.depth is None or kind in sleep.depth.woken_by


class Specimen:
    """All that a specimen is at one instant, in plain variables."""

    def __init__(self, device: Device, clock: Clock, node: Node | None = None) -> None:
        self.device = device
        self.clock = clock
        self.node = node
        self.in_a_row = 0  # brown-outs since a gesture
        names = [button.name for button in device.buttons]
        self.level = dict.fromkeys(names, False)
        self.reading = dict.fromkeys(names, False)
        self.count = dict.fromkeys(names, 0)  # samples in a row that differ
        self.had_lockout: set[str] = set()  # since the last start
        self.deaf_for_good: set[str] = set()
        self.presses = {
            button.name: Presses(
                button.name,
                device.gestures,
                clock,
                self.fire,
                button.extra_taps,
                button.claims,
                device.elapsed,
                device.ticks,
            )
            for button in device.buttons
        }
        self.chords = Chords(
            device,
            clock,
            self.reading,
            self.fire,
            lambda name: self.presses[name].begin_again("nobody"),
            lambda name: self.presses[name].begin_again("held"),
        )
        self.state: State = device.state(device.initial)
        self.values = {variable.name: first_value(variable) for variable in device.variables}
        self.values.update(self.state.on_entering)
        self.processor = "awake" if self.state.sleep is None else "asleep"  # or readying, off
        self.has_cell = True
        self.is_fed = not self.state.unpowered
        self.latch = "open" if self.state.unpowered else "held"  # or letting go
        if self.state.unpowered:
            self.processor = "off"
        self.is_off = self.state.unpowered and device.stays_off is not None  # by the power chip
        self.is_fed = self.is_fed or self.is_off
        self.step = 0  # of going to sleep, 0 when not
        self.flag = False
        self.ignoring = False
        rules = device.power_up
        self.causes = {"cell"} if self.processor == "off" or (rules is not None and rules.causes_left) else set()
        self.ram: dict[str, str] | None = None  # what it holds without a firmware that runs
        self.ram_decayed = False
        self.store = Store(device, device.memory, clock) if device.memory is not None else None
        self.kept = ""  # an event that waits to be seen
        self.queue: list[Gesture] = []  # recognised in an interrupt, and not seen yet
        self.is_at_it = False  # one of them was just taken
        self.voltage = "above"
        self.is_low = False  # what was seen of the cell last
        self.did_listen = self.listens()
        self.did_run = self.processor == "awake"
        self.begin_timeouts()

    # Whether it listens, and what it then hears.

    def is_occupied(self) -> bool:
        writes = self.store is not None and self.store.rules.deaf and self.store.writing is not None
        return writes or self.clock.is_running("busy")

    def is_deaf(self) -> bool:
        return self.is_occupied() or bool(self.queue) or self.is_at_it

    def listens(self) -> bool:
        return self.processor == "awake" and not self.is_deaf()

    def reads(self, name: str) -> bool:
        """Whether edges of this button are read now."""
        return self.listens() or (self.processor == "awake" and self.device.button(name).in_interrupt)

    def look(self, in_interrupt: bool) -> None:
        """Treat the levels of buttons like edges, those read in an interrupt or the others."""
        for name in self.level:
            button = self.device.button(name)
            if button.claims.listens_again == "looks" and button.in_interrupt == in_interrupt:
                self.read_edge(name)

    def run_interrupts(self) -> None:
        """Begin or end to read what is read in an interrupt, if that is due."""
        if self.did_run == (self.processor == "awake"):
            return
        self.did_run = not self.did_run
        if self.did_run:
            self.look(in_interrupt=True)
        else:
            self.stop_reading(name for name in self.level if self.device.button(name).in_interrupt)

    def empty_queue(self) -> None:
        """A firmware that is free does what waits, one after the other, until something makes it busy again."""
        if self.is_occupied():
            self.is_at_it = False
        if not (self.queue or self.is_at_it) or self.processor != "awake" or self.is_occupied():
            self.clock.drop("take")
        elif not self.clock.is_running("take"):
            self.clock.begin("take", Span(0, 0), self.take_one)

    def take_one(self) -> None:
        self.is_at_it = bool(self.queue)
        if self.queue:
            self.clock.drop("supervisor")
            self.do(self.queue.pop(0))

    def listen(self) -> None:
        """Begin or end to listen, if that is due; an event that was kept may change that again."""
        while self.did_listen != self.listens():
            self.did_listen = self.listens()
            if not self.did_listen:
                self.stop_reading(name for name in self.level if not self.device.button(name).in_interrupt)
                continue
            self.clock.drop("supervisor")
            self.look(in_interrupt=False)
            kept, self.kept = self.kept, ""
            if kept:
                self.see(kept)
        is_new = self.voltage == "above" if self.is_low else self.voltage == "below"
        if not self.did_listen or self.device.cell is None or not is_new:
            self.clock.drop("read cell")
        elif not self.clock.is_running("read cell"):
            self.clock.begin("read cell", Span(0, self.device.cell.every.hi), self.read_voltage)

    def happens(self, event: str) -> None:
        sleep = self.state.sleep
        is_waking = sleep is not None and event in sleep.woken_by_events and self.wakes_by("edge")
        is_awake = self.processor == "awake"
        takes = is_awake and self.takes_edges()
        self.flag = self.flag or (is_waking and takes and self.flag_counts())
        self.flag = self.flag or (takes and self.flag_is_never_old() is False and event in self.all_waking_events())
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
        case = self.applying([t for t in self.state.transitions if t.gesture == event])
        if case is not None:
            self.take(case)

    def read_voltage(self) -> None:
        self.is_low = not self.is_low
        self.see("cell low" if self.is_low else "cell fine")

    # Contact and reader.

    def level_changes(self, name: str, closed: bool) -> None:
        self.level[name] = closed
        self.feed()
        chip = self.device.supply.cut_off if self.device.supply is not None else None
        if chip is not None and name == chip.button:
            self.watch()
        if self.is_off:
            self.watch_switch(name)
        sleep = self.state.sleep
        any_edge = sleep is not None and self.ignoring and "arm" in sleep.steps
        counts = sleep is not None and (sleep.on == "edge" or any_edge or self.waking_level())
        is_old = not self.flag_is_never_old() and name in self.all_waking_buttons()
        if self.processor == "awake" and is_old and self.takes_edges():
            self.flag = True
        if sleep is not None and name in sleep.woken_by and self.wakes_by(sleep.on) and counts:
            if self.processor == "asleep":
                self.begin_to_wake()
                if sleep.counts_from_wake and not self.reading[name]:
                    self.presses[name].goes_down_early(self.state)
            elif self.processor == "awake" and self.flag_counts() and self.takes_edges():
                self.flag = True
        if self.processor == "awake" and not closed:
            self.presses[name].forget_early()
        if self.reads(name):
            self.read_edge(name)

    def wakes_by(self, kind: str) -> bool:
        """Whether an edge, or a level, wakes from the depth of this state."""
        assert self.state.sleep is not None
        return may_wake(self.state.sleep, kind)

    # The wake flag.

    def flag_counts(self) -> bool:
        """Whether an edge that wakes from this state sets the flag now."""
        assert self.state.sleep is not None
        steps = self.state.sleep.steps
        return "clear" not in steps or (self.step > 0 and "clear" in steps[: self.step - 1])

    def takes_edges(self) -> bool:
        """Whether the chip takes an edge while the processor is awake; some don't before the wake source is armed."""
        if not any(state.sleep is not None and state.sleep.drops_unarmed for state in self.device.states):
            return True
        if self.state.sleep is None:
            return False
        steps = self.state.sleep.steps
        return "arm" not in steps or (self.step > 0 and "arm" in steps[: self.step - 1])

    def flag_is_never_old(self) -> bool:
        return all("clear" in state.sleep.steps for state in self.device.states if state.sleep is not None)

    def all_waking_buttons(self) -> set[str]:
        """Those that wake with `on: edge` from some state."""
        kinds = [s.sleep for s in self.device.states if s.sleep is not None and s.sleep.on == "edge"]
        return {name for kind in kinds if may_wake(kind, "edge") for name in kind.woken_by}

    def all_waking_events(self) -> set[str]:
        kinds = [s.sleep for s in self.device.states if s.sleep is not None]
        return {name for kind in kinds if may_wake(kind, "edge") for name in kind.woken_by_events}

    def begin_to_wake(self) -> None:
        assert self.state.sleep is not None
        self.processor = "readying"
        self.clock.begin("ready", self.state.sleep.ready, self.is_ready)

    def read_edge(self, name: str) -> None:
        button = self.device.button(name)
        differs = self.level[name] != self.reading[name]
        if name in self.deaf_for_good:
            return
        if button.lockout is not None:
            if differs and not self.clock.is_running(f"lockout {name}"):
                self.had_lockout.add(name)
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

    def clock_comes_round(self) -> None:
        for name in self.had_lockout:
            if self.device.button(name).compares_moments and not self.clock.is_running(f"lockout {name}"):
                self.deaf_for_good.add(name)

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

    def stop_reading(self, names: Iterable[str]) -> None:
        for name in names:
            for kind in ("debounce", "lockout", "first sample", "sample"):
                self.clock.drop(f"{kind} {name}")
            self.count[name] = 0

    def accept(self, name: str) -> None:
        self.reading[name] = not self.reading[name]
        self.clock.tell(f"{'down' if self.reading[name] else 'up'} {name}")
        for cases in self.lines_of_time():
            if cases[0].with_open == name:
                self.begin_timeout(cases)
        others = [other for other in self.presses if other != name]
        if self.reading[name]:
            for other in others:
                self.presses[other].another_goes_down(self.state)
            # Where the press begins is where it was before anything came of it.
            if self.chords.owns(name):
                self.presses[name].begin_again("nobody")
                return
            of_chords = self.chords.begins(name, self.state)
            self.presses[name].goes_down(self.state)
            of_chords()
        else:
            for other in others:
                if not any(self.reading[third] for third in self.reading if third != other):
                    self.presses[other].all_others_are_up()
            self.chords.goes_up(name)
            self.presses[name].goes_up(self.state)

    # Chart.

    def fire(self, gesture: Gesture) -> None:
        """A pattern fires; what an interrupt recognises while the firmware doesn't listen waits, if there is room."""
        waits = gesture.chord is None and self.device.button(gesture.button).in_interrupt and not self.listens()
        if not waits:
            self.do(gesture)
        elif len(self.queue) < self.device.queue:
            self.queue.append(gesture)

    def do(self, gesture: Gesture) -> None:
        self.in_a_row = 0
        self.clock.tell(f"fired {gesture.name}")
        if gesture.chord is None:
            self.chords.cannot_join(gesture.button)
        case = self.applying([t for t in self.state.transitions if t.gesture == gesture.name])
        if case is not None:
            self.take(case)

    def applying(self, cases: Sequence[Line]) -> Line | None:
        """The case whose condition holds now."""
        for case in cases:
            named = case.condition.allowed if case.condition is not None else ()
            if all(self.values[variable] in allowed for variable, allowed in named):
                return case
        return None

    def take(self, line: Line) -> None:
        before = dict(self.values)
        for name in line.next:
            self.values[name] = self.stepped(name, 1)
        for name in line.previous:
            self.values[name] = self.stepped(name, -1)
        self.values.update(line.set)
        if line.target is not None:
            for name, value in self.device.state(line.target).on_entering:
                if name not in line.keep:
                    self.values[name] = value
        changed = [name for name in self.values if self.values[name] != before[name]]
        for name in changed:
            self.clock.tell(f"{name} = {self.values[name]}")
        if line.target is not None:
            left = self.state.group
            self.enter(line.target, left if not line.group else "")
            return
        restarts = isinstance(line, Transition) and line.restarts
        if restarts:
            self.begin_timeouts(going_on=self.state.group if not line.group else "")
        self.begin_timeouts_of(changed)
        if changed and self.store is not None:
            self.store.changes(self.state.name, self.values)

    def stepped(self, name: str, by: int) -> str:
        variable = self.device.variable(name)
        values = variable.values
        place = values.index(self.values[name]) + by
        if place in (-1, len(values)):
            return values[place % len(values)] if variable.wraps else self.values[name]
        return values[place]

    def enter(self, name: str, going_on: str = "") -> None:
        """`going_on`: the group whose timeouts go on if the state is one of it."""
        self.state = self.device.state(name)
        self.clock.tell(f"entered {name}")
        for button, presses in self.presses.items():
            presses.state_entered(self.reading[button], self.state)
        self.chords.state_is_entered()
        self.begin_timeouts(going_on)
        self.flag = self.flag and not self.flag_is_never_old()
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
        if self.device.stays_off is not None and self.state.unpowered:
            self.clock.begin("lets go", self.device.stays_off.lets_go, lambda: self.switches_off("switched off"))

    def lines_of_time(self) -> list[list[Timeout]]:
        """The cases of each line with a time."""
        lines: dict[tuple[str, str], list[Timeout]] = {}
        for timeout in self.state.timeouts:
            lines.setdefault((timeout.group, timeout.text), []).append(timeout)
        return list(lines.values())

    def kind(self, timeout: Timeout) -> str:
        value = f", {self.values[timeout.by]}" if timeout.by else ""
        return f"timeout {timeout.group or self.state.name}: {timeout.text}{value}"

    def begin_timeouts(self, going_on: str = "") -> None:
        kept = [self.kind(t) for t in self.state.timeouts if t.group and t.group == going_on]
        for kind in self.clock.running("timeout "):
            if kind not in kept:
                self.clock.drop(kind)
        for cases in self.lines_of_time():
            if not self.clock.is_running(self.kind(cases[0])):
                self.begin_timeout(cases)

    def begin_timeouts_of(self, variables: Sequence[str]) -> None:
        """Those whose length one of the variables says."""
        for cases in self.lines_of_time():
            if cases[0].by in variables:
                start = f"timeout {cases[0].group or self.state.name}: {cases[0].text}, "
                self.clock.drop_all(start)
                self.begin_timeout(cases)

    def begin_timeout(self, cases: list[Timeout]) -> None:
        first = cases[0]
        if first.with_open is not None and self.reading[first.with_open]:
            self.clock.drop(self.kind(first))
        else:
            span = dict(first.times)[self.values[first.by]] if first.by else first.after
            self.clock.begin(self.kind(first), span, lambda: self.time_is_over(cases))

    def time_is_over(self, cases: list[Timeout]) -> None:
        case = self.applying(cases)
        if case is not None:
            self.take(case)
        if (case is None or case.target is None) and not self.clock.is_running(self.kind(cases[0])):
            self.begin_timeout(cases)

    # Processor.

    def rest(self) -> None:
        """The time before going to sleep runs just while everything is quiet."""
        for presses in self.presses.values():
            presses.see_late()
        self.run_interrupts()
        self.empty_queue()
        self.listen()
        sleep = self.state.sleep
        if sleep is None or self.processor != "awake" or self.step or self.is_busy() or self.is_deaf():
            self.clock.drop("doze")
        elif not self.clock.is_running("doze"):
            self.clock.begin("doze", sleep.doze, self.next_step)
        self.rest_with_a_button_down()
        self.be_supervised()

    def be_supervised(self) -> None:
        """The supervisor waits while nothing feeds it; in sleep only one that runs there."""
        rules = self.device.supervisor
        waits = self.processor == "awake" or (self.processor != "off" and rules is not None and rules.in_sleep)
        if rules is None or self.listens() or not waits:
            self.clock.drop("supervisor")
        elif not self.clock.is_running("supervisor"):
            self.clock.begin("supervisor", rules.after, lambda: self.reset_as_it_is("not fed"))

    def rest_with_a_button_down(self) -> None:
        """A button that stays down is given up on after a while, if nothing else is going on."""
        sleep = self.state.sleep
        held = " and ".join(name for name, reading in self.reading.items() if reading)
        waits = self.waits() or self.is_deaf()
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
        begun = [presses for presses in self.presses.values() if presses.phase != "idle"]
        if self.state.sleep is not None and self.state.sleep.outlasts:
            return any(self.reading.values())
        return any(self.reading.values()) or any(not (p.is_early and p.phase in ("nobody", "held")) for p in begun)

    def waking_level(self) -> bool:
        assert self.state.sleep is not None
        return any(self.level[name] for name in self.state.sleep.woken_by)

    def next_step(self) -> None:
        assert self.state.sleep is not None
        self.step += 1
        self.clock.begin("step", self.state.sleep.step, self.step_ends)

    def step_ends(self) -> None:
        assert self.state.sleep is not None
        sleep = self.state.sleep
        step = sleep.steps[self.step - 1]
        if step == "clear":
            self.flag = False
        is_fresh = self.flag and "clear" in sleep.steps[: self.step - 1]
        if step == "check" and (self.looks_busy() or is_fresh or self.is_deaf()):
            self.flag = self.flag and not is_fresh
            self.stays_awake()
            return
        is_kept = sleep.on == "level" and self.waking_level() and not self.ignoring and self.wakes_by("level")
        if step == "sleep" and ((self.flag and not sleep.late_unseen) or is_kept):
            self.flag = False
            self.stays_awake()
            self.see_waking()
            return
        if step == "sleep":
            self.step = 0
            self.flag = False
            self.processor = "asleep"
            self.clock.tell("asleep")
            for name in self.presses:
                self.presses[name].falls_asleep(self.reading[name], sleep)
                self.presses[name].is_marked = False
            self.chords.forget()
            is_closed = sleep.on == "level" and self.wakes_by("level") and self.waking_level()
            if self.ignoring and "arm" not in sleep.steps and is_closed:
                self.begin_to_wake()
        else:
            self.next_step()

    def see_waking(self) -> None:
        """What waking does by itself, if it does anything in this state."""
        if any(line.gesture == "waking" for line in self.state.transitions):
            self.see("waking")

    def looks_busy(self) -> bool:
        if not self.ignoring:
            return any(self.level.values()) or self.is_busy()
        return self.waits() or self.level != self.reading

    def waits(self) -> bool:
        """Whether a pattern is begun that keeps the processor awake, even if a button that stays down doesn't."""
        asks = self.state.sleep is not None and self.state.sleep.outlasts
        begun = [name for name, p in self.presses.items() if p.phase in ("down", "pause", "repeating", "extra")]
        return any(self.reading[name] or not asks for name in begun)

    def stays_awake(self) -> None:
        self.step = 0
        self.ignoring = False
        self.clock.tell("stays awake")

    def is_ready(self) -> None:
        self.processor = "awake"
        self.ignoring = False
        self.clock.tell("awake")
        self.see_waking()
        for presses in self.presses.values():
            presses.is_marked = presses.claims.waking != "counts"
            presses.wakes()
        for name, presses in self.presses.items():
            if not self.level[name]:
                presses.forget_early()

    # Supply.

    def cell_changes(self, is_there: bool) -> None:
        self.has_cell = is_there
        if not is_there and self.is_off:
            self.is_off = False
            self.clock.drop_all("switch on ")
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
        if latch is None or (self.latch == "open" and self.state.unpowered and not is_start):
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
            if self.node is not None:
                if self.processor == "off" and is_starting and self.node.in_reset:
                    raise Unlike("the cell goes while the voltage recovers")
            elif self.processor != "off" or is_starting:
                self.clock.begin("hold-up", self.device.supply.hold_up, self.loses_power)
            return
        self.clock.drop("hold-up")
        if self.processor == "off" and not is_starting:
            self.clock.begin("start", self.device.power_up.takes, self.starts)
            self.start_up_begins()
            self.clock.drop("ram")
            self.watch()

    # Electricity.

    def draws_current(self) -> None:
        """Tell the node which loads are on."""
        if self.node is None:
            return
        phase = {"awake": "running", "off": "starting" if self.clock.is_running("start") else "off"}
        phase["off"] = "off" if self.node.in_reset else phase["off"]
        now = phase.get(self.processor, "asleep")
        pressed = [name for name, closed in self.level.items() if closed]
        writes = self.store is not None and self.store.writing is not None
        found = [
            i
            for i, load in enumerate(self.node.specimen.loads)
            if is_on(load.drain, now, self.state.name, self.values, pressed, writes)
        ]
        watches = now != "asleep" or self.node.specimen.works_asleep
        self.node.draws(self.clock.now, tuple(found), self.is_fed, watches)

    def supply_turns(self, how: str) -> None:
        """The voltage has been too low for long enough, or is high enough to start."""
        assert self.node is not None
        if how == "lets go":
            self.node.holds_in_reset(self.clock.now, False)
            return
        self.node.holds_in_reset(self.clock.now, True)
        if not self.is_fed:
            self.loses_power()
            return
        self.in_a_row += 1
        self.reset_as_it_is("browned out")

    def loses_power(self, why: str = "power lost") -> None:
        self.in_a_row = 0
        self.clock.tell(why)
        self.clock.drop_all()
        self.causes.add("cell")
        self.reset()
        if self.device.ram is not None and self.ram is not None:
            self.clock.begin("ram", self.device.ram.lasts, self.ram_decays)

    def ram_decays(self) -> None:
        self.ram, self.ram_decayed = None, True

    def read_ram(self) -> dict[str, str]:
        """What a start takes from RAM: the values as they were, nothing, or with a marker anything legal."""
        rules = self.device.ram
        if rules is None or self.ram is not None or not self.ram_decayed or rules.is_checked:
            return self.ram or {}
        domains = [self.legal_values(name) for name in rules.keeps]
        legal = [None, *product(*domains)]
        believed = legal[self.clock.draw("ram garbage", 0, len(legal) - 1)]
        return {} if believed is None else dict(zip(rules.keeps, believed, strict=True))

    def legal_values(self, name: str) -> tuple[str, ...]:
        if name == "state":
            return tuple(state.name for state in self.device.states)
        return self.device.variable(name).values

    def watch(self) -> None:
        """The power chip begins to count when its button closes, or when power comes while it is closed."""
        chip = self.device.supply.cut_off if self.device.supply is not None else None
        if chip is None:
            return
        if not self.level[chip.button]:
            self.clock.drop("cut-off")
        elif self.processor != "off" or self.clock.is_running("start"):
            then = self.reset_as_it_is if chip.off is None else self.switches_off
            self.clock.begin("cut-off", chip.after, lambda: then("cut off"))

    def switches_off(self, why: str) -> None:
        """The power chip takes all power away; while it has its cell it remembers that, and waits for a button."""
        self.loses_power(why)
        self.causes |= {"cut-off"} if why == "cut off" else set()
        if not self.state.unpowered:
            self.state = next(state for state in self.device.states if state.unpowered)
        self.is_off = self.has_cell

    def watch_switch(self, name: str) -> None:
        """The power chip waits for an edge after which a button stays closed for long enough."""
        off = self.device.stays_off
        assert off is not None
        if not self.level[name]:
            self.clock.drop(f"switch on {name}")
        elif name in off.on_by:
            self.clock.begin(f"switch on {name}", off.closed_for, self.switches_on)

    def switches_on(self) -> None:
        assert self.device.power_up is not None
        self.clock.tell("switched on")
        self.is_off = False
        self.clock.drop_all("switch on ")
        self.clock.begin("start", self.device.power_up.takes, self.starts)
        self.start_up_begins()
        self.clock.drop("ram")
        self.watch()

    def reset_as_it_is(self, why: str) -> None:
        """Everything begins anew but the loss of contact, if there is one, and what watches the button."""
        assert self.device.power_up is not None
        self.clock.tell(why)
        self.causes |= {"cut off": {"cut-off"}, "not fed": {"supervisor"}}.get(why, set())
        for kind in self.clock.running():
            if kind not in ("hold-up", "cut-off"):
                self.clock.drop(kind)
        self.clock.begin("start", self.device.power_up.takes, self.starts)
        self.reset()
        self.start_up_begins()

    def start_up_begins(self) -> None:
        assert self.device.power_up is not None
        for presses in self.presses.values() if self.device.power_up.counts_from_power else ():
            presses.power_comes(self.device.states)

    def reset(self) -> None:
        if self.device.ram is not None and self.processor != "off":
            whole = {"state": self.state.name, **self.values}
            self.ram, self.ram_decayed = {name: whole[name] for name in self.device.ram.keeps}, False
        self.processor = "off"
        self.step = 0
        self.flag = False
        self.ignoring = False
        self.kept = ""
        self.is_low = False
        self.did_listen = False
        self.did_run = False
        self.queue, self.is_at_it = [], False
        self.stop_reading(self.level)
        self.had_lockout, self.deaf_for_good = set(), set()
        self.chords.forget()
        for name, presses in self.presses.items():
            self.reading[name] = False
            presses.begin_again("idle")
            presses.is_marked = False
        if self.store is not None:
            self.store.loses_power()
        if self.device.supply is not None and self.device.supply.latch is not None:
            self.latch = "open"
            if not self.state.unpowered:
                self.state = next(state for state in self.device.states if state.unpowered)
            self.feed()

    def starts(self) -> None:
        assert self.device.power_up is not None
        if self.node is not None and self.node.in_reset:
            raise Unlike("the voltage takes longer to recover than a start")
        self.values = {variable.name: first_value(variable) for variable in self.device.variables}
        named = [state for cause, state in self.device.power_up.starts_in if cause in self.causes]
        state = named[0] if named else self.device.power_up.if_blank
        if not self.device.power_up.causes_left:
            self.causes.clear()
        found = self.store.read() if self.store is not None else "blank"
        if found == "damaged":
            state = self.device.power_up.if_damaged
        kept = dict(found) if isinstance(found, dict) else {}
        kept.update(self.read_ram())
        self.ram, self.ram_decayed = None, False
        state = kept.pop("state", state)
        weak = self.device.electricity.reset if self.device.electricity is not None else None
        if self.node is not None and weak is not None and weak.starts_in is not None and self.in_a_row > weak.tries:
            state = weak.starts_in
        self.values.update(self.device.state(state).on_entering)
        self.values.update(kept)
        self.clock.tell(" ".join(["started", *(f"{key}={value}" for key, value in self.values.items())]))
        self.processor = "awake"
        self.enter(state)
        for name in self.level:
            if self.device.power_up.held_ignored and self.level[name]:
                self.reading[name] = True
                self.presses[name].begin_again("nobody")
            self.presses[name].firmware_starts(self.level[name], self.state)
        self.begin_timeouts()
        self.set_latch(is_start=True)
