"""One link a state directory: two would tell everything twice."""

import fcntl
import os
from pathlib import Path


class AlreadyRunning(Exception):  # noqa: N818  it names a condition a person can mend, not a bug
    """Another link holds the lock; the message says where."""


def only_one(state_directory: Path) -> int:
    """Take the lock and keep it for the life of the process; return the descriptor that holds it.

    Raises:
        AlreadyRunning: somebody else has it.
        OSError: the directory cannot be written.
    """
    state_directory.mkdir(parents=True, exist_ok=True)
    descriptor = os.open(state_directory / "link.lock", os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        os.close(descriptor)
        message = (
            f"another link runs with {state_directory}; mend: stop it first "
            "(`systemctl stop reefguard-link`), or give this one its own `link.state_directory`"
        )
        raise AlreadyRunning(message) from None
    return descriptor
