"""What a person or the service manager asks for by signals.

The interpreter notes each signal in a pipe, and the pipe is read between two
ticks.  Nothing of ours runs in a handler: one comes in the middle of anything,
and a lock that it would need may be held by what it interrupts.
"""

import os
import select
import signal
import time

from reefguard.guard.command_socket import CommandSocket

_STOP = (signal.SIGTERM, signal.SIGINT)


class Signals:
    """Says whether to stop, and whether to read the settings again."""

    def __init__(self) -> None:
        """Listen from now on; must be made in the main thread."""
        self.stop = False
        self.reload = False
        self._noted, notes = os.pipe()
        os.set_blocking(self._noted, False)
        os.set_blocking(notes, False)
        signal.set_wakeup_fd(notes, warn_on_full_buffer=False)
        for asked in (*_STOP, signal.SIGHUP):
            signal.signal(asked, _leave_it_to_the_pipe)

    def wait(self, longest_s: float, commands: CommandSocket | None = None) -> None:
        """Wait that long (stopwatch seconds), or until asked to stop; takes in what has come meanwhile.

        Args:
            longest_s: how long; however many commands come, it is no longer.
            commands: served meanwhile.
        """
        until_s = time.monotonic() + longest_s
        while not self.stop:
            reading = [] if commands is None else commands.readable()
            writing = [] if commands is None else commands.writable()
            left_s = max(0.0, until_s - time.monotonic())
            readable, writable, _ = select.select([self._noted, *reading], writing, [], left_s)
            if commands is not None:
                commands.serve([*readable, *writable])
            if self._noted in readable:
                for number in os.read(self._noted, 512):
                    self.stop |= number in _STOP
                    self.reload |= number == signal.SIGHUP
            elif time.monotonic() >= until_s:
                return


def _leave_it_to_the_pipe(*_: object) -> None:
    """Do nothing: without a handler the signal would end the program."""
