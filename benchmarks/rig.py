"""`python -m benchmarks.rig`: the rig beside a loop written by hand, on the same presses; see README.md beside this file.

Both run the same firmware, a key that is looked at each millisecond and toggles a lamp, through the same presses, and must
say that the lamp changed as often. The loop knows this one firmware alone: no interrupts, no supply, no limits.
"""

from __future__ import annotations

import resource
import subprocess
import sys
import tempfile
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path
from statistics import median

from nudgeproof.rig.build import build
from nudgeproof.rig.run import Limits, tell
from nudgeproof.rig.settings import read_settings
from nudgeproof.rig.stimulus import Change, Stimulus

PRESSES = 20_000
PERIOD_US = 200_000
REPEATS = 5

FIRMWARE = """
int read_key(void);
void write_lamp(int level);
static unsigned char reading, count, lamp;
void start(void) {}
void step(void) {
    unsigned char level = !read_key();
    if (level == reading) count = 0;
    else if (++count >= 20) {
        count = 0;
        reading = level;
        if (level) write_lamp(lamp = !lamp);
    }
}
"""

ON_RIG = """
#include "rig.h"
int read_key(void) { return rig_read(2); }
void write_lamp(int level) { rig_write(5, level); }
"""

BY_HAND = """
#include <stdio.h>
#include <stdlib.h>
void step(void);
static int key = 1;
static long now, changes;
int read_key(void) { return key; }
void write_lamp(int level) { changes += level >= 0; }
int main(void) {
    static char line[64];
    long end = 0, at = 0, n = 0, i = 0, channel, level, room = 1 << 17;
    struct { long at; int level; } *events = malloc(room * sizeof *events);
    while (fgets(line, sizeof line, stdin)) {
        if (sscanf(line, "end %ld", &end) == 1) continue;
        if (sscanf(line, "at %ld %ld %ld", &at, &channel, &level) == 3) { events[n].at = at; events[n++].level = level; }
    }
    for (now = 0; now < end; now += 1000) {
        while (i < n && events[i].at <= now) key = !events[i++].level;
        step();
    }
    printf("%ld\\n", changes);
    return 0;
}
"""

RIG = """rig: 1
sources: [firmware.c, pins.c]
entry: step every 1 ms
buttons: {key: {pin: 2}}
outputs: {lamp: {pin: 5}}
"""


def take(command: str, told: bytes) -> tuple[float, bytes]:
    """Processor seconds of one process with its children, and what it said."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    out = subprocess.run([command], input=told, stdout=subprocess.PIPE, check=True).stdout
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime, out


def count_turns(out: bytes) -> int:
    """How often the lamp, the last column of a recording, changed."""
    lamps = [line.rsplit(b",", 1)[1] for line in out.split(b"memory")[0].splitlines()]
    return sum(a != b for a, b in pairwise(lamps))


def main() -> None:
    """Measure and print."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "firmware.c").write_text(FIRMWARE)
        (folder / "pins.c").write_text(ON_RIG)
        (folder / "byhand.c").write_text(BY_HAND)
        subprocess.run(["cc", "-O1", "-w", "firmware.c", "byhand.c", "-o", "byhand"], cwd=folder, check=True)
        settings = read_settings(RIG, "rig.yaml")
        changes = [
            Change(at, "key", at % PERIOD_US == 0) for at in range(PERIOD_US, PRESSES * PERIOD_US, PERIOD_US // 2)
        ]
        told = tell(settings, Stimulus(tuple(changes), PRESSES * PERIOD_US), b"", 0, Limits()).encode()
        runs: dict[str, tuple[str, Callable[[bytes], int]]] = {
            "a loop by hand": (str(folder / "byhand"), int),
            "the rig, time passes in calls": (str(build(settings, folder, use_blocks=False).path), count_turns),
            "the rig, time passes in blocks": (str(build(settings, folder).path), count_turns),
        }
        # Side by side, so that a busy machine slows all of them.
        times: dict[str, list[float]] = {what: [] for what in runs}
        counts: dict[str, int] = {}
        for _ in range(REPEATS):
            for what, (command, count) in runs.items():
                seconds, out = take(command, told)
                times[what].append(seconds)
                counts[what] = count(out)
    first = min(times["a loop by hand"])
    sys.stdout.write(f"{PRESSES - 1} presses, {PRESSES * PERIOD_US // 1000} steps\n")
    for what, taken in times.items():
        least, middle = 1000 * min(taken), 1000 * median(taken)
        sys.stdout.write(
            f"{what:<32}{counts[what]:>7} turns {least:>8.1f} ms {middle:>8.1f} ms {min(taken) / first:>6.2f}\n"
        )
    if len(set(counts.values())) != 1:
        raise SystemExit("they differ in what the lamp did")


if __name__ == "__main__":
    main()
