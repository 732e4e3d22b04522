"""The line protocol: what a program that stands for the controller is told, and what it may say; docs/line-protocol.md.

Both sides write JSON objects, one a line, in UTF-8. Times are whole microseconds from the begin of the recording. The rig is
the master of time: it tells a moment, the program runs to it, tells what changed on the way, and says that it is there.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, NoReturn

from nudgeproof.spec.notes import list_names, show

VERSION: Final = 1
LONGEST_LINE: Final = 65_536
CUTS: Final = ("ends", "told", "own")
"""What a power cut is to a program: its end, a message, or one more of the inputs, since it does the power itself."""


class Misbehaves(Exception):
    """A program did what the protocol doesn't have: the name of the finding, and one clause that says more."""

    def __init__(self, finding: str, detail: str) -> None:
        super().__init__(finding, detail)
        self.finding, self.detail = finding, detail


@dataclass(frozen=True, slots=True)
class Hello:
    """The first thing that a program says."""

    outputs: tuple[str, ...]
    cut: str


@dataclass(frozen=True, slots=True)
class Shows:
    """Outputs that came to levels at a time."""

    at_us: int
    levels: Mapping[str, int]


@dataclass(frozen=True, slots=True)
class Writes:
    """A byte of memory whose writing began at a time."""

    at_us: int
    address: int
    byte: int


@dataclass(frozen=True, slots=True)
class Now:
    """It has run to a time."""

    at_us: int


Said = Hello | Shows | Writes | Now


def tell_start(at_us: int, levels: Mapping[str, bool], memory: bytes | None) -> bytes:
    """Power has come up and the firmware starts, with inputs and memory as they stand then."""
    message = {"at": at_us, "start": True, "set": _as_numbers(levels)}
    return _write(message if memory is None else {**message, "memory": memory.hex()})


def tell_levels(at_us: int, levels: Mapping[str, bool]) -> bytes:
    """It is to run to a time, and then these inputs change; there may be none."""
    return _write({"at": at_us, "set": _as_numbers(levels)} if levels else {"at": at_us})


def tell_cut(at_us: int) -> bytes:
    """Power was gone at a time."""
    return _write({"at": at_us, "cut": True})


def _as_numbers(levels: Mapping[str, bool]) -> dict[str, int]:
    return {name: int(level) for name, level in levels.items()}


def _write(message: Mapping[str, object]) -> bytes:
    return json.dumps(message).encode("ascii") + b"\n"


def read_said(line: bytes) -> Said:
    """What one line of a program, without its end, says; raises `Misbehaves`."""
    try:
        text = line.decode("utf-8")
    except UnicodeDecodeError as error:
        raise Misbehaves("no text", f"byte {error.start + 1} of a line is no UTF-8: {quote(line)}") from None
    try:
        said = json.loads(text, object_pairs_hook=_once, parse_constant=_refuse)
    except (ValueError, RecursionError):
        raise Misbehaves("no message", f"it is no JSON: {quote(line)}") from None
    if type(said) is not dict:
        raise Misbehaves("no message", f"it is no JSON object: {quote(line)}")
    keys = said.keys()
    if keys == {"now"} and _is_time(said["now"]):
        return Now(said["now"])
    if keys == {"at", "set"} and _is_time(said["at"]) and _are_levels(said["set"]):
        return Shows(said["at"], said["set"])
    if keys == {"at", "write", "byte"} and all(map(_is_time, said.values())) and said["byte"] <= 255:
        return Writes(said["at"], said["write"], said["byte"])
    if "hello" in keys:
        return _read_hello(said, line)
    raise Misbehaves("no message", f"the protocol has nothing of this form: {quote(line)}")


def _read_hello(said: Mapping[str, object], line: bytes) -> Hello:
    version, outputs, cut = said["hello"], said.get("outputs"), said.get("cut", CUTS[0])
    if type(version) is int and version != VERSION:
        raise Misbehaves("other version", f"its hello is {quote(str(version).encode())}, the rig speaks {VERSION}")
    if type(version) is not int or not said.keys() <= {"hello", "outputs", "cut"}:
        raise Misbehaves("no message", f"the protocol has no such hello: {quote(line)}")
    if not isinstance(outputs, list) or not all(isinstance(name, str) for name in outputs):
        raise Misbehaves("no message", f"`outputs` of its hello is no list of names: {quote(line)}")
    if not isinstance(cut, str) or cut not in CUTS:
        raise Misbehaves("no message", f"`cut` of its hello is none of {list_names(CUTS)}: {quote(line)}")
    return Hello(tuple(outputs), cut)


def quote(line: bytes) -> str:
    """A line as it stands in a message: cut when long, with escapes for what can't be seen."""
    return f"`{show(line[:200].decode('utf-8', 'replace'))}`"


def _is_time(value: object) -> bool:
    # A `bool` is an `int` too.
    return type(value) is int and value >= 0


def _are_levels(value: object) -> bool:
    return type(value) is dict and all(type(level) is int and 0 <= level <= 1 for level in value.values())


def _once(pairs: list[tuple[str, object]]) -> dict[str, object]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise ValueError
    return found


def _refuse(constant: str) -> NoReturn:
    raise ValueError(constant)
