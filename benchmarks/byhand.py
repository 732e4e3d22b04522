"""The measured devices as one would write them for a test of one's own, without this tool.

The model is a small firmware in plain Python: deadlines, a debounce, a count of taps, sleep, a setting in memory. It shares
nothing with the tool and was written from what the devices do, not from its rules. The world gives it edges with their
times; whatever varies is asked of `draw`. The test over it is one for hypothesis, which draws presses, pauses, chatter and
outages. Since faults lie at ends, each time is an end of its span as often as not.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

MS = 1_000
DEBOUNCE, EXACT_DEBOUNCE = (15 * MS, 25 * MS), (20 * MS, 20 * MS)
BOUNCE, APART = 5 * MS, 1 * MS
PRESS, BETWEEN, HELD = 400 * MS, 250 * MS, 1_000 * MS
READY, DOZES, EACH_STEP = 5 * MS, 50 * MS, 5 * MS
WRITE, STARTS = 3_400, 70 * MS
CALM = 3_000 * MS
"""So long a run goes on after the last edge."""

Draw = Callable[[int, int], int]
"""A time between two ends."""

LOW, HIGH, GONE, BACK = "low", "high", "gone", "back"
Edge = tuple[int, str]
"""When, and what: the level of the pad, or the contact of the cell."""

FIRST = ("accepts", "ready", "reset", "written", "starts")
ORDER = (*FIRST, "dozes", "pause", "press", "held", "climb")
"""What comes first when several things fall on one instant: a limit of 250 ms still lets in what comes just then."""


class Wrong(AssertionError):
    """The device did what it must not do."""


class Board:
    """A pad with its debounce, and a firmware that counts taps and sees holds; subclasses say what these do.

    `taps`: how many make a gesture now, 0 if none does. `knows_hold`: whether a hold is one now. `most`: so many taps in a
    row were counted.
    """

    debounce = DEBOUNCE

    def __init__(self, draw: Draw) -> None:
        self.draw, self.now = draw, 0
        self.due: dict[str, int] = {}
        self.level = self.reading = False
        self.runs = True
        self.taps, self.knows_hold = 0, False
        self.count, self.most, self.nobodys = 0, 0, False

    def play(self, edges: Sequence[Edge]) -> None:
        """Run through `edges`, which are in order of time, and a while longer."""
        for at, what in edges:
            self.run_until(at)
            if what in (LOW, HIGH):
                self.on_edge(what == HIGH)
            else:
                self.on_cell(what == BACK)
        self.run_until(self.now + CALM)

    def run_until(self, at: int) -> None:
        """Let everything happen that is due before `at`, and at it what comes before an edge."""
        while self.due:
            name = min(self.due, key=lambda name: (self.due[name], ORDER.index(name)))
            if self.due[name] > at or (self.due[name] == at and name not in FIRST):
                break
            self.now = self.due.pop(name)
            getattr(self, f"on_{name}")()
        self.now = at

    def begin(self, name: str, least: int, most: int | None = None) -> None:
        """Set a deadline, in place of one of the same name."""
        self.due[name] = self.now + (least if most is None or most == least else self.draw(least, most))

    def drop(self, *names: str) -> None:
        """Forget deadlines."""
        for name in names:
            self.due.pop(name, None)

    def on_edge(self, level: bool) -> None:
        """The level of the pad."""
        self.level = level
        if self.runs:
            self.look()

    def on_cell(self, back: bool) -> None:
        """The contact of the cell; most boards never see it move."""

    def look(self) -> None:
        """The level may be accepted once it was steady."""
        if self.level == self.reading:
            self.drop("accepts")
        else:
            self.begin("accepts", *self.debounce)

    def on_accepts(self) -> None:
        """The reading takes the level."""
        self.reading = self.level
        if self.reading:
            self.drop("pause")
            if self.taps:
                self.begin("press", PRESS)
            if self.knows_hold and not self.count:
                self.begin("held", HELD)
            self.nobodys = not (self.taps or self.knows_hold)
        else:
            is_tap = not self.nobodys and "press" in self.due
            self.drop("press", "held")
            self.nobodys = False
            if is_tap:
                self.count += 1
                self.most = max(self.most, self.count)
                if self.count == self.taps:
                    self.count = 0
                    self.on_taps()
                else:
                    self.begin("pause", BETWEEN)
        self.settle()

    def on_press(self) -> None:
        """Too long for a tap."""
        self.count = 0
        self.nobodys = "held" not in self.due

    def on_pause(self) -> None:
        """No further tap came in time."""
        self.count = 0
        self.settle()

    def on_held(self) -> None:
        """Held long enough."""
        self.nobodys = True
        self.on_hold()

    def enter(self) -> None:
        """A state is entered: what was begun is forgotten, and a button that is down is nobody's."""
        self.drop("press", "held", "pause")
        self.count, self.nobodys = 0, self.reading

    def settle(self) -> None:
        """Something ended; a board that sleeps may begin to doze."""

    def on_taps(self) -> None:
        """So many taps were seen as make a gesture."""

    def on_hold(self) -> None:
        """A hold was seen."""


class Clip(Board):
    """Three taps switch it on, a hold off; it sleeps while it is off."""

    def __init__(self, draw: Draw) -> None:
        super().__init__(draw)
        self.lit, self.runs = False, False
        self.taps = 3

    def on_edge(self, level: bool) -> None:
        """An edge also wakes it, or keeps it awake."""
        super().on_edge(level)
        if self.runs:
            self.settle()
        elif "ready" not in self.due:
            self.begin("ready", READY)

    def on_ready(self) -> None:
        """The processor runs and finds the level as it is."""
        self.runs = True
        self.look()
        self.settle()

    def settle(self) -> None:
        """All quiet: it falls asleep after a while, in three steps."""
        self.drop("dozes")
        if not (self.lit or self.reading or self.count or "accepts" in self.due):
            self.begin("dozes", DOZES, DOZES + 3 * EACH_STEP)

    def on_dozes(self) -> None:
        """The last look, then sleep."""
        if self.level:
            self.settle()
        else:
            self.runs = False

    def on_taps(self) -> None:
        """On."""
        self.lit, self.taps, self.knows_hold = True, 0, True
        self.enter()

    def on_hold(self) -> None:
        """Off."""
        self.lit, self.taps, self.knows_hold = False, 3, False
        self.enter()


class Timer(Board):
    """Each tap steps its setting, which is written at once, to two copies in turn; a start reads the newest whole one."""

    debounce = EXACT_DEBOUNCE

    def __init__(self, draw: Draw, hold_up: int) -> None:
        super().__init__(draw)
        self.hold_up, self.taps = hold_up, 1
        self.length = self.kept = self.being_written = self.before = 0
        self.changed = -1
        self.in_force: set[int] = set()
        self.fed, self.ignores = True, False

    def on_taps(self) -> None:
        """The next setting."""
        self.before, self.changed = self.length, self.now
        self.length = (self.length + 1) % 3
        self.in_force.add(self.length)
        if "written" not in self.due:
            self.write()

    def write(self) -> None:
        """Begin a write."""
        self.being_written = self.length
        self.begin("written", WRITE)

    def on_written(self) -> None:
        """A write ended; what changed meanwhile comes next."""
        self.kept = self.being_written
        if self.length != self.kept:
            self.write()

    def on_cell(self, back: bool) -> None:
        """Without the cell it runs until the hold-up time is over."""
        self.fed = back
        if self.runs:
            self.drop("reset")
            if not back:
                self.in_force = {self.length} | ({self.before} if self.changed == self.now else set())
                self.begin("reset", self.hold_up)
        elif back:
            self.begin("starts", STARTS)
        elif "starts" in self.due:
            self.begin("reset", self.hold_up)

    def on_reset(self) -> None:
        """Everything stops."""
        self.due.clear()
        self.runs = self.reading = self.nobodys = False
        self.count = 0

    def on_starts(self) -> None:
        """Memory is read; a button that is down is ignored until it is let go."""
        self.drop("reset")
        self.runs, self.length = True, self.kept
        self.reading = self.nobodys = self.level
        if self.length not in self.in_force:
            raise Wrong("a setting was lost")


class Ladder(Board):
    """Each tap leads one mode up; a hold, or too long a climb, back to the first."""

    def __init__(self, draw: Draw, modes: int, within: int) -> None:
        super().__init__(draw)
        self.modes, self.within, self.mode, self.highest = modes, within, 0, 0
        self.taps = 1

    def go(self, mode: int) -> None:
        """Enter a mode."""
        if mode == 1:
            self.begin("climb", self.within)
        elif mode in (0, self.modes):
            self.drop("climb")
        self.mode, self.highest = mode, max(mode, self.highest)
        self.taps, self.knows_hold = int(mode < self.modes), mode > 0
        self.enter()

    def on_taps(self) -> None:
        """Up."""
        self.go(self.mode + 1)

    def on_hold(self) -> None:
        """Back."""
        self.go(0)

    def on_climb(self) -> None:
        """Too late."""
        self.go(0)


@dataclass(frozen=True, slots=True)
class Tried:
    """What a test came to: whether it failed, and how many examples it ran until then."""

    found: bool
    examples: int


def try_examples(body: Callable[[Any], None], examples: int) -> Tried:
    """Run a test, which draws from what it is given and may raise `Wrong`, until it fails or `examples` were drawn."""
    from hypothesis import HealthCheck, Phase, given, settings
    from hypothesis import strategies as st

    ran = 0
    first = 0

    @settings(
        max_examples=examples,
        database=None,
        derandomize=True,
        deadline=None,
        phases=(Phase.generate, Phase.target),
        suppress_health_check=list(HealthCheck),
        print_blob=False,
        report_multiple_bugs=False,
    )
    @given(st.data())
    def test(data: Any) -> None:
        nonlocal ran, first
        ran += 1
        try:
            body(data.draw)
        except Wrong:
            first = first or ran
            raise

    try:
        test()
    except Wrong:
        return Tried(True, first)
    return Tried(False, ran)


@cache
def time_between(least: int, most: int) -> Any:
    """A strategy for a time: one of the ends, or any between."""
    from hypothesis import strategies as st

    return st.sampled_from((least, most)) | st.integers(least, most)


@cache
def bursts() -> Any:
    """A strategy for chatter after an edge: none, or back and forth once more at two moments."""
    from hypothesis import strategies as st

    return st.none() | st.tuples(time_between(APART, BOUNCE - APART), time_between(2 * APART, BOUNCE))


def draw_edges(draw: Callable[[Any], Any], presses: Any) -> list[Edge]:
    """Edges of presses, given a strategy for a list of their lengths and pauses; each edge with chatter, perhaps."""
    edges: list[Edge] = []
    at = 0
    for length, pause in draw(presses):
        for level, other, after in ((HIGH, LOW, length), (LOW, HIGH, pause)):
            edges.append((at, level))
            burst = draw(bursts())
            if burst is not None and burst[1] >= burst[0] + APART and burst[1] < after:
                edges += [(at + burst[0], other), (at + burst[1], level)]
            at += after
    return edges


def add_outage(draw: Callable[[Any], Any], edges: list[Edge]) -> list[Edge]:
    """The same with an outage soon after one of the edges: a device is busy when something has just happened."""
    from hypothesis import strategies as st

    begin = draw(st.sampled_from(edges))[0] + draw(time_between(0, 60 * MS))
    return sorted([*edges, (begin, GONE), (begin + draw(time_between(0, 40 * MS)), BACK)], key=lambda edge: edge[0])


def look_for_clip(apart: int) -> Callable[[Any], None]:
    """The test: knocks alone never switch the clip on."""
    from hypothesis import strategies as st
    from hypothesis import target

    knock = st.tuples(time_between(5 * MS, 40 * MS), time_between(apart, apart + 500 * MS))
    knocks = st.lists(knock, min_size=1, max_size=6)

    def body(draw: Callable[[Any], Any]) -> None:
        clip = Clip(lambda least, most: int(draw(time_between(least, most))))
        clip.play(draw_edges(draw, knocks))
        target(float(clip.most))
        if clip.lit:
            raise Wrong("knocks switched it on")

    return body


def look_for_timer(hold_up: int) -> Callable[[Any], None]:
    """The test: after an outage the setting is one that was in force."""
    from hypothesis import strategies as st

    tap = st.tuples(time_between(60 * MS, 350 * MS), time_between(80 * MS, 1_000 * MS))
    taps = st.lists(tap, min_size=1, max_size=6)

    def body(draw: Callable[[Any], Any]) -> None:
        timer = Timer(lambda least, most: int(draw(time_between(least, most))), hold_up)
        timer.play(add_outage(draw, draw_edges(draw, taps)))

    return body


def look_for_ladder(modes: int, within: int) -> Callable[[Any], None]:
    """The test: the last mode is never reached."""
    from hypothesis import strategies as st
    from hypothesis import target

    length = time_between(60 * MS, 350 * MS) | time_between(1_200 * MS, 2_000 * MS)
    press = st.tuples(length, time_between(80 * MS, 1_000 * MS))
    presses = st.lists(press, min_size=1, max_size=2 * modes)

    def body(draw: Callable[[Any], Any]) -> None:
        ladder = Ladder(lambda least, most: int(draw(time_between(least, most))), modes, within)
        ladder.play(draw_edges(draw, presses))
        target(float(ladder.highest))
        if ladder.highest == modes:
            raise Wrong("the last mode was reached")

    return body
