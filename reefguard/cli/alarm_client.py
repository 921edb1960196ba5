"""Asks the running guard for something, over its socket."""

import grp
import json
import os
import socket
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any, Final

from reefguard.guard.command_socket import FILE_NAME, short_address

# The guard answers between two ticks: at once, unless its machine is very busy.
_PATIENCE_S: Final = 15.0
_LONGEST: Final = 65_536


class NotAnswered(Exception):  # noqa: N818  it names a condition a person can mend, not a bug
    """The guard did not do it; the message says why."""


def ask(runtime_directory: Path, command: Mapping[str, Any]) -> str:
    """Have the guard do something; return what it says.

    Raises:
        NotAnswered: it did not, and why.
    """
    path = runtime_directory / FILE_NAME
    try:
        answer = json.loads(_exchanged(path, json.dumps(command).encode() + b"\n"))
        error, said = answer.get("error"), answer.get("said")
    except PermissionError:
        message = f"you may not speak to the guard: {path} is {_for_whom(path)}"
        raise NotAnswered(message) from None
    except (FileNotFoundError, ConnectionRefusedError, NotADirectoryError):
        message = (
            f"no guard listens at {path}; mend: see `reefguard status`, start the guard, or name its settings"
        )
        raise NotAnswered(message) from None
    except OSError as error:
        message = f"the guard does not answer at {path}: {error.strerror or error}"
        raise NotAnswered(message) from None
    except (ValueError, AttributeError):
        message = f"what answers at {path} is no guard of this version"
        raise NotAnswered(message) from None
    if error is not None:
        raise NotAnswered(str(error))
    return str(said)


def _exchanged(path: Path, line: bytes) -> bytes:
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as connection, short_address(path) as address:
        connection.settimeout(_PATIENCE_S)
        connection.connect(address)
        connection.sendall(line)
        answer = bytearray()
        while len(answer) < _LONGEST and not answer.endswith(b"\n"):
            chunk = connection.recv(4_096)
            if not chunk:
                break
            answer += chunk
    return bytes(answer)


def _for_whom(path: Path) -> str:
    """Return who may, as far as that can be seen from here."""
    for place in (path, path.parent):
        with suppress(OSError):
            number = place.stat().st_gid
            group = str(number)
            with suppress(KeyError):
                group = grp.getgrgid(number).gr_name
            return f"for the group {group}; mend: `sudo usermod -aG {group} {_me()}`, then log in anew"
    return "in a directory that you may not enter"


def _me() -> str:
    return os.environ.get("USER") or "YOUR-NAME"
