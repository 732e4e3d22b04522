"""`measure`: a maker's firmware pressed without any spec, what its times are, and a spec to begin with."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from nudgeproof.cli.files import BadFile, BadInput, file_name, read_bytes, write_new
from nudgeproof.cli.terminal import Meter, complain
from nudgeproof.diagnostics import printable

if TYPE_CHECKING:
    from nudgeproof.firmware.acts import Acts
    from nudgeproof.firmware.mapping import Map
    from nudgeproof.firmware.performed import Perform, Performed, Setup
    from nudgeproof.rig.settings import Settings
    from nudgeproof.spec.notes import Notes

MOST_RUNS = 12_000
_LONGEST_US = 600_000_000
_THIS_COMPUTER = ("takes too long", "no room", "breaks the rig")


def declare_measure(parser: argparse.ArgumentParser) -> None:
    """What `measure` takes."""
    parser.add_argument("rig", metavar="RIG", help="a YAML file that says how the firmware is built and wired")
    parser.add_argument("--spec", metavar="FILE", type=file_name,
                        help="write a starter spec there; no file is ever overwritten")  # fmt: skip
    parser.add_argument("--map", metavar="FILE", type=file_name, help="write the map of that spec there")
    parser.add_argument("--longest", metavar="TIME", type=_time, default=_LONGEST_US,
                        help="how long it is left alone to see what it does by itself (default: 10 min)")  # fmt: skip
    parser.add_argument("--resolution", metavar="TIME", type=_time, default=1_000,
                        help="how near each limit is looked for (default: 1 ms)")  # fmt: skip
    parser.add_argument("--taps", type=int, choices=range(1, 5), default=3, metavar="N",
                        help="up to how many taps in a row are tried, 1 to 4 (default: 3)")  # fmt: skip
    parser.set_defaults(command=measure)


def _time(text: str) -> int:
    from nudgeproof.units import Form, NotAQuantity, read_quantity

    try:
        found = read_quantity(text)
    except NotAQuantity as error:
        raise argparse.ArgumentTypeError(printable(f"{error}; {error.cure}")) from None
    if found.form is not Form.EXACT or not 20 <= found.span.lo <= 86_400_000_000:
        raise argparse.ArgumentTypeError(f"`{printable(text[:20])}` is no time from 20 us to 1 d, such as `10 min`")
    return found.span.lo


def measure(arguments: argparse.Namespace) -> int:
    """Build, measure, tell, and write what was asked for."""
    from nudgeproof import verdict
    from nudgeproof.diagnostics import SpecErrors
    from nudgeproof.measuring.bench import Bench, Misbehaves, TooManyRuns
    from nudgeproof.measuring.exploring import Explorer
    from nudgeproof.measuring.measurer import Measurer
    from nudgeproof.measuring.starter import Starter
    from nudgeproof.measuring.starter_map import write_map
    from nudgeproof.performing import performer
    from nudgeproof.report.measured import show_measured, show_misbehaving
    from nudgeproof.rig.build import CantBuild
    from nudgeproof.rig.prepare import prepare
    from nudgeproof.rig.run import FINDINGS
    from nudgeproof.rig.settings import read_settings
    from nudgeproof.spec.read import decode

    meter = Meter(arguments.rig)
    try:
        for name in filter(None, (arguments.spec, arguments.map)):
            if Path(name).exists():
                raise BadFile(name, "is there already and is never overwritten; choose another name")
        if arguments.spec and arguments.map and Path(arguments.spec).resolve() == Path(arguments.map).resolve():
            raise BadFile(arguments.map, "can't be both the spec and its map; choose another name for one")
        settings = read_settings(decode(read_bytes(arguments.rig), arguments.rig), arguments.rig)
        what, notes = _own_map(settings)
        if not what.of("button"):
            raise BadInput(f"nudgeproof measure: {arguments.rig} has no `buttons`, so there is nothing to press")
        firmware = prepare(settings, Path(arguments.rig).parent)
        power = settings.power
        bench = Bench(
            _twice(performer(firmware, settings, what, notes, 0)),
            tuple(channel.name for channel in settings.channels if channel.kind == "out"),
            tuple(channel.target for channel in what.of("button")),
            tuple(channel.target for channel in what.of("event")),
            next((channel.name for channel in settings.channels if channel.kind == "asleep"), ""),
            MOST_RUNS,
            lambda runs: meter.say(f"run {runs}"),
            power.starts_us + 1_000_000,
            longest_us=arguments.longest,
        )
        measurer = Measurer(bench, Explorer(bench, arguments.taps), arguments.resolution, power.latch is not None)
        try:
            done = measurer.measure()
        except TooManyRuns:
            meter.clear()
            complain(f"nudgeproof measure: {MOST_RUNS} runs weren't enough: the firmware has too much to tell apart;"
                     " wire fewer buttons or inputs in the rig")  # fmt: skip
            return verdict.EXIT_UNDECIDED
        except Misbehaves as error:
            meter.clear()
            print(show_misbehaving(error, arguments.rig, FINDINGS), end="")
            return verdict.EXIT_BROKEN
        meter.clear()
        name = Path(arguments.rig).resolve().parent.name.replace("-", " ").replace("_", " ") or "device"
        starter = Starter(done, name, arguments.resolution, power.closed_by, power.lets_go_us)
        print(show_measured(starter, arguments.rig), end="")
        for file, text in (
            (arguments.spec, starter.spec()),
            (arguments.map, write_map(starter, tuple(c.name for c in settings.channels if c.kind == "writing"))),
        ):
            if file:
                write_new(file, text.encode())
        if arguments.spec:
            _tell_next(arguments)
    except (SpecErrors, BadInput, CantBuild) as error:
        meter.clear()
        complain(error)
        return verdict.EXIT_BAD_INPUT
    return verdict.EXIT_OK if done.facts else verdict.EXIT_UNDECIDED


def _twice(perform: Perform) -> Perform:
    """What hangs on this computer, and not on the firmware alone, is tried once more before it is believed."""

    from nudgeproof.firmware.performed import PLAIN

    def again(acts: Acts, end_us: int, setup: Setup = PLAIN) -> Performed:
        performed = perform(acts, end_us, setup)
        return perform(acts, end_us, setup) if performed.finding in _THIS_COMPUTER else performed

    return again


def _tell_next(arguments: argparse.Namespace) -> None:
    from nudgeproof.report.argument import as_argument

    spec = as_argument(arguments.spec)
    print(f"\nNext: nudgeproof check {spec}")
    if arguments.map:
        print(f"      nudgeproof trial {spec} --rig {as_argument(arguments.rig)} --map {as_argument(arguments.map)}")


def _own_map(settings: Settings) -> tuple[Map, Notes]:
    """Each column of the rig as what it is, with no spec to refer to."""
    from nudgeproof.diagnostics import Place
    from nudgeproof.firmware.mapping import Channel, Map
    from nudgeproof.rig.settings import SUPPLY
    from nudgeproof.spec.notes import Notes

    at = Place(settings.file, 1, 1)
    channels = []
    for channel in settings.channels:
        kind = {SUPPLY: "cell", "in": "button" if channel.is_button else "event"}.get(channel.kind, "light")
        target = channel.name if channel.kind == "in" else ""
        channels.append(Channel(channel.name, at, kind, target, edges="goes high"))
    return Map(settings.file, 1, True, False, tuple(channels), ()), Notes(settings.file, ())
