"""The record of commissioning: one file of JSON lines in a directory of its own.

The guard makes the directory, so that whoever may command it may also write
here; persons' commands write, the guard and the reports read.  The file is
replaced whole: a power cut leaves the old lines or the new ones, never a part.
"""

import errno
import fcntl
import os
import stat
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Final

from reefguard.commissioning.record import Record, as_line, from_line
from reefguard.records.files import replace_file

DIRECTORY_NAME: Final = "commissioning"
FILE_NAME: Final = "commissioning.jsonl"

# Tens of thousands of records.  More were not made by persons, and nobody shall have to hold them in memory.
_MOST_BYTES: Final = 8_000_000


def directory_in(state_directory: Path) -> Path:
    """Return where the record is, under the guard's state directory."""
    return state_directory / DIRECTORY_NAME


def prepare(directory: Path) -> None:
    """Make the directory, for its owner and group; one that is there, and is another's, is left as it is.

    Raises:
        OSError: it cannot be made.
    """
    directory.mkdir(parents=True, exist_ok=True)
    with suppress(PermissionError):
        directory.chmod(0o770)


def append(directory: Path, record: Record) -> Path:
    """Add a record; return the file once it has reached the disk.

    Raises:
        OSError: it could not be written; what was there before stands untouched.
    """
    path = directory / FILE_NAME
    with _alone(directory):
        try:
            before = _content(path)
        except FileNotFoundError:
            before = b""
        if before and not before.endswith(b"\n"):
            before += b"\n"
        replace_file(path, before + as_line(record).encode() + b"\n", durable=True)
    return path


def read(directory: Path) -> tuple[Record, ...]:
    """Return the records in the order they were written; empty where there are none.

    Raises:
        OSError: the file is there and cannot be read, or is no file of ours.
    """
    try:
        text = _content(directory / FILE_NAME).decode(errors="replace")
    except FileNotFoundError:
        return ()
    # Not `splitlines`: some characters that a name may hold end a line for it.
    return tuple(record for line in text.split("\n") if (record := from_line(line)) is not None)


def _content(path: Path) -> bytes:
    """Return what the file holds.

    Whoever may write here could leave a link or a FIFO in its place, or a file without end.  Neither may
    stop the guard, nor may a link make a person with more rights copy what only they may read.

    Raises:
        OSError: it cannot be read, or is no file of ours.
    """
    descriptor = os.open(path, os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK | os.O_CLOEXEC)
    try:
        found = os.fstat(descriptor)
        if not stat.S_ISREG(found.st_mode):
            raise OSError(errno.EINVAL, "it is no file", str(path))
        if found.st_size > _MOST_BYTES:
            raise OSError(errno.EFBIG, f"it has more than {_MOST_BYTES // 1_000_000} MB", str(path))
        content = bytearray()
        while len(content) < _MOST_BYTES and (chunk := os.read(descriptor, 65_536)):
            content += chunk
        return bytes(content)
    finally:
        os.close(descriptor)


@contextmanager
def _alone(directory: Path) -> Iterator[None]:
    """Keep two persons who record at the same moment from losing one of the two records."""
    descriptor = os.open(directory, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX)
        yield
    finally:
        os.close(descriptor)
