"""The reader of recordings in the form of a value change dump (VCD, IEEE Std 1364-2005, clause 18), four-state.

The grammar is a library's; here is what a recording needs of it: one unit of time, levels that are 0 or 1, and one level for
each channel from the beginning.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import TYPE_CHECKING, Final

from nudgeproof.diagnostics import Place
from nudgeproof.firmware.recording import Levels, Recording, Wanted, check_wanted
from nudgeproof.spec.notes import Notes, list_names, show, split_lines

if TYPE_CHECKING:
    from vcd.reader import Location, Token

_UNITS: Final[dict[str, Fraction | int]] = {
    "s": 1_000_000,
    "ms": 1_000,
    "us": 1,
    "ns": Fraction(1, 10**3),
    "ps": Fraction(1, 10**6),
    "fs": Fraction(1, 10**9),
}
_GRAMMAR: Final = "a value change dump follows IEEE Std 1364, clause 18"


def read_vcd(data: bytes, file: str, wanted: Sequence[Wanted], map_notes: Notes) -> Recording:
    """The channels that are wanted; one is named with its scopes, `top.PAD`, or without them if that is clear.

    Raises `SpecErrors` with the first thing that is wrong, or with all channels that are missing.
    """
    lines = split_lines(data.decode("utf-8", "replace"))
    return _Reader(Notes(file, lines), wanted, map_notes).read(data)


class _Bytes:
    """Bytes as the stream that the library wants. They end with a line: behind an open bracket it would wait for ever."""

    def __init__(self, data: bytes) -> None:
        self.left = memoryview(data + b"\n")

    def readinto(self, buffer: bytearray) -> int:
        """Fill the buffer as far as there is something left; how much that was."""
        size = min(len(buffer), len(self.left))
        buffer[:size] = self.left[:size]
        self.left = self.left[size:]
        return size


class _Reader:
    def __init__(self, notes: Notes, wanted: Sequence[Wanted], map_notes: Notes) -> None:
        self.notes, self.wanted, self.map_notes = notes, wanted, map_notes
        self.scopes: list[str] = []
        self.scale: Fraction | int | None = None
        self.codes: dict[str, tuple[str, int]] = {}
        self.full: dict[str, list[str]] = {}
        self.names: dict[str, list[str]] = {}
        self.levels = Levels(wanted)

    def refuse(self, at: Place, what: str, why: str, cure: str) -> None:
        self.notes.complain(at, what, why, cure)
        self.notes.stop_if_bad()

    def place(self, token: Token) -> Place:
        return self.at(token.span.start)

    def at(self, location: Location) -> Place:
        """A place of the library's: after the first line it counts columns from 2."""
        line, column = location
        return self.notes.place(line - 1, max(0, column - (1 if line == 1 else 2)))

    def tokens(self, data: bytes) -> Iterator[Token]:
        """The library's tokens; whatever it can't read is refused with its place."""
        from vcd.reader import VCDParseError, tokenize

        last: Token | None = None
        try:
            for token in tokenize(_Bytes(data)):  # type: ignore[arg-type]
                last = token
                yield token
        except VCDParseError as error:
            at = self.at(error.loc)
            said = str(error).partition(": ")[2]
            said = said[:1].lower() + said[1:]
            self.refuse(at, f"this can't be read: {show(said, 120)}", _GRAMMAR, "export the recording anew")
        except (ValueError, OverflowError):
            at = self.place(last) if last is not None else self.notes.place(0, 0)
            self.refuse(at, "what follows here can't be read", _GRAMMAR, "export the recording anew")

    def read(self, data: bytes) -> Recording:
        from vcd.reader import TokenKind

        channels: dict[str, list[str]] | None = None
        token: Token | None = None
        for token in self.tokens(data):
            kind = token.kind
            if kind is TokenKind.CHANGE_SCALAR:
                change = token.scalar_change
                self.take(token, channels, change.id_code, change.value)
            elif kind is TokenKind.CHANGE_TIME:
                self.move_to(token)
            elif kind is TokenKind.CHANGE_VECTOR:
                vector = token.vector_change
                value = str(vector.value) if vector.value in (0, 1) else "more than one bit"
                self.take(token, channels, vector.id_code, value)
            elif kind is TokenKind.VAR:
                var = token.var
                name = var.ref_str
                for key, found in ((name, self.names), (".".join((*self.scopes, name)), self.full)):
                    codes = found.setdefault(key, [])
                    if var.id_code not in codes:
                        codes.append(var.id_code)
                self.codes[var.id_code] = (name, var.size)
            elif kind is TokenKind.SCOPE:
                self.scopes.append(token.scope.ident)
            elif kind is TokenKind.UPSCOPE and self.scopes:
                self.scopes.pop()
            elif kind is TokenKind.TIMESCALE:
                self.scale = self.read_scale(token)
            elif kind is TokenKind.ENDDEFINITIONS:
                channels = self.choose()
        if token is None or channels is None:
            at = self.notes.place(len(self.notes.lines), 0)
            self.refuse(at, "the definitions have no end", _GRAMMAR, "record again: the file may have been cut")
        self.begin_is_known(self.notes.place(len(self.notes.lines), 0))
        if self.levels.begin is None or self.levels.end == self.levels.begin:
            why, cure = "no time passes in it", "record for longer"
            self.refuse(self.notes.place(len(self.notes.lines), 0), "the recording ends as it begins", why, cure)
        return self.levels.finish(self.notes.file)

    def read_scale(self, token: Token) -> Fraction | int:
        magnitude, unit = int(token.timescale.magnitude), token.timescale.unit.value
        if magnitude not in (1, 10, 100) or unit not in _UNITS:
            why, cure = f"it is 1, 10 or 100 of {list_names(_UNITS)}", "export the recording anew"
            self.refuse(self.place(token), "the `$timescale` is another one than the standard knows", why, cure)
        return magnitude * _UNITS[unit]

    def choose(self) -> dict[str, list[str]]:
        """By the code of a signal the channels that are it."""
        if self.scale is None:
            why, cure = "no time in it means anything", "write such as `$timescale 1 us $end`"
            self.refuse(self.notes.place(0, 0), "the recording has no `$timescale`", why, cure)
        found = {**self.names, **self.full}
        check_wanted(
            self.wanted, [name for name, codes in found.items() for _ in codes], self.map_notes, self.notes.file
        )
        channels: dict[str, list[str]] = {}
        for channel in self.wanted:
            code = found[channel.name][0]
            name, size = self.codes[code]
            if size != 1:
                what = f"`{show(name)}` has {size} bits"
                self.map_notes.complain(channel.at, what, "a channel is one level", "record each bit as a signal")
            channels.setdefault(code, []).append(channel.name)
        self.map_notes.stop_if_bad()
        return channels

    def move_to(self, token: Token) -> None:
        if self.scale is None:
            self.refuse(self.place(token), "a time before any `$timescale`", _GRAMMAR, "export the recording anew")
        assert self.scale is not None
        time = token.time_change * self.scale
        if isinstance(time, Fraction) and time.denominator == 1:
            time = int(time)
        if self.levels.begin is not None and time != self.levels.begin:
            self.begin_is_known(self.place(token))
        if wrong := self.levels.move_to(time):
            cure = "export the recording anew"
            self.refuse(self.place(token), f"the time `#{token.time_change}` {wrong}", "times go on", cure)

    def begin_is_known(self, at: Place) -> None:
        if missing := self.levels.missing():
            what = f"there is no level of {list_names(missing)} at the beginning"
            self.refuse(at, what, "it could be either", "export with the first levels (`$dumpvars`)")

    def take(self, token: Token, channels: dict[str, list[str]] | None, code: str, value: str) -> None:
        if channels is None:
            self.refuse(self.place(token), "a level before `$enddefinitions`", _GRAMMAR, "export the recording anew")
        names = channels.get(code, ()) if channels is not None else ()
        if names and value not in ("0", "1"):
            what = f"the level of {list_names(names)} is `{show(value)}`"
            self.refuse(self.place(token), what, "only 0 and 1 can be compared", "record it without a gap")
        if names and self.levels.begin is None:
            self.levels.move_to(0)
        for name in names:
            self.levels.set(name, value == "1")
