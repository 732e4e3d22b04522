"""`stimulus`, and the stories that `replay` writes as stimuli: what is done to a real device, and what that costs it."""

from __future__ import annotations

import argparse
import re
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from nudgeproof.cli.files import BadFile, BadInput, file_name, read_bytes, read_spec, write_file
from nudgeproof.cli.terminal import WIDTH, complain
from nudgeproof.diagnostics import printable

if TYPE_CHECKING:
    from nudgeproof.firmware.mapping import Map
    from nudgeproof.firmware.stories import Told
    from nudgeproof.rig.player import Deeds
    from nudgeproof.rig.stimulus import Stimulus
    from nudgeproof.spec.types import Device

_MOST_ROUNDS = 1_000_000
_LABEL = 10


def declare_stimulus(parser: argparse.ArgumentParser) -> None:
    """What `stimulus` takes."""
    parser.add_argument("files", metavar="FILE", nargs="+",
                        help="a stimulus: a table of the levels of inputs, as `replay --stimuli` or `trial"
                        " --keep` writes it")  # fmt: skip
    parser.add_argument("--table", metavar="OUT", type=file_name,
                        help="write the header that firmware/player plays, all stimuli one after the other")  # fmt: skip
    parser.add_argument("--pause", metavar="TIME", type=_pause, default="3 s",
                        help="how long the device is without its cell between two (default: 3 s)")  # fmt: skip
    parser.add_argument("--rounds", metavar="N", type=_rounds, default=1,
                        help="how often all of them are to be played (default: 1)")  # fmt: skip
    parser.add_argument("--spec", metavar="SPEC", type=file_name,
                        help="also say how much of the memory's rated writes that takes at most")  # fmt: skip
    parser.set_defaults(command=stimulus)


def _pause(text: str) -> int:
    from nudgeproof.units import Form, NotAQuantity, read_quantity

    try:
        pause = read_quantity(text)
    except NotAQuantity as error:
        raise argparse.ArgumentTypeError(f"{printable(str(error))}; write such as `3 s`") from None
    if pause.form is not Form.EXACT or pause.span.lo < 1:
        raise argparse.ArgumentTypeError(f"`{printable(text)}` is no single time; write such as `3 s`")
    return pause.span.lo


def _rounds(text: str) -> int:
    if not (text.isascii() and text.isdigit() and len(text) < 8 and 0 < int(text) <= _MOST_ROUNDS):
        raise argparse.ArgumentTypeError(f"`{printable(text[:20])}` is no number from 1 to {_MOST_ROUNDS}")
    return int(text)


def stimulus(arguments: argparse.Namespace) -> int:
    """Tell what stimuli do, and write their table."""
    from nudgeproof import verdict
    from nudgeproof.diagnostics import SpecErrors
    from nudgeproof.rig.player import BYTES_A_ROW, MOST_LINES, order_lines, rows_of, write_header
    from nudgeproof.rig.stimulus import read_columns
    from nudgeproof.spec.read import decode

    try:
        device = read_spec(arguments.spec) if arguments.spec else None
        stimuli: list[tuple[str, Stimulus]] = []
        lines: tuple[str, ...] = ()
        for name in arguments.files:
            columns, read = read_columns(decode(read_bytes(name), name), name)
            if stimuli and set(columns) != set(lines):
                raise BadFile(name, f"has other columns than {printable(arguments.files[0])}: write all with one map")
            lines = lines or order_lines(columns)
            stimuli.append((Path(name).name, read))
        if not lines:
            raise BadFile(arguments.files[0], "has no column beside its times, so nothing is done")
        if len(lines) > MOST_LINES:
            raise BadFile(
                arguments.files[0],
                f"has {len(lines)} columns, and a player has {MOST_LINES} lines; take those of outputs out",
            )
        alone = [one for _, one in stimuli]
        if arguments.table:
            write_file(arguments.table, write_header(stimuli, lines, arguments.pause, arguments.rounds).encode())
    except (SpecErrors, BadInput) as error:
        complain(error)
        return verdict.EXIT_BAD_INPUT
    told = tell_deeds(alone, lines, device, arguments.rounds, arguments.pause)
    if arguments.table:
        rows = len(rows_of(alone, lines, arguments.pause))
        told += _field("written", f"{arguments.table}: {rows} rows, some {rows * BYTES_A_ROW} bytes on the player")
        told += _field("lines", f"{', '.join(lines)}, in this order under PINS in player.ino")
    print("\n".join(told))
    return verdict.EXIT_OK


def tell_deeds(
    stimuli: Sequence[Stimulus], lines: Sequence[str], device: Device | None, rounds: int, pause_us: int
) -> list[str]:
    """What is done to the device, and what of the memory's rated writes that takes at most."""
    from nudgeproof.rig.player import count
    from nudgeproof.rig.settings import SUPPLY
    from nudgeproof.units import show_moment

    deeds = count(stimuli, lines)
    us = deeds.length_us + pause_us * len(stimuli)
    number = f"{len(stimuli)} {'stimulus' if len(stimuli) == 1 else 'stimuli'}"
    does = [f"{name} closes {_times(times)}" for name, times in deeds.closings if times]
    if SUPPLY in lines:
        does += [f"the cell is cut {_times(deeds.cuts)} within a stimulus"] if deeds.cuts else []
        does.append(f"the device gets power {_times(deeds.starts)}")
    told = _field("a round", f"{number} in {show_moment(us)}, pauses included")
    told += _field("", "; ".join(does) or "nothing is done")
    if rounds > 1:
        text = f"{rounds * deeds.presses} closings and {rounds * deeds.starts} starts in {show_moment(rounds * us)}"
        told += _field(f"{rounds} rounds", text)
    if device is not None:
        told += _field("memory", _tell_wear(device, deeds, rounds))
    return told


def _field(label: str, text: str) -> list[str]:
    from nudgeproof.report.width import wrap

    head = f"  {label:<{_LABEL}} "
    return wrap(printable(text), WIDTH, head, " " * len(head), break_on_hyphens=False)


def _times(number: int) -> str:
    return {1: "once", 2: "twice"}.get(number, f"{number} times")


def _tell_wear(device: Device, deeds: Deeds, rounds: int) -> str:
    from nudgeproof.hazards.worn_memory import most_starts, most_writes
    from nudgeproof.quantities import decimal

    if device.memory is None:
        return "the spec has none"
    starts = most_starts(device, deeds.presses, deeds.starts, deeds.length_us)
    writes = most_writes(device, device.memory, deeds.presses, starts, deeds.length_us)
    if writes is None:
        return "the writes can't be counted: times lead round in a circle that changes what is kept"
    told = f"each place of it is written up to {decimal(rounds * writes, 3)} times"
    if device.memory.endures is None:
        return (
            f"{told}; `memory` doesn't say how many writes it `endures`, so the datasheet must say what share that is"
        )
    share = decimal(100 * rounds * writes / device.memory.endures, 3)
    return f"{told}, {share} % of the {device.memory.endures} that it endures"


def write_stories(device: Device, found: Iterable[Told], folder: str, what: Map | None) -> list[str]:
    """Write each story that can be forced, and tell of each what became of it; raises `BadInput`."""
    from nudgeproof.firmware.acts import BUTTON, CELL, EVENT, edges_of
    from nudgeproof.rig.player import PAUSE_US
    from nudgeproof.rig.settings import SUPPLY
    from nudgeproof.rig.stimulus import Change, Stimulus, write_columns
    from nudgeproof.units import show_moment

    named = {(BUTTON, button.name): button.name for button in device.buttons} | {(CELL, ""): SUPPLY}
    if what is not None:
        # The cell is `supply` in every stimulus: the rig and the player know it by that name.
        named |= {(c.kind, c.target): c.name for c in what.channels if c.kind in (BUTTON, EVENT)}
    told = list(found)
    for event in dict.fromkeys(act.what for one in told for act in one.acts if act.kind == EVENT):
        named.setdefault((EVENT, event), event)
    for (kind, what_acts), name in named.items():
        if kind == CELL:
            continue
        taken = list(named.values()).count(name) > 1
        if taken or name != name.strip() or "," in name:
            why = "another column has that name" if taken else "it holds what parts columns"
            call = f"nudgeproof replay: `{what_acts}` is `{name}` in a stimulus, and {why}"
            raise BadInput(printable(f"{call}; give it another name in a `--map`"))
    columns = [name for name in dict.fromkeys(named.values()) if name != SUPPLY] + [SUPPLY]
    try:
        Path(folder).mkdir(parents=True, exist_ok=True)
    except (OSError, ValueError) as error:
        raise BadFile(folder, f"can't be made: {getattr(error, 'strerror', None) or error}") from None
    lines: list[str] = []
    known: set[object] = set()
    names: set[str] = set()
    stimuli: list[Stimulus] = []
    for one in told:
        cant = one.cant or ("" if one.acts else "nobody does anything in it")
        cant = cant or ("the same is done in one above" if one.acts in known else "")
        if cant:
            lines += _set_in(f"not written: {one.name}", cant)
            continue
        known.add(one.acts)
        edges = edges_of(one.acts)
        changes = tuple(Change(e.at_us, named[e.kind, e.what], e.on != (e.kind == CELL)) for e in edges)
        stimuli.append(Stimulus(changes, max(one.end_us, changes[-1].at_us + 1)))
        name = _fresh(one.name, names)
        write_file(str(Path(folder) / name), write_columns(stimuli[-1], columns).encode())
        where = f"; it happens on {one.where}" if one.where else ""
        lines += _set_in(name, f"{one.name}: {len(edges)} edges in {show_moment(stimuli[-1].end_us)}{where}")
    if stimuli:
        lines += ["", *_set_in(f"Once each, from {folder}", "")]
        lines += tell_deeds(stimuli, columns, device, 1, PAUSE_US)
    return lines


def _set_in(head: str, text: str) -> list[str]:
    from nudgeproof.report.width import wrap

    return [
        *wrap(printable(head), WIDTH, "", "  ", break_on_hyphens=False),
        *(wrap(printable(text), WIDTH, "  ", "  ", break_on_hyphens=False) if text else ()),
    ]


def _fresh(name: str, names: set[str]) -> str:
    """A file's name for a story, another one for each."""
    base = re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")[:60].strip("-") or "story"
    number, found = 1, base
    while found in names:
        number += 1
        found = f"{base}-{number}"
    names.add(found)
    return f"{found}.csv"
