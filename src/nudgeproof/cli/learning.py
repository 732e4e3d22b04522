"""`new` and `explain`: a spec to begin with, and what its words mean."""

from __future__ import annotations

import argparse
import difflib
import re
import sys
from pathlib import Path

from nudgeproof.cli.files import BadInput, file_name, write_new
from nudgeproof.cli.terminal import can_print, complain
from nudgeproof.diagnostics import printable

_LIST = "list"
_LONGEST_NAME = 80
_DRAWN = "▁▂▃▄▅▆▇█░▒▓"
"""What waveforms are drawn with: levels from low to high, and three shades."""
_IN_ASCII = "_..--==#.:%"


def declare_new(parser: argparse.ArgumentParser) -> None:
    """What `new` takes."""
    parser.add_argument("name", nargs="?", metavar="NAME", help="the device's name; the file is NAME.yaml")
    parser.add_argument("--like", metavar="HABIT", default="two-step",
                        help="how the device is used (default: two-step); `--like list` lists the habits")  # fmt: skip
    parser.add_argument("-o", "--output", metavar="FILE", type=file_name,
                        help="write to FILE instead; no file is ever overwritten")  # fmt: skip
    parser.set_defaults(command=new)


def new(arguments: argparse.Namespace) -> int:
    """Write a starter spec, or list the habits there are."""
    from nudgeproof.report.argument import as_argument

    habits = _read_starters()
    if arguments.like == _LIST:
        print("Habits of devices: nudgeproof new NAME --like HABIT\n")
        print(_list_habits(habits))
        return 0
    try:
        if arguments.like not in habits:
            near = difflib.get_close_matches(arguments.like, habits, 1)
            hint = f"did you mean `{near[0]}`? " if near else ""
            raise BadInput(f"nudgeproof new: --like: there is no habit `{printable(arguments.like)}`; {hint}there are:\n\n"
                           f"{_list_habits(habits)}")  # fmt: skip
        if arguments.name is None:
            raise BadInput("nudgeproof new: a name is missing; write such as `nudgeproof new my-light`")
        name = _device_name(arguments.name)
        file = arguments.output or f"{_file_name(name)}.yaml"
        write_new(file, _name_device(habits[arguments.like], name).encode())
    except BadInput as error:
        complain(error)
        return 2
    print(f"{printable(file)}: {_tell_habit(habits[arguments.like])}")
    print(f"Next: nudgeproof check {as_argument(file)}")
    print("      asks everything that applies; the file's last line says how to see it break.")
    return 0


def _read_starters() -> dict[str, str]:
    """The text of each starter by the habit's name."""
    from importlib import resources

    files = resources.files("nudgeproof.starters").iterdir()
    found = {
        file.name[: -len(".yaml")]: file.read_text(encoding="utf-8") for file in files if file.name.endswith(".yaml")
    }
    return dict(sorted(found.items()))


def _tell_habit(text: str) -> str:
    first = text.partition("\n")[0].removeprefix("# ").rstrip(".")
    return first[0].lower() + first[1:]


def _list_habits(habits: dict[str, str]) -> str:
    import textwrap

    size = max(map(len, habits)) + 2
    lines: list[str] = []
    for name, text in habits.items():
        lines += textwrap.wrap(_tell_habit(text), 80, initial_indent=f"  {name:<{size}}",
                               subsequent_indent=" " * (size + 2), break_on_hyphens=False)  # fmt: skip
    return "\n".join(lines)


def _device_name(text: str) -> str:
    """The name as it stands in the spec: printable, on one line, without the ending of a file."""
    name = " ".join("".join(c if c.isprintable() else " " for c in text).split())
    name = Path(name.replace("\\", "/")).name.removesuffix(".yaml").removesuffix(".yml")
    if not re.search(r"[^\W_]", name):
        raise BadInput(f"nudgeproof new: `{name or text!r}` has no letter or digit to name a file by")
    return name[:_LONGEST_NAME].strip()


def _file_name(name: str) -> str:
    """The name with nothing in it that a file system or a shell takes for something else."""
    return re.sub(r"[^\w-]+", "-", name).strip("-").lower()


def _name_device(text: str, name: str) -> str:
    """The starter with the device's name in its place."""
    from nudgeproof.spec.notes import put_in_quotes

    written = name if re.fullmatch(r"[^\W\d_][\w -]*", name) else put_in_quotes(name)
    return re.sub("^device: .*$", lambda match: f"device: {written}", text, count=1, flags=re.MULTILINE)


def declare_explain(parser: argparse.ArgumentParser) -> None:
    """What `explain` takes."""
    parser.add_argument("name", nargs="*", metavar="NAME",
                        help="a hazard, a verdict, `promises`, `conditions`, a key of the spec, or `schema` for the"
                        " JSON Schema with which editors check a spec; without NAME all that can be explained is"
                        " listed")  # fmt: skip
    parser.add_argument("--ascii", action="store_true", help="draw timelines in plain ASCII")
    parser.set_defaults(command=explain)


def explain(arguments: argparse.Namespace) -> int:
    """Explain one name, print the schema, or list what can be explained."""
    from nudgeproof.report import explained
    from nudgeproof.spec.schema import write_schema

    name = " ".join(arguments.name)
    if not name:
        print(explained.list_topics(), end="")
        return 0
    if name == explained.SCHEMA:
        print(write_schema(), end="")
        return 0
    try:
        text = explained.explain(name)
    except explained.UnknownTopic as error:
        hint = f"did you mean `{error.near}`?" if error.near else "`nudgeproof explain` lists what is known"
        print(f"nudgeproof explain: nothing is called `{printable(name)}`; {hint}", file=sys.stderr)
        return 2
    if arguments.ascii or not can_print(_DRAWN):
        text = text.translate(str.maketrans(_DRAWN, _IN_ASCII))
    print(text, end="")
    return 0
