"""Write a small file so that a power cut leaves either the old one or the new one, whole."""

import contextlib
import os
from pathlib import Path


def write_durably(path: Path, content: bytes, mode: int) -> None:
    """Replace `path` by `content`: written beside it, on the disk, then renamed over it.

    Raises:
        OSError: it could not; `path` is then as it was.
    """
    beside = path.with_name(f".{path.name}.new")
    try:
        descriptor = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_TRUNC | os.O_CLOEXEC, mode)
        with os.fdopen(descriptor, "wb") as file:
            os.fchmod(descriptor, mode)
            file.write(content)
            file.flush()
            os.fsync(descriptor)
        beside.replace(path)
    except OSError:
        with contextlib.suppress(OSError):
            beside.unlink()
        raise
    _sync_directory(path.parent)


def empty_in_place(path: Path) -> None:
    """Make an existing file empty; needs no free space on the disk.

    Raises:
        OSError: it could not.
    """
    descriptor = os.open(path, os.O_WRONLY | os.O_TRUNC | os.O_CLOEXEC)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def _sync_directory(directory: Path) -> None:
    descriptor = os.open(directory, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
