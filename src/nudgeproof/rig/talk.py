"""A program that runs beside the tool: lines to it, lines from it, each waited for so long and no longer.

Whatever it does, `read_line` ends: with a line, or with `Misbehaves`. Pipes are never waited for by themselves: a child
of the program may hold them open for ever.
"""

from __future__ import annotations

import contextlib
import os
import selectors
import subprocess
import time
from collections import deque
from collections.abc import Sequence
from pathlib import Path
from signal import strsignal
from typing import IO, Final

from nudgeproof.diagnostics import printable
from nudgeproof.rig.build import CantBuild
from nudgeproof.rig.protocol import LONGEST_LINE, Misbehaves, quote
from nudgeproof.rig.started import kill_group, note_group

_LOOKS_EVERY_S: Final = 0.05
_DIES_WITHIN_S: Final = 1.0


class Printed:
    """What programs of one recording print beside their messages, and the most of it."""

    def __init__(self, most: int) -> None:
        self.data, self.most = bytearray(), most

    def add(self, data: bytes) -> None:
        """Keep what there is room for."""
        self.data += data[: self.most - len(self.data)]

    @property
    def has_room(self) -> bool:
        """Whether more may come."""
        return len(self.data) < self.most

    def __str__(self) -> str:
        return self.data.decode("utf-8", "replace")


class Talk:
    """One process, started in a group of its own; `until`: the moment of the monotonic clock when all is to be over.

    Raises `CantBuild` if it can't be started.
    """

    def __init__(
        self, command: Sequence[str], folder: Path, answers_s: float, until: float | None, printed: Printed
    ) -> None:
        self.answers_s, self.until, self.printed = answers_s, until, printed
        try:
            self.process = subprocess.Popen(
                command, cwd=folder, start_new_session=True,
                stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, bufsize=0,
            )  # fmt: skip
        except (OSError, ValueError) as error:
            why = getattr(error, "strerror", None) or error
            raise CantBuild(f"`{printable(command[0])}` can't be started: {why}") from None
        note_group(self.process.pid)
        self.selector = selectors.DefaultSelector()
        self.stdin, self.stdout, self.stderr = (
            _fd(self.process.stdin),
            _fd(self.process.stdout),
            _fd(self.process.stderr),
        )
        for number in (self.stdin, self.stdout, self.stderr):
            os.set_blocking(number, False)
        self.selector.register(self.stdout, selectors.EVENT_READ)
        self.selector.register(self.stderr, selectors.EVENT_READ)
        self.lines: deque[bytes] = deque()
        self.begun, self.unsent = b"", b""
        self.is_closed = self.is_deaf = False
        self.deadline = time.monotonic() + answers_s

    def tell(self, line: bytes) -> None:
        """Send a line; its answer is waited for from now on."""
        self.deadline = time.monotonic() + self.answers_s
        self.unsent += line
        self._send()
        if self.unsent and self.stdin not in self.selector.get_map():
            self.selector.register(self.stdin, selectors.EVENT_WRITE)

    def read_line(self) -> bytes:
        """The next line without its end; raises `Misbehaves` if none comes."""
        while not self.lines:
            self._wait()
        return self.lines.popleft()

    def end(self, grace_s: float = 0) -> None:
        """End it: its input, then after `grace_s` everything that it has started and that is still there."""
        self._forget(self.stdin)
        assert self.process.stdin is not None
        self.process.stdin.close()
        ends = time.monotonic() + grace_s
        while grace_s and self.process.poll() is None and time.monotonic() < ends:
            for key, _ in self.selector.select(0.01):
                # So that it isn't held up by a pipe that is full; what it says now is no part of anything.
                if not self._read(key.fd):
                    self._forget(key.fd)
        kill_group(self.process.pid)
        with contextlib.suppress(subprocess.TimeoutExpired):
            self.process.wait(5)
        # What it printed last; who else holds the pipe isn't waited for.
        while self.printed.has_room and (data := self._read(self.stderr)):
            self.printed.add(data)
        self.selector.close()
        for stream in (self.process.stdout, self.process.stderr):
            assert stream is not None
            stream.close()

    def _send(self) -> None:
        if self.is_deaf:
            self.unsent = b""
        try:
            while self.unsent:
                self.unsent = self.unsent[os.write(self.stdin, self.unsent) :]
        except BlockingIOError:
            pass
        except OSError:
            # It will tell by itself, or by its silence, what became of it.
            self.unsent, self.is_deaf = b"", True

    def _wait(self) -> None:
        now = time.monotonic()
        if self.until is not None and now >= self.until:
            raise Misbehaves("takes too long", "the time on the wall was over before the recording was")
        if now >= self.deadline:
            if self.is_closed:
                raise Misbehaves("closes its output", "nothing can be read from it any more, and it runs on")
            if self.begun:
                raise Misbehaves("half a line", f"the end of this line didn't come: {quote(self.begun)}")
            raise Misbehaves("no answer", f"{self.answers_s:g} s on the wall were over first")
        longest = 0.002 if self.is_closed else _LOOKS_EVERY_S
        happened = self.selector.select(min(longest, self.deadline - now))
        if not happened and self.process.poll() is not None:
            raise self._tell_death()
        for key, _ in happened:
            if key.fd == self.stdin:
                self._send()
                if not self.unsent:
                    self._forget(self.stdin)
            else:
                self._take(key.fd)

    def _read(self, number: int) -> bytes | None:
        """What there is in a pipe: nothing at its end, None if it only has nothing now."""
        try:
            return os.read(number, 65_536)
        except BlockingIOError:
            return None
        except OSError:
            return b""

    def _take(self, number: int) -> None:
        data = self._read(number)
        if data == b"":
            self._forget(number)
            if number == self.stdout:
                self.is_closed = True
                self.deadline = min(self.deadline, time.monotonic() + _DIES_WITHIN_S)
        elif data and number == self.stderr:
            self.printed.add(data)
            if not self.printed.has_room:
                raise Misbehaves("floods", f"it printed more than {self.printed.most} bytes")
        elif data:
            *whole, self.begun = (self.begun + data).split(b"\n")
            for line in (*whole, self.begun):
                if len(line) > LONGEST_LINE:
                    raise Misbehaves("long line", f"it begins with {quote(line)}")
            self.lines += whole

    def _forget(self, number: int) -> None:
        with contextlib.suppress(KeyError):
            self.selector.unregister(number)

    def _tell_death(self) -> Misbehaves:
        code = self.process.returncode
        how = f"by signal {-code}: {strsignal(-code)}" if code < 0 else f"with code {code}"
        if self.begun:
            return Misbehaves("half a line", f"it ended {how} inside the line {quote(self.begun)}")
        return Misbehaves("crashes" if code < 0 else "exits", f"it ended {how}")


def _fd(stream: IO[bytes] | None) -> int:
    assert stream is not None
    return stream.fileno()
