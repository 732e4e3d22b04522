"""A built firmware pressed and recorded. Whatever it does, an answer comes: a recording, and a finding if it misbehaved."""

from __future__ import annotations

import contextlib
import os
import signal
import subprocess
import tempfile
from dataclasses import dataclass
from typing import IO, Final

from nudgeproof.diagnostics import printable
from nudgeproof.rig.build import CantBuild, Program
from nudgeproof.rig.settings import SUPPLY, Settings
from nudgeproof.rig.stimulus import Stimulus

FINDINGS: Final = {
    "spins": "it runs in a loop that nothing can end",
    "floods": "it changes outputs, or prints, without an end",
    "crashes": "it did what no processor lets pass",
    "exits": "it ended its process, as no controller can",
    "returns": "its main function ended",
    "forks": "it wanted a further process or thread",
    "leaves the rig": "it wanted a file, the network or another process",
    "asks amiss": "it asked for a pin, a byte or a level that there isn't",
    "resets": "it starts over and over",
    "takes too long": "the time on the wall was over first",
    "no room": "the system had no room for a further process",
    "breaks the rig": "it overwrote what the rig keeps beside it",
}
"""Each way to misbehave, with what it means."""


@dataclass(frozen=True, slots=True)
class Limits:
    """The most of a run: milliseconds on the wall, rows of the recording, bytes printed, microseconds without a call."""

    wall_ms: int = 20_000
    rows: int = 200_000
    said: int = 65_536
    spin_us: int = 1_000_000


@dataclass(frozen=True, slots=True)
class Run:
    """What came of it: the recording as a table, the bytes in memory at the end, what was printed, and a finding or "".

    A recording with a finding ends where the firmware misbehaved.
    """

    recording: str
    memory: bytes
    said: str
    finding: str = ""
    detail: str = ""


def run(
    program: Program,
    settings: Settings,
    stimulus: Stimulus,
    memory: bytes = b"",
    seed: int = 0,
    limits: Limits | None = None,
) -> Run:
    """One recording, from a first power-up with these bytes in memory (none: blank). `seed`: what a torn byte becomes.

    Raises `CantBuild` if the program can't be started at all, as on a file system whose programs aren't run.
    """
    limits = limits or Limits()
    told = tell(settings, stimulus, memory, seed, limits)
    with tempfile.TemporaryDirectory(prefix="nudgeproof-rig-") as folder, tempfile.TemporaryFile() as said:
        process = _start(program, folder, said)
        try:
            out, _ = process.communicate(told.encode("ascii"), timeout=limits.wall_ms / 1000 + 10)
        except subprocess.TimeoutExpired:
            out = b""
        finally:
            # Also what it may have left behind.
            with contextlib.suppress(ProcessLookupError, PermissionError):
                os.killpg(process.pid, signal.SIGKILL)
            process.kill()
            process.wait()
        said.seek(0)
        text = said.read(limits.said).decode("utf-8", "replace")
    return _understand(out.decode("ascii", "replace"), settings, text)


def _start(program: Program, folder: str, said: IO[bytes]) -> subprocess.Popen[bytes]:
    try:
        return subprocess.Popen(
            [str(program.path)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=said, cwd=folder, env={},
            start_new_session=True,
        )  # fmt: skip
    except OSError as error:
        raise CantBuild(f"{printable(str(program.path))} can't be started: {error.strerror or error}") from None


def tell(settings: Settings, stimulus: Stimulus, memory: bytes, seed: int, limits: Limits) -> str:
    """What the harness reads: settings, channels in their order, and what happens when."""
    power = settings.power
    index = {channel.name: i for i, channel in enumerate(settings.channels)}
    lines = [
        f"end {stimulus.end_us}", f"block {settings.block_us}", f"call {settings.call_us}", f"wakes {settings.wakes_us}",
        f"hold-up {power.hold_up_us}", f"starts {power.starts_us}", f"write {settings.write_us}", f"step {settings.step_us}",
        f"clock {settings.clock_starts_us // 1000}", f"mask {2**settings.clock_bits - 1}", f"seed {seed}",
        f"wall {limits.wall_ms}", f"rows {limits.rows}", f"said {limits.said}", f"spin {limits.spin_us}",
        f"external {settings.external[0]} {settings.external[1]}",
    ]  # fmt: skip
    if power.latch is not None:
        lines += [f"latch {power.latch}", f"feeds {sum(1 << index[name] for name in power.closed_by)}"]
        lines.append(f"lets-go {power.lets_go_us}")
    if settings.bytes:
        lines += [f"memory {settings.bytes}", f"bytes {memory.hex()}"]
    for channel in settings.channels:
        words: tuple[object, ...]
        if channel.kind == SUPPLY:
            words = (SUPPLY,)
        elif channel.kind == "asleep":
            words = ("asleep", channel.low)
        elif channel.kind == "writing":
            words = ("writing",)
        elif channel.kind == "in":
            words = ("in", channel.pin, channel.high)
        else:
            words = ("out", channel.pin, channel.low, channel.high)
        lines.append(" ".join(map(str, words)))
    lines += [f"at {change.at_us} {index[change.channel]} {int(change.level)}" for change in stimulus.changes]
    return "\n".join(lines) + "\n"


def _understand(out: str, settings: Settings, said: str) -> Run:
    header = ",".join(["time_us", *(channel.name for channel in settings.channels)])
    rows, mark, rest = out.partition("memory ")
    lines = rest.splitlines()
    if not mark or len(lines) != 4 or lines[3] != "end":
        # Only writing over the rig's own pages can bring that about: it lies beyond what a fork keeps apart.
        return Run(f"{header}\n", b"", said, "breaks the rig", FINDINGS["breaks the rig"])
    finding = lines[1].removeprefix("finding").strip()
    return Run(f"{header}\n{rows}", bytes.fromhex(lines[0]), said, finding, lines[2].removeprefix("detail").strip())
