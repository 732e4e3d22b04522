"""The planted faults in `firmware`, with the kinds of stimuli by which each is looked for, and firmware as a function."""

from __future__ import annotations

import re
import tempfile
from collections.abc import Collection
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from nudgeproof.cli.files import read_spec
from nudgeproof.firmware.mapping import Map, read_map
from nudgeproof.firmware.performed import Chip, Perform
from nudgeproof.firmware.trials import KINDS, Trial, run_trials
from nudgeproof.performing import chip_of, performer
from nudgeproof.rig.prepare import Prepared
from nudgeproof.rig.run import run
from nudgeproof.spec.types import Device
from tests.rig.devices import FIRMWARE, ROOT, build_shipped, settings_of

LIGHT, METER, TIMER, COUNTER = "rain-cover-light", "moisture-meter", "seed-tray-timer", "trail-counter"
DEVICES = (LIGHT, METER, TIMER, COUNTER)

FOUND_BY = {
    (LIGHT, "G01-tap-before-its-pause-is-over"): ("walks",),
    (LIGHT, "G03-hold-release-not-consumed"): (
        "walks",
        "limits",
    ),
    (LIGHT, "G05-filter-on-one-edge"): ("chatter",),
    (LIGHT, "G06-filter-eats-the-second-tap"): ("low walks",),
    (LIGHT, "G07-tap-then-hold-lost"): ("walks",),
    (LIGHT, "G08-two-taps-as-one"): ("taps",),
    (LIGHT, "G16-absolute-deadline-at-wrap"): ("clock",),
    (LIGHT, "G16-deadline-turns-negative"): ("clock",),
    (LIGHT, "G17-elapsed-time-in-16-bits"): ("walks",),
    (LIGHT, "P10-marker-before-data"): ("cuts",),
    (LIGHT, "P12-save-on-every-press"): ("walks",),
    (LIGHT, "P17-restore-unchecked"): ("memory",),
    (LIGHT, "W03-waking-press-lost"): ("walks",),
    (LIGHT, "W04-press-acts-twice"): ("walks",),
    (LIGHT, "W06-held-at-power-up-counts"): ("held",),
    (LIGHT, "W08-asleep-in-mid-press"): ("walks",),
    (LIGHT, "W09-check-then-sleep-race"): ("sleeps",),
    (LIGHT, "W10-flag-not-cleared"): ("walks",),
    (LIGHT, "W12-level-interrupt-while-held"): ("walks",),
    (LIGHT, "W15-asleep-while-armed"): ("walks",),
    (LIGHT, "W16-watchdog-runs-in-sleep"): ("pauses",),
    (LIGHT, "W18-auto-off-leaves-the-lamp-on"): ("walks",),
    (LIGHT, "W18-no-auto-off-in-one-beam"): ("walks",),
    (LIGHT, "W18-use-restarts-auto-off"): ("timeouts",),
    (METER, "G09-gap-between-lengths"): ("limits",),
    (METER, "G14-hold-repeats"): (
        "walks",
        "high walks",
    ),
    (METER, "G15-release-unseen-while-deaf"): ("limits",),
    (METER, "P04-no-gap-between-the-levels"): ("walks",),
    (METER, "P05-warning-for-ever"): ("walks",),
    (METER, "P12-save-at-every-change-of-mode"): ("walks",),
    (METER, "P21-latch-let-go-while-starting"): ("limits",),
    (METER, "P21-latch-taken-late"): (
        "walks",
        "low walks",
        "limits",
    ),
    (METER, "W18-timeout-not-restarted"): ("timeouts",),
    (TIMER, "G05-filter-shorter-than-chatter"): ("chatter",),
    (TIMER, "G12-hold-of-another-button"): ("pairs",),
    (TIMER, "G13-chord-in-one-order"): ("limits",),
    (TIMER, "G13-release-after-chord-acts"): (
        "walks",
        "limits",
    ),
    (TIMER, "G17-hold-time-comes-round"): ("pauses",),
    (TIMER, "G17-hold-time-turns-negative"): ("pauses",),
    (TIMER, "G18-press-outlives-its-mode"): ("timeouts",),
    (TIMER, "P10-single-copy"): ("cuts",),
    (TIMER, "P17-mark-without-a-check"): ("memory",),
    (TIMER, "P18-pump-on-after-power-cut"): ("starts",),
    (TIMER, "W02-drips-add-up"): ("taps",),
    (TIMER, "W02-short-presses-add-up"): ("limits",),
    (COUNTER, "G04-hold-acts-when-let-go"): ("walks",),
    (COUNTER, "G05-footfall-counted-on-both-edges"): ("walks",),
    (COUNTER, "G05-tap-counted-in-the-handler"): ("chatter",),
    (COUNTER, "G10-deaf-while-fading"): (
        "events",
        "limits",
    ),
    (COUNTER, "G11-footfalls-as-a-flag"): ("events",),
    (COUNTER, "G16-tap-forgotten-at-wrap"): ("clock",),
    (COUNTER, "G18-press-outlives-its-mode"): ("timeouts",),
    (COUNTER, "P17-index-from-memory"): ("memory",),
    (COUNTER, "P18-shows-after-a-power-cut"): ("starts",),
    (COUNTER, "W05-tap-count-survives-the-hold"): (
        "walks",
        "limits",
    ),
    (COUNTER, "W11-interrupts-left-off"): (
        "events",
        "walks",
    ),
    (COUNTER, "W11-mat-not-armed-after-the-display"): ("walks",),
    (COUNTER, "W16-watchdog-not-fed-in-a-fade"): ("walks",),
}
"""By device and fault: the kinds, in their order. The whole default run is in `tests.rig.campaign`."""


SLOW = frozenset(
    {
        "G17-elapsed-time-in-16-bits",
        "W18-no-auto-off-in-one-beam",
        "W18-use-restarts-auto-off",
        "W18-auto-off-leaves-the-lamp-on",
    }
)
"""They take four hours of the device's time in each run, which is half a second of ours."""


def head_of(device: str, fault: str) -> str:
    """What its file says in a sentence."""
    text = (FIRMWARE / device / "faults" / f"{fault}.patch").read_text(encoding="utf-8")
    return text.partition("\n--- ")[0]


@dataclass(frozen=True)
class Tried:
    """A firmware on the rig, with its spec and its map."""

    device: Device
    what: Map
    perform: Perform
    chip: Chip

    def run(self, edges: int, seed: int = 0, most: int = 600, kinds: Collection[str] = KINDS) -> Trial:
        """Its trials."""
        return run_trials(self.device, self.what, self.perform, edges, seed, self.chip, most=most, kinds=kinds)


def firmware(name: str, fault: str = "", seed: int = 0) -> Tried:
    """A shipped firmware, with a fault if one is named."""
    settings = settings_of(name)
    with tempfile.TemporaryDirectory() as folder:
        program = Prepared(partial(run, build_shipped(name, Path(folder), fault)), "", ())
    device = read_spec(str(ROOT / "specs" / f"{name}.yaml"))
    path = FIRMWARE / name / "map.yaml"
    what, notes = read_map(path.read_text(encoding="utf-8"), str(path), device)
    return Tried(device, what, performer(program, settings, what, notes, seed), chip_of(settings))


def class_of(fault: str) -> str:
    """The class of field failure that a fault is named by."""
    match = re.match(r"[GWP][0-9]{2}(?=-)", fault)
    assert match is not None, fault
    return match[0]
