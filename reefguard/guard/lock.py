"""One guard a runtime directory: two would fight over the same pins."""

import fcntl
import os
from pathlib import Path


class AlreadyRunning(Exception):  # noqa: N818  it names a condition a person can mend, not a bug
    """Another guard holds the lock; the message says where."""


def only_one(runtime_directory: Path) -> int | None:
    """Take the lock and keep it for the life of the process.

    Returns:
        The descriptor that holds it, or `None` when the file cannot be made: a guard that cannot
        write there still guards.

    Raises:
        AlreadyRunning: somebody else has it.
    """
    path = runtime_directory / "guard.lock"
    try:
        descriptor = os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
    except OSError:
        return None
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        os.close(descriptor)
        message = (
            f"another guard runs with {runtime_directory}; "
            "mend: stop it first (`systemctl stop reefguard`), or give this one its own runtime_directory"
        )
        raise AlreadyRunning(message) from None
    return descriptor
