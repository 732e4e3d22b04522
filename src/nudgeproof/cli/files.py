"""Files: the only functions that open one."""

from __future__ import annotations

import argparse
import errno
import os
import secrets
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING

from nudgeproof.cli.stopping import UNFINISHED
from nudgeproof.diagnostics import printable

if TYPE_CHECKING:
    from nudgeproof.spec.types import Device


LARGEST_BYTES = 500_000_000
"""The largest file of JSON that is read: one without an end is not to take all memory."""

_FIRST_BYTES = 65_536


class BadInput(Exception):
    """A file can't be read or written, or an argument can't be used; the message is one line."""


class BadFile(BadInput):
    """What is wrong with one file; its name may hold anything."""

    def __init__(self, name: str, what: str) -> None:
        super().__init__(f"{printable(name)}: {what}")


def file_name(text: str) -> str:
    """An option's file; "", as from a variable that a script forgot to set, is refused, since it would write nothing."""
    if not text:
        raise argparse.ArgumentTypeError("the name of the file is empty")
    return text


def read_spec(spec: str) -> Device:
    """The device of a spec; raises `SpecErrors` and `BadInput`."""
    return understand_spec(read_spec_bytes(spec), spec)


def read_spec_bytes(spec: str) -> bytes:
    """The bytes of a spec; of one that is too large only as many as show it; raises `BadInput`."""
    from nudgeproof.spec import nodes

    return _read(spec, nodes.LARGEST_BYTES + 1)


def understand_spec(data: bytes, spec: str) -> Device:
    """The device that these bytes describe; raises `SpecErrors`."""
    from nudgeproof.spec.read import decode, read_device

    return read_device(decode(data, spec), spec)


def read_bytes(name: str) -> bytes:
    """A file of text; raises `BadInput`, early for one that is none, so that devices without an end are no harm."""
    data = _read(name, LARGEST_BYTES + 1, text_only=True)
    if len(data) > LARGEST_BYTES:
        raise BadFile(name, f"can't be read: it is larger than {LARGEST_BYTES // 1_000_000} MB")
    return data


def _read(name: str, most: int, text_only: bool = False) -> bytes:
    try:
        with open(name, "rb") as stream:
            first = stream.read(min(most, _FIRST_BYTES))
            if text_only and b"\0" in first:
                raise BadFile(name, "can't be read: it is no text")
            return first + stream.read(most - len(first))
    except OSError as error:
        raise BadFile(name, f"can't be read: {error.strerror or error}") from None
    except ValueError as error:
        raise BadFile(name, f"can't be read: {error}") from None


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
        raise BadFile(name, f"can't be written: {error.strerror or error}") from None
    try:
        # A file system without locks says so; better without than not at all.
        with suppress(OSError):
            fcntl.flock(handle, fcntl.LOCK_EX)
        yield
    finally:
        os.close(handle)


def write_file(name: str, data: bytes) -> None:
    """Write a file whole or not at all; raises `BadInput`."""
    try:
        # What a link leads to is written, not the link.
        path = Path(os.path.realpath(name))
        if path.is_symlink():
            raise OSError(errno.ELOOP, os.strerror(errno.ELOOP))
        if path.exists() and not path.is_file():
            path.write_bytes(data)
            return
        with _written_beside(path, data) as temporary:
            os.replace(temporary, path)
    except (OSError, ValueError) as error:
        raise BadFile(name, f"can't be written: {_reason(error)}") from None


def write_new(name: str, data: bytes) -> None:
    """Write a file that isn't there yet, whole or not at all; raises `BadInput`, also if it is there."""
    try:
        with _written_beside(Path(name), data) as temporary:
            try:
                os.link(temporary, name)
            except FileExistsError:
                raise
            except OSError:
                # A file system without links.
                with open(name, "xb") as stream:
                    stream.write(data)
    except FileExistsError:
        raise BadFile(name, "is there already and is never overwritten; choose another name, or `-o FILE`") from None
    except (OSError, ValueError) as error:
        raise BadFile(name, f"can't be written: {_reason(error)}") from None


@contextmanager
def _written_beside(path: Path, data: bytes) -> Iterator[str]:
    """A file with `data` in the same folder, gone afterwards, also if the command is stopped meanwhile."""
    temporary = str(path.parent / f".nudgeproof-{secrets.token_hex(8)}")
    UNFINISHED.add(temporary)
    try:
        with open(temporary, "xb") as stream:
            stream.write(data)
        yield temporary
    finally:
        with suppress(OSError):
            os.unlink(temporary)
        UNFINISHED.discard(temporary)


def _reason(error: OSError | ValueError) -> str:
    return os.strerror(error.errno) if isinstance(error, OSError) and error.errno else str(error)
