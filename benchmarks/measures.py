"""What is measured. Each measure gives rows of the one table: what, how much work, the least and the middle time.

A figure is the processor time of this process (of a child process its wall time), the least and the median of some
repetitions, with the collection of garbage left on, as it is for users.
"""

from __future__ import annotations

import importlib.util
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from benchmarks.devices import LANTERN, make_dial, make_lantern, make_small
from nudgeproof.engines.explore import Exploration, explore
from nudgeproof.model.step import Move
from nudgeproof.model.tables import Model, Situation
from nudgeproof.needs import find
from nudgeproof.parts.compile import Environment, compile_model
from nudgeproof.parts.performer import Act
from nudgeproof.spec.types import Device
from tests.oracle.brute import Locals, search

BUDGET = 200_000
REPEAT = 5
FUZZ_STEPS = 20_000
ANY_PRESSES = Environment(("anything",))


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the table.

    `group`: what it is compared with. `work`: how many `unit` were done each time. `least`, `middle`: seconds. `beside`: how
    many times the least time of the first row of the group, 0 if the rows of the group aren't compared.
    """

    group: str
    what: str
    work: int
    unit: str
    least: float
    middle: float
    beside: float = 0.0


def never(model: Model, before: Situation, move: Move) -> bool:
    """A test that no step meets, so that everything is looked at."""
    return False


def take_time(act: Callable[[], int], now: Callable[[], float] = time.process_time) -> tuple[int, float, float]:
    """What `act` gives, and its least and middle time of `REPEAT`; one more run before them isn't counted."""
    work, seconds = act(), []
    for _ in range(REPEAT):
        begin = now()
        act()
        seconds.append(now() - begin)
    return work, min(seconds), statistics.median(seconds)


def explore_all(device: Device, environment: Environment) -> Exploration:
    """All classes of an environment, with a model made anew, as each check makes it. Raises RuntimeError if too many."""
    found = explore(compile_model(device, environment), (never,), BUDGET)
    if not found.complete:
        raise RuntimeError(f"more than {BUDGET} classes in {environment}")
    return found


def _explored(group: str, what: str, device: Device, environment: Environment) -> Row:
    work, least, middle = take_time(lambda: explore_all(device, environment).classes)
    return Row(group, what, work, "classes", least, middle)


def _beside(rows: Iterable[Row]) -> Iterator[Row]:
    """Each row beside the first one of its group."""
    first: Row | None = None
    for row in rows:
        first = first or row
        yield Row(row.group, row.what, row.work, row.unit, row.least, row.middle, row.least / first.least)


def measure_environments() -> Iterator[Row]:
    """The explorer on fixed environments."""
    lantern = make_lantern()
    at_rest = ("stowed", "lit")
    for what, environment in (
        ("any presses", ANY_PRESSES),
        ("the person", Environment(("person",))),
        ("knocks after any use", Environment(("knocks",), "person", at_rest)),
        ("knocks and squeeze together", Environment(("knocks", "squeeze"))),
        ("a hold on purpose after anything", Environment((), "anything", acts=(Act("stowed", ("hold",)),))),
        ("the cell rattles after any use", Environment(("rattle",), "person", at_rest, watched=True)),
        ("the cell rattles, any gesture", Environment(("rattle",), watched=True, gestures=True)),
    ):
        yield _explored("explorer", what, lantern, environment)


def measure_against_brute_force() -> Iterator[Row]:
    """The explorer and the brute-force engine of the tests on the same small model, everything looked at by both.

    With all times twice and four times as long: nothing to the explorer, more states to brute force.
    """
    for scale in (1, 2, 4):
        small = make_small(scale)
        yield from _beside((_explored(f"brute force {scale}", "explorer", small, ANY_PRESSES), _searched(scale, small)))


def _searched(scale: int, small: Device) -> Row:
    def states() -> int:
        return search(compile_model(small, ANY_PRESSES).parts, (_never_there,), BUDGET).states

    work, least, middle = take_time(states)
    return Row(f"brute force {scale}", "whole-number time, one unit at a time", work, "states", least, middle)


def _never_there(before: Locals, after: Locals) -> bool:
    return False


def measure_modes() -> Iterator[Row]:
    """Growth with the number of modes."""
    yield from _beside(_explored("modes", f"{n} modes", make_dial(n), ANY_PRESSES) for n in (4, 8, 16, 32))


def measure_bounce() -> Iterator[Row]:
    """Growth with chatter; the debounce is 15 to 25 ms."""
    yield from _beside(
        _explored("bounce", f"bounce up to {ms} ms", make_dial(bounce=f"up to {ms} ms"), ANY_PRESSES)
        for ms in (0, 1, 8, 14, 16)
    )


def measure_timeouts() -> Iterator[Row]:
    """Growth with the length of a timeout: there should be none."""
    yield from _beside(
        _explored("timeout", f"timeout of {length}", make_dial(timeout=length), ANY_PRESSES)
        for length in ("1 s", "1 min", "8 h", "7 d")
    )


def measure_takes() -> Iterator[Row]:
    """What it takes to come on, with all bounds."""
    lantern = make_lantern()

    def comes_on(model: Model, before: Situation, move: Move) -> bool:
        return model.value(move.situation, "state") == "lit" != model.value(before, "state")

    def found() -> int:
        return 2 * len(find(lantern, "pad", "stowed", comes_on).spans)

    work, least, middle = take_time(found)
    yield Row("takes", "from stowed to lit", work, "bounds", least, middle)


def measure_fuzz() -> Iterator[Row]:
    """Random runs beside the explorer on the same environment; nothing if this version has no fuzz."""
    if importlib.util.find_spec("nudgeproof.engines.fuzz") is None:
        return
    from nudgeproof.engines.fuzz import fuzz

    lantern = make_lantern()
    environment = Environment(("knocks",), "person", ("stowed", "lit"))

    def drawn() -> int:
        return fuzz(compile_model(lantern, environment), (never,), FUZZ_STEPS, 1).steps

    rows = [_explored("fuzz", "explorer, knocks after any use", lantern, environment)]
    work, least, middle = take_time(drawn)
    met = fuzz(compile_model(lantern, environment), (never,), FUZZ_STEPS, 1).situations
    reachable = explore_all(lantern, environment).situations
    rows.append(Row("fuzz", f"random runs; met {met} of {reachable} situations", work, "steps", least, middle))
    yield from _beside(rows)


def measure_process() -> Iterator[Row]:
    """The whole command as a process of its own, start and imports included, on the wall."""
    with tempfile.TemporaryDirectory() as folder:
        spec = Path(folder) / "lantern.yaml"
        spec.write_text(LANTERN, encoding="utf-8")
        yield from _beside(
            _run(what, arguments)
            for what, arguments in (
                ("nudgeproof --help", ["--help"]),
                ("nudgeproof check, one hazard", ["check", str(spec), "--only", "accidental-wake"]),
                ("nudgeproof check", ["check", str(spec)]),
            )
        )


def _run(what: str, arguments: list[str]) -> Row:
    def once() -> int:
        done = subprocess.run([sys.executable, "-m", "nudgeproof", *arguments], capture_output=True, check=False)
        if done.returncode not in (0, 1, 3):
            raise RuntimeError(done.stderr.decode())
        return 1

    work, least, middle = take_time(once, time.perf_counter)
    return Row("process", what, work, "run", least, middle)


MEASURES: tuple[Callable[[], Iterator[Row]], ...] = (
    measure_environments,
    measure_against_brute_force,
    measure_modes,
    measure_bounce,
    measure_timeouts,
    measure_takes,
    measure_fuzz,
    measure_process,
)
