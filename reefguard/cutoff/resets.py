"""Requests: files that a person's command puts into a directory, one for resets, one for proof tests.

Who may write to the directory may ask: that is its group.  A request is
obeyed once, when it is taken; one older than the cutoff's start is not obeyed.
Each kind has a directory of its own, so that another version of the cutoff
can never take a proof test for a reset.
"""

import contextlib
import os
import pwd
import secrets
import stat
from dataclasses import dataclass
from pathlib import Path

DIRECTORY_NAME = "requests"
TESTS_DIRECTORY_NAME = "proof-tests"
_MOST_BYTES = 200


@dataclass(frozen=True, slots=True)
class Request:
    """One person's wish: its name, who they say they are, and the directory it is put into."""

    name: str
    who: str
    kind: str = DIRECTORY_NAME

    def withdraw(self, runtime_directory: Path) -> None:
        """Take it back, so that nobody obeys it later."""
        with contextlib.suppress(OSError):
            (runtime_directory / self.kind / self.name).unlink()


class RequestDesk:
    """Takes the requests of one kind."""

    def __init__(self, runtime_directory: Path, kind: str = DIRECTORY_NAME) -> None:
        """Open the desk, and throw away whatever lay on it.

        Raises:
            OSError: its directory cannot be made.
        """
        self._directory = runtime_directory / kind
        self._directory.mkdir(exist_ok=True)
        self._directory.chmod(0o770)
        self.take()

    def take(self) -> list[Request]:
        """Return the requests that lie there, each of them once; never blocks, never fails."""
        try:
            paths = sorted(self._directory.iterdir())
        except OSError:
            return []
        return [request for path in paths if (request := _taken(path)) is not None]


def _taken(path: Path) -> Request | None:
    """Take one request; one that cannot be removed is not obeyed, for it would be obeyed for ever."""
    if path.name.startswith("."):
        return None  # being written
    who = _author(path)
    try:
        path.unlink()
    except OSError:
        return None
    # A name may hold bytes that are no text, and goes into the status file, which holds nothing else.
    return Request(path.name.encode(errors="replace").decode(), who, path.parent.name)


def _author(path: Path) -> str:
    try:
        # Whoever may write here could leave a FIFO or a link: neither may stop the cutoff.
        descriptor = os.open(path, os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK | os.O_CLOEXEC)
        try:
            if not stat.S_ISREG(os.fstat(descriptor).st_mode):
                return "unknown"
            content = os.read(descriptor, _MOST_BYTES)
        finally:
            os.close(descriptor)
    except OSError:
        return "unknown"
    return "".join(char for char in content.decode("utf-8", "replace") if char.isprintable()) or "unknown"


def ask_for(kind: str, runtime_directory: Path, environ_user: str | None) -> Request:
    """Put a request into the directory.

    Args:
        kind: `DIRECTORY_NAME` for a reset, `TESTS_DIRECTORY_NAME` for a proof test.
        runtime_directory: the running cutoff's.
        environ_user: who called sudo, if anybody did.

    Raises:
        OSError: it could not; PermissionError when this user may not ask.
    """
    request = Request(secrets.token_hex(16), environ_user or _user(), kind)
    directory = runtime_directory / kind
    beside = directory / f".{request.name}"
    descriptor = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC, 0o644)
    with os.fdopen(descriptor, "wb") as file:
        os.fchmod(descriptor, 0o644)
        file.write(request.who.encode())
    beside.rename(directory / request.name)
    return request


def ask_for_reset(runtime_directory: Path, environ_user: str | None) -> Request:
    """Ask for a reset; see `ask_for`."""
    return ask_for(DIRECTORY_NAME, runtime_directory, environ_user)


def _user() -> str:
    try:
        return pwd.getpwuid(os.getuid()).pw_name
    except KeyError:
        return f"user {os.getuid()}"
