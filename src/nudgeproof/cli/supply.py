"""`supply`: voltages, hold-up and the life of the cells, on the screen and as a picture."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from nudgeproof.cli.files import BadFile, BadInput, file_name, read_spec_bytes, understand_spec, write_file
from nudgeproof.cli.terminal import complain
from nudgeproof.diagnostics import printable

if TYPE_CHECKING:
    from nudgeproof.spec.types import Device


def declare_supply(parser: argparse.ArgumentParser) -> None:
    """What `supply` takes."""
    parser.add_argument("spec", metavar="SPEC", help="a YAML file that describes the device, its cells and its loads")
    parser.add_argument("--with", dest="changes", metavar="KEY=VALUE", action="append", default=[],
                        help="try another value, as `supply.capacitor.size=220 uF`; each is a variant of its own, side by"
                        " side with the spec; join changes of one variant with `;`")  # fmt: skip
    parser.add_argument("--plot", metavar="FILE", type=file_name,
                        help="draw it into FILE.svg or FILE.png (needs matplotlib)")  # fmt: skip
    parser.add_argument("--json", metavar="FILE", type=file_name,
                        help="also write it for other programs; `-` for the screen alone")  # fmt: skip
    parser.set_defaults(command=supply)


def supply(arguments: argparse.Namespace) -> int:
    """Print what the supply does, variants side by side, or draw it."""
    from nudgeproof.diagnostics import SpecErrors
    from nudgeproof.reckoned import reckon
    from nudgeproof.report.supply import compare, to_screen
    from nudgeproof.report.supply_json import to_json

    name = arguments.spec
    try:
        data = read_spec_bytes(name)
        device = understand_spec(data, name)
        if device.electricity is None:
            raise BadInput(f"{printable(name)}: `supply` says nothing of its `cells`, so there is nothing to reckon; see"
                           " `nudgeproof explain supply.cells`")  # fmt: skip
        variants = [(change, _changed(device, change, name)) for change in arguments.changes]
        if arguments.plot:
            _plot(device, arguments.plot)
        names = ["as it is", *arguments.changes]
        found = [reckon(one) for one in (device, *(variant for _, variant in variants))]
        if arguments.json:
            text = to_json(list(zip(names, found, strict=True)))
            print(text, end="") if arguments.json == "-" else write_file(arguments.json, text.encode())
        if arguments.json != "-" and not arguments.plot:
            print(compare(names, found) if variants else to_screen(device, found[0]), end="")
    except (SpecErrors, BadInput) as error:
        complain(error)
        return 2
    return 0


def _changed(device: Device, change: str, name: str) -> Device:
    """The device with other values at some places of its spec."""
    from nudgeproof.spec.edit import Places, apply

    text = "\n".join(device.lines) + "\n"
    for one in change.split(";"):
        path, sign, value = one.strip().partition("=")
        keys = tuple(key.strip() for key in path.split("."))
        if not sign or not all(keys) or not value.strip():
            raise BadInput(f"nudgeproof supply: --with `{printable(one.strip())}` isn't KEY=VALUE; write such as"
                           " `supply.capacitor.size=220 uF`")  # fmt: skip
        places = Places(tuple(text.split("\n")[:-1]))
        above = places.get(*keys[:-1])
        if above is None or above.keys is None:
            known = ", ".join((places.get() or above).keys or ()) if len(keys) == 1 or above is None else ""  # type: ignore[union-attr]
            raise BadInput(f"nudgeproof supply: --with: the spec has no `{printable('.'.join(keys[:-1]))}`"
                           + (f"; at the top it has {known}" if known else ""))  # fmt: skip
        edit = places.set(above, keys[-1], value.strip())
        text = text if edit is None else apply(text, [edit])
    changed = understand_spec(text.encode(), f"{name} with {change}")
    if changed.electricity is None:
        raise BadInput(f"nudgeproof supply: with `{printable(change)}` nothing is left to reckon")
    return changed


def _plot(device: Device, output: str) -> None:
    from nudgeproof.report.supply_plot import NoLibrary, draw

    form = Path(output).suffix
    if form not in (".svg", ".png"):
        raise BadFile(output, "the name must end in .svg or .png")
    try:
        write_file(output, draw(device, form[1:]))
    except NoLibrary:
        raise BadInput(
            "nudgeproof supply: --plot needs matplotlib; install it with `pip install nudgeproof[plot]`"
        ) from None
