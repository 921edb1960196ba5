"""Speak to systemd (`ports.ServiceManager`) in the protocol of sd_notify(3)."""

import os
import socket
from collections.abc import Mapping
from contextlib import suppress
from typing import Final

_SEND_TIMEOUT_S: Final = 1.0


class NotifySocket:
    """Datagrams to $NOTIFY_SOCKET; without one, nothing is said to nobody.

    A message that cannot be sent is dropped: what the water needs comes first.
    """

    def __init__(self, environ: Mapping[str, str] = os.environ) -> None:
        """Take the address and the watchdog's time from the environment."""
        address = environ.get("NOTIFY_SOCKET", "")
        # A leading @ stands for the NUL of an abstract address (sd_notify(3)).
        self._address = "\0" + address[1:] if address.startswith("@") else address
        self._said = ""
        self.watchdog_s: Final = _watchdog_s(environ)

    def ready(self) -> None:
        """Say that start-up is complete."""
        self._send("READY=1")

    def status(self, sentence: str) -> None:
        """Say in one plain sentence how things stand, unless it was said last time."""
        line = " ".join(sentence.split())
        if line != self._said and self._send(f"STATUS={line}"):
            self._said = line

    def healthy(self) -> None:
        """Feed the watchdog.  Call it as the last line of a complete tick, nowhere else."""
        self._send("WATCHDOG=1")

    def stopping(self) -> None:
        """Say that the stop has begun."""
        self._send("STOPPING=1")

    def _send(self, message: str) -> bool:
        if not self._address:
            return False
        with (
            suppress(OSError),
            socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM | socket.SOCK_CLOEXEC) as sender,
        ):
            sender.settimeout(_SEND_TIMEOUT_S)
            sender.sendto(message.encode(), self._address)
            return True
        return False


def _watchdog_s(environ: Mapping[str, str]) -> float | None:
    """Return the time after which a silent service is killed, or `None` when it is not watched.

    >>> _watchdog_s({"WATCHDOG_USEC": "30000000"})
    30.0
    >>> _watchdog_s({"WATCHDOG_USEC": "30000000", "WATCHDOG_PID": "0"}) is None
    True
    """
    if environ.get("WATCHDOG_PID", str(os.getpid())) != str(os.getpid()):
        return None  # meant for another process
    try:
        microseconds = int(environ.get("WATCHDOG_USEC", ""))
    except ValueError:
        return None
    return microseconds / 1e6 if microseconds > 0 else None
