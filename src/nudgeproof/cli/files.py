"""Files: the only functions that open one."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from nudgeproof.spec.types import Device


class BadInput(Exception):
    """A file can't be read or written, or an argument can't be used; the message is one line."""


def read_spec(spec: str) -> Device:
    """The device of a spec; raises `SpecErrors` and `BadInput`."""
    from nudgeproof.spec.nodes import LARGEST_BYTES
    from nudgeproof.spec.read import decode, read_device

    return read_device(decode(read_bytes(spec, LARGEST_BYTES + 1), spec), spec)


def read_bytes(name: str, most: int = -1) -> bytes:
    """A file, or its first `most` bytes; raises `BadInput`."""
    try:
        with open(name, "rb") as stream:
            return stream.read(most)
    except OSError as error:
        raise BadInput(f"{name}: can't be read: {error.strerror or error}") from None
    except ValueError as error:
        raise BadInput(f"{name!r}: can't be read: {error}") from None


@contextmanager
def alone_beside(name: str) -> Iterator[None]:
    """Nobody else who asks for a file in the same folder is let in meanwhile; raises `BadInput`.

    So that what was read can be written again with more in it. The lock is on the folder, since the file itself is replaced
    whole. Where the system has no such locks there is none.
    """
    try:
        import fcntl
    except ImportError:
        yield
        return
    try:
        handle = os.open(Path(name).parent, os.O_RDONLY)
    except OSError as error:
        raise BadInput(f"{name}: can't be written: {error.strerror or error}") from None
    try:
        # A file system without locks says so; better without than not at all.
        with suppress(OSError):
            fcntl.flock(handle, fcntl.LOCK_EX)
        yield
    finally:
        os.close(handle)


def write_file(name: str, data: bytes) -> None:
    """Write a file whole or not at all; raises `BadInput`."""
    path = Path(name)
    temporary = ""
    try:
        if path.exists() and not path.is_file():
            path.write_bytes(data)
            return
        handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=".nudgeproof-")
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
        umask = os.umask(0)
        os.umask(umask)
        os.chmod(temporary, 0o666 & ~umask)
        os.replace(temporary, path)
        temporary = ""
    except OSError as error:
        raise BadInput(f"{name}: can't be written: {error.strerror or error}") from None
    finally:
        if temporary and os.path.exists(temporary):
            os.unlink(temporary)
