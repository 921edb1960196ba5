"""Write a file whole or not at all."""

import os
from pathlib import Path


def replace_file(path: Path, content: bytes, *, durable: bool, mode: int = 0o644) -> None:
    """Put `content` at `path` so that a reader, or a power cut, finds the old or the new, never a part.

    Args:
        path: the file to replace; its directory must exist.
        content: the whole new content.
        durable: wait until file and directory have reached the disk.
        mode: permission bits of the new file.

    Raises:
        OSError: it could not be written; the old file stands untouched.
    """
    beside = path.with_name(f".{path.name}.{os.getpid()}.new")
    try:
        # No link is followed: whoever may write into the directory could have us write elsewhere.
        flags = os.O_WRONLY | os.O_CREAT | os.O_TRUNC | os.O_NOFOLLOW | os.O_CLOEXEC
        descriptor = os.open(beside, flags, mode)
        try:
            os.fchmod(descriptor, mode)
            left = memoryview(content)
            while left:
                left = left[os.write(descriptor, left) :]
            if durable:
                os.fsync(descriptor)
        finally:
            os.close(descriptor)
        beside.replace(path)
    except OSError:
        beside.unlink(missing_ok=True)
        raise
    if durable:
        directory = os.open(path.parent, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
        try:
            os.fsync(directory)
        finally:
            os.close(directory)
