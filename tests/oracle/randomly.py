"""Random small models, the same for the same seed, and random steps to look for in them.

Every model is two to four parts of two to four local states. Timer names are shared among parts on purpose (`t0`, `t1`),
intervals are small so that ties are common, and what a part arms and chooses may hang on values that others publish.
Signals are numbered and answered with higher numbers only, so they can't go round.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import product
from random import Random

from nudgeproof.model.tables import Choice, Local, Part, Reads, Timer, Value
from nudgeproof.units import FOREVER, Bound
from tests.oracle.brute import Goal, Locals

SIGNALS = ("s0", "s1", "s2")
NAMES = ("t0", "t1")
LONGEST = 6
GOALS = 4


@dataclass(frozen=True, slots=True)
class Sketch:
    """A random model: its parts, steps to look for, and which features its tables have."""

    seed: int
    parts: tuple[Part, ...]
    goals: tuple[Goal, ...]
    features: frozenset[str]


@dataclass(frozen=True, slots=True)
class _Table:
    """A part written out: rows by local state and by the values read."""

    reads: tuple[str, ...]
    values: Mapping[int, tuple[Value, ...]]
    armed: Mapping[tuple[int, tuple[Value, ...]], tuple[Timer, ...]]
    expired: Mapping[tuple[int, str, tuple[Value, ...]], tuple[Choice, ...]]
    heard: Mapping[tuple[int, str, tuple[Value, ...]], tuple[Choice, ...]]


def sketch(seed: int, scale: int = 1, zeros: bool = False) -> Sketch:
    """The model for `seed`. `scale` multiplies every interval; `zeros` makes timers that leave no time common."""
    rng = Random(seed)
    count = rng.choice((2, 3, 3, 4))
    sizes = [rng.choice((2, 2, 3) if count == 4 else (2, 3, 4)) for _ in range(count)]
    features: set[str] = set()
    parts = tuple(_part(rng, i, sizes, scale, zeros, features) for i in range(count))
    goals = tuple(_goal(rng, sizes) for _ in range(GOALS))
    return Sketch(seed, parts, goals, frozenset(features))


def _goal(rng: Random, sizes: list[int]) -> Goal:
    """A step that enters a certain pair of local states, or that takes one part from one state to another."""
    a, b = rng.sample(range(len(sizes)), 2)
    x, y, was = rng.randrange(sizes[a]), rng.randrange(sizes[b]), rng.randrange(sizes[a])
    if rng.random() < 0.5:

        def pair(before: Locals, after: Locals) -> bool:
            return after[a] == x and after[b] == y and before != after

        return pair

    def change(before: Locals, after: Locals) -> bool:
        return before[a] == was and after[a] == x and before[b] == y

    return change


def _interval(rng: Random, scale: int, zeros: bool) -> tuple[int, Bound]:
    if zeros and rng.random() < 0.12:
        return 0, 0
    lo = rng.choice((0, 1, 1, 2, 2, 3, 4))
    if rng.random() < 0.15:
        return lo * scale, FOREVER
    hi = min(LONGEST, lo + rng.choice((0, 0, 1, 1, 2, 3)))
    return lo * scale, max(hi, 1) * scale


def _part(rng: Random, index: int, sizes: list[int], scale: int, zeros: bool, features: set[str]) -> Part:
    size = sizes[index]
    others = [i for i in range(len(sizes)) if i != index]
    seen = rng.sample(others, rng.choice((0, 1, 1)))
    reads = tuple(f"{rng.choice('vw')}{i}" for i in seen)
    published = {local: (rng.randrange(2), rng.randrange(2)) for local in range(size)}
    seen_values: list[tuple[Value, ...]] = list(product((0, 1), repeat=len(reads)))
    names = NAMES[: rng.choice((1, 2, 2))]
    taken = tuple(signal for signal in SIGNALS if rng.random() < 0.35)
    answers = {s: tuple(t for t in SIGNALS if t > s and rng.random() < 0.6) for s in taken}
    sends = tuple(signal for signal in SIGNALS if rng.random() < 0.6)

    usual = {name: _interval(rng, scale, zeros) for name in names}
    interval = {
        (local, name): _interval(rng, scale, zeros) if rng.random() < 0.1 else usual[name]
        for local in range(size)
        for name in names
    }

    def choices(local: int, cause: str, allowed: tuple[str, ...], calm: bool) -> tuple[Choice, ...]:
        row = []
        for _ in range(rng.choice((1, 1, 1, 1, 1, 1, 1, 2) if calm else (1, 1, 1, 2, 2, 3))):
            to = local if calm and rng.random() < 0.5 else rng.randrange(size)
            many = rng.choice((0, 0, 0, 1, 1, 1) if calm else (0, 0, 1, 1, 2))
            send = tuple(rng.choice(allowed) for _ in range(many)) if allowed else ()
            again = tuple(name for name in names if rng.random() < 0.2 or interval[local, name] != interval[to, name])
            row.append(
                Choice(
                    to,
                    send,
                    again,
                    says=f"part {index} on {cause}",
                    line=rng.randrange(1, 9),
                    actions=rng.choice((0, 0, 0, 0, 1, 2)),
                    chatter=rng.choice((0, 0, 0, 0, 1, 3)),
                )
            )
        return tuple(row)

    armed: dict[tuple[int, tuple[Value, ...]], tuple[Timer, ...]] = {}
    for local in range(size):
        same = rng.random() < 0.6
        first = tuple(Timer(n, *interval[local, n]) for n in names if rng.random() < 0.8)
        for values in seen_values:
            row = first if same else tuple(Timer(n, *interval[local, n]) for n in names if rng.random() < 0.7)
            armed[local, values] = row
        if len({armed[local, values] for values in seen_values}) > 1:
            features.add("a value arms a timer")
    expired: dict[tuple[int, str, tuple[Value, ...]], tuple[Choice, ...]] = {}
    for local, name in product(range(size), names):
        same = rng.random() < 0.6
        row_always = choices(local, f"timer {name}", sends, calm=False)
        for values in seen_values:
            expired[local, name, values] = row_always if same else choices(local, f"timer {name}", sends, calm=False)
        if len({expired[local, name, values] for values in seen_values}) > 1:
            features.add("a value guards a choice")
    heard = {
        (local, signal, values): choices(local, f"signal {signal}", answers[signal], calm=True)
        for local, signal, values in product(range(size), taken, seen_values)
    }
    table = _Table(reads, published, armed, expired, heard)
    return _made(index, rng.randrange(size), table, {s: answers[s] for s in taken}, sends)


def _made(index: int, start: int, table: _Table, takes: Mapping[str, tuple[str, ...]], sends: tuple[str, ...]) -> Part:
    def values(reads: Reads) -> tuple[Value, ...]:
        assert set(reads) == set(table.reads), "a part is given exactly the values it reads"
        return tuple(reads[name] for name in table.reads)

    def number(local: Local) -> int:
        assert isinstance(local, int)
        return local

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        return table.armed[number(local), values(reads)]

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        return table.expired[number(local), timer, values(reads)]

    def heard(local: Local, signal: str, reads: Reads) -> tuple[Choice, ...]:
        return table.heard[number(local), signal, values(reads)]

    def shown(local: Local) -> tuple[Value, ...]:
        return table.values[number(local)]

    return Part(
        name=f"part {index}",
        role="device",
        start=start,
        publishes=(f"v{index}", f"w{index}"),
        shown=shown,
        reads=table.reads,
        armed=armed,
        expired=expired,
        takes=takes,
        heard=heard,
        sends=sends,
    )
