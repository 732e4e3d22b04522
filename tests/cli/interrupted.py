"""`python -m tests.cli.interrupted [TIMES] [SEED]`: commands stopped at random instants (default: 200).

An instant is a number of calls of functions and not a time, so that a seed draws the same instants again. Each command runs
in a folder of its own, with old files or without, and is interrupted, told to end or killed. Afterwards each of its files is
the old one, the new one or not there; nothing but `interrupted` was said; nothing else lies about, unless it was killed; and
the same command, run again, ends as one that nobody stopped. The exit code is 1 if anything was otherwise.
"""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from random import Random

from nudgeproof.cli.files import write_file, write_new
from nudgeproof.cli.stopping import stop_quietly

ROOT = Path(__file__).resolve().parents[2]
SPEC = str(ROOT / "specs/failures/accidental-wake/broken.yaml")
HELD = str(ROOT / "specs/failures/accidental-wake/mended.yaml")
STOPS = (signal.SIGINT, signal.SIGTERM, signal.SIGKILL)
HIDDEN = ".nudgeproof-"
CALLS = "calls"
"""A file beside the folder of a command, to which it writes how many calls there were."""

HOOKED = """
import os, runpy, signal, sys
signal.signal(signal.SIGINT, signal.default_int_handler)  # a job in the background of a script ignores it
at, number, told = int(sys.argv[1]), int(sys.argv[2]), sys.argv[3]
del sys.argv[1:4]
calls = 0
def count(frame, event, what):
    global calls
    if event == "call" and (calls or frame.f_code.co_filename.endswith("__main__.py")):
        calls += calls > 0 or frame.f_code.co_name == "_begin"
        if calls == at > 1:
            os.kill(os.getpid(), number)
sys.setprofile(count)
try:
    runpy.run_module("nudgeproof", run_name="__main__", alter_sys=True)
finally:
    sys.setprofile(None)
    with open(told, "w") as stream:
        stream.write(str(calls))
"""
"""Runs the command of the words after the third, and sends a signal at a call.

Counted from where nudgeproof has begun, since what the interpreter says before isn't ours; the second call is the first.
"""


@dataclass(frozen=True, slots=True)
class Job:
    """A command with the files that it writes, and what stands in them before where something does."""

    words: tuple[str, ...]
    old: tuple[tuple[str, bytes], ...] = ()


@dataclass(frozen=True, slots=True)
class End:
    """How a command ended, and the files it left."""

    code: int
    out: bytes
    err: bytes
    files: dict[str, bytes]
    calls: int


CORPUS = b'{"nudgeproof corpus": 1, "entries": [\n]}\n'
JOBS = (
    Job(("check", "--only", "accidental-wake", SPEC, "--json", "found.json"), (("found.json", b"old"),)),
    Job(("check", "--only", "accidental-wake", HELD, "--json", "found.json", "--certificate", "proofs")),
    Job(("fuzz", SPEC, "--steps", "500", "--corpus", "kept.json"), (("kept.json", CORPUS),)),
    Job(("draw", SPEC, "-o", "states.dot"), (("states.dot", b"old"),)),
    Job(("card", SPEC, "-o", "card.html"), (("card.html", b"old"),)),
    Job(("new", "my light", "-o", "mine.yaml")),
    Job(("replay", "accidental-wake", SPEC)),
)


def run(job: Job, folder: Path, at: int = 0, number: int = 0) -> End:
    """Run a command in a folder, with a signal at a call; at call 0 there is none."""
    told = folder.parent / CALLS
    told.unlink(missing_ok=True)
    command = [sys.executable, "-c", HOOKED, str(at), str(number), str(told), *job.words]
    search = os.pathsep.join(filter(None, (str(ROOT / "src"), os.environ.get("PYTHONPATH", ""))))
    # The same calls each time: no compiled modules are written, and no order depends on chance.
    around = os.environ | {"PYTHONPATH": search, "PYTHONHASHSEED": "0", "PYTHONDONTWRITEBYTECODE": "1"}
    done = subprocess.run(command, cwd=folder, env=around, capture_output=True)
    calls = int(told.read_text()) if told.exists() else 0
    return End(done.returncode, done.stdout, done.stderr, read_files(folder), calls)


def read_files(folder: Path) -> dict[str, bytes]:
    """All files in a folder, by name."""
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def fresh(job: Job, within: Path, with_old: bool) -> Path:
    """A folder of its own for a command, with the old files if wanted."""
    folder = Path(tempfile.mkdtemp(dir=within)) / "here"
    folder.mkdir()
    for name, data in job.old if with_old else ():
        (folder / name).write_bytes(data)
    return folder


def judge(job: Job, whole: End, stopped: End, again: End, number: int, with_old: bool) -> Iterator[str]:
    """What is wrong after a command was stopped, and then run again."""
    old = dict(job.old) if with_old else {}
    for name, data in stopped.files.items():
        if name.rpartition("/")[2].startswith(HIDDEN):
            if number != signal.SIGKILL:
                yield f"{name} is left behind"
        elif data not in (old.get(name), whole.files.get(name)):
            yield f"{name} is neither the old nor the new one"
    yield from (f"{name} is lost" for name in old if name not in stopped.files)
    codes = {signal.SIGINT: 130}.get(signal.Signals(number), -number)
    said = b"interrupted\n" if stopped.code == 130 else b""
    # Near the end the answer is given already.
    if stopped.code not in (codes, whole.code):
        yield f"the exit code is {stopped.code}"
    elif stopped.err != said:
        yield f"it says {stopped.err!r}"
    if not whole.out.startswith(stopped.out):
        yield "it printed something else"
    kept = {name: data for name, data in again.files.items() if HIDDEN not in name}
    is_there = job.words[0] == "new" and stopped.files.keys() & whole.files.keys()
    if kept != whole.files or (not is_there and (again.code, again.err) != (whole.code, whole.err)):
        yield f"another run ends otherwise: {again.code}, {again.err!r}"


def campaign(times: int, seed: int) -> list[str]:
    """Stop commands so often, and tell what went wrong."""
    random = Random(seed)
    faults: list[str] = []
    ended: Counter[str] = Counter()
    with tempfile.TemporaryDirectory() as made:
        within = Path(made)
        whole: dict[tuple[int, bool], End] = {}
        for turn in range(times):
            which, number, with_old = random.randrange(len(JOBS)), random.choice(STOPS), random.random() < 0.5
            job = JOBS[which]
            if (which, with_old) not in whole:
                whole[which, with_old] = run(job, fresh(job, within, with_old))
            undisturbed = whole[which, with_old]
            at = random.randint(2, undisturbed.calls)
            folder = fresh(job, within, with_old)
            stopped = run(job, folder, at, number)
            again = run(job, folder)
            found = list(judge(job, undisturbed, stopped, again, number, with_old))
            ended[f"{signal.Signals(number).name}: exit code {stopped.code}"] += 1
            faults += [f"{job.words} at call {at}, {signal.Signals(number).name}: {fault}" for fault in found]
            for fault in faults[len(faults) - len(found) :]:
                print(fault, flush=True)
            if turn % 50 == 49:
                print(f"{turn + 1} times, {len(faults)} faults", flush=True)
    for how, count in sorted(ended.items()):
        print(f"{count:6} {how}")
    return faults


def attack_writes(folder: Path) -> Iterator[str]:
    """Stop the writing of a file at each call of a built-in function: what goes wrong, and at the end how often it was."""
    tried = 0
    for write, old in ((write_file, b"old"), (write_file, None), (write_new, None)):
        for number in STOPS:
            at, code = 0, -1
            while code != 0:
                at += 1
                tried += 1
                here = folder / f"{tried}"
                here.mkdir()
                file = here / "file"
                if old is not None:
                    file.write_bytes(old)
                code = _stop_writing(write, file, at, number)
                told = f"{write.__name__} at call {at}, {number.name}"
                data = file.read_bytes() if file.exists() else None
                if data not in (old, b"new" * 9_000) or (code == 0 and data == old):
                    yield f"{told}: {data!r:.20} is in the file"
                left = [name for name in os.listdir(here) if name != "file"]
                if left and number != signal.SIGKILL:
                    yield f"{told}: {left} is left behind"
    yield f"tried {tried}"


def _stop_writing(write: Callable[[str, bytes], None], file: Path, at: int, number: int) -> int:
    """The status of a process that was sent a signal at a call while it wrote; 0 if it was done before."""
    child = os.fork()
    if child:
        return os.waitpid(child, 0)[1]
    os.dup2(os.open(os.devnull, os.O_WRONLY), 2)
    stop_quietly()
    calls = 0

    def count(frame: object, event: str, what: object) -> None:
        nonlocal calls
        calls += event == "c_call"
        if calls == at and event == "c_call":
            os.kill(os.getpid(), number)

    sys.setprofile(count)
    write(str(file), b"new" * 9_000)
    sys.setprofile(None)
    os._exit(0)


if __name__ == "__main__":
    words = sys.argv[1:]
    if words[:1] == ["writes"]:
        print("\n".join(attack_writes(Path(words[1]))))
    else:
        times = int(words[0]) if words else 200
        seed = int(words[1]) if len(words) > 1 else 0
        bad = campaign(times, seed)
        print(f"{times} times with seed {seed}: {len(bad)} faults")
        sys.exit(1 if bad else 0)
