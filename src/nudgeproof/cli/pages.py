"""`draw` and `card`: the device on paper, for its maker and for its user."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from nudgeproof.cli.files import BadFile, BadInput, file_name, read_bytes, read_spec, write_file
from nudgeproof.cli.terminal import can_print, complain

if TYPE_CHECKING:
    from nudgeproof.spec.types import Device


def declare_draw(parser: argparse.ArgumentParser) -> None:
    """What `draw` takes."""
    parser.add_argument("spec", metavar="SPEC", help="a YAML file that describes the device")
    parser.add_argument("-o", "--output", metavar="FILE", type=file_name, required=True,
                        help="FILE.svg, FILE.png or FILE.dot")  # fmt: skip
    parser.add_argument("--findings", metavar="FILE", type=file_name,
                        help="mark the states that failures in FILE (of `check --json`) touch")  # fmt: skip
    parser.add_argument("--dot", action="store_true", help="let the system's own `dot` lay it out")
    parser.set_defaults(command=draw)


def draw(arguments: argparse.Namespace) -> int:
    """Draw the state diagram into a file."""
    from nudgeproof.diagnostics import SpecErrors
    from nudgeproof.report.diagram import DrawingError, render, to_dot

    form = Path(arguments.output).suffix
    try:
        if form not in (".svg", ".png", ".dot"):
            raise BadFile(arguments.output, "the name must end in .svg, .png or .dot")
        device = read_spec(arguments.spec)
        dot = to_dot(device, _touched(device, arguments.findings) if arguments.findings else frozenset())
        drawn = dot.encode() if form == ".dot" else render(dot, form[1:], system_dot=arguments.dot)
        write_file(arguments.output, drawn)
    except (SpecErrors, BadInput, DrawingError) as error:
        complain(error)
        return 2
    return 0


def _touched(device: Device, name: str) -> frozenset[str]:
    from nudgeproof.replay import NoStory, touched

    try:
        return touched(device, read_bytes(name).decode("utf-8", "replace"))
    except NoStory as error:
        raise BadFile(name, f"no findings to mark: {error}") from None


def declare_card(parser: argparse.ArgumentParser) -> None:
    """What `card` takes."""
    parser.add_argument("spec", metavar="SPEC", help="a YAML file that describes the device")
    parser.add_argument("-o", "--output", metavar="FILE.html", type=file_name,
                        help="write a page to print instead; without it, plain text on the screen")  # fmt: skip
    parser.add_argument("--ascii", action="store_true", help="plain ASCII")
    parser.set_defaults(command=card)


def card(arguments: argparse.Namespace) -> int:
    """Print the card, or write it as a page."""
    from nudgeproof.diagnostics import SpecErrors
    from nudgeproof.report.card import make_card, to_text
    from nudgeproof.report.card_page import to_page

    try:
        if arguments.output and Path(arguments.output).suffix not in (".html", ".htm"):
            raise BadFile(arguments.output, "the name must end in .html")
        made = make_card(read_spec(arguments.spec))
        if arguments.output:
            write_file(arguments.output, to_page(made).encode())
        else:
            print(to_text(made, arguments.ascii or not can_print("→")), end="")
    except (SpecErrors, BadInput) as error:
        complain(error)
        return 2
    return 0
