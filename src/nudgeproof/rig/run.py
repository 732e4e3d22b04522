"""A built firmware pressed and recorded. Whatever it does, an answer comes: a recording, and a finding if it misbehaved."""

from __future__ import annotations

import subprocess
import tempfile
from dataclasses import dataclass
from typing import IO, Final

from nudgeproof.diagnostics import printable
from nudgeproof.rig.build import CantBuild, Program
from nudgeproof.rig.settings import SUPPLY, Settings
from nudgeproof.rig.started import kill_group, note_group
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
    "no message": "it wrote a line that the line protocol doesn't have",
    "no text": "it wrote a line that is no UTF-8",
    "long line": "it wrote a line of more than 65,536 bytes",
    "half a line": "it stopped in the middle of a line",
    "other version": "it speaks another version of the line protocol",
    "lacks an output": "it has no output of a name that rig.yaml wires",
    "unknown output": "it told of an output that it hasn't named",
    "goes back": "it told of a time before one that it had told of already",
    "runs ahead": "it told of a time after the one that it was to run to",
    "stops short": "it answered before it had run to the time that it was told",
    "no answer": "it didn't answer in time",
    "closes its output": "it closed its output and ran on",
}
"""Each way to misbehave, with what it means; from "no message" on those of programs alone."""


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
            kill_group(process.pid)
            process.kill()
            process.wait()
        said.seek(0)
        text = said.read(limits.said).decode("utf-8", "replace")
    return _understand(out.decode("ascii", "replace"), settings, stimulus, text)


def _start(program: Program, folder: str, said: IO[bytes]) -> subprocess.Popen[bytes]:
    try:
        process = subprocess.Popen(
            [str(program.path)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=said, cwd=folder, env={},
            start_new_session=True,
        )  # fmt: skip
    except OSError as error:
        raise CantBuild(f"{printable(str(program.path))} can't be started: {error.strerror or error}") from None
    note_group(process.pid)
    return process


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


def _understand(out: str, settings: Settings, stimulus: Stimulus, said: str) -> Run:
    header = ",".join(["time_us", *(channel.name for channel in settings.channels)])
    rows, mark, rest = out.partition("memory ")
    lines = rest.splitlines()
    finding = lines[1].removeprefix("finding").strip() if len(lines) == 4 else ""
    is_whole = mark and len(lines) == 4 and lines[3] == "end" and (not finding or finding in FINDINGS)
    if not is_whole or not _is_record(rows, settings, stimulus, bool(finding)):
        # Only writing over the rig's own pages can bring that about: it lies beyond what a fork keeps apart.
        return Run(f"{header}\n", b"", said, "breaks the rig", FINDINGS["breaks the rig"])
    return Run(f"{header}\n{rows}", bytes.fromhex(lines[0]), said, finding, lines[2].removeprefix("detail").strip())


def _is_record(rows: str, settings: Settings, stimulus: Stimulus, is_cut_short: bool) -> bool:
    """Whether times go on from 0 to the end, and the inputs are what was done; `is_cut_short`: what ended it may have done
    so before the last row was whole.
    """
    inputs = {channel.name: i for i, channel in enumerate(settings.channels) if channel.kind in (SUPPLY, "in")}
    levels, number, before = ["1", *"0" * (len(inputs) - 1)], 0, -1
    changes, lines = stimulus.changes, rows.splitlines()
    wanted = ",".join(levels)
    for line in lines:
        time, _, rest = line.partition(",")
        at = int(time)
        while number < len(changes) and changes[number].at_us <= at:
            levels[inputs[changes[number].channel]] = str(int(changes[number].level))
            number += 1
            wanted = ",".join(levels)
        if at <= before or not (rest.startswith(wanted) or (is_cut_short and line is lines[-1])):
            return False
        before = at
    return (
        bool(lines)
        and lines[0].startswith("0,")
        and (before <= stimulus.end_us if is_cut_short else before == stimulus.end_us)
    )
