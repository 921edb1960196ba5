"""The record of commissioning: one file of JSON lines in a directory of its own.

The guard makes the directory, so that whoever may command it may also write
here; persons' commands write, the guard and the reports read.  The file is
replaced whole: a power cut leaves the old lines or the new ones, never a part.
"""

import fcntl
import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Final

from reefguard.commissioning.record import Record, as_line, from_line
from reefguard.records.files import replace_file

DIRECTORY_NAME: Final = "commissioning"
FILE_NAME: Final = "commissioning.jsonl"


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
            before = path.read_bytes()
        except FileNotFoundError:
            before = b""
        if before and not before.endswith(b"\n"):
            before += b"\n"
        replace_file(path, before + as_line(record).encode() + b"\n", durable=True)
    return path


def read(directory: Path) -> tuple[Record, ...]:
    """Return the records in the order they were written; empty where there are none.

    Raises:
        OSError: the file is there and cannot be read.
    """
    try:
        text = (directory / FILE_NAME).read_text(encoding="utf-8", errors="replace")
    except FileNotFoundError:
        return ()
    return tuple(record for line in text.splitlines() if (record := from_line(line)) is not None)


@contextmanager
def _alone(directory: Path) -> Iterator[None]:
    """Keep two persons who record at the same moment from losing one of the two records."""
    descriptor = os.open(directory, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX)
        yield
    finally:
        os.close(descriptor)
