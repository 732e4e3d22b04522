"""What was built, kept in a folder of this user below the system's temporary one; what is long unused is taken away.

Who uses a file renews its time, and who takes old ones away looks at their times while nobody does that: so nobody's file
goes between being found and being used, however many processes there are.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Final

KEPT_FOR_S: Final = 30 * 24 * 3600
_LOCK: Final = "lock"


class NotOurs(Exception):
    """The folder belongs to somebody else; the message says so."""


def kept_folder() -> Path:
    """The folder, made if it isn't there; raises `NotOurs`."""
    folder = Path(tempfile.gettempdir()) / f"nudgeproof-rig-{os.getuid()}"
    folder.mkdir(mode=0o700, exist_ok=True)
    about = folder.lstat()
    if about.st_uid != os.getuid() or about.st_mode & 0o022 or folder.is_symlink():
        raise NotOurs(f"{folder} belongs to somebody else; what lies there isn't run")
    return folder


def is_kept(kept: Path) -> bool:
    """Whether a file of the folder is there; if so it stays for another while."""
    with _lock(kept.parent, is_alone=False):
        try:
            os.utime(kept)
        except OSError:
            return False
        return kept.is_file()


def keep(built: Path, kept: Path) -> None:
    """Put a copy of a file there, whole or not at all, and take away what was used by nobody for long."""
    # Another process may build the same; the last of them stays, and it is the same.
    beside = kept.with_name(f"{kept.name}.{os.getpid()}")
    shutil.copy(built, beside)
    os.replace(beside, kept)
    _prune(kept.parent, time.time() - KEPT_FOR_S)


def _prune(folder: Path, before: float) -> None:
    with _lock(folder, is_alone=True) as is_held, os.scandir(folder) as entries:
        for entry in entries if is_held else ():
            with contextlib.suppress(OSError):
                if entry.name != _LOCK and entry.stat(follow_symlinks=False).st_mtime < before:
                    os.unlink(entry)


@contextlib.contextmanager
def _lock(folder: Path, is_alone: bool) -> Iterator[bool]:
    """The folder's lock: shared and waited for, or alone and only if nobody has it; whether it is held."""
    import fcntl

    with (folder / _LOCK).open("w") as stream:
        try:
            fcntl.flock(stream, fcntl.LOCK_EX | fcntl.LOCK_NB if is_alone else fcntl.LOCK_SH)
        except OSError:
            # Someone uses a file at this moment; or the file system has no locks, and then nothing is taken away.
            yield False
        else:
            yield True
