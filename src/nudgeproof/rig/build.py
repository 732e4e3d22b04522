"""From sources to a program: preprocessed, looked up by what came of that, else compiled and linked with the harness.

Built programs are kept (`kept`) under names that are digests of all that went in: the preprocessed sources, the harness,
flags, and what the compiler says it is.
"""

from __future__ import annotations

import contextlib
import functools
import hashlib
import importlib.util
import os
import re
import shlex
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from importlib import resources
from pathlib import Path
from typing import Final

from nudgeproof.diagnostics import printable
from nudgeproof.rig.kept import NotOurs, is_kept, keep, kept_folder
from nudgeproof.rig.settings import Settings
from nudgeproof.rig.started import kill_group, note_group

LONGEST_BUILD_S: Final = 120
LARGEST_FILE: Final = 256 * 2**20
_BLOCKS: Final = "-fsanitize-coverage=trace-pc"
_OPTIMISED: Final = "-O1"
_ENTRIES: Final = {"main": 1, "sketch": 2, "step": 3}
_HARNESS: Final = ("rig.c", "entry.c", "registers.c")
_UNDEFINED: Final = re.compile(
    r"undefined (?:reference to|symbol:?) [`']?(?P<name>[^'\s]+?)'?(?:$|\s|\()", re.MULTILINE
)
_NO_HEADER: Final = re.compile(
    r"fatal error: '?(?P<name>[^':]+?)'?(?:: No such file or directory| file not found)", re.MULTILINE
)
_ENTRY_NAMES: Final = ("rig_main", "setup", "loop", "start", "step")


class CantBuild(Exception):
    """The firmware can't be built; the message says why, on one line or with the compiler's own words below."""


@dataclass(frozen=True, slots=True)
class Program:
    """A firmware that was built; `has_blocks`: time passes in each of its basic blocks, not only in calls."""

    path: Path
    has_blocks: bool


@dataclass(frozen=True, slots=True)
class Compiler:
    """The two command lines that compile C and C++, and what the first says that it is."""

    c: tuple[str, ...]
    cxx: tuple[str, ...]
    version: str


def find_compiler() -> Compiler:
    """What `CC` and `CXX` name, else `cc` and `c++`, else those of the `ziglang` package; raises `CantBuild`."""
    named = os.environ.get("CC", "")
    c = tuple(shlex.split(named)) or ("cc",)
    cxx = tuple(shlex.split(os.environ.get("CXX", ""))) or ("c++",)
    if shutil.which(c[0]) is None:
        if named:
            raise CantBuild(f"there is no compiler `{printable(c[0])}`, which CC names")
        if importlib.util.find_spec("ziglang") is None:
            raise CantBuild(
                "there is no C compiler: neither `cc` nor the package `ziglang`; install one of them"
                " (`pip install ziglang`), or name one in CC"
            )
        c, cxx = (sys.executable, "-m", "ziglang", "cc"), (sys.executable, "-m", "ziglang", "c++")
    return Compiler(c, cxx, _ask_version(c))


@functools.cache
def _ask_version(c: tuple[str, ...]) -> str:
    return _call([*c, "--version"], Path.cwd()).stdout


def build(settings: Settings, folder: Path, use_blocks: bool = True) -> Program:
    """The program of a firmware whose sources stand in `folder`; raises `CantBuild`."""
    if os.name != "posix":
        raise CantBuild("the rig needs a system with `fork`, such as Linux or macOS")
    compiler = find_compiler()
    for source in settings.sources:
        if not (folder / source).is_file():
            raise CantBuild(f"{printable(settings.file)}: there is no source `{printable(source)}` beside it")
    with _work_folder() as work, _harness() as harness:
        _write_stand_ins(settings, work)
        common = [_OPTIMISED, "-g", "-w", f"-I{work}", f"-I{harness}", *settings.flags]
        if settings.entry == "main":
            common.append("-Dmain=rig_main")
        common += ["-include", "entry.h"]
        texts = [_preprocess(settings, compiler, folder, source, common) for source in settings.sources]
        for file in sorted(harness.iterdir()):
            texts.append(file.read_bytes())
        blocks = use_blocks and _has_blocks(compiler)
        about = repr((settings.entry, settings.sources, compiler, blocks, settings.flags)).encode()
        digest = hashlib.sha256(b"\0".join([about, *texts])).hexdigest()[:32]
        kept = _kept_folder() / digest
        if not is_kept(kept):
            keep(_compile(settings, compiler, folder, work, harness, common, blocks), kept)
        return Program(kept, blocks)


def _kept_folder() -> Path:
    try:
        return kept_folder()
    except (NotOurs, OSError) as error:
        raise CantBuild(str(error)) from None


@contextlib.contextmanager
def _work_folder() -> Iterator[Path]:
    with tempfile.TemporaryDirectory(prefix="nudgeproof-rig-") as name:
        yield Path(name)


@contextlib.contextmanager
def _harness() -> Iterator[Path]:
    with resources.as_file(resources.files("nudgeproof.rig") / "harness") as path:
        yield path


def _write_stand_ins(settings: Settings, work: Path) -> None:
    """Headers of the given names that give the harness's calls."""
    for name in settings.headers:
        path = work / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(f'#include "{"sketch.h" if settings.entry == "sketch" else "registers.h"}"\n')


def _is_cxx(source: str) -> bool:
    return not source.endswith(".c")


def _commands(compiler: Compiler, source: str) -> list[str]:
    extra = ["-x", "c++", "-include", "sketch.h"] if source.endswith(".ino") else []
    return [*(compiler.cxx if _is_cxx(source) else compiler.c), *extra]


def _preprocess(settings: Settings, compiler: Compiler, folder: Path, source: str, common: Sequence[str]) -> bytes:
    done = _call([*_commands(compiler, source), "-E", *common, source], folder)
    if done.returncode:
        raise CantBuild(_explain(done.stderr, settings, source))
    # Line marks name the folder of this run.
    return re.sub(r"^# .*\n", "", done.stdout, flags=re.MULTILINE).encode()


@functools.cache
def _has_blocks(compiler: Compiler) -> bool:
    with _work_folder() as work:
        (work / "probe.c").write_text("int probe(int x) { return x ? 1 : 2; }\n")
        return _call([*compiler.c, _BLOCKS, "-c", "probe.c", "-o", "probe.o"], work).returncode == 0


def _compile(
    settings: Settings, compiler: Compiler, folder: Path, work: Path, harness: Path, common: Sequence[str], blocks: bool
) -> Path:
    # The firmware comes first: of what is weak in both, the first counts.
    objects: list[str] = []
    for i, source in enumerate(settings.sources):
        objects.append(str(work / f"source{i}.o"))
        extra = [_BLOCKS] if blocks else []
        done = _call([*_commands(compiler, source), "-c", *common, *extra, source, "-o", objects[-1]], folder)
        if done.returncode:
            raise CantBuild(_explain(done.stderr, settings, source))
    objects += _compile_harness(settings, compiler, work, harness, blocks)
    linker = compiler.cxx if any(map(_is_cxx, settings.sources)) else compiler.c
    done = _call([*linker, *objects, "-lm", "-o", "firmware"], work)
    if done.returncode:
        raise CantBuild(_explain(done.stderr, settings, ""))
    return work / "firmware"


def _compile_harness(settings: Settings, compiler: Compiler, work: Path, harness: Path, blocks: bool) -> list[str]:
    """The objects of the harness, kept as programs are: they are the same for all firmware entered in one way."""
    flags = ["-O2", "-w", f"-DRIG_ENTRY={_ENTRIES[settings.entry]}", *(["-DRIG_BLOCKS"] if blocks else [])]
    texts = [repr((compiler, flags)).encode(), *(file.read_bytes() for file in sorted(harness.iterdir()))]
    digest = hashlib.sha256(b"\0".join(texts)).hexdigest()[:32]
    objects = [_kept_folder() / f"{digest}.{name}.o" for name in _HARNESS]
    for name, kept in zip(_HARNESS, objects, strict=True):
        if is_kept(kept):
            continue
        built = work / f"{name}.o"
        done = _call([*compiler.c, "-c", *flags, str(harness / name), "-o", str(built)], work)
        if done.returncode:
            named = printable(shlex.join(compiler.c))
            raise CantBuild(f"the harness can't be compiled with {named}\n{_first_lines(done.stderr)}")
        keep(built, kept)
    return [str(kept) for kept in objects]


def _explain(said: str, settings: Settings, source: str) -> str:
    """One message for what a compiler or a linker said."""
    file = printable(settings.file)
    if match := _NO_HEADER.search(said):
        name = printable(match["name"])
        return (
            f"{file}: the header `{name}`, which {printable(source)} includes, isn't there; put it beside the sources, or"
            f" add it under `headers` if the harness's calls stand in for it\n{_first_lines(said)}"
        )
    missing = list(dict.fromkeys(match["name"] for match in _UNDEFINED.finditer(said)))
    if missing:
        names = ", ".join(
            f"`{printable(name.removeprefix('rig_') if name == 'rig_main' else name)}`" for name in missing[:10]
        )
        if set(missing) <= set(_ENTRY_NAMES):
            wanted = {"main": "`main`", "sketch": "`setup` and `loop`", "step": "`start` and `step`"}[settings.entry]
            return f"{file}: the sources have no {names}; `entry: {settings.entry}` calls {wanted}"
        return (
            f"{file}: the firmware calls {names}, which neither the sources nor the harness have; add the source that has it"
            " under `sources`, or write it with the calls of rig.h in a file of your own (docs/rig.md lists what is covered)"
        )
    what = f"{printable(source)} can't be compiled" if source else "the firmware can't be linked"
    return f"{file}: {what}\n{_first_lines(said)}"


def _first_lines(said: str, most: int = 12) -> str:
    lines = said.splitlines()
    shown = [f"    {printable(line)}" for line in lines[:most]]
    return "\n".join(shown + ([f"    ... and {len(lines) - most} more lines"] if len(lines) > most else []))


def _call(command: Sequence[str], folder: Path) -> subprocess.CompletedProcess[str]:
    # Messages are looked into, so they come in one language.
    environment = {**os.environ, "LC_ALL": "C"}
    with tempfile.TemporaryFile() as out, tempfile.TemporaryFile() as err:
        try:
            process = subprocess.Popen(
                command, cwd=folder, env=environment, stdin=subprocess.DEVNULL, stdout=out, stderr=err,
                start_new_session=True, preexec_fn=_limit_files,  # noqa: PLW1509  nobody here has threads
            )  # fmt: skip
        except OSError as error:
            raise CantBuild(f"`{printable(command[0])}` can't be started: {error.strerror or error}") from None
        note_group(process.pid)
        try:
            process.wait(LONGEST_BUILD_S)
        except subprocess.TimeoutExpired:
            raise CantBuild(f"`{printable(command[0])}` took longer than {LONGEST_BUILD_S} s") from None
        finally:
            # A compiler's driver starts other programs.
            kill_group(process.pid)
            process.wait()
        out.seek(0)
        err.seek(0)
        texts = [stream.read().decode("utf-8", "replace") for stream in (out, err)]
    return subprocess.CompletedProcess(command, process.returncode, *texts)


def _limit_files() -> None:
    """What a compiler writes has an end too: a macro may come to more than any disk holds."""
    import resource

    resource.setrlimit(resource.RLIMIT_FSIZE, (LARGEST_FILE, LARGEST_FILE))
