"""`python -m benchmarks.lines`: the line protocol beside C on the rig: edges, and power-ups; see README.md beside this file.

The firmware is a lamp that is lit while a key is closed, in C (an interrupt, and sleep) and in Python over the line
protocol. All must record the same number of changes. Times are processor time of the tool and of what it started.
"""

from __future__ import annotations

import resource
import sys
import tempfile
from collections.abc import Callable
from functools import partial
from pathlib import Path
from statistics import median

from benchmarks.rig import count_turns
from nudgeproof.rig.prepare import prepare
from nudgeproof.rig.run import Run
from nudgeproof.rig.settings import SUPPLY, read_settings
from nudgeproof.rig.stimulus import Change, Stimulus

REPEATS = 5
EDGES = 20_000
CUTS = 100

FIRMWARE = """
#include "rig.h"
static void on(void) { rig_write(5, !rig_read(2)); }
int main(void) { on(); rig_on_edge(2, RIG_CHANGE, on); for (;;) rig_sleep(RIG_DEEP); }
"""
PROGRAM = """
import json, sys
def tell(message):
    sys.stdout.write(json.dumps(message) + "\\n")
tell({"hello": 1, "outputs": ["lamp"], "cut": sys.argv[1]})
sys.stdout.flush()
for line in sys.stdin:
    told = json.loads(line)
    for level in told.get("set", {}).values():
        tell({"at": told["at"], "set": {"lamp": level}})
    tell({"now": told["at"]})
    sys.stdout.flush()
"""
C = "rig: 1\nsources: [lamp.c]\nentry: main\nbuttons: {key: {pin: 2}}\noutputs: {lamp: {pin: 5}}\n"
LINES = (
    "rig: 1\nanswers within: 60 s\nprogram: [PYTHON, -I, -S, lamp.py, CUT]\nbuttons: {key: {}}\noutputs: {lamp: {}}\n"
)


def presses() -> Stimulus:
    """A press each 200 ms."""
    changes = [Change(100_000 * (i + 1), "key", i % 2 == 0) for i in range(EDGES)]
    return Stimulus(tuple(changes), 100_000 * (EDGES + 2))


def cuts() -> Stimulus:
    """The cell gone for 20 ms each second, while the key is held."""
    changes = [Change(1000, "key", True)]
    for i in range(CUTS):
        at = 1_000_000 * (i + 1)
        changes += [Change(at, SUPPLY, False), Change(at + 20_000, SUPPLY, True)]
    return Stimulus(tuple(changes), 1_000_000 * (CUTS + 1))


def take(run: Callable[[Stimulus, bytes, int], Run], stimulus: Stimulus) -> tuple[float, Run]:
    """Processor seconds of a run, with what it started, and what came of it."""

    def used() -> float:
        usages = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
        return sum(usage.ru_utime + usage.ru_stime for usage in usages)

    before = used()
    result = run(stimulus, b"", 0)
    return used() - before, result


def main() -> None:
    """Measure and print."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "lamp.c").write_text(FIRMWARE)
        (folder / "lamp.py").write_text(PROGRAM)
        texts = {"C": C}
        for cut, what in (("told", "lines, told of a cut"), ("ends", "lines, a process for each start")):
            texts[what] = LINES.replace("PYTHON", sys.executable).replace("CUT", cut)
        settings = {what: read_settings(text, "rig.yaml") for what, text in texts.items()}
        ready = {what: prepare(settings[what], folder) for what in texts}
        for unit, number, stimulus in (("edges", EDGES, presses()), ("power-ups", CUTS, cuts())):
            # Side by side, so that a busy machine slows all of them.
            times: dict[str, list[float]] = {what: [] for what in ready}
            turns = set()
            for _ in range(REPEATS):
                for what, firmware in ready.items():
                    seconds, result = take(partial(firmware.run, settings[what]), stimulus)
                    times[what].append(seconds)
                    turns.add((result.finding, count_turns(result.recording.encode())))
            if len(turns) != 1:
                raise SystemExit(f"they differ in what the lamp did: {turns}")
            for what, taken in times.items():
                ratio = min(taken) / min(times["C"])
                sys.stdout.write(
                    f"{number:>6} {unit:<10}{what:<33}{1000 * min(taken):>8.0f} ms {1000 * median(taken):>8.0f} ms"
                    f"{number / min(taken):>9.0f}/s {ratio:>6.1f}\n"
                )


if __name__ == "__main__":
    main()
