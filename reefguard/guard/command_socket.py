"""Where persons' commands come in: a Unix socket in the runtime directory, served between two ticks.

The directory's and the socket's permissions decide who may ask (root, the guard's
user, and the members of the socket's group); the kernel says who it is.  No
client can hold up a tick: nothing here waits, each client has so many bytes and
so much time, and the eldest makes way for a new one.
"""

import json
import os
import socket
import struct
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

FILE_NAME: Final = "commands.sock"

_LONGEST: Final = 4_096
_MOST_CLIENTS: Final = 8
_PATIENCE_S: Final = 3.0

Answer = Callable[[bytes, str], Mapping[str, Any]]


@dataclass(slots=True)
class _Client:
    connection: socket.socket
    who: str
    until_s: float
    received: bytearray = field(default_factory=bytearray)
    answer: memoryview | None = None


class CommandSocket:
    """Listens; `serve` is called when something can be read or written."""

    def __init__(self, directory: Path, answer: Answer, *, group: str | None = None) -> None:
        """Listen in `directory`.

        Args:
            directory: where the socket's file is made.
            answer: is given each line, and the user name of who sent it.
            group: whose members may ask; the process's own group if none is named.

        Raises:
            OSError: it cannot be made there, or cannot be given to that group.
        """
        self._answer = answer
        self._clients: list[_Client] = []
        self._path = directory / FILE_NAME
        with suppress(FileNotFoundError):
            self._path.unlink()  # a guard that was killed left it
        self._listening = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        try:
            self._listening.setblocking(False)
            with short_address(self._path) as address:
                self._listening.bind(address)
            # Before it listens nobody can connect.
            if group is not None:
                os.chown(self._path, -1, _number_of(group))
            self._path.chmod(0o660)
            self._listening.listen(_MOST_CLIENTS)
        except OSError:
            self._listening.close()
            raise

    def readable(self) -> list[int]:
        """Return the descriptors to wait for to be readable; clients whose time is over are let go first."""
        now_s = time.monotonic()
        for client in [one for one in self._clients if one.until_s <= now_s]:
            self._let_go(client)
        waiting = [one.connection.fileno() for one in self._clients if one.answer is None]
        return [self._listening.fileno(), *waiting]

    def writable(self) -> list[int]:
        """Return the descriptors to wait for to be writable."""
        return [one.connection.fileno() for one in self._clients if one.answer is not None]

    def serve(self, ready: Sequence[int]) -> None:
        """Take what has come and give what is due, without waiting for anything."""
        for client in [one for one in self._clients if one.connection.fileno() in ready]:
            try:
                if client.answer is None:
                    self._receive(client)
                else:
                    self._send(client, client.answer)
            except BlockingIOError:
                continue
            except OSError:
                self._let_go(client)
        if self._listening.fileno() in ready:
            self._accept()

    def close(self) -> None:
        """Stop listening, and take the socket's file away."""
        for client in list(self._clients):
            self._let_go(client)
        self._listening.close()
        with suppress(OSError):
            self._path.unlink()

    def _accept(self) -> None:
        with suppress(OSError):
            connection, _ = self._listening.accept()
            connection.setblocking(False)
            if len(self._clients) >= _MOST_CLIENTS:
                self._let_go(self._clients[0])
            self._clients.append(_Client(connection, _who(connection), time.monotonic() + _PATIENCE_S))

    def _receive(self, client: _Client) -> None:
        chunk = client.connection.recv(_LONGEST)
        client.received += chunk
        line, ended, _ = bytes(client.received).partition(b"\n")
        if ended or not chunk:
            said = self._answer(line, client.who) if line else {"error": "nothing was asked"}
        elif len(client.received) > _LONGEST:
            said = {"error": f"a command has {_LONGEST} bytes at most"}
        else:
            return
        client.answer = memoryview(json.dumps(said).encode() + b"\n")
        self._send(client, client.answer)

    def _send(self, client: _Client, answer: memoryview) -> None:
        client.answer = answer[client.connection.send(answer) :]
        if not client.answer:
            self._let_go(client)

    def _let_go(self, client: _Client) -> None:
        client.connection.close()
        self._clients.remove(client)


@contextmanager
def short_address(path: Path) -> Iterator[str]:
    """Give an address for a socket's file, however long its path: an address has 107 bytes (unix(7)).

    Raises:
        OSError: its directory cannot be opened.
    """
    directory = os.open(path.parent, os.O_PATH | os.O_DIRECTORY | os.O_CLOEXEC)
    try:
        yield f"/proc/self/fd/{directory}/{path.name}"
    finally:
        os.close(directory)


def _number_of(group: str) -> int:
    for fields in _rows("/etc/group"):
        if fields[0] == group:
            return int(fields[2])
    message = f"there is no group {group}"
    raise OSError(message)


def _who(connection: socket.socket) -> str:
    """Return who is at the other end: the user name, or the number where there is none."""
    credentials = connection.getsockopt(socket.SOL_SOCKET, socket.SO_PEERCRED, struct.calcsize("3i"))
    user = struct.unpack("3i", credentials)[1]
    with suppress(OSError):
        for fields in _rows("/etc/passwd"):
            if fields[2] == str(user):
                return fields[0]
    return f"user {user}"


def _rows(path: str) -> Iterator[list[str]]:
    """Yield the fields of each entry.

    Not by the modules pwd and grp: they may ask a server on the network, and that is waited for.
    """
    with Path(path).open(encoding="utf-8", errors="replace") as entries:
        for line in entries:
            fields = line.rstrip("\n").split(":")
            if len(fields) > 2:
                yield fields
