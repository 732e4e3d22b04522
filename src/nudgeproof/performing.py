"""A rig as the function that trials ask: acts to a recording, by the names of a map. C and programs are the same here."""

from __future__ import annotations

from nudgeproof.firmware.acts import CELL, Acts, edges_of
from nudgeproof.firmware.mapping import Map
from nudgeproof.firmware.recording import Recording, read_csv
from nudgeproof.firmware.trials import Perform, Performed, Writes
from nudgeproof.rig.prepare import Prepared
from nudgeproof.rig.settings import SUPPLY, Settings
from nudgeproof.rig.stimulus import Change, Stimulus
from nudgeproof.spec.notes import Notes, show, suggest


def writes_of(settings: Settings) -> Writes | None:
    """What the firmware's memory takes to write; None where it has none."""
    if not settings.bytes:
        return None
    return Writes(settings.bytes, settings.write_us, settings.power.hold_up_us)


def check_wires(what: Map, settings: Settings, notes: Notes) -> None:
    """Note each channel of the map that the rig records otherwise; raises `SpecErrors`."""
    inputs = [channel.name for channel in settings.channels if channel.kind == "in"]
    outputs = [channel.name for channel in settings.channels if channel.kind in ("out", "asleep")]
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
    """The firmware on the rig as a function from acts to a recording, each from blank memory."""

    def perform(acts: Acts, end_us: int) -> Performed:
        result = firmware.run(wire(acts, end_us, what), b"", seed)
        if result.finding:
            # What led there isn't followed, and may be very long: its end is enough.
            rows = result.recording.rstrip("\n").split("\n")
            end = int(rows[-1].split(",")[0]) if len(rows) > 1 else 0
            first = tuple((channel.name, False) for channel in what.channels)
            return Performed(Recording("rig", first, (), end), result.recording, result.finding, result.detail)
        recording = read_csv(result.recording, "rig", what.wanted, notes)
        asleep = _falls_asleep(result.recording, settings)
        return Performed(recording, result.recording, result.finding, result.detail, asleep)

    return perform


def wire(acts: Acts, end_us: int, what: Map) -> Stimulus:
    """Acts as changes of the rig's inputs; what the map has no channel for isn't done."""
    names = {(channel.kind, channel.target): channel.name for channel in what.channels if channel.kind != "light"}
    changes = tuple(
        Change(edge.at_us, names[edge.kind, edge.what], edge.on != (edge.kind == CELL))
        for edge in edges_of(acts)
        if (edge.kind, edge.what) in names
    )
    return Stimulus(changes, max(end_us, changes[-1].at_us + 1 if changes else 1))


def _falls_asleep(recording: str, settings: Settings) -> tuple[int, ...]:
    """When the processor fell asleep, by the first column that shows it."""
    column = next((i for i, channel in enumerate(settings.channels, 1) if channel.kind == "asleep"), None)
    if column is None:
        return ()
    found, before = [], "0"
    for line in recording.splitlines()[1:]:
        cells = line.split(",")
        if cells[column] != before == "0":
            found.append(int(cells[0]))
        before = cells[column]
    return tuple(found)
