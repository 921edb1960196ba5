"""What the cutoff tells its service manager and its log.

The notification is one datagram to a Unix socket (sd_notify(3)); this is the
one module of the cutoff that opens a socket, and it can open no other kind.
Nothing here may ever stop the cutoff.
"""

import contextlib
import os
import signal
import socket
import sys
from types import FrameType


class ServiceManager:
    """The one who started the cutoff and watches it."""

    def __init__(self, address: str | None) -> None:
        """Take the address from NOTIFY_SOCKET; `None` when nobody listens."""
        self._address = address
        self._said = ""

    def ready(self) -> None:
        """Say that the start is complete."""
        self._notify("READY=1")

    def status(self, sentence: str) -> None:
        """Say in one sentence how things stand, if that changed."""
        if sentence != self._said:
            self._notify(f"STATUS={sentence}")
            self._said = sentence

    def healthy(self) -> None:
        """Feed the watchdog: as the last line of a complete loop, nowhere else."""
        self._notify("WATCHDOG=1")

    def stopping(self) -> None:
        """Say that the stop has begun."""
        self._notify("STOPPING=1")

    def _notify(self, message: str) -> None:
        if not self._address:
            return
        address = f"\0{self._address[1:]}" if self._address.startswith("@") else self._address
        with (
            contextlib.suppress(OSError),
            socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM | socket.SOCK_NONBLOCK) as sender,
        ):
            sender.sendto(message.encode(), address)


def say(sentence: str) -> None:
    """Write one line to the log; a log that is gone is no reason to stop."""
    with contextlib.suppress(OSError, ValueError):
        sys.stderr.write(f"{sentence}\n")
        sys.stderr.flush()


class StopSignal:
    """SIGTERM or SIGINT, noticed within a wait."""

    def __init__(self) -> None:
        """Listen from now on."""
        self.asked = False
        self.descriptor, wakes = os.pipe2(os.O_NONBLOCK | os.O_CLOEXEC)
        signal.set_wakeup_fd(wakes)
        for number in (signal.SIGTERM, signal.SIGINT):
            signal.signal(number, self._ask)

    def _ask(self, _signal: int, _frame: FrameType | None) -> None:
        self.asked = True
