"""A rig as the function that trials ask: acts to a recording, by the names of a map. C and programs are the same here."""

from __future__ import annotations

from dataclasses import replace

from nudgeproof.firmware.acts import CELL, Acts, edges_of
from nudgeproof.firmware.mapping import Map
from nudgeproof.firmware.performed import PLAIN, Chip, Perform, Performed, Setup, Spans
from nudgeproof.firmware.recording import Recording, read_csv
from nudgeproof.rig.prepare import Prepared
from nudgeproof.rig.settings import SUPPLY, Settings
from nudgeproof.rig.stimulus import Change, Stimulus
from nudgeproof.spec.notes import Notes, show, suggest


def chip_of(settings: Settings) -> Chip:
    """What trials know of the controller."""
    power = settings.power
    # The clock of a program is its own.
    bits = 0 if settings.program else settings.clock_bits
    return Chip(settings.bytes, settings.write_us, power.hold_up_us, bits, power.starts_us)


def check_wires(what: Map, settings: Settings, notes: Notes) -> None:
    """Note each channel of the map that the rig records otherwise; raises `SpecErrors`."""
    inputs = [channel.name for channel in settings.channels if channel.kind == "in"]
    outputs = [channel.name for channel in settings.channels if channel.kind in ("out", "asleep", "writing")]
    for channel in what.channels:
        names = [SUPPLY] if channel.kind == "cell" else outputs if channel.kind == "light" else inputs
        if channel.name not in names:
            kind = {"cell": "supply", "light": "output"}.get(channel.kind, "button or input")
            why = f"the recordings of `{show(settings.file)}` have its own names"
            cure = suggest(channel.name, names, "names")
            notes.complain(channel.at, f"the rig has no {kind} `{show(channel.name)}`", why, cure)
        elif not channel.high and channel.kind in ("button", "cell"):
            why = "the rig records 1 for a closed button and for a cell that is there"
            notes.complain(channel.at, f"`{show(channel.name)}` is pressed, or there, when low", why, "write `high`")
    notes.stop_if_bad()


def performer(firmware: Prepared, settings: Settings, what: Map, notes: Notes, seed: int) -> Perform:
    """The firmware on the rig as a function from acts to a recording, each from blank memory if nothing else is said."""

    def perform(acts: Acts, end_us: int, setup: Setup = PLAIN) -> Performed:
        begun = settings if setup.clock_us < 0 else replace(settings, clock_starts_us=setup.clock_us)
        result = firmware.run(begun, wire(acts, end_us, what), setup.memory, seed)
        if result.finding:
            # What led there isn't followed, and may be very long: its end is enough.
            rows = result.recording.rstrip("\n").split("\n")
            end = int(rows[-1].split(",")[0]) if len(rows) > 1 else 0
            first = tuple((channel.name, False) for channel in what.channels)
            return Performed(Recording("rig", first, (), end), result.recording, result.finding, result.detail)
        recording = read_csv(result.recording, "rig", what.wanted, notes)
        sleeps, writes = (_spans(result.recording, settings, kind) for kind in ("asleep", "writing"))
        return Performed(recording, result.recording, "", result.detail, sleeps, writes, result.memory)

    return perform


def wire(acts: Acts, end_us: int, what: Map) -> Stimulus:
    """Acts as changes of the rig's inputs; what the map has no channel for isn't done."""
    names = {channel.made: channel.name for channel in what.channels if channel.kind != "light"}
    changes = tuple(
        Change(edge.at_us, names[edge.kind, edge.what], edge.on != (edge.kind == CELL))
        for edge in edges_of(acts)
        if (edge.kind, edge.what) in names
    )
    return Stimulus(changes, max(end_us, changes[-1].at_us + 1 if changes else 1))


def _spans(recording: str, settings: Settings, kind: str) -> Spans:
    """From when to when the processor was deeply asleep, or memory was written, by the first column that shows it."""
    columns = (i for i, c in enumerate(settings.channels, 1) if c.kind == kind and (kind != "asleep" or c.low == 2))
    column = next(columns, None)
    if column is None:
        return ()
    found, begin, at = list[tuple[int, int]](), -1, 0
    for line in recording.splitlines()[1:]:
        cells = line.split(",")
        at = int(cells[0])
        if cells[column] == "1" and begin < 0:
            begin = at
        elif cells[column] == "0" and begin >= 0:
            found.append((begin, at))
            begin = -1
    return (*found, (begin, at)) if begin >= 0 else tuple(found)
